//! Plain planes of numbers, row by row: box blur and averaging, shared by search and dark lines.

use rayon::prelude::*;

/// Box blur of half width `half`, `times` over; beyond the edge the edge goes on. Three times is
/// close to a Gaussian of sigma `sqrt(half (half + 1))`.
pub(super) fn blurred(
    values: &[f32],
    width: usize,
    height: usize,
    half: usize,
    times: usize,
) -> Vec<f32> {
    let mut now = values.to_vec();
    if width == 0 || height == 0 {
        return now;
    }
    for _ in 0..times {
        now = transposed(&rows_blurred(&now, width, half), width, height);
        now = transposed(&rows_blurred(&now, height, half), height, width);
    }
    now
}

fn rows_blurred(values: &[f32], width: usize, half: usize) -> Vec<f32> {
    let share = 1.0 / (2 * half + 1) as f64;
    let mut out = vec![0.0; values.len()];
    out.par_chunks_mut(width)
        .zip(values.par_chunks(width))
        .for_each(|(out, row)| {
            let last = width as isize - 1;
            let at = |i: isize| f64::from(row[i.clamp(0, last) as usize]);
            let half = half as isize;
            let mut sum: f64 = (-half..=half).map(at).sum();
            for (x, out) in out.iter_mut().enumerate() {
                *out = (sum * share) as f32;
                let x = x as isize;
                sum += at(x + half + 1) - at(x - half);
            }
        });
    out
}

fn transposed(values: &[f32], width: usize, height: usize) -> Vec<f32> {
    /// Columns that are turned at once, so that both sides stay in the cache.
    const BLOCK: usize = 16;
    let mut out = vec![0.0; values.len()];
    out.par_chunks_mut(height * BLOCK)
        .enumerate()
        .for_each(|(block, out)| {
            let first = block * BLOCK;
            let columns = out.len() / height;
            for y in 0..height {
                let row = &values[y * width + first..y * width + first + columns];
                for (k, v) in row.iter().enumerate() {
                    out[k * height + y] = *v;
                }
            }
        });
    out
}

/// Averages `by` x `by` pixels into one; a rest at the right and bottom edge averages what there is.
pub(super) fn averaged_down(
    values: &[f32],
    width: usize,
    height: usize,
    by: usize,
) -> (Vec<f32>, usize, usize) {
    averaged_down_of(values, width, height, by, |v| v)
}

/// As [`averaged_down`], of a function of the values.
pub(super) fn averaged_down_of(
    values: &[f32],
    width: usize,
    height: usize,
    by: usize,
    of: impl Fn(f32) -> f32 + Sync,
) -> (Vec<f32>, usize, usize) {
    let (w, h) = (width.div_ceil(by), height.div_ceil(by));
    let mut out = vec![0.0; w * h];
    out.par_chunks_mut(w).enumerate().for_each(|(y, out)| {
        let rows = y * by..((y + 1) * by).min(height);
        for (x, out) in out.iter_mut().enumerate() {
            let columns = x * by..((x + 1) * by).min(width);
            let mut sum = 0.0;
            for row in rows.clone() {
                sum += values[row * width + columns.start..row * width + columns.end]
                    .iter()
                    .map(|v| of(*v))
                    .sum::<f32>();
            }
            *out = sum / (rows.len() * columns.len()) as f32;
        }
    });
    (out, w, h)
}

/// Bilinear enlargement of an averaged plane by a whole factor, back to the given size; each value is handed to
/// `put` with its place in `out`.
pub(super) fn enlarged_onto<T: Send>(
    out: &mut [T],
    values: &[f32],
    (w, h): (usize, usize),
    by: usize,
    (width, height): (usize, usize),
    put: impl Fn(&mut T, f32) + Sync,
) {
    if width == 0 || height == 0 {
        return;
    }
    let place = |i: usize, n: usize| {
        let at = ((i as f32 + 0.5) / by as f32 - 0.5).clamp(0.0, (n - 1) as f32);
        let low = at as usize;
        (low, (low + 1).min(n - 1), at - low as f32)
    };
    let columns: Vec<_> = (0..width).map(|x| place(x, w)).collect();
    out.par_chunks_mut(width).enumerate().for_each(|(y, out)| {
        let (y0, y1, fy) = place(y, h);
        let line: Vec<f32> = values[y0 * w..(y0 + 1) * w]
            .iter()
            .zip(&values[y1 * w..(y1 + 1) * w])
            .map(|(a, b)| a * (1.0 - fy) + b * fy)
            .collect();
        for (out, (x0, x1, fx)) in out.iter_mut().zip(&columns) {
            put(out, line[*x0] * (1.0 - fx) + line[*x1] * fx);
        }
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_blur_keeps_a_constant_and_spreads_a_point() {
        let flat = blurred(&[3.0; 35 * 20], 35, 20, 4, 3);
        assert!(flat.iter().all(|v| (v - 3.0).abs() < 1e-5));
        let mut point = vec![0.0; 41 * 41];
        point[20 * 41 + 20] = 1.0;
        let spread = blurred(&point, 41, 41, 2, 1);
        assert!((spread[18 * 41 + 22] - 1.0 / 25.0).abs() < 1e-6);
        assert_eq!(spread[17 * 41 + 20], 0.0);
    }

    #[test]
    fn down_and_up_again_keeps_a_ramp() {
        let ramp: Vec<f32> = (0..40 * 30).map(|i| (i % 40) as f32).collect();
        let (small, w, h) = averaged_down(&ramp, 40, 30, 4);
        assert_eq!((w, h), (10, 8));
        let mut back = vec![0.0; 40 * 30];
        enlarged_onto(&mut back, &small, (w, h), 4, (40, 30), |out, v| *out = v);
        assert!((back[15 * 40 + 20] - 20.0).abs() < 1e-4);
    }
}
