//! The grid that pins stand on: found from the pins, then used to put them where they belong.

use serde::{Deserialize, Serialize};

use super::Sketch;
use super::edit::Edit;
use super::frame::Frame;
use super::places::{micrometres, rounded};
use crate::geometry::{
    BoardBox, BoardMm, BoardPoint, BoardVector, Handed, Homography, PhotoPoint, PhotoPx,
    fit_homography, fit_similarity,
};

/// A square grid on the board.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Grid {
    /// One of its crossings, mm.
    #[serde(default)]
    pub origin: [f64; 2],
    /// Counter-clockwise turn, degrees.
    #[serde(default)]
    pub turn_deg: f64,
    /// Distance of its lines, mm.
    pub pitch_mm: f64,
}

/// The pitches that the trade's through-hole boards are laid out on, mm (common practice, no
/// source): a tenth of an inch, and half of it.
pub const PITCHES: [f64; 2] = [2.54, 1.27];

/// A pin further from a crossing than this share of the pitch does not stand on the grid. A
/// quarter is where a pin is as likely to stand on none as on this one; below it clicks with
/// 0.3 mm of error on the 2.54 mm grid still all count.
const REACH: f64 = 0.25;
/// Fewest pins that tell a grid: with less, any places lie on some grid.
const FEWEST: usize = 5;
/// Share of the pins that must stand on a grid for it to be believed.
const LEAST_SHARE: f64 = 0.5;
/// Neighbours between these shares of the pitch give it its direction.
const NEIGHBOUR: std::ops::RangeInclusive<f64> = 0.85..=1.15;
/// Share of the board in both directions that pins must span before the perspective is taken
/// from them: beyond them it would be guessed.
const SPAN: f64 = 0.4;
/// The perspective must bring the pins this much nearer to the grid than a plain turn and scale.
const GAIN: f64 = 0.8;

/// A grid as it was found.
#[derive(Debug, Clone, PartialEq)]
pub struct GridFit {
    /// The grid, with its measured pitch.
    pub grid: Grid,
    /// Points on it: index into the points, and which crossing.
    pub on_grid: Vec<(usize, [i64; 2])>,
    /// Root mean square distance of those from their crossings, mm.
    pub rms_mm: f64,
}

impl Grid {
    fn axes(&self) -> [BoardVector; 2] {
        let (sin, cos) = self.turn_deg.to_radians().sin_cos();
        [BoardVector::new(cos, sin), BoardVector::new(-sin, cos)].map(|axis| axis * self.pitch_mm)
    }

    /// The crossing nearest to a place, and where it is.
    #[must_use]
    pub fn nearest(&self, at: BoardPoint) -> ([i64; 2], BoardPoint) {
        let from = at - BoardPoint::new(self.origin[0], self.origin[1]);
        let [x, y] = self.axes();
        let square = self.pitch_mm * self.pitch_mm;
        let index = [from.dot(x) / square, from.dot(y) / square].map(f64::round);
        let crossing =
            BoardPoint::new(self.origin[0], self.origin[1]) + x * index[0] + y * index[1];
        (index.map(|i| i as i64), rounded(crossing))
    }

    /// The crossing that a pin at this place stands on; `None` where it stands on none.
    #[must_use]
    pub fn snap(&self, at: BoardPoint) -> Option<BoardPoint> {
        if !(self.pitch_mm.is_finite() && self.pitch_mm > 0.0) {
            return None;
        }
        let (_, crossing) = self.nearest(at);
        ((crossing - at).length() <= REACH * self.pitch_mm).then_some(crossing)
    }
}

