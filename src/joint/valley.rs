//! How much darker each point of the unrolled ring is than both sides of it.

use super::polar::{ANGLES, Ring};

/// Directions in which lines are looked for: the ring's angles, averaged in threes (6 degrees each).
/// A crack turns slowly, so the average keeps it and thins out grain and crumbs of reflection; a third
/// of the angles also costs a third of the time. Measured on three real boards: from .80, .67, .86 (180
/// directions) to .91, .79, .94 (60) area under the curve; 36 lose again where the ring is off-centre.
pub(crate) const DIRECTIONS: usize = 60;

/// Ring angles per direction.
pub(crate) const PER_DIRECTION: usize = ANGLES / DIRECTIONS;

/// Distances to the two sides, in columns of half a working pixel. Finer is noise, wider (2.5 px and
/// more) lets reflections in: measured on three real boards.
const SIDES: [usize; 2] = [2, 3];

/// Contrast of a point counts between these, log units divided by the joint's texture and
/// [`TEXTURE_FLOOR`]: a few very dark spots must not outweigh a long line, and a bright bridge must
/// not break it.
const LEAST: f32 = -0.6;
/// Upper end of the same.
pub(crate) const MOST: f32 = 0.8;

/// Added to the texture before dividing by it, log units. Small values make smooth joints as touchy as
/// rough ones; large ones let rough solder look cracked.
const TEXTURE_FLOOR: f32 = 0.15;

/// Half-width of the window for the texture, columns.
const TEXTURE_REACH: usize = 8;

/// Contrast of the ring: [`DIRECTIONS`] rows of `radii` columns.
#[derive(Debug, Clone)]
pub(crate) struct Valley {
    /// Columns.
    pub(crate) radii: usize,
    /// Two-sided contrast in units of the joint's texture, [`LEAST`]..=[`MOST`].
    pub(crate) line: Vec<f32>,
    /// What one unit of `line` is in log luminance.
    pub(crate) unit: f32,
    /// Local spread of the log luminance along the radii, mean over the ring: how busy the solder is.
    pub(crate) texture: f32,
}

/// Two-sided contrast min(I(r-d), I(r+d)) - I(r), the better of two d, measured against the joint's own
/// texture and clipped at both ends.
pub(crate) fn valley(ring: &Ring) -> Valley {
    let n = ring.radii;
    let calm = averaged(ring);
    let texture = texture(&calm, n);
    let unit = texture + TEXTURE_FLOOR;
    let mut line = vec![f32::NEG_INFINITY; DIRECTIONS * n];
    for d in SIDES {
        if n <= 2 * d {
            continue;
        }
        for direction in 0..DIRECTIONS {
            let row = &calm[direction * n..(direction + 1) * n];
            let out = &mut line[direction * n + d..(direction + 1) * n - d];
            let (inner, middle, outer) = (&row[..n - 2 * d], &row[d..n - d], &row[2 * d..]);
            for (((o, i), m), u) in out.iter_mut().zip(inner).zip(middle).zip(outer) {
                *o = o.max(i.min(*u) - m);
            }
        }
    }
    for (direction, row) in line.chunks_exact_mut(n).enumerate() {
        let angle = direction * PER_DIRECTION + PER_DIRECTION / 2;
        for (value, clipped) in row
            .iter_mut()
            .zip(&ring.clipped[angle * n..(angle + 1) * n])
        {
            // Under glare nothing is known: neither a line nor its absence.
            *value = if *clipped > 0.5 {
                0.0
            } else {
                (*value / unit).clamp(LEAST, MOST)
            };
        }
    }
    Valley {
        radii: n,
        line,
        unit,
        texture,
    }
}

/// The ring with its angles averaged by direction.
fn averaged(ring: &Ring) -> Vec<f32> {
    let n = ring.radii;
    let share = 1.0 / PER_DIRECTION as f32;
    let mut out = vec![0.0_f32; DIRECTIONS * n];
    for (direction, sum) in out.chunks_exact_mut(n).enumerate() {
        for k in 0..PER_DIRECTION {
            let angle = direction * PER_DIRECTION + k;
            for (s, v) in sum.iter_mut().zip(&ring.log[angle * n..(angle + 1) * n]) {
                *s += v * share;
            }
        }
    }
    out
}

/// Mean of the local standard deviation in a sliding radial window, rim included: leaving the rim out
/// measured worse on all four boards (.92, .77, .92, .88 against .92, .75, .92, .87).
fn texture(calm: &[f32], n: usize) -> f32 {
    let window = 2 * TEXTURE_REACH + 1;
    if n < window {
        return 0.0;
    }
    let share = 1.0 / window as f32;
    let (mut total, mut count) = (0.0_f32, 0.0_f32);
    for row in calm.chunks_exact(n) {
        let base = row[0];
        let (mut sum, mut squares) = (0.0_f32, 0.0_f32);
        for (c, v) in row.iter().enumerate() {
            let v = v - base;
            sum += v;
            squares += v * v;
            if c + 1 < window {
                continue;
            }
            let mean = sum * share;
            total += (squares * share - mean * mean).max(0.0).sqrt();
            count += 1.0;
            let gone = row[c + 1 - window] - base;
            sum -= gone;
            squares -= gone * gone;
        }
    }
    total / count
}
