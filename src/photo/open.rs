//! Opening a photo: read once, checked, decoded within the shared memory budget, turned upright.

use std::fs::{self, File};
use std::io::{self, Cursor, Read};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;

use image::metadata::Orientation;
use image::{DynamicImage, ImageDecoder, ImageError, ImageReader, RgbImage};

use super::error::PhotoError;
use super::facts::{Facts, gather};
use super::jpeg::{self, Flaw, Outline};
use super::kind::Format;
use super::limits::{self, Limits};
use super::tone;

/// An opened photo, upright.
#[derive(Debug, Clone, PartialEq)]
pub struct Photo {
    /// What the file says about it.
    pub facts: Facts,
    /// The upright picture, 8-bit RGB, `facts.upright` pixels.
    pub image: RgbImage,
}

/// Reads what the file says about a photo, without decoding the picture.
///
/// The whole file is read, for its SHA-256; a JPEG that is cut short is found here already.
///
/// # Errors
/// [`PhotoError`], naming the file and the remedy.
pub fn inspect(path: &Path) -> Result<Facts, PhotoError> {
    let limits = Limits::default();
    let bytes = read_bytes(path, &limits)?;
    Ok(gather(path, &bytes, &limits)?.0)
}

/// Opens a photo with the default [`Limits`].
///
/// # Errors
/// [`PhotoError`], naming the file and the remedy.
pub fn open(path: &Path) -> Result<Photo, PhotoError> {
    let limits = Limits::default();
    let bytes = read_bytes(path, &limits)?;
    open_bytes(path, &bytes, &limits)
}

/// Opens a photo from the bytes of its file; `name` is for messages only.
///
/// Sixteen-bit, grey and CMYK pictures become 8-bit RGB; transparency is laid over neutral grey
/// and said in the warnings. Waits while other threads use up the shared decode memory.
///
/// # Errors
/// [`PhotoError`], naming the file and the remedy.
pub fn open_bytes(name: &Path, bytes: &[u8], limits: &Limits) -> Result<Photo, PhotoError> {
    let (mut facts, outline) = gather(name, bytes, limits)?;
    let _permit = limits::decode_permit(facts.stored);
    let stored = match outline {
        Some(outline) => guarded(name, || {
            jpeg::decode(bytes, outline).map_err(|flaw| flaw.at(name))
        })?,
        None => decode_other(name, facts.format, bytes, limits)?,
    };
    if [stored.width(), stored.height()] != facts.stored {
        return Err(PhotoError::Damaged {
            path: name.to_path_buf(),
            detail: "header and picture differ in size".to_owned(),
        });
    }
    let (flat, transparent) = tone::flatten(stored);
    if transparent {
        facts
            .warnings
            .push("the picture has transparent places: they are shown grey".to_owned());
    }
    let image = turn_upright(flat, facts.orientation);
    Ok(Photo { facts, image })
}

/// Applies an EXIF orientation. The one place where that is done.
pub(super) fn turn_upright(image: RgbImage, orientation: u8) -> RgbImage {
    let mut image = DynamicImage::ImageRgb8(image);
    image.apply_orientation(
        Orientation::from_exif(orientation).unwrap_or(Orientation::NoTransforms),
    );
    image.into_rgb8()
}

impl Flaw {
    /// The error for a named file.
    pub(super) fn at(self, path: &Path) -> PhotoError {
        let path = path.to_path_buf();
        match self {
            Self::Damaged(detail) => PhotoError::Damaged { path, detail },
            Self::Unsupported(detail) => PhotoError::Unsupported { path, detail },
        }
    }
}

/// Runs a decoder so that one that panics on a hostile file costs that file and nothing else.
pub(super) fn guarded<T>(
    path: &Path,
    decode: impl FnOnce() -> Result<T, PhotoError>,
) -> Result<T, PhotoError> {
    catch_unwind(AssertUnwindSafe(decode)).unwrap_or_else(|_| {
        Err(PhotoError::Damaged {
            path: path.to_path_buf(),
            detail: "the decoder gave up on it".to_owned(),
        })
    })
}

