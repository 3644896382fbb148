//! Settles where each joint is and how large, once the photo's common size is known.

use rayon::prelude::*;

use super::forest::FOREST;
use super::hollow::{hollow, prices};
use super::levels::{Level, fitting};
use super::like::Likeness;
use super::places::{Measure, Place, thinned, weigh};
use super::size::members_in_rows;

/// Price of a radius that differs from the common one: this times the square of the natural log of
/// their ratio. Higher loses the odd large joint, lower keeps holes and specks.
const SIZE_PRICE: f64 = 6.0;
/// Radii farther from the common one than this (natural log) are not looked at.
const SIZE_REACH: f64 = 0.55;
/// Step in radii and factor of size of each round of the search for the best place.
const ROUNDS: [(f64, f64); 3] = [(0.25, 1.15), (0.12, 1.08), (0.06, 1.04)];
/// Joints are at least this many radii apart.
const APART: f64 = 1.25;
/// What a joint gains that stands in a row of three or more, log odds, and in a longer one.
const ROW_GAIN: [f64; 3] = [0.0, 0.5, 1.0];
/// How far a measured radius is drawn to the photo's common one, in logarithms: rims are seen to about
/// a fifth only, and most lands of a board are alike. 1 would give every joint the same radius.
const DRAWN: f64 = 0.5;
/// Log odds from which a place tells what the joints of this photo are like.
const SURE: f64 = 2.0;
/// A place counts as a joint from this far below the middle of the sure ones, log odds: photos differ
/// in how clear their joints are. More keeps bare lands, less loses dull joints.
const BELOW_SURE: f64 = 2.6;
/// ... but from these limits, whatever the sure ones are like.
const KEEP: std::ops::RangeInclusive<f64> = 0.0..=1.5;

/// The joints among the places of the first look.
pub(super) fn settle(levels: &[Level], first: &[Place], size: f64) -> Vec<Place> {
    let mut size = size;
    let mut places = Vec::new();
    for _ in 0..2 {
        places = refined(levels, first, &[size], &*FOREST);
        let sure: Vec<f64> = places
            .iter()
            .filter(|p| p.odds > SURE)
            .map(|p| p.r.ln())
            .collect();
        if let Some(middle) = crate::stats::median(&sure) {
            size = middle.exp();
        }
    }
    let members = members_in_rows(&places, size);
    let places: Vec<Place> = places
        .into_iter()
        .zip(members)
        .map(|(place, members)| Place {
            odds: place.odds + ROW_GAIN[members.min(2)],
            r: place.r.powf(1.0 - DRAWN) * size.powf(DRAWN),
            ..place
        })
        .collect();
    let sure: Vec<f64> = places
        .iter()
        .map(|p| p.odds)
        .filter(|odds| *odds > SURE)
        .collect();
    let keep = crate::stats::median(&sure).map_or(*KEEP.end(), |middle| {
        (middle - BELOW_SURE).clamp(*KEEP.start(), *KEEP.end())
    });
    let places: Vec<Place> = places.into_iter().filter(|p| p.odds > keep).collect();
    let prices = prices(&places, &hollows(levels, &places));
    (places.into_iter().zip(prices))
        .map(|(place, price)| Place {
            odds: place.odds - price,
            ..place
        })
        .filter(|p| p.odds > keep)
        .collect()
}

/// The places among the first that are like the examples.
pub(super) fn settle_like(
    levels: &[Level],
    first: &[Place],
    like: &[Place],
    likeness: &Likeness,
) -> Vec<Place> {
    let sizes: Vec<f64> = like.iter().map(|place| place.r).collect();
    let places = refined(levels, first, &sizes, likeness);
    let places = likeness.settled(levels, places, like);
    let size = crate::stats::median(&sizes).unwrap_or(1.0);
    // Only what may be a joint makes a row.
    let likely: Vec<Place> = (places.into_iter())
        .filter(|place| place.odds + ROW_GAIN[2] > 0.0)
        .collect();
    let members = members_in_rows(&likely, size);
    (likely.into_iter().zip(members))
        .map(|(place, members)| Place {
            odds: place.odds + ROW_GAIN[members.min(2)],
            ..place
        })
        .filter(|place| place.odds > 0.0)
        .collect()
}

