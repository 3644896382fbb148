//! Places with their likeness to a joint, and how crowds of them are thinned.

use rayon::prelude::*;

use super::levels::{Level, fitting};
use super::shape::{FEATURES, describe};

/// A round place of the photo.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Place {
    /// Middle, photo px.
    pub(super) x: f64,
    /// Middle, photo px.
    pub(super) y: f64,
    /// Radius, photo px.
    pub(super) r: f64,
    /// Log odds of being a joint.
    pub(super) odds: f64,
}

impl Place {
    pub(super) fn distance(&self, other: &Self) -> f64 {
        (self.x - other.x).hypot(self.y - other.y)
    }
}

/// What tells joints from other places by their description.
pub(super) trait Measure: Sync {
    /// Log odds of being a joint.
    fn log_odds(&self, features: &[f32; FEATURES]) -> f64;
}

/// Weighs (x, y, r) places of the photo on one of its levels.
pub(super) fn weigh(level: &Level, places: &[(f64, f64, f64)], measure: &impl Measure) -> Vec<f64> {
    places
        .par_iter()
        .with_min_len(32)
        .map(|place| measure.log_odds(&described(level, *place)))
        .collect()
}

/// What each place looks like on the level that fits its size, or the nearest there is.
pub(super) fn describe_all(levels: &[Level], places: &[Place]) -> Vec<[f32; FEATURES]> {
    places
        .par_iter()
        .with_min_len(32)
        .map(|place| {
            fitting(levels, place.r).map_or([0.0; FEATURES], |k| {
                described(&levels[k], (place.x, place.y, place.r))
            })
        })
        .collect()
}

fn described(level: &Level, (x, y, r): (f64, f64, f64)) -> [f32; FEATURES] {
    let (u, v) = level.at(x, y);
    describe(level, u, v, (r * level.scale) as f32)
}

/// Keeps the likeliest of each crowd: none nearer to a likelier one than `apart` times the greater
/// radius. The result is sorted, likeliest first; equal ones by place.
pub(super) fn thinned(mut places: Vec<Place>, apart: f64) -> Vec<Place> {
    places.sort_by(|a, b| {
        b.odds
            .total_cmp(&a.odds)
            .then(a.y.total_cmp(&b.y))
            .then(a.x.total_cmp(&b.x))
            .then(a.r.total_cmp(&b.r))
    });
    let widest = places.iter().map(|p| p.r).fold(1.0, f64::max);
    let cell = (apart * widest).max(1.0);
    let key = |p: &Place| ((p.x / cell).floor() as i64, (p.y / cell).floor() as i64);
    let mut grid: std::collections::HashMap<(i64, i64), Vec<Place>> =
        std::collections::HashMap::new();
    let mut kept = Vec::new();
    for place in places {
        let (cx, cy) = key(&place);
        let crowded = (-1..=1)
            .flat_map(|dy| (-1..=1).map(move |dx| (cx + dx, cy + dy)))
            .filter_map(|k| grid.get(&k))
            .flatten()
            .any(|other| other.distance(&place) < apart * other.r.max(place.r));
        if !crowded {
            grid.entry((cx, cy)).or_default().push(place);
            kept.push(place);
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_likeliest_of_a_crowd_stays() {
        let place = |x: f64, odds: f64| Place {
            x,
            y: 5.0,
            r: 10.0,
            odds,
        };
        let kept = thinned(
            vec![place(0.0, 1.0), place(7.0, 3.0), place(30.0, 0.5)],
            1.0,
        );
        assert_eq!(kept.iter().map(|p| p.x).collect::<Vec<_>>(), [7.0, 30.0]);
    }
}
