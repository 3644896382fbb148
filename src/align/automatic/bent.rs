//! The bend of the photo's lens, where the places found in both photos carry it.

use euclid::Point2D;

use super::refine::{Fine, Pair};
use super::view::AtoB;
use crate::geometry::{Homography, Lens, PhotoA, PhotoB, fit_homography};
use crate::register::{Bent, settle_bent};
use crate::stats::median;

/// Fewer places carry no bend.
const LEAST_PAIRS: usize = 60;

/// The bends that the places of either colour of a chessboard give may differ by this share of that
/// of all: a bend that one half does not see is made of something else.
const ALIKE: f64 = 0.5;

/// A bend that moves no place found by more than this, px of the working size, is not worth
/// having.
const LEAST_MOVE: f64 = 0.5;

/// Places this near to the fit, px of the working size, agree.
const AGREES_PX: f64 = 2.0;

/// A fit through the lens of the photo.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BentAlignment {
    /// From the reference's pixels, with its own lens taken out where that is known, to where the
    /// photo would have things without its lens; both at full size.
    pub homography: Homography<PhotoA, PhotoB>,
    /// The lens of the photo; where that of the reference is not known, what it bends more than
    /// that one.
    pub lens: Lens,
    /// Root mean square distance of the agreeing places, px of the photo at full size.
    pub rms_px: f64,
    /// Expected error, as [`AutoAlignment::expected_error_px`](super::AutoAlignment).
    pub expected_error_px: f64,
}

impl BentAlignment {
    /// Where the photo has what the reference has at `at`, full-size px; `lens` is that of the
    /// reference, where it was taken out.
    #[must_use]
    pub fn apply(
        &self,
        lens: Option<&Lens>,
        at: Point2D<f64, PhotoA>,
    ) -> Option<Point2D<f64, PhotoB>> {
        let at = match lens {
            Some(lens) => lens.straight(at)?,
            None => at,
        };
        self.lens.bend(self.homography.apply(at)?)
    }
}

/// A bent fit with the places of the reference that agree with it, full-size px.
pub(super) struct Found {
    pub(super) bent: BentAlignment,
    places: Vec<Point2D<f64, PhotoA>>,
}

impl Found {
    /// The homography that comes nearest to the bent fit at the places that agree, and the root
    /// mean square of what is left, px of the photo: for those who cannot follow a lens.
    pub(super) fn nearest(&self, lens: Option<&Lens>) -> Option<(AtoB, f64)> {
        let (from, to): (Vec<_>, Vec<_>) = (self.places.iter())
            .filter_map(|at| Some((*at, self.bent.apply(lens, *at)?)))
            .unzip();
        let fit = fit_homography(&from, &to, None).ok()?;
        let squares = (from.iter().zip(&to))
            .map(|(f, t)| Some((fit.apply(*f)? - *t).square_length()))
            .sum::<Option<f64>>()?;
        Some((fit, (squares / from.len() as f64).sqrt()))
    }
}

/// The fit with a bend; `None` where the places found do not carry one. With `reference`, the
/// lens of the reference is taken out first.
pub(super) fn bent(fine: &Fine, size: [u32; 2], reference: Option<&Lens>) -> Option<Found> {
    let pairs: Vec<Pair> = (fine.pairs.iter())
        .filter_map(|pair| {
            let from = match reference {
                Some(lens) => lens.straight(pair.from)?,
                None => pair.from,
            };
            Some(Pair { from, ..*pair })
        })
        .collect();
    if pairs.len() < LEAST_PAIRS {
        return None;
    }
    let settled = |keep: &dyn Fn(&Pair) -> bool| through(&pairs, &fine.fit, size, fine.px, keep);
    let all = settled(&|_| true)?;
    let (light, dark) = (settled(&|p| p.light)?, settled(&|p| !p.light)?);
    let close: Vec<(Point2D<f64, PhotoA>, f64)> = (pairs.iter())
        .filter_map(|p| Some((p.from, (all.apply(p.from)? - p.to).length())))
        .filter(|(_, off)| *off < AGREES_PX * fine.px)
        .collect();
    let moved = (close.iter())
        .filter_map(|(at, _)| {
            let flat = all.fit.apply(*at)?;
            Some((all.lens.bend(flat)? - flat).length())
        })
        .fold(0.0, f64::max);
    let k = all.lens.k();
    let differ = (light.lens.k() - dark.lens.k()).abs();
    if differ > ALIKE * k.abs() || moved < LEAST_MOVE * fine.px {
        return None;
    }
    let apart: Vec<f64> = (close.iter())
        .filter_map(|(at, _)| Some((light.apply(*at)? - dark.apply(*at)?).length()))
        .collect();
    let squares: f64 = close.iter().map(|(_, off)| off * off).sum();
    let rms_px = (squares / close.len() as f64).sqrt();
    let expected_error_px = rms_px.hypot(median(&apart)?);
    let seen = |at: &Point2D<f64, PhotoA>| reference.map_or(Some(*at), |lens| lens.bend(*at));
    Some(Found {
        bent: BentAlignment {
            homography: all.fit,
            lens: all.lens,
            rms_px,
            expected_error_px,
        },
        places: close.iter().filter_map(|(at, _)| seen(at)).collect(),
    })
}

fn through(
    pairs: &[Pair],
    start: &AtoB,
    size: [u32; 2],
    width: f64,
    keep: &dyn Fn(&Pair) -> bool,
) -> Option<Bent<PhotoA, PhotoB>> {
    let kept = || pairs.iter().filter(|p| keep(p));
    let from: Vec<_> = kept().map(|p| p.from).collect();
    let to: Vec<_> = kept().map(|p| p.to).collect();
    let weight: Vec<f64> = kept().map(|p| p.weight).collect();
    settle_bent(&from, &to, &weight, start, size, width)
}
