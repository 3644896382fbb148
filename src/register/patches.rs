//! Small pieces of one picture looked for in the other, about where a transform puts them.

use euclid::Point2D;
use rayon::prelude::*;

use super::Plane;
use crate::geometry::Homography;

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
const PEAK_RADIUS: isize = 2;

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
    (0..columns * rows)
        .into_par_iter()
        .filter_map(|k| {
            let cell = (k % columns, k / columns);
            let middle = detail_in(a, cell, pitch, grid)?;
            look(a, b, transform, grid, cell, middle)
        })
        .collect()
}

/// The place of most detail in a cell.
fn detail_in(
    a: &Plane,
    cell: (usize, usize),
    pitch: f64,
    grid: &PatchGrid,
) -> Option<(isize, isize)> {
    let rim = grid.half as isize + 1;
    let tries = [0.125, 0.375, 0.625, 0.875];
    let places = tries
        .iter()
        .flat_map(|v| tries.iter().map(move |u| (*u, *v)));
    places
        .filter_map(|(u, v)| {
            let x = ((cell.0 as f64 + u) * pitch) as isize;
            let y = ((cell.1 as f64 + v) * pitch) as isize;
            let inside = x >= rim
                && y >= rim
                && x + rim < a.width() as isize
                && y + rim < a.height() as isize;
            inside.then(|| (corner_strength(a, x, y, grid.half as isize), x, y))
        })
        .max_by(|p, q| p.0.total_cmp(&q.0))
        .map(|(_, x, y)| (x, y))
}

/// Smaller eigenvalue of the structure tensor, every second pixel: large where a piece cannot
/// slide along itself. The piece with a rim of one pixel lies inside the picture.
fn corner_strength(a: &Plane, x: isize, y: isize, half: isize) -> f32 {
    let (width, values) = (a.width(), a.values());
    let (left, top) = ((x - half) as usize, (y - half) as usize);
    let side = 2 * half as usize + 1;
    let (mut xx, mut xy, mut yy) = (0.0f32, 0.0f32, 0.0f32);
    for row in (top..top + side).step_by(2) {
        let line = |row: usize| &values[row * width + left - 1..row * width + left + side + 1];
        let (above, here, below) = (line(row - 1), line(row), line(row + 1));
        for k in (1..=side).step_by(2) {
            let gx = here[k + 1] - here[k - 1];
            let gy = below[k] - above[k];
            (xx, xy, yy) = (xx + gx * gx, xy + gx * gy, yy + gy * gy);
        }
    }
    (xx + yy) / 2.0 - ((xx - yy).powi(2) / 4.0 + xy * xy).sqrt()
}

fn look<A, B>(
    a: &Plane,
    b: &Plane,
    transform: &Homography<A, B>,
    grid: &PatchGrid,
    cell: (usize, usize),
    (x, y): (isize, isize),
) -> Option<PatchHit<A, B>> {
    let (half, reach) = (grid.half as isize, grid.reach as isize);
    let side = (2 * half + 1) as usize;
    let mut piece = Vec::with_capacity(side * side);
    for dy in -half..=half {
        for dx in -half..=half {
            piece.push(a.at(x + dx, y + dy));
        }
    }
    let norm = centre(&mut piece);
    if norm < grid.least_contrast * side as f32 {
        return None;
    }
    let wide = (2 * (half + reach) + 1) as usize;
    let window = warped(b, transform, (x, y), half + reach)?;
    let scores = correlate(&piece, norm, side, &window, wide, grid.least_contrast);
    let span = (2 * reach + 1) as usize;
    let (peak, score) = (scores.iter().copied().enumerate()).max_by(|p, q| p.1.total_cmp(&q.1))?;
    let (px, py) = ((peak % span) as isize, (peak / span) as isize);
    let rival = (scores.iter().enumerate())
        .filter(|(k, _)| {
            let (kx, ky) = ((k % span) as isize, (k / span) as isize);
            (kx - px).abs() > PEAK_RADIUS || (ky - py).abs() > PEAK_RADIUS
        })
        .map(|(_, s)| *s)
        .fold(-1.0, f32::max);
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
        strength: corner_strength(a, x, y, half),
        to: transform.apply(Point2D::new(x as f64 + dx, y as f64 + dy))?,
        off: dx.hypot(dy),
        score,
        margin: score - rival,
    })
}

