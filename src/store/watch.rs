//! What the files of a job look like from outside, so that an open window can tell whether
//! another bench has written without opening any of them.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

use super::error::{StoreError, io_error};
use super::job::Job;

/// Length and time of the last change of one file; `None` where there is no such file.
type Outside = Option<(u64, Option<SystemTime>)>;

/// The journal files of a job and what else is awaited, from outside. Two stamps that are equal
/// say that nothing was written in between. A file that was swapped for one of the same length
/// within one tick of the system's clock goes unnoticed until it changes again.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct JobStamp {
    files: BTreeMap<PathBuf, Outside>,
}

impl JobStamp {
    /// The same without one file: that of the bench that asks, which nobody else writes.
    #[must_use]
    pub fn but_for(mut self, own: Option<&Path>) -> Self {
        if let Some(own) = own {
            self.files.remove(own);
        }
        self
    }
}

impl Job {
    /// What the journal files look like now, and these other files, which may not have arrived
    /// yet. One look at the folder; no file is opened.
    ///
    /// # Errors
    /// [`StoreError::Io`] where the journal's folder cannot be looked at, or is gone.
    pub fn stamp(&self, awaited: &[PathBuf]) -> Result<JobStamp, StoreError> {
        let folder = self.journal_folder();
        let mut files = BTreeMap::new();
        let entries =
            fs::read_dir(&folder).map_err(io_error(&folder, "read the journal folder"))?;
        for entry in entries {
            let path = entry
                .map_err(io_error(&folder, "read the journal folder"))?
                .path();
            // The names that are read as journals: see `journal_files`.
            if path.extension().is_some_and(|ending| ending == "jsonl") {
                let outside = outside(&path);
                files.insert(path, outside);
            }
        }
        for path in awaited {
            files.insert(path.clone(), outside(path));
        }
        Ok(JobStamp { files })
    }
}

fn outside(path: &Path) -> Outside {
    // What cannot be looked at now is told by the reading that follows its next change.
    let facts = fs::metadata(path).ok()?;
    Some((facts.len(), facts.modified().ok()))
}
