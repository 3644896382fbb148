//! Outputs: the job folder — journal files, locks, originals. The format is described in
//! `docs/journal.md`.

mod error;
mod files;
mod folder;
mod home;
mod job;
mod journal;
mod library;
mod names;
mod read;
#[cfg(test)]
mod tests;
mod verify;
mod watch;
mod writer;

pub use error::StoreError;
pub use files::{replace_file, replace_named, sha256_hex};
pub use folder::NewFolder;
pub use home::{HOME_VARIABLE, Home, Wait};
pub use job::{FORMAT, Job, StoredPhoto};
pub use journal::{Journal, Notice, Opened, Pending};
pub use library::{Kept, Library, Revision, same_board, same_model};
pub use names::sanitised;
pub use read::{Problem, ProblemKind, Readout};
pub use verify::{verify, verify_with};
pub use watch::JobStamp;
