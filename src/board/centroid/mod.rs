//! Centroid CSV: one line per part with the place of its middle. There is no standard, so
//! headings are matched by the trade's aliases, and whatever the file leaves open is asked.

mod build;
mod export;
mod heading;
mod number;
mod table;
#[cfg(test)]
mod tests;

use std::fmt;
use std::path::{Path, PathBuf};
use std::str::FromStr;

use super::file::MapError;
use super::model::{BoardMap, Side};

pub use export::export_centroid;

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

/// What the importer is told beside the file. `None` is "not said": it is then taken from the
/// file where that states it, and asked where it does not.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct CentroidOptions {
    /// The equipment model, for the map.
    pub model: String,
    /// Short name of the board, for the map.
    pub board: String,
    /// Unit of the coordinates.
    pub units: Option<LengthUnit>,
    /// Decimal mark.
    pub decimal: Option<DecimalMark>,
    /// How x counts on the solder side.
    pub bottom_x: Option<BottomX>,
    /// The side of all parts, where the file has no column for it.
    pub side: Option<Side>,
}

/// What a question is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum QuestionKey {
    /// [`CentroidOptions::units`].
    Units,
    /// [`CentroidOptions::decimal`].
    Decimal,
    /// [`CentroidOptions::bottom_x`].
    BottomX,
    /// [`CentroidOptions::side`].
    Side,
    /// The edge of the board; answered on the map, not before the import.
    Outline,
}

impl fmt::Display for QuestionKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Units => "units",
            Self::Decimal => "decimal",
            Self::BottomX => "bottom-x",
            Self::Side => "side",
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
    /// The answers, each as the word for [`CentroidOptions::answer`] and what it means; none
    /// where the answer is free.
    pub choices: Vec<(&'static str, &'static str)>,
}

/// An answer that fits no question.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "`{key}={value}` answers nothing; write one of units=mm|mil|in, decimal=point|comma, bottom-x=as-top|negated, side=component|solder"
)]
pub struct BadAnswer {
    /// The key given.
    pub key: String,
    /// The value given.
    pub value: String,
}

impl CentroidOptions {
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
            ("units", unit) => self.units = Some(unit.parse().map_err(|()| bad())?),
            ("decimal", "point") => self.decimal = Some(DecimalMark::Point),
            ("decimal", "comma") => self.decimal = Some(DecimalMark::Comma),
            ("bottom-x", "as-top") => self.bottom_x = Some(BottomX::AsTop),
            ("bottom-x", "negated") => self.bottom_x = Some(BottomX::Negated),
            ("side", "component") => self.side = Some(Side::Component),
            ("side", "solder") => self.side = Some(Side::Solder),
            _ => return Err(bad()),
        }
        Ok(())
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

/// A map made from a file, with what it leaves open.
#[derive(Debug, Clone, PartialEq)]
pub struct Imported {
    /// The map.
    pub map: BoardMap,
    /// What to answer on the map.
    pub questions: Vec<Question>,
    /// What was done and what is missing, in sentences.
    pub notes: Vec<String>,
}

/// Why a file was not imported. Each names the file, and the place where there is one.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ImportError {
    /// The file leaves open what the places mean: answer and import again.
    #[error("{}: {}", path.display(), ask(questions))]
    Asks {
        /// The file.
        path: PathBuf,
        /// All questions at once.
        questions: Vec<Question>,
    },
    /// Larger than any parts list.
    #[error("{}: larger than {limit} bytes, which no parts list needs; is it the right file?", path.display())]
    TooLarge {
        /// The file.
        path: PathBuf,
        /// Greatest size accepted, bytes.
        limit: usize,
    },
    /// Not UTF-8.
    #[error("{}: line {line}, column {column}: not UTF-8 text; save it as CSV in UTF-8", path.display())]
    NotText {
        /// The file.
        path: PathBuf,
        /// Line, from 1.
        line: usize,
        /// Column in characters, from 1.
        column: usize,
    },
    /// No line names the columns.
    #[error("{}: line {line}, column 1: no heading found in the first {searched} lines{closest}; one line must name reference, x and y (for example ref,x_mm,y_mm,side,turn_deg)", path.display())]
    NoHeading {
        /// The file.
        path: PathBuf,
        /// The nearest to a heading, or 1.
        line: u64,
        /// How many lines were looked at.
        searched: usize,
        /// What the nearest line lacks, in words; may be empty.
        closest: String,
    },
    /// A cell cannot be read.
    #[error("{}: line {line}, column {column} ({heading}): {reason}; {remedy}", path.display())]
    Cell {
        /// The file.
        path: PathBuf,
        /// Line, from 1.
        line: u64,
        /// Cell of the line, from 1.
        column: usize,
        /// Heading of its column.
        heading: String,
        /// What is wrong.
        reason: String,
        /// What to do.
        remedy: String,
    },
    /// The map that comes out is beyond what a board can be.
    #[error(transparent)]
    Map(#[from] MapError),
}

fn ask(questions: &[Question]) -> String {
    let each = questions.iter().map(|question| {
        let choices = question
            .choices
            .iter()
            .map(|(value, meaning)| format!("{}={value} ({meaning})", question.key))
            .collect::<Vec<_>>()
            .join(" or ");
        format!("{} Answer {choices}.", question.text)
    });
    each.collect::<Vec<_>>().join(" ")
}

/// Makes a map from the bytes of a centroid CSV; `name` is used in errors and as the origin.
///
/// Separators `,`, `;` and tab, decimal comma, a byte-order mark, lines before the heading, and
/// units in heading or cells are understood. A unit that is stated nowhere, a number that reads
/// two ways, and the sense of x on the solder side are asked ([`ImportError::Asks`]). Parts get
/// no pins: the file has none.
///
/// # Errors
/// Names line and column; or asks.
pub fn import_centroid(
    bytes: &[u8],
    name: &Path,
    options: &CentroidOptions,
) -> Result<Imported, ImportError> {
    let table = table::read(bytes, name)?;
    build::build(&table, name, options)
}
