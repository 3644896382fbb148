//! Which click disagrees with the others.

use serde::Serialize;

use super::checks::Placed;
use crate::geometry::{BoardMm, BoardPoint, FitSpread, Homography, PhotoPoint, PhotoPx};
use crate::geometry::{fit_affine, fit_homography};

/// Standard error of a careful click, px per axis, assumed until the residuals say otherwise:
/// people place a hole centre to 1 to 4 px. Common practice, no source.
pub(super) const CLICK_SD_PX: f64 = 2.0;

/// How many measured squared residuals the assumption above counts for: few landmarks cannot
/// measure the click error themselves.
const CLICK_SD_WEIGHT: f64 = 2.0;

/// A click stands out when it misses the fit of the others by this many of its predicted errors.
/// Less accuses clean clicks, more misses bad ones: see the two counting tests of this room.
const STAND_OUT: f64 = 3.5;

/// ... and when this many times more likely than the next suspect. Less, and two clicks explain
/// the misfit equally well.
const CLEARER: f64 = 4.0;

/// Click error of a steady hand at high enlargement, px per axis: the others agreeing better than
/// this is no further evidence against the one left out.
const BEST_CLICK_PX: f64 = 0.7;

/// Misfit that is never blamed on a click, px.
const NEVER_BLAMED_PX: f64 = 4.0;

/// At most this many names are given when the bad click cannot be told.
const MOST_NAMES: usize = 3;

/// With five landmarks, a view counts as straight from above when four of them agree to this sum
/// of squares in px: four have only two residuals to say so, and a tilted view with a bad click
/// looks like it by chance once in some twenty times.
const FROM_ABOVE_FIVE: f64 = 4.0;

/// What the landmarks are fitted with while looking for a bad click. A view straight from above
/// has no perspective, and not granting it any makes the others' verdict far sharper.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Model {
    Affine,
    Homography,
}

impl Model {
    fn freedom(self) -> usize {
        match self {
            Self::Affine => 6,
            Self::Homography => 8,
        }
    }

    fn fit(self, from: &[BoardPoint], to: &[PhotoPoint]) -> Option<Homography<BoardMm, PhotoPx>> {
        match self {
            Self::Affine => fit_affine(from, to, None).ok(),
            Self::Homography => fit_homography(from, to, None).ok(),
        }
    }
}

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
    pub(super) rest: f64,
    /// Predicted error of `off_px`.
    predicted: f64,
}

/// Refits without each landmark in turn. Entries are `None` where the others do not determine
/// a homography (always with four landmarks or fewer).
pub(super) fn leave_one_out(found: &[Placed]) -> Vec<Option<LeftOut>> {
    leave_out_by(found, Model::Homography)
}

fn leave_out_by(found: &[Placed], model: Model) -> Vec<Option<LeftOut>> {
    let one = |i: usize| {
        if found.len() <= 4 {
            return None;
        }
        let (from, to) = without(found, i);
        let fit = model.fit(&from, &to)?;
        let left = &found[i];
        let expected = fit.apply(left.board)?;
        let rest = sum_of_squares(&fit, &from, &to)?;
        let sd = blended_sd(rest, 2 * from.len() - model.freedom());
        let spread = match model {
            Model::Affine => affine_spread(&from, left.board)? * sd,
            Model::Homography => FitSpread::new(&fit, &from, sd)?.at(left.board)? / 2f64.sqrt(),
        };
        let off_px = (left.photo - expected).length();
        Some(LeftOut {
            expected,
            off_px,
            off_mm: off_px / fit.scale_at(left.board)?,
            rest,
            predicted: spread.hypot(sd),
        })
    };
    (0..found.len()).map(one).collect()
}

/// Click error per axis from the residuals of `n` landmarks under a homography, leaning on
/// [`CLICK_SD_PX`].
pub(super) fn click_sd(squares: f64, n: usize) -> f64 {
    blended_sd(squares, (2 * n).saturating_sub(Model::Homography.freedom()))
}

pub(super) fn blended_sd(squares: f64, freedom: usize) -> f64 {
    let assumed = CLICK_SD_WEIGHT * CLICK_SD_PX.powi(2);
    ((assumed + squares) / (CLICK_SD_WEIGHT + freedom as f64)).sqrt()
}

/// Standard error per axis of an affine fit at `at`, for placing errors of 1.
fn affine_spread(from: &[BoardPoint], at: BoardPoint) -> Option<f64> {
    let row = |p: &BoardPoint| nalgebra::Vector3::new(p.x - at.x, p.y - at.y, 1.0);
    let normal = (from.iter()).fold(nalgebra::Matrix3::zeros(), |sum, p| {
        sum + row(p) * row(p).transpose()
    });
    // In coordinates about `at` the prediction is the constant term alone.
    Some(normal.try_inverse()?[(2, 2)].sqrt())
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
    if found.len() <= 4 {
        return Finding::Clean;
    }
    let plain = leave_out_by(found, Model::Affine);
    let bound = if found.len() == 5 {
        FROM_ABOVE_FIVE
    } else {
        let freedom = (2 * found.len()).saturating_sub(2 + Model::Affine.freedom());
        CLICK_SD_PX.powi(2) * (CLICK_SD_WEIGHT + freedom as f64)
    };
    let from_above = plain.iter().flatten().any(|l| l.rest <= bound);
    if from_above {
        return name(found, &plain, Model::Affine);
    }
    name(found, left_out, Model::Homography)
}

fn name(found: &[Placed], left_out: &[Option<LeftOut>], model: Model) -> Finding {
    let mut ranked: Vec<(usize, &LeftOut)> = (left_out.iter().enumerate())
        .filter_map(|(i, l)| Some((i, l.as_ref()?)))
        .collect();
    ranked.sort_by(|a, b| a.1.rest.total_cmp(&b.1.rest));
    let Some(&(first, left)) = ranked.first() else {
        return Finding::Clean;
    };
    if left.off_px < (STAND_OUT * left.predicted).max(NEVER_BLAMED_PX) {
        return Finding::Clean;
    }
    let freedom = (2 * found.len()).saturating_sub(2 + model.freedom()) as f64;
    let likelihood = |l: &LeftOut| {
        let least = CLICK_SD_WEIGHT * BEST_CLICK_PX.powi(2);
        (least + l.rest).powf(-(CLICK_SD_WEIGHT + freedom) / 2.0)
    };
    let rivals: Vec<String> = (ranked.iter())
        .take_while(|(_, l)| likelihood(l) * CLEARER > likelihood(left))
        .map(|(i, _)| found[*i].name.clone())
        .collect();
    if rivals.len() > 1 {
        return Finding::Either(rivals.into_iter().take(MOST_NAMES).collect());
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

fn without(found: &[Placed], i: usize) -> (Vec<BoardPoint>, Vec<PhotoPoint>) {
    (found.iter().enumerate())
        .filter(|(j, _)| *j != i)
        .map(|(_, p)| (p.board, p.photo))
        .unzip()
}
