//! A folder of files that appears whole or not at all.

use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};

use super::error::{StoreError, io_error};
use super::files::{create_folder, sync_folder};

/// A folder in the making: files go into a temporary folder beside its place, which is renamed once
/// everything is on the disk. A kill before that leaves the temporary one (`.benchglass-*.part`), which may
/// be thrown away, and nothing under the name asked for.
#[derive(Debug)]
pub struct NewFolder {
    making: tempfile::TempDir,
    place: PathBuf,
}

impl NewFolder {
    /// Begins a folder that must not be there yet.
    ///
    /// # Errors
    /// [`StoreError::Io`]; where something stands there already its cause is `AlreadyExists`.
    pub fn begin(place: &Path) -> Result<Self, StoreError> {
        free(place)?;
        let beside = match place.parent() {
            Some(parent) if !parent.as_os_str().is_empty() => parent,
            _ => Path::new("."),
        };
        create_folder(beside)?;
        let making = tempfile::Builder::new()
            .prefix(".benchglass-")
            .suffix(".part")
            .tempdir_in(beside)
            .map_err(io_error(place, "make the folder"))?;
        Ok(Self {
            making,
            place: place.to_owned(),
        })
    }

    /// Writes one file; folders in `name` are made.
    ///
    /// # Errors
    /// [`StoreError::Io`].
    pub fn write(&self, name: &Path, bytes: &[u8]) -> Result<(), StoreError> {
        let path = self.making.path().join(name);
        if let Some(folder) = path.parent() {
            create_folder(folder)?;
        }
        let failed = |error| io_error(&self.place.join(name), "write the file")(error);
        let mut file = fs::File::create_new(&path).map_err(failed)?;
        file.write_all(bytes)
            .and_then(|()| file.sync_all())
            .map_err(failed)
    }

    /// Puts the folder in its place.
    ///
    /// # Errors
    /// As [`Self::begin`].
    pub fn finish(self) -> Result<(), StoreError> {
        free(&self.place)?;
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt as _;
            // Temporary folders are private; this one is to be like any other.
            let mode = fs::Permissions::from_mode(0o755);
            fs::set_permissions(self.making.path(), mode)
                .map_err(io_error(&self.place, "make the folder"))?;
        }
        sync_folder(self.making.path())?;
        fs::rename(self.making.path(), &self.place)
            .map_err(io_error(&self.place, "put the folder in its place"))?;
        // It has moved: there is nothing left to clean up.
        let _moved = self.making.keep();
        match self.place.parent() {
            Some(parent) if !parent.as_os_str().is_empty() => sync_folder(parent),
            _ => sync_folder(Path::new(".")),
        }
    }
}

fn free(place: &Path) -> Result<(), StoreError> {
    match place.symlink_metadata() {
        Ok(_) => Err(io_error(place, "make the folder")(
            std::io::ErrorKind::AlreadyExists.into(),
        )),
        Err(_) => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_appears_at_the_end_and_never_over_something() {
        let base = tempfile::tempdir().unwrap();
        let place = base.path().join("set");
        let folder = NewFolder::begin(&place).unwrap();
        folder.write(Path::new("inner/a.txt"), b"one").unwrap();
        assert!(!place.exists());
        folder.finish().unwrap();
        assert_eq!(fs::read(place.join("inner/a.txt")).unwrap(), b"one");
        assert!(NewFolder::begin(&place).is_err());
        // Given up: nothing stays behind.
        let other = base.path().join("other");
        drop(NewFolder::begin(&other).unwrap());
        assert_eq!(fs::read_dir(base.path()).unwrap().count(), 1);
        // Something came in between.
        let late = NewFolder::begin(&other).unwrap();
        fs::write(&other, b"mine").unwrap();
        assert!(late.finish().is_err());
        assert_eq!(fs::read(&other).unwrap(), b"mine");
    }
}
