//! Where a photo lies on the screen, as one value.

use eframe::egui::{Pos2, Rect, Vec2, pos2};

use crate::geometry::{PhotoPoint, PhotoVector};

/// Closest look: one photo pixel as this many points. Beyond it only squares are seen.
const MOST_POINTS_PER_PX: f64 = 24.0;
/// Furthest look, as a share of the scale that shows the whole photo.
const LEAST_OF_FIT: f64 = 0.5;
/// Room left around a fitted photo, as a share of the viewport.
const FIT_MARGIN: f64 = 0.02;

/// From photo pixels to screen points: turn by quarters, scale, move.
///
/// (0, 0) of the photo is the *centre* of its top-left pixel, so a photo of `w` by `h` pixels
/// covers -0.5..w-0.5 across and -0.5..h-0.5 down.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScreenFromPhoto {
    /// The photo point in the middle of the viewport.
    pub centre: PhotoPoint,
    /// Screen points per photo pixel.
    pub points_per_px: f64,
    /// Quarter turns clockwise, 0..=3.
    pub turns: u8,
    /// The part of the screen that shows the photo.
    pub viewport: Rect,
    /// Width and height of the photo, pixels.
    pub size: [u32; 2],
}

impl ScreenFromPhoto {
    /// The whole photo in the viewport.
    #[must_use]
    pub fn fit(size: [u32; 2], turns: u8, viewport: Rect) -> Self {
        let mut view = Self {
            centre: PhotoPoint::new(
                (f64::from(size[0]) - 1.0) / 2.0,
                (f64::from(size[1]) - 1.0) / 2.0,
            ),
            points_per_px: 1.0,
            turns: turns % 4,
            viewport,
            size,
        };
        view.points_per_px = view.fit_scale();
        view
    }

    /// The scale that shows the whole photo.
    #[must_use]
    pub fn fit_scale(&self) -> f64 {
        let [w, h] = self.size.map(|side| f64::from(side.max(1)));
        let (across, down) = if self.turns.is_multiple_of(2) {
            (w, h)
        } else {
            (h, w)
        };
        let room = |points: f32| f64::from(points.max(1.0)) * (1.0 - 2.0 * FIT_MARGIN);
        (room(self.viewport.width()) / across).min(room(self.viewport.height()) / down)
    }

    fn turned_by_quarters(self, v: [f64; 2]) -> [f64; 2] {
        let [x, y] = v;
        match self.turns % 4 {
            0 => [x, y],
            1 => [-y, x],
            2 => [-x, -y],
            _ => [y, -x],
        }
    }

    fn turned_back(self, v: [f64; 2]) -> [f64; 2] {
        let inverse = Self {
            turns: (4 - self.turns % 4) % 4,
            ..self
        };
        inverse.turned_by_quarters(v)
    }

    /// A photo point on the screen.
    #[must_use]
    pub fn point(&self, at: PhotoPoint) -> Pos2 {
        let offset = at - self.centre;
        let [x, y] = self.turned_by_quarters([offset.x, offset.y]);
        let middle = self.viewport.center();
        pos2(
            (f64::from(middle.x) + x * self.points_per_px) as f32,
            (f64::from(middle.y) + y * self.points_per_px) as f32,
        )
    }

    /// The photo point under a screen point.
    #[must_use]
    pub fn photo(&self, at: Pos2) -> PhotoPoint {
        let offset = at - self.viewport.center();
        self.centre + self.photo_vector(offset)
    }

    fn photo_vector(&self, offset: Vec2) -> PhotoVector {
        let [x, y] = self.turned_back([f64::from(offset.x), f64::from(offset.y)]);
        PhotoVector::new(x / self.points_per_px, y / self.points_per_px)
    }

    /// Larger by `factor`, with the photo point under `at` staying where it is.
    #[must_use]
    pub fn zoomed_at(self, at: Pos2, factor: f64) -> Self {
        let factor = if factor.is_finite() && factor > 0.0 {
            factor
        } else {
            1.0
        };
        let fixed = self.photo(at);
        let least = (self.fit_scale() * LEAST_OF_FIT).min(MOST_POINTS_PER_PX);
        let mut view = self;
        view.points_per_px = (self.points_per_px * factor).clamp(least, MOST_POINTS_PER_PX);
        view.centre = fixed - view.photo_vector(at - view.viewport.center());
        view.kept_on_photo()
    }

