//! From clicks on a photo to millimetres of the board.

use serde::{Deserialize, Serialize};

use super::error::DraftError;
use crate::board::bounds::MAX_MM;
use crate::board::model::Side;
use crate::geometry::{
    BoardBox, BoardMm, BoardPoint, BoardVector, Homography, PhotoPoint, PhotoPx, fit_homography,
};

/// What the scale of a photo is taken from. Places are upright photo px.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "known", rename_all = "snake_case", deny_unknown_fields)]
pub enum FrameBy {
    /// Two pins of one row whose pitch is known.
    Pitch {
        /// One pin.
        from: [f64; 2],
        /// Another.
        to: [f64; 2],
        /// How many pitches they are apart.
        pitches: u32,
        /// The pitch, mm.
        pitch_mm: f64,
    },
    /// Two corners of the board, or any two places, whose distance is known.
    Length {
        /// One end.
        from: [f64; 2],
        /// The other.
        to: [f64; 2],
        /// Their distance, mm.
        length_mm: f64,
    },
    /// Four corners of a rectangle of known size: takes perspective out.
    Rectangle {
        /// Corners, one after the other round it.
        corners: [[f64; 2]; 4],
        /// Distance from the first to the second, and from the second to the third, mm.
        size_mm: [f64; 2],
        /// They are the corners of the board.
        board_edge: bool,
    },
}

/// A photo laid under the board.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Frame {
    /// The side that it shows.
    pub side: Side,
    /// Width and height of the upright photo, px.
    pub photo_size: [u32; 2],
    /// From board mm to upright photo px: mirrored for the component side, not for the solder
    /// side.
    pub photo_from_board: Homography<BoardMm, PhotoPx>,
}

/// Scales beyond these are a slip, px/mm: one pixel for a pin, or one pixel for a grain of solder.
const SCALES: std::ops::RangeInclusive<f64> = 0.2..=2_000.0;

/// Clicks nearer than this to each other are one click, px.
const APART_PX: f64 = 3.0;

impl Frame {
    /// The board place under a place of the photo.
    #[must_use]
    pub fn board(&self, at: PhotoPoint) -> Option<BoardPoint> {
        let inverse = self.photo_from_board.inverse().ok()?;
        inverse
            .apply(at)
            .filter(|p| p.x.abs() <= MAX_MM && p.y.abs() <= MAX_MM)
    }

    /// The place of the photo that shows a board place.
    #[must_use]
    pub fn photo(&self, at: BoardPoint) -> Option<PhotoPoint> {
        self.photo_from_board.apply(at)
    }

    /// Scale there, px/mm.
    #[must_use]
    pub fn px_per_mm(&self, at: BoardPoint) -> Option<f64> {
        self.photo_from_board.scale_at(at)
    }

    /// Board mm of the photo's four corners, going round; `None` where one lies on the horizon.
    #[must_use]
    pub fn photo_corners(&self) -> Option<[BoardPoint; 4]> {
        let [w, h] = self.photo_size.map(|side| f64::from(side) - 0.5);
        let corner = |x, y| self.board(PhotoPoint::new(x, y));
        Some([
            corner(-0.5, -0.5)?,
            corner(w, -0.5)?,
            corner(w, h)?,
            corner(-0.5, h)?,
        ])
    }

    /// Lays a photo under the board. Also the edge of the board where the clicks give it.
    ///
    /// The board's axes follow the row, edge or rectangle that was clicked, the one nearest to
    /// the photo's own; the lower left of what the photo shows (or of the board, where its
    /// corners were clicked) is 0, 0.
    ///
    /// # Errors
    /// Where the clicks fall together or give no scale.
    pub(super) fn by(
        side: Side,
        photo_size: [u32; 2],
        by: &FrameBy,
    ) -> Result<(Self, Option<Vec<BoardPoint>>), DraftError> {
        match by {
            FrameBy::Pitch {
                from,
                to,
                pitches,
                pitch_mm,
            } => {
                if *pitches == 0 {
                    return Err(DraftError::Count {
                        what: "pitches",
                        count: 0,
                        remedy: "count the steps from one pin to the other".to_owned(),
                    });
                }
                let length = length("the pitch", *pitch_mm)? * f64::from(*pitches);
                Ok((two_points(side, photo_size, *from, *to, length)?, None))
            }
            FrameBy::Length {
                from,
                to,
                length_mm,
            } => {
                let length = length("the length", *length_mm)?;
                Ok((two_points(side, photo_size, *from, *to, length)?, None))
            }
            FrameBy::Rectangle {
                corners,
                size_mm,
                board_edge,
            } => rectangle(side, photo_size, *corners, *size_mm, *board_edge),
        }
    }
}

