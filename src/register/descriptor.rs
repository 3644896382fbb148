//! Dominant directions and gradient histograms of a feature (Lowe 2004, sections 5 and 6).

use std::ops::RangeInclusive;

use super::Plane;

/// Histogram cells per axis.
const CELLS: usize = 4;

/// Directions per cell.
const TURNS: usize = 8;

/// Numbers in a descriptor.
pub(super) const LENGTH: usize = CELLS * CELLS * TURNS;

/// Histogram of gradient directions of length [`UNIT`], rounded: whole numbers of 16 bits compare
/// several times faster than fractions, and rounding costs a thousandth.
pub(super) type Descriptor = [i16; LENGTH];

/// Length of a descriptor.
pub(super) const UNIT: f32 = 1024.0;

/// How alike two descriptors are: the cosine times the square of [`UNIT`].
pub(super) fn alike(a: &Descriptor, b: &Descriptor) -> i32 {
    (a.iter().zip(b))
        .map(|(x, y)| i32::from(*x) * i32::from(*y))
        .sum()
}

/// The cosine of two descriptors.
pub(super) fn cosine(a: &Descriptor, b: &Descriptor) -> f32 {
    alike(a, b) as f32 / (UNIT * UNIT)
}

/// The descriptor as a mirror (left for right) shows it: columns and the sense of turning change
/// over.
pub(super) fn mirrored(descriptor: &Descriptor) -> Descriptor {
    // The frame is turned to the gradient direction along u; a mirror turns v over, and with it
    // the sense of turning.
    let mut out = [0; LENGTH];
    for row in 0..CELLS {
        for column in 0..CELLS {
            for turn in 0..TURNS {
                let from = (row * CELLS + column) * TURNS + turn;
                let to = ((CELLS - 1 - row) * CELLS + column) * TURNS + (TURNS - turn) % TURNS;
                out[to] = descriptor[from];
            }
        }
    }
    out
}

/// Width of a histogram cell in sigmas.
const CELL_SIGMAS: f32 = 3.0;

/// No entry may hold more than this before the second normalising: tames glare.
const MOST: f32 = 0.2;

/// Bins of the direction histogram.
const BINS: usize = 36;

/// A second direction counts from this share of the strongest.
const SECOND: f32 = 0.8;

/// At most this many directions; each costs a descriptor.
const MOST_DIRECTIONS: usize = 2;

fn gradient(layer: &Plane, x: usize, y: usize) -> (f32, f32) {
    let (width, values) = (layer.width(), layer.values());
    let at = y * width + x;
    (
        values[at + 1] - values[at - 1],
        values[at + width] - values[at - width],
    )
}

/// Columns and rows of the square around (x, y) whose pixels have all four neighbours.
fn square(
    layer: &Plane,
    x: f32,
    y: f32,
    radius: f32,
) -> (RangeInclusive<usize>, RangeInclusive<usize>) {
    let low = |v: f32| (v - radius).floor().max(1.0) as usize;
    let high = |v: f32, size: usize| ((v + radius).ceil().max(0.0) as usize).min(size - 2);
    let columns = low(x)..=high(x, layer.width());
    let rows = low(y)..=high(y, layer.height());
    (columns, rows)
}

/// The direction of a gradient as a share of a turn, 0..=1, to a few hundred-thousandths: a
/// polynomial of the lesser over the greater part (Abramowitz and Stegun 4.4.49).
fn turn_of(gx: f32, gy: f32) -> f32 {
    let (ax, ay) = (gx.abs(), gy.abs());
    let (great, small) = if ax > ay { (ax, ay) } else { (ay, ax) };
    let t = small / great.max(f32::MIN_POSITIVE);
    let t2 = t * t;
    let arc = t
        * (0.999_866
            + t2 * (-0.330_299_5 + t2 * (0.180_141 + t2 * (-0.085_133 + t2 * 0.020_835_1))));
    let eighth = arc / std::f32::consts::TAU;
    let quarter = if ax > ay { eighth } else { 0.25 - eighth };
    let half = if gx < 0.0 { 0.5 - quarter } else { quarter };
    if gy < 0.0 { 1.0 - half } else { half }
}

