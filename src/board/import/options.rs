//! What a person is asked about a file, and what they answer.

use std::fmt;
use std::str::FromStr;

use crate::board::model::Side;

/// A published format that maps are made from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum MapFormat {
    /// Centroid CSV: a table of parts, no pins.
    Centroid,
    /// IPC-D-356 or IPC-D-356A: the bare-board test's list of lands and nets.
    Ipc356,
    /// Gerber with X2 or X3 attributes.
    Gerber,
}

impl fmt::Display for MapFormat {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Centroid => "centroid CSV",
            Self::Ipc356 => "IPC-D-356",
            Self::Gerber => "Gerber",
        })
    }
}

/// Unit of length of a file's coordinates.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum LengthUnit {
    /// Millimetres.
    Mm,
    /// Thousandths of an inch.
    Mil,
    /// Inches, 25.4 mm.
    Inch,
}

impl LengthUnit {
    /// Millimetres of `value` in this unit: 500 mil = 0.5 in = 12.7 mm.
    #[must_use]
    pub fn to_mm(self, value: f64) -> f64 {
        match self {
            Self::Mm => value,
            Self::Mil => value * 25.4 / 1000.0,
            Self::Inch => value * 25.4,
        }
    }
}

impl fmt::Display for LengthUnit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Mm => "mm",
            Self::Mil => "mil",
            Self::Inch => "in",
        })
    }
}

impl FromStr for LengthUnit {
    type Err = ();

    fn from_str(text: &str) -> Result<Self, ()> {
        match text.trim().to_lowercase().as_str() {
            "mm" | "millimetre" | "millimetres" | "millimeter" | "millimeters" => Ok(Self::Mm),
            "mil" | "mils" | "thou" => Ok(Self::Mil),
            "in" | "inch" | "inches" | "\"" | "\u{2033}" => Ok(Self::Inch),
            _ => Err(()),
        }
    }
}

/// Which mark divides whole numbers from their fraction.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DecimalMark {
    /// 12.7
    Point,
    /// 12,7
    Comma,
}

/// How x counts for parts on the solder side.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BottomX {
    /// Like the others, as seen from the component side.
    AsTop,
    /// With the sign turned, as seen from the solder side.
    Negated,
}

/// What a coordinate of 1 means in an IPC-D-356 file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CoordinateStep {
    /// 0.0001 in (`UNITS CUST 0`).
    TenthMil,
    /// 0.001 mm (`UNITS CUST 1` and `UNITS SI`).
    Micrometre,
    /// 0.00001 in: one of the readings of `UNITS CUST 2`.
    HundredthMil,
    /// 0.0001 mm: one of the readings of `UNITS CUST 2`.
    TenthMicrometre,
}

impl CoordinateStep {
    /// Millimetres of `count` steps.
    #[must_use]
    pub fn to_mm(self, count: f64) -> f64 {
        match self {
            Self::TenthMil => count * 25.4 / 10_000.0,
            Self::Micrometre => count / 1_000.0,
            Self::HundredthMil => count * 25.4 / 100_000.0,
            Self::TenthMicrometre => count / 10_000.0,
        }
    }
}

/// What becomes of a pin number that stands at several places of one part.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Repeats {
    /// Every place is a joint: further ones get `_2`, `_3` behind the number.
    Number,
    /// Only the first is kept.
    First,
}

/// One of the two outer copper layers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outer {
    /// The component side.
    Top,
    /// The solder side.
    Bottom,
}

/// What an import is told beside the file. `None` is "not said": it is then taken from the file
/// where that states it, and asked where it does not.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct ImportOptions {
    /// The equipment model, for the map.
    pub model: String,
    /// Short name of the board, for the map.
    pub board: String,
    /// The format, where the contents could be several.
    pub format: Option<MapFormat>,
    /// Unit of the coordinates (centroid CSV, Gerber).
    pub units: Option<LengthUnit>,
    /// Decimal mark (centroid CSV).
    pub decimal: Option<DecimalMark>,
    /// How x counts on the solder side (centroid CSV).
    pub bottom_x: Option<BottomX>,
    /// The side of the parts whose side the file does not say.
    pub side: Option<Side>,
    /// What a coordinate of 1 means (IPC-D-356).
    pub step: Option<CoordinateStep>,
    /// Number of the copper layer on the solder side (IPC-D-356).
    pub solder_layer: Option<u32>,
    /// Whether records of a kind that is not known are left out (IPC-D-356).
    pub skip_unknown: bool,
    /// What becomes of pin numbers that stand at several places.
    pub repeats: Option<Repeats>,
    /// The copper layer of a file that does not say which it is (Gerber).
    pub layer: Option<Outer>,
    /// Whether pads that do not say it have a hole (Gerber).
    pub holes: Option<bool>,
}

