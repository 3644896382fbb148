//! Bilinear samples along a ray: the unrolled rings are made of these.

/// Adding it to a small positive f32 rounds to a whole number, which then stands in the low bits. Unlike a
/// cast, that is done for several numbers at once.
const WHOLE: f32 = 8_388_608.0;
/// Samples worked on at once.
const LANES: usize = 8;

/// Samples of a square plane at `start + step * reach` for every reach, written to `out`. Positions are
/// clamped into the plane; a plane of less than two px to a side gives its first value.
pub(super) fn along_ray(
    plane: &[f32],
    side: usize,
    start: (f32, f32),
    step: (f32, f32),
    reach: &[f32],
    out: &mut [f32],
) {
    if side < 2 || plane.len() < side * side {
        out.fill(plane.first().copied().unwrap_or(0.0));
        return;
    }
    let last = (side - 1) as f32 - 1e-3;
    let across = side as f32;
    for (out, reach) in out.chunks_mut(LANES).zip(reach.chunks(LANES)) {
        let (mut fx, mut fy) = ([0.0_f32; LANES], [0.0_f32; LANES]);
        let mut at = [0_u32; LANES];
        let mut reaches = [0.0_f32; LANES];
        reaches[..reach.len()].copy_from_slice(reach);
        for k in 0..LANES {
            let x = (start.0 + step.0 * reaches[k]).clamp(0.0, last);
            let y = (start.1 + step.1 * reaches[k]).clamp(0.0, last);
            let (ix, iy) = (floor(x), floor(y));
            fx[k] = x - ix;
            fy[k] = y - iy;
            // Exact: a patch has far fewer than 2^23 px.
            at[k] = (iy * across + ix + WHOLE).to_bits() - WHOLE.to_bits();
        }
        for (k, out) in out.iter_mut().enumerate() {
            let i = at[k] as usize;
            let (top, low) = (&plane[i..i + 2], &plane[i + side..i + side + 2]);
            let top = top[0] + fx[k] * (top[1] - top[0]);
            let low = low[0] + fx[k] * (low[1] - low[0]);
            *out = top + fy[k] * (low - top);
        }
    }
}

/// The whole number below a number from 0 to a few thousand.
fn floor(v: f32) -> f32 {
    let near = (v + WHOLE) - WHOLE;
    if near > v { near - 1.0 } else { near }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn samples_are_those_of_the_plain_formula(
            side in 2_usize..40, x in -5.0..45.0_f32, y in -5.0..45.0_f32,
            dx in -1.0..1.0_f32, dy in -1.0..1.0_f32, count in 1_usize..30,
        ) {
            let plane: Vec<f32> = (0..side * side).map(|i| (i * 31 % 17) as f32).collect();
            let reach: Vec<f32> = (0..count).map(|k| k as f32 * 0.7).collect();
            let mut out = vec![0.0; count];
            along_ray(&plane, side, (x, y), (dx, dy), &reach, &mut out);
            let last = (side - 1) as f32 - 1e-3;
            for (r, found) in reach.iter().zip(out) {
                let (u, v) = ((x + dx * r).clamp(0.0, last), (y + dy * r).clamp(0.0, last));
                let (i, j) = (u.floor() as usize, v.floor() as usize);
                let (fu, fv) = (u - i as f32, v - j as f32);
                let at = |i: usize, j: usize| plane[j * side + i];
                let top = at(i, j) + fu * (at(i + 1, j) - at(i, j));
                let low = at(i, j + 1) + fu * (at(i + 1, j + 1) - at(i, j + 1));
                prop_assert!((top + fv * (low - top) - found).abs() < 1e-3);
            }
        }
    }
}
