//! A fit settled on most of its points, with the bend of the second picture's lens.

use euclid::{Point2D, Vector2D};
use nalgebra::{Matrix3, SMatrix, SVector};

use super::settle::{TILT_COST, blocks_of, cauchy, evened, normal};
use crate::geometry::{Homography, Lens};

/// Steps; the fit is settled after five or six.
const STEPS: usize = 12;

/// A step that changes no coefficient by more than this (they are of order 1) is the last.
const DONE: f64 = 1e-9;

/// Strongest bend that is taken for a lens.
const MOST_BEND: f64 = 0.1;

/// A homography and the lens that bends what it gives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bent<A, B> {
    /// From the first picture to where the second would have things without its lens.
    pub fit: Homography<A, B>,
    /// The lens of the second picture.
    pub lens: Lens,
}

impl<A, B> Bent<A, B> {
    /// Where the second picture has what the first has at `at`.
    #[must_use]
    pub fn apply(&self, at: Point2D<f64, A>) -> Option<Point2D<f64, B>> {
        self.lens.bend(self.fit.apply(at)?)
    }
}

/// As [`settle`](super::settle), with one radial coefficient of the lens of the second picture,
/// which is `size` px. Gauss-Newton steps on distances in the second picture.
///
/// `None` where the pairs determine none, or bend more than a lens does.
#[must_use]
pub fn settle_bent<A, B>(
    from: &[Point2D<f64, A>],
    to: &[Point2D<f64, B>],
    prior: &[f64],
    start: &Homography<A, B>,
    size: [u32; 2],
    width: f64,
) -> Option<Bent<A, B>> {
    let mut bent = Bent {
        fit: *start,
        lens: Lens::new(size, 0.0).ok()?,
    };
    let blocks = blocks_of(from);
    for _ in 0..STEPS {
        let (next, moved) = step(&bent, from, to, prior, &blocks, width)?;
        bent = next;
        if moved < DONE {
            break;
        }
    }
    Some(bent)
}

