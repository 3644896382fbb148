//! JPEG with metadata that says what the picture is: rendered, not photographed.

use std::io::Cursor;

use exif::experimental::Writer;
use exif::{Field, In, Rational, Tag, Value};
use image::RgbImage;
use image::codecs::jpeg::JpegEncoder;
use image::imageops::{flip_horizontal, flip_vertical, rotate90, rotate180, rotate270};

use super::spec::PhotoSpec;

/// The sentence in every picture's metadata.
pub const NOTICE: &str = "Rendered by Benchglass; not a photograph";
/// The camera's name in every picture's metadata.
pub const CAMERA: &str = "Rendered sample";

/// Encodes an upright picture as JPEG, stored under the order's EXIF orientation.
///
/// # Errors
/// A sentence where the encoder fails.
pub(super) fn jpeg(upright: &RgbImage, spec: &PhotoSpec) -> Result<Vec<u8>, String> {
    let stored = stored(upright, spec.orientation);
    let mut body = Vec::new();
    JpegEncoder::new_with_quality(&mut body, spec.quality)
        .encode_image(&stored)
        .map_err(|error| error.to_string())?;
    let exif = metadata(spec)?;
    let length = u16::try_from(exif.len() + 8).map_err(|error| error.to_string())?;
    let mut out = body.get(..2).ok_or("the encoder wrote nothing")?.to_vec();
    out.extend([0xFF, 0xE1]);
    out.extend(length.to_be_bytes());
    out.extend(b"Exif\0\0");
    out.extend(exif);
    out.extend(&body[2..]);
    Ok(out)
}

/// The pixels as they lie in the file, so that the orientation tag turns them upright
/// (Exif orientation table, standards.md section 3).
fn stored(upright: &RgbImage, orientation: u16) -> RgbImage {
    match orientation {
        2 => flip_horizontal(upright),
        3 => rotate180(upright),
        4 => flip_vertical(upright),
        5 => flip_horizontal(&rotate90(upright)),
        6 => rotate270(upright),
        7 => flip_horizontal(&rotate270(upright)),
        8 => rotate90(upright),
        _ => upright.clone(),
    }
}

fn metadata(spec: &PhotoSpec) -> Result<Vec<u8>, String> {
    let field = |tag: Tag, value: Value| Field {
        tag,
        ifd_num: In::PRIMARY,
        value,
    };
    let ascii = |text: &str| Value::Ascii(vec![text.as_bytes().to_vec()]);
    let mut comment = b"ASCII\0\0\0".to_vec();
    comment.extend(NOTICE.as_bytes());
    let fields = [
        field(Tag::ImageDescription, ascii(NOTICE)),
        field(Tag::Model, ascii(CAMERA)),
        field(Tag::Software, ascii("Benchglass")),
        field(Tag::Orientation, Value::Short(vec![spec.orientation])),
        field(Tag::DateTimeOriginal, ascii(&spec.taken)),
        field(
            Tag::FocalLength,
            Value::Rational(vec![Rational { num: 54, denom: 10 }]),
        ),
        field(Tag::UserComment, Value::Undefined(comment, 0)),
    ];
    let mut writer = Writer::new();
    for field in &fields {
        writer.push_field(field);
    }
    let mut out = Cursor::new(Vec::new());
    writer
        .write(&mut out, false)
        .map_err(|error| error.to_string())?;
    Ok(out.into_inner())
}
