//! The search by example: joints like those that somebody pointed out on the photo.

use image::RgbImage;

use super::levels::{Level, levels_for};
use super::like::{LEAST_EXAMPLES, Likeness, Pointed};
use super::places::{Place, describe_all};
use super::{Found, FoundJoint, LARGEST_PX, SMALLEST_PX, report, seeds, settle};
use crate::joint::{JointError, JointSpot};
use crate::progress::Progress;

/// Finds what is like the joints `like` that somebody pointed out on this photo, where `unlike` are
/// none: for kinds of solder or mask that [`find_joints`](super::find_joints) does not know. Lands may be as large as
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
