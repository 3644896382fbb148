//! From clicks to the edit that they ask for, and what it would make, before the last click.

use super::making::{LAND_MM, Making, Shown};
use super::tools::Tool;
use crate::board::draft::{
    Across, DraftError, Edit, Line, Mm, Numbering, PartSpec, PinPlace, guess_count, pins_of,
};
use crate::board::{Land, LandShape, Side};
use crate::desk::typed::number;
use crate::geometry::{BoardPoint, PhotoPoint};

impl Making {
    /// A place of the photo as board mm.
    pub(super) fn mm(&self, at: PhotoPoint) -> Result<Mm, DraftError> {
        self.draft
            .frame()
            .and_then(|frame| frame.board(at))
            .map(BoardPoint::to_array)
            .ok_or(DraftError::Nowhere { what: "the click" })
    }

    /// What a new part is.
    #[must_use]
    pub fn spec(&self) -> PartSpec {
        let land = number(&self.land).filter(|v| *v > 0.0).unwrap_or(LAND_MM);
        PartSpec {
            reference: None,
            kind: self.kind.unwrap_or_else(|| self.tool.kind()),
            value: String::new(),
            side: Side::Component,
            land: Land {
                shape: LandShape::Round,
                size: [land, land],
            },
            drill: number(&self.hole).filter(|v| *v > 0.0 && *v < land),
        }
    }

    /// Pins between two places: as typed, else by the pitch.
    pub(super) fn pins_between(&self, a: Mm, b: Mm) -> usize {
        let point = |p: Mm| BoardPoint::new(p[0], p[1]);
        let typed = self.count.trim().parse::<usize>().ok();
        let counted = self
            .found_between(point(a), point(b))
            .unwrap_or_else(|| guess_count(point(a), point(b), self.pitch_mm));
        typed.unwrap_or(match self.tool {
            Tool::Package | Tool::Header => counted * 2,
            _ => counted,
        })
    }

    /// How many found joints stand from one place to another, where they do so at equal distances:
    /// then none is missing, and the count does not hang on the pitch.
    fn found_between(&self, a: BoardPoint, b: BoardPoint) -> Option<usize> {
        /// Widest against narrowest gap of an even row, found places being some tenths of a
        /// millimetre off; with one joint missing it is two.
        const EVEN: f64 = 1.5;
        let frame = self.draft.frame()?;
        let (a, b) = (frame.photo(a)?, frame.photo(b)?);
        let mut along = self.found_on(a, b);
        along.sort_by(f64::total_cmp);
        let gaps: Vec<f64> = along.windows(2).map(|pair| pair[1] - pair[0]).collect();
        let widest = gaps.iter().copied().fold(0.0, f64::max);
        let narrowest = gaps.iter().copied().fold(f64::INFINITY, f64::min);
        let whole = (b - a).length();
        let ends = along.first()?.abs().max((along.last()? - whole).abs());
        let even = widest <= EVEN * narrowest && ends <= 0.5 * narrowest;
        (along.len() >= 3 && even).then_some(along.len())
    }

    /// The part with lands that leave room between its pins: a found land is often too large by
    /// the shine round it.
    fn fitted(mut part: PartSpec, from: Mm, to: Mm, count: usize) -> PartSpec {
        /// Share of the pitch that a land takes at most (2.0 of 2.54 mm, common practice, no
        /// source).
        const MOST: f64 = 0.8;
        let gap = (to[0] - from[0]).hypot(to[1] - from[1]) / count.saturating_sub(1).max(1) as f64;
        let most = (gap * MOST * 20.0).floor() / 20.0;
        if most >= 0.2 && part.land.size[0] > most {
            part.land.size = [most, most];
            part.drill = part.drill.map(|drill| drill.min(most / 2.0));
        }
        part
    }

