//! What can go wrong while a paper is written.

use thiserror::Error;

/// Why a paper could not be written.
#[derive(Debug, Error)]
pub enum PaperError {
    /// The CSV could not be put together.
    #[error("the slip could not be written as CSV: {cause}")]
    Csv {
        /// What the writer said.
        cause: csv::Error,
    },
    /// The JSON could not be put together.
    #[error("the slip could not be written as JSON: {cause}")]
    Json {
        /// What the writer said.
        cause: serde_json::Error,
    },
    /// A picture could not be packed.
    #[error(
        "a picture cut from photo {photo} could not be packed: {cause}; leave it out or use another photo"
    )]
    Picture {
        /// The photo's SHA-256.
        photo: String,
        /// What the packer said.
        cause: image::ImageError,
    },
}
