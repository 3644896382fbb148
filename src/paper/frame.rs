//! Which piece of a board a picture of the slip shows, and the marks drawn on it.

use super::picture::{PaperPx, PictureMark};
use super::site::{Lie, Site, box_of, outline_points};
use crate::board::{BoardMap, Side};
use crate::geometry::{BoardBox, BoardMm, BoardPoint, Homography};

/// Width and height of a close-up, px.
pub(super) const CLOSE_UP_PX: [u32; 2] = [320, 256];
/// Least radius of the ring on an overview, px: at the printed size some 2.6 mm, which a bad
/// copier still keeps apart from a screw hole.
pub(super) const LEAST_RING_PX: f64 = 22.0;
/// A place longer than this many times its width gets a frame rather than a ring.
const LONG: f64 = 1.8;
/// How much of the board a close-up shows, as a multiple of the place: the place, and enough of
/// its neighbours to tell it from them.
const CLOSE_UP_ROOM: f64 = 1.5;
/// As [`CLOSE_UP_ROOM`] for one single land, whose neighbours stand a pitch away.
pub(super) const LAND_ROOM: f64 = 2.1;
/// Narrowest close-up, mm.
const LEAST_CLOSE_UP_MM: f64 = 3.0;
/// A ring on a close-up runs this much outside the land, so that the joint stays free.
const LAND_RING: f64 = 1.3;
/// How far outside the dark line its arc is drawn on a close-up, px: half the double stroke and
/// some room.
const ARC_OFFSET_PX: f64 = 16.0;

/// Which part of a board a picture shows, as it lies.
#[derive(Clone, Copy)]
pub(super) struct Frame {
    pub(super) lie: Lie,
    /// Upper left corner in mm from the board's upper left corner as it lies.
    pub(super) from: [f64; 2],
    pub(super) px_per_mm: f64,
}

impl Frame {
    pub(super) fn px(&self, at: BoardPoint) -> [f64; 2] {
        let seen = self.lie.seen(at);
        [0, 1].map(|axis| (seen[axis] - self.from[axis]) * self.px_per_mm - 0.5)
    }

    /// The transform from picture pixels to board millimetres.
    pub(super) fn board_from_paper(&self) -> Option<Homography<PaperPx, BoardMm>> {
        let mm = 1.0 / self.px_per_mm;
        let [left, top] = [0, 1].map(|axis| self.from[axis] + 0.5 * mm);
        let extent = self.lie.extent;
        let across = match self.lie.side {
            Side::Component => [mm, 0.0, extent.min.x + left],
            Side::Solder => [-mm, 0.0, extent.max.x - left],
        };
        Homography::from_rows([across, [0.0, -mm, extent.max.y - top], [0.0, 0.0, 1.0]]).ok()
    }
}

/// The ring (or, round a long place, the frame) of an overview.
pub(super) fn place_mark(frame: &Frame, extent: BoardBox) -> PictureMark {
    let [left, top, right, bottom] = px_box(frame, extent);
    let (width, height) = (right - left, bottom - top);
    let at = [(left + right) / 2.0, (top + bottom) / 2.0];
    let long = width.max(height) > LONG * width.min(height).max(1.0)
        && width.max(height) > 2.0 * LEAST_RING_PX;
    if long {
        let room = LEAST_RING_PX / 2.0;
        PictureMark::Frame {
            from: [left - room, top - room],
            to: [right + room, bottom + room],
        }
    } else {
        PictureMark::Ring {
            at,
            radius: (width.hypot(height) / 2.0 + 6.0).max(LEAST_RING_PX),
        }
    }
}

fn px_box(frame: &Frame, extent: BoardBox) -> [f64; 4] {
    let (a, b) = (frame.px(extent.min), frame.px(extent.max));
    [
        a[0].min(b[0]),
        a[1].min(b[1]),
        a[0].max(b[0]),
        a[1].max(b[1]),
    ]
}

pub(super) fn close_frame(lie: Lie, extent: BoardBox, single_land: bool) -> Frame {
    let room = if single_land {
        LAND_ROOM
    } else {
        CLOSE_UP_ROOM
    };
    let [width, height] = CLOSE_UP_PX.map(f64::from);
    let shown_mm = (extent.height() * room * width / height)
        .max(extent.width() * room)
        .max(LEAST_CLOSE_UP_MM);
    let px_per_mm = width / shown_mm;
    let middle = lie.seen(extent.center());
    Frame {
        lie,
        from: [
            middle[0] - width / px_per_mm / 2.0,
            middle[1] - height / px_per_mm / 2.0,
        ],
        px_per_mm,
    }
}

/// The arc where the hint drew one, else a ring round each land, else a frame round the place.
pub(super) fn close_marks(frame: &Frame, site: &Site, arc: Vec<[f64; 2]>) -> Vec<PictureMark> {
    if arc.len() > 1 {
        let centre = site.lands.first().map(|&(at, _)| frame.px(at));
        let points = centre.map_or(arc.clone(), |centre| outside(&arc, centre));
        return vec![PictureMark::Arc { points }];
    }
    if site.lands.is_empty() {
        return site
            .extent
            .map(|extent| {
                let [left, top, right, bottom] = px_box(frame, extent);
                PictureMark::Frame {
                    from: [left, top],
                    to: [right, bottom],
                }
            })
            .into_iter()
            .collect();
    }
    site.lands
        .iter()
        .map(|&(at, radius)| PictureMark::Ring {
            at: frame.px(at),
            radius: radius * LAND_RING * frame.px_per_mm,
        })
        .collect()
}

/// The arc drawn just outside the dark line that it points at, so that the line itself stays to
/// be seen.
fn outside(arc: &[[f64; 2]], centre: [f64; 2]) -> Vec<[f64; 2]> {
    arc.iter()
        .map(|at| {
            let away = [at[0] - centre[0], at[1] - centre[1]];
            let radius = away[0].hypot(away[1]).max(1.0);
            let out = (radius + ARC_OFFSET_PX) / radius;
            [centre[0] + away[0] * out, centre[1] + away[1] * out]
        })
        .collect()
}

/// The outline of the board, then of its parts; seen from the solder side only the lands of
/// parts are drawn, because their bodies are behind the board.
pub(super) fn drawn(map: &BoardMap, side: Side, frame: &Frame) -> Vec<Vec<[f64; 2]>> {
    let px = |points: &[BoardPoint]| points.iter().map(|&at| frame.px(at)).collect();
    let board: Vec<BoardPoint> = map
        .outline
        .iter()
        .map(|&[x, y]| BoardPoint::new(x, y))
        .collect();
    let mut drawn: Vec<Vec<[f64; 2]>> = vec![px(&board)];
    for part in &map.parts {
        if part.side == side {
            drawn.push(px(&outline_points(&part.outline)));
        } else {
            let pins: Vec<BoardPoint> = part.pins.iter().map(|pin| pin.centre()).collect();
            let reach = box_of(&pins).map(|b| b.inflate(0.8, 0.8));
            drawn.extend(reach.map(|b| {
                px(&[
                    b.min,
                    BoardPoint::new(b.max.x, b.min.y),
                    b.max,
                    BoardPoint::new(b.min.x, b.max.y),
                ])
            }));
        }
    }
    drawn
}
