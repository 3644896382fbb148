//! How much each place of the unrolled ring looks like a stretch of a crack: a small fitted measure of what
//! lies round it. See `docs/hint.md`, "The measure".

#![allow(
    clippy::needless_range_loop,
    reason = "loops of fixed length become vectors"
)]

use super::lanes::{DIRECTIONS, LANES, Lanes};
use super::weights::{PLACE_1, PLACE_1_ADD, PLACE_2, PLACE_2_ADD, PLACE_3, PLACE_3_ADD};
use crate::wide::{Simd, WithSimd, add_products, with_widest};

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
/// A row of places rounded up to whole vectors.
const ROUNDED: usize = 40;
/// A row of lanes, going on beyond the last so that every place sees [`SEEN`] of them.
const ROW: usize = ROUNDED + SEEN - 1;
/// Directions that go through the measure together: enough to fill whole vectors, few enough for the fast memory
/// (15 of them waste less of the last vector and took longer).
const BLOCK: usize = 5;
/// Places of a block, rounded up to whole vectors, and so that a rounded row can be written at the last
/// direction of a block.
const PLACES: usize = 176;
/// Most numbers of a vector.
const WIDEST: usize = 16;
/// Outputs of a layer that are summed together.
const OUTPUTS: usize = 8;

const _: () = assert!(
    DIRECTIONS.is_multiple_of(BLOCK)
        && PLACES.is_multiple_of(WIDEST)
        && (BLOCK - 1) * WIDTH + ROUNDED <= PLACES
        && FIRST == REACH
);

type Places = [f32; PLACES];
type Rows = [[f32; ROW]; DIRECTIONS];

/// Log odds that each place lies on a crack: [`DIRECTIONS`] rows of [`WIDTH`].
pub(crate) fn darkness(lanes: &Lanes) -> Vec<f32> {
    with_widest(Measured(lanes))
}

struct Measured<'a>(&'a Lanes);

impl WithSimd for Measured<'_> {
    type Output = Vec<f32>;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> Vec<f32> {
        measured(simd, self.0)
    }
}

#[inline(always)]
fn measured<S: Simd>(simd: S, lanes: &Lanes) -> Vec<f32> {
    let (pairs, threes) = grouped(lanes);
    let mut out = Vec::with_capacity(DIRECTIONS * WIDTH);
    let mut seen = [[0.0_f32; PLACES]; INPUTS];
    let mut first = [[0.0_f32; PLACES]; FIRST_LAYER];
    let mut second = [[0.0_f32; PLACES]; SECOND_LAYER];
    let mut last = [[0.0_f32; PLACES]; 1];
    for from in (0..DIRECTIONS).step_by(BLOCK) {
        look_round(&pairs, &threes, from, &mut seen);
        layer::<S, INPUTS, FIRST_LAYER, OUTPUTS>(
            simd,
            &seen,
            &PLACE_1,
            &PLACE_1_ADD,
            true,
            &mut first,
        );
        layer::<S, FIRST_LAYER, SECOND_LAYER, OUTPUTS>(
            simd,
            &first,
            &PLACE_2,
            &PLACE_2_ADD,
            true,
            &mut second,
        );
        layer::<S, SECOND_LAYER, 1, 1>(simd, &second, &PLACE_3, &PLACE_3_ADD, false, &mut last);
        out.extend_from_slice(&last[0][..BLOCK * WIDTH]);
    }
    out
}

