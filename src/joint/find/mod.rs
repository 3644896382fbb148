//! Joints found with no map: where solder fills a land, how large it is, how sure that is.
//!
//! Candidates at every size are weighed by a table of decision trees on numbers that do not know
//! the colour of the board; the photo's own common size, found by what stands in rows, then settles
//! the doubtful ones. What it finds, misses and takes for a joint wrongly: `docs/find.md`.

mod example;
mod forest;
mod hollow;
mod land;
mod levels;
mod like;
mod places;
mod seeds;
mod settle;
mod shape;
mod size;

use std::collections::BTreeSet;

use image::RgbImage;
use serde::Serialize;

use crate::geometry::PhotoPoint;
use crate::progress::Progress;

use super::odd::{OddOne, odd_ones};
use super::rows::{Grid, Row, rows_of};
use super::{JointError, JointSpot};
pub use example::find_joints_like;
use forest::FOREST;
pub use land::{Land, land_at};
use levels::{Level, level_of, levels_for};
pub use like::LEAST_EXAMPLES;
use places::{Place, thinned, weigh};

/// Version of the JSON that `benchglass find --json` prints.
pub const FIND_SCHEMA: u32 = 1;
/// Smallest land radius that is searched, px. Below it solder cannot be told from a bright dot.
pub const SMALLEST_PX: f64 = 11.4;
/// Largest land radius that is searched, px.
pub const LARGEST_PX: f64 = 180.0;
/// Log odds below which a first look drops a place.
const FIRST_ODDS: f64 = -1.0;
/// Most places that a first look hands on.
const MOST_PLACES: usize = 6000;

/// One joint that was found.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FoundJoint {
    /// Name in this photo: `F1` upwards, in rows from the top, left to right.
    pub id: String,
    /// Middle of the land, upright photo px.
    pub x_px: f64,
    /// Middle of the land, upright photo px.
    pub y_px: f64,
    /// Radius of the land, px.
    pub land_radius_px: f64,
    /// 0..=1, rising with likeness to a joint; not a probability.
    pub score: f64,
    /// Radius of the pin, px, where it could be made out.
    pub pin_radius_px: Option<f64>,
}

/// What was found in one photo.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Found {
    /// Version of this layout: [`FIND_SCHEMA`].
    pub schema: u32,
    /// Joints, in reading order.
    pub joints: Vec<FoundJoint>,
    /// Why much of what was found may be no joint at all, and what to do; `null` where nothing
    /// speaks for that.
    pub caution: Option<String>,
    /// Rows of equally spaced joints.
    pub rows: Vec<Row>,
    /// Scale, px/mm, taken from a pitch of 2.54 mm; `null` where rows do not agree on one.
    pub px_per_mm: Option<f64>,
    /// Where the scale comes from, or why there is none.
    pub scale_reason: String,
    /// Pairs of rows that look like one package.
    pub packages: Vec<super::rows::Package>,
    /// Members that differ from their row.
    pub odd: Vec<OddOne>,
    /// How many of the examples were found again, where it was searched by example.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub examples_found: Option<usize>,
}

/// Where fewer than this share of the examples are found again, they may not be what was meant. With
/// clicks off by 15 % of the radius at most it happened in 3 of 32 trials on real photographs, by 60 %
/// in 13 of 16.
const FOUND_AGAIN: f64 = 0.75;

impl Found {
    /// Whether so few of the examples were found again that they may not be what was meant.
    #[must_use]
    pub fn is_doubtful(&self, examples: usize) -> bool {
        (self.examples_found).is_some_and(|again| (again as f64) < FOUND_AGAIN * examples as f64)
    }

    /// The joints as the hint takes them.
    #[must_use]
    pub fn spots(&self) -> Vec<JointSpot> {
        self.joints
            .iter()
            .map(|joint| JointSpot {
                id: joint.id.clone(),
                centre: PhotoPoint::new(joint.x_px, joint.y_px),
                land_radius_px: joint.land_radius_px,
                pin_radius_px: joint.pin_radius_px,
                px_per_mm: self.px_per_mm,
                tilt_deg: None,
            })
            .collect()
    }
}

