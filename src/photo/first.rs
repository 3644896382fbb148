//! The first picture: something to look at while the photo itself is still being decoded.

use std::io::{Read, Seek, SeekFrom};
use std::path::Path;

use exif::{Exif, In, Tag};
use image::RgbImage;

use super::error::PhotoError;

use super::jpeg;
use super::kind::{self, Format};
use super::limits::{self, Limits};
use super::notes;
use super::open::{self, guarded, turn_upright};
use super::outgoing::thumbnail;
use super::tone;

/// Bytes from the start of a file that hold the EXIF block: an EXIF segment is at most 64 KiB,
/// and it is the first or second segment (Exif 2.32, 4.5.4, from memory). More costs read time.
const HEAD_BYTES: u64 = 192 << 10;
/// Longest side of an embedded thumbnail that is believed; Exif asks for 160 x 120.
const MAX_EMBEDDED_SIDE: u32 = 2048;
/// Relative difference in shape between thumbnail and photo beyond which the thumbnail is not
/// of this photo (turned or cropped later by an editor). Thumbnails are whole pixels of 120 or
/// so, hence not less; black bars of a 4:3 thumbnail of a 3:2 photo (1.125) are cut off before.
const SHAPE_TOLERANCE: f64 = 0.02;
/// Largest difference in shape that is taken for black bars: 4:3 against 16:9 is 1.333.
const MAX_BARS: f64 = 1.36;

/// An upright picture of a photo at no more than `longest_px` a side, as fast as can be.
///
/// The embedded EXIF thumbnail where there is one that fits the photo's shape (often only 160
/// pixels wide: replace it by the real one soon), else a JPEG decoded at a fraction of its size,
/// else the whole photo made smaller. The thumbnail path reads the head of the file only and so
/// does not notice that the rest is damaged; [`open`](super::open) does.
///
/// # Errors
/// [`PhotoError`], naming the file and the remedy.
pub fn first_picture(path: &Path, longest_px: u32) -> Result<RgbImage, PhotoError> {
    let limits = Limits::default();
    let longest_px = longest_px.max(1);
    let (mut file, length) = open::ordinary_file(path)?;
    limits.check_bytes(path, length)?;
    let unreadable = |source| PhotoError::Unreadable {
        path: path.to_path_buf(),
        source,
    };
    let mut bytes = Vec::new();
    (&mut file)
        .take(HEAD_BYTES)
        .read_to_end(&mut bytes)
        .map_err(unreadable)?;
    let format = kind::format_of(path, &bytes[..bytes.len().min(kind::HEAD_BYTES)])?;
    let mut orientation = 1;
    if format == Format::Jpeg {
        let (exif, _) = notes::parse(&bytes);
        if let Some(exif) = exif {
            orientation = notes::orientation(&exif, &mut Vec::new());
            if let Some(picture) = embedded(path, &exif, &bytes, &limits) {
                return Ok(thumbnail(&turn_upright(picture, orientation), longest_px));
            }
        }
    }
    file.seek(SeekFrom::Start(bytes.len() as u64))
        .map_err(unreadable)?;
    file.take(limits.max_file_bytes)
        .read_to_end(&mut bytes)
        .map_err(unreadable)?;
    if format == Format::Jpeg
        && let Some(picture) = scaled(path, &bytes, longest_px, &limits)?
    {
        return Ok(thumbnail(&turn_upright(picture, orientation), longest_px));
    }
    let photo = open::open_bytes(path, &bytes, &limits)?;
    Ok(thumbnail(&photo.image, longest_px))
}

/// The embedded thumbnail as stored, without black bars; `None` where there is none to trust.
fn embedded(path: &Path, exif: &Exif, head: &[u8], limits: &Limits) -> Option<RgbImage> {
    let place = |tag| {
        let value = exif.get_field(tag, In::THUMBNAIL)?.value.get_uint(0)?;
        usize::try_from(value).ok()
    };
    let start = place(Tag::JPEGInterchangeFormat)?;
    let end = start.checked_add(place(Tag::JPEGInterchangeFormatLength)?)?;
    let bytes = exif.buf().get(start..end)?;
    if !bytes.starts_with(&[0xFF, 0xD8, 0xFF]) {
        return None;
    }
    let outline = jpeg::outline(bytes).ok()?;
    let [width, height] = outline.size;
    if width.max(height) > MAX_EMBEDDED_SIDE || width.min(height) == 0 {
        return None;
    }
    let photo = jpeg::outline_of_head(head).ok()?.size;
    limits.check_size(path, photo).ok()?;
    let picture = guarded(path, || {
        jpeg::decode(bytes, outline).map_err(|flaw| flaw.at(path))
    })
    .ok()?;
    without_bars(&tone::flatten(picture).0, photo)
}

/// The middle of a thumbnail in the shape of its photo.
fn without_bars(thumb: &RgbImage, photo: [u32; 2]) -> Option<RgbImage> {
    let shape = f64::from(photo[0]) / f64::from(photo[1]);
    let (width, height) = (f64::from(thumb.width()), f64::from(thumb.height()));
    let excess = shape / (width / height);
    if (excess.ln()).abs() <= SHAPE_TOLERANCE {
        return Some(thumb.clone());
    }
    if !(1.0 / MAX_BARS..=MAX_BARS).contains(&excess) {
        return None;
    }
    let (inner_width, inner_height) = if excess > 1.0 {
        (width, (width / shape).round().max(1.0))
    } else {
        ((height * shape).round().max(1.0), height)
    };
    let (left, top) = (
        ((width - inner_width) / 2.0) as u32,
        ((height - inner_height) / 2.0) as u32,
    );
    if !dark_outside(thumb, left, top) {
        return None;
    }
    let view = image::imageops::crop_imm(thumb, left, top, inner_width as u32, inner_height as u32);
    Some(view.to_image())
}

/// Whether everything further out than the given margins is as dark as bars are.
fn dark_outside(thumb: &RgbImage, left: u32, top: u32) -> bool {
    /// Black after JPEG compression.
    const BLACK: u8 = 40;
    // The two pixels next to the picture are smeared by the compression.
    let (left, top) = (left.saturating_sub(2), top.saturating_sub(2));
    let (width, height) = thumb.dimensions();
    if left == 0 && top == 0 {
        return false;
    }
    thumb.enumerate_pixels().all(|(x, y, pixel)| {
        let inside = x >= left && x < width - left && y >= top && y < height - top;
        inside || pixel.0.iter().all(|&v| v <= BLACK)
    })
}

/// A JPEG at a fraction of its size, as stored.
fn scaled(
    path: &Path,
    bytes: &[u8],
    longest_px: u32,
    limits: &Limits,
) -> Result<Option<RgbImage>, PhotoError> {
    let outline = open::checked_outline(path, bytes, limits)?;
    let _permit = limits::decode_permit(outline.size);
    let picture = guarded(path, || {
        jpeg::decode_scaled(bytes, outline, longest_px).map_err(|flaw| flaw.at(path))
    })?;
    Ok(picture.map(|picture| tone::flatten(picture).0))
}
