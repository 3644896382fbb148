//! The camera: a pinhole with radial distortion over the plane of one board side.

use nalgebra::{Matrix3, Vector3};

use crate::board::Side;
use crate::geometry::{BoardMm, Homography, HomographyError, PhotoPx};

use super::light::V3;

/// How a photo is taken.
#[derive(Debug, Clone, PartialEq)]
pub struct Camera {
    /// The place of the board in the middle of the picture, board mm.
    pub look_at: [f64; 2],
    /// Scale there in px/mm.
    pub px_per_mm: f64,
    /// Tilt of the view from straight down, degrees.
    pub tilt_deg: f64,
    /// Towards where the camera leans, degrees counter-clockwise from right as seen.
    pub lean_deg: f64,
    /// Turn of the picture about the view, degrees.
    pub turn_deg: f64,
    /// Focal length in units of the longer side of the picture.
    pub focal: f64,
    /// Radial distortion: `r' = r (1 + k1 r^2 + k2 r^4)`, r in half diagonals.
    pub k1: f64,
    /// See `k1`.
    pub k2: f64,
}

/// The camera made ready for one picture size and side.
#[derive(Debug, Clone)]
pub(super) struct View {
    pub(super) eye: V3,
    right: V3,
    down: V3,
    forward: V3,
    focal_px: f64,
    centre: [f64; 2],
    half_diagonal: f64,
    k: [f64; 2],
    mirror: f64,
}

impl View {
    pub(super) fn new(camera: &Camera, side: Side, size: [u32; 2]) -> Self {
        let mirror = if side == Side::Solder { -1.0 } else { 1.0 };
        let long = f64::from(size[0].max(size[1]));
        let focal_px = camera.focal * long;
        let target = V3::new(mirror * camera.look_at[0], camera.look_at[1], 0.0);
        let (tilt, lean) = (camera.tilt_deg.to_radians(), camera.lean_deg.to_radians());
        let away = V3::new(tilt.sin() * lean.cos(), tilt.sin() * lean.sin(), tilt.cos());
        let eye = target + away * (focal_px / camera.px_per_mm);
        let forward = -away;
        let turn = camera.turn_deg.to_radians();
        let up = V3::new(-turn.sin(), turn.cos(), 0.0);
        let right = forward.cross(&up).normalize();
        let down = forward.cross(&right);
        let centre = [
            (f64::from(size[0]) - 1.0) / 2.0,
            (f64::from(size[1]) - 1.0) / 2.0,
        ];
        Self {
            eye,
            right,
            down,
            forward,
            focal_px,
            centre,
            half_diagonal: f64::from(size[0]).hypot(f64::from(size[1])) / 2.0,
            k: [camera.k1, camera.k2],
            mirror,
        }
    }

    /// Up in the picture, in the side's frame.
    pub(super) fn up(&self) -> V3 {
        -self.down
    }

    pub(super) fn centre(&self) -> [f64; 2] {
        self.centre
    }

    pub(super) fn half_diagonal(&self) -> f64 {
        self.half_diagonal
    }

    /// Direction of the ray through a pixel.
    pub(super) fn ray(&self, px: [f64; 2]) -> V3 {
        let [x, y] = self.undistort(px);
        (self.forward * self.focal_px
            + self.right * (x - self.centre[0])
            + self.down * (y - self.centre[1]))
            .normalize()
    }

    fn undistort(&self, px: [f64; 2]) -> [f64; 2] {
        let d = [px[0] - self.centre[0], px[1] - self.centre[1]];
        let mut u = d;
        for _ in 0..4 {
            let r2 = (u[0] * u[0] + u[1] * u[1]) / (self.half_diagonal * self.half_diagonal);
            let factor = 1.0 + self.k[0] * r2 + self.k[1] * r2 * r2;
            u = [d[0] / factor, d[1] / factor];
        }
        [u[0] + self.centre[0], u[1] + self.centre[1]]
    }

