//! What can go wrong while rendering.

use std::path::PathBuf;

use thiserror::Error;

use crate::progress::Cancelled;

/// Why a sample could not be rendered or written.
#[derive(Debug, Error)]
pub enum RenderError {
    /// The order names a board or unit that the sample model does not have.
    #[error("the sample model has no {what} named {name}; it has {known}")]
    Unknown {
        /// `board` or `unit`.
        what: &'static str,
        /// The name asked for.
        name: String,
        /// What there is.
        known: String,
    },
    /// The camera cannot see the board.
    #[error("the camera of {what} does not look at the board; use less tilt or more distance")]
    Camera {
        /// The photo.
        what: String,
    },
    /// The picture is empty or larger than the renderer makes.
    #[error("a picture of {width} x {height} px is not made; use 16 to {most} px a side")]
    Size {
        /// Width asked for.
        width: u32,
        /// Height asked for.
        height: u32,
        /// Greatest side.
        most: u32,
    },
    /// A file could not be written.
    #[error("cannot write {path}: {source}; check free space and permissions")]
    Write {
        /// The file.
        path: PathBuf,
        /// The system's reason.
        source: std::io::Error,
    },
    /// Encoding failed.
    #[error("cannot encode {path}: {reason}")]
    Encode {
        /// The file.
        path: PathBuf,
        /// Why.
        reason: String,
    },
    /// Stopped on request.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}
