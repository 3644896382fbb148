//! Is the middle of a land a hole? A closed bright ring round a plain dark middle is a land that no solder fills.
//!
//! What it measures is compared with the photo's own sure joints, so that neither mask, metal nor light matter.

use crate::stats::{mad_sigma, median};

use super::levels::Level;
use super::places::Place;
use super::shape::quantile_between;

/// Directions that are looked along.
const ANGLES: usize = 24;
/// A land is looked at where its radius is this many px.
const RADIUS: f32 = 10.0;
/// Middle of the looked-at square, px, and its width.
const MIDDLE: f32 = 14.0;
/// See [`MIDDLE`].
const SIDE: usize = 29;
/// The middle of a hole lies within this of the land's, px: holes are drilled off, and places are found to a tenth.
const OFF: f32 = 3.1;
/// Radii of holes that are tried, px: 0.3 to 0.5 of the land.
const HOLES: std::ops::RangeInclusive<usize> = 3..=5;
/// The ring round a hole is sought this far beyond it, px.
const RING: std::ops::RangeInclusive<usize> = 1..=3;
/// Share of the directions in which the ring may be no brighter than what is measured: highlights leave gaps.
const OPEN: f64 = 0.2;
/// Within this the land, beyond the other the surroundings, px.
const LAND: f32 = 9.0;
/// See [`LAND`].
const BEYOND: f32 = 12.5;
/// Added to the range of the light, so that a flat place divides by something (8 of 255).
const FLOOR: f32 = 0.03;
/// How much a middle that is brighter than the surroundings counts against a hole.
const BRIGHTNESS_SHARE: f32 = 0.5;

/// Log odds from which a place tells what the joints of this photo look like in their middle.
const SURE: f64 = 2.0;
/// Fewest of them.
const LEAST_SURE: usize = 5;
/// Robust standard deviations above the sure joints from which a middle counts as hollow ...
const FROM: f64 = 2.0;
/// ... and the price of each more, log odds. From 1 to 2 the same joints stay on the four photographs of
/// `docs/find.md`.
const PRICE: f64 = 1.5;
/// Least standard deviation that is believed.
const LEAST_SIGMA: f64 = 0.05;

/// The price that each place pays for a hollow middle, log odds, 0 and up.
pub(super) fn prices(places: &[Place], hollows: &[f64]) -> Vec<f64> {
    let sure: Vec<f64> = places
        .iter()
        .zip(hollows)
        .filter(|(place, hollow)| place.odds > SURE && hollow.is_finite())
        .map(|(_, hollow)| *hollow)
        .collect();
    let known = (sure.len() >= LEAST_SURE)
        .then(|| Some((median(&sure)?, mad_sigma(&sure)?)))
        .flatten();
    let Some((middle, sigma)) = known else {
        return vec![0.0; places.len()];
    };
    hollows
        .iter()
        .map(|hollow| PRICE * ((hollow - middle) / sigma.max(LEAST_SIGMA) - FROM).max(0.0))
        .collect()
}

/// How hollow the middle of a place is: by how much the ring round its darkest round spot is brighter than the
/// spot, and the spot darker than the surroundings, in shares of the land's range of light. About -0.1 on joints.
pub(super) fn hollow(level: &Level, place: &Place) -> f64 {
    let (x, y) = level.at(place.x, place.y);
    let unit = (place.r * level.scale) as f32 / RADIUS;
    let square: [[f32; SIDE]; SIDE] = std::array::from_fn(|v| {
        std::array::from_fn(|u| {
            let (du, dv) = (u as f32 - MIDDLE, v as f32 - MIDDLE);
            level.sample(x + unit * du, y + unit * dv).luma
        })
    });
    let (mut inside, mut outside) = (Vec::new(), Vec::new());
    for (v, row) in square.iter().enumerate() {
        for (u, luma) in row.iter().enumerate() {
            let from_middle = (u as f32 - MIDDLE).hypot(v as f32 - MIDDLE);
            if from_middle < LAND {
                inside.push(*luma);
            } else if from_middle > BEYOND {
                outside.push(*luma);
            }
        }
    }
    let back = quantile_between(&mut outside, 0.5);
    let dark = quantile_between(&mut inside, 0.05).min(back);
    let range = quantile_between(&mut inside, 0.95) - dark + FLOOR;
    let turns: [(f32, f32); ANGLES] = std::array::from_fn(|k| {
        let (sin, cos) = (k as f32 * std::f32::consts::TAU / ANGLES as f32).sin_cos();
        (cos, sin)
    });
    let steps = (-3..=3).map(|k| k as f32);
    let mut best = (f32::NEG_INFINITY, 0.0);
    for dy in steps.clone() {
        for dx in steps.clone().filter(|dx| dx.hypot(dy) < OFF) {
            let rings = rings(&square, &turns, MIDDLE + dx, MIDDLE + dy);
            for hole in HOLES {
                let (edge, middle) = edge(&rings, hole);
                if edge > best.0 {
                    best = (edge, middle);
                }
            }
        }
    }
    let (edge, middle) = best;
    f64::from((edge - BRIGHTNESS_SHARE * (middle - back)) / range)
}

