//! The homography that most matches agree on.
//!
//! Every match carries scale and direction, so each proposes a similarity on its own; the
//! families of matches that agree with one are then searched by M-estimating sample consensus
//! (Torr and Zisserman 2000) with local optimisation (Chum, Matas and Kittler 2003).

use euclid::Point2D;
use nalgebra::{Matrix3, Vector3};
use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;

use super::{Feature, Match};
use crate::geometry::{Homography, fit_homography};

/// Families of matches that are searched.
const FAMILIES: usize = 4;

/// Fewer matches than this are no family: four fit anything.
const LEAST_FAMILY: usize = 8;

/// A match belongs to a family when the similarity puts it this near, as a share of the extent
/// of the second picture's matches: room for perspective and for the jitter of one feature.
const FAMILY_REACH: f64 = 0.10;

/// ... and its scale agrees to this factor ...
const FAMILY_SCALE: f64 = 1.6;

/// ... and its direction to this angle, radians.
const FAMILY_TURN: f64 = 0.5;

/// Samples drawn in each family: with 1 in 4 matches true, all of 1500 samples miss four true
/// ones with a chance of 0.3 % ...
const SAMPLES: usize = 1500;

/// ... and fewer where so many agree that the chance is this small sooner ...
const MISSED: f64 = 1e-4;

/// ... but no fewer than this: the best of many samples of true matches is wanted.
const LEAST_SAMPLES: usize = 100;

/// The surest matches that a family is looked for about.
const SEEDS: usize = 400;

/// Steps of local optimisation, each with a narrower tolerance, the last with the given one.
const POLISH: [f64; 4] = [3.0, 2.0, 1.5, 1.0];

/// Greatest change of scale across the first picture's matches, and greatest squeeze of one
/// direction against the other: some 60 degrees of tilt. A fit that draws many places together
/// gathers false inliers.
const MOST_CHANGE: f64 = 2.5;

/// What most matches agree on.
#[derive(Debug, Clone)]
pub struct Consensus<A, B> {
    /// From the first picture's pixels to the second's.
    pub transform: Homography<A, B>,
    /// Indices into the matches that agree with it.
    pub inliers: Vec<usize>,
    /// Sum over all matches of the squared distance, capped at the squared tolerance.
    pub cost: f64,
}

struct Pair<A, B> {
    from: Point2D<f64, A>,
    to: Point2D<f64, B>,
    scale: f64,
    turn: f64,
}

/// The homographies that families of `matches` agree with to `tolerance` px, the least cost first:
/// a board that looks like itself when turned has more than one, and which is right cannot be told
/// from counts.
///
/// The same seed and matches give the same answer. Empty where no family of matches is found.
#[must_use]
pub fn consensuses<A, B>(
    a: &[Feature],
    b: &[Feature],
    matches: &[Match],
    tolerance: f64,
    seed: u64,
) -> Vec<Consensus<A, B>> {
    let pairs: Vec<Pair<A, B>> = (matches.iter())
        .map(|m| Pair {
            from: Point2D::new(f64::from(a[m.a].x), f64::from(a[m.a].y)),
            to: Point2D::new(f64::from(b[m.b].x), f64::from(b[m.b].y)),
            scale: f64::from(b[m.b].scale / a[m.a].scale),
            turn: f64::from(b[m.b].angle - a[m.a].angle),
        })
        .collect();
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut found: Vec<Consensus<A, B>> = (families(&pairs).iter())
        .filter_map(|family| search(&pairs, family, tolerance, &mut rng))
        .collect();
    found.sort_by(|p, q| p.cost.total_cmp(&q.cost));
    found
}

