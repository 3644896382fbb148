//! JPEG: where the picture ends, full decode, and decode at a fraction of the size.
//!
//! Decoders make the best of a file that is cut short and fill the rest with grey; here that is
//! an error. Bytes after the end of the picture (appended clips, second pictures) are no fault.

use std::io::Read;

use image::{DynamicImage, GrayImage, RgbImage};
use zune_jpeg::zune_core::bytestream::ZCursor;
use zune_jpeg::zune_core::colorspace::ColorSpace;
use zune_jpeg::zune_core::options::DecoderOptions;

/// Why a JPEG cannot be decoded, before the file's name is known.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Flaw {
    /// Cut short or damaged.
    Damaged(String),
    /// A coding process that no phone or camera writes.
    Unsupported(String),
}

/// What the markers of a JPEG say.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Outline {
    /// Stored width and height in pixels.
    pub(super) size: [u32; 2],
    /// Where the first scan begins that only refines what earlier scans of a progressive file
    /// have given; a smaller picture does without it and all that follow.
    pub(super) refinement: Option<usize>,
}

fn damaged<T>(what: &str) -> Result<T, Flaw> {
    Err(Flaw::Damaged(what.to_owned()))
}

/// Walks the markers from the start of the picture to its end (ITU-T T.81, annex B) without
/// decoding anything.
///
/// # Errors
/// [`Flaw::Damaged`] where the end of the picture is missing, [`Flaw::Unsupported`] for
/// lossless, arithmetic-coded and 12-bit files.
pub(super) fn outline(bytes: &[u8]) -> Result<Outline, Flaw> {
    walk(bytes, false)
}

/// The same from the beginning of a file alone: what follows the frame header is not looked at.
///
/// # Errors
/// As [`outline`], for the bytes up to the frame header.
pub(super) fn outline_of_head(bytes: &[u8]) -> Result<Outline, Flaw> {
    walk(bytes, true)
}

fn walk(bytes: &[u8], head_only: bool) -> Result<Outline, Flaw> {
    let mut found = None;
    let mut scans = 0;
    let mut refinement = None;
    let mut at = 2; // past the start-of-image marker that told the format
    loop {
        let marker = next_marker(bytes, &mut at)?;
        match marker {
            0xD9 => break,
            0x01 | 0xD0..=0xD8 => continue, // markers without a segment
            _ => {}
        }
        let marker_at = at - 2;
        let segment = next_segment(bytes, &mut at)?;
        match marker {
            0xC0..=0xCF if !matches!(marker, 0xC4 | 0xC8 | 0xCC) && found.is_none() => {
                let outline = frame(marker, segment)?;
                if head_only {
                    return Ok(outline);
                }
                found = Some(outline);
            }
            0xDA => {
                // The last byte of a scan header: high half 0 for a first pass (T.81, B.2.3).
                if scans > 0 && segment.last().is_some_and(|&bits| bits >> 4 != 0) {
                    refinement = refinement.or(Some(marker_at));
                }
                scans += 1;
                skip_entropy(bytes, &mut at);
            }
            _ => {}
        }
    }
    match found {
        Some(outline) if scans > 0 => Ok(Outline {
            refinement,
            ..outline
        }),
        Some(_) => damaged("it holds no picture data"),
        None => damaged("no frame header"),
    }
}

/// Moves past the next marker, over any bytes before it.
fn next_marker(bytes: &[u8], at: &mut usize) -> Result<u8, Flaw> {
    let rest = bytes.get(*at..).unwrap_or_default();
    let is_marker = |w: &[u8]| w[0] == 0xFF && !matches!(w[1], 0 | 0xFF);
    match rest.windows(2).position(is_marker) {
        Some(skip) => {
            *at += skip + 2;
            Ok(rest[skip + 1])
        }
        None => damaged("the end of the picture is missing"),
    }
}

/// Moves past the length-prefixed segment at `at` and returns its content.
fn next_segment<'a>(bytes: &'a [u8], at: &mut usize) -> Result<&'a [u8], Flaw> {
    let length = match bytes.get(*at..*at + 2) {
        Some(&[high, low]) => usize::from(u16::from_be_bytes([high, low])),
        _ => return damaged("a segment is cut short"),
    };
    if length < 2 {
        return damaged("a segment has an impossible length");
    }
    let Some(segment) = bytes.get(*at + 2..*at + length) else {
        return damaged("a segment is cut short");
    };
    *at += length;
    Ok(segment)
}

/// Moves to the marker that ends the entropy-coded data at `at`.
fn skip_entropy(bytes: &[u8], at: &mut usize) {
    while let Some(skip) = bytes
        .get(*at..)
        .and_then(|rest| rest.iter().position(|&b| b == 0xFF))
    {
        *at += skip;
        match bytes.get(*at + 1) {
            Some(0 | 0xD0..=0xD7) => *at += 2,
            Some(0xFF) => *at += 1,
            _ => return,
        }
    }
    *at = bytes.len();
}

