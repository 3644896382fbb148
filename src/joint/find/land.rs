//! How large the land is that somebody clicked.

use image::RgbImage;

use super::forest::FOREST;
use super::levels::{Level, levels_for};
use super::places::Place;
use super::settle::settled_near;
use super::{LARGEST_PX, SMALLEST_PX};
use crate::geometry::PhotoPoint;

/// What is cut out round the click, in radii of the largest land that is looked for.
const AROUND: f64 = 2.2;
/// Step of the radii that are tried first.
const STEP: f64 = 1.12;
/// Log odds from which the trees are believed.
const BELIEVED: f64 = 0.0;

/// A land that looks soldered.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Land {
    /// Its middle, upright photo px.
    pub centre: PhotoPoint,
    /// Its radius, px.
    pub radius_px: f64,
}

/// The soldered land under a click, `None` where nothing there looks like one of a kind that is
/// known. Its middle lies within a third of its radius of the click.
#[must_use]
pub fn land_at(photo: &RgbImage, click: PhotoPoint) -> Option<Land> {
    let reach = (AROUND * LARGEST_PX).ceil();
    let (left, top) = (
        (click.x - reach).max(0.0) as u32,
        (click.y - reach).max(0.0) as u32,
    );
    let right = ((click.x + reach) as u32).min(photo.width());
    let bottom = ((click.y + reach) as u32).min(photo.height());
    if right <= left || bottom <= top {
        return None;
    }
    let piece = image::imageops::crop_imm(photo, left, top, right - left, bottom - top).to_image();
    let levels: Vec<Level> = levels_for(piece.dimensions(), SMALLEST_PX, LARGEST_PX)
        .into_iter()
        .map(|number| Level::of(&piece, number))
        .collect();
    let start = Place {
        x: click.x - f64::from(left),
        y: click.y - f64::from(top),
        r: SMALLEST_PX,
        odds: f64::NEG_INFINITY,
    };
    let steps = ((LARGEST_PX / SMALLEST_PX).ln() / STEP.ln()) as i32;
    let sizes: Vec<Place> = (0..=steps)
        .map(|k| Place {
            r: SMALLEST_PX * STEP.powi(k),
            ..start
        })
        .collect();
    let found = settled_near(&levels, &sizes, &*FOREST)
        .into_iter()
        .filter(|place| place.distance(&start) < place.r / 3.0)
        .max_by(|a, b| a.odds.total_cmp(&b.odds))?;
    (found.odds > BELIEVED).then(|| Land {
        centre: PhotoPoint::new(found.x + f64::from(left), found.y + f64::from(top)),
        radius_px: found.r,
    })
}
