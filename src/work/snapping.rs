//! Landmarks moved from where a person clicked to the middle of the hole or land there.

use image::RgbImage;

use crate::align::from_landmarks;
use crate::geometry::PhotoPoint;
use crate::photo::grey;
use crate::record::{PhotoId, View};
use crate::register::{Plane, round_thing_near};

use super::error::WorkError;
use super::plan::with_pins;
use super::session::Session;

/// A click may lie this far from the middle of its hole, mm: half the radius of a screw hole.
const REACH_MM: f64 = 1.0;

/// ... but at least and at most this many px: below, a hand is not steadier; above, the next hole
/// may be the nearest.
const REACH_PX: [f64; 2] = [6.0, 40.0];

/// What is looked at around the reach, px: the widest window.
const WIDEST_PX: f64 = 52.0;

/// Scale that is taken where the clicks determine none yet, px/mm.
const UNKNOWN_PX_PER_MM: f64 = 12.0;

/// A landmark and where it came to lie.
#[derive(Debug, Clone, PartialEq)]
pub struct Snapped {
    /// Its name.
    pub name: String,
    /// Where it was clicked.
    pub clicked: PhotoPoint,
    /// The middle of what is round there; `None` where nothing is.
    pub middle: Option<PhotoPoint>,
}

impl Snapped {
    /// The place to use.
    #[must_use]
    pub fn at(&self) -> PhotoPoint {
        self.middle.unwrap_or(self.clicked)
    }
}

impl Session {
    /// Looks for the middle of a hole or land about each landmark. The photo is opened, which
    /// takes a part of a second; nothing is recorded.
    ///
    /// # Errors
    /// Where there is no such photo or map, or the photo cannot be opened or was altered.
    pub fn snap(
        &self,
        id: &PhotoId,
        view: &View,
        placed: &[(String, PhotoPoint)],
    ) -> Result<Vec<Snapped>, WorkError> {
        let image = grey(self.open_photo(id)?.as_ref());
        let map = self.maps().iter().find(|map| map.board == view.board);
        let scale = map
            .and_then(|map| {
                let map = with_pins(map, view.side, placed);
                from_landmarks(&map, view.side, placed, image.dimensions()).ok()
            })
            .map_or(UNKNOWN_PX_PER_MM, |fit| fit.px_per_mm.centre);
        Ok(snapped(&Plane::from_gray(&image), placed, reach(scale)))
    }
}

/// The middle of the hole or land about a click on an open photo, where one is round enough to
/// tell; the scale of the photo helps where it is known.
#[must_use]
pub fn middle_near(image: &RgbImage, at: PhotoPoint, px_per_mm: Option<f64>) -> Option<PhotoPoint> {
    let reach = reach(px_per_mm.unwrap_or(UNKNOWN_PX_PER_MM));
    let half = reach + WIDEST_PX;
    if !(at.x.is_finite() && at.y.is_finite()) {
        return None;
    }
    let low = |v: f64| (v - half).floor().max(0.0) as u32;
    let (left, top) = (low(at.x), low(at.y));
    let size = (2.0 * half).ceil() as u32;
    let width = image.width().checked_sub(left)?.min(size);
    let height = image.height().checked_sub(top)?.min(size);
    if width == 0 || height == 0 {
        return None;
    }
    let piece = image::imageops::crop_imm(image, left, top, width, height).to_image();
    let (left, top) = (f64::from(left), f64::from(top));
    let plane = Plane::from_gray(&grey(&piece));
    let thing = round_thing_near(&plane, at.x - left, at.y - top, reach)?;
    Some(PhotoPoint::new(thing.x + left, thing.y + top))
}

fn reach(px_per_mm: f64) -> f64 {
    (REACH_MM * px_per_mm).clamp(REACH_PX[0], REACH_PX[1])
}

/// The same on an open photo; `reach` in px.
fn snapped(plane: &Plane, placed: &[(String, PhotoPoint)], reach: f64) -> Vec<Snapped> {
    (placed.iter())
        .map(|(name, at)| Snapped {
            name: name.clone(),
            clicked: *at,
            middle: round_thing_near(plane, at.x, at.y, reach)
                .map(|thing| PhotoPoint::new(thing.x, thing.y)),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;
    use imageproc::drawing::draw_filled_circle_mut;

    #[test]
    fn a_click_on_a_photo_comes_to_the_hole_wherever_the_photo_is_cut() {
        let mut image = RgbImage::from_pixel(300, 200, Rgb([50, 90, 50]));
        draw_filled_circle_mut(&mut image, (60, 150), 16, Rgb([200, 190, 120]));
        draw_filled_circle_mut(&mut image, (60, 150), 7, Rgb([10, 10, 10]));
        let near = |x, y| middle_near(&image, PhotoPoint::new(x, y), Some(10.0));
        let found = near(63.0, 147.0).expect("a hole");
        assert!(
            (found - PhotoPoint::new(60.0, 150.0)).length() < 0.3,
            "{found:?}"
        );
        assert_eq!(near(200.0, 60.0), None);
        assert_eq!(near(-5.0, 1e9), None);
        assert_eq!(near(f64::NAN, 0.0), None);
    }
}
