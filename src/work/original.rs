//! Originals of a job, opened to be measured or shown: only while they are what came in.

use std::path::Path;

use image::RgbImage;

use crate::photo;
use crate::record::PhotoId;
use crate::store::sha256_hex;

use super::error::WorkError;

/// Opens the original of a photo, upright. What is measured on a photo is recorded of the photo
/// that came in, so one that was changed in place since is refused. The hash is that of the bytes
/// that are opened: nothing is read twice, unless it cannot be opened.
///
/// # Errors
/// [`WorkError::Altered`], or where the file cannot be opened.
pub fn open_original(path: &Path, photo: &PhotoId) -> Result<RgbImage, WorkError> {
    match photo::open(path) {
        Ok(opened) => {
            check_unaltered(path, photo, &opened.facts.sha256)?;
            Ok(opened.image)
        }
        // It opened when it came in: that it was written over says more than how it is broken.
        Err(error) => {
            if let Ok(bytes) = photo::read_bytes(path, &photo::Limits::default()) {
                check_unaltered(path, photo, &sha256_hex(&bytes))?;
            }
            Err(error.into())
        }
    }
}

/// Whether the bytes of an original are those that came in.
///
/// # Errors
/// [`WorkError::Altered`].
pub(super) fn check_unaltered(path: &Path, photo: &PhotoId, sha256: &str) -> Result<(), WorkError> {
    if sha256 == photo.as_str() {
        return Ok(());
    }
    Err(WorkError::Altered {
        path: path.to_path_buf(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::work::Trouble;

    #[test]
    fn an_original_is_opened_only_while_it_is_what_came_in() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("p.png");
        let mut image = RgbImage::new(8, 6);
        image.save(&path).unwrap();
        let photo = photo::inspect(&path).unwrap().sha256;
        assert_eq!(open_original(&path, &photo).unwrap(), image);
        image.put_pixel(3, 3, image::Rgb([9, 9, 9]));
        let altered = || {
            let error = open_original(&path, &photo).unwrap_err();
            assert!(matches!(error, WorkError::Altered { .. }), "{error}");
            assert!(error.to_string().contains("p.png"), "{error}");
            assert_eq!(error.trouble(), Trouble::Refused);
            assert!(error.remedy().contains("from a copy"), "{}", error.remedy());
        };
        image.save(&path).unwrap();
        altered();
        std::fs::write(&path, "no photo at all").unwrap();
        altered();
        std::fs::remove_file(&path).unwrap();
        let missing = open_original(&path, &photo).unwrap_err();
        assert_eq!(missing.trouble(), Trouble::InputOutput, "{missing}");
    }
}