    /// Moved by a drag of `delta` screen points.
    #[must_use]
    pub fn panned(self, delta: Vec2) -> Self {
        let mut view = self;
        view.centre -= view.photo_vector(delta);
        view.kept_on_photo()
    }

    /// Turned by quarters clockwise about the middle of the viewport.
    #[must_use]
    pub fn turned(self, quarters: i8) -> Self {
        let turns = (i16::from(self.turns) + i16::from(quarters)).rem_euclid(4);
        Self {
            turns: u8::try_from(turns).unwrap_or(0),
            ..self
        }
    }

    /// With a photo point in the middle.
    #[must_use]
    pub fn centred_on(self, at: PhotoPoint) -> Self {
        Self { centre: at, ..self }.kept_on_photo()
    }

    /// The same view of the same photo at another size, as when the real photo takes the place of
    /// its thumbnail.
    #[must_use]
    pub fn for_size(self, size: [u32; 2]) -> Self {
        let ratio = |axis: usize| f64::from(size[axis].max(1)) / f64::from(self.size[axis].max(1));
        let (rx, ry) = (ratio(0), ratio(1));
        Self {
            centre: PhotoPoint::new(
                (self.centre.x + 0.5) * rx - 0.5,
                (self.centre.y + 0.5) * ry - 0.5,
            ),
            points_per_px: self.points_per_px / rx.max(ry),
            size,
            ..self
        }
    }

    /// The middle never leaves the photo, so that a photo cannot be lost off the screen.
    fn kept_on_photo(mut self) -> Self {
        let keep = |value: f64, side: u32| {
            if value.is_finite() {
                value.clamp(-0.5, (f64::from(side) - 0.5).max(-0.5))
            } else {
                0.0
            }
        };
        self.centre.x = keep(self.centre.x, self.size[0]);
        self.centre.y = keep(self.centre.y, self.size[1]);
        self
    }

    /// The photo pixels that the viewport shows, as half-open edges `[x0, y0, x1, y1]` where the
    /// first pixel's left edge is 0, clipped to the photo.
    #[must_use]
    pub fn visible_edges(&self) -> [f64; 4] {
        let corners = [
            self.viewport.left_top(),
            self.viewport.right_top(),
            self.viewport.right_bottom(),
            self.viewport.left_bottom(),
        ]
        .map(|corner| self.photo(corner));
        let [w, h] = self.size.map(f64::from);
        let xs = corners.map(|p| (p.x + 0.5).clamp(0.0, w));
        let ys = corners.map(|p| (p.y + 0.5).clamp(0.0, h));
        let least = |v: [f64; 4]| v.into_iter().fold(f64::INFINITY, f64::min);
        let most = |v: [f64; 4]| v.into_iter().fold(f64::NEG_INFINITY, f64::max);
        [least(xs), least(ys), most(xs), most(ys)]
    }

    /// The four corners on the screen of the part between two photo edges (0 is the left or top
    /// edge of the photo): top-left, top-right, bottom-right, bottom-left of the upright photo.
    #[must_use]
    pub fn corners(&self, edges: [f64; 4]) -> [Pos2; 4] {
        let [x0, y0, x1, y1] = edges.map(|edge| edge - 0.5);
        [[x0, y0], [x1, y0], [x1, y1], [x0, y1]].map(|[x, y]| self.point(PhotoPoint::new(x, y)))
    }

    /// The photo's box on the screen.
    #[must_use]
    pub fn photo_rect(&self) -> Rect {
        let [w, h] = self.size.map(f64::from);
        Rect::from_points(&self.corners([0.0, 0.0, w, h]))
    }
}

/// A step of the scroll wheel as a factor: about 10 % for a usual notch of 50 points.
#[must_use]
pub(super) fn zoom_of_scroll(points: f32) -> f64 {
    (f64::from(points) / 500.0).exp()
}

#[cfg(test)]
mod tests {
    use super::*;
    use eframe::egui::vec2;
    use proptest::prelude::*;

    fn viewport() -> Rect {
        Rect::from_min_size(pos2(10.0, 44.0), vec2(730.0, 632.0))
    }

