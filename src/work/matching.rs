//! One photo against another of the same face, with no job and no map.

use std::path::Path;

use crate::align::{AutoAlignment, automatic};
use crate::photo::{self, grey};
use crate::progress::Progress;

use super::error::WorkError;

/// Finds the transform from the reference's pixels to the photo's, or refuses.
///
/// # Errors
/// Where a photo cannot be opened, or no fit can be believed.
pub fn align_photos(
    reference: &Path,
    photo: &Path,
    progress: &Progress,
) -> Result<AutoAlignment, WorkError> {
    let reference = grey(&photo::open(reference)?.image);
    progress.check()?;
    let photo = grey(&photo::open(photo)?.image);
    progress.check()?;
    Ok(automatic(&reference, &photo, progress)?)
}
