//! The flat level that most places found in both pictures lie on.
//!
//! Two photos of a board hold several: the board, the tops of its tall parts, the table under it.
//! A fit that only slides downhill from where it starts can settle between them.

use euclid::Point2D;
use nalgebra::{Matrix2x3, Matrix3, Vector3};
use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

use super::settle::{CROWDED, blocks_of, settle};
use crate::geometry::Homography;

/// Triples of places that are tried: with 1 in 4 places true, all of 400 miss three true ones with
/// a chance of 0.2 %.
const SAMPLES: usize = 400;

/// Of these, as many of the best are settled, each another than the rest: triples from one level
/// outnumber those from another.
const SETTLED: usize = 6;

/// Places farther than this share of the whole extent from each other span enough ...
const LEAST_SPAN: f64 = 0.15;

/// ... and this share of its square is the least area of a triple.
const LEAST_AREA: f64 = 0.01;

/// A plane near another is affine to it, to within this many tolerances.
const AFFINE_SLACK: f64 = 1.5;

/// Rounds of settling on the places that are near the level.
const ROUNDS: usize = 3;

/// Fewer places than this settle no level.
const LEAST_PLACES: usize = 8;

/// Seed of the draws; any number would do, but always the same.
const SEED: u64 = 0x6c65_7665;

/// Places found in both pictures.
#[derive(Debug, Clone, Copy)]
pub struct Places<'a, A, B> {
    /// In the first picture, px.
    pub from: &'a [Point2D<f64, A>],
    /// In the second, px.
    pub to: &'a [Point2D<f64, B>],
    /// What each counts.
    pub weight: &'a [f64],
}

/// A level and how much lies on it.
#[derive(Debug, Clone)]
pub struct Level<A, B> {
    /// From the first picture's pixels to the second's.
    pub fit: Homography<A, B>,
    /// The sum over blocks of the picture of what lies on it, a crowded block hardly more than
    /// another.
    pub support: f64,
}

/// The displacement of a place from where a fit puts it, in normalised coordinates.
struct Seen {
    at: Vector3<f64>,
    off: [f64; 2],
    weight: f64,
    block: usize,
}

/// The level that most places lie on to `tolerance` px, which is near `start`; that of `start`
/// itself where no other holds more. `None` where the places determine none.
#[must_use]
pub fn level<A: Send + Sync, B: Send + Sync>(
    places: &Places<'_, A, B>,
    start: &Homography<A, B>,
    tolerance: f64,
) -> Option<Level<A, B>> {
    let seen = seen(places, start)?;
    let count = seen.iter().map(|s| s.block).max()? + 1;
    let mut in_block: Vec<Vec<usize>> = vec![Vec::new(); count];
    for (i, s) in seen.iter().enumerate() {
        in_block[s.block].push(i);
    }
    let wide = AFFINE_SLACK * tolerance;
    let mut drawn = Vec::new();
    if count >= 3 {
        let mut rng = ChaCha8Rng::seed_from_u64(SEED);
        for _ in 0..SAMPLES {
            let three = [0; 3].map(|_| {
                let block = &in_block[rng.random_range(0..count)];
                &seen[block[rng.random_range(0..block.len())]]
            });
            drawn.extend(through(three));
        }
    }
    let mut tried: Vec<(f64, Matrix2x3<f64>)> = (drawn.par_iter())
        .map(|model| (held(&seen, model, wide, count), *model))
        .collect();
    tried.sort_by(|p, q| q.0.total_cmp(&p.0));
    let mut distinct = vec![Matrix2x3::zeros()];
    for (_, model) in &tried {
        if distinct.len() > SETTLED {
            break;
        }
        if distinct
            .iter()
            .all(|other| apart(model, other) > 2.0 * tolerance)
        {
            distinct.push(*model);
        }
    }
    let levels: Vec<Level<A, B>> = (distinct.par_iter())
        .filter_map(|model| settled(places, start, &seen, model, tolerance))
        .collect();
    (levels.into_iter()).reduce(|best, other| {
        if other.support > best.support {
            other
        } else {
            best
        }
    })
}

