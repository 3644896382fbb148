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
    let tries = [0.1, 0.3, 0.5, 0.7, 0.9];
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
/// slide along itself.
fn corner_strength(a: &Plane, x: isize, y: isize, half: isize) -> f32 {
    let (mut xx, mut xy, mut yy) = (0.0f32, 0.0f32, 0.0f32);
    for dy in (-half..=half).step_by(2) {
        for dx in (-half..=half).step_by(2) {
            let gx = a.at(x + dx + 1, y + dy) - a.at(x + dx - 1, y + dy);
            let gy = a.at(x + dx, y + dy + 1) - a.at(x + dx, y + dy - 1);
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

/// `b` as it looks from `a` about (x, y); `None` where a part of it lies outside.
fn warped<A, B>(
    b: &Plane,
    transform: &Homography<A, B>,
    (x, y): (isize, isize),
    half: isize,
) -> Option<Vec<f32>> {
    let mut window = Vec::with_capacity(((2 * half + 1) * (2 * half + 1)) as usize);
    for dy in -half..=half {
        for dx in -half..=half {
            let at = transform.apply(Point2D::new((x + dx) as f64, (y + dy) as f64))?;
            window.push(b.sample(at.x, at.y)?);
        }
    }
    Some(window)
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
    let span = wide - side + 1;
    let count = (side * side) as f32;
    let mut scores = Vec::with_capacity(span * span);
    for top in 0..span {
        for left in 0..span {
            let (mut sum, mut squares, mut product) = (0.0f32, 0.0f32, 0.0f32);
            for row in 0..side {
                let start = (top + row) * wide + left;
                let there = &window[start..start + side];
                let here = &piece[row * side..(row + 1) * side];
                let mut lanes = [[0.0f32; 4]; 3];
                let (t4, h4) = (there.chunks_exact(4), here.chunks_exact(4));
                for (t, p) in t4.remainder().iter().zip(h4.remainder()) {
                    (sum, squares, product) = (sum + t, squares + t * t, product + t * p);
                }
                for (t, p) in t4.zip(h4) {
                    for i in 0..4 {
                        lanes[0][i] += t[i];
                        lanes[1][i] += t[i] * t[i];
                        lanes[2][i] += t[i] * p[i];
                    }
                }
                sum += lanes[0].iter().sum::<f32>();
                squares += lanes[1].iter().sum::<f32>();
                product += lanes[2].iter().sum::<f32>();
            }
            let length = (squares - sum * sum / count).max(0.0).sqrt();
            let plain = length < least_contrast * side as f32;
            scores.push(if plain {
                0.0
            } else {
                product / (norm * length)
            });
        }
    }
    scores
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
