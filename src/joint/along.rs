//! What a path looks like along its way: the ring straightened on it, and a small fitted measure that sees
//! 90 degrees of it at a time. See `docs/hint.md`, "The measure".

#![allow(
    clippy::needless_range_loop,
    reason = "loops of fixed length become vectors"
)]

use super::dark::{FIRST, REACH, WIDTH};
use super::lanes::{DIRECTIONS, LANES, Lanes};
use super::weights::{
    ALONG_1, ALONG_1_ADD, ALONG_2, ALONG_2_ADD, ALONG_3, ALONG_3_ADD, ALONG_OUT, ALONG_OUT_ADD,
    WHOLE, WHOLE_PARTS,
};
use crate::wide::{Simd, WithSimd, add_products, with_widest};

/// Directions that each layer combines.
const TAPS: usize = 5;
/// Lanes of the straightened ring, and the place measure on the path.
pub(super) const INPUTS: usize = 2 * REACH + 2;
/// Width of the first layer.
pub(super) const FIRST_LAYER: usize = 32;
/// Width of the other two, which see every two directions as one.
pub(super) const INNER: usize = 24;
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

/// Directions before the first and after the last that repeat the other end: as far as the last layer sees.
const ROUND: usize = 8;
/// Most numbers of a vector: layers are worked out for whole ones.
const WIDEST: usize = 16;
/// Outputs of a layer that are summed together.
const OUTPUTS: usize = 8;
/// Pairs of directions: what the inner layers see.
const PAIRS: usize = DIRECTIONS / 2;
/// Length of one number's way round: rounded up to whole vectors, and both ends.
const WAY: usize = DIRECTIONS.next_multiple_of(WIDEST) + 2 * ROUND;
/// The same by pairs.
const HALF_WAY: usize = PAIRS.next_multiple_of(WIDEST) + 2 * ROUND;

const _: () = assert!(
    DIRECTIONS.is_multiple_of(2)
        && FIRST_LAYER.is_multiple_of(OUTPUTS)
        && INNER.is_multiple_of(OUTPUTS)
);

/// One number in every direction, from [`ROUND`] on; both ends go on round the circle.
type Way = [f32; WAY];
/// One number in every pair of directions, likewise.
type HalfWay = [f32; HALF_WAY];

/// Reads one path (columns of [`super::dark::darkness`]).
pub(crate) fn along(lanes: &Lanes, darkness: &[f32], path: &[usize]) -> Along {
    let straight = straightened(lanes, darkness, path);
    let (here, third) = with_widest(Layers(&straight));
    let by_pair = &here[ROUND..ROUND + PAIRS];
    let mut sorted = by_pair.to_vec();
    sorted.sort_unstable_by(|a, b| b.total_cmp(a));
    let third_of = PAIRS / 3;
    let mean = |v: &[f32]| v.iter().sum::<f32>() / v.len() as f32;
    let mut whole = WHOLE_PARTS[0] * mean(by_pair)
        + WHOLE_PARTS[1] * mean(&sorted[..third_of])
        + WHOLE_PARTS[2] * mean(&sorted[third_of..2 * third_of])
        + WHOLE_PARTS[3];
    for (way, weight) in third.iter().zip(WHOLE) {
        whole += weight * mean(&way[ROUND..ROUND + PAIRS]);
    }
    let here = by_pair.iter().flat_map(|v| [*v, *v]).collect();
    Along { here, whole }
}

struct Layers<'a>(&'a [Way; INPUTS]);

impl WithSimd for Layers<'_> {
    type Output = (HalfWay, [HalfWay; INNER]);

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> Self::Output {
        layers(simd, self.0)
    }
}

/// All layers: the log odds in every pair of directions, and the last layer.
#[inline(always)]
fn layers<S: Simd>(simd: S, straight: &[Way; INPUTS]) -> (HalfWay, [HalfWay; INNER]) {
    let first = in_pairs(&layer(
        simd,
        straight,
        &ALONG_1,
        &ALONG_1_ADD,
        1,
        DIRECTIONS,
    ));
    let second = layer(simd, &first, &ALONG_2, &ALONG_2_ADD, 1, PAIRS);
    let mut third = layer(simd, &second, &ALONG_3, &ALONG_3_ADD, 2, PAIRS);
    let mut here = [ALONG_OUT_ADD; HALF_WAY];
    for ((way, before), weight) in third.iter_mut().zip(&second).zip(ALONG_OUT) {
        for ((v, before), h) in way.iter_mut().zip(before).zip(&mut here) {
            *v += before;
            *h += *v * weight;
        }
    }
    (here, third)
}

/// The mean of every two directions.
#[inline(always)]
fn in_pairs<const N: usize>(from: &[Way; N]) -> [HalfWay; N] {
    let mut out = [[0.0_f32; HALF_WAY]; N];
    for (to, from) in out.iter_mut().zip(from) {
        let (pairs, _) = from[ROUND..ROUND + DIRECTIONS].as_chunks::<2>();
        for (to, [one, two]) in to[ROUND..].iter_mut().zip(pairs) {
            *to = 0.5 * (one + two);
        }
        close(to, PAIRS);
    }
    out
}

