//! Where the pins of a new part are, and how they are numbered.
//!
//! Numbering is common practice, no source: a package counts down the row that begins with
//! pin 1 and back along the other, counter-clockwise seen from the side its body stands on; a
//! two-row header counts across, odd numbers in the first row.

use super::edit::{Across, Edit, Mm, Numbering, PartSpec};
use super::error::DraftError;
use super::frame::length;
use crate::board::bounds::MAX_MM;
use crate::board::model::{Outline, PartKind, Side};
use crate::geometry::{BoardBox, BoardPoint, BoardVector};

/// Most pins of one new part. The largest through-hole packages have some 500; more is a slip
/// of the finger that would bury the board.
pub const MOST_PINS: usize = 1_024;

/// Pins nearer than this are one place, mm: less than any pitch.
const APART_MM: f64 = 0.1;

/// A pin that is to be.
#[derive(Debug, Clone, PartialEq)]
pub struct PinPlace {
    /// Its number.
    pub no: String,
    /// Where, mm.
    pub at: BoardPoint,
}

/// The pins that an edit would make, for a preview; empty for edits that make none by rule.
///
/// # Errors
/// As the edit itself.
pub fn pins_of(edit: &Edit) -> Result<Vec<PinPlace>, DraftError> {
    match edit {
        Edit::Row {
            first,
            last,
            count,
            first_no,
            ..
        } => row(*first, *last, *count, *first_no),
        Edit::TwoRows {
            part,
            pin_1,
            row_end,
            across,
            count,
            numbering,
        } => two_rows(part.side, *pin_1, *row_end, *across, *count, *numbering),
        Edit::TwoLeads { a, b, .. } => row(*a, *b, 2, 1),
        Edit::OnePin { at, .. } => Ok(vec![PinPlace {
            no: "1".to_owned(),
            at: place("the pin", *at)?,
        }]),
        Edit::Array {
            first,
            row_end,
            column_end,
            columns,
            rows,
            ..
        } => array(*first, *row_end, *column_end, *columns, *rows),
        _ => Ok(Vec::new()),
    }
}

/// How many pins stand in a row from `first` to `last` at this pitch, both counted; at least 2.
#[must_use]
pub fn guess_count(first: BoardPoint, last: BoardPoint, pitch_mm: f64) -> usize {
    let steps = ((last - first).length() / pitch_mm).round();
    if steps.is_finite() && steps >= 1.0 {
        (steps as usize).min(MOST_PINS - 1) + 1
    } else {
        2
    }
}

/// A place that can be on a board.
pub(super) fn place(what: &'static str, at: Mm) -> Result<BoardPoint, DraftError> {
    if at.iter().all(|v| v.is_finite() && v.abs() <= MAX_MM) {
        Ok(BoardPoint::new(at[0], at[1]))
    } else {
        Err(DraftError::Nowhere { what })
    }
}

fn counted(what: &'static str, count: usize, least: usize) -> Result<(), DraftError> {
    if (least..=MOST_PINS).contains(&count) {
        return Ok(());
    }
    Err(DraftError::Count {
        what,
        count,
        remedy: format!("give a number from {least} to {MOST_PINS}"),
    })
}

/// Whole micrometres: finer than any click, and the text of the map stays short.
pub(super) fn rounded(at: BoardPoint) -> BoardPoint {
    BoardPoint::new(micrometres(at.x), micrometres(at.y))
}

pub(super) fn micrometres(value: f64) -> f64 {
    // Adding zero turns -0 into 0, which reads better in the file.
    (value * 1000.0).round() / 1000.0 + 0.0
}

fn row(first: Mm, last: Mm, count: usize, first_no: u32) -> Result<Vec<PinPlace>, DraftError> {
    counted("pins in a row", count, 2)?;
    let (first, last) = (place("the first pin", first)?, place("the last pin", last)?);
    if (last - first).length() < APART_MM {
        return Err(DraftError::Together {
            what: "the first and the last pin",
        });
    }
    Ok((0..count)
        .map(|i| PinPlace {
            no: (u64::from(first_no) + i as u64).to_string(),
            at: rounded(first.lerp(last, i as f64 / (count - 1) as f64)),
        })
        .collect())
}

