//! Whether a job is still what was recorded: the chain of every journal file, the hash of every
//! photo and map.

use std::path::Path;

use crate::record::{Envelope, Event, Flag};

use super::error::{StoreError, io_error};
use super::files::sha256_hex;
use super::home::Home;
use super::job::Job;
use super::read::{Lines, Problem, ProblemKind, read_journals};

/// Looks at everything in the job and reports each difference from what was recorded. An empty
/// list means that nothing was changed since, as far as the record itself can tell: the files
/// are chained and hashed, not signed.
///
/// # Errors
/// [`StoreError::Io`] where a journal file cannot be read at all.
pub fn verify(job: &Job) -> Result<Vec<Problem>, StoreError> {
    verify_with(job, None)
}

/// The same, and whether the file that this bench wrote last ends as it left it: what was changed
/// or taken away at the very end of a file shows in no chain.
///
/// # Errors
/// As [`verify`].
pub fn verify_with(job: &Job, home: Option<&Home>) -> Result<Vec<Problem>, StoreError> {
    let mut problems = Vec::new();
    if let Some(home) = home {
        ends(job, home, &mut problems)?;
    }
    let readout = read_journals(&job.journal_folder())?;
    problems.extend(readout.problems);
    let events = readout.events;
    for event in &events {
        match &event.what {
            Event::PhotoAdded(facts) => match job.photo_path(facts) {
                Ok(path) => file(&path, &facts.photo, "photo", &mut problems),
                Err(error) => bad_name(job, &error, &mut problems),
            },
            Event::MapAdopted { sha256, .. } => match job.map_path(sha256) {
                Ok(path) => file(&path, sha256, "board map", &mut problems),
                Err(error) => bad_name(job, &error, &mut problems),
            },
            _ => {}
        }
    }
    flags(job, events, &mut problems);
    problems.dedup();
    Ok(problems)
}

/// What this bench wrote last stands at the end of its file.
fn ends(job: &Job, home: &Home, problems: &mut Vec<Problem>) -> Result<(), StoreError> {
    // Twice, as another window may write a line between the two readings.
    let mut foreign = None;
    for _ in 0..2 {
        let Some(written) = home.written(job.id())? else {
            return Ok(());
        };
        let real = |folder: &Path| folder.canonicalize().ok();
        let here = job.journal_folder();
        if written.journal.as_deref().and_then(real) != real(&here) {
            // A copy of the job that this bench did not write in.
            return Ok(());
        }
        let path = here.join(format!("{}.jsonl", written.bench));
        if path.is_dir() {
            return Ok(());
        }
        let end = if path.exists() {
            let lines = Lines::read(&path)?;
            lines.whole().last().map(sha256_hex).unwrap_or_default()
        } else {
            String::new()
        };
        if written.ends.is_empty() || written.ends.contains(&end) {
            return Ok(());
        }
        foreign = Some(path);
    }
    if let Some(path) = foreign {
        problems.push(Problem {
            path,
            line: None,
            kind: ProblemKind::BrokenChain,
            text: "it does not end with what this bench wrote last: lines at the end were changed, taken away or added elsewhere. Compare with a copy of the file.".to_owned(),
        });
    }
    Ok(())
}

fn file(path: &Path, sha256: &str, what: &str, problems: &mut Vec<Problem>) {
    let problem = match std::fs::read(path) {
        Ok(bytes) if sha256_hex(&bytes) == sha256 => return,
        Ok(_) => Problem {
            path: path.to_owned(),
            line: None,
            kind: ProblemKind::Altered,
            text: format!(
                "the {what} was changed since it was recorded. Bring it back from a copy."
            ),
        },
        Err(source) => Problem {
            path: path.to_owned(),
            line: None,
            kind: ProblemKind::Missing,
            text: format!("{}", io_error(path, "read it")(source)),
        },
    };
    if !problems.contains(&problem) {
        problems.push(problem);
    }
}

fn bad_name(job: &Job, error: &StoreError, problems: &mut Vec<Problem>) {
    problems.push(Problem {
        path: job.folder().to_owned(),
        line: None,
        kind: ProblemKind::BadName,
        text: error.to_string(),
    });
}

/// What the fold noticed about the record itself.
fn flags(job: &Job, events: Vec<Envelope>, problems: &mut Vec<Problem>) {
    let now_ms = jiff::Timestamp::now().as_millisecond().try_into().ok();
    let state = crate::record::fold_at(events, now_ms);
    let mut report = |kind, text| {
        problems.push(Problem {
            path: job.journal_folder(),
            line: None,
            kind,
            text,
        });
    };
    for flag in &state.flags {
        match flag {
            Flag::Clash { event } => report(
                ProblemKind::Clash,
                format!("two different entries carry the identity {event}: a file was altered."),
            ),
            Flag::FutureClock { event, days } => report(
                ProblemKind::FutureClock,
                format!(
                    "the clock of entry {event} runs {days} days ahead. Set that bench's date."
                ),
            ),
        }
    }
    for event in &state.unknown {
        report(
            ProblemKind::NewerEvent,
            format!("entry {event} is of a newer version and is kept as it is."),
        );
    }
}
