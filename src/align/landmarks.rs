//! The fit of a board map to landmarks placed on a photo.

use serde::Serialize;

use super::checks::{self, Placed};
use super::lens::{self, Bent};
use super::refusal::{Refusal, RefusalKind};
use super::suspect::{self, Finding, LeftOut, SuspectClick};
use crate::board::{BoardMap, Side};
use crate::geometry::{
    BoardMm, BoardPoint, FitError, FitSpread, Handed, Homography, HomographyError, PhotoPoint,
    PhotoPx, Projection, fit_affine, fit_homography, fit_similarity,
};

/// Landmarks that miss their fit by more than this share of the board's width in the photo
/// contradict each other: no alignment is better than a wrong one.
const CONTRADICTION_SHARE: f64 = 0.04;

/// Swapping two names must cut the misfit by this factor before they are said to be swapped.
const SWAP_GAIN: f64 = 5.0;

/// Points per axis of the grid over the board on which errors and scales are taken.
const GRID: usize = 7;

/// An expected error beyond this in mm is worth a word: half the gap between two lands on the
/// 2.54 mm grid.
const WORTH_A_WORD_MM: f64 = 0.5;

/// What an unknown lens may add is worth a word from this many mm on: a sixth of a land's radius.
const BEND_WORTH_A_WORD_MM: f64 = 0.15;

/// The transform that the number of landmarks allows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum LandmarkMethod {
    /// Two landmarks: turn, scale, shift.
    Similarity,
    /// Three landmarks: no perspective.
    Affine,
    /// Four or more.
    Homography,
    /// Seven or more that show how the lens bends the photo.
    HomographyAndLens,
}

impl std::fmt::Display for LandmarkMethod {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Similarity => "landmarks: similarity",
            Self::Affine => "landmarks: affine",
            Self::Homography => "landmarks: homography",
            Self::HomographyAndLens => "landmarks: homography and lens",
        })
    }
}

/// One landmark's disagreement with the fit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LandmarkResidual {
    /// The landmark, as the map writes its name.
    pub name: String,
    /// Distance between the click and the fit of all landmarks, px.
    pub residual_px: f64,
    /// Distance between the click and the fit of all the others, px; absent with four or fewer.
    pub left_out_px: Option<f64>,
    /// The same in mm.
    pub left_out_mm: Option<f64>,
}

/// Scale of the photo over the board, px/mm.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ScaleRange {
    /// In the middle of the board.
    pub centre: f64,
    /// Smallest over what the photo shows of the board.
    pub min: f64,
    /// Greatest over what the photo shows of the board.
    pub max: f64,
}

/// A board map fitted to landmarks on a photo.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LandmarkFit {
    /// From board mm to upright photo pixels.
    #[serde(flatten)]
    pub projection: Projection,
    /// What was fitted.
    pub method: LandmarkMethod,
    /// Root mean square residual over the landmarks, px. Zero by nature for the least number of
    /// landmarks of a method.
    pub rms_px: f64,
    /// The same without the bend of the lens, where it is in the fit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rms_without_lens_px: Option<f64>,
    /// One entry for each landmark, by name.
    pub per_landmark: Vec<LandmarkResidual>,
    /// Scale over the board.
    pub px_per_mm: ScaleRange,
    /// The click that stands out against all the others, where one does.
    pub suspect_click: Option<SuspectClick>,
    /// What to bear in mind, in words.
    pub cautions: Vec<String>,
    /// Expected error over what the photo shows of the board, px, root mean square: from the
    /// residuals where there are enough, else from the care people place clicks with (2 px).
    pub expected_error_px: f64,
    /// What a lens that bends by a percent at its corners would add to that, px, where the landmarks
    /// do not show whether it does.
    pub unknown_bend_px: Option<f64>,
}

