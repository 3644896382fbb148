//! Whether the lens, not a click, makes landmarks disagree.
//!
//! A phone's lens bends the picture by some pixels at its corners. A homography cannot follow,
//! and a landmark near a corner then seems badly placed. One radial coefficient (the first term
//! of the usual polynomial, `r' = r (1 + k r^2)` about the middle of the photo with r in half
//! diagonals; from memory) tells the two apart: where it explains the disagreement better than
//! leaving out any one click does, no click is to blame.

use super::checks::Placed;
use super::suspect::sum_of_squares;
use crate::geometry::{BoardPoint, PhotoPoint, fit_homography};

/// Fewest landmarks that can show a bend: with seven, five residuals are left.
const LEAST: usize = 7;

/// Strongest bend that is taken for a lens: beyond it a photo is a fish-eye's, and more likely a
/// click is wrong.
const MOST_BEND: f64 = 0.1;

/// Bends that are tried before the best is refined.
const TRIES: usize = 41;

/// The scatter left with a bent lens against that left without the worst click, as standard
/// deviations. Nearer to 1 excuses bad clicks, lower accuses good ones: on the sample photos,
/// whose lenses bend, it is at most 0.67 where the lens is at fault; 180 views without a bend and
/// with one click 8 to 40 px off never came below it.
const BETTER: f64 = 0.75;

/// How much one coefficient must cut the misfit, as the F statistic of one against the residuals
/// left: 12 is the one-in-a-hundred point for 1 and 7 (tables of F, from memory).
const CUT: f64 = 12.0;

/// A lens that explains the misfit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Bend {
    /// Shift of the corners of the photo, px; negative towards the middle.
    pub(super) corner_px: f64,
    /// Scatter of the clicks with the bend allowed for, px per axis.
    pub(super) scatter_px: f64,
}

/// The bend that explains these landmarks better than one bad click does; `least_rest` is the
/// smallest sum of squares that is left when one landmark is left out.
pub(super) fn bend(
    found: &[Placed],
    photo_size: (u32, u32),
    squares: f64,
    least_rest: f64,
) -> Option<Bend> {
    if found.len() < LEAST {
        return None;
    }
    let lens = Lens::of(photo_size);
    let step = 2.0 * MOST_BEND / (TRIES - 1) as f64;
    let tried = (0..TRIES).map(|i| i as f64 * step - MOST_BEND);
    let (near, _) = tried
        .filter_map(|k| Some((k, lens.squares(found, k)?)))
        .min_by(|a, b| a.1.total_cmp(&b.1))?;
    let (k, left) = refined(near, step, |k| lens.squares(found, k))?;
    let freedom = |taken: usize| (2 * found.len() - taken) as f64;
    let variance = left / freedom(9);
    let without_one = least_rest / freedom(10);
    let explains = variance.sqrt() <= BETTER * without_one.sqrt()
        && squares - left >= CUT * variance
        && k.abs() < MOST_BEND;
    explains.then(|| Bend {
        corner_px: k * lens.half_diagonal,
        scatter_px: variance.sqrt(),
    })
}

/// The least of `cost` within a step of `near`, by halving the step.
fn refined(near: f64, step: f64, cost: impl Fn(f64) -> Option<f64>) -> Option<(f64, f64)> {
    let (mut at, mut best, mut step) = (near, cost(near)?, step);
    for _ in 0..20 {
        step /= 2.0;
        for to in [at - step, at + step] {
            if let Some(other) = cost(to).filter(|other| *other < best) {
                (at, best) = (to, other);
            }
        }
    }
    Some((at, best))
}

/// The middle of a photo and its half diagonal, px.
struct Lens {
    middle: PhotoPoint,
    half_diagonal: f64,
}

impl Lens {
    fn of((width, height): (u32, u32)) -> Self {
        let (width, height) = (f64::from(width), f64::from(height));
        Self {
            middle: PhotoPoint::new((width - 1.0) / 2.0, (height - 1.0) / 2.0),
            half_diagonal: width.hypot(height) / 2.0,
        }
    }

    /// Where a place of the photo would be without the bend `k`.
    fn straight(&self, at: PhotoPoint, k: f64) -> PhotoPoint {
        let seen = (at - self.middle) / self.half_diagonal;
        let mut flat = seen;
        for _ in 0..12 {
            flat = seen / (1.0 + k * flat.square_length());
        }
        self.middle + flat * self.half_diagonal
    }

    /// Sum of squared residuals of the landmarks with the bend `k` taken out.
    fn squares(&self, found: &[Placed], k: f64) -> Option<f64> {
        let from: Vec<BoardPoint> = found.iter().map(|p| p.board).collect();
        let to: Vec<PhotoPoint> = found.iter().map(|p| self.straight(p.photo, k)).collect();
        sum_of_squares(&fit_homography(&from, &to, None).ok()?, &from, &to)
    }
}
