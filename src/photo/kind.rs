//! What a file is, told from its first bytes and never from its name.

use std::path::Path;

use serde::Serialize;

use super::error::PhotoError;

/// Bytes that are enough to tell what a file is.
pub(super) const HEAD_BYTES: usize = 64;

/// A picture format that is opened.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Format {
    /// JPEG (baseline and progressive, 8 bit).
    Jpeg,
    /// PNG.
    Png,
    /// TIFF (first page).
    Tiff,
    /// WebP (first picture).
    WebP,
    /// Windows bitmap.
    Bmp,
}

impl Format {
    /// The usual name of the format.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Jpeg => "JPEG",
            Self::Png => "PNG",
            Self::Tiff => "TIFF",
            Self::WebP => "WebP",
            Self::Bmp => "BMP",
        }
    }

    pub(super) fn for_decoder(self) -> image::ImageFormat {
        match self {
            Self::Jpeg => image::ImageFormat::Jpeg,
            Self::Png => image::ImageFormat::Png,
            Self::Tiff => image::ImageFormat::Tiff,
            Self::WebP => image::ImageFormat::WebP,
            Self::Bmp => image::ImageFormat::Bmp,
        }
    }
}

/// Brands of the ISO base media file format that mark still pictures (from memory).
const STILL_BRANDS: [&[u8; 4]; 11] = [
    b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1", b"mif2", b"avif",
    b"avis",
];

/// Tells the format from the first bytes of a file (at least [`HEAD_BYTES`], or all there are).
///
/// # Errors
/// [`PhotoError`] where it is no photo that can be opened, with the remedy for what it is.
pub(super) fn format_of(path: &Path, head: &[u8]) -> Result<Format, PhotoError> {
    let path = || path.to_path_buf();
    let format = match head {
        [] => return Err(PhotoError::Empty { path: path() }),
        [0xFF, 0xD8, 0xFF, ..] => Format::Jpeg,
        [0x89, b'P', b'N', b'G', b'\r', b'\n', 0x1A, b'\n', ..] => Format::Png,
        // The name of a raw format where TIFF has its first directory (from memory).
        [b'I', b'I', 42, 0, _, _, _, _, b'C', b'R', ..] => {
            return Err(PhotoError::CameraRaw { path: path() });
        }
        [b'I', b'I', 42, 0, ..] | [b'M', b'M', 0, 42, ..] => Format::Tiff,
        [
            b'R',
            b'I',
            b'F',
            b'F',
            _,
            _,
            _,
            _,
            b'W',
            b'E',
            b'B',
            b'P',
            ..,
        ] => Format::WebP,
        [b'B', b'M', ..] if bitmap_header(head) => Format::Bmp,
        [_, _, _, _, b'f', b't', b'y', b'p', b, r, a, n, ..] => {
            let brand = [*b, *r, *a, *n];
            return Err(if STILL_BRANDS.contains(&&brand) {
                PhotoError::Heic { path: path() }
            } else {
                PhotoError::NotAPhoto {
                    path: path(),
                    looks_like: "it looks like a film".to_owned(),
                }
            });
        }
        [b'G', b'I', b'F', b'8', ..] => {
            return Err(PhotoError::Unsupported {
                path: path(),
                detail: "GIF".to_owned(),
            });
        }
        _ => {
            return Err(PhotoError::NotAPhoto {
                path: path(),
                looks_like: looks_like(head).to_owned(),
            });
        }
    };
    Ok(format)
}

/// "BM" alone is two letters of text: the header size that follows must be one in use.
fn bitmap_header(head: &[u8]) -> bool {
    matches!(
        head.get(14..18),
        Some([12 | 16 | 40 | 52 | 56 | 64 | 108 | 124, 0, 0, 0])
    )
}

fn looks_like(head: &[u8]) -> &'static str {
    if head.starts_with(b"%PDF") {
        "it looks like a PDF"
    } else if head.starts_with(b"PK\x03\x04") {
        "it looks like a zip archive"
    } else if head.iter().all(|&b| b == 0) {
        "it holds only zeros, as after a copy that did not finish"
    } else if head.iter().all(|&b| b >= 0x20 || b"\t\r\n".contains(&b)) {
        "it looks like text"
    } else {
        "its first bytes are those of no known picture format"
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn kind(head: &[u8]) -> Result<Format, PhotoError> {
        format_of(Path::new("x.jpg"), head)
    }

    #[test]
    fn content_decides() {
        assert_eq!(kind(b"\xFF\xD8\xFF\xE0").unwrap(), Format::Jpeg);
        assert_eq!(kind(b"\x89PNG\r\n\x1a\n").unwrap(), Format::Png);
        assert_eq!(kind(b"MM\0*\0\0\0\x08").unwrap(), Format::Tiff);
        assert!(matches!(
            kind(b"\0\0\0\x18ftypheic\0\0\0\0"),
            Err(PhotoError::Heic { .. })
        ));
        assert!(matches!(
            kind(b"\0\0\0\x18ftypisom\0\0\0\0"),
            Err(PhotoError::NotAPhoto { .. })
        ));
        assert!(matches!(kind(b""), Err(PhotoError::Empty { .. })));
        assert!(matches!(
            kind(b"II*\0\x10\0\0\0CR\x02\0"),
            Err(PhotoError::CameraRaw { .. })
        ));
        let text = kind(b"BMs are not bitmaps").unwrap_err().to_string();
        assert!(text.contains("looks like text"), "{text}");
        let zeros = kind(&[0; 64]).unwrap_err().to_string();
        assert!(zeros.contains("did not finish"), "{zeros}");
    }
}
