//! How much darker each point of the unrolled ring is than both sides of it.

use super::polar::{ANGLES, RADIAL_STEP, Ring};

/// Distances to the two sides, working px: half-widths of valleys from a hairline to a wide gap. Scale
/// coverage matters more than filter family (measured on road cracks).
const SIDES_PX: [f32; 4] = [1.0, 1.5, 2.5, 4.0];

/// Contrast beyond this counts no further, log units: a few very dark spots must not outweigh a long
/// line (crack-hint pipeline, step 4).
pub(crate) const CLIP: f32 = 0.6;

/// Smoothing along the ring reaches this many angle steps to both sides (2 degrees each).
const SMOOTH_STEPS: usize = 2;

/// Contrast of the ring: [`ANGLES`] rows of `radii` columns, 0..=[`CLIP`].
#[derive(Debug, Clone)]
pub(crate) struct Valley {
    /// Columns.
    pub(crate) radii: usize,
    /// Two-sided contrast, smoothed along the ring.
    pub(crate) depth: Vec<f32>,
}

/// Two-sided contrast min(I(r-d), I(r+d)) - I(r), the best of several d, clipped at both ends;
/// nothing is seen where the sample itself is clipped.
pub(crate) fn valley(ring: &Ring) -> Valley {
    let n = ring.radii;
    let mut raw = vec![0.0_f32; ANGLES * n];
    for side in SIDES_PX {
        let d = (side / RADIAL_STEP).round() as usize;
        if n <= 2 * d {
            continue;
        }
        for angle in 0..ANGLES {
            let line = &ring.log[angle * n..(angle + 1) * n];
            let out = &mut raw[angle * n + d..(angle + 1) * n - d];
            let (inner, middle, outer) = (&line[..n - 2 * d], &line[d..n - d], &line[2 * d..]);
            for (((o, i), m), u) in out.iter_mut().zip(inner).zip(middle).zip(outer) {
                *o = o.max(i.min(*u) - m);
            }
        }
    }
    for (value, clipped) in raw.iter_mut().zip(&ring.clipped) {
        *value = if *clipped > 0.5 { 0.0 } else { value.min(CLIP) };
    }
    Valley {
        radii: n,
        depth: along(&raw, n),
    }
}

/// Running mean along the ring (rows wrap round).
fn along(raw: &[f32], n: usize) -> Vec<f32> {
    let mut sum = vec![0.0_f32; n];
    for k in 0..=2 * SMOOTH_STEPS {
        let row = (k + ANGLES - SMOOTH_STEPS) % ANGLES;
        add(&mut sum, &raw[row * n..(row + 1) * n], 1.0);
    }
    let share = 1.0 / (2 * SMOOTH_STEPS + 1) as f32;
    let mut out = Vec::with_capacity(raw.len());
    for angle in 0..ANGLES {
        out.extend(sum.iter().map(|s| s * share));
        let leaving = (angle + ANGLES - SMOOTH_STEPS) % ANGLES;
        let coming = (angle + SMOOTH_STEPS + 1) % ANGLES;
        add(&mut sum, &raw[leaving * n..(leaving + 1) * n], -1.0);
        add(&mut sum, &raw[coming * n..(coming + 1) * n], 1.0);
    }
    out
}

fn add(sum: &mut [f32], row: &[f32], sign: f32) {
    for (s, v) in sum.iter_mut().zip(row) {
        *s += sign * v;
    }
}