/// What lies on a fit to `tolerance` px: as [`Level::support`].
#[must_use]
pub fn support<A, B>(places: &Places<'_, A, B>, fit: &Homography<A, B>, tolerance: f64) -> f64 {
    seen(places, fit).map_or(0.0, |seen| {
        let count = seen
            .iter()
            .map(|s| s.block)
            .max()
            .map_or(0, |most| most + 1);
        held(&seen, &Matrix2x3::zeros(), tolerance, count)
    })
}

fn seen<A, B>(places: &Places<'_, A, B>, start: &Homography<A, B>) -> Option<Vec<Seen>> {
    let blocks = blocks_of(places.from);
    let bounds = euclid::Box2D::from_points(places.from.iter().copied());
    let size = bounds.width().max(bounds.height());
    if size <= 0.0 {
        return None;
    }
    let middle = bounds.center();
    (places
        .from
        .iter()
        .zip(places.to)
        .zip(places.weight)
        .zip(blocks))
    .map(|(((from, to), weight), block)| {
        let at = (*from - middle) / size;
        let off = *to - start.apply(*from)?;
        Some(Seen {
            at: Vector3::new(at.x, at.y, 1.0),
            off: [off.x, off.y],
            weight: *weight,
            block,
        })
    })
    .collect()
}

/// Greatest distance between two displacements at the corners of the extent.
fn apart(one: &Matrix2x3<f64>, other: &Matrix2x3<f64>) -> f64 {
    let difference = one - other;
    [(-0.5, -0.5), (-0.5, 0.5), (0.5, -0.5), (0.5, 0.5)]
        .map(|(x, y)| (difference * Vector3::new(x, y, 1.0)).norm())
        .into_iter()
        .fold(0.0, f64::max)
}

/// The affine displacement through three places.
fn through(three: [&Seen; 3]) -> Option<Matrix2x3<f64>> {
    let at = three.map(|s| s.at);
    let apart = |p: &Vector3<f64>, q: &Vector3<f64>| (p.x - q.x).hypot(p.y - q.y);
    if apart(&at[0], &at[1])
        .min(apart(&at[1], &at[2]))
        .min(apart(&at[0], &at[2]))
        < LEAST_SPAN
    {
        return None;
    }
    let from = Matrix3::from_columns(&at);
    if from.determinant().abs() < 2.0 * LEAST_AREA {
        return None;
    }
    let to = Matrix2x3::from_fn(|row, column| three[column].off[row]);
    Some(to * from.try_inverse()?)
}

fn miss(s: &Seen, model: &Matrix2x3<f64>) -> f64 {
    let x = model[(0, 0)] * s.at.x + model[(0, 1)] * s.at.y + model[(0, 2)] - s.off[0];
    let y = model[(1, 0)] * s.at.x + model[(1, 1)] * s.at.y + model[(1, 2)] - s.off[1];
    x * x + y * y
}

fn held(seen: &[Seen], model: &Matrix2x3<f64>, tolerance: f64, count: usize) -> f64 {
    let mut blocks = vec![0.0; count];
    let square = tolerance * tolerance;
    for s in seen {
        blocks[s.block] += s.weight * (1.0 - miss(s, model) / square).max(0.0);
    }
    blocks.iter().map(|held| held / (CROWDED + held)).sum()
}

