//! IPC-D-356 and IPC-D-356A, the list of lands and nets for testing bare boards: 80-column
//! records. Columns as in `columns`; the rest of the rules here is from memory where not said
//! otherwise.
//!
//! Read are 317 (through-hole), 327 (surface) and 367 (hole without plating) with their
//! continuations 017, 027 and 067, the parameters `UNITS` and `NNAMEn`, and the end 999. Records
//! of conductors (378), adjacency (379) and outlines (389) are counted and left out. What a
//! coordinate of 1 means is asked where `UNITS` is missing or is a code that public readers
//! take in different ways (`CUST 2`); so is a kind of record that is not known.

mod columns;
mod file;
mod lands;
#[cfg(test)]
mod tests;

use std::path::Path;

use super::import::{ImportError, ImportOptions, Imported, MapFormat, assemble};

/// Largest file, bytes: the most pins of a map, with conductors between them.
const MAX_BYTES: usize = 64 * 1024 * 1024;

/// Makes a map from the bytes of an IPC-D-356 file; `name` is used in errors and as the origin.
///
/// Lands of one reference become one part. `VIA`s are left out. Holes without part become
/// landmarks. A1 is the component side, the highest layer number the solder side.
///
/// # Errors
/// Names line and column; or asks.
pub fn import_ipc356(
    bytes: &[u8],
    name: &Path,
    options: &ImportOptions,
) -> Result<Imported, ImportError> {
    if bytes.len() > MAX_BYTES {
        return Err(ImportError::TooLarge {
            path: name.to_path_buf(),
            limit: MAX_BYTES,
        });
    }
    let file = file::read(bytes, name, options)?;
    let sources = lands::sources(file, name, options)?;
    assemble(sources, MapFormat::Ipc356, name, options)
}
