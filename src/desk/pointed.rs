//! What somebody pointed out on photos that no map covers: which places are joints, which that were
//! found are none, and how large a land is. It teaches the search by example.

use std::collections::BTreeMap;

use crate::record::{PhotoId, Spot};

/// Middle of a place on its photo, upright px.
type At = [f64; 2];

/// Where the size of a clicked place comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Size {
    /// A person showed it.
    Shown,
    /// A land was made out under the click.
    Seen,
    /// Neither. Once somebody shows the size of one such place, the others on that photo take it.
    Guessed,
}

/// What was pointed out in a job since it was opened.
#[derive(Debug, Default)]
pub struct Pointed(BTreeMap<PhotoId, OnPhoto>);

#[derive(Debug, Default)]
struct OnPhoto {
    by_hand: Vec<At>,
    /// Places that have a guessed size, or follow [`Self::shown`].
    guessed: Vec<At>,
    /// The place at which a size was shown first, and that size.
    shown: Option<(At, f64)>,
    /// Places that were found, and that nobody clicked.
    found: Vec<At>,
    /// Found places that somebody forgot: no joints.
    none: Vec<Spot>,
}

impl Pointed {
    /// A place was clicked, or drawn.
    pub fn click(&mut self, spot: &Spot, size: Size) {
        let photo = self.on(&spot.photo);
        photo.by_hand.push(spot.at_px);
        photo.none.retain(|none| !covers(none, spot.at_px));
        if size == Size::Guessed {
            photo.guessed.push(spot.at_px);
        }
    }

    /// Somebody shows how large this place is; gives the places that take its size. What is shown
    /// at another place later is that one's alone.
    pub fn show(&mut self, spot: &Spot) -> &[At] {
        let photo = self.on(&spot.photo);
        let (first, size) = photo.shown.get_or_insert((spot.at_px, spot.radius_px));
        photo.guessed.retain(|at| *at != spot.at_px);
        if *first == spot.at_px {
            *size = spot.radius_px;
            &photo.guessed
        } else {
            &[]
        }
    }

    /// Somebody says that this is no place to judge.
    pub fn forget(&mut self, spot: &Spot) {
        if self.is_found(spot) {
            self.on(&spot.photo).none.push(spot.clone());
        }
        self.replace(spot);
    }

    /// This place is shown anew by another, and so is its size.
    pub fn replace(&mut self, spot: &Spot) {
        let photo = self.on(&spot.photo);
        for places in [&mut photo.by_hand, &mut photo.guessed, &mut photo.found] {
            places.retain(|at| *at != spot.at_px);
        }
        if photo.shown.is_some_and(|(at, _)| at == spot.at_px) {
            photo.shown = None;
        }
    }

    /// These were found on the photo.
    pub fn find(&mut self, photo: &PhotoId, places: impl Iterator<Item = At>) {
        self.on(photo).found.extend(places);
    }

    /// What was found on the photo is looked for anew.
    pub fn find_anew(&mut self, photo: &PhotoId) {
        self.on(photo).found.clear();
    }

    /// Whether the place was found, and nobody clicked it.
    #[must_use]
    pub fn is_found(&self, spot: &Spot) -> bool {
        (self.0.get(&spot.photo)).is_some_and(|photo| photo.found.contains(&spot.at_px))
    }

    /// Whether somebody said that what was found there is none.
    #[must_use]
    pub fn is_none(&self, photo: &PhotoId, at: At) -> bool {
        self.none(photo).iter().any(|none| covers(none, at))
    }

    /// Found places of the photo that are no joints.
    #[must_use]
    pub fn none(&self, photo: &PhotoId) -> &[Spot] {
        self.0.get(photo).map_or(&[], |photo| &photo.none)
    }

    /// How many places of the photo were clicked or drawn.
    #[must_use]
    pub fn by_hand(&self, photo: &PhotoId) -> usize {
        self.0.get(photo).map_or(0, |photo| photo.by_hand.len())
    }

    /// The size that somebody showed first on the photo, px.
    #[must_use]
    pub fn shown_size(&self, photo: &PhotoId) -> Option<f64> {
        self.0.get(photo)?.shown.map(|(_, size)| size)
    }

    /// Whether the size of this place is a guess, or follows what was shown elsewhere.
    #[must_use]
    pub fn is_guessed(&self, spot: &Spot) -> bool {
        (self.0.get(&spot.photo)).is_some_and(|photo| photo.guessed.contains(&spot.at_px))
    }

    fn on(&mut self, photo: &PhotoId) -> &mut OnPhoto {
        self.0.entry(photo.clone()).or_default()
    }
}

/// A length or place on a photo, px, as it is written down.
pub(super) fn tenth(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

/// Whether the middle lies on the land of the place.
pub(super) fn covers(spot: &Spot, at: At) -> bool {
    (spot.at_px[0] - at[0]).hypot(spot.at_px[1] - at[1]) < spot.radius_px
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spot(x: f64, radius_px: f64) -> Spot {
        Spot {
            photo: "p".to_owned(),
            at_px: [x, 5.0],
            radius_px,
        }
    }

    #[test]
    fn guesses_follow_the_first_place_that_is_shown_and_no_other() {
        let mut pointed = Pointed::default();
        for x in [100.0, 200.0, 300.0] {
            pointed.click(&spot(x, 36.0), Size::Guessed);
        }
        let photo = spot(0.0, 1.0).photo;
        assert_eq!(
            (pointed.by_hand(&photo), pointed.shown_size(&photo)),
            (3, None)
        );
        // A slider shows one size after the other.
        for size in [30.0, 24.0, 18.0] {
            assert_eq!(
                pointed.show(&spot(200.0, size)),
                [[100.0, 5.0], [300.0, 5.0]]
            );
        }
        assert_eq!(pointed.shown_size(&photo), Some(18.0));
        assert!(pointed.is_guessed(&spot(100.0, 18.0)));
        assert!(pointed.show(&spot(300.0, 12.0)).is_empty());
        assert_eq!(pointed.shown_size(&photo), Some(18.0));
        // Drawn anew, it is followed anew.
        pointed.replace(&spot(200.0, 18.0));
        pointed.click(&spot(203.0, 17.0), Size::Shown);
        assert_eq!(pointed.show(&spot(203.0, 17.0)), [[100.0, 5.0]]);
        // A size shown at a place that is forgotten again is none.
        pointed.forget(&spot(203.0, 17.0));
        assert_eq!(
            (pointed.by_hand(&photo), pointed.shown_size(&photo)),
            (2, None)
        );
    }

    #[test]
    fn a_found_place_that_is_forgotten_is_none_until_it_is_clicked() {
        let mut pointed = Pointed::default();
        let photo = spot(0.0, 1.0).photo;
        pointed.find(&photo, [[100.0, 5.0], [200.0, 5.0]].into_iter());
        assert!(pointed.is_found(&spot(100.0, 18.0)));
        // Whatever size it has by now.
        pointed.forget(&spot(100.0, 14.0));
        assert!(pointed.is_none(&photo, [103.0, 5.0]) && !pointed.is_none(&photo, [200.0, 5.0]));
        // What was clicked and forgotten says nothing.
        pointed.click(&spot(400.0, 18.0), Size::Seen);
        pointed.forget(&spot(400.0, 18.0));
        assert_eq!(pointed.none(&photo).len(), 1);
        pointed.click(&spot(104.0, 18.0), Size::Seen);
        assert!(pointed.none(&photo).is_empty());
        pointed.find_anew(&photo);
        assert!(!pointed.is_found(&spot(200.0, 18.0)));
    }
}