/// Groups of matches that agree with the similarity of one of them; largest first, without
/// overlap.
fn families<A, B>(pairs: &[Pair<A, B>]) -> Vec<Vec<usize>> {
    let bounds = euclid::Box2D::from_points(pairs.iter().map(|p| p.to));
    let reach = FAMILY_REACH * bounds.width().hypot(bounds.height());
    let members = |seed: &Pair<A, B>, open: &[bool]| -> Vec<usize> {
        let (sin, cos) = seed.turn.sin_cos();
        let (s, c) = (sin * seed.scale, cos * seed.scale);
        (0..pairs.len())
            .filter(|i| open[*i])
            .filter(|i| {
                let p = &pairs[*i];
                let d = p.from - seed.from;
                let x = seed.to.x + c * d.x - s * d.y;
                let y = seed.to.y + s * d.x + c * d.y;
                let scale = p.scale / seed.scale;
                let turn = (p.turn - seed.turn).rem_euclid(std::f64::consts::TAU);
                (p.to.x - x).powi(2) + (p.to.y - y).powi(2) < reach * reach
                    && (1.0 / FAMILY_SCALE..FAMILY_SCALE).contains(&scale)
                    && turn.min(std::f64::consts::TAU - turn) < FAMILY_TURN
            })
            .collect()
    };
    let mut open = vec![true; pairs.len()];
    let mut families = Vec::new();
    while families.len() < FAMILIES {
        let largest = (pairs.iter().enumerate())
            .filter(|(i, _)| open[*i])
            .take(SEEDS)
            .map(|(_, p)| members(p, &open))
            .max_by_key(Vec::len);
        let Some(family) = largest.filter(|f| f.len() >= LEAST_FAMILY) else {
            break;
        };
        for i in &family {
            open[*i] = false;
        }
        families.push(family);
    }
    families
}

fn search<A, B>(
    pairs: &[Pair<A, B>],
    family: &[usize],
    tolerance: f64,
    rng: &mut ChaCha8Rng,
) -> Option<Consensus<A, B>> {
    let bounds = euclid::Box2D::from_points(family.iter().map(|i| pairs[*i].from));
    let mut best: Option<(f64, Matrix3<f64>)> = None;
    let mut enough = SAMPLES;
    for drawn in 0..SAMPLES {
        if drawn >= enough {
            break;
        }
        let four: [usize; 4] = std::array::from_fn(|_| family[rng.random_range(0..family.len())]);
        let Some(matrix) = through(pairs, four) else {
            continue;
        };
        let cost = cost(pairs, family, &matrix, tolerance * 1.5);
        let better = best.as_ref().is_none_or(|(least, _)| cost < *least);
        if better
            && Homography::from_matrix(matrix)
                .is_ok_and(|h: Homography<A, B>| is_a_view(&h, &bounds))
        {
            best = Some((cost, matrix));
            let agree = within(pairs, family, &matrix, tolerance * 1.5).len();
            enough = enough_samples(agree as f64 / family.len() as f64);
        }
    }
    let (_, matrix) = best?;
    let mut transform = Homography::<A, B>::from_matrix(matrix).ok()?;
    let all: Vec<usize> = (0..pairs.len()).collect();
    for width in POLISH {
        let near = within(pairs, &all, transform.matrix(), tolerance * width);
        if near.len() < LEAST_FAMILY {
            return None;
        }
        let from: Vec<_> = near.iter().map(|i| pairs[*i].from).collect();
        let to: Vec<_> = near.iter().map(|i| pairs[*i].to).collect();
        transform = fit_homography(&from, &to, None).ok()?;
    }
    let bounds = euclid::Box2D::from_points(pairs.iter().map(|p| p.from));
    if !is_a_view(&transform, &bounds) {
        return None;
    }
    let inliers = within(pairs, &all, transform.matrix(), tolerance);
    (inliers.len() >= LEAST_FAMILY).then(|| Consensus {
        cost: cost(pairs, &all, transform.matrix(), tolerance),
        transform,
        inliers,
    })
}

/// Samples of four after which all would have missed with a chance of [`MISSED`], where this share
/// of the family is true.
fn enough_samples(share: f64) -> usize {
    let needed = MISSED.ln() / (-share.powi(4)).ln_1p();
    (needed.clamp(LEAST_SAMPLES as f64, SAMPLES as f64)) as usize
}

