//! What can go wrong before a joint is even looked at.

use thiserror::Error;

use crate::progress::Cancelled;

/// Errors of the joint room. A joint that cannot be read is *not* one of them: it gets *no reading*.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum JointError {
    /// The list is not CSV, or not UTF-8.
    #[error(
        "{file}, line {line}: not readable as CSV ({cause}); save the list as comma-separated UTF-8 text"
    )]
    NotCsv {
        /// Name of the list.
        file: String,
        /// Line of the list, from 1.
        line: u64,
        /// What the CSV reader said.
        cause: String,
    },
    /// A column is missing from the header line.
    #[error(
        "{file}, line 1: no column `{column}`; the header must name id,x_px,y_px,land_radius_px and may name pin_radius_px"
    )]
    MissingColumn {
        /// Name of the list.
        file: String,
        /// The missing column.
        column: &'static str,
    },
    /// A column is missing from the header line of a truth list.
    #[error(
        "{file}, line 1: no column `{column}`; the header of a truth list must name id,cracked (1 cracked, 0 not)"
    )]
    NoTruthColumn {
        /// Name of the list.
        file: String,
        /// The missing column.
        column: &'static str,
    },
    /// A column is named twice in the header line.
    #[error("{file}, line 1: column `{column}` stands there twice; keep one of them")]
    DoubleColumn {
        /// Name of the list.
        file: String,
        /// The column that is named twice.
        column: &'static str,
    },
    /// One value of the list cannot be used.
    #[error("{file}, line {line}, column {column}: {problem}; {remedy}")]
    BadValue {
        /// Name of the list.
        file: String,
        /// Line of the list, from 1.
        line: u64,
        /// Column name.
        column: &'static str,
        /// What is wrong with it.
        problem: String,
        /// What to do.
        remedy: &'static str,
    },
    /// The list has no joints.
    #[error(
        "{file}: no joints in it; give one line per joint under the header id,x_px,y_px,land_radius_px"
    )]
    Empty {
        /// Name of the list.
        file: String,
    },
    /// More joints than one photo can hold.
    #[error("{file}: more than {limit} joints; split the list by photo")]
    TooMany {
        /// Name of the list.
        file: String,
        /// Most joints that are accepted.
        limit: usize,
    },
    /// Too few examples to learn from.
    #[error(
        "{given} joints are too few to look for others like them; give {needed} or more, about eight"
    )]
    FewExamples {
        /// How many there are.
        given: usize,
        /// How many are needed.
        needed: usize,
    },
    /// An example, or a place that is none, that cannot be looked at.
    #[error("{id}: {problem}; give middle and land radius in px of the upright photo")]
    BadExample {
        /// Its name.
        id: String,
        /// Whether it is an example.
        like: bool,
        /// What is wrong with it.
        problem: String,
    },
    /// The user asked for the work to stop.
    #[error("the hint was stopped on request; nothing was written")]
    Cancelled,
}

impl From<Cancelled> for JointError {
    fn from(_: Cancelled) -> Self {
        Self::Cancelled
    }
}
