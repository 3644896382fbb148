//! The four invented units and what is planted in each.

use serde::{Deserialize, Serialize};

/// One unit of the sample model.
#[derive(Debug, Clone, PartialEq)]
pub struct UnitSpec {
    /// Serial number, for example `FH12-0242`.
    pub code: &'static str,
    /// What the owner says is wrong.
    pub complaint: &'static str,
    /// Planted faults, in no special order.
    pub faults: Vec<PlantedFault>,
}

/// A fault put into a rendered unit on purpose.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "fault", rename_all = "snake_case")]
pub enum PlantedFault {
    /// A ring crack in the solder of one joint.
    Fractured {
        /// Board name.
        board: String,
        /// Joint, for example `J4.3`.
        joint: String,
        /// Length of the arc round the pin in degrees, 60..=360.
        arc_deg: f64,
        /// Where the arc begins, degrees counter-clockwise from +x seen from the component side.
        start_deg: f64,
        /// Width in mm, 0.03..=0.2.
        width_mm: f64,
        /// Share of the light that the crack takes away, 0.4..=0.95.
        darkening: f64,
        /// Mean radius in mm; at the border of pin and fillet where absent.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        radius_mm: Option<f64>,
    },
    /// Solder joins two neighbouring joints.
    Bridge {
        /// Board name.
        board: String,
        /// First joint.
        joint: String,
        /// Second joint.
        other: String,
    },
    /// A part that belongs there is absent; old solder fills its holes.
    Missing {
        /// Board name.
        board: String,
        /// Part.
        part: String,
    },
    /// An electrolytic has leaked: crust at its foot, stain on both sides.
    Leaking {
        /// Board name.
        board: String,
        /// Part.
        part: String,
    },
    /// The plastic of a header is split.
    CrackedHeader {
        /// Board name.
        board: String,
        /// Part.
        part: String,
    },
    /// A slide switch stands tilted and loose.
    LooseSwitch {
        /// Board name.
        board: String,
        /// Part.
        part: String,
    },
    /// Somebody mended here before: a wire, much flux, lumpy solder.
    PriorRepair {
        /// Board name.
        board: String,
        /// Joint at one end of the wire.
        joint: String,
        /// Joint at the other end.
        other: String,
    },
}

impl PlantedFault {
    /// The board that the fault is on.
    #[must_use]
    pub fn board(&self) -> &str {
        match self {
            Self::Fractured { board, .. }
            | Self::Bridge { board, .. }
            | Self::Missing { board, .. }
            | Self::Leaking { board, .. }
            | Self::CrackedHeader { board, .. }
            | Self::LooseSwitch { board, .. }
            | Self::PriorRepair { board, .. } => board,
        }
    }
}

fn crack(
    board: &str,
    joint: &str,
    [start_deg, arc_deg]: [f64; 2],
    width_mm: f64,
    darkening: f64,
    radius_mm: Option<f64>,
) -> PlantedFault {
    PlantedFault::Fractured {
        board: board.to_owned(),
        joint: joint.to_owned(),
        arc_deg,
        start_deg,
        width_mm,
        darkening,
        radius_mm,
    }
}

/// The four units: `FH12-0117`, `FH12-0242`, `FH12-0388`, `FH12-0455`.
#[must_use]
pub fn units() -> Vec<UnitSpec> {
    vec![blank_display(), zones_stick(), door_shut(), reference()]
}

fn blank_display() -> UnitSpec {
    UnitSpec {
        code: "FH12-0117",
        complaint: "blank display",
        faults: vec![
            PlantedFault::Bridge {
                board: "main".to_owned(),
                joint: "U3.4".to_owned(),
                other: "U3.5".to_owned(),
            },
            PlantedFault::Missing {
                board: "main".to_owned(),
                part: "W2".to_owned(),
            },
            crack("main", "K3.3", [30.0, 250.0], 0.1, 0.8, None),
            crack("main", "J4.9", [200.0, 300.0], 0.08, 0.85, None),
            crack("front", "J1.1", [300.0, 290.0], 0.09, 0.85, None),
            crack("front", "U1.28", [80.0, 220.0], 0.07, 0.8, None),
        ],
    }
}

fn zones_stick() -> UnitSpec {
    UnitSpec {
        code: "FH12-0242",
        complaint: "zones stick",
        faults: vec![
            crack("main", "J4.3", [20.0, 330.0], 0.1, 0.92, None),
            crack("main", "J4.2", [140.0, 210.0], 0.08, 0.8, None),
            crack("main", "J4.12", [250.0, 150.0], 0.06, 0.7, Some(0.86)),
            crack("main", "K2.3", [0.0, 360.0], 0.1, 0.9, None),
            crack("main", "K2.4", [60.0, 270.0], 0.1, 0.88, None),
            crack("main", "K5.4", [300.0, 240.0], 0.08, 0.85, None),
            crack("main", "K7.1", [10.0, 120.0], 0.06, 0.7, None),
            crack("main", "K9.3", [90.0, 310.0], 0.1, 0.9, Some(0.8)),
            crack("main", "J1.1", [45.0, 280.0], 0.11, 0.9, None),
            crack("main", "J2.6", [180.0, 200.0], 0.05, 0.75, None),
            PlantedFault::PriorRepair {
                board: "main".to_owned(),
                joint: "K5.2".to_owned(),
                other: "K6.1".to_owned(),
            },
        ],
    }
}

fn door_shut() -> UnitSpec {
    UnitSpec {
        code: "FH12-0388",
        complaint: "quits when the door is shut",
        faults: vec![
            PlantedFault::CrackedHeader {
                board: "main".to_owned(),
                part: "J2".to_owned(),
            },
            PlantedFault::LooseSwitch {
                board: "main".to_owned(),
                part: "SW2".to_owned(),
            },
            PlantedFault::Leaking {
                board: "main".to_owned(),
                part: "C3".to_owned(),
            },
            crack("main", "J2.1", [100.0, 320.0], 0.09, 0.9, None),
            crack("main", "J2.3", [220.0, 230.0], 0.07, 0.85, None),
            crack("main", "SW2.2", [0.0, 340.0], 0.1, 0.9, None),
            crack("main", "K11.4", [130.0, 260.0], 0.09, 0.85, None),
            crack("main", "U8.2", [30.0, 200.0], 0.08, 0.8, None),
            crack("front", "J1.3", [40.0, 270.0], 0.08, 0.88, None),
            crack("front", "SW5.4", [150.0, 220.0], 0.08, 0.8, None),
        ],
    }
}

fn reference() -> UnitSpec {
    UnitSpec {
        code: "FH12-0455",
        complaint: "none: works, kept as the reference",
        faults: Vec::new(),
    }
}
