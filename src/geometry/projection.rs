//! How a photo shows a board: a plane seen in perspective, through a lens.

use serde::{Deserialize, Serialize};

use super::homography::tilt_deg;
use super::{
    BoardMm, BoardPoint, Homography, HomographyError, Lens, PhotoPoint, PhotoPx, PhotoVector,
};

/// From board millimetres to upright photo pixels.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Projection {
    /// The perspective: where the board's places would be without the lens. Row-major, h33 = 1.
    pub photo_from_board: Homography<BoardMm, PhotoPx>,
    /// The bend of the lens, where it is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lens: Option<Lens>,
}

impl From<Homography<BoardMm, PhotoPx>> for Projection {
    fn from(photo_from_board: Homography<BoardMm, PhotoPx>) -> Self {
        Self {
            photo_from_board,
            lens: None,
        }
    }
}

/// From upright photo pixels back to board millimetres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BackProjection {
    board_from_photo: Homography<PhotoPx, BoardMm>,
    lens: Option<Lens>,
}

impl Projection {
    /// Where the photo shows `point`; `None` on or behind the horizon, and where the lens folds.
    #[must_use]
    pub fn apply(&self, point: BoardPoint) -> Option<PhotoPoint> {
        let flat = self.photo_from_board.apply(point)?;
        match &self.lens {
            Some(lens) => lens.bend(flat),
            None => Some(flat),
        }
    }

    /// The way back.
    ///
    /// # Errors
    /// [`HomographyError::Singular`] where the middle of the photo's first pixel lies on the horizon.
    pub fn back(&self) -> Result<BackProjection, HomographyError> {
        Ok(BackProjection {
            board_from_photo: self.photo_from_board.inverse()?,
            lens: self.lens,
        })
    }

    /// The images at `point` of one mm along x and of one along y, px.
    #[must_use]
    pub fn jacobian(&self, point: BoardPoint) -> Option<[PhotoVector; 2]> {
        let steps = self.photo_from_board.jacobian(point)?;
        let Some(lens) = &self.lens else {
            return Some(steps);
        };
        let flat = self.photo_from_board.apply(point)?;
        lens.bend(flat)?;
        Some(steps.map(|step| lens.bend_step(flat, step)))
    }

    /// Signed area magnification at `point`: negative where the photo mirrors the board.
    #[must_use]
    pub fn determinant_at(&self, point: BoardPoint) -> Option<f64> {
        let [x, y] = self.jacobian(point)?;
        Some(x.x * y.y - x.y * y.x)
    }

    /// Scale at `point`, px/mm.
    #[must_use]
    pub fn scale_at(&self, point: BoardPoint) -> Option<f64> {
        Some(self.determinant_at(point)?.abs().sqrt())
    }

    /// Angle between the line of sight and the board's normal; see [`Homography::tilt_deg_at`].
    #[must_use]
    pub fn tilt_deg_at(&self, point: BoardPoint) -> Option<f64> {
        tilt_deg(self.jacobian(point)?)
    }
}

impl BackProjection {
    /// The place of the board that is seen at `at`.
    #[must_use]
    pub fn apply(&self, at: PhotoPoint) -> Option<BoardPoint> {
        let flat = match &self.lens {
            Some(lens) => lens.straight(at)?,
            None => at,
        };
        self.board_from_photo.apply(flat)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn seen(k: f64) -> Projection {
        Projection {
            photo_from_board: Homography::from_rows([
                [9.0, 0.4, 150.0],
                [-0.3, -9.5, 1100.0],
                [4e-4, -2e-4, 1.0],
            ])
            .unwrap(),
            lens: Some(Lens::new([1600, 1200], k).unwrap()),
        }
    }

    #[test]
    fn a_journal_line_without_a_lens_reads_as_before() {
        let old = r#"{"photo_from_board":[[9.0,0.0,1.0],[0.0,-9.0,2.0],[0.0,0.0,1.0]]}"#;
        let projection: Projection = serde_json::from_str(old).unwrap();
        assert_eq!(projection.lens, None);
        assert_eq!(serde_json::to_string(&projection).unwrap(), old);
        let bent = seen(-0.05);
        let text = serde_json::to_string(&bent).unwrap();
        assert_eq!(serde_json::from_str::<Projection>(&text).unwrap(), bent);
    }

    proptest! {
        #[test]
        fn there_and_back(k in -0.1..0.1f64, x in 0.0..150.0f64, y in 0.0..110.0f64) {
            let projection = seen(k);
            let at = BoardPoint::new(x, y);
            let back = projection.back().unwrap().apply(projection.apply(at).unwrap()).unwrap();
            prop_assert!((back - at).length() < 1e-7);
        }

        #[test]
        fn scale_is_that_of_small_steps(k in -0.1..0.1f64, x in 0.0..150.0f64, y in 0.0..110.0f64) {
            let projection = seen(k);
            let to = |dx: f64, dy: f64| projection.apply(BoardPoint::new(x + dx, y + dy)).unwrap();
            let step = 1e-4;
            let (across, up) = (to(step, 0.0) - to(-step, 0.0), to(0.0, step) - to(0.0, -step));
            let area = (across.x * up.y - across.y * up.x) / (4.0 * step * step);
            let found = projection.determinant_at(BoardPoint::new(x, y)).unwrap();
            prop_assert!((area - found).abs() < 1e-4 * found.abs(), "{area} for {found}");
        }
    }
}
