//! A board map made by a file of edits: the steps of the window's page, scripted.

use std::path::Path;

use crate::board::draft::{Draft, Edit};
use crate::board::{Finding, MAX_FILE_BYTES, MapFile};

use super::error::WorkError;

/// A map made by edits.
#[derive(Debug)]
pub struct MadeMap {
    /// The map.
    pub file: MapFile,
    /// What each edit did, in words.
    pub steps: Vec<String>,
    /// What the linter says.
    pub findings: Vec<Finding>,
}

/// Carries out a JSON list of edits (docs/map-making.md) on a map, or on an empty one.
///
/// # Errors
/// Where a file cannot be read, is no list of edits, or an edit cannot be; the edit is named by
/// its place in the list, from 1.
pub fn make_map(
    edits: &Path,
    from: Option<&Path>,
    model: &str,
    board: &str,
) -> Result<MadeMap, WorkError> {
    let file = |source| WorkError::File {
        path: edits.to_path_buf(),
        source,
    };
    let size = std::fs::metadata(edits).map_err(file)?.len();
    if size > MAX_FILE_BYTES {
        return Err(WorkError::bad(
            format!("{}: {size} bytes are no list of edits", edits.display()),
            "is it the right file?",
        ));
    }
    let text = std::fs::read_to_string(edits).map_err(file)?;
    let list: Vec<Edit> = serde_json::from_str(&text).map_err(|error| {
        WorkError::bad(
            format!("{}: {error}", edits.display()),
            "mend it there; docs/map-making.md shows a list of edits",
        )
    })?;
    let mut draft = match from {
        Some(path) => Draft::of(MapFile::load(path)?.map),
        None => Draft::new(model.trim(), board.trim()),
    };
    let mut steps = Vec::new();
    for (i, edit) in list.iter().enumerate() {
        let made = draft.apply(edit).map_err(|error| {
            let said = error.to_string();
            let (reason, remedy) = said.rsplit_once("; ").unwrap_or((&said, "leave it out"));
            WorkError::bad(
                format!("{}: edit {}: {reason}", edits.display(), i + 1),
                remedy,
            )
        })?;
        steps.push(made.words);
    }
    Ok(MadeMap {
        findings: draft.findings(),
        file: MapFile::of(draft.map().clone()),
        steps,
    })
}
