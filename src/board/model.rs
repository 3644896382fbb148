//! The board map as it stands on disk (JSON). Checked at the border by the linter; see `lint`.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::geometry::BoardPoint;

/// One side of a board.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "lowercase")]
pub enum Side {
    /// Where the through-hole parts stand.
    Component,
    /// Where they are soldered.
    Solder,
}

/// The parts, pins and lands of one board in millimetres, plus landmarks, rails and test points.
///
/// x to the right, y up, as seen from the component side. The solder side uses the same
/// coordinates; the alignment of a photo mirrors them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BoardMap {
    /// Version of this format; 1.
    #[schemars(range(min = 1, max = 1))]
    pub schema: u32,
    /// The equipment model that the board belongs to, for example `Fernhollow FH-12`.
    pub model: String,
    /// Short name of the board within the model, used in addresses: `main` in `main:J4.3/solder`.
    pub board: String,
    /// What people call the board, for example `main board`.
    #[serde(default)]
    pub title: String,
    /// Revision printed on the board, where known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub revision: Option<String>,
    /// Where these data came from, in words.
    #[serde(default)]
    pub origin: String,
    /// The edge of the board: a closed polygon in mm.
    #[schemars(length(min = 3))]
    pub outline: Vec<[f64; 2]>,
    /// Everything that is soldered, plugged or screwed to the board.
    #[serde(default)]
    pub parts: Vec<Part>,
    /// Places that are easy to find in a photo.
    #[serde(default)]
    pub landmarks: Vec<Landmark>,
    /// Supply rails and their limits.
    #[serde(default)]
    pub rails: Vec<Rail>,
    /// Other places to measure.
    #[serde(default)]
    pub test_points: Vec<TestPoint>,
}

/// One part.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Part {
    /// Stable identity within the board; survives renaming of the reference.
    pub uid: String,
    /// Reference designator as printed, for example `J4` (class letters of IEEE 315).
    #[serde(rename = "ref")]
    pub reference: String,
    /// What it is.
    pub kind: PartKind,
    /// What it does or its value, for example `zone driver` or `470 uF 25 V`.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub value: String,
    /// The side on which the body stands.
    pub side: Side,
    /// The body's outline on the board.
    pub outline: Outline,
    /// Pins in electrical order.
    #[serde(default)]
    pub pins: Vec<Pin>,
    /// Which stage of the gate asks for this part first.
    #[serde(default)]
    pub zone: Zone,
    /// Known weak spot: why this part is looked at first.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub watch: Option<String>,
}

/// The trade's kinds of part, as far as looking at them differs.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum PartKind {
    /// Fixed resistor or resistor array.
    Resistor,
    /// Non-polarised capacitor.
    Capacitor,
    /// Electrolytic (polarised) capacitor.
    Electrolytic,
    /// Integrated circuit.
    Ic,
    /// Diode, LED or rectifier.
    Diode,
    /// Transistor or regulator in a transistor case.
    Transistor,
    /// Pin header or its socket.
    Header,
    /// Terminal block.
    Terminal,
    /// Any other connector.
    Connector,
    /// Switch.
    Switch,
    /// Relay.
    Relay,
    /// Transformer.
    Transformer,
    /// Fuse and holder.
    Fuse,
    /// Crystal or resonator.
    Crystal,
    /// Jumper link.
    Link,
    /// Potentiometer or trimmer.
    Potentiometer,
    /// Indicator or display.
    Display,
    /// Screw, standoff or other hardware.
    Hardware,
    /// Anything else.
    Other,
}

/// Which area of the board a part belongs to, for the gate's coverage demand.
#[derive(
    Debug,
    Clone,
    Copy,
    PartialEq,
    Eq,
    PartialOrd,
    Ord,
    Hash,
    Default,
    Serialize,
    Deserialize,
    JsonSchema,
)]
#[serde(rename_all = "lowercase")]
pub enum Zone {
    /// Mains or otherwise dangerous: fuse, inlet, transformer primary, earth.
    Safety,
    /// Rectifier, reservoirs, regulators and what joins them.
    Supply,
    /// Everything that hangs on the supply.
    #[default]
    Load,
}