    /// The edit that these clicks ask for.
    pub(super) fn edit(&self, clicks: &[PhotoPoint]) -> Result<Edit, DraftError> {
        let at = clicks
            .iter()
            .map(|click| self.mm(*click))
            .collect::<Result<Vec<Mm>, _>>()?;
        let part = self.spec();
        let by = |from: Mm, to: Mm| [to[0] - from[0], to[1] - from[1]];
        Ok(match (self.tool, at.as_slice()) {
            (Tool::Row, &[first, last]) => Edit::Row {
                count: self.pins_between(first, last),
                part: Self::fitted(part, first, last, self.pins_between(first, last)),
                first,
                last,
                first_no: 1,
                extend: None,
            },
            (Tool::MorePins, &[first, last]) => {
                let uid = self.chosen.first().ok_or(DraftError::Nothing)?;
                let before = self.map().part(uid).ok_or(DraftError::NoPart)?.pins.len();
                let count = self.pins_between(first, last);
                Edit::Row {
                    count,
                    part: Self::fitted(part, first, last, count),
                    first,
                    last,
                    first_no: u32::try_from(before + 1).unwrap_or(u32::MAX),
                    extend: Some(uid.clone()),
                }
            }
            (Tool::Package | Tool::Header, &[pin_1, row_end, other]) => Edit::TwoRows {
                count: self.pins_between(pin_1, row_end),
                part: Self::fitted(part, pin_1, row_end, self.pins_between(pin_1, row_end) / 2),
                pin_1,
                row_end,
                across: Across::Through(other),
                numbering: if self.tool == Tool::Header {
                    Numbering::Across
                } else {
                    Numbering::Round
                },
            },
            (Tool::TwoLeads, &[a, b]) => Edit::TwoLeads { part, a, b },
            (Tool::OnePin, &[at]) => Edit::OnePin { part, at },
            (Tool::Grid, &[first, row_end, column_end]) => {
                // A number typed after the second click is how many rows there are.
                let columns = self
                    .columns
                    .unwrap_or_else(|| self.pins_between(first, row_end));
                Edit::Array {
                    columns,
                    rows: self.pins_between(first, column_end),
                    part: Self::fitted(part, first, row_end, columns),
                    first,
                    row_end,
                    column_end,
                }
            }
            (Tool::Move, &[from, to]) => Edit::Move {
                parts: self.chosen.clone(),
                by: by(from, to),
            },
            (Tool::Duplicate, &[from, to]) => Edit::Duplicate {
                parts: self.chosen.clone(),
                by: by(from, to),
            },
            (Tool::Mirror, &[from, to]) => Edit::Mirror {
                parts: self.chosen.clone(),
                about: mirror_line(from, to),
                copy: true,
            },
            (Tool::Landmark, &[at]) => Edit::Landmark {
                name: self.free_landmark(),
                at,
                look_for: String::new(),
            },
            _ => return Err(DraftError::Nothing),
        })
    }

    /// `mark A`, `mark B` and on.
    fn free_landmark(&self) -> String {
        let taken = |name: &str| self.map().landmarks.iter().any(|mark| mark.name == name);
        (0u32..)
            .map(
                |i| match char::from_u32(u32::from(b'A') + i).filter(|_| i < 26) {
                    Some(letter) => format!("mark {letter}"),
                    None => format!("mark {}", i + 1),
                },
            )
            .find(|name| !taken(name))
            .unwrap_or_default()
    }

    /// What a click at the pointer would make, with the numbers that the pins would get.
    #[must_use]
    pub fn preview(&self, pointer: PhotoPoint) -> Shown {
        let full = self.tool.clicks(self.by);
        let mut clicks = self.clicks.clone();
        clicks.push(pointer);
        let pins: Vec<PinPlace> = if self.tool == Tool::Scale || full == 0 {
            Vec::new()
        } else if clicks.len() == full {
            self.edit(&clicks)
                .and_then(|edit| match edit {
                    Edit::Duplicate { .. } | Edit::Move { .. } | Edit::Mirror { .. } => {
                        Ok(self.moved(&edit))
                    }
                    edit => pins_of(&edit),
                })
                .unwrap_or_default()
        } else if clicks.len() == 2 && full == 3 {
            // The first row of a package, before the other one is clicked.
            self.first_row(&clicks).unwrap_or_default()
        } else {
            Vec::new()
        };
        let Some(frame) = self.draft.frame() else {
            return Shown::default();
        };
        Shown {
            ghosts: pins
                .into_iter()
                .filter_map(|pin| Some((frame.photo(pin.at)?, pin.no)))
                .collect(),
            radius_px: self.radius_px(pointer),
        }
    }

    fn first_row(&self, clicks: &[PhotoPoint]) -> Option<Vec<PinPlace>> {
        let (first, last) = (self.mm(clicks[0]).ok()?, self.mm(clicks[1]).ok()?);
        let all = self.pins_between(first, last);
        let count = if self.tool == Tool::Grid {
            all
        } else {
            all / 2
        };
        pins_of(&Edit::Row {
            part: self.spec(),
            first,
            last,
            count,
            first_no: 1,
            extend: None,
        })
        .ok()
    }

    fn moved(&self, edit: &Edit) -> Vec<PinPlace> {
        let (parts, carried): (_, &dyn Fn([f64; 2]) -> BoardPoint) = match edit {
            Edit::Move { parts, by } | Edit::Duplicate { parts, by } => {
                (parts, &|[x, y]| BoardPoint::new(x + by[0], y + by[1]))
            }
            Edit::Mirror { parts, about, .. } => (parts, &|[x, y]| match about {
                Line::AtX(line) => BoardPoint::new(2.0 * line - x, y),
                Line::AtY(line) => BoardPoint::new(x, 2.0 * line - y),
            }),
            _ => return Vec::new(),
        };
        parts
            .iter()
            .filter_map(|uid| self.map().part(uid))
            .flat_map(|part| &part.pins)
            .map(|pin| PinPlace {
                no: pin.no.clone(),
                at: carried(pin.at),
            })
            .collect()
    }
}

/// The line halfway between a pin and its place on the mirrored copy: upright where they stand
/// beside each other, level where one is above the other.
fn mirror_line(from: Mm, to: Mm) -> Line {
    if (to[0] - from[0]).abs() >= (to[1] - from[1]).abs() {
        Line::AtX((from[0] + to[0]) / 2.0)
    } else {
        Line::AtY((from[1] + to[1]) / 2.0)
    }
}
