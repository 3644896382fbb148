//! The second picture as it looks from the first.

use euclid::Point2D;
use rayon::prelude::*;

use crate::geometry::Homography;
use crate::register::Plane;
use crate::register::run::along;
use crate::wide::widest;

/// Pixels over which a view is taken as affine: what perspective bends there is far below a pixel.
const RUN: usize = 16;

/// Rows below, and columns to the right, that are read but count for nothing: places are compared
/// several at a time.
const SPARE: usize = 32;

/// The second picture as it looks from the first, with a rim around.
pub(super) struct Seen {
    /// From one row to the next.
    stride: usize,
    rim: isize,
    values: Vec<f32>,
}

impl Seen {
    /// `b` at the pixels of `a` and `rim` px around; where it shows nothing, anything.
    pub(super) fn of<A: Sync, B: Sync>(
        a: &Plane,
        b: &Plane,
        transform: &Homography<A, B>,
        rim: usize,
    ) -> Self {
        let stride = (a.width() + 2 * rim + SPARE).next_multiple_of(RUN);
        let rows = a.height() + 2 * rim + SPARE;
        let mut values = vec![0.0f32; stride * rows];
        values
            .par_chunks_mut(stride)
            .take(a.height() + 2 * rim)
            .enumerate()
            .for_each(|(row, line)| {
                let y = row as f64 - rim as f64;
                widest(
                    #[inline(always)]
                    || {
                        for (run, out) in line.as_chunks_mut::<RUN>().0.iter_mut().enumerate() {
                            let x = (run * RUN + RUN / 2) as f64 - rim as f64;
                            seen_from(b, transform, Point2D::new(x, y), out);
                        }
                    },
                );
            });
        Self {
            stride,
            rim: rim as isize,
            values,
        }
    }

    /// From (x, y) on, all that follows.
    #[inline(always)]
    pub(super) fn from(&self, x: isize, y: isize) -> &[f32] {
        &self.values[(y + self.rim) as usize * self.stride + (x + self.rim) as usize..]
    }
}

/// `b` along a run of pixels of a row, of which `middle` is the one in the middle.
#[inline(always)]
fn seen_from<A, B>(
    b: &Plane,
    transform: &Homography<A, B>,
    middle: Point2D<f64, A>,
    out: &mut [f32; RUN],
) {
    let (Some(at), Some([across, _])) = (transform.apply(middle), transform.jacobian(middle))
    else {
        return;
    };
    let before = (RUN / 2) as f64;
    let start = [at.x - before * across.x, at.y - before * across.y];
    *out = along(b, start, [across.x, across.y]);
}
