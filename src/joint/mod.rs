//! Meaning: the crack hint and other measures on single joints.
//!
//! A hint says where a dark arc runs round a pin, how long and how deep it is, and how it ranks
//! within its photo. It never clears a joint. See `docs/hint.md`.

mod along;
mod dark;
mod error;
mod evaluate;
mod features;
mod gate;
mod lanes;
mod light;
mod look;
mod path;
mod polar;
mod report;
mod score;
mod spots;
mod truth;
#[rustfmt::skip] // Tables of fitted numbers: one to a line would be a thousand lines.
mod weights;

pub use error::JointError;
pub use evaluate::{
    Bands, Evaluation, Figure, Figures, KnownJoint, Reliability, SizeClass, evaluate,
};
pub use gate::{Gate, MAX_EDGE_PX, MAX_UNKNOWN, MIN_PX_PER_MM, MIN_RADIUS_PX, MIN_SNR};
pub use look::{Look, look};
pub use report::{Band, HintReport, JointHint, SCHEMA, hint_photo};
pub use score::CALIBRATION;
pub use spots::{JointSpot, MAX_SPOTS, read_joints_csv};
pub use truth::read_truth_csv;

#[cfg(test)]
mod tests;
