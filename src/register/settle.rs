//! A fit settled on most of its points.

use euclid::Point2D;

use crate::geometry::{Homography, fit_homography};

/// Rounds of reweighting: later ones move a fit by hundredths of a pixel.
const ROUNDS: usize = 12;

/// A round that moves no point by more than this, px, is the last.
const DONE_PX: f64 = 0.01;

/// Fits the pairs with Cauchy weights of scale `width` px, from `start`: pairs that are far off
/// count little, and none is thrown away for good.
///
/// `None` where the pairs determine no homography.
#[must_use]
pub fn settle<A, B>(
    from: &[Point2D<f64, A>],
    to: &[Point2D<f64, B>],
    start: &Homography<A, B>,
    width: f64,
) -> Option<Homography<A, B>> {
    let mut fit = *start;
    for _ in 0..ROUNDS {
        let weights: Vec<f64> = (from.iter().zip(to))
            .map(|(f, t)| {
                let off = fit.apply(*f).map_or(f64::INFINITY, |at| (at - *t).length());
                1.0 / (1.0 + (off / width).powi(2))
            })
            .collect();
        let next = fit_homography(from, to, Some(&weights)).ok()?;
        let moved = |f: &Point2D<f64, A>| Some((next.apply(*f)? - fit.apply(*f)?).length());
        let most = from.iter().filter_map(moved).fold(0.0, f64::max);
        fit = next;
        if most < DONE_PX {
            break;
        }
    }
    Some(fit)
}
