//! Why a photo is not aligned, and what to do about it.

use serde::{Deserialize, Serialize};
use thiserror::Error;

/// The kind of a refusal, for programs; the words are in [`Refusal`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum RefusalKind {
    /// Fewer landmarks than any fit needs.
    TooFew,
    /// A name that the board map does not have.
    UnknownLandmark,
    /// One name was placed more than once.
    Duplicate,
    /// A coordinate is NaN or infinite.
    NotFinite,
    /// A click lies far outside the photo.
    OutsidePhoto,
    /// Two landmarks were placed in one spot.
    Coincident,
    /// The landmarks lie on one line (for four or more: all but one do).
    Collinear,
    /// The fit shows the other side, or a mirrored photo.
    WrongSide,
    /// The fit puts part of the board at or behind the horizon.
    Horizon,
    /// The scale is not one of a photograph of a board.
    AbsurdScale,
    /// The fit squeezes the board more than any usable view does.
    AbsurdAspect,
    /// The landmarks contradict each other.
    DoNotFit,
    /// The board map itself cannot be used.
    BadMap,
    /// Too little in common between the two photos.
    NoMatch,
    /// A fit was found but the evidence for it is too thin or too local.
    NotTrusted,
    /// The photo is mirrored, or shows the other side seen through.
    Mirrored,
    /// The fit may be a pitch off along a row: both places look alike.
    OnePitch,
    /// A photo is too small or has no detail.
    NoDetail,
    /// The work was stopped on request.
    Cancelled,
}

/// A refusal to align: the reason and the remedy, in words for the person at the bench.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, Error)]
#[error("{reason}; {remedy}")]
pub struct Refusal {
    /// What kind it is.
    pub kind: RefusalKind,
    /// What is wrong.
    pub reason: String,
    /// What to do about it.
    pub remedy: String,
}

impl Refusal {
    pub(super) fn new(
        kind: RefusalKind,
        reason: impl Into<String>,
        remedy: impl Into<String>,
    ) -> Self {
        Self {
            kind,
            reason: reason.into(),
            remedy: remedy.into(),
        }
    }
}
