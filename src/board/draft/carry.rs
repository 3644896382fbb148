//! Carrying parts, landmarks and edges along a transform of the board onto itself.

use super::frame::shift;
use super::places::{micrometres, rounded};
use super::{DraftError, edit::Line};
use crate::board::model::{BoardMap, Outline, Part};
use crate::geometry::{BoardMm, BoardPoint, BoardVector, Homography};

/// A transform of the board onto itself.
pub(super) type Motion = Homography<BoardMm, BoardMm>;

/// A scale nearer to 1 than this leaves sizes alone: shifts and mirrors must not wear lands away.
const SAME_SIZE: f64 = 1e-9;

pub(super) fn shift_by(by: [f64; 2]) -> Result<Motion, DraftError> {
    let by = super::places::place("the way to move", by)?;
    shift(by.to_vector())
}

pub(super) fn mirror_about(line: Line) -> Result<Motion, DraftError> {
    let rows = match line {
        Line::AtX(x) => [[-1.0, 0.0, 2.0 * x], [0.0, 1.0, 0.0]],
        Line::AtY(y) => [[1.0, 0.0, 0.0], [0.0, -1.0, 2.0 * y]],
    };
    Ok(Motion::from_rows([rows[0], rows[1], [0.0, 0.0, 1.0]])?)
}

fn point(at: &mut [f64; 2], motion: &Motion) -> Result<(), DraftError> {
    let moved = motion
        .apply(BoardPoint::new(at[0], at[1]))
        .ok_or(DraftError::Nowhere { what: "a place" })?;
    *at = rounded(moved).to_array();
    Ok(())
}

/// How a transform acts around a place: scale, and the image of a direction.
struct Local {
    scale: f64,
    x: BoardVector,
    y: BoardVector,
}

impl Local {
    fn at(motion: &Motion, at: [f64; 2]) -> Result<Self, DraftError> {
        let at = BoardPoint::new(at[0], at[1]);
        let nowhere = DraftError::Nowhere { what: "a place" };
        let (Some([x, y]), Some(scale)) = (motion.jacobian(at), motion.scale_at(at)) else {
            return Err(nowhere);
        };
        Ok(Self { scale, x, y })
    }

    fn length(&self, value: f64) -> f64 {
        if (self.scale - 1.0).abs() < SAME_SIZE {
            value
        } else {
            micrometres(value * self.scale).max(0.001)
        }
    }

    fn turn_deg(&self, turn_deg: f64) -> f64 {
        let (sin, cos) = turn_deg.to_radians().sin_cos();
        let image = self.x * cos + self.y * sin;
        let turned = image.y.atan2(image.x).to_degrees();
        // A rectangle turned by half a circle is the same one.
        micrometres(if turned > 90.0 {
            turned - 180.0
        } else if turned <= -90.0 {
            turned + 180.0
        } else {
            turned
        })
    }

    fn is_quarter_turn(&self) -> bool {
        self.x.x.abs() < self.x.y.abs()
    }
}

/// Carries one part along.
pub(super) fn part(part: &mut Part, motion: &Motion) -> Result<(), DraftError> {
    for pin in &mut part.pins {
        let local = Local::at(motion, pin.at)?;
        pin.land.size = pin.land.size.map(|side| local.length(side));
        if local.is_quarter_turn() {
            pin.land.size.reverse();
        }
        pin.drill = pin.drill.map(|drill| local.length(drill));
        point(&mut pin.at, motion)?;
    }
    match &mut part.outline {
        Outline::Rect { at, size, turn_deg } => {
            let local = Local::at(motion, *at)?;
            *size = size.map(|side| local.length(side));
            *turn_deg = local.turn_deg(*turn_deg);
            point(at, motion)?;
        }
        Outline::Circle { at, diameter } => {
            *diameter = Local::at(motion, *at)?.length(*diameter);
            point(at, motion)?;
        }
        Outline::Polygon { points } => {
            points.iter_mut().try_for_each(|at| point(at, motion))?;
        }
    }
    Ok(())
}

/// Carries everything on the map along.
pub(super) fn map(map: &mut BoardMap, motion: &Motion) -> Result<(), DraftError> {
    map.parts
        .iter_mut()
        .try_for_each(|each| part(each, motion))?;
    map.outline
        .iter_mut()
        .try_for_each(|at| point(at, motion))?;
    map.landmarks
        .iter_mut()
        .try_for_each(|mark| point(&mut mark.at, motion))
}
