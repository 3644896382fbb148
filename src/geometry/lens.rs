//! The bend that a lens gives a photo.

use euclid::{Point2D, Vector2D};
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// Strongest bend that a lens may have: at the corners of the photo straight lines would be off by
/// half of the way to the middle.
const MOST: f64 = 0.5;

/// Newton steps of the way back; four are enough for any bend of a phone.
const STEPS: usize = 40;

/// Why numbers do not describe a lens.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum LensError {
    /// The photo has no pixels.
    #[error("the photo of a lens has no pixels")]
    NoPhoto,
    /// The coefficient is not finite, or absurd.
    #[error("the bend of a lens is not a number between -{MOST} and {MOST}")]
    Absurd,
}

/// One radial term about the middle of a photo: `r' = r (1 + k r^2)`, r in half diagonals of the
/// photo. The first term of the usual polynomial (Brown, "Close-range camera calibration", 1971;
/// from memory). Negative k is a barrel, positive a pincushion.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "Numbers", into = "Numbers")]
pub struct Lens {
    size: [u32; 2],
    k: f64,
}

#[derive(Serialize, Deserialize)]
struct Numbers {
    /// Width and height of the upright photo, px.
    size: [u32; 2],
    k: f64,
}

impl From<Lens> for Numbers {
    fn from(Lens { size, k }: Lens) -> Self {
        Self { size, k }
    }
}

impl TryFrom<Numbers> for Lens {
    type Error = LensError;

    fn try_from(Numbers { size, k }: Numbers) -> Result<Self, LensError> {
        Self::new(size, k)
    }
}

impl Lens {
    /// The lens of a photo of `size` (upright width and height, px) that bends by `k`.
    ///
    /// # Errors
    /// [`LensError`] for a photo without pixels and for `k` that no lens has.
    pub fn new(size: [u32; 2], k: f64) -> Result<Self, LensError> {
        if size.contains(&0) {
            return Err(LensError::NoPhoto);
        }
        if !(-MOST..=MOST).contains(&k) {
            return Err(LensError::Absurd);
        }
        Ok(Self { size, k })
    }

    /// Width and height of the upright photo, px.
    #[must_use]
    pub fn size(&self) -> [u32; 2] {
        self.size
    }

    /// The coefficient.
    #[must_use]
    pub fn k(&self) -> f64 {
        self.k
    }

    /// By how much the corners of the photo are shifted, px; negative towards the middle.
    #[must_use]
    pub fn corner_px(&self) -> f64 {
        self.k * self.unit()
    }

    /// Half the diagonal of the photo, px.
    #[must_use]
    pub fn unit(&self) -> f64 {
        f64::from(self.size[0]).hypot(f64::from(self.size[1])) / 2.0
    }

    fn middle<S>(&self) -> Point2D<f64, S> {
        let [x, y] = self.size.map(|v| (f64::from(v) - 1.0) / 2.0);
        Point2D::new(x, y)
    }

    /// Where the lens puts what would lie at `flat` without it, upright px. `None` so far outside
    /// the photo that the formula folds back.
    #[must_use]
    pub fn bend<S>(&self, flat: Point2D<f64, S>) -> Option<Point2D<f64, S>> {
        let from = (flat - self.middle()) / self.unit();
        let square = from.square_length();
        (1.0 + 3.0 * self.k * square > 0.0)
            .then(|| self.middle() + from * ((1.0 + self.k * square) * self.unit()))
    }

    /// Where what is seen at `at` would lie without the lens, upright px. `None` where no place is
    /// bent to there.
    #[must_use]
    pub fn straight<S>(&self, at: Point2D<f64, S>) -> Option<Point2D<f64, S>> {
        let seen = (at - self.middle()) / self.unit();
        let reach = seen.length();
        if reach == 0.0 {
            return Some(at);
        }
        // Newton's steps approach the root from one side: the cubic has no bend between them.
        let mut r = reach;
        for _ in 0..STEPS {
            let slope = 1.0 + 3.0 * self.k * r * r;
            let step = (r * (1.0 + self.k * r * r) - reach) / slope;
            if slope <= 0.0 || !step.is_finite() {
                return None;
            }
            r -= step;
            if step.abs() < 1e-14 * reach {
                break;
            }
        }
        let left = r * (1.0 + self.k * r * r) - reach;
        (left.abs() < 1e-9 * reach && 1.0 + 3.0 * self.k * r * r > 0.0)
            .then(|| self.middle() + seen * (r / reach * self.unit()))
    }