/// The places near one of the sizes, each moved and sized to where it is likeliest.
fn refined(levels: &[Level], first: &[Place], sizes: &[f64], measure: &impl Measure) -> Vec<Place> {
    let off = |r: f64| -> f64 {
        (sizes.iter().map(|size| (r / size).ln().abs())).fold(f64::INFINITY, f64::min)
    };
    let price = |r: f64| SIZE_PRICE * off(r).powi(2);
    let mut places: Vec<Place> = first
        .iter()
        .filter(|p| off(p.r) < SIZE_REACH)
        .map(|p| Place {
            odds: p.odds - price(p.r),
            ..*p
        })
        .collect();
    places = thinned(places, 0.5);
    for round in ROUNDS {
        places = thinned(moved(levels, &places, round, &price, measure), 0.7);
    }
    thinned(places, APART)
}

/// Each of the places moved, by less than half its radius, and sized to where it is likeliest.
pub(super) fn settled_near(
    levels: &[Level],
    places: &[Place],
    measure: &impl Measure,
) -> Vec<Place> {
    let free = |_: f64| 0.0;
    let mut places = places.to_vec();
    for round in ROUNDS {
        places = moved(levels, &places, round, &free, measure);
    }
    places
}

/// Each place, or the likelier one a step in place or size from it; what a size costs is taken off.
fn moved(
    levels: &[Level],
    places: &[Place],
    (step, factor): (f64, f64),
    price: &impl Fn(f64) -> f64,
    measure: &impl Measure,
) -> Vec<Place> {
    let tried: Vec<(f64, f64, f64)> = (places.iter())
        .flat_map(|place| around(place, step, factor))
        .collect();
    let odds = weigh_anywhere(levels, &tried, measure);
    let per = tried.len() / places.len().max(1);
    (places.iter().enumerate())
        .map(|(i, place)| {
            (i * per..(i + 1) * per)
                .map(|k| {
                    let (x, y, r) = tried[k];
                    Place {
                        x,
                        y,
                        r,
                        odds: odds[k] - price(r),
                    }
                })
                .fold(*place, |best, p| if p.odds > best.odds { p } else { best })
        })
        .collect()
}

/// A place and its neighbours in place and size.
fn around(p: &Place, step: f64, factor: f64) -> [(f64, f64, f64); 10] {
    const SLANT: f64 = 0.7;
    let d = step * p.r;
    let s = SLANT * d;
    [
        (p.x + d, p.y, p.r),
        (p.x - d, p.y, p.r),
        (p.x, p.y + d, p.r),
        (p.x, p.y - d, p.r),
        (p.x, p.y, p.r * factor),
        (p.x, p.y, p.r / factor),
        (p.x + s, p.y + s, p.r),
        (p.x - s, p.y + s, p.r),
        (p.x + s, p.y - s, p.r),
        (p.x - s, p.y - s, p.r),
    ]
}

/// How hollow the middle of each place is, on the level that fits its size.
fn hollows(levels: &[Level], places: &[Place]) -> Vec<f64> {
    places
        .par_iter()
        .map(|place| {
            fitting(levels, place.r).map_or(f64::NEG_INFINITY, |k| hollow(&levels[k], place))
        })
        .collect()
}

/// Weighs each place on the level that fits its size, or the nearest there is.
fn weigh_anywhere(levels: &[Level], tried: &[(f64, f64, f64)], measure: &impl Measure) -> Vec<f64> {
    let mut odds = vec![f64::NEG_INFINITY; tried.len()];
    for (number, level) in levels.iter().enumerate() {
        let mine: Vec<usize> = (0..tried.len())
            .filter(|&i| fitting(levels, tried[i].2) == Some(number))
            .collect();
        let places: Vec<(f64, f64, f64)> = mine.iter().map(|&i| tried[i]).collect();
        for (i, o) in mine.into_iter().zip(weigh(level, &places, measure)) {
            odds[i] = o;
        }
    }
    odds
}
