//! Landmarks moved from where a person clicked to the middle of the hole or land there.

use crate::align::from_landmarks;
use crate::geometry::PhotoPoint;
use crate::photo::{self, grey};
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
    /// Where there is no such photo or map, or the photo cannot be opened.
    pub fn snap(
        &self,
        id: &PhotoId,
        view: &View,
        placed: &[(String, PhotoPoint)],
    ) -> Result<Vec<Snapped>, WorkError> {
        let image = grey(&photo::open(&self.photo_path(id)?)?.image);
        let map = self.maps().iter().find(|map| map.board == view.board);
        let scale = map
            .and_then(|map| {
                let map = with_pins(map, view.side, placed);
                from_landmarks(&map, view.side, placed, image.dimensions()).ok()
            })
            .map_or(UNKNOWN_PX_PER_MM, |fit| fit.px_per_mm.centre);
        let reach = (REACH_MM * scale).clamp(REACH_PX[0], REACH_PX[1]);
        let plane = Plane::from_gray(&image);
        Ok(snapped(&plane, placed, reach))
    }
}

/// The same on an open photo; `reach` in px.
#[must_use]
pub fn snapped(plane: &Plane, placed: &[(String, PhotoPoint)], reach: f64) -> Vec<Snapped> {
    (placed.iter())
        .map(|(name, at)| Snapped {
            name: name.clone(),
            clicked: *at,
            middle: round_thing_near(plane, at.x, at.y, reach)
                .map(|thing| PhotoPoint::new(thing.x, thing.y)),
        })
        .collect()
}
