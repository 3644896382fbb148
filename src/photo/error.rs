//! What can be wrong with a photo file, and what the technician can do about it.

use std::io;
use std::path::{Path, PathBuf};

use thiserror::Error;

const COPY_AGAIN: &str = "copy it again from the camera or phone, and keep the one there until \
    the copy opens";
const CONVERT: &str = "open it in a picture viewer and export it as JPEG or PNG";
const EXPORT_HEIC: &str = "export it as JPEG: on the phone, share or save the picture as JPEG; for \
    the pictures to come, choose the most compatible format in the camera settings";
const EXPORT_RAW: &str = "export it as JPEG or TIFF from the camera or a raw developer";
const SMALLER: &str = "export a smaller copy, or photograph the board in several close-ups";

/// Why a photo cannot be used. Every message names the file and the remedy.
#[derive(Debug, Error)]
pub enum PhotoError {
    /// There is no such file.
    #[error("{}: there is no such file; {}", shown(path), self.remedy())]
    Missing {
        /// The file.
        path: PathBuf,
    },
    /// The system refused to read the file.
    #[error("{}: cannot be read ({source}); {}", shown(path), self.remedy())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// A folder where a photo was expected.
    #[error("{}: is a folder, not a photo; {}", shown(path), self.remedy())]
    Folder {
        /// The folder.
        path: PathBuf,
    },
    /// A device, a pipe or the like.
    #[error("{}: is not an ordinary file; {}", shown(path), self.remedy())]
    NotAFile {
        /// The path.
        path: PathBuf,
    },
    /// A file of no bytes.
    #[error("{}: is empty (0 bytes); {}", shown(path), self.remedy())]
    Empty {
        /// The file.
        path: PathBuf,
    },
    /// A photo that is cut short or damaged.
    #[error("{}: is cut short or damaged ({detail}); {}", shown(path), self.remedy())]
    Damaged {
        /// The file.
        path: PathBuf,
        /// Where it broke.
        detail: String,
    },
    /// Something that is no photo at all.
    #[error("{}: is not a photo ({looks_like}); {}", shown(path), self.remedy())]
    NotAPhoto {
        /// The file.
        path: PathBuf,
        /// What its first bytes look like.
        looks_like: String,
    },
    /// A HEIC, HEIF or AVIF picture, as many phones store them.
    #[error("{}: is a HEIC or AVIF picture, which cannot be opened; {}", shown(path), self.remedy())]
    Heic {
        /// The file.
        path: PathBuf,
    },
    /// A camera raw file.
    #[error("{}: is a camera raw file, which cannot be opened; {}", shown(path), self.remedy())]
    CameraRaw {
        /// The file.
        path: PathBuf,
    },
    /// A picture of a kind that is not supported.
    #[error("{}: is a picture that cannot be opened ({detail}); {}", shown(path), self.remedy())]
    Unsupported {
        /// The file.
        path: PathBuf,
        /// Which kind.
        detail: String,
    },
    /// More pixels than [`Limits`](super::Limits) allow; nothing was allocated for them.
    #[error(
        "{}: has {width} x {height} pixels, more than the limit of {max_pixels} pixels and \
         {max_side} a side; {}",
        shown(path), self.remedy()
    )]
    TooManyPixels {
        /// The file.
        path: PathBuf,
        /// Stored width in pixels.
        width: u32,
        /// Stored height in pixels.
        height: u32,
        /// The limit on width times height.
        max_pixels: u64,
        /// The limit on either side.
        max_side: u32,
    },
    /// More bytes than [`Limits`](super::Limits) allow.
    #[error(
        "{}: has {bytes} bytes, more than the limit of {max_bytes}; {}",
        shown(path), self.remedy()
    )]
    TooManyBytes {
        /// The file.
        path: PathBuf,
        /// Size of the file.
        bytes: u64,
        /// The limit.
        max_bytes: u64,
    },
    /// A picture that cannot be written as JPEG.
    #[error("a picture of {width} x {height} pixels cannot be written as JPEG ({detail}); {}", self.remedy())]
    NoJpeg {
        /// Width in pixels.
        width: u32,
        /// Height in pixels.
        height: u32,
        /// What the encoder said.
        detail: String,
    },
}

impl PhotoError {
    /// What to do about it, as half a sentence in plain words.
    #[must_use]
    pub fn remedy(&self) -> &'static str {
        match self {
            Self::Missing { .. } => {
                "check the name, and that the card or folder is still connected"
            }
            Self::Unreadable { .. } => {
                "check that you may read it and that the card or folder is still connected"
            }
            Self::Folder { .. } => "name the photos in it, or add the whole folder",
            Self::NotAFile { .. } => "copy the photo into a folder and name that copy",
            Self::Empty { .. } | Self::Damaged { .. } => COPY_AGAIN,
            Self::NotAPhoto { .. } => "give a JPEG, PNG, TIFF, WebP or BMP picture",
            Self::Heic { .. } => EXPORT_HEIC,
            Self::CameraRaw { .. } => EXPORT_RAW,
            Self::Unsupported { .. } => CONVERT,
            Self::TooManyPixels { .. } | Self::TooManyBytes { .. } => SMALLER,
            Self::NoJpeg { .. } => "use a picture of 1 to 65535 pixels a side",
        }
    }

    /// The message without the file's name, which stands elsewhere: what is wrong and the remedy.
    #[must_use]
    pub fn reason(&self) -> String {
        let message = self.to_string();
        self.path()
            .and_then(|path| message.strip_prefix(&format!("{}: ", shown(path))))
            .map_or_else(|| message.clone(), str::to_owned)
    }

    /// The file concerned; `None` where the trouble is not with a file.
    #[must_use]
    pub fn path(&self) -> Option<&Path> {
        match self {
            Self::Missing { path }
            | Self::Unreadable { path, .. }
            | Self::Folder { path }
            | Self::NotAFile { path }
            | Self::Empty { path }
            | Self::Damaged { path, .. }
            | Self::NotAPhoto { path, .. }
            | Self::Heic { path }
            | Self::CameraRaw { path }
            | Self::Unsupported { path, .. }
            | Self::TooManyPixels { path, .. }
            | Self::TooManyBytes { path, .. } => Some(path),
            Self::NoJpeg { .. } => None,
        }
    }
}

/// A path for a message: control characters, which could steer a terminal, become `?`.
fn shown(path: &Path) -> String {
    path.display()
        .to_string()
        .chars()
        .map(|c| if c.is_control() { '?' } else { c })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn messages_name_the_file_and_the_remedy() {
        let error = PhotoError::Heic {
            path: PathBuf::from("in/board\u{1b}[2J.heic"),
        };
        let message = error.to_string();
        assert!(message.starts_with("in/board?[2J.heic: "), "{message}");
        assert!(message.contains("export it as JPEG"), "{message}");
        assert!(message.contains("camera settings"), "{message}");
    }
}