    fn distort(&self, px: [f64; 2]) -> [f64; 2] {
        let u = [px[0] - self.centre[0], px[1] - self.centre[1]];
        let r2 = (u[0] * u[0] + u[1] * u[1]) / (self.half_diagonal * self.half_diagonal);
        let factor = 1.0 + self.k[0] * r2 + self.k[1] * r2 * r2;
        [
            u[0] * factor + self.centre[0],
            u[1] * factor + self.centre[1],
        ]
    }

    /// Where a point of the side's frame appears, in upright pixels.
    pub(super) fn project(&self, at: V3) -> Option<[f64; 2]> {
        let way = at - self.eye;
        let depth = way.dot(&self.forward);
        (depth > 1.0).then(|| {
            self.distort([
                self.centre[0] + self.focal_px * way.dot(&self.right) / depth,
                self.centre[1] + self.focal_px * way.dot(&self.down) / depth,
            ])
        })
    }

    /// Where a board point on the surface of the side appears.
    pub(super) fn project_board(&self, at: [f64; 2]) -> Option<[f64; 2]> {
        self.project(V3::new(self.mirror * at[0], at[1], 0.0))
    }

    /// The transform from board mm to pixels before distortion.
    pub(super) fn homography(&self) -> Result<Homography<BoardMm, PhotoPx>, HomographyError> {
        let row = |axis: &V3| Vector3::new(self.mirror * axis.x, axis.y, -axis.dot(&self.eye));
        let depth = row(&self.forward);
        let u = row(&self.right) * self.focal_px + depth * self.centre[0];
        let v = row(&self.down) * self.focal_px + depth * self.centre[1];
        Homography::from_matrix(Matrix3::from_rows(&[
            u.transpose(),
            v.transpose(),
            depth.transpose(),
        ]))
    }

    /// Size in mm of one pixel at a distance along the view.
    pub(super) fn mm_per_px(&self, distance: f64) -> f64 {
        distance / self.focal_px
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::BoardPoint;

    fn camera() -> Camera {
        Camera {
            look_at: [80.0, 50.0],
            px_per_mm: 12.0,
            tilt_deg: 14.0,
            lean_deg: 70.0,
            turn_deg: 5.0,
            focal: 0.9,
            k1: -0.03,
            k2: 0.004,
        }
    }

    #[test]
    fn the_homography_and_the_projection_agree_and_the_sign_tells_the_side() {
        for (side, sign) in [(Side::Component, -1.0), (Side::Solder, 1.0)] {
            let view = View::new(&camera(), side, [2000, 1500]);
            let h = view.homography().unwrap();
            for at in [[10.0, 10.0], [150.0, 20.0], [90.0, 100.0]] {
                let point = BoardPoint::new(at[0], at[1]);
                let flat = h.apply(point).unwrap();
                let seen = view.project_board(at).unwrap();
                let bent = view.distort([flat.x, flat.y]);
                assert!((bent[0] - seen[0]).hypot(bent[1] - seen[1]) < 1e-6);
                assert!(h.determinant_at(point).unwrap() * sign > 0.0);
            }
            let middle = h.apply(BoardPoint::new(80.0, 50.0)).unwrap();
            assert!((middle.x - 999.5).abs() < 1e-6 && (middle.y - 749.5).abs() < 1e-6);
        }
    }

    #[test]
    fn a_ray_comes_back_to_its_pixel() {
        let view = View::new(&camera(), Side::Solder, [2000, 1500]);
        for px in [[3.0, 4.0], [1000.0, 700.0], [1990.0, 1490.0]] {
            let ray = view.ray(px);
            let at = view.eye + ray * (-view.eye.z / ray.z);
            let back = view.project(at).unwrap();
            assert!(
                (back[0] - px[0]).hypot(back[1] - px[1]) < 1e-3,
                "{px:?} {back:?}"
            );
        }
    }
}
