//! `map keep`, `map list`, `map take`, `map diff`, and adopting from the library.

use std::path::Path;

use serde::Serialize;

use crate::board::{MapChange, MapFile};
use crate::store::{Library, Revision};
use crate::work::{
    Action, NewerMap, Session, Standing, WorkError, compare_maps, keep_map, newer_maps, write_map,
};

use super::exit::Ending;
use super::{Context, mark, out};

#[derive(Serialize)]
struct KeptDocument<'a> {
    schema: u32,
    new: bool,
    revision: &'a Revision,
}

pub(super) fn keep(context: &Context, map: &Path, note: &str) -> Result<Ending, WorkError> {
    let library = Library::find()?;
    let kept = keep_map(&library, map, &context.by, note)?;
    if context.json {
        out::json(&KeptDocument {
            schema: 1,
            new: kept.new,
            revision: &kept.revision,
        });
        return Ok(Ending::Done);
    }
    let Revision { model, board, .. } = &kept.revision;
    out::entry(&if kept.new {
        format!(
            "Kept {board} of {model} as revision {}",
            short(&kept.revision)
        )
    } else {
        format!(
            "{board} of {model} is the newest revision already ({})",
            short(&kept.revision)
        )
    });
    Ok(Ending::Done)
}

/// The first digits of the hash, by which people name a revision.
fn short(revision: &Revision) -> &str {
    revision.sha256.get(..8).unwrap_or(&revision.sha256)
}

#[derive(Serialize)]
struct Listed<'a> {
    schema: u32,
    library: String,
    revisions: &'a [Revision],
}

/// Without a model the newest revision of every board; with one all revisions of its boards.
pub(super) fn list(context: &Context, model: Option<&str>) -> Result<Ending, WorkError> {
    let library = Library::find()?;
    let revisions = match model {
        None => library.all()?,
        Some(model) => {
            let mut all = Vec::new();
            for newest in library.of_model(model)? {
                all.extend(library.revisions(&newest.model, &newest.board)?);
            }
            all
        }
    };
    if context.json {
        out::json(&Listed {
            schema: 1,
            library: library.folder().display().to_string(),
            revisions: &revisions,
        });
        return Ok(Ending::Done);
    }
    if revisions.is_empty() {
        out::line("The map library has nothing of that. Keep a map: benchglass map keep MAP.json");
        return Ok(Ending::Done);
    }
    let heading = [
        "model", "board", "revision", "kept", "by", "parts", "pins", "note",
    ];
    let mut rows = vec![heading.map(str::to_owned).to_vec()];
    rows.extend(revisions.iter().map(|r| {
        vec![
            r.model.clone(),
            r.board.clone(),
            short(r).to_owned(),
            r.at.get(..10).unwrap_or(&r.at).to_owned(),
            r.by.clone(),
            r.parts.to_string(),
            r.pins.to_string(),
            r.note.clone(),
        ]
    }));
    out::line(out::table(&rows).trim_end_matches('\n'));
    Ok(Ending::Done)
}

#[derive(Serialize)]
struct Taken<'a> {
    schema: u32,
    map: String,
    revision: &'a Revision,
}

pub(super) fn take(
    context: &Context,
    model: &str,
    board: Option<&str>,
    wanted: Option<&str>,
    (target, replace): (&Path, bool),
) -> Result<Ending, WorkError> {
    let library = Library::find()?;
    let revision = find(&library, model, board, wanted)?;
    let bytes = library.map_bytes(&revision)?;
    let file = MapFile::from_bytes(bytes, &library.map_path(&revision))?;
    write_map(target, &file.text, replace)?;
    if context.json {
        out::json(&Taken {
            schema: 1,
            map: target.display().to_string(),
            revision: &revision,
        });
    } else {
        out::entry(&format!(
            "{}: {} of {}, revision {}",
            target.display(),
            revision.board,
            revision.model,
            short(&revision)
        ));
    }
    Ok(Ending::Done)
}