/// The ring straightened on the path, less its own median.
fn straightened(lanes: &Lanes, darkness: &[f32], path: &[usize]) -> [Way; INPUTS] {
    let mut out = [[0.0_f32; WAY]; INPUTS];
    let mut all = Vec::with_capacity(DIRECTIONS * (INPUTS - 1));
    for (direction, column) in path.iter().enumerate() {
        let row = lanes.row(direction);
        for (k, way) in out[..INPUTS - 1].iter_mut().enumerate() {
            let lane = (FIRST + column + k).saturating_sub(REACH).min(LANES - 1);
            way[ROUND + direction] = row[lane];
            all.push(ordered(row[lane].to_bits().cast_signed()));
        }
        let place = darkness[direction * WIDTH + column];
        out[INPUTS - 1][ROUND + direction] = PLACE_SCALE * place.clamp(-MOST_PLACE, MOST_PLACE);
    }
    let median = middle(&mut all);
    for way in &mut out[..INPUTS - 1] {
        for v in way.iter_mut() {
            *v = (*v - median).clamp(-MOST, MOST);
        }
    }
    for way in &mut out {
        close(way, DIRECTIONS);
    }
    out
}

/// Lets both ends of a way of so many numbers go on round the circle.
#[inline(always)]
fn close(way: &mut [f32], numbers: usize) {
    way.copy_within(numbers..numbers + ROUND, 0);
    way.copy_within(ROUND..2 * ROUND, ROUND + numbers);
}

/// A number's bits as a whole number of the same order, and back: whole numbers are sorted faster.
fn ordered(bits: i32) -> i32 {
    bits ^ ((bits >> 31) & i32::MAX)
}

/// Median of an even number of values, [`ordered`]: the mean of the middle two.
fn middle(values: &mut [i32]) -> f32 {
    let half = values.len() / 2;
    let (low, high, _) = values.select_nth_unstable(half);
    let below = low.iter().copied().fold(i32::MIN, i32::max);
    let value = |key: i32| f32::from_bits(ordered(key).cast_unsigned());
    0.5 * (value(below) + value(*high))
}

/// One layer over a way of so many numbers: [`TAPS`] of them, `apart` from each other, round the circle; nothing
/// below zero passes.
#[inline(always)]
fn layer<S: Simd, const IN: usize, const OUT: usize, const LENGTH: usize>(
    simd: S,
    from: &[[f32; LENGTH]; IN],
    weights: &[[[f32; OUT]; IN]; TAPS],
    add: &[f32; OUT],
    apart: usize,
    numbers: usize,
) -> [[f32; LENGTH]; OUT] {
    let mut out = [[0.0_f32; LENGTH]; OUT];
    let nothing = simd.splat_f32s(0.0);
    let places = numbers.next_multiple_of(S::F32_LANES);
    for at in (0..places).step_by(S::F32_LANES) {
        for outputs in (0..OUT).step_by(OUTPUTS) {
            let mut sums: [S::f32s; OUTPUTS] =
                std::array::from_fn(|k| simd.splat_f32s(add[outputs + k]));
            for (tap, weights) in weights.iter().enumerate() {
                let seen = ROUND + at + tap * apart - (TAPS / 2) * apart;
                for (v, w) in from.iter().zip(weights) {
                    if let Some(w) = w[outputs..].first_chunk::<OUTPUTS>() {
                        let v = S::as_simd_f32s(&v[seen..seen + S::F32_LANES]).0[0];
                        add_products(simd, &mut sums, v, w);
                    }
                }
            }
            for (k, sum) in sums.iter().enumerate() {
                let to = &mut out[outputs + k][ROUND + at..ROUND + at + S::F32_LANES];
                S::as_mut_simd_f32s(to).0[0] = simd.max_f32s(*sum, nothing);
            }
        }
    }
    for way in &mut out {
        close(way, numbers);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(8))]
        #[test]
        fn every_processor_gives_the_same_numbers(
            log in prop::collection::vec(-1.0..1.0_f32, DIRECTIONS * LANES),
            place in prop::collection::vec(-4.0..4.0_f32, DIRECTIONS * WIDTH),
            path in prop::collection::vec(0..WIDTH, DIRECTIONS),
        ) {
            let straight = straightened(&Lanes::of(log), &place, &path);
            let (wide, single) = (with_widest(Layers(&straight)), layers(pulp::Scalar::new(), &straight));
            let bits = |way: &HalfWay| way[ROUND..ROUND + PAIRS].iter().map(|v| v.to_bits()).collect::<Vec<_>>();
            prop_assert_eq!(bits(&wide.0), bits(&single.0));
            prop_assert!(single.0[ROUND..ROUND + PAIRS].iter().any(|v| *v != ALONG_OUT_ADD));
            for (wide, single) in wide.1.iter().zip(&single.1) {
                prop_assert_eq!(bits(wide), bits(single));
            }
        }
    }
}
