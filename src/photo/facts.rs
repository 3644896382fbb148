//! What is known of a photo without decoding it.

use std::path::Path;

use serde::Serialize;
use sha2::{Digest, Sha256};

use super::error::PhotoError;
use super::jpeg::{self, Outline};
use super::kind::{self, Format};
use super::limits::Limits;
use super::notes;

/// What the header and the EXIF block of a photo say, and the SHA-256 of the whole file.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Facts {
    /// Format, told from the content.
    pub format: Format,
    /// Width and height in pixels as stored.
    pub stored: [u32; 2],
    /// Width and height in pixels of the upright photo.
    pub upright: [u32; 2],
    /// EXIF orientation, 1 to 8. Already applied to every image that this room hands out; kept
    /// for the record only.
    pub orientation: u8,
    /// The camera's clock when taken, `YYYY-MM-DDTHH:MM:SS[.fff]`, never with an invented zone.
    pub taken: Option<String>,
    /// UTC offset of `taken` where the camera wrote one, for example `+02:00`.
    pub taken_offset: Option<String>,
    /// Camera make and model; never a serial number.
    pub camera: Option<String>,
    /// Focal length in mm.
    pub focal_mm: Option<f64>,
    /// Focal length in mm on a 36 x 24 mm frame that would see as much.
    pub focal_35mm: Option<f64>,
    /// SHA-256 of the whole file, lower-case hex.
    pub sha256: String,
    /// Size of the file in bytes.
    pub bytes: u64,
    /// What was odd about the file but did not keep it from being used, in plain sentences.
    pub warnings: Vec<String>,
}

/// The facts, and the outline where the photo is a JPEG.
pub(super) fn gather(
    path: &Path,
    bytes: &[u8],
    limits: &Limits,
) -> Result<(Facts, Option<Outline>), PhotoError> {
    let length = u64::try_from(bytes.len()).unwrap_or(u64::MAX);
    limits.check_bytes(path, length)?;
    let format = kind::format_of(path, &bytes[..bytes.len().min(kind::HEAD_BYTES)])?;
    let notes = notes::read(bytes);
    if format == Format::Tiff && notes.raw {
        return Err(PhotoError::CameraRaw {
            path: path.to_path_buf(),
        });
    }
    let outline = match format {
        Format::Jpeg => Some(jpeg::outline(bytes).map_err(|flaw| flaw.at(path))?),
        _ => None,
    };
    let stored = match outline {
        Some(outline) => outline.size,
        None => super::open::header_size(path, format, bytes, limits)?,
    };
    limits.check_size(path, stored)?;
    let facts = Facts {
        format,
        stored,
        upright: upright_size(stored, notes.orientation),
        orientation: notes.orientation,
        taken: notes.taken,
        taken_offset: notes.taken_offset,
        camera: notes.camera,
        focal_mm: notes.focal_mm,
        focal_35mm: notes.focal_35mm,
        sha256: sha256_hex(bytes),
        bytes: length,
        warnings: notes.warnings,
    };
    Ok((facts, outline))
}

/// Orientations 5 to 8 lie on their side.
fn upright_size([width, height]: [u32; 2], orientation: u8) -> [u32; 2] {
    if orientation >= 5 {
        [height, width]
    } else {
        [width, height]
    }
}

fn sha256_hex(bytes: &[u8]) -> String {
    Sha256::digest(bytes)
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sha256_of_abc() {
        // FIPS 180-4, worked example (from memory).
        assert_eq!(
            sha256_hex(b"abc"),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
    }

    #[test]
    fn sideways_orientations_swap_the_sides() {
        for orientation in 1..=8 {
            let swapped = orientation >= 5;
            let expected = if swapped { [3, 2] } else { [2, 3] };
            assert_eq!(upright_size([2, 3], orientation), expected);
        }
    }
}
