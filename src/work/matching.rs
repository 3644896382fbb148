//! One photo against another of the same face, with no job and no map.

use std::path::Path;

use euclid::Point2D;
use image::{GrayImage, RgbImage};

use crate::align::{AutoAlignment, Known, OnBoard, automatic_with};
use crate::board::{crossing, inside_outline};
use crate::geometry::{BoardPoint, PhotoA, PhotoPoint};
use crate::photo::{self, grey};
use crate::progress::Progress;

use super::error::WorkError;

/// Finds the transform from the reference's pixels to the photo's, or refuses. `edge` are the
/// corners of the board on the upright reference in order round it, px; with none, the table beside
/// the board counts as much as the board.
///
/// # Errors
/// Where a photo cannot be opened, the corners make no board, or no fit can be believed.
pub fn align_photos(
    reference: &Path,
    photo: &Path,
    edge: &[PhotoPoint],
    progress: &Progress,
) -> Result<AutoAlignment, WorkError> {
    let name = reference.display().to_string();
    let open = |path: &Path| photo::open(path).map(|photo| photo.image);
    let [reference, photo] = both_grey(|| open(reference), || open(photo));
    let (reference, photo) = (reference?, photo?);
    let outline = outline(edge, reference.dimensions(), &name)?;
    progress.check()?;
    let on_board = |at: Point2D<f64, PhotoA>| inside_outline(&outline, at.cast_unit());
    let known = Known {
        photo: &reference,
        lens: None,
        on_board: (!outline.is_empty()).then_some(&on_board as OnBoard),
    };
    Ok(automatic_with(&known, &photo, progress)?)
}

/// Two photos opened beside each other, upright and grey.
pub(super) fn both_grey<E: Send>(
    one: impl FnOnce() -> Result<RgbImage, E>,
    other: impl FnOnce() -> Result<RgbImage, E> + Send,
) -> [Result<GrayImage, E>; 2] {
    // A thread of its own: opening waits for memory, which no worker of the pool may do.
    std::thread::scope(|scope| {
        let beside = scope.spawn(|| other().map(|image| grey(&image)));
        let one = one().map(|image| grey(&image));
        [
            one,
            beside
                .join()
                .unwrap_or_else(|panic| std::panic::resume_unwind(panic)),
        ]
    })
}

/// A board smaller than this share of the photo's area is no edge that somebody meant.
const LEAST_BOARD: f64 = 0.01;

fn outline(
    edge: &[PhotoPoint],
    (width, height): (u32, u32),
    name: &str,
) -> Result<Vec<[f64; 2]>, WorkError> {
    let bad = |reason: String| WorkError::BadInput {
        reason: format!("edge of the board on {name}: {reason}"),
        remedy: "give its corners in px of the upright photo, three or more, in order round it"
            .to_owned(),
    };
    if edge.is_empty() {
        return Ok(Vec::new());
    }
    if edge.len() < 3 {
        return Err(bad(format!("{} corners enclose nothing", edge.len())));
    }
    let corners: Vec<[f64; 2]> = edge.iter().map(|corner| [corner.x, corner.y]).collect();
    if let Some((one, other)) = crossing(&corners) {
        return Err(bad(format!("its sides {one} and {other} cross each other")));
    }
    let (columns, rows) = (0..SAMPLES, 0..SAMPLES);
    let inside = columns
        .flat_map(|x| rows.clone().map(move |y| (x, y)))
        .filter(|(x, y)| {
            let at =
                |k: u32, length: u32| (f64::from(k) + 0.5) / f64::from(SAMPLES) * f64::from(length);
            inside_outline(&corners, BoardPoint::new(at(*x, width), at(*y, height)))
        })
        .count();
    let share = inside as f64 / f64::from(SAMPLES * SAMPLES);
    if share < LEAST_BOARD {
        return Err(bad(format!(
            "it encloses {:.1} % of the photo of {width} x {height} px",
            100.0 * share
        )));
    }
    Ok(corners)
}

/// Samples along each edge of the photo by which the board's share of it is counted.
const SAMPLES: u32 = 128;
