//! The events of a job's journal. One JSON line each; append-only; see `docs/journal.md`.

mod judgement;
mod measurement;

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::board::Side;
use crate::geometry::Projection;

pub use judgement::{
    Evidence, Fault, FaultKind, JointKey, Judgement, Severity, Spot, Target, Verdict,
};
pub use measurement::{
    Check, CheckKind, Coverage, Measurement, Outcome, Reading, ReadingMode, Stage, Subject,
};

/// Identity of one event (UUIDv7).
pub type EventId = Uuid;

/// Identity of a bench (one machine's user data): random, made once.
pub type BenchId = Uuid;

/// SHA-256 of a photo's original bytes, lower-case hex.
pub type PhotoId = String;

/// Hybrid logical clock: the greater of wall time and greatest read + 1, strictly rising with `seq`.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize,
)]
pub struct Clock {
    /// Milliseconds since 1970 (wall time, or later).
    pub ms: u64,
    /// Counter within the millisecond.
    pub n: u32,
}

/// One line of a journal file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Envelope {
    /// Identity of the event.
    pub id: EventId,
    /// The bench that wrote it.
    pub bench: BenchId,
    /// Line number in the bench's file, from 0.
    pub seq: u64,
    /// Its place in the order of all events.
    pub clock: Clock,
    /// Wall time, RFC 3339 with offset.
    pub at: String,
    /// Who wrote it.
    pub by: String,
    /// SHA-256 (hex) of the line before in the same file; empty on the first line.
    pub prev: String,
    /// What happened.
    pub what: Event,
}

/// What happened.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Event {
    /// The job was opened for a unit.
    Started(Unit),
    /// A board map was adopted; the file is `maps/<sha256>.json`.
    MapAdopted {
        /// Board name of the map.
        board: String,
        /// SHA-256 of the map file, hex.
        sha256: String,
        /// Whether places lie elsewhere on it than on the map before, so that photos of the board
        /// which were aligned to that do not lie on this one.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        moved: bool,
        /// Adoptions that the author saw and replaces.
        replaces: Vec<EventId>,
    },
    /// An original photo was imported.
    PhotoAdded(PhotoFacts),
    /// Somebody said which board and side a photo shows.
    PhotoPlaced {
        /// The photo.
        photo: PhotoId,
        /// What it shows.
        view: View,
    },
    /// A photo was aligned to a board map.
    Aligned(Alignment),
    /// A person judged one or several places.
    Judged(Judgement),
    /// A reading of a rail or test point.
    Measured(Measurement),
    /// One of the checks before power, or a function test.
    Checked(Check),
    /// The unit was opened or touched: readings and checks before this are stale.
    Reopened {
        /// The board that was touched; all boards where absent.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        board: Option<String>,
        /// Why.
        reason: String,
    },
    /// A part was unplugged and plugged again, or reseated.
    Reseated {
        /// The board.
        board: String,
        /// Reference of the part.
        part: String,
        /// Remark.
        #[serde(default)]
        note: String,
    },
    /// The unit was closed up; the last stage wants its checks after this.
    ClosedUp {
        /// Remark.
        #[serde(default)]
        note: String,
    },
    /// The shop decided what coverage a stage demands.
    CoverageDemanded(Coverage),
    /// Free text.
    Noted {
        /// The remark.
        text: String,
        /// A photo it belongs to.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        photo: Option<PhotoId>,
    },
    /// Undo: the targets do not count while this is in force. Redo withdraws the withdrawal.
    Withdrawn {
        /// Events that no longer count.
        targets: Vec<EventId>,
    },
    /// An event of a newer version: kept and shown, never dropped.
    #[serde(untagged)]
    Unknown(serde_json::Value),
}

/// The specimen on the bench.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Unit {
    /// Serial number or shop code, for example `FH12-0242`.
    pub code: String,
    /// Its model.
    pub model: String,
    /// What the owner says is wrong.
    #[serde(default)]
    pub complaint: String,
}

/// What is known of an imported photo.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PhotoFacts {
    /// SHA-256 of the original.
    pub photo: PhotoId,
    /// File name under `photos/`.
    pub file: String,
    /// Name it had when imported.
    pub name: String,
    /// Width and height of the upright photo in pixels.
    pub size: [u32; 2],
    /// Local time when taken (`YYYY-MM-DDTHH:MM:SS[.fff]`), without an invented zone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub taken: Option<String>,
    /// UTC offset of `taken` where the camera wrote one, for example `+02:00`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub taken_offset: Option<String>,
    /// Camera make and model.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub camera: Option<String>,
    /// Focal length in mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub focal_mm: Option<f64>,
    /// EXIF orientation as stored (1 to 8).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub orientation: Option<u16>,
    /// What it shows, where said at import.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub view: Option<View>,
}

/// Which board and side a photo shows.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct View {
    /// Board name of the map.
    pub board: String,
    /// The side.
    pub side: Side,
}

/// The transform from board millimetres to the pixels of one photo.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Alignment {
    /// The photo.
    pub photo: PhotoId,
    /// What it shows.
    pub view: View,
    /// How the photo shows the board.
    #[serde(flatten)]
    pub projection: Projection,
    /// How it was found: `landmarks: similarity|affine|homography`, or another method's name.
    pub method: String,
    /// The landmarks it rests on.
    #[serde(default)]
    pub landmarks: Vec<PlacedLandmark>,
    /// Root mean square residual over the landmarks, px.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rms_px: Option<f64>,
    /// Scale in the middle of the board, px/mm.
    pub px_per_mm: f64,
    /// Where it was found by matching another photo: which, and how far it is believed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub automatic: Option<Matched>,
    /// Alignments of this photo that the author saw and replaces.
    #[serde(default)]
    pub replaces: Vec<EventId>,
}

/// How an alignment that was found by matching another photo is believed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Matched {
    /// The aligned photo that this one was matched with.
    pub against: PhotoId,
    /// The unit that it shows, where that is another one of the model.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit: Option<String>,
    /// The lesser of agreement and coverage, 0..=1.
    pub trust: f64,
    /// Expected error at board level, px.
    pub expected_error_px: f64,
}

/// A landmark as it was placed on the photo.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlacedLandmark {
    /// Its name in the map.
    pub name: String,
    /// Where it was placed, upright photo pixels.
    pub at_px: [f64; 2],
    /// Leave-one-out residual in px, where enough landmarks were placed to have one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub left_out_px: Option<f64>,
}
