//! Centroid CSV: one line per part with the place of its middle. There is no standard, so
//! headings are matched by the trade's aliases, and whatever the file leaves open is asked.

mod build;
mod export;
mod heading;
mod number;
mod settle;
mod table;
#[cfg(test)]
mod tests;

use std::path::Path;

use super::import::{
    BottomX, DecimalMark, ImportError, ImportOptions, Imported, LengthUnit, Question, QuestionKey,
};

pub use export::export_centroid;

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
    options: &ImportOptions,
) -> Result<Imported, ImportError> {
    let table = table::read(bytes, name)?;
    build::build(&table, name, options)
}
