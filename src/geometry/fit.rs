//! Least-squares fits of plane-to-plane transforms to point pairs.

use euclid::{Point2D, Vector2D};
use nalgebra::{DMatrix, Matrix3, SMatrix, SVector};
use thiserror::Error;

use super::{Homography, HomographyError};

/// Refinement stops after this many steps; exact and noisy sets need 3 to 10.
const MAX_STEPS: usize = 50;

/// Refinement stops when a step changes no coefficient by more than this (the coefficients are
/// of order 1 after normalising), which is some 1e-10 px in a photograph.
const STEP_DONE: f64 = 1e-14;

/// Smallest spread of a point set against its distance from the origin of its plane: below it
/// the points are one point as far as double precision is concerned.
const MIN_SPREAD: f64 = 1e-12;

/// Why points do not determine a transform.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum FitError {
    /// The lists differ in length.
    #[error("{from} points are paired with {to} points")]
    Unpaired {
        /// Points in the source plane.
        from: usize,
        /// Points (or weights) in the other list.
        to: usize,
    },
    /// Fewer points than the transform has freedom for.
    #[error("{given} points were given and {needed} are needed")]
    TooFew {
        /// Least number of points.
        needed: usize,
        /// Number given.
        given: usize,
    },
    /// A coordinate or weight is NaN or infinite, or a weight is negative.
    #[error("a coordinate is not a finite number")]
    NotFinite,
    /// The points lie in one place or on one line (for a homography: all but one do).
    #[error("the points do not span an area")]
    Degenerate,
    /// The fitted matrix is no usable transform.
    #[error(transparent)]
    Matrix(#[from] HomographyError),
}

/// Whether a transform keeps or reverses the sense of rotation of a plane.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Handed {
    /// Positive determinant.
    Same,
    /// Negative determinant: a mirror image.
    Mirrored,
}

/// Fits a homography to four or more point pairs: normalised direct linear transform
/// (Hartley 1997, "In defense of the eight-point algorithm"), then Levenberg-Marquardt on the
/// distances in the target plane.
///
/// `weights`, where given, are one non-negative number for each pair, multiplying its squared
/// distance. Four pairs are met exactly.
///
/// # Errors
/// [`FitError`] for unpaired, too few, non-finite or degenerate points.
pub fn fit_homography<Src, Dst>(
    from: &[Point2D<f64, Src>],
    to: &[Point2D<f64, Dst>],
    weights: Option<&[f64]>,
) -> Result<Homography<Src, Dst>, FitError> {
    let weights = checked(from, to, weights, 4)?;
    let (source, target) = (Normal::of(from, &weights)?, Normal::of(to, &weights)?);
    let pairs: Vec<Pair> = (from.iter().zip(to).zip(&weights))
        .map(|((&f, &t), &w)| Pair {
            from: source.inward(f),
            to: target.inward(t),
            weight: w,
        })
        .collect();
    let start = direct_linear(&pairs).ok_or(FitError::Degenerate)?;
    let best = refine(&pairs, start);
    unnormalise(&best, &source, &target)
}

/// Fits an affine transform to three or more point pairs by least squares.
///
/// # Errors
/// As [`fit_homography`].
pub fn fit_affine<Src, Dst>(
    from: &[Point2D<f64, Src>],
    to: &[Point2D<f64, Dst>],
    weights: Option<&[f64]>,
) -> Result<Homography<Src, Dst>, FitError> {
    let weights = checked(from, to, weights, 3)?;
    let (source, target) = (Normal::of(from, &weights)?, Normal::of(to, &weights)?);
    let mut normal = SMatrix::<f64, 3, 3>::zeros();
    let mut right = SMatrix::<f64, 3, 2>::zeros();
    for ((&f, &t), &w) in from.iter().zip(to).zip(&weights) {
        let (f, t) = (source.inward(f), target.inward(t));
        let row = SVector::<f64, 3>::new(f[0], f[1], 1.0);
        normal += row * row.transpose() * w;
        right += row * nalgebra::RowVector2::new(t[0], t[1]) * w;
    }
    let solved = (normal.cholesky())
        .filter(|c| c.l()[(0, 0)].min(c.l()[(1, 1)]) > 1e-7 * normal.amax().sqrt())
        .ok_or(FitError::Degenerate)?
        .solve(&right);
    let matrix = Matrix3::new(
        solved[(0, 0)],
        solved[(1, 0)],
        solved[(2, 0)],
        solved[(0, 1)],
        solved[(1, 1)],
        solved[(2, 1)],
        0.0,
        0.0,
        1.0,
    );
    unnormalise(&matrix, &source, &target)
}

