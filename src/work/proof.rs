//! Proving that a job is whole.

use std::path::Path;

use crate::progress::Progress;
use crate::store::{Home, Job, Problem, ProblemKind, verify_with};

use super::error::WorkError;
use super::session::Session;

/// What was found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Proof {
    /// What was looked at, in words.
    pub checked: Vec<String>,
    /// What is not as it was recorded.
    pub problems: Vec<String>,
    /// What a person should know and is no fault.
    pub remarks: Vec<String>,
    /// Whether a line of a journal has not arrived whole, which holds the gate.
    pub arriving: bool,
}

/// Looks at every line, photo and map of a job.
///
/// # Errors
/// Where it is no job or cannot be read at all.
pub fn verify_job(dir: &Path, progress: &Progress) -> Result<Proof, WorkError> {
    let job = Job::open(dir)?;
    let session = Session::read(dir)?;
    progress.check()?;
    let (remarks, problems): (Vec<Problem>, Vec<Problem>) =
        verify_with(&job, Home::find().ok().as_ref())?
            .into_iter()
            .partition(|problem| problem.kind.is_note());
    let state = session.state();
    let maps: usize = state
        .maps
        .values()
        .map(|adoption| adoption.current.len())
        .sum();
    let words = |problems: Vec<Problem>| problems.iter().map(ToString::to_string).collect();
    Ok(Proof {
        checked: vec![
            format!(
                "{}, each chained to the one before",
                counted(
                    state.log.len(),
                    "entry of the journal",
                    "entries of the journal"
                )
            ),
            format!(
                "{} against the hash of the original",
                counted(state.photos.len(), "photo", "photos")
            ),
            format!(
                "{} against the hash of its adoption",
                counted(maps, "board map", "board maps")
            ),
        ],
        arriving: (remarks.iter()).any(|problem| problem.kind == ProblemKind::TornTail),
        problems: words(problems),
        remarks: words(remarks),
    })
}

fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}