/// Fits the board map to landmarks placed on a photo of `side`.
///
/// `placed` are landmark names with upright photo pixels; `photo_size` is (width, height) of
/// the upright photo. Four or more landmarks give a homography by least squares on the
/// distances in the photo, three an affine transform, two a similarity of the side's
/// handedness. The order of the landmarks does not matter.
///
/// # Errors
/// A [`Refusal`] that names the reason and the remedy.
pub fn from_landmarks(
    map: &BoardMap,
    side: Side,
    placed: &[(String, PhotoPoint)],
    photo_size: (u32, u32),
) -> Result<LandmarkFit, Refusal> {
    let found = checks::resolve(map, placed, photo_size)?;
    let (method, fit) = fit(&found, side)?;
    checks::check_plausible(
        map,
        side,
        &found,
        &fit,
        method != LandmarkMethod::Similarity,
    )?;
    let flat = Projection::from(fit);
    let squares = squares(&flat, &found)?;
    let mut left_out = suspect::leave_one_out(&found);
    let mut finding = suspect::find(&found, &left_out);
    let bent = lens::bent(&found, photo_size.into(), squares)
        .filter(|b| matches!(finding, Finding::Clean) || b.explains_more_than_a_click(&left_out));
    if let Some(bent) = &bent {
        left_out = suspect::leave_one_out(&bent.straight);
        finding = suspect::find(&bent.straight, &left_out);
    }
    let projection = bent.as_ref().map_or(flat, Bent::projection);
    let rms = |squares: f64| (squares / found.len() as f64).sqrt();
    let rms_px = rms(self::squares(&projection, &found)?);
    check_agreement(map, &found, &projection, rms_px, &finding)?;

    let seen = seen_grid(map, &projection, photo_size, &found);
    let px_per_mm = scales(map, &projection, &seen)?;
    let squares_left = rms_px.powi(2) * found.len() as f64;
    let spread = expected_error(&projection, &found, &seen, squares_left);
    let expected_error_px = spread.hypot(bent.as_ref().map_or(0.0, |bent| bent.error_px(&seen)));
    let unknown_bend_px = match (&bent, method) {
        (None, LandmarkMethod::Homography) => {
            let from: Vec<BoardPoint> = found.iter().map(|p| p.board).collect();
            let to: Vec<PhotoPoint> = found.iter().map(|p| p.photo).collect();
            let variance = suspect::click_sd(squares_left, found.len()).powi(2);
            lens::unknown_bend_px(&from, &to, photo_size.into(), variance, &seen)
        }
        _ => None,
    };
    let mut cautions = cautions(method, &found, &finding, photo_size);
    if let Some(bent) = &bent {
        cautions.insert(0, lens_words(bent, rms(squares), &finding));
    }
    if expected_error_px > WORTH_A_WORD_MM * px_per_mm.centre {
        cautions.push(format!(
            "away from the landmarks this may be off by {expected_error_px:.0} px ({:.1} mm): place more, farther apart",
            expected_error_px / px_per_mm.centre
        ));
    }
    if let Some(bend) = unknown_bend_px.filter(|px| *px > BEND_WORTH_A_WORD_MM * px_per_mm.centre) {
        cautions.push(format!(
            "a lens that bends by a percent at its corners would put places off by another {bend:.0} px ({:.1} mm), which {} landmarks do not show: place seven or more",
            bend / px_per_mm.centre,
            found.len()
        ));
    }
    Ok(LandmarkFit {
        projection,
        method: match bent {
            Some(_) => LandmarkMethod::HomographyAndLens,
            None => method,
        },
        rms_px,
        rms_without_lens_px: bent.as_ref().map(|_| rms(squares)),
        per_landmark: residuals(&projection, &found, &left_out),
        px_per_mm,
        suspect_click: match finding {
            Finding::One(click) => Some(bent.map_or(click.clone(), |bent| bent.seen(click))),
            Finding::Clean | Finding::Either(_) => None,
        },
        cautions,
        expected_error_px,
        unknown_bend_px,
    })
}

fn lens_words(bent: &Bent, rms_without: f64, finding: &Finding) -> String {
    let blame = match finding {
        Finding::Clean => ", and none is to blame",
        Finding::One(_) | Finding::Either(_) => "",
    };
    format!(
        "the lens bends this photo by {:.0} px at its corners: that is allowed for. The clicks then agree to {:.1} px instead of {rms_without:.1}{blame}",
        bent.lens().corner_px().abs(),
        bent.scatter_px()
    )
}