/// What a question is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum QuestionKey {
    /// [`ImportOptions::format`].
    Format,
    /// [`ImportOptions::units`].
    Units,
    /// [`ImportOptions::decimal`].
    Decimal,
    /// [`ImportOptions::bottom_x`].
    BottomX,
    /// [`ImportOptions::side`].
    Side,
    /// [`ImportOptions::step`].
    Step,
    /// [`ImportOptions::skip_unknown`].
    Unknown,
    /// [`ImportOptions::repeats`].
    Repeats,
    /// [`ImportOptions::layer`].
    Layer,
    /// [`ImportOptions::holes`].
    Holes,
    /// The edge of the board; answered on the map, not before the import.
    Outline,
}

impl fmt::Display for QuestionKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Format => "format",
            Self::Units => "units",
            Self::Decimal => "decimal",
            Self::BottomX => "bottom-x",
            Self::Side => "side",
            Self::Step => "step",
            Self::Unknown => "unknown",
            Self::Repeats => "repeats",
            Self::Layer => "layer",
            Self::Holes => "holes",
            Self::Outline => "outline",
        })
    }
}

/// Something that the file leaves open.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Question {
    /// What it is about.
    pub key: QuestionKey,
    /// The question in words.
    pub text: String,
    /// The answers, each as the word for [`ImportOptions::answer`] and what it means; none
    /// where the answer is free.
    pub choices: Vec<(&'static str, &'static str)>,
}

impl Question {
    /// A question with its choices.
    pub(in crate::board) fn new(
        key: QuestionKey,
        text: impl Into<String>,
        choices: &[(&'static str, &'static str)],
    ) -> Self {
        Self {
            key,
            text: text.into(),
            choices: choices.to_vec(),
        }
    }
}

/// An answer that fits no question.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "`{key}={value}` answers nothing; write one of format=centroid|ipc-d-356|gerber, \
     units=mm|mil|in, decimal=point|comma, bottom-x=as-top|negated, side=component|solder, \
     step=0.0001in|0.001mm|0.00001in|0.0001mm, solder-layer=NUMBER, unknown=skip, \
     repeats=number|first, layer=top|bottom, holes=yes|no"
)]
pub struct BadAnswer {
    /// The key given.
    pub key: String,
    /// The value given.
    pub value: String,
}

impl ImportOptions {
    /// Takes an answer as words, as a [`Question`] offers them: `units` `mm`.
    ///
    /// # Errors
    /// If key or value is none of those offered.
    pub fn answer(&mut self, key: &str, value: &str) -> Result<(), BadAnswer> {
        let bad = || BadAnswer {
            key: key.to_owned(),
            value: value.to_owned(),
        };
        match (key, value) {
            ("format", "centroid") => self.format = Some(MapFormat::Centroid),
            ("format", "ipc-d-356") => self.format = Some(MapFormat::Ipc356),
            ("format", "gerber") => self.format = Some(MapFormat::Gerber),
            ("units", unit) => self.units = Some(unit.parse().map_err(|()| bad())?),
            ("decimal", "point") => self.decimal = Some(DecimalMark::Point),
            ("decimal", "comma") => self.decimal = Some(DecimalMark::Comma),
            ("bottom-x", "as-top") => self.bottom_x = Some(BottomX::AsTop),
            ("bottom-x", "negated") => self.bottom_x = Some(BottomX::Negated),
            ("side", "component") => self.side = Some(Side::Component),
            ("side", "solder") => self.side = Some(Side::Solder),
            ("step", "0.0001in") => self.step = Some(CoordinateStep::TenthMil),
            ("step", "0.001mm") => self.step = Some(CoordinateStep::Micrometre),
            ("step", "0.00001in") => self.step = Some(CoordinateStep::HundredthMil),
            ("step", "0.0001mm") => self.step = Some(CoordinateStep::TenthMicrometre),
            ("solder-layer", number) => {
                let layer = number.parse().ok().filter(|layer| *layer > 1);
                self.solder_layer = Some(layer.ok_or_else(bad)?);
            }
            ("unknown", "skip") => self.skip_unknown = true,
            ("repeats", "number") => self.repeats = Some(Repeats::Number),
            ("repeats", "first") => self.repeats = Some(Repeats::First),
            ("layer", "top") => self.layer = Some(Outer::Top),
            ("layer", "bottom") => self.layer = Some(Outer::Bottom),
            ("holes", "yes") => self.holes = Some(true),
            ("holes", "no") => self.holes = Some(false),
            _ => return Err(bad()),
        }
        Ok(())
    }
}
