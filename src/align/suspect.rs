//! Which click disagrees with the others.

use serde::Serialize;

use super::checks::Placed;
use crate::geometry::{BoardMm, BoardPoint, FitSpread, Homography, PhotoPoint, PhotoPx};
use crate::geometry::{fit_affine, fit_homography};

/// Standard error of a careful click, px per axis: the middle of the 1 to 4 px with which people
/// place a hole centre. Common practice, no source.
pub(super) const CLICK_SD_PX: f64 = 2.0;

/// How many measured squared residuals the assumption above counts for: few landmarks cannot
/// measure the click error themselves.
const CLICK_SD_WEIGHT: f64 = 4.0;

/// A click stands out when it misses the fit of the others by this many of its predicted errors.
/// 4 leaves a false alarm in some 3000 clean clicks (Rayleigh distribution, exp(-4^2/2)).
const STAND_OUT: f64 = 4.0;

/// ... and when the others agree this many times better (in squares) without it than without
/// the next suspect. Less, and two clicks explain the misfit equally well.
const CLEARER: f64 = 3.0;

/// Degrees of freedom of a homography.
const FREEDOM: usize = 8;

/// A landmark whose click disagrees with all the others.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SuspectClick {
    /// The landmark.
    pub name: String,
    /// Distance from where the others put it, px.
    pub off_px: f64,
    /// The same in mm.
    pub off_mm: f64,
    /// Where the others put it, upright photo pixels.
    pub expected_px: [f64; 2],
    /// The finding in words.
    pub words: String,
}

/// What the fit of all but one landmark says about that one.
#[derive(Debug, Clone)]
pub(super) struct LeftOut {
    /// Where the others put it.
    pub(super) expected: PhotoPoint,
    /// Distance from there to the click, px.
    pub(super) off_px: f64,
    pub(super) off_mm: f64,
    /// Sum of squared residuals of the others among themselves.
    rest: f64,
    /// Predicted error of `off_px`.
    predicted: f64,
}

/// Refits without each landmark in turn. Entries are `None` where the others do not determine
/// a homography (always with four landmarks or fewer).
pub(super) fn leave_one_out(found: &[Placed]) -> Vec<Option<LeftOut>> {
    let one = |i: usize| {
        if found.len() <= 4 {
            return None;
        }
        let (from, to) = without(found, i);
        let fit = fit_homography(&from, &to, None).ok()?;
        let left = &found[i];
        let expected = fit.apply(left.board)?;
        let rest = sum_of_squares(&fit, &from, &to)?;
        let sd = click_sd(rest, from.len());
        let spread = FitSpread::new(&fit, &from, sd)?.at(left.board)?;
        let off_px = (left.photo - expected).length();
        Some(LeftOut {
            expected,
            off_px,
            off_mm: off_px / fit.scale_at(left.board)?,
            rest,
            // Per axis, as the distance of two independent errors.
            predicted: (spread * spread / 2.0 + sd * sd).sqrt(),
        })
    };
    (0..found.len()).map(one).collect()
}

/// Click error per axis from the residuals of `n` landmarks, leaning on [`CLICK_SD_PX`].
pub(super) fn click_sd(squares: f64, n: usize) -> f64 {
    let freedom = (2 * n).saturating_sub(FREEDOM) as f64;
    ((CLICK_SD_WEIGHT * CLICK_SD_PX.powi(2) + squares) / (CLICK_SD_WEIGHT + freedom)).sqrt()
}

/// Sum of squared distances between the images of `from` and `to`.
pub(super) fn sum_of_squares(
    fit: &Homography<BoardMm, PhotoPx>,
    from: &[BoardPoint],
    to: &[PhotoPoint],
) -> Option<f64> {
    let squares = from.iter().zip(to);
    squares
        .map(|(f, t)| Some((fit.apply(*f)? - *t).square_length()))
        .sum()
}

/// What the left-out residuals say.
#[derive(Debug)]
pub(super) enum Finding {
    /// Nothing stands out.
    Clean,
    /// One click does.
    One(SuspectClick),
    /// A click is off, but these explain it equally well.
    Either(Vec<String>),
}

/// Names the click that stands out, if one does.
pub(super) fn find(found: &[Placed], left_out: &[Option<LeftOut>]) -> Finding {
    let mut ranked: Vec<(f64, usize, &LeftOut)> = (left_out.iter().enumerate())
        .filter_map(|(i, l)| {
            let l = l.as_ref()?;
            Some((agreement_without(found, i, l)?, i, l))
        })
        .collect();
    ranked.sort_by(|a, b| a.0.total_cmp(&b.0));
    let Some(&(least, first, left)) = ranked.first() else {
        return Finding::Clean;
    };
    if left.off_px < STAND_OUT * left.predicted {
        return Finding::Clean;
    }
    // What is left over among the others is never less than careful clicks leave.
    let floor = CLICK_SD_PX.powi(2) * CLICK_SD_WEIGHT;
    let rivals: Vec<String> = (ranked.iter())
        .take_while(|(rest, ..)| *rest + floor < CLEARER * (least + floor))
        .map(|(_, i, _)| found[*i].name.clone())
        .collect();
    if rivals.len() > 1 {
        return Finding::Either(rivals);
    }
    let name = &found[first].name;
    Finding::One(SuspectClick {
        name: name.clone(),
        off_px: left.off_px,
        off_mm: left.off_mm,
        expected_px: [left.expected.x, left.expected.y],
        words: format!(
            "{name} looks {:.0} px ({:.1} mm) off; place it again",
            left.off_px, left.off_mm
        ),
    })
}

/// How well the others agree, as a sum of squares. With five landmarks the other four meet any
/// homography exactly; what can be asked is how far they are from a view without perspective,
/// which photos taken from above come near to.
fn agreement_without(found: &[Placed], i: usize, left: &LeftOut) -> Option<f64> {
    if found.len() > 5 {
        return Some(left.rest);
    }
    let (from, to) = without(found, i);
    let fit = fit_affine(&from, &to, None).ok()?;
    sum_of_squares(&fit, &from, &to)
}

fn without(found: &[Placed], i: usize) -> (Vec<BoardPoint>, Vec<PhotoPoint>) {
    (found.iter().enumerate())
        .filter(|(j, _)| *j != i)
        .map(|(_, p)| (p.board, p.photo))
        .unzip()
}