/// Stored size of a photo that is no JPEG, from its header.
pub(super) fn header_size(
    path: &Path,
    format: Format,
    bytes: &[u8],
    limits: &Limits,
) -> Result<[u32; 2], PhotoError> {
    guarded(path, || {
        let mut reader = ImageReader::with_format(Cursor::new(bytes), format.for_decoder());
        // Sizes are compared with the limits by the caller, which can name them.
        let mut unlimited_size = limits.for_decoder();
        unlimited_size.max_image_width = None;
        unlimited_size.max_image_height = None;
        reader.limits(unlimited_size);
        let (width, height) = reader
            .into_dimensions()
            .map_err(|error| named(path, error))?;
        Ok([width, height])
    })
}

fn decode_other(
    path: &Path,
    format: Format,
    bytes: &[u8],
    limits: &Limits,
) -> Result<DynamicImage, PhotoError> {
    guarded(path, || {
        let mut reader = ImageReader::with_format(Cursor::new(bytes), format.for_decoder());
        reader.limits(limits.for_decoder());
        let decoder = reader.into_decoder().map_err(|error| named(path, error))?;
        if decoder.total_bytes() > limits.max_pixels.saturating_mul(16) {
            let (width, height) = decoder.dimensions();
            limits.check_size(path, [width, height])?;
        }
        DynamicImage::from_decoder(decoder).map_err(|error| named(path, error))
    })
}

fn named(path: &Path, error: ImageError) -> PhotoError {
    let path = path.to_path_buf();
    match error {
        ImageError::Unsupported(what) => PhotoError::Unsupported {
            path,
            detail: what.to_string(),
        },
        ImageError::Limits(what) => PhotoError::Unsupported {
            path,
            detail: format!("it asks for more memory than a photo may: {what}"),
        },
        other => PhotoError::Damaged {
            path,
            detail: other.to_string(),
        },
    }
}

/// Opens the file for reading after finding out that it is an ordinary file; `fs::metadata`
/// first, because opening a pipe would wait for ever.
pub(super) fn ordinary_file(path: &Path) -> Result<(File, u64), PhotoError> {
    let failed = |source: io::Error| match source.kind() {
        io::ErrorKind::NotFound => PhotoError::Missing {
            path: path.to_path_buf(),
        },
        _ => PhotoError::Unreadable {
            path: path.to_path_buf(),
            source,
        },
    };
    let about = fs::metadata(path).map_err(failed)?;
    let path_buf = || path.to_path_buf();
    if about.is_dir() {
        return Err(PhotoError::Folder { path: path_buf() });
    }
    if !about.is_file() {
        return Err(PhotoError::NotAFile { path: path_buf() });
    }
    Ok((File::open(path).map_err(failed)?, about.len()))
}

/// Reads a whole file, refusing one that is too large before memory is asked for.
pub fn read_bytes(path: &Path, limits: &Limits) -> Result<Vec<u8>, PhotoError> {
    let (file, length) = ordinary_file(path)?;
    limits.check_bytes(path, length)?;
    let mut bytes = Vec::with_capacity(usize::try_from(length).unwrap_or(0));
    // A file that grows while it is read (a phone that is still copying) stays within the limit.
    file.take(limits.max_file_bytes.saturating_add(1))
        .read_to_end(&mut bytes)
        .map_err(|source| PhotoError::Unreadable {
            path: path.to_path_buf(),
            source,
        })?;
    limits.check_bytes(path, u64::try_from(bytes.len()).unwrap_or(u64::MAX))?;
    Ok(bytes)
}

/// The outline of a JPEG, checked against the limits.
pub(super) fn checked_outline(
    path: &Path,
    bytes: &[u8],
    limits: &Limits,
) -> Result<Outline, PhotoError> {
    let outline = jpeg::outline(bytes).map_err(|flaw| flaw.at(path))?;
    limits.check_size(path, outline.size)?;
    Ok(outline)
}