type Rings = [[f32; ANGLES]; 9];

/// Rings a px apart round a place of the square.
fn rings(square: &[[f32; SIDE]; SIDE], turns: &[(f32, f32); ANGLES], x: f32, y: f32) -> Rings {
    std::array::from_fn(|radius| {
        std::array::from_fn(|k| {
            let (cos, sin) = turns[k];
            let (u, v) = (x + radius as f32 * cos, y + radius as f32 * sin);
            let (u0, v0) = (
                (u.max(0.0) as usize).min(SIDE - 2),
                (v.max(0.0) as usize).min(SIDE - 2),
            );
            let (fu, fv) = (u - u0 as f32, v - v0 as f32);
            let (upper, lower) = (&square[v0], &square[v0 + 1]);
            let top = upper[u0] + fu * (upper[u0 + 1] - upper[u0]);
            let low = lower[u0] + fu * (lower[u0 + 1] - lower[u0]);
            top + fv * (low - top)
        })
    })
}

/// How much brighter the ring round a hole is than the hole in all but [`OPEN`] of the directions, and the light
/// in the hole.
fn edge(rings: &Rings, hole: usize) -> (f32, f32) {
    let mut within: Vec<f32> = rings[..hole].iter().flatten().copied().collect();
    let middle = quantile_between(&mut within, 0.5);
    let mut brightest: Vec<f32> = (0..ANGLES)
        .map(|k| {
            RING.map(|beyond| rings[hole + beyond][k])
                .fold(f32::NEG_INFINITY, f32::max)
        })
        .collect();
    (quantile_between(&mut brightest, OPEN) - middle, middle)
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::{Rgb, RgbImage};

    /// A bright land of 20 px in radius; `middle` gives the light within 9 px of a point beside its middle.
    fn land(middle: impl Fn(f64) -> f64) -> Level {
        let photo = RgbImage::from_fn(100, 100, |x, y| {
            let (u, v) = (f64::from(x) - 50.0, f64::from(y) - 50.0);
            let streaks = 25.0 * (u * 0.5).sin() * (v * 0.4).cos();
            let grey = if (u - 2.0).hypot(v + 1.0) < 9.0 {
                middle(streaks)
            } else if u.hypot(v) < 20.0 {
                170.0 + streaks
            } else {
                45.0
            };
            Rgb([grey as u8; 3])
        });
        Level::of(&photo, 2)
    }

    const PLACE: Place = Place {
        x: 50.0,
        y: 50.0,
        r: 20.0,
        odds: 3.0,
    };

    #[test]
    fn a_hole_is_hollow_and_solder_is_not() {
        let hole = hollow(&land(|_| 35.0), &PLACE);
        let filled = hollow(&land(|streaks| 170.0 + streaks), &PLACE);
        let pin = hollow(&land(|_| 230.0), &PLACE);
        assert!(hole > 0.6, "{hole}");
        assert!(filled < 0.1, "{filled}");
        assert!(pin < 0.1, "{pin}");
    }

    #[test]
    fn only_what_stands_out_from_the_sure_joints_pays() {
        let places = [PLACE; 7];
        let hollows = [0.0, 0.1, -0.1, 0.05, -0.05, 0.0, 0.8];
        let paid = prices(&places, &hollows);
        assert!(paid[..6].iter().all(|p| *p == 0.0), "{paid:?}");
        assert!(paid[6] > 3.0, "{paid:?}");
        // Too few sure joints say nothing.
        assert_eq!(prices(&places[..4], &hollows[3..]), vec![0.0; 4]);
        let unsure = [Place { odds: 0.5, ..PLACE }; 7];
        assert_eq!(prices(&unsure, &hollows), vec![0.0; 7]);
    }
}
