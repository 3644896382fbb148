//! What a judgement says: of what, which verdict, which faults, on what evidence.

use serde::{Deserialize, Serialize};

use super::super::known::ConfirmedBy;
use super::{EventId, PhotoId, View};
use crate::board::Side;

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
