//! The events of a job's journal. One JSON line each; append-only; see `docs/journal.md`.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::board::{Expect, Side};
use crate::geometry::{BoardMm, Homography, PhotoPx};

use super::known::ConfirmedBy;

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
    /// Row-major, h33 = 1.
    pub photo_from_board: Homography<BoardMm, PhotoPx>,
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

/// A joint: one pin on one side of one board.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct JointKey {
    /// Board name.
    pub board: String,
    /// The pin's stable uid.
    pub pin: String,
    /// The side.
    pub side: Side,
}

/// What a judgement is about.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "on", rename_all = "snake_case")]
pub enum Target {
    /// One joint.
    Joint(JointKey),
    /// A whole part by its uid.
    Part {
        /// Board name.
        board: String,
        /// The part's uid.
        part: String,
    },
    /// A rectangle of a board.
    Area {
        /// Board and side.
        view: View,
        /// Corner, mm.
        from: [f64; 2],
        /// Opposite corner, mm.
        to: [f64; 2],
    },
    /// A place on a photo that no map covers.
    Photo(Spot),
    /// Something of the unit that is on no board and no photo (cord, plug, case).
    Unit {
        /// What, in words, for example `mains cord`.
        what: String,
    },
}

/// A place on a photo.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Spot {
    /// The photo.
    pub photo: PhotoId,
    /// Centre in upright pixels.
    pub at_px: [f64; 2],
    /// Radius of the place in px.
    pub radius_px: f64,
}

/// What a person says of a place.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Judgement {
    /// The places, judged together in one gesture.
    pub targets: Vec<Target>,
    /// The verdict.
    pub verdict: Verdict,
    /// Faults found; each becomes a line of the slip.
    #[serde(default)]
    pub faults: Vec<Fault>,
    /// What is in the way where the verdict is *cannot be judged*.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub obstacle: String,
    /// Remark.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
    /// The photo that was looked at, and where; absent for a look at the board itself.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seen_on: Option<Spot>,
    /// Scale of the look in px/mm, where it was a photo with a known scale.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub px_per_mm: Option<f64>,
    /// What the hint said at the time, where it spoke.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub evidence: Option<Evidence>,
    /// How it was found out whether the joint is cracked, where that was done.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub confirmed_by: Option<ConfirmedBy>,
    /// Judgements of the same places that the author saw and replaces.
    #[serde(default)]
    pub replaces: Vec<EventId>,
}

/// Verdict on a place. There is no verdict "sound". *Unseen* is the absence of one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// The person saw no fault, at the recorded scale.
    NoFaultSeen,
    /// A rework was rechecked and accepted.
    Accepted,
    /// Something is in the way; never counts as coverage.
    CannotBeJudged,
    /// Rework was done and awaits its recheck.
    Reworked,
    /// Worth a second look.
    Suspect,
    /// A fault.
    Faulty,
}

/// One fault of a place.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Fault {
    /// The trade's term.
    pub fault: FaultKind,
    /// How bad.
    pub severity: Severity,
    /// What to do; the usual action of the fault where empty.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub action: String,
}

/// How bad a fault is. Ordered from least to worst.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Severity {
    /// Looks only.
    Cosmetic,
    /// Look again next time.
    Watch,
    /// Mend before the unit leaves.
    FixNow,
    /// Mend before the next power stage.
    BlocksPower,
}

/// Fault terms: the trade's workmanship vocabulary and the mechanical faults of old gear.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum FaultKind {
    /// Separation through the solder, often a ring round the pin.
    Fractured,
    /// Moved while freezing.
    Disturbed,
    /// Too little heat or poor wetting.
    Cold,
    /// A film of flux holds the parts apart.
    RosinConnection,
    /// Solder never bonded.
    Nonwetting,
    /// Wetted, then pulled back.
    Dewetting,
    /// Too little solder.
    Insufficient,
    /// Too much solder.
    Excess,
    /// Solder joins separate conductors.
    Bridge,
    /// Stray solder: web, splash or ball.
    SolderSplash,
    /// Pointed tail.
    Icicle,
    /// Pinhole or blowhole.
    Pinhole,
    /// No solder at a populated pin.
    MissingSolder,
    /// Burnt joint.
    Overheated,
    /// Base metal shows.
    ExposedMetal,
    /// Land parted from the laminate.
    LiftedLand,
    /// Lead too short, unformed or off its land.
    LeadFault,
    /// Track cut or damaged.
    CutConductor,
    /// Laminate burnt, parted or spotted.
    DamagedLaminate,
    /// Dirt, debris or flux residue.
    Contamination,
    /// Corrosion or whiskers.
    Corroded,
    /// Part damaged, bulged or cracked.
    DamagedPart,
    /// Part leaking.
    Leaking,
    /// Part burnt.
    Burnt,
    /// Part turned round.
    ReversedPolarity,
    /// Not the part that belongs there.
    WrongPart,
    /// Part or member of a row is missing.
    Missing,
    /// Bent or uneven member of a row.
    Bent,
    /// Loose or tilted switch.
    LooseSwitch,
    /// Cracked header or connector housing.
    CrackedHeader,
    /// Loose fastener or part.
    LoosePart,
    /// Perished rubber.
    PerishedRubber,
    /// Dirty contact.
    DirtyContact,
    /// Earlier repair by somebody else.
    PriorRepair,
    /// Owner's modification.
    OwnersModification,
    /// Damaged cord or wiring.
    DamagedCord,
    /// Anything else: see the note.
    Other,
}