fn two_rows(
    side: Side,
    pin_1: Mm,
    row_end: Mm,
    across: Across,
    count: usize,
    numbering: Numbering,
) -> Result<Vec<PinPlace>, DraftError> {
    counted("pins in two rows", count, 4)?;
    if !count.is_multiple_of(2) {
        return Err(DraftError::Count {
            what: "pins in two rows of as many each",
            count,
            remedy: "give an even number, or make two rows of one part".to_owned(),
        });
    }
    let half = count / 2;
    let first = row(pin_1, row_end, half, 1)?;
    let (start, end) = (place("pin 1", pin_1)?, place("the last pin", row_end)?);
    let along = (end - start).normalize();
    // To the left of the way from pin 1, seen with x right and y up: counter-clockwise.
    let left = BoardVector::new(-along.y, along.x);
    let right_way = match side {
        Side::Component => left,
        Side::Solder => -left,
    };
    let step = match across {
        Across::Mm(distance) => right_way * length("the distance of the rows", distance)?,
        Across::Through(through) => {
            let distance = (place("the other row", through)? - start).dot(right_way);
            if distance.abs() < APART_MM {
                return Err(DraftError::Together {
                    what: "the two rows",
                });
            }
            if distance < 0.0 && numbering == Numbering::Round {
                return Err(DraftError::Clockwise);
            }
            right_way * distance
        }
    };
    let pin = |no: usize, at: BoardPoint| PinPlace {
        no: no.to_string(),
        at: rounded(at),
    };
    Ok(match numbering {
        Numbering::Round => {
            let back = first.iter().rev().enumerate();
            let back: Vec<_> = back
                .map(|(i, opposite)| pin(half + 1 + i, opposite.at + step))
                .collect();
            first.into_iter().chain(back).collect()
        }
        Numbering::Across => (first.iter().enumerate())
            .flat_map(|(i, odd)| [pin(2 * i + 1, odd.at), pin(2 * i + 2, odd.at + step)])
            .collect(),
    })
}

fn array(
    first: Mm,
    row_end: Mm,
    column_end: Mm,
    columns: usize,
    rows: usize,
) -> Result<Vec<PinPlace>, DraftError> {
    counted("columns", columns, 2)?;
    counted("rows", rows, 2)?;
    counted("pins in a grid", columns.saturating_mul(rows), 4)?;
    let start = place("pin 1", first)?;
    let across = place("the end of the first row", row_end)? - start;
    let down = place("the last row", column_end)? - start;
    if across.cross(down).abs() < APART_MM * APART_MM {
        return Err(DraftError::Together {
            what: "the first row and the last",
        });
    }
    let share = |i: usize, n: usize| i as f64 / (n - 1) as f64;
    Ok((0..rows)
        .flat_map(|r| (0..columns).map(move |c| (r, c)))
        .map(|(r, c)| PinPlace {
            no: (r * columns + c + 1).to_string(),
            at: rounded(start + across * share(c, columns) + down * share(r, rows)),
        })
        .collect())
}

/// Room that a body takes beyond its outermost pins where nobody drew it, mm: half a pitch of
/// the 2.54 mm grid. Drawn too large it only hides a name, too small it is hard to hit.
const ROUND_MM: f64 = 1.27;
/// Share of the distance between the leads that the body of an axial part takes (a quarter watt
/// resistor: 6.3 of 10.16 mm).
const AXIAL_SHARE: f64 = 0.62;
/// Share of the distance of its rows that the body of a package takes (6.4 of 7.62 mm).
const PACKAGE_SHARE: f64 = 0.85;
/// Diameter of an upright electrolytic against the distance of its leads (10 of 5 mm).
const CAN_SHARE: f64 = 2.0;

