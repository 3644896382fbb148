//! A fit settled on most of its points.

use std::collections::BTreeMap;

use euclid::{Box2D, Point2D};
use nalgebra::{Matrix3, SMatrix, SVector};

use crate::geometry::Homography;

/// Rounds of reweighting: later ones move a fit by hundredths of a pixel.
const ROUNDS: usize = 16;

/// A round that moves no point by more than this, px, is the last.
const DONE_PX: f64 = 0.01;

/// Blocks along the longer edge of the points' box.
const BLOCKS: f64 = 8.0;

/// A block that holds more weight than this counts hardly more for it: rows of solder domes, which
/// all lean one way and outnumber the legends and lands of the rest of the board, would bend the
/// fit to themselves.
pub(super) const CROWDED: f64 = 10.0;

/// What a change of scale across the points costs, in units of the points' own spread: photos of
/// boards are taken nearly from above, and a few points in one corner must not invent a tilt.
/// Set on three real pairs.
pub(super) const TILT_COST: f64 = 0.003;

/// Fits the pairs with Cauchy weights of scale `width` px, from `start`: pairs that are far off
/// count little, none is thrown away for good, and crowded areas count no more than others. With
/// `prior`, each pair counts that much besides.
///
/// `None` where the pairs determine no homography.
#[must_use]
pub fn settle<A, B>(
    from: &[Point2D<f64, A>],
    to: &[Point2D<f64, B>],
    prior: Option<&[f64]>,
    start: &Homography<A, B>,
    width: f64,
) -> Option<Homography<A, B>> {
    let blocks = blocks_of(from);
    let mut fit = *start;
    for _ in 0..ROUNDS {
        let mut weights: Vec<f64> = (from.iter().zip(to))
            .map(|(f, t)| {
                let off = fit.apply(*f).map_or(f64::INFINITY, |at| (at - *t).length());
                cauchy(off, width)
            })
            .collect();
        if let Some(prior) = prior {
            for (weight, prior) in weights.iter_mut().zip(prior) {
                *weight *= prior;
            }
        }
        evened(&blocks, &mut weights);
        let next = weighted(from, to, &weights, &fit)?;
        let moved = |f: &Point2D<f64, A>| Some((next.apply(*f)? - fit.apply(*f)?).length());
        let most = from.iter().filter_map(moved).fold(0.0, f64::max);
        fit = next;
        if most < DONE_PX {
            break;
        }
    }
    Some(fit)
}

/// What a pair that is `off` px off counts.
pub(super) fn cauchy(off: f64, width: f64) -> f64 {
    1.0 / (1.0 + (off / width).powi(2))
}

/// Takes from the weights what crowded blocks of the picture have too much.
pub(super) fn evened(blocks: &[usize], weights: &mut [f64]) {
    let mut held = vec![0.0; blocks.iter().max().map_or(0, |most| most + 1)];
    for (block, weight) in blocks.iter().zip(&*weights) {
        held[*block] += weight;
    }
    for (block, weight) in blocks.iter().zip(&mut *weights) {
        *weight /= CROWDED + held[*block];
    }
}

/// The block each point lies in, numbered from 0.
pub(super) fn blocks_of<A>(points: &[Point2D<f64, A>]) -> Vec<usize> {
    let bounds = Box2D::from_points(points.iter().copied());
    let side = (bounds.width().max(bounds.height()) / BLOCKS).max(1e-9);
    let mut numbers: BTreeMap<(i64, i64), usize> = BTreeMap::new();
    (points.iter())
        .map(|p| {
            let at = (*p - bounds.min) / side;
            let next = numbers.len();
            *numbers.entry((at.x as i64, at.y as i64)).or_insert(next)
        })
        .collect()
}