/// What the hint said, stored as data.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Evidence {
    /// Band: `no line seen`, `cannot tell`, `look here first`.
    pub band: String,
    /// Rank in the photo, 1 = most suspect.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rank: Option<u32>,
    /// How many joints of the photo had a reading.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub of: Option<u32>,
    /// Dark arc round the pin in degrees.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub arc_deg: Option<f64>,
    /// Depth of the arc in units of the photo's noise.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub depth_sigma: Option<f64>,
    /// The reason in words.
    #[serde(default)]
    pub reason: String,
    /// The drawn path, upright photo pixels.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub arc: Vec<[f64; 2]>,
}

/// What was measured.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Measurement {
    /// The rail or test point.
    pub subject: Subject,
    /// The values read.
    pub readings: Vec<Reading>,
    /// How the controls stood.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub settings: BTreeMap<String, String>,
    /// Remark.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
    /// Measurements of the same subject and mode that the author saw and replaces.
    #[serde(default)]
    pub replaces: Vec<EventId>,
}

/// Where a reading was taken.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(tag = "on", rename_all = "snake_case")]
pub enum Subject {
    /// A rail of a board, in one state of the supply.
    Rail {
        /// Board name.
        board: String,
        /// Rail name.
        rail: String,
        /// Cold, unloaded or loaded.
        mode: ReadingMode,
    },
    /// A test point of a board.
    TestPoint {
        /// Board name.
        board: String,
        /// Test point name.
        name: String,
    },
}

/// In which state of the supply a rail was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ReadingMode {
    /// Power off: resistance rail to return.
    Cold,
    /// Supply alone, load unplugged.
    Unloaded,
    /// Load connected.
    Loaded,
}

/// One value.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// Quantity and unit.
    pub quantity: Expect,
    /// The value in that unit; always finite (blank is not a reading).
    pub value: f64,
}

/// A check with an outcome.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Check {
    /// Which.
    pub check: CheckKind,
    /// How it came out.
    pub outcome: Outcome,
    /// Remark or reading, in words.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
    /// Checks of the same kind that the author saw and replaces.
    #[serde(default)]
    pub replaces: Vec<EventId>,
}

/// The checks that are not on a board map.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(tag = "name", rename_all = "snake_case")]
pub enum CheckKind {
    /// Mains cord, strain relief.
    Cord,
    /// Plug and its fuse.
    Plug,
    /// Earth continuity, plug to metalwork.
    EarthContinuity,
    /// Fuse type and rating.
    FuseRating,
    /// Voltage selector stands right.
    VoltageSelector,
    /// Stored charge measured (not computed).
    StoredCharge,
    /// A function test by name.
    Function {
        /// What was tried.
        test: String,
    },
}

/// How a check came out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Outcome {
    /// In order.
    Passed,
    /// This equipment has no such thing (a note says why).
    NotFitted,
    /// Not in order.
    Failed,
}

/// What share of the joints a stage wants judged: the shop's setting.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Coverage {
    /// Share of safety and supply joints before first power, 0..=1.
    pub before_power: f64,
    /// Share of all joints before *closed up*, 0..=1.
    pub before_closing: f64,
    /// Least scale of a look that counts, px/mm, where looked at on a photo; 0 = any.
    #[serde(default)]
    pub least_px_per_mm: f64,
}

/// Which stage of the gate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Stage {
    /// Cold checks: permits power to the supply alone.
    Cold,
    /// Supply alone: permits connecting the load.
    Supply,
    /// Load connected: permits the function test.
    Load,
    /// Function: permits closing up.
    Function,
    /// Closed up: permits handing back.
    Closed,
}