fn frame(marker: u8, segment: &[u8]) -> Result<Outline, Flaw> {
    let &[precision, h1, h0, w1, w0, ..] = segment else {
        return damaged("the frame header is cut short");
    };
    if !matches!(marker, 0xC0..=0xC2) {
        return Err(Flaw::Unsupported(
            "a lossless or arithmetic-coded JPEG".to_owned(),
        ));
    }
    if precision != 8 {
        return Err(Flaw::Unsupported(format!("a {precision}-bit JPEG")));
    }
    Ok(Outline {
        size: [
            u32::from(u16::from_be_bytes([w1, w0])),
            u32::from(u16::from_be_bytes([h1, h0])),
        ],
        refinement: None,
    })
}

/// Decodes the whole picture, as stored (not yet upright).
///
/// Headers are read with tolerance, the picture itself strictly.
///
/// # Errors
/// [`Flaw`] where the data do not carry the whole picture.
pub(super) fn decode(bytes: &[u8], outline: Outline) -> Result<DynamicImage, Flaw> {
    let options = DecoderOptions::default()
        .set_max_width(usize::from(u16::MAX))
        .set_max_height(usize::from(u16::MAX))
        .set_strict_mode(false);
    let mut decoder = zune_jpeg::JpegDecoder::new_with_options(ZCursor::new(bytes), options);
    decoder.decode_headers().map_err(flaw_of)?;
    let grey = decoder.input_colorspace() == Some(ColorSpace::Luma);
    let wanted = if grey {
        ColorSpace::Luma
    } else {
        ColorSpace::RGB
    };
    decoder.set_options(
        options
            .set_strict_mode(true)
            .jpeg_set_out_colorspace(wanted),
    );
    let pixels = decoder.decode().map_err(flaw_of)?;
    let [width, height] = outline.size;
    let image = if grey {
        GrayImage::from_raw(width, height, pixels).map(DynamicImage::ImageLuma8)
    } else {
        RgbImage::from_raw(width, height, pixels).map(DynamicImage::ImageRgb8)
    };
    image.map_or_else(|| damaged("it holds fewer pixels than it says"), Ok)
}

fn flaw_of(error: zune_jpeg::errors::DecodeErrors) -> Flaw {
    match error {
        zune_jpeg::errors::DecodeErrors::Unsupported(what) => {
            Flaw::Unsupported(format!("a JPEG with {what:?}"))
        }
        other => Flaw::Damaged(other.to_string()),
    }
}

/// Decodes at 1/8, 1/4, 1/2 or full size, the smallest whose longest side is at least
/// `longest_px`; as stored (not yet upright). `None` for CMYK, which needs the full decode.
/// The refining scans of a progressive file are left out.
///
/// # Errors
/// [`Flaw::Damaged`] where the data do not carry the whole picture.
pub(super) fn decode_scaled(
    bytes: &[u8],
    outline: Outline,
    longest_px: u32,
) -> Result<Option<DynamicImage>, Flaw> {
    let damage = |error: jpeg_decoder::Error| Flaw::Damaged(error.to_string());
    let first_pass = outline
        .refinement
        .and_then(|end| bytes.get(..end))
        .unwrap_or(bytes);
    let mut decoder = jpeg_decoder::Decoder::new(first_pass.chain([0xFF, 0xD9].as_slice()));
    let wanted = u16::try_from(longest_px).unwrap_or(u16::MAX);
    let [width, height] = outline.size;
    // The decoder stops at the scale where *either* side is large enough: ask for the longest.
    let request = if width >= height {
        (wanted, u16::MAX)
    } else {
        (u16::MAX, wanted)
    };
    let (width, height) = decoder.scale(request.0, request.1).map_err(damage)?;
    let Some(info) = decoder.info() else {
        return damaged("no frame header");
    };
    let (width, height) = (u32::from(width), u32::from(height));
    let channels = match info.pixel_format {
        jpeg_decoder::PixelFormat::L8 => 1,
        jpeg_decoder::PixelFormat::RGB24 => 3,
        _ => return Ok(None),
    };
    let pixels = decoder.decode().map_err(damage)?;
    let image = if channels == 1 {
        GrayImage::from_raw(width, height, pixels).map(DynamicImage::ImageLuma8)
    } else {
        RgbImage::from_raw(width, height, pixels).map(DynamicImage::ImageRgb8)
    };
    image.map_or_else(
        || damaged("it holds fewer pixels than it says"),
        |i| Ok(Some(i)),
    )
}
