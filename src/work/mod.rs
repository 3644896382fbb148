//! Outputs: use cases shared by the command line and the window. [`Session`] is an opened job;
//! [`Action`] is everything that a person can do to it.

mod action;
mod aligning;
mod error;
mod hints;
mod looked;
mod maps;
mod matching;
mod papers;
mod photos;
mod plan;
mod proof;
mod session;
mod severity;
mod tour;

pub use action::{Action, Wish};
pub use aligning::{AutoTask, FoundAlignment};
pub use error::{Trouble, WorkError};
pub use hints::{evidence, hint_image, hint_in_job, hint_loose, spots_of, spots_on_photo};
pub use looked::CoverageRow;
pub use maps::{export_map, import_map};
pub use matching::align_photos;
pub use papers::{Written, slip_of, write_slip, write_text};
pub use photos::{AddReport, add_photos};
pub use plan::{describe, mode_word, side_word, with_pins};
pub use proof::{Proof, verify_job};
pub use session::{Applied, Session};
pub use severity::usual_severity;
pub use tour::{Asked, Suspect, TourReport, TouredPhoto, find_samples, render_samples, run_tour};