/// Fits turn, uniform scale and shift (a similarity) of known handedness to two or more point
/// pairs by least squares.
///
/// # Errors
/// As [`fit_homography`].
pub fn fit_similarity<Src, Dst>(
    from: &[Point2D<f64, Src>],
    to: &[Point2D<f64, Dst>],
    weights: Option<&[f64]>,
    handed: Handed,
) -> Result<Homography<Src, Dst>, FitError> {
    let weights = checked(from, to, weights, 2)?;
    let (source, target) = (Normal::of(from, &weights)?, Normal::of(to, &weights)?);
    let flip = if handed == Handed::Mirrored {
        -1.0
    } else {
        1.0
    };
    let (mut re, mut im, mut power) = (0.0, 0.0, 0.0);
    for ((&f, &t), &w) in from.iter().zip(to).zip(&weights) {
        let (f, t) = (source.inward(f), target.inward(t));
        let fy = f[1] * flip;
        re += w * (f[0] * t[0] + fy * t[1]);
        im += w * (f[0] * t[1] - fy * t[0]);
        power += w * (f[0] * f[0] + fy * fy);
    }
    let (re, im) = (re / power, im / power);
    let matrix = Matrix3::new(re, -im * flip, 0.0, im, re * flip, 0.0, 0.0, 0.0, 1.0);
    unnormalise(&matrix, &source, &target)
}

fn checked<Src, Dst>(
    from: &[Point2D<f64, Src>],
    to: &[Point2D<f64, Dst>],
    weights: Option<&[f64]>,
    needed: usize,
) -> Result<Vec<f64>, FitError> {
    if from.len() != to.len() {
        return Err(FitError::Unpaired {
            from: from.len(),
            to: to.len(),
        });
    }
    let weights = weights.map_or_else(|| vec![1.0; from.len()], <[f64]>::to_vec);
    if weights.len() != from.len() {
        return Err(FitError::Unpaired {
            from: from.len(),
            to: weights.len(),
        });
    }
    let finite = from.iter().all(|p| p.x.is_finite() && p.y.is_finite())
        && to.iter().all(|p| p.x.is_finite() && p.y.is_finite())
        && weights.iter().all(|w| w.is_finite() && *w >= 0.0);
    if !finite {
        return Err(FitError::NotFinite);
    }
    let given = weights.iter().filter(|w| **w > 0.0).count();
    if given < needed {
        return Err(FitError::TooFew { needed, given });
    }
    Ok(weights)
}

/// Shift to the centroid and scale to a mean distance of sqrt 2.
struct Normal {
    centre: [f64; 2],
    scale: f64,
}

impl Normal {
    fn of<Plane>(points: &[Point2D<f64, Plane>], weights: &[f64]) -> Result<Self, FitError> {
        let total: f64 = weights.iter().sum();
        let mut sum = Vector2D::<f64, Plane>::zero();
        for (point, weight) in points.iter().zip(weights) {
            sum += point.to_vector() * *weight;
        }
        let centre = (sum / total).to_point();
        let spread = (points.iter().zip(weights))
            .map(|(point, weight)| (*point - centre).length() * weight)
            .sum::<f64>()
            / total;
        if !spread.is_finite() || spread <= MIN_SPREAD * (1.0 + centre.to_vector().length()) {
            return Err(FitError::Degenerate);
        }
        Ok(Self {
            centre: [centre.x, centre.y],
            scale: std::f64::consts::SQRT_2 / spread,
        })
    }

    fn inward<Plane>(&self, point: Point2D<f64, Plane>) -> [f64; 2] {
        [
            (point.x - self.centre[0]) * self.scale,
            (point.y - self.centre[1]) * self.scale,
        ]
    }

    fn matrix(&self) -> Matrix3<f64> {
        let s = self.scale;
        let [x, y] = self.centre;
        Matrix3::new(s, 0.0, -s * x, 0.0, s, -s * y, 0.0, 0.0, 1.0)
    }

    fn inverse(&self) -> Matrix3<f64> {
        let s = 1.0 / self.scale;
        let [x, y] = self.centre;
        Matrix3::new(s, 0.0, x, 0.0, s, y, 0.0, 0.0, 1.0)
    }
}

fn unnormalise<Src, Dst>(
    matrix: &Matrix3<f64>,
    source: &Normal,
    target: &Normal,
) -> Result<Homography<Src, Dst>, FitError> {
    let whole = target.inverse() * matrix * source.matrix();
    Ok(Homography::from_matrix(whole)?)
}

struct Pair {
    from: [f64; 2],
    to: [f64; 2],
    weight: f64,
}

