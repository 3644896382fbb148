//! Meaning: what was seen and done — events, their fold to a state, coverage and the gate.
//! Pure: no files, no clock.

mod event;
mod fold;
mod state;

pub use event::{
    Alignment, BenchId, Check, CheckKind, Clock, Coverage, Envelope, Event, EventId, Evidence,
    Fault, FaultKind, JointKey, Judgement, Measurement, Outcome, PhotoFacts, PhotoId,
    PlacedLandmark, Reading, ReadingMode, Severity, Spot, Stage, Subject, Target, Unit, Verdict,
    View,
};
pub use fold::{fold, fold_at};
pub use state::{
    BoardAdoption, Current, DEFAULT_COVERAGE, Flag, JointState, Logged, Look, Mark, Note,
    PhotoState, PlaceKey, PlaceState, Stale, State,
};
