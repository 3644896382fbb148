//! Small pieces of one picture looked for in the other, about where a transform puts them.

mod correlate;
mod seen;

use euclid::Point2D;
use rayon::prelude::*;

use super::Plane;
use crate::geometry::Homography;
use crate::wide::widest;
use correlate::{Piece, correlate};
use seen::Seen;

/// Where and how pieces are looked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PatchGrid {
    /// Cells along the longer edge; one piece is taken from each.
    pub cells: usize,
    /// A piece is 2 `half` + 1 px square.
    pub half: usize,
    /// Displacements up to this many px each way are tried.
    pub reach: usize,
    /// Least standard deviation of a piece (values 0..=1): below it there is nothing to find.
    pub least_contrast: f32,
}

/// A piece of the first picture and where the second has it.
#[derive(Debug, Clone, Copy)]
pub struct PatchHit<A, B> {
    /// Column and row of the grid.
    pub cell: (usize, usize),
    /// Middle of the piece.
    pub from: Point2D<f64, A>,
    /// How firmly a piece like this is held: the smaller eigenvalue of its structure tensor.
    pub strength: f32,
    /// Where the second picture has it.
    pub to: Point2D<f64, B>,
    /// How far that is from where the transform puts it, px of the first picture.
    pub off: f64,
    /// Normalised correlation there, -1..=1.
    pub score: f32,
    /// By how much that beats every displacement more than 2 px from it.
    pub margin: f32,
}

/// Displacements nearer than this belong to one peak, px.
const PEAK_RADIUS: usize = 2;

/// Looks for one piece of `a` from each cell of the grid in `b`. Cells without contrast, or that
/// `b` does not show, are left out. In grid order.
#[must_use]
pub fn patch_hits<A: Send + Sync, B: Send + Sync>(
    a: &Plane,
    b: &Plane,
    transform: &Homography<A, B>,
    grid: &PatchGrid,
) -> Vec<PatchHit<A, B>> {
    let pitch = a.width().max(a.height()) as f64 / grid.cells as f64;
    let columns = (a.width() as f64 / pitch) as usize;
    let rows = (a.height() as f64 / pitch) as usize;
    let pair = Pair {
        a,
        b,
        seen: Seen::of(a, b, transform, grid.reach),
        transform,
        grid,
    };
    (0..columns * rows)
        .into_par_iter()
        .filter_map(|k| {
            let cell = (k % columns, k / columns);
            look(&pair, cell, detail_in(a, cell, pitch, grid)?)
        })
        .collect()
}

/// Two pictures between which pieces are looked for.
struct Pair<'a, A, B> {
    a: &'a Plane,
    b: &'a Plane,
    seen: Seen,
    transform: &'a Homography<A, B>,
    grid: &'a PatchGrid,
}

/// A place, and how firmly what is there is held.
struct Detail {
    x: isize,
    y: isize,
    strength: f32,
}

/// The place of most detail in a cell.
fn detail_in(a: &Plane, cell: (usize, usize), pitch: f64, grid: &PatchGrid) -> Option<Detail> {
    let rim = grid.half as isize + 1;
    let right = strip(grid.half) as isize - rim;
    let mut best: Option<Detail> = None;
    widest(
        #[inline(always)]
        || {
            for v in TRIES {
                for u in TRIES {
                    let x = ((cell.0 as f64 + u) * pitch) as isize;
                    let y = ((cell.1 as f64 + v) * pitch) as isize;
                    let inside = x >= rim
                        && y >= rim
                        && x + right <= a.width() as isize
                        && y + rim < a.height() as isize;
                    if inside {
                        let strength = corner_strength(a, x, y, grid.half as isize);
                        if best.as_ref().is_none_or(|most| strength >= most.strength) {
                            best = Some(Detail { x, y, strength });
                        }
                    }
                }
            }
        },
    );
    best
}

/// Places of a cell that are tried, along either axis.
const TRIES: [f64; 4] = [0.125, 0.375, 0.625, 0.875];

/// Pixels of a row that are worked on at once.
const AT_ONCE: usize = 16;

/// Pixels of a row that are read for a piece of `half` px, with a rim of one on either side.
fn strip(half: usize) -> usize {
    (2 * half + 1).next_multiple_of(AT_ONCE) + 2
}

/// Smaller eigenvalue of the structure tensor, every second row: large where a piece cannot slide
/// along itself. The piece with a rim of one pixel, and the [`strip`] from its left edge on, lie
/// inside the picture.
#[inline(always)]
fn corner_strength(a: &Plane, x: isize, y: isize, half: isize) -> f32 {
    let (width, values) = (a.width(), a.values());
    let (left, top) = ((x - half) as usize, (y - half) as usize);
    let side = 2 * half as usize + 1;
    let [mut xx, mut xy, mut yy] = [[0.0f32; AT_ONCE]; 3];
    for row in (top..top + side).step_by(2) {
        for first in (0..side).step_by(AT_ONCE) {
            let line = |row: usize| {
                let start = row * width + left + first - 1;
                &values[start..start + AT_ONCE + 2]
            };
            let (above, here, below) = (line(row - 1), line(row), line(row + 1));
            for k in 0..AT_ONCE {
                let counts = if first + k < side { 1.0 } else { 0.0 };
                let gx = (here[k + 2] - here[k]) * counts;
                let gy = (below[k + 1] - above[k + 1]) * counts;
                xx[k] += gx * gx;
                xy[k] += gx * gy;
                yy[k] += gy * gy;
            }
        }
    }
    let [xx, xy, yy] = [xx, xy, yy].map(by_halves);
    (xx + yy) / 2.0 - ((xx - yy).powi(2) / 4.0 + xy * xy).sqrt()
}