/// A length that a board can have.
pub(super) fn length(what: &'static str, value: f64) -> Result<f64, DraftError> {
    if value.is_finite() && (0.001..=MAX_MM).contains(&value) {
        Ok(value)
    } else {
        Err(DraftError::Length { what, value })
    }
}

fn two_points(
    side: Side,
    photo_size: [u32; 2],
    from: [f64; 2],
    to: [f64; 2],
    length_mm: f64,
) -> Result<Frame, DraftError> {
    let (dx, dy) = (to[0] - from[0], to[1] - from[1]);
    let px = dx.hypot(dy);
    if px.is_nan() || px < APART_PX {
        return Err(DraftError::Together {
            what: "the two clicks",
        });
    }
    let scale = px / length_mm;
    if !SCALES.contains(&scale) {
        return Err(DraftError::Length {
            what: "the length between the clicks",
            value: length_mm,
        });
    }
    // The line that was clicked lies along an axis of the board: the nearest of the photo's.
    let quarter = std::f64::consts::FRAC_PI_2;
    let angle = dy.atan2(dx);
    let (sin, cos) = (angle - (angle / quarter).round() * quarter).sin_cos();
    // Seen from the component side y goes up; from the solder side x goes to the left as well.
    let flip = match side {
        Side::Component => 1.0,
        Side::Solder => -1.0,
    };
    let turned = Homography::from_rows([
        [scale * cos * flip, scale * sin, 0.0],
        [scale * sin * flip, -scale * cos, 0.0],
        [0.0, 0.0, 1.0],
    ])?;
    let frame = Frame {
        side,
        photo_size,
        photo_from_board: turned,
    };
    from_lower_left(frame)
}

/// Moves the origin of the board to the lower left of what the photo shows.
fn from_lower_left(frame: Frame) -> Result<Frame, DraftError> {
    let Some(corners) = frame.photo_corners() else {
        return Ok(frame);
    };
    let least = BoardBox::from_points(corners).min;
    let shift = shift(least.to_vector())?;
    Ok(Frame {
        photo_from_board: shift.then(&frame.photo_from_board)?,
        ..frame
    })
}

pub(super) fn shift(by: BoardVector) -> Result<Homography<BoardMm, BoardMm>, DraftError> {
    Ok(Homography::from_rows([
        [1.0, 0.0, by.x],
        [0.0, 1.0, by.y],
        [0.0, 0.0, 1.0],
    ])?)
}

fn rectangle(
    side: Side,
    photo_size: [u32; 2],
    corners: [[f64; 2]; 4],
    size_mm: [f64; 2],
    board_edge: bool,
) -> Result<(Frame, Option<Vec<BoardPoint>>), DraftError> {
    let [a, b] = [
        length("the first side", size_mm[0])?,
        length("the second side", size_mm[1])?,
    ];
    let rough = two_points(side, photo_size, corners[0], corners[1], a)?;
    let clicked = corners.map(|c| PhotoPoint::new(c[0], c[1]));
    let mut places = Vec::with_capacity(4);
    for corner in clicked {
        places.push(rough.board(corner).ok_or(DraftError::Corners)?);
    }
    let first = places[1] - places[0];
    let [w, h] = if first.x.abs() >= first.y.abs() {
        [a, b]
    } else {
        [b, a]
    };
    let middle = places
        .iter()
        .fold(BoardVector::zero(), |sum, p| sum + p.to_vector() / 4.0);
    let ends: Vec<[bool; 2]> = places
        .iter()
        .map(|p| [p.x > middle.x, p.y > middle.y])
        .collect();
    let round = (0..4).all(|i| {
        // From one corner to the next one coordinate changes, never both.
        let (here, next) = (ends[i], ends[(i + 1) % 4]);
        (here[0] != next[0]) ^ (here[1] != next[1])
    });
    let different = (0..4).all(|i| !ends[i + 1..].contains(&ends[i]));
    if !round || !different {
        return Err(DraftError::Corners);
    }
    let place = |[right, up]: [bool; 2]| {
        BoardPoint::new(if right { w } else { 0.0 }, if up { h } else { 0.0 })
    };
    let board: Vec<BoardPoint> = ends.into_iter().map(place).collect();
    let frame = Frame {
        side,
        photo_size,
        photo_from_board: fit_homography(&board, &clicked, None)?,
    };
    if board_edge {
        let edge = [[false, false], [true, false], [true, true], [false, true]];
        return Ok((frame, Some(edge.into_iter().map(place).collect())));
    }
    Ok((from_lower_left(frame)?, None))
}
