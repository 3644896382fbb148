//! Where a loose photo can be judged.

use std::path::Path;

use crate::joint::MIN_PX_PER_MM;
use crate::photo::{self, RegionQuality, quality_grid};

use super::error::WorkError;

/// The cells of one photo, row by row.
#[derive(Debug, Clone, PartialEq)]
pub struct QualityMap {
    /// Size of the upright photo, px.
    pub size: [u32; 2],
    /// Cells across.
    pub columns: u32,
    /// Cells down.
    pub rows: u32,
    /// What was measured in each.
    pub cells: Vec<RegionQuality>,
}

/// Measures a photo in roughly square cells, `columns` (1 to 64) across. Where the scale is known, one
/// that is too small for a hairline is said in every cell.
///
/// # Errors
/// Where the photo cannot be opened, or the scale is not a number above zero.
pub fn quality_map(
    photo: &Path,
    columns: u32,
    px_per_mm: Option<f64>,
) -> Result<QualityMap, WorkError> {
    if px_per_mm.is_some_and(|s| !s.is_finite() || s <= 0.0) {
        return Err(WorkError::bad(
            "the scale is not a number above zero",
            "give --px-per-mm as px per mm, for example 24.5, or leave it out",
        ));
    }
    let image = photo::open(photo)?.image;
    let columns = columns.clamp(1, 64);
    let cell = f64::from(image.width()) / f64::from(columns);
    let rows = ((f64::from(image.height()) / cell).round() as u32).clamp(1, 64);
    let mut cells = quality_grid(&image, columns, rows);
    if let Some(scale) = px_per_mm.filter(|s| *s < MIN_PX_PER_MM) {
        let coarse = format!(
            "Only {scale:.1} px/mm: a fine crack is below {MIN_PX_PER_MM:.0} px/mm narrower than two px. Go closer."
        );
        for cell in &mut cells {
            cell.advice = Some(match cell.advice.take() {
                Some(advice) => format!("{coarse} {advice}"),
                None => coarse.clone(),
            });
        }
    }
    Ok(QualityMap {
        size: [image.width(), image.height()],
        columns,
        rows,
        cells,
    })
}
