//! Clicked places of which only a guess says how large they are. Once somebody shows the size of
//! one, the others on that photo take it.

use std::collections::BTreeMap;

use crate::record::{PhotoId, Spot};

/// Middle of a place on its photo.
type At = [f64; 2];

/// The guesses of a job.
#[derive(Debug, Default)]
pub struct Guesses(BTreeMap<PhotoId, OnPhoto>);

#[derive(Debug, Default)]
struct OnPhoto {
    /// Places that have a guessed size, or took that of [`Self::shown_at`].
    places: Vec<At>,
    /// The place at which a size was shown first.
    shown_at: Option<At>,
}

impl Guesses {
    /// The size of this place is a guess.
    pub fn add(&mut self, spot: &Spot) {
        let photo = self.0.entry(spot.photo.clone()).or_default();
        photo.places.push(spot.at_px);
    }

    /// Somebody shows how large this place is; gives the places that take its size. What is shown
    /// at another place later is that one's alone.
    pub fn show(&mut self, spot: &Spot) -> &[At] {
        let photo = self.0.entry(spot.photo.clone()).or_default();
        let first = *photo.shown_at.get_or_insert(spot.at_px);
        photo.places.retain(|at| *at != spot.at_px);
        if first == spot.at_px {
            &photo.places
        } else {
            &[]
        }
    }

    /// Whether nobody has shown yet how large this place is, nor another one of its photo.
    #[must_use]
    pub fn is_open(&self, photo: &PhotoId, at: At) -> bool {
        (self.0.get(photo))
            .is_some_and(|photo| photo.shown_at.is_none() && photo.places.contains(&at))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spot(x: f64) -> Spot {
        Spot {
            photo: "p".to_owned(),
            at_px: [x, 5.0],
            radius_px: 36.0,
        }
    }

    #[test]
    fn guesses_follow_the_first_place_that_is_shown_and_no_other() {
        let mut guesses = Guesses::default();
        for x in [1.0, 2.0, 3.0] {
            guesses.add(&spot(x));
        }
        let photo = spot(0.0).photo;
        assert!(guesses.is_open(&photo, [2.0, 5.0]));
        // A slider shows one size after the other.
        for _ in 0..3 {
            assert_eq!(guesses.show(&spot(2.0)), [[1.0, 5.0], [3.0, 5.0]]);
        }
        assert!(!guesses.is_open(&photo, [1.0, 5.0]));
        assert!(guesses.show(&spot(3.0)).is_empty());
        assert_eq!(guesses.show(&spot(2.0)), [[1.0, 5.0]]);
    }
}
