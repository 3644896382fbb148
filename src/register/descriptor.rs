//! Dominant directions and gradient histograms of a feature (Lowe 2004, sections 5 and 6).

use super::Plane;
use super::run::along;
use crate::wide::widest;

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
#[inline(always)]
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

/// Values of the layer at a square grid of `N` by `N` points about (x, y), `step` (the way from one
/// column to the next) apart, rows first. Outside the layer, the nearest edge pixel counts.
#[inline(always)]
fn sampled<const N: usize>(layer: &Plane, x: f32, y: f32, step: (f32, f32)) -> [[f32; N]; N] {
    let middle = (N - 1) as f64 / 2.0;
    let (x, y, step) = (
        f64::from(x),
        f64::from(y),
        [f64::from(step.0), f64::from(step.1)],
    );
    let mut out = [[0.0; N]; N];
    for (row, out) in out.iter_mut().enumerate() {
        let down = row as f64 - middle;
        let start = [
            x - middle * step[0] - down * step[1],
            y - middle * step[1] + down * step[0],
        ];
        let run: [f32; WHOLE_VECTORS] = along(layer, start, step);
        out.copy_from_slice(&run[..N]);
    }
    out
}

/// Points of a row that are read, as many of them as count.
const WHOLE_VECTORS: usize = 24;

/// Length and direction of the gradient, as a share of a turn from the rows' direction, at the
/// inner points of a grid.
#[inline(always)]
fn gradients<const N: usize, const INNER: usize>(
    values: &[[f32; N]; N],
) -> [[(f32, f32); INNER]; INNER] {
    std::array::from_fn(|row| {
        std::array::from_fn(|column| {
            let gx = values[row + 1][column + 2] - values[row + 1][column];
            let gy = values[row + 2][column + 1] - values[row][column + 1];
            ((gx * gx + gy * gy).sqrt(), turn_of(gx, gy))
        })
    })
}

/// The direction of a gradient as a share of a turn, 0..=1, to a few hundred-thousandths: a
/// polynomial of the lesser over the greater part (Abramowitz and Stegun 4.4.49).
#[inline(always)]
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

/// Points per axis at which the direction is sought, half a sigma apart: three times the weight's
/// 1.5 sigmas to either side.
const LOOKED: usize = 19;

