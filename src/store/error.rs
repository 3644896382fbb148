//! What can go wrong with a job folder, with the path and what to do about it.

use std::io;
use std::path::{Path, PathBuf};

/// Why a job folder could not be read or written. Each message names the path and the remedy.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum StoreError {
    /// The system refused.
    #[error("{path}: cannot {action}: {source}. {}", remedy(.source))]
    Io {
        /// The file or folder.
        path: PathBuf,
        /// What was tried, for example `write the journal`.
        action: &'static str,
        /// What the system said.
        source: io::Error,
    },
    /// The folder holds no `job.json`.
    #[error(
        "{path}: not a job folder, it has no job.json. Name the job's folder, or start a new job there."
    )]
    NotAJob {
        /// The folder.
        path: PathBuf,
    },
    /// A job is there already.
    #[error("{path}: a job is here already. Open it, or start the new one in another folder.")]
    JobExists {
        /// The folder.
        path: PathBuf,
    },
    /// `job.json` is damaged.
    #[error(
        "{path}: cannot be understood: {why}. Bring the file back from a copy of the job folder; the journal beside it is untouched."
    )]
    BadJobFile {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        why: String,
    },
    /// The job was written by a newer version.
    #[error(
        "{path}: the job has format {format} and this version writes format {ours}. It can be read here; to add to it, open it with the newer version."
    )]
    NewerFormat {
        /// `job.json`.
        path: PathBuf,
        /// Format of the job.
        format: u32,
        /// Format that this version writes.
        ours: u32,
    },
    /// Another window or command on this machine writes to the job.
    #[error(
        "{path}: another window or command on this machine is writing to this job. Read it meanwhile, or close the other and try again."
    )]
    Busy {
        /// The job folder.
        path: PathBuf,
    },
    /// There is no folder for user data.
    #[error(
        "no folder for user data was found. Set BENCHGLASS_HOME to a folder that you can write to."
    )]
    NoUserData,
    /// An event would not read back as it was meant.
    #[error("{path}: not written: {why}. Correct the entry and try again; nothing was changed.")]
    NotWritable {
        /// The journal file.
        path: PathBuf,
        /// What is wrong with the event.
        why: String,
    },
    /// The journal file was changed under the writer.
    #[error(
        "{path}: something else changed or removed this journal file. The last entry is not recorded: open the job again and repeat it."
    )]
    Changed {
        /// The journal file.
        path: PathBuf,
    },
    /// An earlier write failed in a way that could not be undone.
    #[error(
        "{path}: an earlier write failed half-way and could not be taken back. Open the job again: the torn line is moved aside then."
    )]
    Stopped {
        /// The journal file.
        path: PathBuf,
    },
    /// The file exists with other contents; originals are never rewritten.
    #[error(
        "{path}: a different file has this name and originals are never rewritten. Verify the job, and bring the altered file back from a copy."
    )]
    NotRewritten {
        /// The file.
        path: PathBuf,
    },
    /// A name that the record gives is not a plain file name.
    #[error("{path}: `{name}` is not a plain file name. The record was altered: verify the job.")]
    BadName {
        /// The folder it should be in.
        path: PathBuf,
        /// The name.
        name: String,
    },
    /// A revision in the map library is damaged: it may be the newest.
    #[error(
        "{path}: this revision of a board map cannot be understood: {why}. Bring the file back from a copy, or move it away"
    )]
    BadRevision {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        why: String,
    },
    /// The map library has maps of a board and nothing that says which is the newest.
    #[error(
        "{path}: here are maps of a board, and no revision says which is the newest. Bring the folder `revisions` back from a copy, or keep the map again (benchglass map keep)"
    )]
    NoRevision {
        /// The board's folder.
        path: PathBuf,
    },
    /// A file does not have the contents that its hash promises.
    #[error(
        "{path}: its contents have changed since it was recorded. Bring the file back from a copy."
    )]
    Altered {
        /// The file.
        path: PathBuf,
    },
}

/// Wraps an I/O error with its path.
pub(super) fn io_error(path: &Path, action: &'static str) -> impl FnOnce(io::Error) -> StoreError {
    move |source| StoreError::Io {
        path: path.to_owned(),
        action,
        source,
    }
}

/// What to do about an error of the system.
fn remedy(error: &io::Error) -> &'static str {
    match error.kind() {
        io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => {
            "The disk is full: make room and try again; what was recorded before is intact."
        }
        io::ErrorKind::ReadOnlyFilesystem => {
            "The disk is read-only: copy the job folder to one that can be written."
        }
        io::ErrorKind::PermissionDenied => {
            "Ask for the right to this folder, or copy the job to one of your own."
        }
        io::ErrorKind::NotFound => "Check the path, and whether the disk or folder is connected.",
        io::ErrorKind::NotADirectory => "A file stands where a folder is needed: check the path.",
        io::ErrorKind::IsADirectory => "A folder stands where a file is needed: check the path.",
        _ => "Check the disk and the path, then try again.",
    }
}
