//! The stand-in for a board edge that a file does not give.

use super::options::{Question, QuestionKey};
use crate::geometry::{BoardBox, BoardPoint};

/// Margin of the stand-in board edge round the outermost places, mm.
const EDGE_MARGIN_MM: f64 = 5.0;

/// The rectangle 5 mm round these places, counter-clockwise from the lower left.
pub(in crate::board) fn stand_in_edge(
    places: impl IntoIterator<Item = BoardPoint>,
) -> Vec<[f64; 2]> {
    let edge = BoardBox::from_points(places).inflate(EDGE_MARGIN_MM, EDGE_MARGIN_MM);
    let (min, max): (BoardPoint, BoardPoint) = (edge.min, edge.max);
    vec![
        [min.x, min.y],
        [max.x, min.y],
        [max.x, max.y],
        [min.x, max.y],
    ]
}

/// What stands for an edge that the file does not give; `what` it goes round: `lands`, `parts`.
pub(in crate::board) fn edge_is_open(what: &str) -> Question {
    Question::new(
        QuestionKey::Outline,
        format!(
            "The file does not give the edge of the board: a rectangle 5 mm round the outermost \
             {what} stands for it. Where you know its corners, write them into the map's outline."
        ),
        &[],
    )
}
