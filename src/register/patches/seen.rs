//! The second picture as it looks from the first.

use euclid::Point2D;
use rayon::prelude::*;

use crate::geometry::Homography;
use crate::register::Plane;
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
    // Offsets from a whole pixel keep 32 bits exact enough.
    let (whole_x, whole_y) = (at.x.floor(), at.y.floor());
    let (fx, fy) = ((at.x - whole_x) as f32, (at.y - whole_y) as f32);
    let (ax, ay) = (across.x as f32, across.y as f32);
    // Far outside, any place will do.
    let far = |whole: f64| whole.clamp(-1e8, 1e8) as i32;
    let (whole_x, whole_y) = (far(whole_x), far(whole_y));
    let (width, values) = (b.width(), b.values());
    let (most_x, most_y) = (width as i32 - 2, b.height() as i32 - 2);
    let (mut start, mut right, mut down) = ([0usize; RUN], [0.0f32; RUN], [0.0f32; RUN]);
    for k in 0..RUN {
        let off = k as f32 - (RUN / 2) as f32;
        let (px, py) = (fx + off * ax, fy + off * ay);
        let (left, top) = (px.floor(), py.floor());
        let column = (whole_x + left as i32).clamp(0, most_x) as usize;
        let row = (whole_y + top as i32).clamp(0, most_y) as usize;
        start[k] = row * width + column;
        (right[k], down[k]) = (px - left, py - top);
    }
    for (out, (start, (tx, ty))) in out
        .iter_mut()
        .zip(start.iter().zip(right.iter().zip(&down)))
    {
        let (upper, lower) = (
            &values[*start..start + 2],
            &values[start + width..start + width + 2],
        );
        let above = upper[0] + (upper[1] - upper[0]) * tx;
        let below = lower[0] + (lower[1] - lower[0]) * tx;
        *out = above + (below - above) * ty;
    }
}
