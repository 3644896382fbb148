//! The dark-line view of a loose photo, written as a picture.

use std::io::Cursor;
use std::path::Path;

use image::codecs::png::{CompressionType, FilterType, PngEncoder};

use crate::joint::{DarkLines, dark_lines};
use crate::photo;
use crate::progress::Progress;
use crate::store::replace_named;

use super::error::WorkError;
use super::papers::check_output;

/// Measures a photo and writes the response as a 16-bit grey PNG of the upright photo's size, whole
/// or not at all.
///
/// # Errors
/// Where the photo cannot be opened, the picture cannot be written, or the work was stopped.
pub fn write_dark_lines(
    photo: &Path,
    out: &Path,
    progress: &Progress,
) -> Result<DarkLines, WorkError> {
    check_output(out, &[photo], &["png"])?;
    let opened = photo::open(photo)?;
    let found = dark_lines(&opened.image, progress)?;
    let mut png = Cursor::new(Vec::new());
    found
        .picture()
        .write_with_encoder(PngEncoder::new_with_quality(
            &mut png,
            CompressionType::Fast,
            FilterType::Up,
        ))
        .map_err(|error| WorkError::File {
            path: out.to_path_buf(),
            source: std::io::Error::other(error),
        })?;
    replace_named(out, png.get_ref())?;
    Ok(found)
}
