//! Board maps from and to published formats.

use std::fs::File;
use std::io::Read as _;
use std::path::{Path, PathBuf};

use crate::board::{
    BoardMap, Finding, ImportOptions, Imported, MapFormat, export_centroid, format_of,
    import_map_files, lint, take_identities,
};
use crate::store::replace_named;

use super::error::WorkError;
use super::papers::{check_output, write_text};

/// Most bytes that are read of one file to import; each format has a smaller limit of its own.
const MAX_BYTES: u64 = 64 * 1024 * 1024 + 1;

/// A map made from files, with what the linter says of it.
#[derive(Debug, Clone, PartialEq)]
pub struct ImportedMap {
    /// The map and what the files left open.
    pub imported: Imported,
    /// The linter's findings.
    pub findings: Vec<Finding>,
}

/// Checks what the new map is to be called.
///
/// # Errors
/// Where one of the names is blank.
pub fn check_map_names(model: &str, board: &str) -> Result<(), WorkError> {
    for (what, name, example) in [
        ("model", model, "--model \"Fernhollow FH-12\""),
        ("board", board, "--board main"),
    ] {
        if name.trim().is_empty() {
            return Err(WorkError::bad(
                format!("the {what} of the map has no name"),
                format!("name it, for example {example}"),
            ));
        }
    }
    Ok(())
}

/// Writes a map where nothing stands yet, or the same; with `replace` whatever stands there. A
/// map that somebody went on with is not lost to a repeated command.
///
/// # Errors
/// Where something else stands there, or it cannot be written.
pub fn write_map(target: &Path, text: &str, replace: bool) -> Result<(), WorkError> {
    check_output(target, &[], &["json"])?;
    if !replace && std::fs::read(target).is_ok_and(|there| there != text.as_bytes()) {
        return Err(WorkError::bad(
            format!(
                "{}: there is such a file, and it says something else",
                target.display()
            ),
            "name another file, or say --replace",
        ));
    }
    write_text(target, text)
}

/// Makes one map from the files of one board: centroid CSV, IPC-D-356, or one or several Gerber
/// files with X2/X3 attributes, told apart by their contents. What the files leave open is
/// asked, never guessed.
///
/// # Errors
/// Where a file cannot be read or understood, or leaves something open
/// ([`WorkError::Import`] with [`ImportError::Asks`](crate::board::ImportError::Asks)).
pub fn import_maps(files: &[PathBuf], options: &ImportOptions) -> Result<ImportedMap, WorkError> {
    check_map_names(&options.model, &options.board)?;
    let sources = files
        .iter()
        .map(|file| Ok((file.clone(), read_limited(file, MAX_BYTES)?)))
        .collect::<Result<Vec<_>, WorkError>>()?;
    let imported = import_map_files(&sources, options)?;
    let findings = lint(&imported.map);
    Ok(ImportedMap { imported, findings })
}

/// Gives an imported map the identities that an earlier map of the board has for the same
/// references and pin numbers, so that jobs made with it find their joints again. Returns how
/// many pins have one.
///
/// # Errors
/// Where the earlier map cannot be read.
pub fn keep_identities(made: &mut ImportedMap, earlier: &Path) -> Result<usize, WorkError> {
    let earlier = BoardMap::load(earlier)?;
    let kept = take_identities(&mut made.imported.map, &earlier);
    made.findings = lint(&made.imported.map);
    Ok(kept)
}

/// Whether a file, dropped somewhere, is one that a map can be made from; by its contents.
///
/// # Errors
/// Where it cannot be read, or is something else (said by name).
pub fn map_format_of(file: &Path) -> Result<MapFormat, WorkError> {
    const HEAD: u64 = 64 * 1024;
    let head = read_limited(file, HEAD)?;
    Ok(format_of(&head, file, &ImportOptions::default())?)
}

fn read_limited(file: &Path, most: u64) -> Result<Vec<u8>, WorkError> {
    let failed = |source| WorkError::File {
        path: file.to_path_buf(),
        source,
    };
    let mut bytes = Vec::new();
    File::open(file)
        .map_err(failed)?
        .take(most)
        .read_to_end(&mut bytes)
        .map_err(failed)?;
    Ok(bytes)
}

/// Writes a map's parts as centroid CSV under our own column names.
///
/// # Errors
/// Where the file cannot be written.
pub fn export_map(map: &BoardMap, target: &Path) -> Result<(), WorkError> {
    let table = export_centroid(map).map_err(|error| {
        WorkError::bad(
            format!(
                "{}: the parts could not be written as CSV: {error}",
                target.display()
            ),
            "check the map: benchglass map check",
        )
    })?;
    Ok(replace_named(target, table.as_bytes())?)
}