/// Finds the grid of about this pitch that most of the points stand on: the direction from
/// neighbours, then outwards from the densest place, measured anew as it grows, so that a scale
/// that is a per cent off does not throw the far end out of step. `None` where fewer than half
/// of the points, or fewer than five, stand on one.
#[must_use]
pub fn fit_grid(points: &[BoardPoint], pitch_mm: f64) -> Option<GridFit> {
    if points.len() < FEWEST || !points.iter().all(|p| p.x.is_finite() && p.y.is_finite()) {
        return None;
    }
    let near = Neighbours::of(points, pitch_mm);
    let mut grid = near.first_grid(points, pitch_mm)?;
    let mut order: Vec<usize> = (0..points.len()).collect();
    let seed = points[near.seed];
    order.sort_by(|a, b| {
        let distance = |i: usize| (points[i] - seed).square_length();
        distance(*a).total_cmp(&distance(*b)).then(a.cmp(b))
    });
    // Twice as many points each time; the last two rounds see them all.
    let mut within = FEWEST.max(8);
    let mut settled = false;
    loop {
        let on_grid = standing(&grid, points, &order[..within.min(order.len())]);
        if let Some(better) = refit(points, &on_grid, pitch_mm) {
            grid = better;
        }
        if within >= order.len() {
            if settled {
                break;
            }
            settled = true;
        }
        within *= 2;
    }
    let mut on_grid = standing(&grid, points, &order);
    on_grid.sort_unstable();
    let enough = on_grid.len() >= FEWEST
        && on_grid.len() as f64 >= LEAST_SHARE * points.len() as f64
        && (grid.pitch_mm / pitch_mm - 1.0).abs() < 0.15;
    let squares: f64 = on_grid
        .iter()
        .map(|&(i, _)| (grid.nearest(points[i]).1 - points[i]).square_length())
        .sum();
    enough.then(|| GridFit {
        grid,
        rms_mm: (squares / on_grid.len() as f64).sqrt(),
        on_grid,
    })
}

fn standing(grid: &Grid, points: &[BoardPoint], which: &[usize]) -> Vec<(usize, [i64; 2])> {
    which
        .iter()
        .filter(|&&i| grid.snap(points[i]).is_some())
        .map(|&i| (i, grid.nearest(points[i]).0))
        .collect()
}

fn crossing(index: [i64; 2], pitch_mm: f64) -> BoardPoint {
    BoardPoint::new(index[0] as f64 * pitch_mm, index[1] as f64 * pitch_mm)
}

fn refit(points: &[BoardPoint], on_grid: &[(usize, [i64; 2])], pitch_mm: f64) -> Option<Grid> {
    let from: Vec<BoardPoint> = on_grid
        .iter()
        .map(|&(_, i)| crossing(i, pitch_mm))
        .collect();
    let to: Vec<BoardPoint> = on_grid.iter().map(|&(i, _)| points[i]).collect();
    let fit = fit_similarity(&from, &to, None, Handed::Same).ok()?;
    let origin = fit.apply(BoardPoint::zero())?;
    let [x, _] = fit.jacobian(BoardPoint::zero())?;
    Some(Grid {
        origin: origin.to_array(),
        turn_deg: x.y.atan2(x.x).to_degrees(),
        pitch_mm: x.length() * pitch_mm,
    })
}

/// Steps of about one pitch from point to point.
struct Neighbours {
    /// Sum of the steps' directions, four times the angle: a grid looks the same every quarter.
    turn: [f64; 2],
    /// The point with most of them.
    seed: usize,
    steps: usize,
    length: f64,
}

impl Neighbours {
    fn of(points: &[BoardPoint], pitch_mm: f64) -> Self {
        let tree = rstar::RTree::bulk_load(
            points
                .iter()
                .enumerate()
                .map(|(i, p)| rstar::primitives::GeomWithData::new([p.x, p.y], i))
                .collect(),
        );
        let (least, most) = (NEIGHBOUR.start() * pitch_mm, NEIGHBOUR.end() * pitch_mm);
        let mut found = Self {
            turn: [0.0; 2],
            seed: 0,
            steps: 0,
            length: 0.0,
        };
        let mut greatest = 0;
        for (i, p) in points.iter().enumerate() {
            let mut steps: Vec<usize> = tree
                .locate_within_distance([p.x, p.y], most * most)
                .map(|other| other.data)
                .filter(|&j| (points[j] - *p).length() >= least)
                .collect();
            steps.sort_unstable();
            for &j in &steps {
                let step = points[j] - *p;
                let angle = 4.0 * step.y.atan2(step.x);
                found.turn[0] += angle.cos();
                found.turn[1] += angle.sin();
                found.length += step.length();
            }
            found.steps += steps.len();
            if steps.len() > greatest {
                (greatest, found.seed) = (steps.len(), i);
            }
        }
        found
    }

    fn first_grid(&self, points: &[BoardPoint], pitch_mm: f64) -> Option<Grid> {
        if self.steps == 0 {
            return None;
        }
        let seed = points[self.seed];
        Some(Grid {
            origin: seed.to_array(),
            turn_deg: (self.turn[1].atan2(self.turn[0]) / 4.0).to_degrees(),
            pitch_mm: (self.length / self.steps as f64).clamp(0.85 * pitch_mm, 1.15 * pitch_mm),
        })
    }
}

