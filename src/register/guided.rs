//! Matches looked for only where a rough fit puts them: repeated places, which cannot be told
//! apart over the whole picture, can within a few pixels.

use euclid::Point2D;
use rayon::prelude::*;

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
    let cells = Cells::of(b, reach);
    let nearest = |(i, feature): (usize, &Feature)| -> Option<Match> {
        let from = Point2D::new(f64::from(feature.x), f64::from(feature.y));
        let at = fit.apply(from)?;
        let [dx, dy] = fit.jacobian(from)?;
        let size = (dx.x * dy.y - dx.y * dy.x).abs().sqrt() * f64::from(feature.scale);
        let (sin, cos) = f64::from(feature.angle).sin_cos();
        let along = dx * cos + dy * sin;
        let angle = along.y.atan2(along.x);
        let agrees = |j: &usize| {
            let other = &b[*j];
            let square = (f64::from(other.x) - at.x).powi(2) + (f64::from(other.y) - at.y).powi(2);
            let turn = (f64::from(other.angle) - angle).rem_euclid(std::f64::consts::TAU);
            let scale = f64::from(other.scale) / size;
            square < reach * reach
                && turn.min(std::f64::consts::TAU - turn) < TURN
                && (1.0 / SCALE..SCALE).contains(&scale)
        };
        (cells.near(at))
            .filter(agrees)
            .map(|j| (cosine(&feature.descriptor, &b[j].descriptor), j))
            .max_by(|p, q| p.0.total_cmp(&q.0).then(q.1.cmp(&p.1)))
            .filter(|(alike, _)| *alike > LEAST_ALIKE)
            .map(|(alike, j)| Match {
                a: i,
                b: j,
                ratio: 1.0 - alike,
            })
    };
    a.par_iter().enumerate().filter_map(nearest).collect()
}

/// Features by the square cell that they lie in.
struct Cells {
    /// Edge of a cell, px.
    edge: f64,
    /// Cells across and down.
    size: [usize; 2],
    /// Where each cell's features begin, rows of cells first, and where the last one's end.
    starts: Vec<usize>,
    /// Numbers of the features, cell by cell.
    features: Vec<usize>,
}

impl Cells {
    /// Cells of this edge. Places before the first pixel count to the first cell.
    fn of(features: &[Feature], edge: f64) -> Self {
        let cell = |v: f32| (f64::from(v) / edge).max(0.0) as usize;
        let places: Vec<[usize; 2]> = (features.iter()).map(|f| [cell(f.x), cell(f.y)]).collect();
        let count = |axis: usize| places.iter().map(|p| p[axis] + 1).max().unwrap_or(0);
        let size = [count(0), count(1)];
        let mut starts = vec![0; size[0] * size[1] + 1];
        for [x, y] in &places {
            starts[y * size[0] + x + 1] += 1;
        }
        for k in 1..starts.len() {
            starts[k] += starts[k - 1];
        }
        let mut free = starts.clone();
        let mut order = vec![0; features.len()];
        for (j, [x, y]) in places.iter().enumerate() {
            let slot = &mut free[y * size[0] + x];
            order[*slot] = j;
            *slot += 1;
        }
        Self {
            edge,
            size,
            starts,
            features: order,
        }
    }

    /// Those in the cell of a place and in the eight around it.
    fn near<B>(&self, at: Point2D<f64, B>) -> impl Iterator<Item = usize> {
        let around = |v: f64, size: usize| {
            let cell = (v / self.edge).floor();
            let first = (cell - 1.0).max(0.0) as usize;
            let after = ((cell + 2.0).max(0.0) as usize).min(size);
            (first.min(after), after)
        };
        let ((left, right), (top, bottom)) =
            (around(at.x, self.size[0]), around(at.y, self.size[1]));
        (top..bottom).flat_map(move |row| {
            let row = row * self.size[0];
            let cells = self.starts[row + left]..self.starts[row + right];
            self.features[cells].iter().copied()
        })
    }
}
