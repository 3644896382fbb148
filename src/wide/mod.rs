//! Ground: inner loops with the widest vectors that the processor has.
//!
//! The library is built for every processor of its kind, so its loops would otherwise use four numbers at a time.
//! The numbers are the same to the last bit everywhere: in plain loops a multiplication and the addition after it stay
//! two steps, and [`add_products`] does both in one on every processor, also on those that have to do so in software.

#![allow(
    clippy::needless_range_loop,
    reason = "loops of fixed length become vectors"
)]

pub(crate) use pulp::{Simd, WithSimd};

/// Numbers worked on at once by loops that keep several sums.
pub(crate) const AT_ONCE: usize = 8;

/// Calls `work` compiled for the widest vectors at hand. What it calls gains only where it is inlined.
#[inline]
pub(crate) fn widest<R>(work: impl FnOnce() -> R) -> R {
    pulp::Arch::new().dispatch(work)
}

/// Calls `work` with the widest vectors at hand.
#[inline]
pub(crate) fn with_widest<W: WithSimd>(work: W) -> W::Output {
    pulp::Arch::new().dispatch(work)
}

/// Adds to each of the `sums` the vector `v` times its weight, rounded once. Eight sums hide the time that one takes.
#[inline(always)]
pub(crate) fn add_products<S: Simd, const AT: usize>(
    simd: S,
    sums: &mut [S::f32s; AT],
    v: S::f32s,
    weights: &[f32; AT],
) {
    for k in 0..AT {
        sums[k] = simd.mul_add_f32s(simd.splat_f32s(weights[k]), v, sums[k]);
    }
}

/// The least and the greatest; infinities the wrong way round where there is none.
#[inline(always)]
pub(crate) fn extremes(values: &[f32]) -> (f32, f32) {
    let (mut least, mut most) = ([f32::INFINITY; AT_ONCE], [f32::NEG_INFINITY; AT_ONCE]);
    let (groups, rest) = values.as_chunks::<AT_ONCE>();
    for group in groups {
        for k in 0..AT_ONCE {
            least[k] = least[k].min(group[k]);
            most[k] = most[k].max(group[k]);
        }
    }
    for (k, v) in rest.iter().enumerate() {
        least[k] = least[k].min(*v);
        most[k] = most[k].max(*v);
    }
    (
        least.into_iter().fold(f32::INFINITY, f32::min),
        most.into_iter().fold(f32::NEG_INFINITY, f32::max),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn extremes_are_those_of_a_plain_search(values in prop::collection::vec(-9.0..9.0_f32, 0..40)) {
            let plain = values.iter().fold((f32::INFINITY, f32::NEG_INFINITY), |(a, b), v| (a.min(*v), b.max(*v)));
            prop_assert_eq!(widest(#[inline(always)] || extremes(&values)), plain);
        }
    }
}