/// The sum of all: halves are added to each other, as vectors can.
#[inline(always)]
fn by_halves(mut values: [f32; AT_ONCE]) -> f32 {
    let mut half = AT_ONCE / 2;
    while half > 0 {
        for k in 0..half {
            values[k] += values[k + half];
        }
        half /= 2;
    }
    values[0]
}

fn look<A, B>(
    pair: &Pair<A, B>,
    cell: (usize, usize),
    Detail { x, y, strength }: Detail,
) -> Option<PatchHit<A, B>> {
    let (half, reach) = (pair.grid.half as isize, pair.grid.reach as isize);
    if !shows(pair.b, pair.transform, (x, y), half + reach) {
        return None;
    }
    let side = (2 * half + 1) as usize;
    let mut piece = Vec::with_capacity(side * side);
    for row in y - half..=y + half {
        let start = row as usize * pair.a.width() + (x - half) as usize;
        piece.extend_from_slice(&pair.a.values()[start..start + side]);
    }
    let norm = centre(&mut piece);
    if norm < pair.grid.least_contrast * side as f32 {
        return None;
    }
    let piece = Piece {
        values: &piece,
        side,
        norm,
        least: pair.grid.least_contrast * side as f32,
    };
    let span = (2 * reach + 1) as usize;
    let corner = (x - half - reach, y - half - reach);
    let scores = correlate(&piece, &pair.seen, corner, span);
    let (peak, score) = (scores.iter().copied().enumerate()).max_by(|p, q| p.1.total_cmp(&q.1))?;
    let (px, py) = ((peak % span) as isize, (peak / span) as isize);
    let at = |kx: isize, ky: isize| {
        let inside = (0..span as isize).contains(&kx) && (0..span as isize).contains(&ky);
        inside.then(|| scores[ky as usize * span + kx as usize])
    };
    let dx = (px - reach) as f64 + parabola(at(px - 1, py), score, at(px + 1, py));
    let dy = (py - reach) as f64 + parabola(at(px, py - 1), score, at(px, py + 1));
    let from = Point2D::new(x as f64, y as f64);
    Some(PatchHit {
        cell,
        from,
        strength,
        to: (pair.transform).apply(Point2D::new(x as f64 + dx, y as f64 + dy))?,
        off: (dx * dx + dy * dy).sqrt(),
        score,
        margin: score - rival(&scores, span, (px as usize, py as usize)),
    })
}

/// The best score outside the peak's own surroundings.
fn rival(scores: &[f32], span: usize, (px, py): (usize, usize)) -> f32 {
    let most = |some: &[f32]| some.iter().copied().fold(-1.0, f32::max);
    let (left, right) = (
        px.saturating_sub(PEAK_RADIUS),
        (px + PEAK_RADIUS + 1).min(span),
    );
    (scores.chunks(span).enumerate())
        .map(|(y, row)| {
            if y.abs_diff(py) > PEAK_RADIUS {
                most(row)
            } else {
                most(&row[..left]).max(most(&row[right..]))
            }
        })
        .fold(-1.0, f32::max)
}

/// Whether `b` shows all of the square of `half` px about (x, y).
fn shows<A, B>(
    b: &Plane,
    transform: &Homography<A, B>,
    (x, y): (isize, isize),
    half: isize,
) -> bool {
    let middle = Point2D::new(x as f64, y as f64);
    let (Some(at), Some([across, down])) = (transform.apply(middle), transform.jacobian(middle))
    else {
        return false;
    };
    let reach = half as f64;
    let (far_x, far_y) = (
        reach * (across.x.abs() + down.x.abs()),
        reach * (across.y.abs() + down.y.abs()),
    );
    at.x - far_x >= 0.0
        && at.y - far_y >= 0.0
        && at.x + far_x < b.width() as f64 - 2.0
        && at.y + far_y < b.height() as f64 - 2.0
}

/// Takes the mean away; returns the length that is left.
fn centre(values: &mut [f32]) -> f32 {
    let mean = values.iter().sum::<f32>() / values.len() as f32;
    let mut squares = 0.0;
    for value in values {
        *value -= mean;
        squares += *value * *value;
    }
    squares.sqrt()
}

/// Offset of the top of the parabola through three values at -1, 0 and 1.
fn parabola(before: Option<f32>, here: f32, after: Option<f32>) -> f64 {
    let (Some(before), Some(after)) = (before, after) else {
        return 0.0;
    };
    let bend = f64::from(before - 2.0 * here + after);
    if bend >= -1e-9 {
        return 0.0;
    }
    (0.5 * f64::from(before - after) / bend).clamp(-0.5, 0.5)
}

#[cfg(test)]
mod tests;
