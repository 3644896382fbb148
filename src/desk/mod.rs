//! Faces: the window.
//!
//! Three places and one keyboard: the table ([`viewer`]) shows where you are, the glass
//! ([`glass_view`]) what you judge, the strip ([`strip`]) how far you are. The modules here draw
//! plain data and report what was pressed: no part of the window owns the job.

mod adding;
pub mod aids;
pub mod app;
pub mod ask;
pub mod background;
pub mod chooser;
mod darkline;
mod doing;
pub mod faults;
mod finding;
pub mod glass_view;
pub mod importing;
mod jobs;
pub mod keys;
mod landmarks;
pub mod mapping;
pub mod marker;
pub mod matching;
pub mod model;
pub mod outside;
pub mod panels;
pub mod parts;
mod pointed;
mod seen;
pub mod stages;
pub mod start;
pub mod stops;
pub mod strip;
pub mod theme;
mod touring;
pub mod twins;
mod typed;
pub mod viewer;

pub use adding::ADDING;
pub use app::{Desk, native_options, open};
pub use jobs::{HINTING, WRITING};
pub use matching::MATCHING;
pub use touring::TOUR;
