//! An alignment carried over from the photo that another was matched with.

use crate::align::{AutoAlignment, projection_through};
use crate::geometry::{
    BoardMm, BoardPoint, Homography, Lens, PhotoA, PhotoB, PhotoPoint, PhotoPx, Projection,
};

/// Points along each edge of a photo whose bend is carried over to another.
const CARRIED: u32 = 15;

/// How a photo lies that was matched with another.
pub(super) struct Carried {
    pub(super) projection: Projection,
    /// Root mean square distance of the places that agree, px.
    pub(super) rms_px: f64,
    /// Expected error of the match, px, without that of the other photo's alignment.
    pub(super) error_px: f64,
}

/// How a photo of `size` lies that was matched with one that lies as `there` says. `None` where
/// its place cannot be said.
pub(super) fn carried(
    there: &Projection,
    found: &AutoAlignment,
    size: [u32; 2],
) -> Option<Carried> {
    if let Some(bent) = &found.bent {
        return Some(Carried {
            projection: Projection {
                photo_from_board: straight(there, &bent.homography)?,
                lens: Some(bent.lens),
            },
            rms_px: bent.rms_px,
            error_px: bent.expected_error_px,
        });
    }
    let (projection, apart) = match &there.lens {
        None => (straight(there, &found.homography)?.into(), 0.0),
        Some(lens) => through(there, lens, &found.homography, size)?,
    };
    Some(Carried {
        projection,
        rms_px: found.rms_px,
        error_px: found.expected_error_px.hypot(apart),
    })
}

fn straight(
    there: &Projection,
    photo_from_photo: &Homography<PhotoA, PhotoB>,
) -> Option<Homography<BoardMm, PhotoPx>> {
    let next = Homography::from_rows(photo_from_photo.rows()).ok()?;
    there.photo_from_board.then(&next).ok()
}

/// The projection that comes nearest to a straight match with a bent photo, and how far it is from
/// it, px: a photo matched with a bent one is bent too.
fn through(
    there: &Projection,
    lens: &Lens,
    photo_from_photo: &Homography<PhotoA, PhotoB>,
    size: [u32; 2],
) -> Option<(Projection, f64)> {
    let seen = |at: BoardPoint| {
        let at = photo_from_photo.apply(there.apply(at)?.cast_unit())?;
        let [width, height] = size.map(f64::from);
        let inside = (0.0..width).contains(&at.x) && (0.0..height).contains(&at.y);
        inside.then(|| at.cast_unit())
    };
    let back = there.back().ok()?;
    let places: Vec<BoardPoint> = all_over(lens).filter_map(|at| back.apply(at)).collect();
    projection_through(&places, size, seen)
}

/// Places all over the photo of a lens.
fn all_over(lens: &Lens) -> impl Iterator<Item = PhotoPoint> {
    let [width, height] = lens.size().map(f64::from);
    let along = |i: u32| (f64::from(i) + 0.5) / f64::from(CARRIED);
    (0..CARRIED * CARRIED)
        .map(move |i| PhotoPoint::new(width * along(i % CARRIED), height * along(i / CARRIED)))
}
