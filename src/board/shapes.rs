//! Outlines of boards and bodies as points and extents, board mm.

use super::model::{BoardMap, Outline, Part, Pin};
use crate::geometry::{BoardBox, BoardPoint};

/// How many points stand for a circle; the error is below 0.5 % of the radius.
pub(super) const CIRCLE_CORNERS: u32 = 32;

impl BoardMap {
    /// The smallest upright rectangle round the board's edge, board mm.
    #[must_use]
    pub fn bounds(&self) -> BoardBox {
        BoardBox::from_points(self.outline.iter().map(|p| BoardPoint::new(p[0], p[1])))
    }
}

impl Part {
    /// Middle of the part: of its pins' extent, or of its body where it has no pins. Board mm.
    #[must_use]
    pub fn centre(&self) -> BoardPoint {
        if self.pins.is_empty() {
            return self.outline.bounds().center();
        }
        BoardBox::from_points(self.pins.iter().map(Pin::centre)).center()
    }
}

impl Outline {
    /// Middle of the body, board mm: the given centre, or that of a polygon's extent.
    #[must_use]
    pub fn centre(&self) -> BoardPoint {
        match self {
            Self::Rect { at, .. } | Self::Circle { at, .. } => BoardPoint::new(at[0], at[1]),
            Self::Polygon { .. } => self.bounds().center(),
        }
    }

    /// The smallest upright rectangle round the body, board mm.
    #[must_use]
    pub fn bounds(&self) -> BoardBox {
        if let Self::Circle { at, diameter } = self {
            let r = diameter.abs() / 2.0;
            let centre = BoardPoint::new(at[0], at[1]);
            return BoardBox::new(centre, centre).inflate(r, r);
        }
        BoardBox::from_points(self.corners())
    }

    /// Corners of the body in order, board mm. A circle is given by 32 points.
    #[must_use]
    pub fn corners(&self) -> Vec<BoardPoint> {
        match self {
            Self::Rect { at, size, turn_deg } => {
                let (sin, cos) = turn_deg.to_radians().sin_cos();
                let (w, h) = (size[0] / 2.0, size[1] / 2.0);
                [(-w, -h), (w, -h), (w, h), (-w, h)]
                    .map(|(x, y)| {
                        BoardPoint::new(at[0] + x * cos - y * sin, at[1] + x * sin + y * cos)
                    })
                    .to_vec()
            }
            Self::Circle { at, diameter } => (0..CIRCLE_CORNERS)
                .map(|i| {
                    let turn = std::f64::consts::TAU * f64::from(i) / f64::from(CIRCLE_CORNERS);
                    let r = diameter / 2.0;
                    BoardPoint::new(at[0] + r * turn.cos(), at[1] + r * turn.sin())
                })
                .collect(),
            Self::Polygon { points } => {
                points.iter().map(|p| BoardPoint::new(p[0], p[1])).collect()
            }
        }
    }
}