/// Finds the solder joints of one upright photo of a solder side.
///
/// Lands of 11 to 180 px in radius are searched; on photos above 16 MP only the larger ones. The
/// result does not depend on the number of threads.
///
/// # Errors
/// [`JointError::Cancelled`] where the work was stopped through `progress`.
pub fn find_joints(photo: &RgbImage, progress: &Progress) -> Result<Found, JointError> {
    let levels = levels_for(photo.dimensions(), SMALLEST_PX, LARGEST_PX);
    progress.expect(levels.len() as u64 + 3);
    let mut first = Vec::new();
    for &number in &levels {
        let level = Level::of(photo, number);
        first.extend(first_look(&level));
        progress.tick()?;
    }
    first.sort_by(|a, b| {
        b.odds
            .total_cmp(&a.odds)
            .then(a.y.total_cmp(&b.y))
            .then(a.x.total_cmp(&b.x))
    });
    first.truncate(MOST_PLACES);
    let Some(size) = size::dominant(&first, SMALLEST_PX, LARGEST_PX) else {
        return Ok(report(photo, Vec::new()));
    };
    progress.tick()?;
    let near: Vec<Level> = levels
        .iter()
        .filter(|&&l| l >= level_of(size * 0.5) && l <= level_of(size * 1.9))
        .map(|&l| Level::of(photo, l))
        .collect();
    progress.tick()?;
    let joints = settle::settle(&near, &first, size);
    progress.tick()?;
    Ok(report(photo, joints))
}

/// Weighs the seeds of one level at two radii each.
fn first_look(level: &Level) -> Vec<Place> {
    let tried = seeds::tried(level);
    let odds = weigh(level, tried.as_flattened(), &*FOREST);
    (tried.iter().zip(odds.chunks(2)))
        .map(|(places, odds)| {
            let best = usize::from(odds[1] > odds[0]);
            let (x, y, r) = places[best];
            Place {
                x,
                y,
                r,
                odds: odds[best],
            }
        })
        .filter(|place| place.odds > FIRST_ODDS)
        .collect()
}

fn report(photo: &RgbImage, joints: Vec<Place>) -> Found {
    let joints = thinned(joints, 1.0);
    let Grid {
        order,
        rows,
        packages,
        px_per_mm,
        reason,
    } = rows_of(&joints.iter().map(|j| [j.x, j.y, j.r]).collect::<Vec<_>>());
    let rounded = |v: f64, scale: f64| (v * scale).round() / scale;
    let joints: Vec<FoundJoint> = order
        .iter()
        .enumerate()
        .map(|(k, &i)| FoundJoint {
            id: format!("F{}", k + 1),
            x_px: rounded(joints[i].x, 10.0),
            y_px: rounded(joints[i].y, 10.0),
            land_radius_px: rounded(joints[i].r, 10.0),
            score: rounded(1.0 / (1.0 + (-joints[i].odds).exp()), 1e3),
            pin_radius_px: None,
        })
        .collect();
    let odd = odd_ones(photo, &joints, &rows);
    Found {
        schema: FIND_SCHEMA,
        caution: caution(joints.len(), &rows),
        joints,
        rows,
        px_per_mm,
        scale_reason: reason,
        packages,
        odd,
        examples_found: None,
    }
}

/// Fewer joints than this may well stand in no row.
const ENOUGH_FOR_ROWS: usize = 15;

/// Least share of the joints of a solder side that stand in rows: on 16 photographs that were found
/// to be such by eye it was 0.16 to 1, on other sides it begins at 0 (`docs/find.md`).
const LEAST_IN_ROWS: f64 = 0.15;

/// What to say where so few of all joints stand in rows that this may be a side with parts.
fn caution(all: usize, rows: &[Row]) -> Option<String> {
    let members: BTreeSet<usize> = (rows.iter())
        .flat_map(|row| row.members.iter().copied())
        .collect();
    let in_rows = members.len();
    let few = all >= ENOUGH_FOR_ROWS && (in_rows as f64) < LEAST_IN_ROWS * all as f64;
    few.then(|| {
        let standing = match in_rows {
            0 => format!("None of {all} places stands in a row"),
            1 => format!("Only 1 of {all} places stands in a row"),
            some => format!("Only {some} of {all} places stand in rows"),
        };
        format!(
            "{standing}, so most may be no joints: on a side with parts, lettering, chip ends and header tops look like joints. Photograph the solder side, straight down."
        )
    })
}

#[cfg(test)]
mod tests;