type BoardToPhoto = Homography<BoardMm, PhotoPx>;

fn fit(found: &[Placed], side: Side) -> Result<(LandmarkMethod, BoardToPhoto), Refusal> {
    let from: Vec<BoardPoint> = found.iter().map(|p| p.board).collect();
    let to: Vec<PhotoPoint> = found.iter().map(|p| p.photo).collect();
    let (method, fitted) = match found.len() {
        0..=2 => {
            let handed = match side {
                Side::Component => Handed::Mirrored,
                Side::Solder => Handed::Same,
            };
            let fit = fit_similarity(&from, &to, None, handed);
            (LandmarkMethod::Similarity, fit)
        }
        3 => (LandmarkMethod::Affine, fit_affine(&from, &to, None)),
        _ => (LandmarkMethod::Homography, fit_homography(&from, &to, None)),
    };
    let fit = fitted.map_err(|error| match error {
        FitError::Matrix(HomographyError::Singular) => checks::horizon(),
        other => Refusal::new(
            RefusalKind::Collinear,
            format!("no transform fits these landmarks: {other}"),
            "place landmarks that span an area, best near the corners of the board",
        ),
    })?;
    Ok((method, fit))
}

fn squares(projection: &Projection, found: &[Placed]) -> Result<f64, Refusal> {
    (found.iter())
        .map(|p| Some((projection.apply(p.board)? - p.photo).square_length()))
        .sum::<Option<f64>>()
        .ok_or_else(checks::horizon)
}

/// Refuses landmarks that contradict each other without one of them being to blame.
fn check_agreement(
    map: &BoardMap,
    found: &[Placed],
    fit: &Projection,
    rms_px: f64,
    finding: &Finding,
) -> Result<(), Refusal> {
    let bounds = checks::bounds_of(map);
    let scale = fit.scale_at(bounds.center()).ok_or_else(checks::horizon)?;
    let width_px = bounds.width().max(bounds.height()) * scale;
    if rms_px <= CONTRADICTION_SHARE * width_px || matches!(finding, Finding::One(_)) {
        return Ok(());
    }
    let remedy = swapped(found, rms_px).map_or_else(
        || "check the names one by one; is this the right board and revision?".to_owned(),
        |(a, b)| format!("\"{a}\" and \"{b}\" look swapped: exchange them"),
    );
    Err(Refusal::new(
        RefusalKind::DoNotFit,
        format!("the landmarks do not fit each other: they miss by {rms_px:.0} px on average"),
        remedy,
    ))
}

/// The two landmarks whose exchange makes everything fit.
fn swapped(found: &[Placed], rms_px: f64) -> Option<(String, String)> {
    let mut best: Option<(f64, usize, usize)> = None;
    for i in 0..found.len() {
        for j in i + 1..found.len() {
            let mut turned = found.to_vec();
            (turned[i].photo, turned[j].photo) = (found[j].photo, found[i].photo);
            let (from, to): (Vec<_>, Vec<_>) = turned.iter().map(|p| (p.board, p.photo)).unzip();
            let Some(sum) = (fit_homography(&from, &to, None).ok())
                .and_then(|fit| suspect::sum_of_squares(&fit, &from, &to))
            else {
                continue;
            };
            let rms = (sum / found.len() as f64).sqrt();
            if rms * SWAP_GAIN < rms_px && best.is_none_or(|(least, ..)| rms < least) {
                best = Some((rms, i, j));
            }
        }
    }
    best.map(|(_, i, j)| (found[i].name.clone(), found[j].name.clone()))
}

/// Grid points of the board that the photo shows; the landmarks where it shows none of them.
pub(super) fn seen_grid(
    map: &BoardMap,
    fit: &Projection,
    photo_size: (u32, u32),
    found: &[Placed],
) -> Vec<BoardPoint> {
    let bounds = checks::bounds_of(map);
    let step = |i: usize| i as f64 / (GRID - 1) as f64;
    let grid = (0..GRID * GRID).map(|k| {
        let (i, j) = (step(k % GRID), step(k / GRID));
        bounds.min + euclid::vec2(bounds.width() * i, bounds.height() * j)
    });
    let seen: Vec<BoardPoint> = grid.filter(|p| shows(fit, *p, photo_size)).collect();
    if seen.is_empty() {
        found.iter().map(|p| p.board).collect()
    } else {
        seen
    }
}

