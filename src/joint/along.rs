//! What a path looks like along its way: the ring straightened on it, and a small fitted measure that sees
//! 90 degrees of it at a time. See `docs/hint.md`, "The measure".

use super::dark::{FIRST, REACH, WIDTH};
use super::lanes::{DIRECTIONS, LANES, Lanes};
use super::weights::{
    ALONG_1, ALONG_1_ADD, ALONG_2, ALONG_2_ADD, ALONG_3, ALONG_3_ADD, ALONG_OUT, ALONG_OUT_ADD,
    WHOLE, WHOLE_PARTS,
};

/// Directions that each layer combines.
const TAPS: usize = 5;
/// Lanes of the straightened ring, and the place measure on the path.
pub(super) const INPUTS: usize = 2 * REACH + 2;
/// Width of the first layer; the same as the inputs, which are added to it.
pub(super) const FIRST_LAYER: usize = INPUTS;
/// Width of the other two.
pub(super) const INNER: usize = 12;
/// Log units beyond which a difference counts no more.
const MOST: f32 = 1.5;
/// Most that the place measure counts, and its scale.
const MOST_PLACE: f32 = 4.0;
const PLACE_SCALE: f32 = 0.25;

/// What was read along one path.
pub(crate) struct Along {
    /// Log odds that the crack runs here, by direction.
    pub(crate) here: Vec<f32>,
    /// Log odds of the whole path.
    pub(crate) whole: f32,
}

/// Reads one path (columns of [`super::dark::darkness`]).
pub(crate) fn along(lanes: &Lanes, darkness: &[f32], path: &[usize]) -> Along {
    let straight = straightened(lanes, darkness, path);
    let mut first = layer(&straight, &ALONG_1, &ALONG_1_ADD, 1);
    add(&mut first, &straight);
    let second = layer(&first, &ALONG_2, &ALONG_2_ADD, 2);
    let mut third = layer(&second, &ALONG_3, &ALONG_3_ADD, 4);
    add(&mut third, &second);
    let here: Vec<f32> = third
        .iter()
        .map(|x| ALONG_OUT_ADD + x.iter().zip(ALONG_OUT).map(|(x, w)| x * w).sum::<f32>())
        .collect();
    let mut sorted = here.clone();
    sorted.sort_by(|a, b| b.total_cmp(a));
    let third_of = DIRECTIONS / 3;
    let mean = |v: &[f32]| v.iter().sum::<f32>() / v.len() as f32;
    let mut whole = WHOLE_PARTS[0] * mean(&here)
        + WHOLE_PARTS[1] * mean(&sorted[..third_of])
        + WHOLE_PARTS[2] * mean(&sorted[third_of..2 * third_of])
        + WHOLE_PARTS[3];
    for (k, weight) in WHOLE.iter().enumerate() {
        whole += weight * third.iter().map(|x| x[k]).sum::<f32>() / DIRECTIONS as f32;
    }
    Along { here, whole }
}

/// The ring straightened on the path, less its own median.
fn straightened(lanes: &Lanes, darkness: &[f32], path: &[usize]) -> Vec<[f32; INPUTS]> {
    let mut out = vec![[0.0_f32; INPUTS]; DIRECTIONS];
    let mut all = Vec::with_capacity(DIRECTIONS * (INPUTS - 1));
    for (direction, (to, column)) in out.iter_mut().zip(path).enumerate() {
        let row = lanes.row(direction);
        for (k, v) in to[..INPUTS - 1].iter_mut().enumerate() {
            let lane = (FIRST + column + k).saturating_sub(REACH).min(LANES - 1);
            *v = row[lane];
            all.push(*v);
        }
        let place = darkness[direction * WIDTH + column];
        to[INPUTS - 1] = PLACE_SCALE * place.clamp(-MOST_PLACE, MOST_PLACE);
    }
    let median = middle(&mut all);
    for to in &mut out {
        for v in &mut to[..INPUTS - 1] {
            *v = (*v - median).clamp(-MOST, MOST);
        }
    }
    out
}

/// Median of an even number of values: the mean of the middle two.
fn middle(values: &mut [f32]) -> f32 {
    let half = values.len() / 2;
    let (low, high, _) = values.select_nth_unstable_by(half, f32::total_cmp);
    let below = low.iter().copied().fold(f32::NEG_INFINITY, f32::max);
    0.5 * (below + *high)
}

/// One layer: [`TAPS`] directions, `apart` from each other, round the circle; nothing below zero passes.
fn layer<const IN: usize, const OUT: usize>(
    from: &[[f32; IN]],
    weights: &[[[f32; OUT]; IN]; TAPS],
    add: &[f32; OUT],
    apart: usize,
) -> Vec<[f32; OUT]> {
    let n = from.len();
    (0..n)
        .map(|direction| {
            let mut sum = *add;
            for (tap, weights) in weights.iter().enumerate() {
                let seen = &from[(direction + n + tap * apart - (TAPS / 2) * apart) % n];
                for (v, weights) in seen.iter().zip(weights) {
                    for (s, w) in sum.iter_mut().zip(weights) {
                        *s += v * w;
                    }
                }
            }
            sum.map(|s| s.max(0.0))
        })
        .collect()
}

fn add<const N: usize>(to: &mut [[f32; N]], from: &[[f32; N]]) {
    for (to, from) in to.iter_mut().zip(from) {
        for (t, f) in to.iter_mut().zip(from) {
            *t += f;
        }
    }
}