/// The edit that puts the pins on the grid of this pitch which they nearly stand on: the photo
/// is laid anew under the board, so that the grid is true, straight and of the right scale, with
/// its perspective where the pins span the board; then each pin goes to its crossing. `None`
/// where the pins stand on no such grid.
#[must_use]
pub fn straighten(sketch: &Sketch, pitch_mm: f64) -> Option<Edit> {
    let points: Vec<BoardPoint> = sketch
        .map
        .parts
        .iter()
        .flat_map(|part| part.pins.iter().map(|pin| pin.centre()))
        .collect();
    let fit = fit_grid(&points, pitch_mm)?;
    let words = format!("Put the pins on the {pitch_mm} mm grid");
    let Some(frame) = &sketch.frame else {
        let grid = Grid {
            origin: fit.grid.origin.map(micrometres),
            turn_deg: fit.grid.turn_deg,
            pitch_mm,
        };
        return Some(Edit::Snap {
            grid,
            parts: Vec::new(),
        });
    };
    // The lines of the true grid go through multiples of the pitch, as near as can be to where
    // the found one lies.
    let seed = BoardPoint::new(fit.grid.origin[0], fit.grid.origin[1]);
    let offset = [seed.x, seed.y].map(|v| (v / pitch_mm).round() as i64);
    let mut board = Vec::new();
    let mut photo = Vec::new();
    for &(i, [x, y]) in &fit.on_grid {
        board.push(crossing([x + offset[0], y + offset[1]], pitch_mm));
        photo.push(frame.photo(points[i])?);
    }
    Some(Edit::Together {
        words,
        edits: vec![
            Edit::LayAnew {
                photo_from_board: lay(frame, &board, &photo, &points)?,
            },
            Edit::Snap {
                grid: Grid {
                    origin: [0.0; 2],
                    turn_deg: 0.0,
                    pitch_mm,
                },
                parts: Vec::new(),
            },
        ],
    })
}

/// The transform that lays the photo under the true grid.
fn lay(
    frame: &Frame,
    board: &[BoardPoint],
    photo: &[PhotoPoint],
    all: &[BoardPoint],
) -> Option<Homography<BoardMm, PhotoPx>> {
    let mirrored = frame.photo_from_board.determinant_at(board[0])? < 0.0;
    let handed = if mirrored {
        Handed::Mirrored
    } else {
        Handed::Same
    };
    let (grid, whole) = (
        BoardBox::from_points(board.iter().copied()).size(),
        BoardBox::from_points(all.iter().copied()).size(),
    );
    let spans = grid.width >= SPAN * whole.width && grid.height >= SPAN * whole.height;
    // A frame that has perspective already keeps it where the pins cannot tell better.
    let plain = correction(frame, board, photo)
        .or_else(|| fit_similarity(board, photo, None, handed).ok())?;
    if !spans || board.len() < 8 {
        return Some(plain);
    }
    let Ok(tilted) = fit_homography(board, photo, None) else {
        return Some(plain);
    };
    let keeps_side = tilted
        .determinant_at(board[0])
        .is_some_and(|d| (d < 0.0) == mirrored);
    let better = squares(&tilted, board, photo)? < GAIN * GAIN * squares(&plain, board, photo)?;
    Some(if keeps_side && better { tilted } else { plain })
}

/// The present frame after a turn, scale and shift of the board that makes the grid true.
fn correction(
    frame: &Frame,
    board: &[BoardPoint],
    photo: &[PhotoPoint],
) -> Option<Homography<BoardMm, PhotoPx>> {
    let before: Option<Vec<BoardPoint>> = photo.iter().map(|p| frame.board(*p)).collect();
    let turned = fit_similarity(board, &before?, None, Handed::Same).ok()?;
    turned.then(&frame.photo_from_board).ok()
}

fn squares(
    fit: &Homography<BoardMm, PhotoPx>,
    board: &[BoardPoint],
    photo: &[PhotoPoint],
) -> Option<f64> {
    board
        .iter()
        .zip(photo)
        .map(|(b, p)| Some((fit.apply(*b)? - *p).square_length()))
        .sum()
}
