//! What verdicts, faults, checks and stages are called in sentences.

use std::fmt;

use crate::board::{Expect, Side};

use super::event::{CheckKind, FaultKind, Outcome, ReadingMode, Severity, Stage, Subject, Verdict};

impl Verdict {
    /// In words, for example `no fault seen`.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::NoFaultSeen => "no fault seen",
            Self::Accepted => "accepted",
            Self::CannotBeJudged => "cannot be judged",
            Self::Reworked => "reworked",
            Self::Suspect => "suspect",
            Self::Faulty => "faulty",
        }
    }
}

impl Severity {
    /// In words, for example `blocks power`.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Cosmetic => "cosmetic",
            Self::Watch => "watch",
            Self::FixNow => "fix now",
            Self::BlocksPower => "blocks power",
        }
    }
}

impl FaultKind {
    /// Every kind, in the order of the list that people choose from.
    pub const ALL: [Self; 37] = [
        Self::Fractured,
        Self::Disturbed,
        Self::Cold,
        Self::RosinConnection,
        Self::Nonwetting,
        Self::Dewetting,
        Self::Insufficient,
        Self::Excess,
        Self::Bridge,
        Self::SolderSplash,
        Self::Icicle,
        Self::Pinhole,
        Self::MissingSolder,
        Self::Overheated,
        Self::ExposedMetal,
        Self::LiftedLand,
        Self::LeadFault,
        Self::CutConductor,
        Self::DamagedLaminate,
        Self::Contamination,
        Self::Corroded,
        Self::DamagedPart,
        Self::Leaking,
        Self::Burnt,
        Self::ReversedPolarity,
        Self::WrongPart,
        Self::Missing,
        Self::Bent,
        Self::LooseSwitch,
        Self::CrackedHeader,
        Self::LoosePart,
        Self::PerishedRubber,
        Self::DirtyContact,
        Self::PriorRepair,
        Self::OwnersModification,
        Self::DamagedCord,
        Self::Other,
    ];

    /// The term and the usual action, for a line of the slip where nobody wrote another.
    fn entry(self) -> (&'static str, &'static str) {
        match self {
            Self::Fractured => ("fractured joint", "remove the old solder and solder again"),
            Self::Disturbed => (
                "disturbed joint",
                "reflow with flux, hold still while it freezes",
            ),
            Self::Cold => ("cold joint", "reflow with flux and enough heat"),
            Self::RosinConnection => ("rosin connection", "reflow with fresh flux, then clean"),
            Self::Nonwetting => ("non-wetting", "clean lead and land, tin, solder again"),
            Self::Dewetting => ("dewetting", "clean, tin and solder again"),
            Self::Insufficient => ("insufficient solder", "add solder with flux"),
            Self::Excess => ("excess solder", "take the excess off"),
            Self::Bridge => ("solder bridge", "remove the bridge and check for a short"),
            Self::SolderSplash => ("solder splash", "remove and clean"),
            Self::Icicle => ("icicle", "reflow with flux"),
            Self::Pinhole => (
                "pinhole or blowhole",
                "remove solder, let it dry out, solder again",
            ),
            Self::MissingSolder => ("missing solder", "solder"),
            Self::Overheated => ("overheated joint", "check the land, then solder again"),
            Self::ExposedMetal => ("exposed metal", "clean and tin"),
            Self::LiftedLand => ("lifted land", "repair the land and prove the connection"),
            Self::LeadFault => ("lead fault", "form or replace the lead"),
            Self::CutConductor => ("cut or damaged track", "bridge the track and prove it"),
            Self::DamagedLaminate => ("damaged laminate", "cut back, clean and check insulation"),
            Self::Contamination => ("contamination", "clean and look again"),
            Self::Corroded => (
                "corrosion",
                "clean back to bright metal, then check continuity",
            ),
            Self::DamagedPart => ("damaged part", "replace the part"),
            Self::Leaking => (
                "leaking part",
                "replace the part and clean the board under it",
            ),
            Self::Burnt => ("burnt part", "find the cause, then replace the part"),
            Self::ReversedPolarity => {
                ("reversed polarity", "replace the part, the right way round")
            }
            Self::WrongPart => ("wrong part", "fit the right part"),
            Self::Missing => ("missing part", "fit the part"),
            Self::Bent => ("bent or uneven member of a row", "straighten or replace"),
            Self::LooseSwitch => ("loose switch", "reseat and solder again, or replace"),
            Self::CrackedHeader => ("cracked header", "replace the header"),
            Self::LoosePart => ("loose part", "fasten"),
            Self::PerishedRubber => ("perished rubber", "replace"),
            Self::DirtyContact => ("dirty contact", "clean the contact"),
            Self::PriorRepair => ("prior repair", "check the work and redo it where poor"),
            Self::OwnersModification => {
                ("owner's modification", "ask the owner, then keep or undo")
            }
            Self::DamagedCord => ("damaged cord or wiring", "replace the cord or wire"),
            Self::Other => ("other fault", "see the note"),
        }
    }