/// Whether the transform could be another view of one flat thing, over the box: not mirrored, no
/// horizon, tilted by no more than some 60 degrees.
#[must_use]
pub fn is_a_view<A, B>(transform: &Homography<A, B>, bounds: &euclid::Box2D<f64, A>) -> bool {
    let (min, max) = (bounds.min, bounds.max);
    let corners = [
        min,
        max,
        Point2D::new(min.x, max.y),
        Point2D::new(max.x, min.y),
    ];
    let mut scales = Vec::new();
    for corner in corners {
        let Some([x, y]) = transform.jacobian(corner) else {
            return false;
        };
        let area = x.x * y.y - x.y * y.x;
        if area <= 0.0 {
            return false;
        }
        // Singular values s1, s2: s1 s2 = area, s1^2 + s2^2 = the squared norm.
        let half = (x.square_length() + y.square_length()) / (2.0 * area);
        if half + (half * half - 1.0).max(0.0).sqrt() > MOST_CHANGE {
            return false;
        }
        scales.push(area.sqrt());
    }
    let most = scales.iter().copied().fold(0.0, f64::max);
    scales.iter().all(|s| s * MOST_CHANGE >= most)
}

/// The homography through four pairs, unless three are on a line or the sense of rotation turns.
fn through<A, B>(pairs: &[Pair<A, B>], four: [usize; 4]) -> Option<Matrix3<f64>> {
    let from = four.map(|i| [pairs[i].from.x, pairs[i].from.y]);
    let to = four.map(|i| [pairs[i].to.x, pairs[i].to.y]);
    for [i, j, k] in [[0, 1, 2], [0, 1, 3], [0, 2, 3], [1, 2, 3]] {
        let (before, after) = (area(from[i], from[j], from[k]), area(to[i], to[j], to[k]));
        if before.abs() < 50.0 || after.abs() < 50.0 || before * after < 0.0 {
            return None;
        }
    }
    let matrix = basis(to)? * basis(from)?.try_inverse()?;
    let last = matrix[(2, 2)];
    (last.abs() > 1e-9 * matrix.amax()).then(|| matrix / last)
}

fn area(a: [f64; 2], b: [f64; 2], c: [f64; 2]) -> f64 {
    (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
}

/// Takes the projective unit points to the four points.
fn basis(p: [[f64; 2]; 4]) -> Option<Matrix3<f64>> {
    let column = |i: usize| Vector3::new(p[i][0], p[i][1], 1.0);
    let three = Matrix3::from_columns(&[column(0), column(1), column(2)]);
    let weights = three.try_inverse()? * column(3);
    Some(three * Matrix3::from_diagonal(&weights))
}

fn square_distance<A, B>(pair: &Pair<A, B>, m: &Matrix3<f64>) -> f64 {
    let (x, y) = (pair.from.x, pair.from.y);
    let w = m[(2, 0)] * x + m[(2, 1)] * y + m[(2, 2)];
    if w <= 1e-9 {
        return f64::INFINITY;
    }
    let u = (m[(0, 0)] * x + m[(0, 1)] * y + m[(0, 2)]) / w;
    let v = (m[(1, 0)] * x + m[(1, 1)] * y + m[(1, 2)]) / w;
    (u - pair.to.x).powi(2) + (v - pair.to.y).powi(2)
}

fn cost<A, B>(pairs: &[Pair<A, B>], among: &[usize], m: &Matrix3<f64>, tolerance: f64) -> f64 {
    let cap = tolerance * tolerance;
    (among.iter())
        .map(|i| square_distance(&pairs[*i], m).min(cap))
        .sum()
}

fn within<A, B>(
    pairs: &[Pair<A, B>],
    among: &[usize],
    m: &Matrix3<f64>,
    tolerance: f64,
) -> Vec<usize> {
    (among.iter().copied())
        .filter(|i| square_distance(&pairs[*i], m) < tolerance * tolerance)
        .collect()
}