/// The algebraic solution, scaled so that h33 (the weight of the centroid) is 1.
fn direct_linear(pairs: &[Pair]) -> Option<Matrix3<f64>> {
    let mut normal = DMatrix::<f64>::zeros(9, 9);
    for pair in pairs {
        let ([x, y], [u, v]) = (pair.from, pair.to);
        for row in [
            [x, y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y, -u],
            [0.0, 0.0, 0.0, x, y, 1.0, -v * x, -v * y, -v],
        ] {
            let row = SVector::<f64, 9>::from(row);
            normal += row * row.transpose() * pair.weight;
        }
    }
    let eigen = normal.symmetric_eigen();
    let mut order: Vec<usize> = (0..9).collect();
    order.sort_by(|a, b| eigen.eigenvalues[*a].total_cmp(&eigen.eigenvalues[*b]));
    // A second null direction: the points leave the transform open.
    if eigen.eigenvalues[order[1]] < 1e-12 * eigen.eigenvalues[order[8]] {
        return None;
    }
    let h = eigen.eigenvectors.column(order[0]);
    let matrix = Matrix3::from_row_iterator(h.iter().copied());
    let last = matrix[(2, 2)];
    (last.abs() > 1e-9 * matrix.amax()).then(|| matrix / last)
}

/// Weighted sum of squared distances, or `None` where a point comes on the horizon.
fn cost(pairs: &[Pair], h: &Matrix3<f64>) -> Option<f64> {
    let mut sum = 0.0;
    for pair in pairs {
        let (u, v, _) = project(h, pair.from)?;
        sum += pair.weight * ((u - pair.to[0]).powi(2) + (v - pair.to[1]).powi(2));
    }
    sum.is_finite().then_some(sum)
}

fn project(h: &Matrix3<f64>, [x, y]: [f64; 2]) -> Option<(f64, f64, f64)> {
    let w = h[(2, 0)] * x + h[(2, 1)] * y + h[(2, 2)];
    (w.abs() > 1e-12).then(|| {
        (
            (h[(0, 0)] * x + h[(0, 1)] * y + h[(0, 2)]) / w,
            (h[(1, 0)] * x + h[(1, 1)] * y + h[(1, 2)]) / w,
            w,
        )
    })
}

/// Levenberg-Marquardt over the eight coefficients with h33 = 1 (normalised coordinates).
fn refine(pairs: &[Pair], start: Matrix3<f64>) -> Matrix3<f64> {
    let mut best = start;
    let Some(mut least) = cost(pairs, &best) else {
        return best;
    };
    let mut damping = 1e-9;
    for _ in 0..MAX_STEPS {
        let Some((normal, gradient)) = normal_equations(pairs, &best) else {
            break;
        };
        let mut damped = normal;
        for i in 0..8 {
            damped[(i, i)] *= 1.0 + damping;
        }
        let Some(step) = damped.cholesky().map(|c| c.solve(&gradient)) else {
            damping = f64::max(damping * 10.0, 1e-6);
            continue;
        };
        let mut next = best;
        for i in 0..8 {
            next[(i / 3, i % 3)] -= step[i];
        }
        match cost(pairs, &next) {
            Some(value) if value <= least => {
                (best, least) = (next, value);
                damping = f64::max(damping / 10.0, 1e-15);
            }
            _ if step.amax() < 1e-9 => break,
            _ => damping = f64::max(damping * 10.0, 1e-6),
        }
        if step.amax() < STEP_DONE || damping > 1e12 {
            break;
        }
    }
    best
}

fn normal_equations(
    pairs: &[Pair],
    h: &Matrix3<f64>,
) -> Option<(SMatrix<f64, 8, 8>, SVector<f64, 8>)> {
    let mut normal = SMatrix::<f64, 8, 8>::zeros();
    let mut gradient = SVector::<f64, 8>::zeros();
    for pair in pairs {
        let (u, v, w) = project(h, pair.from)?;
        let [row_u, row_v] = rows(pair.from, (u, v), w);
        normal += (row_u * row_u.transpose() + row_v * row_v.transpose()) * pair.weight;
        gradient += (row_u * (u - pair.to[0]) + row_v * (v - pair.to[1])) * pair.weight;
    }
    Some((normal, gradient))
}

/// Derivatives of the image (u, v) of a point by the eight coefficients h11..h32.
pub(super) fn rows([x, y]: [f64; 2], (u, v): (f64, f64), w: f64) -> [SVector<f64, 8>; 2] {
    let (x, y, one) = (x / w, y / w, 1.0 / w);
    [
        SVector::from([x, y, one, 0.0, 0.0, 0.0, -u * x, -u * y]),
        SVector::from([0.0, 0.0, 0.0, x, y, one, -v * x, -v * y]),
    ]
}

#[cfg(test)]
mod tests;
