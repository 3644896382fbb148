//! Landmarks as a careful person would click them on a sample photo.

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;

use crate::board::{BoardMap, label};
use crate::geometry::{BoardPoint, PhotoPoint};
use crate::render::{Distortion, PhotoTruth};

/// How far a click misses in each direction, px: what a careful person manages on an enlarged
/// photo (common practice, no source).
const CLICK_ERROR_PX: f64 = 1.5;

/// Pins placed beside the landmarks where a close-up shows few of these.
const ENOUGH: usize = 8;

/// Landmarks of the map that the photo shows, then pins spread over the photo until there are
/// enough to tell a bad click.
pub(super) fn placed(map: &BoardMap, shot: &PhotoTruth) -> Vec<(String, PhotoPoint)> {
    let mut hand = ChaCha8Rng::seed_from_u64(u64::from(shot.size[0]) + shot.file.len() as u64);
    let mut placed: Vec<(String, PhotoPoint)> = map
        .landmarks
        .iter()
        .filter_map(|landmark| {
            let at = seen(shot, BoardPoint::new(landmark.at[0], landmark.at[1]))?;
            Some((landmark.name.clone(), at))
        })
        .collect();
    while placed.len() < ENOUGH {
        let Some(next) = farthest_pin(map, shot, &placed) else {
            break;
        };
        placed.push(next);
    }
    for (_, at) in &mut placed {
        at.x += hand.random_range(-CLICK_ERROR_PX..CLICK_ERROR_PX);
        at.y += hand.random_range(-CLICK_ERROR_PX..CLICK_ERROR_PX);
    }
    placed
}

/// The pin farthest from everything placed so far.
fn farthest_pin(
    map: &BoardMap,
    shot: &PhotoTruth,
    placed: &[(String, PhotoPoint)],
) -> Option<(String, PhotoPoint)> {
    shot.joints
        .iter()
        .filter(|joint| !joint.covered && joint.fault.is_none())
        .filter_map(|joint| {
            let at = PhotoPoint::new(joint.at_px[0], joint.at_px[1]);
            let nearest = placed
                .iter()
                .map(|(_, other)| (*other - at).length())
                .fold(f64::INFINITY, f64::min);
            // With nothing placed yet, the corner of the photo comes first.
            let distance = if nearest.is_finite() {
                nearest
            } else {
                at.to_vector().length()
            };
            let name = label(map, &joint.uid, shot.side)?;
            Some((distance, name, at))
        })
        .filter(|(distance, _, _)| *distance > 1.0)
        .max_by(|a, b| a.0.total_cmp(&b.0).then_with(|| b.1.cmp(&a.1)))
        .map(|(_, name, at)| (name, at))
}

/// Where a place of the board is in the photo, lens distortion included; `None` outside.
fn seen(shot: &PhotoTruth, at: BoardPoint) -> Option<PhotoPoint> {
    let flat = shot.photo_from_board.apply(at)?;
    let bent = distorted(&shot.distortion, flat)?;
    let [width, height] = shot.size.map(f64::from);
    let margin = 12.0;
    let inside =
        bent.x > margin && bent.y > margin && bent.x < width - margin && bent.y < height - margin;
    inside.then_some(bent)
}

/// Beyond this many half-diagonals from the middle the lens formula folds back into the picture.
const LENS_REACH: f64 = 1.3;

fn distorted(lens: &Distortion, at: PhotoPoint) -> Option<PhotoPoint> {
    let centre = PhotoPoint::new(lens.centre[0], lens.centre[1]);
    let from_centre = at - centre;
    let r2 = from_centre.square_length() / (lens.unit_px * lens.unit_px);
    (r2 < LENS_REACH * LENS_REACH)
        .then(|| centre + from_centre * (1.0 + lens.k1 * r2 + lens.k2 * r2 * r2))
}
