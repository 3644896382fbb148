//! Faces: the window.
//!
//! Three places and one keyboard: the table ([`viewer`]) shows where you are, the glass
//! ([`glass_view`]) what you judge, the strip ([`strip`]) how far you are. The modules here draw
//! plain data and report what was pressed: no part of the window owns the job.

pub mod aids;
pub mod glass_view;
pub mod keys;
pub mod marker;
pub mod parts;
pub mod stages;
pub mod start;
pub mod strip;
pub mod theme;
pub mod viewer;