/// Directions averaged: each with the next, and each with both beside it.
#[inline(always)]
fn grouped(lanes: &Lanes) -> (Box<Rows>, Box<Rows>) {
    let mut rows = Box::new([[0.0_f32; ROW]; DIRECTIONS]);
    for (direction, row) in rows.iter_mut().enumerate() {
        let seen = lanes.row(direction);
        row[..LANES].copy_from_slice(seen);
        row[LANES..].fill(seen[LANES - 1]);
    }
    let mut pairs = Box::new([[0.0_f32; ROW]; DIRECTIONS]);
    let mut threes = Box::new([[0.0_f32; ROW]; DIRECTIONS]);
    for direction in 0..DIRECTIONS {
        let before = &rows[(direction + DIRECTIONS - 1) % DIRECTIONS];
        let (here, after) = (&rows[direction], &rows[(direction + 1) % DIRECTIONS]);
        for k in 0..ROW {
            pairs[direction][k] = 0.5 * (here[k] + after[k]);
            threes[direction][k] = (before[k] + here[k] + after[k]) / 3.0;
        }
    }
    (pairs, threes)
}

/// What every place of a block of directions sees, less its own mean.
#[inline(always)]
fn look_round(pairs: &Rows, threes: &Rows, from: usize, seen: &mut [Places; INPUTS]) {
    let mut means = [0.0_f32; PLACES];
    // Rows are written rounded up, each over what the one before wrote too much.
    for k in 0..BLOCK {
        let direction = from + k;
        let groups = [
            &pairs[(direction + DIRECTIONS - 3) % DIRECTIONS],
            &threes[direction],
            &pairs[(direction + 2) % DIRECTIONS],
        ];
        let mut mean = [0.0_f32; ROUNDED];
        for (row, seen) in groups.into_iter().zip(seen.chunks_exact_mut(SEEN)) {
            for (shift, places) in seen.iter_mut().enumerate() {
                let to = &mut places[k * WIDTH..k * WIDTH + ROUNDED];
                let row = &row[shift..shift + ROUNDED];
                to.copy_from_slice(row);
                for (mean, v) in mean.iter_mut().zip(row) {
                    *mean += v;
                }
            }
        }
        for (to, mean) in means[k * WIDTH..k * WIDTH + ROUNDED].iter_mut().zip(mean) {
            *to = mean / INPUTS as f32;
        }
    }
    for places in seen.iter_mut() {
        for (v, mean) in places.iter_mut().zip(&means) {
            *v = (*v - mean).clamp(-MOST, MOST);
        }
    }
}

/// One layer over all places of a block: weights by input, then output. `AT` outputs are summed together; their
/// sums stay in registers while the inputs go by.
#[inline(always)]
fn layer<S: Simd, const IN: usize, const OUT: usize, const AT: usize>(
    simd: S,
    from: &[Places; IN],
    weights: &[[f32; OUT]; IN],
    add: &[f32; OUT],
    cut: bool,
    out: &mut [Places; OUT],
) {
    let vectors = S::as_simd_f32s(&from[0]).0.len();
    let least = simd.splat_f32s(if cut { 0.0 } else { f32::NEG_INFINITY });
    for outputs in (0..OUT).step_by(AT) {
        for at in 0..vectors {
            let mut sums: [S::f32s; AT] =
                std::array::from_fn(|k| simd.splat_f32s(add[outputs + k]));
            for (v, w) in from.iter().zip(weights) {
                let v = S::as_simd_f32s(v).0[at];
                if let Some(w) = w[outputs..].first_chunk::<AT>() {
                    add_products(simd, &mut sums, v, w);
                }
            }
            for (k, sum) in sums.iter().enumerate() {
                S::as_mut_simd_f32s(&mut out[outputs + k]).0[at] = simd.max_f32s(*sum, least);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(8))]
        #[test]
        fn every_processor_gives_the_same_numbers(
            log in prop::collection::vec(-3.0..1.0_f32, DIRECTIONS * LANES),
        ) {
            let lanes = Lanes::of(log);
            // One number at a time, as where there are no vectors.
            let single = measured(pulp::Scalar::new(), &lanes);
            prop_assert_eq!(single.len(), DIRECTIONS * WIDTH);
            let bits = |all: &[f32]| all.iter().map(|v| v.to_bits()).collect::<Vec<_>>();
            prop_assert_eq!(bits(&darkness(&lanes)), bits(&single));
        }
    }
}
