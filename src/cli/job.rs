//! Commands on the job as a whole: begin, add photos, verify, reopen, close, undo, history.

use std::path::Path;

use serde::Serialize;

use crate::record::{EventId, PhotoFacts, Unit, View, describe};
use crate::store::{Library, Revision};
use crate::work::{Action, Session, WorkError, add_photos, begin_with_library, verify_job};

use super::args::{AddArgs, CloseArgs, ReopenArgs, StartArgs, UndoArgs};
use super::exit::Ending;
use super::{Context, mark, out};

#[derive(Serialize)]
struct Started<'a> {
    schema: u32,
    job: String,
    unit: &'a str,
    model: &'a str,
    boards: Vec<&'a str>,
    from_library: Vec<Revision>,
}

pub(super) fn start(context: &Context, args: StartArgs) -> Result<Ending, WorkError> {
    let unit = Unit {
        code: args.unit,
        model: args.model,
        complaint: args.complaint,
    };
    let (session, from_library) = if args.maps.is_empty() && !args.without_map {
        begin_with_library(&Library::find()?, &args.job, unit.clone(), &context.by)?
    } else {
        let session = Session::begin(&args.job, unit.clone(), &args.maps, &context.by)?;
        (session, Vec::new())
    };
    let boards: Vec<&str> = session.maps().iter().map(|m| m.board.as_str()).collect();
    if context.json {
        out::json(&Started {
            schema: 1,
            job: args.job.display().to_string(),
            unit: &unit.code,
            model: &unit.model,
            boards,
            from_library,
        });
        return Ok(Ending::Done);
    }
    out::entry(&format!(
        "Job for {} begun in {}",
        unit.code,
        args.job.display()
    ));
    if boards.is_empty() {
        out::line("  No board map yet: photos can be added and places on them marked.");
    } else {
        out::entry(&format!("  Boards: {}", boards.join(", ")));
        for revision in &from_library {
            out::entry(&format!(
                "  The map of {} is the library's newest, kept by {} on {} ({})",
                revision.board,
                revision.by,
                revision.at.get(..10).unwrap_or(&revision.at),
                revision.sha256.get(..8).unwrap_or(&revision.sha256)
            ));
        }
    }
    for warning in session.warnings() {
        out::entry(&format!("  Mind: {warning}"));
    }
    out::entry(&format!(
        "  Next: benchglass add {} PHOTOS",
        args.job.display()
    ));
    Ok(Ending::Done)
}

#[derive(Serialize)]
struct Refused {
    file: String,
    reason: String,
    remedy: String,
}

#[derive(Serialize)]
struct Added {
    schema: u32,
    added: Vec<PhotoFacts>,
    duplicates: Vec<String>,
    refused: Vec<Refused>,
    passed_over: Vec<Refused>,
}

pub(super) fn add(context: &Context, args: &AddArgs) -> Result<Ending, WorkError> {
    let mut session = context.open(&args.job)?;
    let view = match (&args.board, args.side) {
        (Some(board), Some(side)) => Some(View {
            board: session.known_board(board)?,
            side: side.into(),
        }),
        (None, None) => None,
        _ => {
            return Err(WorkError::BadInput {
                reason: "a board without a side, or a side without a board".to_owned(),
                remedy: "say both: --board main --side solder".to_owned(),
            });
        }
    };
    let report = out::with_progress("reading photos", |progress| {
        add_photos(&mut session, &args.paths, view.as_ref(), progress)
    })?;
    let refused = |items: &[(std::path::PathBuf, String, String)]| {
        items
            .iter()
            .map(|(path, reason, remedy)| Refused {
                file: path.display().to_string(),
                reason: reason.clone(),
                remedy: remedy.clone(),
            })
            .collect::<Vec<_>>()
    };
    let ending = if report.refused.is_empty() {
        Ending::Done
    } else {
        Ending::BadInput
    };
    if context.json {
        out::json(&Added {
            schema: 1,
            refused: refused(&report.refused),
            passed_over: refused(&report.passed_over),
            duplicates: report
                .duplicates
                .iter()
                .map(|p| p.display().to_string())
                .collect(),
            added: report.added,
        });
        return Ok(ending);
    }
    for photo in &report.added {
        out::entry(&format!(
            "added {}  {} x {} px{}",
            photo.name,
            photo.size[0],
            photo.size[1],
            photo
                .taken
                .as_deref()
                .map(|t| format!(", taken {t}"))
                .unwrap_or_default()
        ));
    }
    for path in &report.duplicates {
        out::entry(&format!("already here: {}", path.display()));
    }
    for (_, reason, _) in &report.passed_over {
        out::remark(&format!("passed over {reason}"));
    }
    for (_, reason, remedy) in &report.refused {
        out::complain(reason, remedy);
    }
    out::line(&format!(
        "{} added, {} already here, {} refused",
        report.added.len(),
        report.duplicates.len(),
        report.refused.len()
    ));
    Ok(ending)
}