/// `b` as it looks from `a` about (x, y); `None` where a part of it lies outside. Over so few
/// pixels the view is taken as affine: what perspective bends there is far below a pixel.
fn warped<A, B>(
    b: &Plane,
    transform: &Homography<A, B>,
    (x, y): (isize, isize),
    half: isize,
) -> Option<Vec<f32>> {
    let middle = Point2D::new(x as f64, y as f64);
    let at = transform.apply(middle)?;
    let [across, down] = transform.jacobian(middle)?;
    let reach = half as f64;
    let (far_x, far_y) = (
        reach * (across.x.abs() + down.x.abs()),
        reach * (across.y.abs() + down.y.abs()),
    );
    let inside = at.x - far_x >= 0.0
        && at.y - far_y >= 0.0
        && at.x + far_x < b.width() as f64 - 2.0
        && at.y + far_y < b.height() as f64 - 2.0;
    if !inside {
        return None;
    }
    let (width, values) = (b.width(), b.values());
    // Offsets from a whole pixel keep 32 bits exact enough.
    let (whole_x, whole_y) = (at.x.floor(), at.y.floor());
    let origin = whole_y as isize * width as isize + whole_x as isize;
    let (fx, fy) = ((at.x - whole_x) as f32, (at.y - whole_y) as f32);
    let (ax, ay) = (across.x as f32, across.y as f32);
    let (dx, dy) = (down.x as f32, down.y as f32);
    let mut window = Vec::with_capacity(((2 * half + 1) * (2 * half + 1)) as usize);
    for v in -half..=half {
        let (row_x, row_y) = (fx + v as f32 * dx, fy + v as f32 * dy);
        for u in -half..=half {
            let (px, py) = (row_x + u as f32 * ax, row_y + u as f32 * ay);
            // Truncation of a positive number is its floor, several times faster here.
            let (left, top) = (floor(px), floor(py));
            let (tx, ty) = (px - left as f32, py - top as f32);
            let start = (origin + top as isize * width as isize + left as isize) as usize;
            let (upper, lower) = (
                &values[start..start + 2],
                &values[start + width..start + width + 2],
            );
            let above = upper[0] + (upper[1] - upper[0]) * tx;
            let below = lower[0] + (lower[1] - lower[0]) * tx;
            window.push(above + (below - above) * ty);
        }
    }
    Some(window)
}

/// The whole number below, for numbers of a few thousand.
fn floor(v: f32) -> i32 {
    const LIFT: f32 = 4096.0;
    (v + LIFT) as i32 - LIFT as i32
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

/// Normalised correlation of the piece with every place of the window, rows first. Places
/// without contrast score 0.
fn correlate(
    piece: &[f32],
    norm: f32,
    side: usize,
    window: &[f32],
    wide: usize,
    least_contrast: f32,
) -> Vec<f32> {
    match wide - side + 1 {
        ..=8 => correlate_by::<8>(piece, norm, side, window, wide, least_contrast),
        9..=16 => correlate_by::<16>(piece, norm, side, window, wide, least_contrast),
        _ => correlate_by::<24>(piece, norm, side, window, wide, least_contrast),
    }
}

/// The same, `LANES` neighbouring places at a time.
fn correlate_by<const LANES: usize>(
    piece: &[f32],
    norm: f32,
    side: usize,
    window: &[f32],
    wide: usize,
    least_contrast: f32,
) -> Vec<f32> {
    let span = wide - side + 1;
    let sums = Sums::of(window, wide);
    let stride = span.next_multiple_of(LANES) + side;
    let mut padded = vec![0.0f32; stride * wide];
    for (to, from) in padded.chunks_mut(stride).zip(window.chunks(wide)) {
        to[..wide].copy_from_slice(from);
    }
    let least = f64::from(least_contrast) * side as f64;
    let mut scores = Vec::with_capacity(span * span);
    for top in 0..span {
        for first in (0..span).step_by(LANES) {
            let mut products = [0.0f32; LANES];
            for (row, here) in piece.chunks(side).enumerate() {
                let start = (top + row) * stride + first;
                let there = &padded[start..start + side + LANES];
                for (k, p) in here.iter().enumerate() {
                    let run = &there[k..k + LANES];
                    for (product, t) in products.iter_mut().zip(run) {
                        *product += p * t;
                    }
                }
            }
            for (k, product) in products.iter().enumerate().take(span - first) {
                let length = sums.length(first + k, top, side);
                let plain = length < least;
                scores.push(if plain {
                    0.0
                } else {
                    product / (norm * length as f32)
                });
            }
        }
    }
    scores
}

/// Sums over rectangles of a window from its top left corner on.
struct Sums {
    stride: usize,
    /// Of the values and of their squares, less the mean: small numbers lose nothing.
    values: Vec<[f64; 2]>,
}

impl Sums {
    fn of(window: &[f32], wide: usize) -> Self {
        let stride = wide + 1;
        let mean = window.iter().sum::<f32>() / window.len() as f32;
        let mut values = vec![[0.0f64; 2]; stride * stride];
        for (y, line) in window.chunks(wide).enumerate() {
            let mut run = [0.0f64; 2];
            for (x, value) in line.iter().enumerate() {
                let v = f64::from(value - mean);
                run = [run[0] + v, run[1] + v * v];
                let above = values[y * stride + x + 1];
                values[(y + 1) * stride + x + 1] = [above[0] + run[0], above[1] + run[1]];
            }
        }
        Self { stride, values }
    }

    /// Length of the square of `side` px at (x, y) after its mean is taken away.
    fn length(&self, x: usize, y: usize, side: usize) -> f64 {
        let at = |x: usize, y: usize| self.values[y * self.stride + x];
        let corners = [
            at(x + side, y + side),
            at(x, y),
            at(x + side, y),
            at(x, y + side),
        ];
        let sum = |i: usize| corners[0][i] + corners[1][i] - corners[2][i] - corners[3][i];
        let (sum, squares) = (sum(0), sum(1));
        (squares - sum * sum / (side * side) as f64).max(0.0).sqrt()
    }
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
