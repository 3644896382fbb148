//! How far a fitted transform may be off away from its points.

use euclid::Point2D;
use nalgebra::{SMatrix, SVector};

use super::Homography;
use super::fit::rows;

/// Least information, so that three points or two leave a large number and not a division by
/// nothing.
const RIDGE: f64 = 1e-9;

/// How far a photo taken by hand departs from a plain similarity, for fits of fewer than four
/// points: 10 degrees of tilt with the board filling the picture of a common lens (the board as
/// wide as 0.7 of its distance) stretch by 1 - cos 10 = 1.5 % ...
const TILT_STRETCH: f64 = 0.015;
/// ... and change the scale by 0.35 sin 10 = 6 % towards the edge.
const TILT_PERSPECTIVE: f64 = 0.06;

/// Predicted error of a homography that was fitted to given points, by first-order propagation
/// of the placing error (Hartley and Zisserman, "Multiple View Geometry", section 5.2).
#[derive(Debug, Clone)]
pub struct FitSpread<Src, Dst> {
    transform: Homography<Src, Dst>,
    centre: [f64; 2],
    scale: f64,
    /// Target units for one unit of the normalised source.
    size: f64,
    placing: f64,
    information: SMatrix<f64, 8, 8>,
}

impl<Src, Dst> FitSpread<Src, Dst> {
    /// For `transform` fitted to points `from` that are placed with a standard error of
    /// `placing` (units of `Dst`, per axis). `None` where `from` is empty or in one place, or
    /// leaves the plane.
    ///
    /// Fewer than four points leave a homography open; what they cannot say is then taken from
    /// the tilt of a photo held by hand.
    #[must_use]
    pub fn new(
        transform: &Homography<Src, Dst>,
        from: &[Point2D<f64, Src>],
        placing: f64,
    ) -> Option<Self> {
        let n = from.len() as f64;
        let sum = (from.iter()).fold([0.0, 0.0], |s, p| [s[0] + p.x, s[1] + p.y]);
        let centre = [sum[0] / n, sum[1] / n];
        let reach = (from.iter())
            .map(|p| (p.x - centre[0]).hypot(p.y - centre[1]))
            .sum::<f64>()
            / n;
        let scale = 1.0 / reach;
        if !scale.is_finite() || placing.is_nan() || placing <= 0.0 {
            return None;
        }
        let heart = Point2D::new(centre[0], centre[1]);
        let mut spread = Self {
            transform: *transform,
            centre,
            scale,
            size: transform.scale_at(heart)? / scale,
            placing,
            information: SMatrix::identity() * RIDGE,
        };
        if from.len() < 4 {
            spread.assume_hand_held(transform.determinant_at(heart)? < 0.0);
        }
        for point in from {
            spread.add(*point)?;
        }
        Some(spread)
    }

    /// Information on the coefficients that a similarity does not have.
    fn assume_hand_held(&mut self, mirrored: bool) {
        let m = if mirrored { 1.0 } else { -1.0 };
        let half = std::f64::consts::FRAC_1_SQRT_2;
        // Coefficients h11 h12 h13 h21 h22 h23 h31 h32.
        for (i, vi, j, vj) in [(0, half, 4, m * half), (1, half, 3, -m * half)] {
            let mut direction = SVector::<f64, 8>::zeros();
            (direction[i], direction[j]) = (vi, vj);
            self.information += direction * direction.transpose() * TILT_STRETCH.powi(-2);
        }
        for i in [6, 7] {
            self.information[(i, i)] += TILT_PERSPECTIVE.powi(-2);
        }
    }

    /// Takes one more placed point into account (the transform itself stays).
    pub fn add(&mut self, point: Point2D<f64, Src>) -> Option<()> {
        let [u, v] = self.derivatives(point)?;
        self.information += (u * u.transpose() + v * v.transpose()) * self.placing.powi(-2);
        Some(())
    }

    /// Standard error of the image of `point`, both axes together, in units of `Dst`.
    #[must_use]
    pub fn at(&self, point: Point2D<f64, Src>) -> Option<f64> {
        let [u, v] = self.derivatives(point)?;
        let solver = self.information.cholesky()?;
        Some((u.dot(&solver.solve(&u)) + v.dot(&solver.solve(&v))).sqrt())
    }

    fn derivatives(&self, point: Point2D<f64, Src>) -> Option<[SVector<f64, 8>; 2]> {
        let image = self.transform.apply(point)?;
        let heart = Point2D::new(self.centre[0], self.centre[1]);
        let heart_image = self.transform.apply(heart)?;
        let rows_3 = self.transform.rows()[2];
        let weight = |x: f64, y: f64| rows_3[0] * x + rows_3[1] * y + 1.0;
        let w = weight(point.x, point.y) / weight(heart.x, heart.y);
        let normal = [
            (point.x - self.centre[0]) * self.scale,
            (point.y - self.centre[1]) * self.scale,
        ];
        let offset = image - heart_image;
        let [u, v] = rows(normal, (offset.x / self.size, offset.y / self.size), w);
        Some([u * self.size, v * self.size])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::{BoardMm, BoardPoint, PhotoPx};

    #[test]
    fn four_corners_of_a_square_leave_the_known_error() {
        // At a fitted point of an exact four-point fit the error is the placing error itself:
        // sqrt(2) over both axes. In the middle of a square seen straight on, the image of the
        // centre is the crossing of the diagonals: error 1/2 of that, computed by hand.
        let h = Homography::<BoardMm, PhotoPx>::from_rows([
            [10.0, 0.0, 40.0],
            [0.0, -10.0, 900.0],
            [0.0, 0.0, 1.0],
        ])
        .unwrap();
        let corners = [(0.0, 0.0), (60.0, 0.0), (60.0, 60.0), (0.0, 60.0)].map(BoardPoint::from);
        let spread = FitSpread::new(&h, &corners, 1.0).unwrap();
        let at = |x, y| spread.at(BoardPoint::new(x, y)).unwrap();
        assert!(
            (at(60.0, 60.0) - 2f64.sqrt()).abs() < 0.02,
            "{}",
            at(60.0, 60.0)
        );
        assert!(at(30.0, 30.0) < at(60.0, 60.0));
        assert!(at(120.0, 120.0) > 3.0 * at(60.0, 60.0), "grows outside");
    }

    #[test]
    fn one_more_point_never_makes_it_worse() {
        let h = Homography::<BoardMm, PhotoPx>::from_rows([
            [10.0, 0.3, 40.0],
            [0.1, -10.0, 900.0],
            [0.0005, 0.0003, 1.0],
        ])
        .unwrap();
        let some = [(5.0, 0.0), (60.0, 3.0), (30.0, 20.0), (8.0, 25.0)].map(BoardPoint::from);
        let mut spread = FitSpread::new(&h, &some, 1.0).unwrap();
        let far = BoardPoint::new(80.0, 60.0);
        let before = spread.at(far).unwrap();
        spread.add(BoardPoint::new(70.0, 55.0)).unwrap();
        assert!(spread.at(far).unwrap() < before / 2.0);
    }
}