/// Weighted least squares in normalised coordinates (Hartley 1997), each equation divided by the
/// denominator of `about`, so that distances in the second picture are what is made small.
fn weighted<A, B>(
    from: &[Point2D<f64, A>],
    to: &[Point2D<f64, B>],
    weights: &[f64],
    about: &Homography<A, B>,
) -> Option<Homography<A, B>> {
    let (out_a, out_b) = (normal(from, weights)?, normal(to, weights)?);
    let about = out_b * about.matrix() * out_a.try_inverse()?;
    let sums = summed(from.len(), |k| {
        let (f, t) = (from[k], to[k]);
        let (x, y) = (
            out_a[(0, 0)] * f.x + out_a[(0, 2)],
            out_a[(0, 0)] * f.y + out_a[(1, 2)],
        );
        let (u, v) = (
            out_b[(0, 0)] * t.x + out_b[(0, 2)],
            out_b[(0, 0)] * t.y + out_b[(1, 2)],
        );
        let depth = (about[(2, 0)] * x + about[(2, 1)] * y) / about[(2, 2)] + 1.0;
        let before_horizon = depth.is_finite() && depth > 1e-6;
        let w = if before_horizon {
            weights[k] / (depth * depth)
        } else {
            0.0
        };
        let by = |s: f64| [s * x * x, s * x * y, s * y * y, s * x, s * y, s];
        let [plain, along, down, both] = [by(w), by(w * u), by(w * v), by(w * (u * u + v * v))];
        let mut all = [0.0; 4 * MOMENTS];
        for (to, from) in all.chunks_mut(MOMENTS).zip([plain, along, down, both]) {
            to.copy_from_slice(&from);
        }
        all
    });
    // The equations of a pair are x, y, 1, 0, 0, 0, -x u, -y u for u and 0, 0, 0, x, y, 1, -x v,
    // -y v for v: what they sum to has only these moments in it.
    let moments = |which: usize| {
        let [xx, xy, yy, x, y, one] = std::array::from_fn(|k| sums[which * MOMENTS + k]);
        Matrix3::new(xx, xy, x, xy, yy, y, x, y, one)
    };
    let [plain, along, down, both] = [0, 1, 2, 3].map(moments);
    let mut sum = SMatrix::<f64, 8, 8>::zeros();
    let mut right = SVector::<f64, 8>::zeros();
    for (first, moved) in [(0, &along), (3, &down)] {
        sum.fixed_view_mut::<3, 3>(first, first).copy_from(&plain);
        let tilts = -moved.fixed_view::<3, 2>(0, 0);
        sum.fixed_view_mut::<3, 2>(first, 6).copy_from(&tilts);
        sum.fixed_view_mut::<2, 3>(6, first)
            .copy_from(&tilts.transpose());
        right.fixed_rows_mut::<3>(first).copy_from(&moved.column(2));
    }
    let squares = both.fixed_view::<2, 2>(0, 0);
    sum.fixed_view_mut::<2, 2>(6, 6).copy_from(&squares);
    let tilts = -both.fixed_view::<2, 1>(0, 2);
    right.fixed_rows_mut::<2>(6).copy_from(&tilts);
    let total = plain[(2, 2)];
    for tilt in [6, 7] {
        sum[(tilt, tilt)] += TILT_COST * total;
    }
    let h = sum.cholesky()?.solve(&right);
    let matrix = Matrix3::new(h[0], h[1], h[2], h[3], h[4], h[5], h[6], h[7], 1.0);
    Homography::from_matrix(out_b.try_inverse()? * matrix * out_a).ok()
}

/// Sums of `x x, x y, y y, x, y` and 1.
const MOMENTS: usize = 6;

/// Sums over the numbers below `count`, of every fourth apart: one addition need not wait for the
/// one before.
fn summed<const N: usize>(count: usize, of: impl Fn(usize) -> [f64; N]) -> [f64; N] {
    const APART: usize = 4;
    let mut sums = [[0.0; N]; APART];
    let whole = count / APART * APART;
    for first in (0..whole).step_by(APART) {
        for (k, sums) in sums.iter_mut().enumerate() {
            for (sum, value) in sums.iter_mut().zip(of(first + k)) {
                *sum += value;
            }
        }
    }
    for k in whole..count {
        for (sum, value) in sums[0].iter_mut().zip(of(k)) {
            *sum += value;
        }
    }
    std::array::from_fn(|n| sums.iter().map(|sums| sums[n]).sum())
}

/// Takes the weighted points to mean 0 and mean square distance 2.
pub(super) fn normal<S>(points: &[Point2D<f64, S>], weights: &[f64]) -> Option<Matrix3<f64>> {
    let [total, x, y] = summed(points.len(), |k| {
        let (p, w) = (points[k], weights[k]);
        [w, w * p.x, w * p.y]
    });
    let (x, y) = (x / total, y / total);
    let [spread] = summed(points.len(), |k| {
        [weights[k] * ((points[k].x - x).powi(2) + (points[k].y - y).powi(2))]
    });
    let spread = spread / total;
    let scale = (2.0 / spread).sqrt();
    scale.is_finite().then(|| {
        Matrix3::new(
            scale,
            0.0,
            -scale * x,
            0.0,
            scale,
            -scale * y,
            0.0,
            0.0,
            1.0,
        )
    })
}