fn step<A, B>(
    bent: &Bent<A, B>,
    from: &[Point2D<f64, A>],
    to: &[Point2D<f64, B>],
    prior: &[f64],
    blocks: &[usize],
    width: f64,
) -> Option<(Bent<A, B>, f64)> {
    let off = |(f, t): (&Point2D<f64, A>, &Point2D<f64, B>)| {
        bent.apply(*f)
            .map_or(f64::INFINITY, |at| (at - *t).length())
    };
    let mut weights: Vec<f64> = (from.iter().zip(to).map(off).zip(prior))
        .map(|(off, prior)| prior * cauchy(off, width))
        .collect();
    evened(blocks, &mut weights);
    let (out_a, out_b) = (normal(from, &weights)?, normal(to, &weights)?);
    let in_a = out_a.try_inverse()?;
    // Coordinates of the first picture are normalised, those of the second are px.
    let fit = Homography::<A, B>::from_matrix(bent.fit.matrix() * in_a).ok()?;
    let m = fit.matrix();
    let scale = out_b[(0, 0)];
    let mut sum = SMatrix::<f64, 9, 9>::zeros();
    let mut right = SVector::<f64, 9>::zeros();
    let mut total = 0.0;
    for ((f, t), weight) in from.iter().zip(to).zip(&weights) {
        let (x, y) = (
            out_a[(0, 0)] * f.x + out_a[(0, 2)],
            out_a[(0, 0)] * f.y + out_a[(1, 2)],
        );
        let depth = m[(2, 0)] * x + m[(2, 1)] * y + 1.0;
        let flat = fit.apply(Point2D::new(x, y));
        let (Some(flat), Some(seen)) = (flat, flat.and_then(|flat| bent.lens.bend(flat))) else {
            continue;
        };
        let along = |dx: f64, dy: f64| bent.lens.bend_step(flat, Vector2D::new(dx, dy));
        let (across, down) = (along(1.0 / depth, 0.0), along(0.0, 1.0 / depth));
        let tilt = along(-flat.x / depth, -flat.y / depth);
        let bend = bent.lens.bend_per_k(flat);
        let columns = [
            across * x,
            across * y,
            across,
            down * x,
            down * y,
            down,
            tilt * x,
            tilt * y,
            bend,
        ];
        let miss = *t - seen;
        for (row, miss) in [
            (SVector::from(columns.map(|c| c.x * scale)), miss.x * scale),
            (SVector::from(columns.map(|c| c.y * scale)), miss.y * scale),
        ] {
            sum.ger(*weight, &row, &row, 1.0);
            right += row * (weight * miss);
        }
        total += weight;
    }
    for tilt in [6, 7] {
        sum[(tilt, tilt)] += TILT_COST * total;
        right[tilt] -= TILT_COST * total * m[(2, tilt - 6)];
    }
    // Columns of px beside columns of half diagonals: evened before they are solved for.
    let even = SVector::<f64, 9>::from_fn(|i, _| 1.0 / sum[(i, i)].sqrt().max(1e-300));
    let evened = SMatrix::<f64, 9, 9>::from_fn(|i, j| sum[(i, j)] * even[i] * even[j]);
    let change = (evened.cholesky()?.solve(&right.component_mul(&even))).component_mul(&even);
    let k = bent.lens.k() + change[8];
    if !(-MOST_BEND..=MOST_BEND).contains(&k) {
        return None;
    }
    let d = |i: usize| change[i];
    let matrix = m + Matrix3::new(d(0), d(1), d(2), d(3), d(4), d(5), d(6), d(7), 0.0);
    let moved = (0..9)
        .map(|i| (change[i] / even[i]).abs())
        .fold(0.0, f64::max);
    let next = Bent {
        fit: Homography::from_matrix(matrix * out_a).ok()?,
        lens: Lens::new(bent.lens.size(), k).ok()?,
    };
    Some((next, moved / total.sqrt()))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::geometry::{PhotoA, PhotoB};

    type At<S> = Point2D<f64, S>;

    fn truth(k: f64) -> Bent<PhotoA, PhotoB> {
        Bent {
            fit: Homography::from_rows([
                [0.9, 0.12, 150.0],
                [-0.1, 0.93, 260.0],
                [1.5e-5, -1e-5, 1.0],
            ])
            .unwrap(),
            lens: Lens::new([4000, 3000], k).unwrap(),
        }
    }

    /// Places all over the first picture, as the second has them; each third of them is wrong.
    fn pairs(k: f64, noise: f64) -> (Vec<At<PhotoA>>, Vec<At<PhotoB>>) {
        let truth = truth(k);
        (0..900)
            .map(|i| {
                let (x, y) = (f64::from(i % 30), f64::from(i / 30));
                let from = Point2D::new(60.0 + 130.0 * x, 40.0 + 95.0 * y);
                let turn = f64::from(i) * 2.399;
                let far = if i % 3 == 0 { 30.0 } else { noise };
                let by = Vector2D::new(turn.cos() * far, turn.sin() * far);
                (from, truth.apply(from).unwrap() + by)
            })
            .unzip()
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(24))]
        #[test]
        fn the_bend_is_found_though_a_third_is_wrong(k in -0.04..0.04f64) {
            let (from, to) = pairs(k, 0.7);
            let start = truth(0.0).fit;
            let prior = vec![1.0; from.len()];
            let found = settle_bent(&from, &to, &prior, &start, [4000, 3000], 3.0).unwrap();
            prop_assert!((found.lens.k() - k).abs() < 4e-4, "{} for {k}", found.lens.k());
            for at in [[60.0, 40.0], [3900.0, 60.0], [2000.0, 1500.0], [100.0, 2800.0]] {
                let at = Point2D::from(at);
                let off = (found.apply(at).unwrap() - truth(k).apply(at).unwrap()).length();
                prop_assert!(off < 1.0, "{off} px at {at:?}");
            }
        }
    }

    #[test]
    fn two_places_say_nothing() {
        let (from, to) = pairs(0.01, 0.0);
        let few = settle_bent(
            &from[..2],
            &to[..2],
            &[1.0; 2],
            &truth(0.0).fit,
            [4000, 3000],
            3.0,
        );
        assert_eq!(few, None);
    }
}