    #[test]
    fn the_origin_is_the_centre_of_the_top_left_pixel() {
        let mut view = ScreenFromPhoto::fit([100, 50], 0, viewport());
        view.points_per_px = 4.0;
        // The photo's middle is between pixels 49|50 and 24|25.
        assert_eq!(view.centre, PhotoPoint::new(49.5, 24.5));
        let corner = view.photo_rect().left_top();
        let origin = view.point(PhotoPoint::new(0.0, 0.0));
        assert_eq!(origin - corner, vec2(2.0, 2.0), "half a pixel at 4 points");
        assert_eq!(view.photo_rect().size(), vec2(400.0, 200.0));
    }

    #[test]
    fn quarter_turns_go_clockwise() {
        let upright = ScreenFromPhoto::fit([100, 50], 0, viewport());
        let top_left = |view: ScreenFromPhoto| {
            let d = view.point(PhotoPoint::new(0.0, 0.0)) - view.viewport.center();
            (d.x > 0.0, d.y > 0.0)
        };
        let places: Vec<_> = (0..4).map(|q| top_left(upright.turned(q))).collect();
        // Top left, then top right, bottom right, bottom left.
        assert_eq!(
            places,
            [(false, false), (true, false), (true, true), (false, true)]
        );
        assert_eq!(upright.turned(-1), upright.turned(3));
    }

    #[test]
    fn fit_shows_everything_whatever_the_turn() {
        for turns in 0..4 {
            let view = ScreenFromPhoto::fit([4000, 3000], turns, viewport());
            assert!(viewport().contains_rect(view.photo_rect()), "{turns}");
            assert_eq!(view.visible_edges(), [0.0, 0.0, 4000.0, 3000.0]);
        }
    }

    #[test]
    fn a_thumbnail_and_its_photo_cover_the_same_screen() {
        let small =
            ScreenFromPhoto::fit([160, 120], 1, viewport()).zoomed_at(pos2(200.0, 300.0), 3.0);
        let large = small.for_size([4000, 3000]);
        let (a, b) = (small.photo_rect(), large.photo_rect());
        assert!((a.min - b.min).length() < 0.01 && (a.max - b.max).length() < 0.01);
    }

    proptest! {
        #[test]
        fn screen_and_photo_are_inverse(
            x in -50.0..4050.0_f64, y in -50.0..3050.0_f64,
            scale in 0.05..20.0_f64, turns in 0_u8..4,
        ) {
            let mut view = ScreenFromPhoto::fit([4000, 3000], turns, viewport());
            view.points_per_px = scale;
            let back = view.photo(view.point(PhotoPoint::new(x, y)));
            // f32 screen points: a part in 2^23 of up to 80 000 points.
            prop_assert!((back.x - x).abs() * scale < 0.05 && (back.y - y).abs() * scale < 0.05);
        }

        #[test]
        fn zooming_keeps_what_is_under_the_pointer(
            px in 200.0..500.0_f32, py in 200.0..500.0_f32,
            factor in 0.5..4.0_f64, turns in 0_u8..4,
        ) {
            let view = ScreenFromPhoto::fit([4000, 3000], turns, viewport())
                .zoomed_at(viewport().center(), 4.0);
            let at = pos2(px, py);
            let before = view.photo(at);
            let after = view.zoomed_at(at, factor).photo(at);
            // Only where the middle was not brought back onto the photo.
            let centre = view.zoomed_at(at, factor).centre;
            let free = centre.x > 0.0 && centre.x < 3999.0 && centre.y > 0.0 && centre.y < 2999.0;
            prop_assume!(free);
            prop_assert!((before - after).length() < 0.05, "{before:?} {after:?}");
        }

        #[test]
        fn no_gesture_loses_the_photo(
            moves in prop::collection::vec((-5000.0..5000.0_f32, -5000.0..5000.0_f32, 0.01..100.0_f64, -3_i8..3), 1..12),
        ) {
            let mut view = ScreenFromPhoto::fit([4000, 3000], 0, viewport());
            for (dx, dy, factor, quarters) in moves {
                view = view.panned(vec2(dx, dy)).turned(quarters)
                    .zoomed_at(pos2(dx.abs() % 700.0, dy.abs() % 600.0), factor);
                prop_assert!(view.photo_rect().expand(1.0).contains(viewport().center()));
                prop_assert!(view.points_per_px.is_finite() && view.points_per_px > 0.0);
            }
        }
    }
}
