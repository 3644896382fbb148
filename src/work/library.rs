//! The map library at work: keeping a map, beginning a job with the newest one, and offering a
//! newer one to a job that is open.

use std::path::{Path, PathBuf};

use serde::Serialize;

use crate::board::{BoardMap, FindingSeverity, MapChange, MapFile, lint, map_diff};
use crate::record::Unit;
use crate::store::{Kept, Library, Revision};

use super::error::WorkError;
use super::session::Session;

/// Keeps a map file as the newest revision of its model and board.
///
/// # Errors
/// Where the map cannot be read or has errors, or the library cannot be written.
pub fn keep_map(library: &Library, path: &Path, by: &str, note: &str) -> Result<Kept, WorkError> {
    let file = MapFile::load(path)?;
    let errors = lint(&file.map)
        .into_iter()
        .filter(|finding| finding.severity == FindingSeverity::Error)
        .count();
    if errors > 0 {
        return Err(WorkError::bad(
            format!(
                "{}: the linter finds {errors} error{}: no job could use it",
                path.display(),
                if errors == 1 { "" } else { "s" }
            ),
            format!("see them: benchglass map check {}", path.display()),
        ));
    }
    Ok(library.keep(&file, by, note)?)
}

/// Begins a job with the library's newest map of every board of the model; returns the job and
/// the revisions that it began with (none where the library has no map of the model).
///
/// # Errors
/// As [`Session::begin`], and where the library cannot be read.
pub fn begin_with_library(
    library: &Library,
    dir: &Path,
    unit: Unit,
    by: &str,
) -> Result<(Session, Vec<Revision>), WorkError> {
    let revisions = library.of_model(&unit.model)?;
    let paths = revisions
        .iter()
        .map(|revision| checked_path(library, revision))
        .collect::<Result<Vec<_>, _>>()?;
    let session = Session::begin(dir, unit, &paths, by)?;
    Ok((session, revisions))
}

/// Where a revision's map is, once its bytes were found to be those that were kept.
fn checked_path(library: &Library, revision: &Revision) -> Result<PathBuf, WorkError> {
    library.map_bytes(revision)?;
    Ok(library.map_path(revision))
}

/// How a job's map stands to the library.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// It is an earlier revision of the library's map.
    Earlier,
    /// The library never had it: it may be newer or from elsewhere.
    NotInLibrary,
    /// The job has no map of this board yet.
    None,
}

/// A map of the library that a job could change to.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NewerMap {
    /// The board.
    pub board: String,
    /// How the job's map stands to it.
    pub standing: Standing,
    /// The library's newest revision.
    pub revision: Revision,
    /// Its file: adopt it with [`Action::AdoptMap`](super::Action::AdoptMap).
    pub path: PathBuf,
    /// What changes; empty where the job has no map of this board.
    pub changes: Vec<MapChange>,
}

/// Every board of the job's model for which the library's newest map is not the one that the
/// job has pinned, with the difference in words. Empty where all are the same.
///
/// # Errors
/// Where the library cannot be read, or a map in it was altered.
pub fn newer_maps(session: &Session, library: &Library) -> Result<Vec<NewerMap>, WorkError> {
    let Some(unit) = &session.state().unit else {
        return Ok(Vec::new());
    };
    let mut newer = Vec::new();
    for revision in library.of_model(&unit.model)? {
        let adopted = session
            .state()
            .maps
            .iter()
            .find(|(board, _)| board.eq_ignore_ascii_case(&revision.board))
            .and_then(|(_, adoption)| adoption.sha256());
        if adopted == Some(revision.sha256.as_str()) {
            continue;
        }
        let standing = match adopted {
            None => Standing::None,
            Some(sha256) => {
                let known = library.revisions(&revision.model, &revision.board)?;
                if known.iter().any(|earlier| earlier.sha256 == sha256) {
                    Standing::Earlier
                } else {
                    Standing::NotInLibrary
                }
            }
        };
        let path = checked_path(library, &revision)?;
        let current = session
            .maps()
            .iter()
            .find(|map| map.board.eq_ignore_ascii_case(&revision.board));
        let changes = match current {
            Some(map) => map_diff(map, &BoardMap::load(&path)?),
            None => Vec::new(),
        };
        newer.push(NewerMap {
            board: revision.board.clone(),
            standing,
            path,
            changes,
            revision,
        });
    }
    Ok(newer)
}

/// The difference between two map files, in words.
///
/// # Errors
/// Where one cannot be read.
pub fn compare_maps(old: &Path, new: &Path) -> Result<Vec<MapChange>, WorkError> {
    Ok(map_diff(&BoardMap::load(old)?, &BoardMap::load(new)?))
}
