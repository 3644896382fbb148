//! What verdicts, faults, checks and stages are called in sentences.

use std::fmt;

use crate::board::{Expect, Side};

use super::event::{CheckKind, Outcome, ReadingMode, Severity, Stage, Subject, Verdict};

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
