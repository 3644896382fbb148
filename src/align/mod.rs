//! Meaning: finding where on the board a photo looks.
//!
//! [`from_landmarks`] fits the board map to landmarks that a person placed on the photo, says
//! how far each of them disagrees with the others, and refuses fits that cannot be right.
//! [`two_more_here`] says which landmarks would help most. [`automatic`] aligns a photo to another
//! of the same side.

mod advice;
mod automatic;
mod checks;
mod landmarks;
mod lens;
mod refusal;
mod suspect;
mod trust;

pub use advice::{Suggestion, two_more_here};
pub use automatic::{
    AutoAlignment, BentAlignment, Differing, Known, OnBoard, automatic, automatic_with,
};
pub use checks::centre_of as middle_of;
pub use landmarks::{LandmarkFit, LandmarkMethod, LandmarkResidual, ScaleRange, from_landmarks};
pub use lens::projection_through;
pub use refusal::{Refusal, RefusalKind};
pub use suspect::SuspectClick;
pub use trust::Trust;