/// Whether the photo shows `point`.
pub(super) fn shows(fit: &Projection, point: BoardPoint, (width, height): (u32, u32)) -> bool {
    fit.apply(point).is_some_and(|at| {
        (-0.5..f64::from(width) - 0.5).contains(&at.x)
            && (-0.5..f64::from(height) - 0.5).contains(&at.y)
    })
}

fn scales(map: &BoardMap, fit: &Projection, seen: &[BoardPoint]) -> Result<ScaleRange, Refusal> {
    let centre = (fit.scale_at(checks::centre_of(map))).ok_or_else(checks::horizon)?;
    let (min, max) = (seen.iter().filter_map(|p| fit.scale_at(*p)))
        .fold((f64::MAX, 0.0), |(low, high), s| (s.min(low), s.max(high)));
    Ok(ScaleRange { centre, min, max })
}

/// Root mean square of the predicted error over `seen`.
fn expected_error(fit: &Projection, found: &[Placed], seen: &[BoardPoint], squares: f64) -> f64 {
    let from: Vec<BoardPoint> = found.iter().map(|p| p.board).collect();
    let spread = FitSpread::new(
        &fit.photo_from_board,
        &from,
        suspect::click_sd(squares, found.len()),
    );
    spread.map_or(f64::INFINITY, |spread| mean_error(&spread, seen))
}

pub(super) fn mean_error(spread: &FitSpread<BoardMm, PhotoPx>, seen: &[BoardPoint]) -> f64 {
    let sum: f64 = (seen.iter())
        .map(|p| spread.at(*p).unwrap_or(f64::INFINITY).powi(2))
        .sum();
    (sum / seen.len() as f64).sqrt()
}

fn residuals(
    fit: &Projection,
    found: &[Placed],
    left_out: &[Option<LeftOut>],
) -> Vec<LandmarkResidual> {
    (found.iter().zip(left_out))
        .map(|(placed, left)| LandmarkResidual {
            name: placed.name.clone(),
            residual_px: (fit.apply(placed.board))
                .map_or(f64::INFINITY, |at| (at - placed.photo).length()),
            left_out_px: left.as_ref().map(|l| l.off_px),
            left_out_mm: left.as_ref().map(|l| l.off_mm),
        })
        .collect()
}

fn cautions(
    method: LandmarkMethod,
    found: &[Placed],
    finding: &Finding,
    (width, height): (u32, u32),
) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    match (method, found.len()) {
        (LandmarkMethod::Similarity, _) => words.push(
            "two landmarks give turn, scale and shift only: tilt is not taken into account, and two cannot tell a photo of the other side; place two more".into(),
        ),
        (LandmarkMethod::Affine, _) => words.push(
            "three landmarks give a fit without perspective, and fit any click: place two more".into(),
        ),
        (LandmarkMethod::Homography, 4) => words.push(
            "four landmarks fit any click: add a fifth to be able to tell".into(),
        ),
        (LandmarkMethod::Homography | LandmarkMethod::HomographyAndLens, _) => {}
    }
    match finding {
        Finding::Clean => {}
        Finding::One(click) => words.push(click.words.clone()),
        Finding::Either(names) => words.push(format!(
            "one of these clicks is off, but these landmarks cannot tell which: {}; check them, or place one more",
            names.join(", ")
        )),
    }
    let outside: Vec<&str> = (found.iter())
        .filter(|p| {
            let off = |v: f64, size: u32| v < -0.5 || v > f64::from(size) - 0.5;
            off(p.photo.x, width) || off(p.photo.y, height)
        })
        .map(|p| p.name.as_str())
        .collect();
    if !outside.is_empty() {
        words.push(format!("outside the photo: {}", outside.join(", ")));
    }
    words
}

#[cfg(test)]
mod tests;