/// The strongest gradient directions about a point, radians in -pi..=pi.
pub(super) fn orientations(layer: &Plane, x: f32, y: f32, sigma: f32) -> Vec<f32> {
    let window = 1.5 * sigma;
    let mut bins = [0.0f32; BINS];
    let (columns, rows) = square(layer, x, y, 3.0 * window);
    for (px, py) in rows.flat_map(|row| columns.clone().map(move |column| (column, row))) {
        let (dx, dy) = (px as f32 - x, py as f32 - y);
        let (gx, gy) = gradient(layer, px, py);
        let weight = (-(dx * dx + dy * dy) / (2.0 * window * window)).exp();
        let turn = turn_of(gx, gy) * BINS as f32;
        let bin = (turn + 0.5) as usize % BINS;
        bins[bin] += weight * (gx * gx + gy * gy).sqrt();
    }
    for _ in 0..2 {
        let old = bins;
        for (i, bin) in bins.iter_mut().enumerate() {
            *bin = (old[(i + BINS - 1) % BINS] + old[i] + old[(i + 1) % BINS]) / 3.0;
        }
    }
    let strongest = bins.iter().copied().fold(0.0, f32::max);
    let mut peaks: Vec<(f32, f32)> = Vec::new();
    for i in 0..BINS {
        let (before, here, after) = (bins[(i + BINS - 1) % BINS], bins[i], bins[(i + 1) % BINS]);
        if here > before && here >= after && here >= SECOND * strongest {
            let offset = 0.5 * (before - after) / (before - 2.0 * here + after);
            let turn = (i as f32 + offset) / BINS as f32;
            let angle = (turn - turn.round()) * std::f32::consts::TAU;
            peaks.push((here, angle));
        }
    }
    peaks.sort_by(|a, b| b.0.total_cmp(&a.0));
    peaks.truncate(MOST_DIRECTIONS);
    peaks.into_iter().map(|(_, angle)| angle).collect()
}

/// The descriptor of a point of given scale and direction.
pub(super) fn describe(layer: &Plane, x: f32, y: f32, sigma: f32, angle: f32) -> Descriptor {
    let cell = CELL_SIGMAS * sigma;
    let (sin, cos) = angle.sin_cos();
    let half = CELLS as f32 / 2.0;
    let radius = cell * std::f32::consts::SQRT_2 * (half + 0.5);
    let mut bins = [0.0f32; LENGTH];
    let start = (angle / std::f32::consts::TAU).rem_euclid(1.0);
    // exp(-(u2 + v2) / 8) is the product of one factor for each axis.
    let fall = 2.0 / ((CELLS * CELLS) as f32 * cell * cell);
    let (columns, rows) = square(layer, x, y, radius);
    let across: Vec<f32> = (columns.clone())
        .map(|px| (-(px as f32 - x).powi(2) * fall).exp())
        .collect();
    for py in rows {
        let dy = py as f32 - y;
        let down = (-dy * dy * fall).exp();
        for (px, across) in columns.clone().zip(&across) {
            let dx = px as f32 - x;
            let column = (dx * cos + dy * sin) / cell + half - 0.5;
            let row = (dy * cos - dx * sin) / cell + half - 0.5;
            let reach = -1.0..CELLS as f32;
            if !(reach.contains(&column) && reach.contains(&row)) {
                continue;
            }
            let (gx, gy) = gradient(layer, px, py);
            let turn = turn_of(gx, gy) - start;
            share_out(
                &mut bins,
                column,
                row,
                (if turn < 0.0 { turn + 1.0 } else { turn }).fract() * TURNS as f32,
                across * down * (gx * gx + gy * gy).sqrt(),
            );
        }
    }
    finish(bins)
}

/// Trilinear: a sample counts in the eight bins around it.
fn share_out(bins: &mut [f32; LENGTH], column: f32, row: f32, turn: f32, weight: f32) {
    // All three are above -1: lifted, truncation is their floor, several times faster here.
    let split = |v: f32| {
        let low = (v + 1.0) as isize - 1;
        (low, v - low as f32)
    };
    let ((c0, fc), (r0, fr), (t0, ft)) = (split(column), split(row), split(turn));
    let inside = |v: isize| (0..CELLS as isize).contains(&v);
    for (r, wr) in [(r0, 1.0 - fr), (r0 + 1, fr)] {
        for (c, wc) in [(c0, 1.0 - fc), (c0 + 1, fc)] {
            if !(inside(r) && inside(c)) {
                continue;
            }
            let start = (r as usize * CELLS + c as usize) * TURNS;
            let here = weight * wr * wc;
            bins[start + t0 as usize % TURNS] += here * (1.0 - ft);
            bins[start + (t0 as usize + 1) % TURNS] += here * ft;
        }
    }
}

fn finish(mut bins: [f32; LENGTH]) -> Descriptor {
    for _ in 0..2 {
        let length = bins.iter().map(|b| b * b).sum::<f32>().sqrt().max(1e-9);
        for bin in &mut bins {
            *bin = (*bin / length).min(MOST);
        }
    }
    // The square root of the share compares histograms better than the plain difference
    // (Arandjelovic and Zisserman 2012); its length is 1 by construction.
    let sum = bins.iter().sum::<f32>().max(1e-9);
    bins.map(|bin| (UNIT * (bin / sum).sqrt()).round() as i16)
}
