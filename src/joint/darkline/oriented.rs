//! Second derivative across a line, summed along it, in sixteen directions.

use rayon::prelude::*;

/// Directions that are tried.
const DIRECTIONS: usize = 16;
/// Rows worked on at once; fixed, so that results do not depend on the threads, and small enough
/// for the cache.
const BAND: usize = 32;
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
    let (g, d, dd) = across(plane, width, [&smooth, &first, &second]);
    Second {
        xx: down(&dd, width, height, &smooth),
        xy: down(&d, width, height, &first),
        yy: down(&g, width, height, &second),
    }
}

type Three = (Vec<f32>, Vec<f32>, Vec<f32>);

fn across(plane: &[f32], width: usize, kernels: [&[f32]; 3]) -> Three {
    let reach = kernels[0].len() / 2;
    let run = |kernel: &[f32]| {
        let mut out = vec![0.0_f32; plane.len()];
        out.par_chunks_mut(width)
            .zip(plane.par_chunks(width))
            .for_each(|(out, row)| {
                let mut padded = vec![row[0]; width + 2 * reach];
                padded[reach..reach + width].copy_from_slice(row);
                padded[reach + width..].fill(row[width - 1]);
                // Correlation with the kernel turned round: x - i.
                for (k, weight) in kernel.iter().rev().enumerate() {
                    for (o, v) in out.iter_mut().zip(&padded[k..k + width]) {
                        *o += weight * v;
                    }
                }
            });
        out
    };
    (run(kernels[0]), run(kernels[1]), run(kernels[2]))
}

fn down(plane: &[f32], width: usize, height: usize, kernel: &[f32]) -> Vec<f32> {
    let reach = (kernel.len() / 2) as isize;
    let mut out = vec![0.0_f32; plane.len()];
    out.par_chunks_mut(width).enumerate().for_each(|(y, out)| {
        for (k, weight) in kernel.iter().rev().enumerate() {
            let from = (y as isize + k as isize - reach).clamp(0, height as isize - 1) as usize;
            for (o, v) in out.iter_mut().zip(&plane[from * width..(from + 1) * width]) {
                *o += weight * v;
            }
        }
    });
    out
}

/// Steps along a line from its middle: `(dx, dy)` whole px, the middle first.
fn steps(direction: usize, half_length: usize) -> Vec<(isize, isize)> {
    let angle = std::f32::consts::PI * direction as f32 / DIRECTIONS as f32;
    (0..=half_length)
        .map(|i| {
            let i = i as f32;
            (
                (i * angle.cos()).round() as isize,
                (i * angle.sin()).round() as isize,
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
            let (mut ahead, mut behind) = (vec![0.0_f32; width], vec![0.0_f32; width]);
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
                let share = 1.0 / steps.len() as f32;
                for y in 0..rows {
                    sum_along(
                        &across,
                        stride,
                        (y + half_length, half_length),
                        &steps,
                        1,
                        &mut ahead,
                    );
                    sum_along(
                        &across,
                        stride,
                        (y + half_length, half_length),
                        &steps,
                        -1,
                        &mut behind,
                    );
                    for ((o, a), b) in out[y * width..(y + 1) * width]
                        .iter_mut()
                        .zip(&ahead)
                        .zip(&behind)
                    {
                        let both = BOTH_WAYS * a.min(*b) + (1.0 - BOTH_WAYS) * 0.5 * (a + b);
                        *o = o.max(both * share);
                    }
                }
            }
        });
    out
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

fn sum_along(
    across: &[f32],
    stride: usize,
    (y, margin): (usize, usize),
    steps: &[(isize, isize)],
    way: isize,
    out: &mut [f32],
) {
    out.fill(0.0);
    let width = out.len();
    for (dx, dy) in steps {
        let row = (y as isize + way * dy) as usize;
        let start = row * stride + (margin as isize + way * dx) as usize;
        for (o, v) in out.iter_mut().zip(&across[start..start + width]) {
            *o += v;
        }
    }
}
