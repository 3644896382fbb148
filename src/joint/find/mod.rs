//! Joints found with no map: where solder fills a land, how large it is, how sure that is.
//!
//! Candidates at every size are weighed by a table of decision trees on numbers that do not know
//! the colour of the board; the photo's own common size, found by what stands in rows, then settles
//! the doubtful ones. What it finds, misses and takes for a joint wrongly: `docs/find.md`.

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
use forest::FOREST;
pub use land::{Land, land_at};
use levels::{Level, level_of, levels_for};
pub use like::LEAST_EXAMPLES;
use like::{Likeness, Pointed};
use places::{Place, describe_all, thinned, weigh};

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

/// Finds what is like the joints `like` that somebody pointed out on this photo, where `unlike` are
/// none: for kinds of solder or mask that [`find_joints`] does not know. Lands may be as large as
/// any example. Examples that are not found again are not in the result.
///
/// The result does not depend on the number of threads.
///
/// # Errors
/// [`JointError::FewExamples`] with fewer than [`LEAST_EXAMPLES`]; [`JointError::BadExample`] where one
/// lies off the photo or is smaller or larger than what is searched; [`JointError::Cancelled`] where
/// the work was stopped through `progress`.
pub fn find_joints_like(
    photo: &RgbImage,
    like: &[JointSpot],
    unlike: &[JointSpot],
    progress: &Progress,
) -> Result<Found, JointError> {
    if like.len() < LEAST_EXAMPLES {
        return Err(JointError::FewExamples {
            given: like.len(),
            needed: LEAST_EXAMPLES,
        });
    }
    for (list, like) in [(like, true), (unlike, false)] {
        for spot in list {
            usable(spot, photo.dimensions(), like)?;
        }
    }
    let pointed = Pointed {
        like: pointed_out(like),
        unlike: pointed_out(unlike),
    };
    let (least, most) = (pointed.like.iter())
        .fold((f64::INFINITY, 0.0_f64), |(least, most), place| {
            (place.r.min(least), place.r.max(most))
        });
    let numbers = levels_for(photo.dimensions(), least / ROOM, most * ROOM);
    progress.expect(numbers.len() as u64 + 3);
    let mut levels = Vec::new();
    let mut places = Vec::new();
    for number in numbers {
        let level = Level::of(photo, number);
        let tried = seeds::tried(&level).into_iter().flatten();
        places.extend(tried.map(|(x, y, r)| Place { x, y, r, odds: 0.0 }));
        levels.push(level);
        progress.tick()?;
    }
    let described = describe_all(&levels, &places);
    progress.tick()?;
    let learned = Likeness::learned(&levels, &places, &described, &pointed);
    progress.tick()?;
    let joints = learned.map_or_else(Vec::new, |likeness| {
        let first = likeness.likeliest(places, &described);
        let mut joints = settle::settle_like(&levels, &first, &pointed.like, &likeness);
        joints.retain(|joint| !pointed.is_unlike(joint));
        joints
    });
    progress.tick()?;
    let mut found = report(photo, joints);
    let near = |example: &Place, j: &FoundJoint| {
        (j.x_px - example.x).hypot(j.y_px - example.y) < 0.5 * example.r
    };
    let again = (pointed.like.iter())
        .filter(|example| found.joints.iter().any(|joint| near(example, joint)))
        .count();
    found.examples_found = Some(again);
    if found.is_doubtful(like.len()) {
        found.caution = Some(doubt(again, like.len()));
    }
    Ok(found)
}

/// Where fewer than this share of the examples are found again, they may not be what was meant. With
/// clicks off by 15 % of the radius at most it happened in 3 of 32 trials on real photographs, by 60 %
/// in 13 of 16.
const FOUND_AGAIN: f64 = 0.75;

/// What to say where the examples hardly look like each other.
fn doubt(again: usize, all: usize) -> String {
    let some = match again {
        0 => format!("None of the {all} joints that were pointed out was"),
        1 => format!("Only 1 of the {all} joints that were pointed out was"),
        some => format!("Only {some} of the {all} joints that were pointed out were"),
    };
    format!(
        "{some} found again, so what is found may be none: see that each click lies in the middle of a joint and its rim fits, and point out more of each kind."
    )
}

/// Lands are looked for down to the smallest example over this, and up to the largest times it.
const ROOM: f64 = 1.2;

/// Joints that were found may be this much smaller or larger than what was searched: they were sized
/// afterwards.
const SIZED: f64 = 1.3;

fn usable(spot: &JointSpot, (width, height): (u32, u32), like: bool) -> Result<(), JointError> {
    let (x, y, r) = (spot.centre.x, spot.centre.y, spot.land_radius_px);
    let on_photo = x >= 0.0 && y >= 0.0 && x < f64::from(width) && y < f64::from(height);
    let problem = if !on_photo {
        format!("its middle ({x:.0}, {y:.0}) is not on the photo of {width} x {height} px")
    } else if !(SMALLEST_PX / SIZED..=LARGEST_PX * SIZED).contains(&r) {
        format!("its radius of {r:.1} px is not from {SMALLEST_PX} to {LARGEST_PX} px")
    } else {
        return Ok(());
    };
    Err(JointError::BadExample {
        id: spot.id.clone(),
        like,
        problem,
    })
}

fn pointed_out(spots: &[JointSpot]) -> Vec<Place> {
    (spots.iter())
        .map(|spot| Place {
            x: spot.centre.x,
            y: spot.centre.y,
            r: spot.land_radius_px.clamp(SMALLEST_PX, LARGEST_PX),
            odds: 0.0,
        })
        .collect()
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
