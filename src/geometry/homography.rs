//! The projective transform between two typed planes.

use std::marker::PhantomData;

use euclid::{Point2D, Vector2D};
use nalgebra::{Matrix3, Vector3};
use thiserror::Error;

/// Why a matrix is not usable as a plane-to-plane transform.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum HomographyError {
    /// A coefficient is NaN or infinite.
    #[error("a coefficient of the transform is not a finite number")]
    NotFinite,
    /// The matrix cannot be inverted, or its last coefficient is (nearly) zero.
    #[error("the transform folds the plane onto a line; choose points that span an area")]
    Singular,
}

/// An invertible projective transform from plane `Src` to plane `Dst`.
///
/// The matrix is kept scaled so that its last coefficient (h33) is 1.
#[derive(Debug)]
pub struct Homography<Src, Dst> {
    matrix: Matrix3<f64>,
    spaces: PhantomData<fn(Src) -> Dst>,
}

impl<Src, Dst> Clone for Homography<Src, Dst> {
    fn clone(&self) -> Self {
        *self
    }
}

impl<Src, Dst> Copy for Homography<Src, Dst> {}

impl<Src, Dst> PartialEq for Homography<Src, Dst> {
    fn eq(&self, other: &Self) -> bool {
        self.matrix == other.matrix
    }
}

impl<Src, Dst> Homography<Src, Dst> {
    /// Takes a row-major 3x3 matrix and scales it to h33 = 1.
    ///
    /// # Errors
    /// [`HomographyError`] where a coefficient is not finite or the matrix is singular.
    pub fn from_rows(rows: [[f64; 3]; 3]) -> Result<Self, HomographyError> {
        let matrix = Matrix3::from_fn(|row, column| rows[row][column]);
        Self::from_matrix(matrix)
    }

    /// Takes any non-zero multiple of the matrix; see [`Self::from_rows`].
    ///
    /// # Errors
    /// As [`Self::from_rows`].
    pub fn from_matrix(matrix: Matrix3<f64>) -> Result<Self, HomographyError> {
        if matrix.iter().any(|value| !value.is_finite()) {
            return Err(HomographyError::NotFinite);
        }
        let largest = matrix.amax();
        if largest == 0.0 || (matrix[(2, 2)] / largest).abs() < 1e-12 {
            return Err(HomographyError::Singular);
        }
        let matrix = matrix / matrix[(2, 2)];
        match matrix.try_inverse() {
            Some(inverse) if inverse.iter().all(|value| value.is_finite()) => Ok(Self {
                matrix,
                spaces: PhantomData,
            }),
            _ => Err(HomographyError::Singular),
        }
    }

    /// The coefficients, row-major, h33 = 1.
    #[must_use]
    pub fn rows(&self) -> [[f64; 3]; 3] {
        std::array::from_fn(|row| std::array::from_fn(|column| self.matrix[(row, column)]))
    }

    /// The matrix, h33 = 1.
    #[must_use]
    pub fn matrix(&self) -> &Matrix3<f64> {
        &self.matrix
    }

    /// Where `point` lands, or `None` on or behind the horizon (w <= 0, with w = 1 at the source origin).
    #[must_use]
    pub fn apply(&self, point: Point2D<f64, Src>) -> Option<Point2D<f64, Dst>> {
        let image = self.matrix * Vector3::new(point.x, point.y, 1.0);
        (image.z > 1e-12).then(|| Point2D::new(image.x / image.z, image.y / image.z))
    }

    /// The inverse transform.
    ///
    /// # Errors
    /// [`HomographyError::Singular`] where the inverse cannot be scaled to h33 = 1
    /// (the origin of `Dst` lies on the horizon).
    pub fn inverse(&self) -> Result<Homography<Dst, Src>, HomographyError> {
        let inverse = self.matrix.try_inverse().ok_or(HomographyError::Singular)?;
        Homography::from_matrix(inverse)
    }

    /// First `self`, then `next`.
    ///
    /// # Errors
    /// As [`Self::from_rows`].
    pub fn then<End>(
        &self,
        next: &Homography<Dst, End>,
    ) -> Result<Homography<Src, End>, HomographyError> {
        Homography::from_matrix(next.matrix * self.matrix)
    }

    /// The local linear map at `point`: columns are the images of the unit vectors.
    #[must_use]
    pub fn jacobian(&self, point: Point2D<f64, Src>) -> Option<[Vector2D<f64, Dst>; 2]> {
        let image = self.apply(point)?;
        let m = &self.matrix;
        let w = m[(2, 0)] * point.x + m[(2, 1)] * point.y + 1.0;
        let column = |c: usize| {
            Vector2D::new(
                (m[(0, c)] - image.x * m[(2, c)]) / w,
                (m[(1, c)] - image.y * m[(2, c)]) / w,
            )
        };
        Some([column(0), column(1)])
    }

    /// Signed area magnification at `point`: negative where the transform mirrors.
    #[must_use]
    pub fn determinant_at(&self, point: Point2D<f64, Src>) -> Option<f64> {
        let [x, y] = self.jacobian(point)?;
        Some(x.x * y.y - x.y * y.x)
    }

    /// Mean linear magnification at `point` (for board to photo: px/mm).
    #[must_use]
    pub fn scale_at(&self, point: Point2D<f64, Src>) -> Option<f64> {
        Some(self.determinant_at(point)?.abs().sqrt())
    }

    /// Angle in degrees between the line of sight and the normal of the plane at `point`, where `Src` is a plane
    /// and `Dst` a photo of it: 0 is seen squarely. It is the angle whose cosine is the ratio of least to
    /// greatest stretch, which holds for a distant camera; near the edge of a wide photo it is a few degrees off.
    #[must_use]
    pub fn tilt_deg_at(&self, point: Point2D<f64, Src>) -> Option<f64> {
        tilt_deg(self.jacobian(point)?)
    }
}

