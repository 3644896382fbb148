//! Why a use case ended without doing what was asked, in three classes that the command line
//! turns into exit codes.

use std::path::PathBuf;

use thiserror::Error;

use crate::align::Refusal;
use crate::board::{AddressError, ImportError, MapError};
use crate::joint::JointError;
use crate::paper::PaperError;
use crate::photo::PhotoError;
use crate::progress::Cancelled;
use crate::render::RenderError;
use crate::store::StoreError;

/// The class of a failure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Trouble {
    /// Understood, and refused.
    Refused,
    /// What was given cannot be used.
    BadInput,
    /// A file could not be read or written.
    InputOutput,
}

/// A use case failed. The message says what is wrong; [`WorkError::remedy`] what to do.
#[derive(Debug, Error)]
pub enum WorkError {
    /// From opening a photo.
    #[error(transparent)]
    Photo(#[from] PhotoError),
    /// From a board map.
    #[error(transparent)]
    Map(#[from] MapError),
    /// From importing a map.
    #[error(transparent)]
    Import(#[from] ImportError),
    /// From an address such as `J4.3`.
    #[error(transparent)]
    Address(#[from] AddressError),
    /// From the job folder.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// From the hint.
    #[error(transparent)]
    Joint(#[from] JointError),
    /// From a paper.
    #[error(transparent)]
    Paper(#[from] PaperError),
    /// From the renderer.
    #[error(transparent)]
    Render(#[from] RenderError),
    /// An alignment that cannot be right.
    #[error("{}", .0.reason)]
    Align(Refusal),
    /// Understood, and refused.
    #[error("{reason}")]
    Refused {
        /// Why.
        reason: String,
        /// What to do.
        remedy: String,
    },
    /// What was given cannot be used.
    #[error("{reason}")]
    BadInput {
        /// Why.
        reason: String,
        /// What to do.
        remedy: String,
    },
    /// An original of a job is no longer what came in.
    #[error("{}: the original was altered", path.display())]
    Altered {
        /// Its file.
        path: PathBuf,
    },
    /// A file could not be read or written.
    #[error("{}: {source}", path.display())]
    File {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// The user asked for the work to stop.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

impl From<Refusal> for WorkError {
    fn from(refusal: Refusal) -> Self {
        Self::Align(refusal)
    }
}

impl WorkError {
    pub(crate) fn refused(reason: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self::Refused {
            reason: reason.into(),
            remedy: remedy.into(),
        }
    }

    pub(crate) fn bad(reason: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self::BadInput {
            reason: reason.into(),
            remedy: remedy.into(),
        }
    }

    /// The class of the failure.
    #[must_use]
    pub fn trouble(&self) -> Trouble {
        match self {
            Self::Photo(PhotoError::Unreadable { .. } | PhotoError::Missing { .. })
            | Self::File { .. } => Trouble::InputOutput,
            Self::Store(
                StoreError::NotAJob { .. }
                | StoreError::JobExists { .. }
                | StoreError::BadJobFile { .. },
            ) => Trouble::BadInput,
            Self::Store(StoreError::NewerFormat { .. } | StoreError::Busy { .. }) => {
                Trouble::Refused
            }
            Self::Store(_)
            | Self::Map(MapError::Read { .. })
            | Self::Render(RenderError::Write { .. }) => Trouble::InputOutput,
            Self::Align(_) | Self::Refused { .. } | Self::Altered { .. } | Self::Cancelled(_) => {
                Trouble::Refused
            }
            _ => Trouble::BadInput,
        }
    }

    /// What to do about it. The rooms say it at the end of their messages, behind a semicolon or
    /// as a sentence of its own.
    #[must_use]
    pub fn remedy(&self) -> String {
        match self {
            Self::Align(refusal) => refusal.remedy.clone(),
            Self::Refused { remedy, .. } | Self::BadInput { remedy, .. } => remedy.clone(),
            Self::Altered { .. } => {
                "bring it back from a copy; benchglass verify names every such file".to_owned()
            }
            Self::File { source, .. } => file_remedy(source.kind()).to_owned(),
            Self::Import(ImportError::Asks { questions, .. }) => match questions
                .iter()
                .find_map(|asked| Some((asked.key, asked.choices.first()?.0)))
            {
                Some((key, value)) => {
                    format!("answer each question, for example --answer {key}={value}")
                }
                None => "answer each question".to_owned(),
            },
            Self::Cancelled(_) => "run it again when there is time".to_owned(),
            other => remedy_of(&other.to_string()),
        }
    }
}

fn file_remedy(kind: std::io::ErrorKind) -> &'static str {
    use std::io::ErrorKind;
    match kind {
        ErrorKind::NotFound => "there is nothing of that name: check the spelling and the folder",
        ErrorKind::PermissionDenied => {
            "you may not open it: check its permissions, or copy it to a place of your own"
        }
        ErrorKind::IsADirectory => "name a file, not a folder",
        _ => "check that the place exists, has room, and that you may write there",
    }
}

fn remedy_of(message: &str) -> String {
    let message = message.trim_end_matches('.');
    message
        .rsplit_once("; ")
        .or_else(|| message.rsplit_once(". "))
        .map(|(_, remedy)| remedy.to_owned())
        .unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_room_s_message_ends_in_its_remedy() {
        let error = WorkError::from(PhotoError::Empty {
            path: PathBuf::from("p.jpg"),
        });
        assert!(
            error.remedy().starts_with("copy it again"),
            "{}",
            error.remedy()
        );
        assert_eq!(error.trouble(), Trouble::BadInput);
    }
}
