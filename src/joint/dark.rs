//! How much each place of the unrolled ring looks like a stretch of a crack: a small fitted measure of what
//! lies round it. See `docs/hint.md`, "The measure".

use super::lanes::{DIRECTIONS, LANES, Lanes};
use super::weights::{PLACE_1, PLACE_1_ADD, PLACE_2, PLACE_2_ADD, PLACE_3, PLACE_3_ADD};

/// First lane where a crack is looked for (0.26 of the land radius): further in is the pin itself.
pub(crate) const FIRST: usize = 7;
/// Lanes where a crack is looked for; the last lies at 0.90 of the land radius: further out is the rim.
pub(crate) const WIDTH: usize = 33;
/// Lanes seen to each side of a place.
pub(crate) const REACH: usize = 7;
/// Lanes seen.
const SEEN: usize = 2 * REACH + 1;
/// Groups of directions seen: two before, three round the place, two after.
const GROUPS: usize = 3;
/// Numbers seen.
pub(super) const INPUTS: usize = GROUPS * SEEN;
/// Sizes of the two inner layers.
pub(super) const FIRST_LAYER: usize = 16;
/// Same.
pub(super) const SECOND_LAYER: usize = 8;
/// Log units beyond which a difference counts no more: black pits and glare must not outweigh the rest.
const MOST: f32 = 1.5;
/// [`WIDTH`] rounded up to whole vectors.
const PADDED: usize = 36;

/// Places and outputs of a layer that are summed together; [`PADDED`] is a multiple of the first.
const TILE: usize = 12;
/// See [`TILE`].
const AT_ONCE: usize = 4;

type Places = [f32; PADDED];

/// Log odds that each place lies on a crack: [`DIRECTIONS`] rows of [`WIDTH`].
pub(crate) fn darkness(lanes: &Lanes) -> Vec<f32> {
    let groups = grouped(lanes);
    let mut out = Vec::with_capacity(DIRECTIONS * WIDTH);
    let mut seen = [[0.0_f32; PADDED]; INPUTS];
    for direction in 0..DIRECTIONS {
        look_round(&groups, direction, &mut seen);
        let first: [Places; FIRST_LAYER] = layer(&seen, &PLACE_1, &PLACE_1_ADD, true);
        let second: [Places; SECOND_LAYER] = layer(&first, &PLACE_2, &PLACE_2_ADD, true);
        let last: [Places; 1] = layer(&second, &PLACE_3, &PLACE_3_ADD, false);
        out.extend_from_slice(&last[0][..WIDTH]);
    }
    out
}

/// The three groups of directions, averaged; each row padded so that every place sees [`SEEN`] lanes.
fn grouped(lanes: &Lanes) -> [Vec<f32>; GROUPS] {
    const ROW: usize = FIRST + PADDED + REACH;
    let row = |direction: usize, shift: usize| {
        lanes.row((direction + DIRECTIONS + shift - 3) % DIRECTIONS)
    };
    let mut out: [Vec<f32>; GROUPS] = std::array::from_fn(|_| vec![0.0; DIRECTIONS * ROW]);
    for direction in 0..DIRECTIONS {
        let rows: [&[f32]; 7] = std::array::from_fn(|shift| row(direction, shift));
        for at in 0..ROW {
            let lane = at.min(LANES - 1);
            let v: [f32; 7] = std::array::from_fn(|k| rows[k][lane]);
            out[0][direction * ROW + at] = 0.5 * (v[0] + v[1]);
            out[1][direction * ROW + at] = (v[2] + v[3] + v[4]) / 3.0;
            out[2][direction * ROW + at] = 0.5 * (v[5] + v[6]);
        }
    }
    out
}

/// What every place of one direction sees, less its own mean.
fn look_round(groups: &[Vec<f32>; GROUPS], direction: usize, seen: &mut [Places; INPUTS]) {
    const ROW: usize = FIRST + PADDED + REACH;
    let mut mean = [0.0_f32; PADDED];
    for (group, map) in groups.iter().enumerate() {
        let row = &map[direction * ROW..(direction + 1) * ROW];
        for k in 0..SEEN {
            let from = FIRST - REACH + k;
            let places = &mut seen[group * SEEN + k];
            places.copy_from_slice(&row[from..from + PADDED]);
            for (m, v) in mean.iter_mut().zip(places.iter()) {
                *m += v;
            }
        }
    }
    for places in seen.iter_mut() {
        for (v, m) in places.iter_mut().zip(mean) {
            *v = (*v - m / INPUTS as f32).clamp(-MOST, MOST);
        }
    }
}

/// One layer over all places of a direction: weights by input, then output.
fn layer<const IN: usize, const OUT: usize>(
    from: &[Places; IN],
    weights: &[[f32; OUT]; IN],
    add: &[f32; OUT],
    cut: bool,
) -> [Places; OUT] {
    let mut out = [[0.0_f32; PADDED]; OUT];
    // A few outputs by a few places at a time: their sums stay in registers while the inputs go by.
    for places in (0..PADDED).step_by(TILE) {
        for outputs in (0..OUT).step_by(AT_ONCE) {
            let mut sums = [[0.0_f32; TILE]; AT_ONCE];
            for (k, sum) in sums.iter_mut().enumerate() {
                sum.fill(add.get(outputs + k).copied().unwrap_or(0.0));
            }
            for (v, w) in from.iter().zip(weights) {
                let v: &[f32; TILE] = match v[places..].first_chunk() {
                    Some(v) => v,
                    None => continue,
                };
                for (k, sum) in sums.iter_mut().enumerate() {
                    let w = w.get(outputs + k).copied().unwrap_or(0.0);
                    for (s, v) in sum.iter_mut().zip(v) {
                        *s += w * v;
                    }
                }
            }
            for (k, sum) in sums.iter().enumerate().take(OUT - outputs) {
                for (o, s) in out[outputs + k][places..].iter_mut().zip(sum) {
                    *o = if cut { s.max(0.0) } else { *s };
                }
            }
        }
    }
    out
}
