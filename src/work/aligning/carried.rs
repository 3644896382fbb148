//! An alignment carried over from the photo that another was matched with.

use crate::align::projection_through;
use crate::geometry::{BoardPoint, Homography, Lens, PhotoPoint, PhotoPx, Projection};

/// Points along each edge of a photo whose bend is carried over to another.
const CARRIED: u32 = 15;

/// The projection of a photo of `size` that was matched with another, and how far, px, it is from
/// what the match says. A bent reference makes it bent too.
pub(super) fn carried(
    there: &Projection,
    photo_from_photo: &Homography<PhotoPx, PhotoPx>,
    size: [u32; 2],
) -> Option<(Projection, f64)> {
    let Some(lens) = &there.lens else {
        let photo_from_board = there.photo_from_board.then(photo_from_photo).ok()?;
        return Some((photo_from_board.into(), 0.0));
    };
    let through = |at: BoardPoint| {
        let at = photo_from_photo.apply(there.apply(at)?)?;
        let [width, height] = size.map(f64::from);
        ((0.0..width).contains(&at.x) && (0.0..height).contains(&at.y)).then_some(at)
    };
    let back = there.back().ok()?;
    let places: Vec<BoardPoint> = all_over(lens).filter_map(|at| back.apply(at)).collect();
    projection_through(&places, size, through)
}

/// Places all over the photo of a lens.
fn all_over(lens: &Lens) -> impl Iterator<Item = PhotoPoint> {
    let [width, height] = lens.size().map(f64::from);
    let along = |i: u32| (f64::from(i) + 0.5) / f64::from(CARRIED);
    (0..CARRIED * CARRIED)
        .map(move |i| PhotoPoint::new(width * along(i % CARRIED), height * along(i / CARRIED)))
}
