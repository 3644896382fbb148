//! Matches looked for only where a rough fit puts them: repeated places, which cannot be told
//! apart over the whole picture, can within a few pixels.

use std::collections::BTreeMap;

use euclid::Point2D;

use super::descriptor::cosine;
use super::{Feature, Match};
use crate::geometry::Homography;

/// Scales must agree to this factor with the fit.
const SCALE: f64 = 1.6;

/// Directions must agree to this angle with the fit, radians.
const TURN: f64 = 0.5;

/// Least cosine of the descriptors: below it, two places of different boards look as alike.
const LEAST_ALIKE: f32 = 0.75;

/// For each feature of `a`, the most alike of `b` within `reach` px of where `fit` puts it, scale
/// and direction agreeing. In the order of `a`; `ratio` is one less the cosine.
#[must_use]
pub fn guided_matches<A, B>(
    a: &[Feature],
    b: &[Feature],
    fit: &Homography<A, B>,
    reach: f64,
) -> Vec<Match> {
    let cell = |v: f64| (v / reach).floor() as i64;
    let mut cells: BTreeMap<(i64, i64), Vec<usize>> = BTreeMap::new();
    for (j, other) in b.iter().enumerate() {
        let key = (cell(f64::from(other.y)), cell(f64::from(other.x)));
        cells.entry(key).or_default().push(j);
    }
    let nearest = |(i, feature): (usize, &Feature)| -> Option<Match> {
        let from = Point2D::new(f64::from(feature.x), f64::from(feature.y));
        let at = fit.apply(from)?;
        let [dx, dy] = fit.jacobian(from)?;
        let size = (dx.x * dy.y - dx.y * dy.x).abs().sqrt() * f64::from(feature.scale);
        let (sin, cos) = f64::from(feature.angle).sin_cos();
        let along = dx * cos + dy * sin;
        let angle = along.y.atan2(along.x);
        let (row, column) = (cell(at.y), cell(at.x));
        let near = (row - 1..=row + 1).flat_map(|r| (column - 1..=column + 1).map(move |c| (r, c)));
        let agrees = |j: &&usize| {
            let other = &b[**j];
            let square = (f64::from(other.x) - at.x).powi(2) + (f64::from(other.y) - at.y).powi(2);
            let turn = (f64::from(other.angle) - angle).rem_euclid(std::f64::consts::TAU);
            let scale = f64::from(other.scale) / size;
            square < reach * reach
                && turn.min(std::f64::consts::TAU - turn) < TURN
                && (1.0 / SCALE..SCALE).contains(&scale)
        };
        near.filter_map(|key| cells.get(&key))
            .flatten()
            .filter(agrees)
            .map(|j| (cosine(&feature.descriptor, &b[*j].descriptor), *j))
            .max_by(|p, q| p.0.total_cmp(&q.0).then(q.1.cmp(&p.1)))
            .filter(|(alike, _)| *alike > LEAST_ALIKE)
            .map(|(alike, j)| Match {
                a: i,
                b: j,
                ratio: 1.0 - alike,
            })
    };
    a.iter().enumerate().filter_map(nearest).collect()
}
