//! Second derivative across a line, summed along it, in sixteen directions.

use rayon::prelude::*;

use super::rows::{across, down, plain_sum};

/// Directions that are tried.
const DIRECTIONS: usize = 16;
/// Rows worked on at once; fixed, so that results do not depend on the threads, and small enough
/// for the cache.
const BAND: usize = 64;
/// Share of the weaker of the two halves of a line; the rest is their mean. 1 demands that the line
/// goes on both ways, which silences blobs and ends; 0 is the plain sum.
const BOTH_WAYS: f32 = 0.75;
/// Kernels end at this many sigmas.
const TRUNCATE: f32 = 4.0;

/// The three second derivatives of a plane smoothed by a Gaussian.
pub(super) struct Second {
    pub(super) xx: Vec<f32>,
    pub(super) xy: Vec<f32>,
    pub(super) yy: Vec<f32>,
}

/// Sampled Gaussian, its first and second derivative.
fn kernels(sigma: f32) -> [Vec<f32>; 3] {
    let reach = (TRUNCATE * sigma + 0.5) as i32;
    let places: Vec<f64> = (-reach..=reach).map(f64::from).collect();
    let s2 = f64::from(sigma) * f64::from(sigma);
    let gauss: Vec<f64> = places.iter().map(|x| (-x * x / (2.0 * s2)).exp()).collect();
    let sum: f64 = gauss.iter().sum();
    let gauss: Vec<f64> = gauss.iter().map(|g| g / sum).collect();
    let first = |i: usize| -places[i] / s2 * gauss[i];
    let second = |i: usize| (places[i] * places[i] / s2 - 1.0) / s2 * gauss[i];
    // What truncation leaves of the sum would answer to plain brightness.
    let rest: f64 = (0..places.len()).map(second).sum::<f64>() / places.len() as f64;
    let all = |f: &dyn Fn(usize) -> f64| (0..places.len()).map(|i| f(i) as f32).collect();
    [all(&|i| gauss[i]), all(&first), all(&|i| second(i) - rest)]
}

/// Second derivatives at one sigma; beyond the edge the edge goes on.
pub(super) fn second_derivatives(plane: &[f32], width: usize, height: usize, sigma: f32) -> Second {
    let [smooth, first, second] = kernels(sigma);
    // Convolution is correlation with the kernel turned round: only the odd one changes.
    let first: Vec<f32> = first.into_iter().rev().collect();
    let [g, d, dd] = across(plane, width, [&smooth, &first, &second]);
    Second {
        xx: down(&dd, width, height, &smooth),
        xy: down(&d, width, height, &first),
        yy: down(&g, width, height, &second),
    }
}

/// Steps along a line from its middle: `(dx, dy)` whole px, the middle first. The way from the end back to the
/// middle has the same steps, so that half a line ahead of one pixel is the half behind another.
fn steps(direction: usize, half_length: usize) -> Vec<(isize, isize)> {
    let angle = std::f32::consts::PI * direction as f32 / DIRECTIONS as f32;
    let end = [angle.cos(), angle.sin()].map(|c| (half_length as f32 * c).round());
    (0..=half_length)
        .map(|i| {
            let share = i as f32 / half_length.max(1) as f32;
            (
                (end[0] * share).round() as isize,
                (end[1] * share).round() as isize,
            )
        })
        .collect()
}

/// The greatest response over the directions, 0 and up; scale-normalised by sigma squared.
pub(super) fn oriented(
    plane: &[f32],
    width: usize,
    height: usize,
    sigma: f32,
    half_length: usize,
) -> Vec<f32> {
    let second = second_derivatives(plane, width, height, sigma);
    let mut out = vec![0.0_f32; width * height];
    out.par_chunks_mut(width * BAND)
        .enumerate()
        .for_each(|(band, out)| {
            let top = band * BAND;
            let rows = out.len() / width;
            let stride = width + 2 * half_length;
            let mut across = vec![0.0_f32; stride * (rows + 2 * half_length)];
            // Sums over half a line, for every place where half a line may begin.
            let mut half = vec![0.0_f32; stride * (rows + half_length)];
            for direction in 0..DIRECTIONS {
                steer(
                    &second,
                    (width, height),
                    sigma,
                    direction,
                    (top, half_length),
                    &mut across,
                );
                let steps = steps(direction, half_length);
                let (dx, dy) = steps.last().copied().unwrap_or((0, 0));
                sum_ahead(&across, stride, &steps, &mut half);
                let share = 1.0 / steps.len() as f32;
                for y in 0..rows {
                    let (near, far) = halves((y, half_length), stride, (dx, dy));
                    for ((o, a), b) in out[y * width..(y + 1) * width]
                        .iter_mut()
                        .zip(&half[near..near + width])
                        .zip(&half[far..far + width])
                    {
                        let both = BOTH_WAYS * a.min(*b) + (1.0 - BOTH_WAYS) * 0.5 * (a + b);
                        *o = o.max(both * share);
                    }
                }
            }
        });
    out
}

/// Where the sums of the half ahead and of the half behind of a row's first pixel stand.
fn halves((y, margin): (usize, usize), stride: usize, (dx, dy): (isize, isize)) -> (usize, usize) {
    // Row 0 of the sums is the first margin row; dy is 0 and up, dx may go either way.
    let near = (y + margin) * stride + margin;
    let far = (near as isize - dy * stride as isize - dx) as usize;
    (near, far)
}

/// Sums over the steps ahead of each place. Places whose steps would leave the band's margins are not asked for.
fn sum_ahead(across: &[f32], stride: usize, steps: &[(isize, isize)], half: &mut [f32]) {
    let last = steps.last().map_or(0, |(dx, _)| *dx);
    let (from, to) = ((-last).max(0) as usize, stride - last.max(0) as usize);
    for (row, out) in half.chunks_exact_mut(stride).enumerate() {
        let lines: Vec<&[f32]> = steps
            .iter()
            .map(|(dx, dy)| {
                let line = (row + *dy as usize) * stride;
                let shifted = |x: usize| (x as isize + dx) as usize;
                &across[line + shifted(from)..line + shifted(to)]
            })
            .collect();
        plain_sum(&mut out[from..to], &lines);
    }
}

/// The second derivative across one direction, for a band of rows and its margins.
fn steer(
    second: &Second,
    (width, height): (usize, usize),
    sigma: f32,
    direction: usize,
    (top, margin): (usize, usize),
    across: &mut [f32],
) {
    let angle = std::f32::consts::PI * direction as f32 / DIRECTIONS as f32;
    let (c, s) = (angle.cos(), angle.sin());
    let n = sigma * sigma;
    let (wxx, wxy, wyy) = (n * s * s, -2.0 * n * s * c, n * c * c);
    let stride = width + 2 * margin;
    for (k, row) in across.chunks_exact_mut(stride).enumerate() {
        let y = (top + k).saturating_sub(margin).min(height - 1);
        let span = y * width..(y + 1) * width;
        let (xx, xy, yy) = (
            &second.xx[span.clone()],
            &second.xy[span.clone()],
            &second.yy[span],
        );
        for (((o, a), b), d) in row[margin..margin + width]
            .iter_mut()
            .zip(xx)
            .zip(xy)
            .zip(yy)
        {
            *o = wxx * a + wxy * b + wyy * d;
        }
        let (first, last) = (row[margin], row[margin + width - 1]);
        row[..margin].fill(first);
        row[margin + width..].fill(last);
    }
}