#[derive(Serialize)]
struct Verified<'a> {
    schema: u32,
    whole: bool,
    checked: &'a [String],
    problems: &'a [String],
    remarks: &'a [String],
}

pub(super) fn verify(context: &Context, job: &Path) -> Result<Ending, WorkError> {
    let proof = out::with_progress("reading the job", |progress| verify_job(job, progress))?;
    let whole = proof.problems.is_empty();
    if context.json {
        out::json(&Verified {
            schema: 1,
            whole,
            checked: &proof.checked,
            problems: &proof.problems,
            remarks: &proof.remarks,
        });
    } else {
        for line in &proof.checked {
            out::entry(&format!("  {line}"));
        }
        for line in &proof.remarks {
            out::entry(&format!("  Mind: {line}"));
        }
        for line in &proof.problems {
            out::entry(&format!("  BROKEN: {line}"));
        }
        let arriving = proof.arriving;
        out::line(if whole && arriving {
            "The job is whole but for what has not arrived: until then the gate stays shut."
        } else if whole {
            "The job is whole."
        } else {
            "The job is not whole."
        });
    }
    Ok(if whole {
        Ending::Done
    } else {
        Ending::NotPassed
    })
}

fn record(context: &Context, job: &Path, action: Action) -> Result<Ending, WorkError> {
    let mut session = context.open(job)?;
    mark::record(context, &mut session, action)
}

pub(super) fn reopen(context: &Context, args: ReopenArgs) -> Result<Ending, WorkError> {
    let action = match (args.board, args.part) {
        (Some(board), Some(part)) => Action::Reseat {
            board,
            part,
            note: args.reason,
        },
        (board, _) => Action::Reopen {
            board,
            reason: args.reason,
        },
    };
    record(context, &args.job, action)
}

pub(super) fn close(context: &Context, args: CloseArgs) -> Result<Ending, WorkError> {
    record(context, &args.job, Action::CloseUp { note: args.note })
}

pub(super) fn undo(context: &Context, args: &UndoArgs) -> Result<Ending, WorkError> {
    let mut session = context.open(&args.job)?;
    let target = session.undoable();
    check_own(context, &session, target, args.yes)?;
    mark::record(context, &mut session, Action::Undo)
}

pub(super) fn redo(context: &Context, args: &UndoArgs) -> Result<Ending, WorkError> {
    let mut session = context.open(&args.job)?;
    let target = session.redoable();
    check_own(context, &session, target, args.yes)?;
    mark::record(context, &mut session, Action::Redo)
}

/// What another person recorded at this bench is not taken back by accident.
fn check_own(
    context: &Context,
    session: &Session,
    target: Option<EventId>,
    yes: bool,
) -> Result<(), WorkError> {
    let Some(logged) = target.and_then(|id| session.state().event(id)) else {
        return Ok(());
    };
    if yes || logged.event.by == context.by {
        return Ok(());
    }
    let words = describe(&logged.event.what, session.maps(), session.state());
    Err(WorkError::Refused {
        reason: format!(
            "the last thing recorded at this bench is not yours: {} wrote it on {}: {words}",
            logged.event.by, logged.event.at
        ),
        remedy:
            "say --yes if it is to be taken back all the same, or record a judgement of your own"
                .to_owned(),
    })
}

#[derive(Serialize)]
struct History {
    schema: u32,
    events: Vec<Told>,
}

#[derive(Serialize)]
struct Told {
    event: String,
    at: String,
    by: String,
    words: String,
    counts: bool,
}

pub(super) fn history(context: &Context, job: &Path) -> Result<Ending, WorkError> {
    let session = Session::read(job)?;
    let events: Vec<Told> = session
        .history()
        .into_iter()
        .map(|told| Told {
            event: told.event.to_string(),
            at: told.at,
            by: told.by,
            words: told.text,
            counts: told.counts,
        })
        .collect();
    if context.json {
        out::json(&History { schema: 1, events });
        return Ok(Ending::Done);
    }
    for told in events {
        let mark = if told.counts { ' ' } else { '-' };
        out::entry(&format!("{mark} {}  {}: {}", told.at, told.by, told.words));
    }
    Ok(Ending::Done)
}