/// The outline of a part body.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "shape", rename_all = "lowercase", deny_unknown_fields)]
pub enum Outline {
    /// A rectangle, turned counter-clockwise about its centre.
    Rect {
        /// Centre in mm.
        at: [f64; 2],
        /// Width and height in mm before turning.
        size: [f64; 2],
        /// Counter-clockwise turn in degrees, seen from the component side.
        #[serde(default)]
        turn_deg: f64,
    },
    /// A circle.
    Circle {
        /// Centre in mm.
        at: [f64; 2],
        /// Diameter in mm.
        diameter: f64,
    },
    /// A closed polygon.
    Polygon {
        /// Corners in mm.
        points: Vec<[f64; 2]>,
    },
}

/// One pin and its land.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Pin {
    /// Stable identity within the board; a joint is this uid on one side.
    pub uid: String,
    /// Pin number or name as the trade counts, for example `3` or `A`.
    pub no: String,
    /// Centre in mm.
    pub at: [f64; 2],
    /// The land (pad).
    pub land: Land,
    /// Hole diameter in mm; absent for a surface land.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub drill: Option<f64>,
    /// Electrical net, where known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub net: Option<String>,
    /// Known weak spot: why this joint is looked at first.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub watch: Option<String>,
}

/// The copper that the joint sits on.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Land {
    /// Its shape.
    pub shape: LandShape,
    /// Width and height in mm.
    pub size: [f64; 2],
}

/// Shape of a land.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum LandShape {
    /// Round (both sizes equal).
    Round,
    /// Rectangle (pin 1, usually).
    Rect,
    /// Rectangle with round ends.
    Oval,
}

/// A place that is easy to find in a photo.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Landmark {
    /// Unique name, for example `hole A`.
    pub name: String,
    /// Position in mm.
    pub at: [f64; 2],
    /// What to look for, in words.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub look_for: String,
}

/// Inclusive limits. Stored as min and max, never as percent; `min <= max` also for negative rails.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Limits {
    /// Smallest value in order.
    pub min: f64,
    /// Greatest value in order.
    pub max: f64,
}

/// A supply rail.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Rail {
    /// Unique name, for example `+12 V`.
    pub name: String,
    /// Where to put the probe, in words or as an address (`U7.3`).
    pub at: String,
    /// Where to put the return.
    #[serde(rename = "return")]
    pub return_at: String,
    /// Volts with the load unplugged.
    pub unloaded: Limits,
    /// Volts with the load connected.
    pub loaded: Limits,
    /// Least resistance rail to return in ohm with power off and stored charge gone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cold_min_ohm: Option<f64>,
    /// Greatest ripple in millivolts peak-to-peak with the load connected.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ripple_max_mv_pp: Option<f64>,
    /// Greatest current in amperes with the load connected.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub amperes_max: Option<f64>,
}

/// A place to measure something other than a rail.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TestPoint {
    /// Unique name, for example `TP3`.
    pub name: String,
    /// Where to put the probe.
    pub at: String,
    /// What is measured there and its limits; every one must be met.
    pub expect: Vec<Extent>,
    /// How the controls must stand while measuring: control to position.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub settings: BTreeMap<String, String>,
}

/// One measured quantity with its limits.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Extent {
    /// The quantity and its unit.
    pub quantity: Expect,
    /// Nominal value, for reading only; the limits decide.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub nominal: Option<f64>,
    /// Smallest value in order, in the quantity's unit; absent where no tolerance is stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub min: Option<f64>,
    /// Greatest value in order; absent where no tolerance is stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub max: Option<f64>,
}

/// What a meter or oscilloscope reads, with its unit.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Expect {
    /// Direct voltage in volts.
    VoltsDc,
    /// Alternating level in millivolts peak-to-peak.
    MillivoltsPp,
    /// Direct offset under an alternating level, in volts.
    OffsetVolts,
    /// Frequency in hertz.
    Hertz,
    /// Resistance in ohm.
    Ohm,
    /// Direct current in amperes.
    AmperesDc,
}

impl Pin {
    /// Centre as a typed point.
    #[must_use]
    pub fn centre(&self) -> BoardPoint {
        BoardPoint::new(self.at[0], self.at[1])
    }

    /// Mean radius of the land in mm.
    #[must_use]
    pub fn land_radius_mm(&self) -> f64 {
        (self.land.size[0] + self.land.size[1]) / 4.0
    }
}