/// The level near an affine displacement from `start`.
fn settled<A, B>(
    places: &Places<'_, A, B>,
    start: &Homography<A, B>,
    seen: &[Seen],
    model: &Matrix2x3<f64>,
    tolerance: f64,
) -> Option<Level<A, B>> {
    let square = (2.0 * AFFINE_SLACK * tolerance).powi(2);
    let mut kept: Vec<usize> = (0..seen.len())
        .filter(|i| miss(&seen[*i], model) < square)
        .collect();
    if kept.len() < LEAST_PLACES {
        return None;
    }
    let mut fit = *start;
    for _ in 0..ROUNDS {
        let from: Vec<_> = kept.iter().map(|i| places.from[*i]).collect();
        let to: Vec<_> = kept.iter().map(|i| places.to[*i]).collect();
        let weight: Vec<_> = kept.iter().map(|i| places.weight[*i]).collect();
        fit = settle(&from, &to, Some(&weight), &fit, tolerance)?;
        let off = |i: &usize| Some((fit.apply(places.from[*i])? - places.to[*i]).length());
        kept = (0..seen.len())
            .filter(|i| off(i).is_some_and(|off| off < 2.0 * tolerance))
            .collect();
        if kept.len() < LEAST_PLACES {
            return None;
        }
    }
    let support = support(places, &fit, tolerance);
    Some(Level { fit, support })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::{PhotoA, PhotoB};

    type At<S> = Point2D<f64, S>;

    /// Places on two levels, `share` of them on the first, and some that lie anywhere; the second
    /// level is shifted and turned by a little.
    fn two_levels(share: f64) -> (Vec<At<PhotoA>>, Vec<At<PhotoB>>) {
        let mut rng = ChaCha8Rng::seed_from_u64(7);
        (0..900)
            .map(|_| {
                let (x, y) = (rng.random_range(0.0..900.0), rng.random_range(0.0..600.0));
                let jitter = [0; 2].map(|_| rng.random_range(-0.5..0.5));
                let to = if rng.random_range(0.0..1.0) < 0.3 {
                    [0; 2].map(|_| rng.random_range(-12.0..12.0))
                } else if rng.random_range(0.0..1.0) < share {
                    [0.0; 2]
                } else {
                    [5.0 + 0.004 * y, 3.0 - 0.004 * x]
                };
                let to = Point2D::new(x + to[0] + jitter[0], y + to[1] + jitter[1]);
                (Point2D::new(x, y), to)
            })
            .unzip()
    }

    #[test]
    fn the_level_that_holds_more_is_found_from_either() {
        for (share, [x, y]) in [(0.65, [0.0, 0.0]), (0.35, [6.2, 1.2])] {
            let (from, to) = two_levels(share);
            let weight = vec![1.0; from.len()];
            let places = Places {
                from: &from,
                to: &to,
                weight: &weight,
            };
            for start in [[0.0, 0.0], [6.2, 1.2]] {
                let [right, down] = start;
                let start =
                    Homography::from_rows([[1.0, 0.0, right], [0.0, 1.0, down], [0.0, 0.0, 1.0]])
                        .unwrap();
                let found = level(&places, &start, 1.5).unwrap();
                let at = found.fit.apply(Point2D::new(450.0, 300.0)).unwrap();
                let off = (at - Point2D::new(450.0 + x, 300.0 + y)).length();
                assert!(off < 0.3, "{share}: {off} px from {start:?}");
                assert!(found.support >= support(&places, &start, 1.5));
            }
        }
    }

    #[test]
    fn places_on_a_line_or_too_few_determine_no_level() {
        let start: Homography<PhotoA, PhotoB> =
            Homography::from_rows([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]).unwrap();
        let from: Vec<_> = (0..5).map(|k| Point2D::new(f64::from(k), 0.0)).collect();
        let to: Vec<_> = from.iter().map(|p| Point2D::new(p.x, p.y)).collect();
        let weight = [1.0; 5];
        let places = Places {
            from: &from,
            to: &to,
            weight: &weight,
        };
        assert!(level(&places, &start, 1.5).is_none());
        let nothing = Places {
            from: &from[..0],
            to: &to[..0],
            weight: &weight[..0],
        };
        assert!(level(&nothing, &start, 1.5).is_none());
    }
}
