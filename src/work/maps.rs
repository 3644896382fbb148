//! Board maps from and to published formats.

use std::fs::File;
use std::io::Read as _;
use std::path::{Path, PathBuf};

use crate::board::{
    BoardMap, Finding, ImportOptions, Imported, MapFormat, export_centroid, format_of,
    import_map_files, lint,
};
use crate::store::replace_file;

use super::error::WorkError;

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

/// Makes one map from the files of one board: centroid CSV, IPC-D-356, or one or several Gerber
/// files with X2/X3 attributes, told apart by their contents. What the files leave open is
/// asked, never guessed.
///
/// # Errors
/// Where a file cannot be read or understood, or leaves something open
/// ([`WorkError::Import`] with [`ImportError::Asks`](crate::board::ImportError::Asks)).
pub fn import_maps(files: &[PathBuf], options: &ImportOptions) -> Result<ImportedMap, WorkError> {
    let sources = files
        .iter()
        .map(|file| Ok((file.clone(), read_limited(file, MAX_BYTES)?)))
        .collect::<Result<Vec<_>, WorkError>>()?;
    let imported = import_map_files(&sources, options)?;
    let findings = lint(&imported.map);
    Ok(ImportedMap { imported, findings })
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
    Ok(replace_file(target, table.as_bytes())?)
}