/// The revision that is meant: the newest, or the one whose hash begins so.
fn find(
    library: &Library,
    model: &str,
    board: Option<&str>,
    wanted: Option<&str>,
) -> Result<Revision, WorkError> {
    let boards = library.of_model(model)?;
    let fits = |r: &&Revision| board.is_none_or(|board| r.board.eq_ignore_ascii_case(board));
    let fitting: Vec<&Revision> = boards.iter().filter(fits).collect();
    let newest = match fitting.as_slice() {
        [one] => *one,
        [] => {
            return Err(WorkError::BadInput {
                reason: format!("the map library has no such board of {model}"),
                remedy: "see what it has: benchglass map list".to_owned(),
            });
        }
        several => {
            let names: Vec<&str> = several.iter().map(|r| r.board.as_str()).collect();
            return Err(WorkError::BadInput {
                reason: format!("{model} has {} boards", several.len()),
                remedy: format!("say which with --board: {}", names.join(", ")),
            });
        }
    };
    let Some(wanted) = wanted else {
        return Ok(newest.clone());
    };
    let wanted = wanted.to_lowercase();
    library
        .revisions(&newest.model, &newest.board)?
        .into_iter()
        .rev()
        .find(|r| wanted.len() >= 4 && r.sha256.starts_with(&wanted))
        .ok_or_else(|| WorkError::BadInput {
            reason: format!("no revision `{wanted}` of {} of {model}", newest.board),
            remedy: format!("at least four digits of one in: benchglass map list \"{model}\""),
        })
}

#[derive(Serialize)]
struct Differences<'a> {
    schema: u32,
    same: bool,
    changes: &'a [MapChange],
}

pub(super) fn diff(context: &Context, old: &Path, new: &Path) -> Result<Ending, WorkError> {
    let changes = compare_maps(old, new)?;
    if context.json {
        out::json(&Differences {
            schema: 1,
            same: changes.is_empty(),
            changes: &changes,
        });
        return Ok(Ending::Done);
    }
    if changes.is_empty() {
        out::line("The maps say the same.");
    }
    for change in &changes {
        out::entry(&change.to_string());
    }
    Ok(Ending::Done)
}

/// Adopts a map file, the library's newest maps, or says what the library offers.
pub(super) fn adopt(
    context: &Context,
    job: &Path,
    map: Option<&Path>,
    newest: bool,
) -> Result<Ending, WorkError> {
    if let Some(path) = map {
        let mut session = context.open(job)?;
        return mark::record(
            context,
            &mut session,
            Action::AdoptMap {
                path: path.to_path_buf(),
            },
        );
    }
    let library = Library::find()?;
    if !newest {
        let session = Session::read(job)?;
        let offers = newer_maps(&session, &library)?;
        offer(context, job, &offers, None);
        return Ok(Ending::Done);
    }
    let mut session = context.open(job)?;
    let offers = newer_maps(&session, &library)?;
    let mut cautions = Vec::new();
    for newer in &offers {
        let applied = session.apply(Action::AdoptMap {
            path: newer.path.clone(),
        })?;
        let of_board = |words| format!("{}: {words}", newer.board);
        cautions.extend(applied.cautions.into_iter().map(of_board));
    }
    offer(context, job, &offers, Some(&cautions));
    Ok(Ending::Done)
}

#[derive(Serialize)]
struct Offers<'a> {
    schema: u32,
    adopted: bool,
    newer: &'a [NewerMap],
    cautions: &'a [String],
}

/// Most lines of a difference that are shown as text; all are in `--json` and `map diff`.
const MOST_SHOWN: usize = 40;

fn offer(context: &Context, job: &Path, offers: &[NewerMap], adopted: Option<&[String]>) {
    if context.json {
        out::json(&Offers {
            schema: 1,
            adopted: adopted.is_some(),
            newer: offers,
            cautions: adopted.unwrap_or_default(),
        });
        return;
    }
    if offers.is_empty() {
        out::line("The library has no other map for this job.");
        return;
    }
    for newer in offers {
        tell(newer);
    }
    let Some(cautions) = adopted else {
        out::entry(&format!(
            "Nothing was changed. To change: benchglass map adopt {} --newest",
            job.display()
        ));
        return;
    };
    out::line(&format!("{} adopted.", out::many(offers.len(), "map")));
    for caution in cautions {
        out::entry(&format!("  Mind: {caution}"));
    }
}

pub(super) fn tell(newer: &NewerMap) {
    let why = match newer.standing {
        Standing::Earlier => "the job has an earlier revision",
        Standing::NotInLibrary => "the job has a map that the library never had: look closely",
        Standing::None => "the job has none of this board",
    };
    let note = if newer.revision.note.is_empty() {
        String::new()
    } else {
        format!(" ({})", newer.revision.note)
    };
    out::entry(&format!(
        "{}: revision {} by {}{note}; {why}",
        newer.board,
        short(&newer.revision),
        newer.revision.by
    ));
    for change in newer.changes.iter().take(MOST_SHOWN) {
        out::entry(&format!("  {change}"));
    }
    if newer.changes.len() > MOST_SHOWN {
        out::line(&format!(
            "  and {} more: --json has all",
            newer.changes.len() - MOST_SHOWN
        ));
    }
}
