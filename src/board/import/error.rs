//! Why a file was not imported. Each message names the file, and the place where there is one.

use std::path::PathBuf;

use super::options::Question;
use crate::board::file::MapError;

/// Why a file was not imported. Each names the file, and the place where there is one.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ImportError {
    /// The file leaves open what it means: answer and import again.
    #[error("{}: {}", path.display(), ask(questions))]
    Asks {
        /// The file.
        path: PathBuf,
        /// All questions at once.
        questions: Vec<Question>,
    },
    /// Larger than any such file.
    #[error("{}: larger than {limit} bytes, which no such file needs; is it the right file?", path.display())]
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
    /// A place of the file cannot be read.
    #[error("{}: line {line}, column {column}: {reason}; {remedy}", path.display())]
    At {
        /// The file.
        path: PathBuf,
        /// Line, from 1.
        line: usize,
        /// Column in bytes, from 1.
        column: usize,
        /// What is wrong.
        reason: String,
        /// What to do.
        remedy: String,
    },
    /// The file as a whole cannot be used.
    #[error("{}: {reason}; {remedy}", path.display())]
    Unfit {
        /// The file.
        path: PathBuf,
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

/// Longest piece of a file that a message repeats, characters.
const MAX_QUOTED: usize = 40;

/// A piece of a file as it may stand in a message: short, and without control characters.
pub(in crate::board) fn quoted(text: &str) -> String {
    let plain = text.chars().map(|c| if c.is_control() { ' ' } else { c });
    let mut short: String = plain.clone().take(MAX_QUOTED).collect();
    if plain.count() > MAX_QUOTED {
        short.push('…');
    }
    short
}