    /// How far what would lie at `flat` is moved by a coefficient of 1, px.
    #[must_use]
    pub fn bend_per_k<S>(&self, flat: Point2D<f64, S>) -> Vector2D<f64, S> {
        let from = (flat - self.middle()) / self.unit();
        from * (from.square_length() * self.unit())
    }

    /// What becomes at `flat` of a short way `step`.
    #[must_use]
    pub fn bend_step<S>(&self, flat: Point2D<f64, S>, step: Vector2D<f64, S>) -> Vector2D<f64, S> {
        let from: Vector2D<f64, S> = (flat - self.middle()) / self.unit();
        step * (1.0 + self.k * from.square_length()) + from * (2.0 * self.k * from.dot(step))
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::geometry::{PhotoPoint, PhotoVector};

    #[test]
    fn worked_values() {
        // By hand: half diagonal 500 of a 600 x 800 photo whose middle is (299.5, 399.5). A point
        // 300 px to the right has r = 0.6 and moves by 300 * -0.1 * 0.36 = -10.8 px.
        let lens = Lens::new([600, 800], -0.1).unwrap();
        let seen = lens.bend(PhotoPoint::new(599.5, 399.5)).unwrap();
        assert!(
            (seen - PhotoPoint::new(588.7, 399.5)).length() < 1e-9,
            "{seen:?}"
        );
        assert!((lens.corner_px() + 50.0).abs() < 1e-9);
    }

    #[test]
    fn what_no_lens_does_is_refused() {
        assert_eq!(Lens::new([0, 5], 0.1), Err(LensError::NoPhoto));
        assert_eq!(Lens::new([5, 5], f64::NAN), Err(LensError::Absurd));
        assert_eq!(Lens::new([5, 5], 0.6), Err(LensError::Absurd));
        assert!(serde_json::from_str::<Lens>(r#"{"size":[5,5],"k":1e300}"#).is_err());
        let barrel = Lens::new([600, 800], -0.4).unwrap();
        assert_eq!(barrel.bend(PhotoPoint::new(2000.0, 400.0)), None);
        assert_eq!(barrel.straight(PhotoPoint::new(2000.0, 400.0)), None);
    }

    proptest! {
        #[test]
        fn there_and_back(
            k in -0.14..0.5f64, x in 0.0..4000.0f64, y in 0.0..3000.0f64, size in 1u32..9000,
        ) {
            // Within the photo a barrel of up to -0.14 folds nowhere: its fold lies 1.54 half
            // diagonals from the middle.
            let lens = Lens::new([size, 1 + size * 3 / 4], k).unwrap();
            let at = PhotoPoint::new(x / 4000.0 * f64::from(size), y / 4000.0 * f64::from(size));
            let seen = lens.bend(at).unwrap();
            let back = lens.straight(seen).unwrap();
            prop_assert!((back - at).length() < 1e-7 * f64::from(size), "{back:?} for {at:?}");
        }

        #[test]
        fn a_step_is_the_difference_of_two_places(
            k in -0.14..0.3f64, x in 0.0..600.0f64, y in 0.0..800.0f64, turn in 0.0..std::f64::consts::TAU,
        ) {
            let lens = Lens::new([600, 800], k).unwrap();
            let (at, way) = (PhotoPoint::new(x, y), PhotoVector::new(turn.cos(), turn.sin()));
            let (before, after) = (lens.bend(at - way * 1e-4).unwrap(), lens.bend(at + way * 1e-4).unwrap());
            prop_assert!(((after - before) / 2e-4 - lens.bend_step(at, way)).length() < 1e-6);
        }
    }
}
