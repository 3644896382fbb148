//! What was measured and checked, and what the shop demands.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::EventId;
use crate::board::Expect;

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
    /// What the meter showed, V, for stored charge.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub volts: Option<f64>,
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
    /// Stored charge, measured (not computed): [`Check::volts`].
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
