//! The land radius that most joints of a photo have.
//!
//! Specks, letters and holes also look a little like joints at *some* size. What they lack is
//! company: joints stand in rows of equal members.

use super::places::{Place, thinned};

/// Step of the radii that are tried, natural log.
const STEP: f64 = 0.1;
/// Radii this far apart (natural log) still count as one size.
const SAME_SIZE: f64 = 0.25;
/// Neighbours in a row are nearer than this many radii. A land fills at most about two fifths of
/// the pitch and rarely less than a quarter.
const REACH: f64 = 4.5;
/// ... and farther than this: below, the lands would touch.
const NEAREST: f64 = 1.7;
/// A member of a row may be this many radii off its place.
const OFF_ROW: f64 = 0.35;

/// The size whose places have most company in rows, or, on a close-up without rows, the size of most
/// likely places; `None` where there is nothing at all.
pub(super) fn dominant(places: &[Place], smallest: f64, largest: f64) -> Option<f64> {
    commonest(places, smallest, largest, 0.0).or_else(|| commonest(places, smallest, largest, 1.0))
}

/// The size with the greatest sum of odds; a place without company counts `alone`.
fn commonest(places: &[Place], smallest: f64, largest: f64, alone: f64) -> Option<f64> {
    let steps = ((largest / smallest).ln() / STEP).ceil() as usize;
    let tried: Vec<(f64, f64)> = (0..=steps)
        .map(|k| smallest * (k as f64 * STEP).exp())
        .map(|radius| (radius, company(places, radius, alone)))
        .collect();
    let best = tried.iter().map(|(_, c)| *c).fold(0.0, f64::max);
    if best <= 0.0 {
        return None;
    }
    // The weighted middle of the hill round the best: its top is flat.
    let top = tried.iter().position(|(_, c)| *c >= best)?;
    let hill = &tried[top.saturating_sub(3)..(top + 4).min(tried.len())];
    let (sum, weight) = hill
        .iter()
        .filter(|(_, c)| *c > 0.7 * best)
        .fold((0.0, 0.0), |(s, w), (r, c)| (s + c * r.ln(), w + c));
    Some((sum / weight).exp())
}

/// How many places of this size stand in rows, weighted by their odds.
fn company(places: &[Place], radius: f64, alone: f64) -> f64 {
    let alike: Vec<Place> = places
        .iter()
        .filter(|p| (p.r / radius).ln().abs() < SAME_SIZE)
        .copied()
        .collect();
    let alike = thinned(alike, 0.9);
    let members = members_in_rows(&alike, radius);
    alike
        .iter()
        .zip(members)
        .map(|(place, in_row)| {
            let share = match in_row {
                0 => alone,
                1 => alone.max(0.3),
                _ => 1.0,
            };
            share / (1.0 + (2.0 - place.odds).exp())
        })
        .sum()
}

/// For each place, how many of the four next members of its best row are there.
pub(super) fn members_in_rows(places: &[Place], radius: f64) -> Vec<usize> {
    let tree = rstar::RTree::bulk_load(places.iter().map(|p| [p.x, p.y]).collect::<Vec<_>>());
    places
        .iter()
        .map(|here| {
            let reach = REACH * radius;
            tree.locate_within_distance([here.x, here.y], reach * reach)
                .filter_map(|next| {
                    let step = [next[0] - here.x, next[1] - here.y];
                    (step[0].hypot(step[1]) > NEAREST * radius).then(|| {
                        [-2.0, -1.0, 2.0, 3.0]
                            .iter()
                            .filter(|m| {
                                let at = [here.x + *m * step[0], here.y + *m * step[1]];
                                let off = OFF_ROW * radius;
                                tree.locate_within_distance(at, off * off).next().is_some()
                            })
                            .count()
                    })
                })
                .max()
                .unwrap_or(0)
        })
        .collect()
}
