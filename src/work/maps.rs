//! Board maps from and to published formats.

use std::path::Path;

use crate::board::{BoardMap, CentroidOptions, Imported, export_centroid, import_centroid};
use crate::store::replace_file;

use super::error::WorkError;

/// Reads a centroid CSV file as a map. What the file leaves open is asked, never guessed.
///
/// # Errors
/// Where the file cannot be read or understood, or leaves something open.
pub fn import_map(file: &Path, options: &CentroidOptions) -> Result<Imported, WorkError> {
    let bytes = std::fs::read(file).map_err(|source| WorkError::File {
        path: file.to_path_buf(),
        source,
    })?;
    Ok(import_centroid(&bytes, file, options)?)
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