    /// The trade's term in words.
    #[must_use]
    pub fn words(self) -> &'static str {
        self.entry().0
    }

    /// What is usually done about it.
    #[must_use]
    pub fn usual_action(self) -> &'static str {
        self.entry().1
    }
}

impl Outcome {
    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Passed => "passed",
            Self::NotFitted => "not fitted",
            Self::Failed => "failed",
        }
    }
}

impl Stage {
    /// Every stage in order.
    pub const ALL: [Self; 5] = [
        Self::Cold,
        Self::Supply,
        Self::Load,
        Self::Function,
        Self::Closed,
    ];

    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Cold => "cold",
            Self::Supply => "supply alone",
            Self::Load => "load connected",
            Self::Function => "function",
            Self::Closed => "closed up",
        }
    }

    /// The one step that this stage permits once nothing is held against it.
    #[must_use]
    pub fn permits(self) -> &'static str {
        match self {
            Self::Cold => {
                "Permits one step: power to the supply alone, load unplugged. \
                 This is a record of checks, not proof that the unit is safe."
            }
            Self::Supply => {
                "Permits one step: connecting the load. \
                 This is a record of checks, not proof that the unit is safe."
            }
            Self::Load => {
                "Permits one step: the function test. \
                 This is a record of checks, not proof that the unit is safe."
            }
            Self::Function => {
                "Permits one step: closing up. \
                 This is a record of checks, not proof that the unit is safe."
            }
            Self::Closed => {
                "Permits one step: handing the unit back. \
                 This is a record of checks, not proof that the unit is safe."
            }
        }
    }
}

impl ReadingMode {
    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Cold => "cold, power off",
            Self::Unloaded => "supply alone, load unplugged",
            Self::Loaded => "load connected",
        }
    }
}

impl CheckKind {
    /// The checks that come before first power, in the order in which they are done.
    pub const BEFORE_POWER: [Self; 6] = [
        Self::Cord,
        Self::Plug,
        Self::EarthContinuity,
        Self::FuseRating,
        Self::VoltageSelector,
        Self::StoredCharge,
    ];

    /// What is checked, in words.
    #[must_use]
    pub fn words(&self) -> String {
        match self {
            Self::Cord => "mains cord and strain relief".to_owned(),
            Self::Plug => "plug and its fuse".to_owned(),
            Self::EarthContinuity => "earth continuity from plug to metalwork".to_owned(),
            Self::FuseRating => "fuse type and rating".to_owned(),
            Self::VoltageSelector => "voltage selector".to_owned(),
            Self::StoredCharge => "stored charge measured".to_owned(),
            Self::Function { test } => format!("function test `{test}`"),
        }
    }
}

impl fmt::Display for Subject {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Rail { board, rail, mode } => {
                write!(f, "{board}: rail {rail} ({})", mode.words())
            }
            Self::TestPoint { board, name } => write!(f, "{board}: test point {name}"),
        }
    }
}

/// Name and unit of a quantity, for example (`direct voltage`, `V`).
pub(super) fn quantity(expect: Expect) -> (&'static str, &'static str) {
    match expect {
        Expect::VoltsDc => ("direct voltage", "V"),
        Expect::MillivoltsPp => ("alternating level", "mV peak-to-peak"),
        Expect::OffsetVolts => ("direct offset", "V"),
        Expect::Hertz => ("frequency", "Hz"),
        Expect::Ohm => ("resistance", "ohm"),
        Expect::AmperesDc => ("direct current", "A"),
    }
}

/// The side in words.
pub(super) fn side(side: Side) -> &'static str {
    match side {
        Side::Component => "component",
        Side::Solder => "solder",
    }
}