/// The strongest gradient directions about a point, radians in -pi..=pi.
pub(super) fn orientations(layer: &Plane, x: f32, y: f32, sigma: f32) -> Vec<f32> {
    const STEP: f32 = 0.5;
    let mut bins = [0.0f32; BINS];
    let found = widest(
        #[inline(always)]
        || {
            let values = sampled::<{ LOOKED + 2 }>(layer, x, y, (STEP * sigma, 0.0));
            gradients::<{ LOOKED + 2 }, LOOKED>(&values)
        },
    );
    let fall: [f32; LOOKED] = std::array::from_fn(|k| {
        let off = STEP * (k as f32 - (LOOKED - 1) as f32 / 2.0) / 1.5;
        (-off * off / 2.0).exp()
    });
    for (row, down) in found.iter().zip(fall) {
        for ((length, turn), across) in row.iter().zip(fall) {
            let bin = (turn * BINS as f32 + 0.5) as usize % BINS;
            bins[bin] += down * across * length;
        }
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

/// Points per histogram cell and axis: Lowe's sixteen by sixteen, three quarters of a sigma apart,
/// with half a cell more on each side for what is shared out to the outer cells.
const PER_CELL: usize = 4;
const POINTS: usize = (CELLS + 1) * PER_CELL;

/// What a column (or row) of points gives to the histogram: the first of two cells, of which the
/// one numbered 0 and the one after the last are left out, the second's share, and the weight.
struct Line {
    cell: usize,
    share: f32,
    weight: f32,
}

/// The lines of a histogram, the same for every feature.
fn lines() -> [Line; POINTS] {
    std::array::from_fn(|k| {
        let from_middle = (k as f32 - (POINTS - 1) as f32 / 2.0) / PER_CELL as f32;
        // From the middle of the cell before the first.
        let along = from_middle + (CELLS + 1) as f32 / 2.0;
        let half = CELLS as f32 / 2.0;
        Line {
            cell: along as usize,
            share: along.fract(),
            weight: (-from_middle * from_middle / (2.0 * half * half)).exp(),
        }
    })
}

/// The descriptor of a point of given scale and direction.
pub(super) fn describe(layer: &Plane, x: f32, y: f32, sigma: f32, angle: f32) -> Descriptor {
    let step = CELL_SIGMAS * sigma / PER_CELL as f32;
    let (sin, cos) = angle.sin_cos();
    let found = widest(
        #[inline(always)]
        || {
            let values = sampled::<{ POINTS + 2 }>(layer, x, y, (step * cos, step * sin));
            gradients::<{ POINTS + 2 }, POINTS>(&values)
        },
    );
    let lines = lines();
    // A rim of cells around takes what is left out.
    let mut bins = [[[0.0f32; TURNS]; CELLS + 2]; CELLS + 2];
    for (down, row) in lines.iter().zip(&found) {
        for (across, (length, turn)) in lines.iter().zip(row) {
            let turn = turn * TURNS as f32;
            let (first, after) = (turn as usize % TURNS, (turn as usize + 1) % TURNS);
            let share = turn.fract();
            let weight = down.weight * across.weight * length;
            for (r, wr) in [(0, 1.0 - down.share), (1, down.share)] {
                for (c, wc) in [(0, 1.0 - across.share), (1, across.share)] {
                    let here = weight * wr * wc;
                    let cell = &mut bins[down.cell + r][across.cell + c];
                    cell[first] += here * (1.0 - share);
                    cell[after] += here * share;
                }
            }
        }
    }
    let inner = |k: usize| {
        let (cell, turn) = (k / TURNS, k % TURNS);
        bins[cell / CELLS + 1][cell % CELLS + 1][turn]
    };
    finish(std::array::from_fn(inner))
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

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn waves(phase: f32) -> Plane {
        let value = |k: usize| {
            let (x, y) = ((k % 80) as f32, (k / 80) as f32);
            0.5 + 0.2 * (0.23 * x + phase).sin() + 0.2 * (0.31 * y - 0.1 * x).cos()
        };
        Plane::from_values(80, 60, (0..80 * 60).map(value).collect()).unwrap()
    }

    proptest! {
        #[test]
        fn a_grid_of_points_has_what_the_layer_has_there(
            x in 0.0..79.0_f32,
            y in 0.0..59.0_f32,
            turn in -3.1..3.1_f32,
            step in 0.5..4.0_f32,
        ) {
            let layer = waves(0.4);
            let step = (step * turn.cos(), step * turn.sin());
            let found = widest(#[inline(always)] || sampled::<22>(&layer, x, y, step));
            holds(&layer, &found, [x, y], step)?;
            let found = widest(#[inline(always)] || sampled::<21>(&layer, x, y, step));
            holds(&layer, &found, [x, y], step)?;
        }
    }

    fn holds<const N: usize>(
        layer: &Plane,
        found: &[[f32; N]; N],
        [x, y]: [f32; 2],
        step: (f32, f32),
    ) -> Result<(), TestCaseError> {
        let middle = (N - 1) as f32 / 2.0;
        for (row, values) in found.iter().enumerate() {
            for (column, value) in values.iter().enumerate() {
                let (u, v) = (column as f32 - middle, row as f32 - middle);
                let px = (x + u * step.0 - v * step.1).clamp(0.0, 79.0);
                let py = (y + u * step.1 + v * step.0).clamp(0.0, 59.0);
                let there = layer.sample(f64::from(px), f64::from(py)).unwrap();
                prop_assert!(
                    (value - there).abs() < 1e-3,
                    "{column} {row}: {value} {there}"
                );
            }
        }
        Ok(())
    }

    #[test]
    fn a_turned_picture_has_the_same_descriptor_in_a_turned_direction() {
        let layer = waves(0.0);
        let (width, height) = (layer.width(), layer.height());
        // A quarter turn: (x, y) comes to lie at (height - 1 - y, x).
        let turned = (0..width * height)
            .map(|k| layer.values()[(height - 1 - k % height) * width + k / height])
            .collect();
        let turned = Plane::from_values(height, width, turned).unwrap();
        let quarter = std::f32::consts::FRAC_PI_2;
        let one = describe(&layer, 41.0, 27.0, 2.0, 0.3);
        let other = describe(&turned, 32.0, 41.0, 2.0, 0.3 + quarter);
        assert!(cosine(&one, &other) > 0.999, "{}", cosine(&one, &other));
        let elsewhere = describe(&layer, 33.0, 27.0, 2.0, 0.3);
        assert!(
            cosine(&one, &elsewhere) < 0.97,
            "{}",
            cosine(&one, &elsewhere)
        );
        let directions = orientations(&layer, 41.0, 27.0, 2.0);
        let after = orientations(&turned, 32.0, 41.0, 2.0);
        let off = (after[0] - directions[0] - quarter).rem_euclid(std::f32::consts::TAU);
        assert!(
            off.min(std::f32::consts::TAU - off) < 0.01,
            "{directions:?} {after:?}"
        );
    }
}