/// The body of a new part where nobody has drawn it: a guess from its pins that is drawn and
/// can be drawn anew.
pub(super) fn body(edit: &Edit, part: &PartSpec, pins: &[PinPlace]) -> Outline {
    let box_of = |points: &[BoardPoint]| BoardBox::from_points(points.iter().copied());
    let all: Vec<BoardPoint> = pins.iter().map(|pin| pin.at).collect();
    let land = part.land.size[0].max(part.land.size[1]);
    let circle = |at: BoardPoint, diameter: f64| Outline::Circle {
        at: rounded(at).to_array(),
        diameter: micrometres(diameter),
    };
    match (edit, all.as_slice()) {
        (_, [] | [_]) => circle(all.first().copied().unwrap_or_default(), land),
        (Edit::TwoLeads { .. }, [a, b, ..]) if part.kind == PartKind::Electrolytic => {
            circle(a.lerp(*b, 0.5), (*b - *a).length() * CAN_SHARE)
        }
        (Edit::TwoLeads { .. }, [a, b, ..]) => {
            let long = (*b - *a).length() * AXIAL_SHARE;
            turned(*a, *b, &all, move |_, wide| {
                [long.max(0.5), wide.max((long * 0.36).clamp(0.5, 8.0))]
            })
        }
        (
            Edit::TwoRows {
                numbering: Numbering::Round,
                ..
            },
            [first, .., _],
        ) => turned(*first, all[all.len() / 2 - 1], &all, |long, wide| {
            [long + 2.0 * ROUND_MM, (wide * PACKAGE_SHARE).max(0.5)]
        }),
        (Edit::TwoRows { .. }, [first, ..]) => {
            turned(*first, all[all.len() - 2], &all, |long, wide| {
                [long + 2.0 * ROUND_MM, wide + 2.0 * ROUND_MM]
            })
        }
        (Edit::Array { columns, .. }, [first, ..]) => turned(
            *first,
            all[(columns - 1).min(all.len() - 1)],
            &all,
            |long, wide| [long + 2.0 * ROUND_MM, wide + 2.0 * ROUND_MM],
        ),
        (Edit::Row { .. }, [first, .., last]) => turned(*first, *last, &all, |long, wide| {
            [long + 2.0 * ROUND_MM, wide + 2.0 * ROUND_MM]
        }),
        _ => {
            let bounds = box_of(&all).inflate(ROUND_MM, ROUND_MM);
            Outline::Rect {
                at: rounded(bounds.center()).to_array(),
                size: [micrometres(bounds.width()), micrometres(bounds.height())],
                turn_deg: 0.0,
            }
        }
    }
}

/// A rectangle along the line from `a` to `b` round all `points`; `size` makes its size from
/// their extent along and across that line.
fn turned(
    a: BoardPoint,
    b: BoardPoint,
    points: &[BoardPoint],
    size: impl Fn(f64, f64) -> [f64; 2],
) -> Outline {
    let along = (b - a).normalize();
    let across = BoardVector::new(-along.y, along.x);
    let extent = |axis: BoardVector| {
        points
            .iter()
            .map(|p| (*p - a).dot(axis))
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), v| {
                (lo.min(v), hi.max(v))
            })
    };
    let ((x0, x1), (y0, y1)) = (extent(along), extent(across));
    let [long, wide] = size(x1 - x0, y1 - y0);
    let middle = a + along * ((x0 + x1) / 2.0) + across * ((y0 + y1) / 2.0);
    // A turn of half a circle is no turn: -90..=90 reads best.
    let mut turn = along.y.atan2(along.x).to_degrees();
    if turn > 90.0 {
        turn -= 180.0;
    } else if turn <= -90.0 {
        turn += 180.0;
    }
    Outline::Rect {
        at: rounded(middle).to_array(),
        size: [micrometres(long), micrometres(wide)],
        turn_deg: micrometres(turn),
    }
}
