//! Landmarks that choose themselves: the outermost pins and the corners of the board.

use super::Sketch;
use super::error::DraftError;
use crate::board::model::Landmark;
use crate::geometry::{BoardPoint, BoardVector};

/// Corners of an edge that are named; a board with more has no corner that is told from its
/// neighbour at a glance.
const MOST_CORNERS: usize = 6;

/// Diagonals along which the outermost pin is looked for.
const DIAGONALS: [(f64, f64); 4] = [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)];

/// Adds landmarks: what is named already stays.
pub(super) fn suggest(sketch: &mut Sketch) -> Result<(), DraftError> {
    let mut found: Vec<Landmark> = Vec::new();
    if sketch.outlined && sketch.map.outline.len() <= MOST_CORNERS {
        for (corner, letter) in sketch.map.outline.iter().zip('A'..) {
            found.push(Landmark {
                name: format!("corner {letter}"),
                at: *corner,
                look_for: "corner of the board".to_owned(),
            });
        }
    }
    let pins = || {
        sketch
            .map
            .parts
            .iter()
            .flat_map(|part| part.pins.iter().map(move |pin| (part, pin)))
    };
    for (x, y) in DIAGONALS {
        let along = |at: BoardPoint| at.to_vector().dot(BoardVector::new(x, y));
        let outermost = pins().max_by(|(_, a), (_, b)| {
            along(a.centre())
                .total_cmp(&along(b.centre()))
                .then_with(|| b.uid.cmp(&a.uid))
        });
        if let Some((part, pin)) = outermost {
            found.push(Landmark {
                name: format!("{} pin {}", part.reference, pin.no),
                at: pin.at,
                look_for: "middle of the land".to_owned(),
            });
        }
    }
    if found.is_empty() {
        return Err(DraftError::Nothing);
    }
    for mark in found {
        let known = sketch
            .map
            .landmarks
            .iter()
            .any(|other| other.at == mark.at || other.name.eq_ignore_ascii_case(&mark.name));
        if !known {
            sketch.map.landmarks.push(mark);
        }
    }
    Ok(())
}
