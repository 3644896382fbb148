//! Bilinear samples along a ray: the unrolled rings are made of these.

use crate::wide::widest;

/// Adding it to a small positive f32 rounds to a whole number, which then stands in the low bits. Unlike a
/// cast, that is done for several numbers at once.
const WHOLE: f32 = 8_388_608.0;
/// Samples taken in one run.
const RUN: usize = 64;
/// Numbers of the widest vectors; [`RUN`] is a multiple.
pub(super) const VECTOR: usize = 16;

/// A square plane ready to be sampled: the four values that each sample needs stand together.
pub(super) struct Grid {
    side: usize,
    /// By upper left pixel: it, its right neighbour, and both below them.
    corners: Vec<[f32; 4]>,
    /// The value everywhere, where the plane is too small to be sampled.
    plain: f32,
}

impl Grid {
    /// A plane of less than two px to a side is its first value everywhere.
    pub(super) fn of(plane: &[f32], side: usize) -> Self {
        let plain = plane.first().copied().unwrap_or(0.0);
        if side < 2 || plane.len() < side * side {
            return Self {
                side,
                corners: Vec::new(),
                plain,
            };
        }
        let (upper, lower) = (plane, &plane[side..]);
        let (right, low_right) = (&plane[1..], &plane[side + 1..]);
        let corners = widest(
            #[inline(always)]
            || {
                (low_right.iter().zip(lower).zip(upper).zip(right))
                    .map(|(((d, c), a), b)| [*a, *b, *c, *d])
                    .collect()
            },
        );
        Self {
            side,
            corners,
            plain,
        }
    }

    /// Bilinear samples at `start + step * reach` for every reach, written to `out`. Positions are clamped into
    /// the plane. Quickest where `reach` goes on to a multiple of [`VECTOR`] beyond the end of `out`.
    #[inline(always)]
    pub(super) fn along_ray(
        &self,
        start: (f32, f32),
        step: (f32, f32),
        reach: &[f32],
        out: &mut [f32],
    ) {
        if self.corners.is_empty() {
            out.fill(self.plain);
            return;
        }
        let (last, across) = ((self.side - 1) as f32 - 1e-3, self.side as f32);
        let end = self.corners.len() - 1;
        // Three passes: the first and the last work on several samples at once, rounded up to whole vectors.
        let mut found = [0.0_f32; RUN];
        let (mut fx, mut fy) = ([0.0_f32; RUN], [0.0_f32; RUN]);
        let mut at = [0_u32; RUN];
        let mut near = [[0.0_f32; 4]; RUN];
        for (reach, out) in reach.chunks(RUN).zip(out.chunks_mut(RUN)) {
            let count = reach.len().min(out.len());
            let rounded = count.next_multiple_of(VECTOR).min(reach.len());
            let places = at[..rounded].iter_mut().zip(&mut fx).zip(&mut fy);
            for (((at, fx), fy), reach) in places.zip(reach) {
                let x = (start.0 + step.0 * reach).clamp(0.0, last);
                let y = (start.1 + step.1 * reach).clamp(0.0, last);
                let (ix, iy) = (floor(x), floor(y));
                *fx = x - ix;
                *fy = y - iy;
                *at = whole(iy * across + ix);
            }
            for (near, at) in near.iter_mut().zip(&at[..count]) {
                *near = self.corners[(*at as usize).min(end)];
            }
            let sides = near.iter().zip(&fx).zip(&fy);
            for (found, (([a, b, c, d], fx), fy)) in found[..rounded].iter_mut().zip(sides) {
                let top = a + fx * (b - a);
                let low = c + fx * (d - c);
                *found = top + fy * (low - top);
            }
            out[..count].copy_from_slice(&found[..count]);
        }
    }
}

/// A whole number from 0 to a few million as such; exact, as a patch has far fewer px.
#[inline(always)]
pub(super) fn whole(v: f32) -> u32 {
    (v + WHOLE).to_bits() - WHOLE.to_bits()
}

/// The whole number below a number from 0 to a few thousand.
#[inline(always)]
pub(super) fn floor(v: f32) -> f32 {
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
            Grid::of(&plane, side).along_ray((x, y), (dx, dy), &reach, &mut out);
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
