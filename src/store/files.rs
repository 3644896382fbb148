//! Writing files so that a kill at any moment leaves the old one or the new one.

use std::fs::{self, File};
use std::io::Write as _;
use std::path::Path;

use sha2::{Digest as _, Sha256};

use super::error::{StoreError, io_error};

/// SHA-256 in lower-case hex.
#[must_use]
pub fn sha256_hex(bytes: &[u8]) -> String {
    use std::fmt::Write as _;
    Sha256::digest(bytes)
        .iter()
        .fold(String::with_capacity(64), |mut hex, byte| {
            // Writing to a String cannot fail.
            let _ = write!(hex, "{byte:02x}");
            hex
        })
}

/// Replaces a file: writes a temporary one beside it, flushes it to the disk and renames it, so
/// that a reader sees the old contents or the new and never a part.
///
/// # Errors
/// [`StoreError::Io`]; the old file is untouched then.
pub fn replace_file(path: &Path, bytes: &[u8]) -> Result<(), StoreError> {
    let temporary = temporary(path, bytes)?;
    temporary
        .persist(path)
        .map_err(|failed| io_error(path, "replace the file")(failed.error))?;
    sync_folder(folder_of(path))
}

/// The same for a file that a person named: what is there and is no ordinary file (a folder, a
/// device) is not replaced, and a link to a file is followed, so that it stays one. Never for names
/// in a job folder, which others may have filled.
///
/// # Errors
/// As [`replace_file`].
pub fn replace_named(path: &Path, bytes: &[u8]) -> Result<(), StoreError> {
    match path.canonicalize() {
        Ok(there) if there.is_file() => replace_file(&there, bytes),
        Ok(_) => {
            let what = std::io::Error::other("it is no ordinary file");
            Err(io_error(path, "replace the file")(what))
        }
        // Not there yet.
        Err(_) => replace_file(path, bytes),
    }
}

/// Writes a file that must not be there yet, in the same way. `Ok(false)` where it was there.
pub(super) fn create_file(path: &Path, bytes: &[u8]) -> Result<bool, StoreError> {
    let temporary = temporary(path, bytes)?;
    match temporary.persist_noclobber(path) {
        Ok(_) => {
            sync_folder(folder_of(path))?;
            Ok(true)
        }
        Err(failed) if failed.error.kind() == std::io::ErrorKind::AlreadyExists => Ok(false),
        Err(failed) => Err(io_error(path, "write the file")(failed.error)),
    }
}

fn temporary(path: &Path, bytes: &[u8]) -> Result<tempfile::NamedTempFile, StoreError> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".benchglass-").suffix(".part");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        // As any other new file, subject to the umask: a shared folder stays shared.
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    let mut file = builder
        .tempfile_in(folder_of(path))
        .map_err(io_error(path, "write the file"))?;
    file.write_all(bytes)
        .and_then(|()| file.as_file().sync_all())
        .map_err(io_error(path, "write the file"))?;
    Ok(file)
}

/// Makes a new name in a folder last. Only Unix has a way to ask for it.
pub(super) fn sync_folder(folder: &Path) -> Result<(), StoreError> {
    if cfg!(unix) {
        File::open(folder)
            .and_then(|folder| folder.sync_all())
            .map_err(io_error(folder, "flush the folder"))?;
    }
    Ok(())
}

pub(super) fn create_folder(path: &Path) -> Result<(), StoreError> {
    fs::create_dir_all(path).map_err(io_error(path, "make the folder"))
}

fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    }
}
