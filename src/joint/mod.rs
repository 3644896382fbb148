//! Meaning: the crack hint and other measures on single joints.
//!
//! A hint says where a dark arc runs round a pin, how long and how deep it is, and how it ranks
//! within its photo. It never clears a joint. See `docs/hint.md`.

mod along;
mod dark;
mod darkline;
mod error;
mod evaluate;
mod features;
mod find;
mod gate;
mod lanes;
mod light;
mod look;
mod odd;
mod path;
mod plane;
mod polar;
mod report;
mod rows;
mod sample;
mod score;
mod spots;
mod truth;
#[rustfmt::skip] // Tables of fitted numbers: one to a line would be a thousand lines.
mod weights;

pub use darkline::{DarkLine, DarkLines, FULL_SCALE, dark_lines};
pub use error::JointError;
pub use evaluate::{
    Bands, Evaluation, Figure, Figures, KnownJoint, Reliability, SizeClass, evaluate,
};
pub use find::{
    FIND_SCHEMA, Found, FoundJoint, LARGEST_PX, LEAST_EXAMPLES, Land, SMALLEST_PX, find_joints,
    find_joints_like, land_at,
};
pub use gate::{
    Gate, MAX_EDGE_PX, MAX_TILT_DEG, MAX_UNKNOWN, MIN_PX_PER_MM, MIN_RADIUS_PX, MIN_SNR,
};
pub use look::{Look, look};
pub use odd::{LEAST_MEMBERS, OddKind, OddOne, odd_ones};
pub use report::{Band, HintReport, JointHint, SCHEMA, hint_photo};
pub use rows::{GRID_MM, LEAST_ROW, Package, Row};
pub use score::CALIBRATION;
pub use spots::{JointSpot, MAX_SPOTS, read_joints_csv};
pub use truth::read_truth_csv;

#[cfg(test)]
mod tests;
