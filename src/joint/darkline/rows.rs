//! Sums of shifted rows, many columns at a time: what smoothing, derivatives and sums along lines are made of.

use rayon::prelude::*;

/// Columns that are summed at once: they stay in registers while the terms go by.
const LANES: usize = 16;

/// `out = sum of weight * line`; every line is at least as long as `out`.
pub(super) fn weighted_sum(out: &mut [f32], terms: &[(f32, &[f32])]) {
    let width = out.len();
    let whole = width - width % LANES;
    for at in (0..whole).step_by(LANES) {
        let mut sum = [0.0_f32; LANES];
        for (weight, line) in terms {
            for (s, v) in sum.iter_mut().zip(&line[at..at + LANES]) {
                *s += weight * v;
            }
        }
        out[at..at + LANES].copy_from_slice(&sum);
    }
    for (x, o) in out.iter_mut().enumerate().skip(whole) {
        *o = terms.iter().map(|(weight, line)| weight * line[x]).sum();
    }
}

/// `out = sum of line`.
pub(super) fn plain_sum(out: &mut [f32], lines: &[&[f32]]) {
    let width = out.len();
    let whole = width - width % LANES;
    for at in (0..whole).step_by(LANES) {
        let mut sum = [0.0_f32; LANES];
        for line in lines {
            for (s, v) in sum.iter_mut().zip(&line[at..at + LANES]) {
                *s += v;
            }
        }
        out[at..at + LANES].copy_from_slice(&sum);
    }
    for (x, o) in out.iter_mut().enumerate().skip(whole) {
        *o = lines.iter().map(|line| line[x]).sum();
    }
}

/// Correlates every row with the kernels (odd lengths, the same); one plane for each. Beyond the edge the edge goes on.
pub(super) fn across<const N: usize>(
    plane: &[f32],
    width: usize,
    kernels: [&[f32]; N],
) -> [Vec<f32>; N] {
    let reach = kernels.first().map_or(0, |k| k.len() / 2);
    kernels.map(|kernel| {
        let mut out = vec![0.0_f32; plane.len()];
        out.par_chunks_mut(width)
            .zip(plane.par_chunks(width))
            .for_each(|(out, row)| {
                let mut padded = vec![row[0]; width + 2 * reach];
                padded[reach..reach + width].copy_from_slice(row);
                padded[reach + width..].fill(row[width - 1]);
                let terms: Vec<(f32, &[f32])> = kernel
                    .iter()
                    .enumerate()
                    .map(|(k, weight)| (*weight, &padded[k..]))
                    .collect();
                weighted_sum(out, &terms);
            });
        out
    })
}

/// The same down the columns.
pub(super) fn down(plane: &[f32], width: usize, height: usize, kernel: &[f32]) -> Vec<f32> {
    let reach = (kernel.len() / 2) as isize;
    let mut out = vec![0.0_f32; plane.len()];
    out.par_chunks_mut(width).enumerate().for_each(|(y, out)| {
        let terms: Vec<(f32, &[f32])> = kernel
            .iter()
            .enumerate()
            .map(|(k, weight)| {
                let from = (y as isize + k as isize - reach).clamp(0, height as isize - 1) as usize;
                (*weight, &plane[from * width..(from + 1) * width])
            })
            .collect();
        weighted_sum(out, &terms);
    });
    out
}

/// The kernel of a box of half width `half`, taken twice.
pub(super) fn box_twice(half: usize) -> Vec<f32> {
    let n = 2 * half + 1;
    let area = (n * n) as f32;
    (0..2 * n - 1)
        .map(|i| (n - i.abs_diff(n - 1)) as f32 / area)
        .collect()
}

/// Smooths with a symmetric kernel both ways.
pub(super) fn smoothed(plane: &[f32], width: usize, height: usize, kernel: &[f32]) -> Vec<f32> {
    let [once] = across(plane, width, [kernel]);
    down(&once, width, height, kernel)
}
