//! Landmarks of an imported map: holes, and pins near the corners where holes are too few.

use std::collections::BTreeMap;

use crate::board::model::{Landmark, Part, Pin};
use crate::geometry::{BoardBox, BoardPoint};

/// Landmarks that carry a full fit.
const ENOUGH: usize = 4;

/// Holes as landmarks with unique names; more than a map takes are not needed.
pub(super) fn of_holes(holes: &[([f64; 2], String)]) -> Vec<Landmark> {
    const MOST: usize = 200;
    let mut seen = BTreeMap::new();
    holes
        .iter()
        .take(MOST)
        .map(|(at, name)| {
            let count: &mut usize = seen.entry(name.to_lowercase()).or_default();
            *count += 1;
            Landmark {
                name: if *count == 1 {
                    name.clone()
                } else {
                    format!("{name} ({count})")
                },
                at: *at,
                look_for: "centre of the hole".to_owned(),
            }
        })
        .collect()
}

/// Where there are fewer than four landmarks, adds the pin nearest to each corner of all pins,
/// so that a photo can be aligned at once; pins in holes are taken where there are four, for
/// they show on both sides. Returns how many were added.
pub(super) fn add_corner_pins(landmarks: &mut Vec<Landmark>, parts: &[Part]) -> usize {
    if landmarks.len() >= ENOUGH {
        return 0;
    }
    let all = || {
        parts
            .iter()
            .flat_map(|part| part.pins.iter().map(move |pin| (part, pin)))
    };
    let in_holes: Vec<(&Part, &Pin)> = all().filter(|(_, pin)| pin.drill.is_some()).collect();
    let pins = if in_holes.len() >= ENOUGH {
        in_holes
    } else {
        all().collect()
    };
    let extent = BoardBox::from_points(pins.iter().map(|(_, pin)| pin.centre()));
    let (low, high) = (extent.min, extent.max);
    let before = landmarks.len();
    for corner in [
        low,
        BoardPoint::new(high.x, low.y),
        high,
        BoardPoint::new(low.x, high.y),
    ] {
        let far = |(_, pin): &&(&Part, &Pin)| (pin.centre() - corner).square_length();
        let nearest = pins
            .iter()
            .filter(|(_, pin)| landmarks.iter().all(|known| known.at != pin.at))
            .min_by(|a, b| far(a).total_cmp(&far(b)));
        if let Some((part, pin)) = nearest {
            landmarks.push(Landmark {
                name: format!("{}.{}", part.reference, pin.no),
                at: pin.at,
                look_for: format!("middle of the land of pin {} of {}", pin.no, part.reference),
            });
        }
    }
    landmarks.len() - before
}
