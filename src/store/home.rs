//! What a bench remembers on its own machine: who it is, what it wrote last, and the locks.
//! Never in the job folder, which may be synced.

use std::fs::{self, File, OpenOptions, TryLockError};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::record::BenchId;

use super::error::{StoreError, io_error};
use super::files::{create_file, create_folder};

/// Environment variable that names another folder for user data.
pub const HOME_VARIABLE: &str = "BENCHGLASS_HOME";

/// How long a command waits for another to finish writing: long enough for a script that runs
/// commands one after the other, short enough that nobody thinks it hangs.
const BRIEFLY: Duration = Duration::from_secs(2);
/// Pause between two attempts at the lock.
const BETWEEN_ATTEMPTS: Duration = Duration::from_millis(25);

/// The folder for user data of this machine.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Home {
    folder: PathBuf,
}

/// What this bench wrote last in one job.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct Written {
    /// The bench under which this machine writes in this job.
    pub(super) bench: BenchId,
    /// SHA-256 of the line that ends the file, and of those that may end it if the machine
    /// stopped while they were being written. Empty where nothing was written yet.
    pub(super) ends: Vec<String>,
    /// The journal's folder: copies of a job have the same identity and are not written here.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) journal: Option<PathBuf>,
}

impl Written {
    pub(super) fn new(bench: BenchId, ends: Vec<String>, file: &Path) -> Self {
        let journal = file
            .parent()
            .and_then(|folder| std::path::absolute(folder).ok())
            // A name that is no Unicode cannot be kept; then nobody can tell a copy.
            .filter(|folder| folder.to_str().is_some());
        Self {
            bench,
            ends,
            journal,
        }
    }
}

/// How long to wait where another window or command writes to the job.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wait {
    /// Not at all: the window opens read-only instead.
    No,
    /// Two seconds: a command waits for the one before it.
    Briefly,
}

/// The right to write to a job, held until it is dropped.
#[derive(Debug)]
pub(super) struct Lock {
    _file: File,
}

impl Home {
    /// The folder that [`HOME_VARIABLE`] names, else the system's folder for local user data.
    ///
    /// # Errors
    /// [`StoreError::NoUserData`] where the system names none.
    pub fn find() -> Result<Self, StoreError> {
        if let Some(folder) = std::env::var_os(HOME_VARIABLE).filter(|value| !value.is_empty()) {
            return Ok(Self::at(folder));
        }
        directories::ProjectDirs::from("", "", "benchglass")
            .map(|folders| Self::at(folders.data_local_dir()))
            .ok_or(StoreError::NoUserData)
    }

    /// A folder of one's own choice; made when it is needed.
    #[must_use]
    pub fn at(folder: impl Into<PathBuf>) -> Self {
        Self {
            folder: folder.into(),
        }
    }

    /// The folder.
    #[must_use]
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Identity of this bench: made at random the first time and kept.
    ///
    /// # Errors
    /// [`StoreError`] where the folder cannot be written.
    pub fn bench(&self) -> Result<BenchId, StoreError> {
        let path = self.folder.join("bench.json");
        if let Some(bench) = read_json(&path)? {
            return Ok(bench);
        }
        create_folder(&self.folder)?;
        let bench = Uuid::now_v7();
        let json = format!("\"{bench}\"\n");
        if create_file(&path, json.as_bytes())? {
            return Ok(bench);
        }
        // Another window was first, or the file is damaged: then a new identity replaces it.
        match read_json(&path)? {
            Some(bench) => Ok(bench),
            None => super::files::replace_file(&path, json.as_bytes()).map(|()| bench),
        }
    }

    /// What this bench wrote last in a job; `None` where it wrote nothing or nobody can tell.
    pub(super) fn written(&self, job: Uuid) -> Result<Option<Written>, StoreError> {
        read_json(&self.written_path(job))
    }

    /// Remembers what the journal may end with. Renamed into place and not flushed: a kill
    /// leaves it whole, and after a power cut an older one only makes this bench start a new
    /// file, which loses nothing.
    pub(super) fn remember(&self, job: Uuid, written: &Written) -> Result<(), StoreError> {
        let path = self.written_path(job);
        let folder = self.folder.join("jobs");
        create_folder(&folder)?;
        let json = serde_json::to_vec(written).map_err(|error| StoreError::Io {
            path: path.clone(),
            action: "remember what was written",
            source: error.into(),
        })?;
        let action = "remember what was written";
        let temporary =
            tempfile::NamedTempFile::new_in(&folder).map_err(io_error(&path, action))?;
        fs::write(temporary.path(), json).map_err(io_error(&path, action))?;
        temporary
            .persist(&path)
            .map_err(|failed| io_error(&path, action)(failed.error))?;
        Ok(())
    }

    fn written_path(&self, job: Uuid) -> PathBuf {
        self.folder.join("jobs").join(format!("{job}.json"))
    }

    /// Takes the right to write to a job on this machine.
    pub(super) fn lock(&self, job: Uuid, folder: &Path, wait: Wait) -> Result<Lock, StoreError> {
        let locks = self.folder.join("locks");
        create_folder(&locks)?;
        let path = locks.join(format!("{job}.lock"));
        let file = OpenOptions::new()
            .create(true)
            .truncate(false)
            .write(true)
            .open(&path)
            .map_err(io_error(&path, "open the lock"))?;
        let started = Instant::now();
        loop {
            match file.try_lock() {
                Ok(()) => return Ok(Lock { _file: file }),
                Err(TryLockError::WouldBlock) => {
                    if wait == Wait::No || started.elapsed() >= BRIEFLY {
                        return Err(StoreError::Busy {
                            path: folder.to_owned(),
                        });
                    }
                    std::thread::sleep(BETWEEN_ATTEMPTS);
                }
                Err(TryLockError::Error(source)) => {
                    return Err(io_error(&path, "take the lock")(source));
                }
            }
        }
    }
}

/// Reads a small JSON file of our own; `None` where it is not there or cannot be understood.
fn read_json<T: serde::de::DeserializeOwned>(path: &Path) -> Result<Option<T>, StoreError> {
    match fs::read(path) {
        Ok(bytes) => Ok(serde_json::from_slice(&bytes).ok()),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(None),
        Err(error) => Err(io_error(path, "read the file")(error)),
    }
}
