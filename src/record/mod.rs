//! Meaning: what was seen and done — events, their fold to a state, coverage and the gate.
//! Pure: no files, no clock.

mod event;

pub use event::{
    Alignment, BenchId, Check, CheckKind, Clock, Coverage, Envelope, Event, EventId, Evidence,
    Fault, FaultKind, JointKey, Judgement, Measurement, Outcome, PhotoFacts, PhotoId,
    PlacedLandmark, Reading, ReadingMode, Severity, Spot, Stage, Subject, Target, Unit, Verdict,
    View,
};
