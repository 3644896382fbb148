//! Dominant directions and gradient histograms of a feature (Lowe 2004, sections 5 and 6).

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

/// Pixels of the square around (x, y) that have all four neighbours.
fn square(layer: &Plane, x: f32, y: f32, radius: f32) -> impl Iterator<Item = (usize, usize)> {
    let low = |v: f32| (v - radius).floor().max(1.0) as usize;
    let high = |v: f32, size: usize| ((v + radius).ceil().max(0.0) as usize).min(size - 2);
    let columns = low(x)..=high(x, layer.width());
    let rows = low(y)..=high(y, layer.height());
    rows.flat_map(move |row| columns.clone().map(move |column| (column, row)))
}

/// The strongest gradient directions about a point, radians in -pi..=pi.
pub(super) fn orientations(layer: &Plane, x: f32, y: f32, sigma: f32) -> Vec<f32> {
    let window = 1.5 * sigma;
    let mut bins = [0.0f32; BINS];
    for (px, py) in square(layer, x, y, 3.0 * window) {
        let (dx, dy) = (px as f32 - x, py as f32 - y);
        let (gx, gy) = gradient(layer, px, py);
        let weight = (-(dx * dx + dy * dy) / (2.0 * window * window)).exp();
        let turn = gy.atan2(gx) / std::f32::consts::TAU * BINS as f32;
        let bin = turn.round().rem_euclid(BINS as f32) as usize % BINS;
        bins[bin] += weight * gx.hypot(gy);
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
    for (px, py) in square(layer, x, y, radius) {
        let (dx, dy) = (px as f32 - x, py as f32 - y);
        let u = (dx * cos + dy * sin) / cell;
        let v = (dy * cos - dx * sin) / cell;
        let (column, row) = (u + half - 0.5, v + half - 0.5);
        let reach = -1.0..CELLS as f32;
        if !(reach.contains(&column) && reach.contains(&row)) {
            continue;
        }
        let (gx, gy) = gradient(layer, px, py);
        let weight = (-(u * u + v * v) / (0.5 * (CELLS * CELLS) as f32)).exp();
        let turn = (gy.atan2(gx) - angle) / std::f32::consts::TAU * TURNS as f32;
        share_out(
            &mut bins,
            column,
            row,
            turn.rem_euclid(TURNS as f32),
            weight * (gx * gx + gy * gy).sqrt(),
        );
    }
    finish(bins)
}

/// Trilinear: a sample counts in the eight bins around it.
fn share_out(bins: &mut [f32; LENGTH], column: f32, row: f32, turn: f32, weight: f32) {
    let split = |v: f32| {
        let low = v.floor();
        (low as isize, v - low)
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
