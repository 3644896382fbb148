//! Meaning: what was seen and done — events, their fold to a state, coverage and the gate.
//! Pure: no files, no clock.

mod address;
mod coverage;
mod current;
mod event;
mod fold;
mod gate;
mod history;
mod known;
mod limits;
mod places;
mod reason;
mod state;
#[cfg(test)]
mod testing;
#[cfg(test)]
mod tests;
mod unhinted;
mod weak;
mod words;
mod workmanship;
mod zones;

pub use address::target_label;
pub use coverage::{
    BoardCoverage, Covered, PartCoverage, Standing, coverage, demand_words, joint_of, joints,
    standing,
};
pub use event::{
    Alignment, BenchId, Check, CheckKind, Clock, Coverage, Envelope, Event, EventId, Evidence,
    Fault, FaultKind, JointKey, Judgement, Matched, Measurement, Outcome, PhotoFacts, PhotoId,
    PlacedLandmark, Reading, ReadingMode, Severity, Spot, Stage, Subject, Target, Unit, Verdict,
    View,
};
pub use fold::{fold, fold_at};
pub use gate::{GateVerdict, Held, gate};
pub use history::{HistoryLine, describe, history};
pub use known::{ConfirmedBy, KnownState, can_be_confirmed, known_joints};
pub use limits::{WithinLimits, judge_reading};
pub use reason::Reason;
pub use state::{
    BoardAdoption, Current, DEFAULT_COVERAGE, Flag, JointState, Logged, Look, Mark, Note,
    PhotoState, PlaceKey, PlaceState, Stale, State,
};
pub use unhinted::{EyeAndHint, eye_and_hint, is_unhinted};
pub use weak::{WeakPlace, WeakSpot, weak_label, weak_spots, write_watch_notes};
pub use workmanship::{Blocks, Need, Workmanship};
pub use zones::is_near_power;