/// The angle whose cosine is the ratio of least to greatest stretch of a local map with these
/// columns, degrees.
pub(super) fn tilt_deg<Dst>([a, b]: [Vector2D<f64, Dst>; 2]) -> Option<f64> {
    // Sum and difference of the singular values of a 2 x 2 matrix, the greater is the sum: no
    // rounding is enlarged where they are nearly equal.
    let one = (a.x + b.y).hypot(a.y - b.x);
    let other = (a.x - b.y).hypot(a.y + b.x);
    // 1 - cos t = 2 sin^2 (t / 2), and the ratio is (sum - difference) / (sum + difference).
    let half_sine = (one.min(other) / (one + other)).sqrt();
    half_sine
        .is_finite()
        .then(|| (2.0 * half_sine.min(1.0).asin()).to_degrees())
}

impl<Src, Dst> serde::Serialize for Homography<Src, Dst> {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.rows().serialize(serializer)
    }
}

impl<'de, Src, Dst> serde::Deserialize<'de> for Homography<Src, Dst> {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let rows = <[[f64; 3]; 3]>::deserialize(deserializer)?;
        Self::from_rows(rows).map_err(serde::de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::geometry::{BoardMm, BoardPoint, PhotoPx};

    type BoardToPhoto = Homography<BoardMm, PhotoPx>;

    #[test]
    fn worked_values() {
        // Worked values, computed independently of this code.
        let h =
            BoardToPhoto::from_rows([[10.0, 0.5, 100.0], [-0.2, 9.0, 80.0], [0.002, 0.001, 1.0]])
                .unwrap();
        for (x, y, u, v) in [
            (0.0, 0.0, 100.0, 80.0),
            (100.0, 0.0, 916.666_667, 50.0),
            (100.0, 60.0, 896.825_397, 476.190_476),
            (0.0, 60.0, 122.641_509, 584.905_660),
            (50.0, 30.0, 544.247_788, 300.884_956),
        ] {
            let image = h.apply(BoardPoint::new(x, y)).unwrap();
            assert!(
                (image.x - u).abs() < 1e-6 && (image.y - v).abs() < 1e-6,
                "{image:?}"
            );
        }
    }

    #[test]
    fn refuses_nonsense() {
        assert_eq!(
            BoardToPhoto::from_rows([[f64::NAN, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]),
            Err(HomographyError::NotFinite)
        );
        assert_eq!(
            BoardToPhoto::from_rows([[1.0, 2.0, 0.0], [2.0, 4.0, 0.0], [0.0, 0.0, 1.0]]),
            Err(HomographyError::Singular)
        );
    }

    #[test]
    fn sign_tells_the_side() {
        // y up to y down mirrors: the component side has a negative determinant.
        let component =
            BoardToPhoto::from_rows([[10.0, 0.0, 0.0], [0.0, -10.0, 900.0], [0.0, 0.0, 1.0]])
                .unwrap();
        assert!(component.determinant_at(BoardPoint::new(3.0, 4.0)).unwrap() < 0.0);
        assert_eq!(component.scale_at(BoardPoint::new(3.0, 4.0)), Some(10.0));
    }

    proptest! {
        /// A plane turned away from a far camera by a known angle, then turned and scaled in the picture.
        #[test]
        fn the_tilt_of_a_far_view_is_found(
            tilt in 0.0..80.0_f64, lean in 0.0..360.0_f64, turn in 0.0..360.0_f64, scale in 0.1..50.0_f64,
        ) {
            let (l, t) = (lean.to_radians(), turn.to_radians());
            let short = tilt.to_radians().cos();
            let (lean_in, squeeze) = (
                Matrix3::new(l.cos(), l.sin(), 0.0, -l.sin(), l.cos(), 0.0, 0.0, 0.0, 1.0),
                Matrix3::new(scale, 0.0, 0.0, 0.0, scale * short, 0.0, 0.0, 0.0, 1.0),
            );
            let turned = Matrix3::new(t.cos(), -t.sin(), 30.0, t.sin(), t.cos(), 40.0, 0.0, 0.0, 1.0);
            let view = BoardToPhoto::from_matrix(turned * squeeze * lean_in).unwrap();
            let found = view.tilt_deg_at(BoardPoint::new(3.0, 4.0)).unwrap();
            // Near zero the cosine that the view is made with is flat: a rounding error of it is a
            // thousandth of a degree there.
            prop_assert!((found - tilt).abs() < 1e-5, "{} for {}", found, tilt);
        }

        #[test]
        fn inverse_and_composition_round_trip(
            a in -20.0..20.0f64, b in -20.0..20.0f64, c in -20.0..20.0f64, d in -20.0..20.0f64,
            tx in -500.0..500.0f64, ty in -500.0..500.0f64,
            g in -0.001..0.001f64, h in -0.001..0.001f64,
            x in 0.0..200.0f64, y in 0.0..200.0f64,
        ) {
            prop_assume!((a * d - b * c).abs() > 1.0);
            let forward = BoardToPhoto::from_rows([[a, b, tx], [c, d, ty], [g, h, 1.0]]);
            prop_assume!(forward.is_ok());
            let forward = forward.unwrap();
            let Ok(back) = forward.inverse() else { return Ok(()) };
            let point = BoardPoint::new(x, y);
            if let Some(image) = forward.apply(point)
                && let Some(again) = back.apply(image)
            {
                prop_assert!((again - point).length() < 1e-5);
                let round = forward.then(&back).unwrap();
                prop_assert!((round.apply(point).unwrap() - point).length() < 1e-5);
            }
        }
    }
}
