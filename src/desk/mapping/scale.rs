//! From clicks to the scale, and what the joints that were found on the photo tell of it.

use super::making::{FoundOnPhoto, Making, Spot};
use super::tools::Tool;
use crate::board::draft::{DraftError, Edit, FoundJoint, FrameBy};
use crate::desk::typed::number;
use crate::geometry::PhotoPoint;

/// Hole against land where the land is known from the photo.
const HOLE_SHARE: f64 = 0.5;

/// What the scale is taken from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum ScaleBy {
    /// Two pins of a row with a known pitch.
    #[default]
    Pins,
    /// Two places and their distance.
    Length,
    /// The four corners of the board.
    Board,
    /// Four corners of something else.
    Rectangle,
}

impl ScaleBy {
    /// In the order of the panel.
    pub const ALL: [Self; 4] = [Self::Pins, Self::Board, Self::Length, Self::Rectangle];

    /// Its name.
    #[must_use]
    pub fn label(self) -> &'static str {
        match self {
            Self::Pins => "pins of a row",
            Self::Length => "a known length",
            Self::Board => "corners of the board",
            Self::Rectangle => "another rectangle",
        }
    }
}

impl Making {
    /// Found joints on the line between two places of the photo: how far along, px.
    pub(super) fn found_on(&self, a: PhotoPoint, b: PhotoPoint) -> Vec<f64> {
        let along = b - a;
        let length = along.length();
        if length.is_nan() || length <= 0.0 {
            return Vec::new();
        }
        self.found
            .iter()
            .filter_map(|spot| {
                let offset = spot.at - a;
                let far = offset.dot(along) / length;
                let on_line = (offset.cross(along) / length).abs() < spot.radius_px * 0.6
                    && (-spot.radius_px..=length + spot.radius_px).contains(&far);
                on_line.then_some(far)
            })
            .collect()
    }

    /// The found joints on the line between two clicks tell how many pins the row has.
    pub(super) fn count_row(&mut self) {
        if self.by != ScaleBy::Pins || !self.lengths[0].is_empty() {
            return;
        }
        let [a, b] = self.clicks.as_slice() else {
            return;
        };
        let n = self.found_on(*a, *b).len();
        if n >= 3 {
            self.lengths[0] = n.to_string();
            self.counted = true;
        }
    }

    pub(super) fn frame_by(&self) -> Result<FrameBy, DraftError> {
        let full = self.tool.clicks(self.by);
        let clicks: Vec<[f64; 2]> = self.clicks.iter().map(|p| p.to_array()).collect();
        if clicks.len() < full {
            return Err(DraftError::Count {
                what: "clicks",
                count: clicks.len(),
                remedy: format!("click {full} places first"),
            });
        }
        let typed = |i: usize| number(&self.lengths[i]).unwrap_or(f64::NAN);
        Ok(match self.by {
            ScaleBy::Pins => {
                let pins = self.lengths[0].trim().parse::<u32>().unwrap_or(0);
                if pins < 2 {
                    return Err(DraftError::Count {
                        what: "pins",
                        count: pins as usize,
                        remedy: "type how many pins the row has, both ends counted".to_owned(),
                    });
                }
                FrameBy::Pitch {
                    from: clicks[0],
                    to: clicks[1],
                    pitches: pins - 1,
                    pitch_mm: self.pitch_mm,
                }
            }
            ScaleBy::Length => FrameBy::Length {
                from: clicks[0],
                to: clicks[1],
                length_mm: typed(0),
            },
            ScaleBy::Board | ScaleBy::Rectangle => FrameBy::Rectangle {
                corners: [clicks[0], clicks[1], clicks[2], clicks[3]],
                size_mm: [typed(0), typed(1)],
                board_edge: self.by == ScaleBy::Board,
            },
        })
    }

    /// Lands as large as those that were found, once their size in mm is known.
    pub(super) fn land_from_found(&mut self) {
        let Some(frame) = self.draft.frame() else {
            return;
        };
        let mut sizes: Vec<f64> = self
            .found
            .iter()
            .filter_map(|spot| Some(2.0 * spot.radius_px / frame.px_per_mm(frame.board(spot.at)?)?))
            .collect();
        if sizes.len() < 3 {
            return;
        }
        sizes.sort_by(f64::total_cmp);
        let land = (sizes[sizes.len() / 2] * 20.0).round() / 20.0;
        self.land = format!("{land}");
        self.hole = format!("{}", (land * HOLE_SHARE * 20.0).round() / 20.0);
    }

    /// Found joints were looked up on the photo.
    pub fn take_found(&mut self, found: FoundOnPhoto) {
        self.found = found.spots;
        self.rows = found.rows;
        self.packages = found.packages;
        self.land_from_found();
        self.count_row();
    }

    /// The scale from the longest row that was found, at the pitch that is set.
    ///
    /// # Errors
    /// Where no row was found.
    pub fn found_scale(&mut self) -> Result<(), DraftError> {
        let longest = self
            .rows
            .iter()
            .filter(|row| row.len() >= 3)
            .max_by(|a, b| {
                let length = |row: &[usize]| match (row.first(), row.last()) {
                    (Some(a), Some(b)) => (self.found[*b].at - self.found[*a].at).length(),
                    _ => 0.0,
                };
                length(a).total_cmp(&length(b))
            });
        let Some(row) = longest else {
            return Err(DraftError::Nothing);
        };
        self.by = ScaleBy::Pins;
        self.tool = Tool::Scale;
        self.clicks = [row[0], row[row.len() - 1]]
            .map(|i| self.found[i].at)
            .to_vec();
        self.lengths[0] = row.len().to_string();
        self.enter()
    }

    /// Takes the found joints over.
    ///
    /// # Errors
    /// Where there is no scale yet or none is left to take over.
    pub fn accept(&mut self) -> Result<(), DraftError> {
        let Some(frame) = self.draft.frame() else {
            return Err(DraftError::Nothing);
        };
        let joint = |spot: &Spot| {
            let at = frame.board(spot.at)?;
            Some(FoundJoint {
                at: at.to_array(),
                land_mm: 2.0 * spot.radius_px / frame.px_per_mm(at)?,
            })
        };
        let joints: Option<Vec<FoundJoint>> = self.found.iter().map(joint).collect();
        let joints = joints.ok_or(DraftError::Nowhere {
            what: "a found joint",
        })?;
        let (rows, packages) = (self.rows.clone(), self.packages.clone());
        self.apply(&Edit::Accept {
            joints,
            rows,
            packages,
        })?;
        self.chosen.clear();
        Ok(())
    }
}
