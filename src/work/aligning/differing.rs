//! Where a photo shows something else than the one it was matched with.

use crate::align::Differing;
use crate::board::inside_outline;
use crate::geometry::PhotoPoint;
use crate::record::Alignment;

/// Share of a region that must lie on the board: what lies beside it is the table, which is another
/// in every photo.
const ON_BOARD: f64 = 0.5;

/// Places per axis of a region that are looked at.
const PLACES: u32 = 8;

/// A board's name and its edge, a closed polygon in mm.
pub(super) type Outlined = (String, Vec<[f64; 2]>);

/// Whether a place of the photo that is aligned so shows the board rather than the table; `None`
/// where that is not known.
pub(super) fn board_of<'a>(
    outlines: &'a [Outlined],
    there: &Alignment,
) -> Option<impl Fn(PhotoPoint) -> bool + Sync + 'a> {
    let (_, outline) = (outlines.iter()).find(|(board, _)| *board == there.view.board)?;
    let back = there.projection.back().ok()?;
    Some(move |at| (back.apply(at)).is_some_and(|at| inside_outline(outline, at)))
}

/// Whether the region of the photo that is aligned so shows the board rather than the table.
pub(super) fn on_board(outlines: &[Outlined], there: &Alignment, region: &Differing) -> bool {
    let Some(board) = board_of(outlines, there) else {
        return true;
    };
    let along = |k: u32| (f64::from(k) + 0.5) / f64::from(PLACES);
    let inside = (0..PLACES * PLACES).filter(|k| {
        let at = PhotoPoint::new(
            region.left + along(k % PLACES) * (region.right - region.left),
            region.top + along(k / PLACES) * (region.bottom - region.top),
        );
        board(at)
    });
    inside.count() as f64 >= ON_BOARD * f64::from(PLACES * PLACES)
}

/// Where a photo shows something else than `other`, in words; `None` where it does not.
#[must_use]
pub fn differs_words(differs: &[Differing], other: &str) -> Option<String> {
    let first = differs.first()?;
    let more = match differs.len() {
        1 => String::new(),
        n => format!(", the largest of {n} such places"),
    };
    Some(format!(
        "it does not show the same as {other} at {:.0}, {:.0} to {:.0}, {:.0} px of that photo{more}: parts were added or moved, or it is another revision. Compare before you trust the map there",
        first.left, first.top, first.right, first.bottom
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::board::Side;
    use crate::geometry::{Homography, Projection};
    use crate::record::{PhotoId, View};

    #[test]
    fn a_region_on_the_table_beside_the_board_is_told_from_one_on_it() {
        // A board of 100 by 80 mm seen at 10 px/mm, its lower left corner at (200, 1000) px.
        let seen =
            Homography::from_rows([[10.0, 0.0, 200.0], [0.0, -10.0, 1000.0], [0.0, 0.0, 1.0]]);
        let there = Alignment {
            photo: PhotoId::from("p".repeat(64).as_str()),
            view: View {
                board: "main".to_owned(),
                side: Side::Component,
            },
            projection: Projection::from(seen.unwrap()),
            method: "landmarks".to_owned(),
            landmarks: Vec::new(),
            rms_px: None,
            px_per_mm: 10.0,
            automatic: None,
            replaces: Vec::new(),
        };
        let edge = vec![[0.0, 0.0], [100.0, 0.0], [100.0, 80.0], [0.0, 80.0]];
        let outlines = [("main".to_owned(), edge)];
        let region = |left: f64, top: f64| Differing {
            left,
            top,
            right: left + 200.0,
            bottom: top + 200.0,
            compared: 20,
            same: 1,
        };
        assert!(on_board(&outlines, &there, &region(600.0, 500.0)));
        assert!(on_board(&outlines, &there, &region(150.0, 500.0)));
        assert!(!on_board(&outlines, &there, &region(20.0, 500.0)));
        assert!(!on_board(&outlines, &there, &region(600.0, 1050.0)));
        // Of a board that no map describes nothing is known.
        assert!(on_board(&[], &there, &region(20.0, 500.0)));
    }
}
