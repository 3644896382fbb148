//! Values of a plane along a run of evenly spaced points.

use super::Plane;

/// Fractions of a pixel are counted in parts of a power of two: whole numbers make vectors of all
/// of a run, and 16 steps stay within a ten-thousandth of a pixel.
const BITS: u32 = 18;
const ONE: f64 = (1u32 << BITS) as f64;

/// Bilinear values of `plane` at `N` points, the first at `start` (px) and each `step` from the
/// one before. Outside, the nearest edge pixel counts. The plane has two rows and columns at least.
///
/// Vectors come of it only where it is inlined into [`widest`](crate::wide::widest).
#[inline(always)]
pub(super) fn along<const N: usize>(plane: &Plane, start: [f64; 2], step: [f64; 2]) -> [f32; N] {
    let (width, values) = (plane.width() as u32, plane.values());
    let [x, y] = [
        Axis::new(start[0], step[0], plane.width()),
        Axis::new(start[1], step[1], plane.height()),
    ];
    // No branch, so that the reads become one instruction where the processor has it.
    let value = |at: u32| values.get(at as usize).copied().unwrap_or(0.0);
    let mut out = [0.0; N];
    for (k, out) in out.iter_mut().enumerate() {
        let ((column, right), (row, down)) = (x.at(k), y.at(k));
        let at = row.wrapping_mul(width).wrapping_add(column);
        let below = at.wrapping_add(width);
        let upper = value(at) + (value(at.wrapping_add(1)) - value(at)) * right;
        let lower = value(below) + (value(below.wrapping_add(1)) - value(below)) * right;
        *out = upper + (lower - upper) * down;
    }
    out
}

/// One coordinate of a run.
struct Axis {
    /// Of the first point: whole pixels and parts.
    whole: i32,
    parts: i32,
    /// From point to point, in parts.
    step: i32,
    /// The last pixel that has a next one.
    most: i32,
}

impl Axis {
    #[inline(always)]
    fn new(start: f64, step: f64, size: usize) -> Self {
        let whole = start.floor();
        Self {
            whole: whole as i32,
            parts: ((start - whole) * ONE) as i32,
            step: (step * ONE) as i32,
            most: size as i32 - 2,
        }
    }

    /// The pixel before a point, and how far the point is on the way to the next.
    #[inline(always)]
    fn at(&self, k: usize) -> (u32, f32) {
        let parts = self.parts.wrapping_add(self.step.wrapping_mul(k as i32));
        let whole = self.whole.wrapping_add(parts >> BITS);
        let share = (parts & ((1 << BITS) - 1)) as f32 / ONE as f32;
        let pixel = whole.clamp(0, self.most);
        let share = (whole.wrapping_sub(pixel) as f32 + share).clamp(0.0, 1.0);
        (pixel as u32, share)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::wide::widest;
    use proptest::prelude::*;

    fn grain(width: usize, height: usize) -> Plane {
        let value = |k: usize| {
            let v = (k as u32).wrapping_mul(0x9e37_79b9);
            (v ^ (v >> 15)) as f32 / u32::MAX as f32
        };
        Plane::from_values(width, height, (0..width * height).map(value).collect()).unwrap()
    }

    proptest! {
        #[test]
        fn a_run_has_what_the_plane_has_at_each_point(
            size in (2usize..70, 2usize..50),
            x in -30.0..100.0_f64,
            y in -30.0..80.0_f64,
            step in prop::array::uniform2(-4.0..4.0_f64),
        ) {
            let plane = grain(size.0, size.1);
            let run = widest(#[inline(always)] || along::<22>(&plane, [x, y], step));
            for (k, value) in run.into_iter().enumerate() {
                let at = |start: f64, step: f64, size: usize| {
                    (start + k as f64 * step).clamp(0.0, (size - 1) as f64)
                };
                let there = plane.sample(at(x, step[0], size.0), at(y, step[1], size.1)).unwrap();
                prop_assert!((value - there).abs() < 1e-3, "{k}: {value} for {there}");
            }
        }

        #[test]
        fn a_run_from_anywhere_has_values_of_the_plane(
            x in prop::num::f64::ANY,
            y in prop::num::f64::ANY,
            step in prop::array::uniform2(prop::num::f64::ANY),
        ) {
            let plane = grain(9, 7);
            let run = widest(#[inline(always)] || along::<16>(&plane, [x, y], step));
            prop_assert!(run.iter().all(|v| (-1e-6..=1.0 + 1e-6).contains(v)), "{run:?}");
        }
    }
}
