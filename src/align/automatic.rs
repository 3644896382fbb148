//! Aligning one photo to another of the same side of the same board.

use euclid::Point2D;
use fast_image_resize::{PixelType, ResizeAlg, ResizeOptions, Resizer, images::Image as Pixels};
use image::GrayImage;
use serde::Serialize;

use super::refusal::{Refusal, RefusalKind as Kind};
use super::trust::{self, Evidence, Trust};
use crate::geometry::{Homography, HomographyError, PhotoA, PhotoB, fit_homography};
use crate::progress::Progress;
use crate::register::{
    Consensus, Feature, PatchGrid, PatchHit, Plane, consensus, features, match_features, patch_hits,
};

/// Photos are worked on at this many pixels: more costs time and wins nothing that the lens and
/// the parts' height do not take away again.
const WORKING_PIXELS: f64 = 2.0e6;

/// Features are looked for at this many pixels.
const FEATURE_PIXELS: f64 = 1.0e6;

/// Smaller photos have no room for features.
const LEAST_EDGE: u32 = 64;

/// Features kept of each photo. Matching costs their product.
const MOST_FEATURES: usize = 2500;

/// Fewer features than this are no detail.
const LEAST_FEATURES: usize = 20;

/// Tolerance of the consensus, px at the feature size.
const TOLERANCE_PX: f64 = 3.0;

/// Seed of the consensus; any number would do, but always the same.
const SEED: u64 = 0x0062_656e_6368;

/// Rounds of patch refinement: half size and wide, then at working size.
const REFINE: [PatchGrid; 2] = [
    PatchGrid {
        cells: 36,
        half: 10,
        reach: 10,
        least_contrast: 0.02,
    },
    PatchGrid {
        cells: 36,
        half: 10,
        reach: 6,
        least_contrast: 0.02,
    },
];

/// A patch helps the refinement when it correlates this well ...
const LEAST_SCORE: f32 = 0.55;

/// ... and beats every other place by this.
const LEAST_MARGIN: f32 = 0.08;

/// Scale of the Cauchy weight on patches, px at working size: what lens and board flatness leave.
const CAUCHY_PX: f64 = 1.5;

/// Fewer usable patches leave the feature fit as it is.
const LEAST_PATCHES: usize = 16;

/// One photo fitted to another.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AutoAlignment {
    /// From the reference's upright pixels to the photo's, both at full size.
    pub homography: Homography<PhotoA, PhotoB>,
    /// Feature matches and patches that agree with it.
    pub inliers: usize,
    /// Root mean square distance of the agreeing patches, px of the photo at full size.
    pub rms_px: f64,
    /// Why it is believed.
    pub trust: Trust,
    /// Expected error where the photos overlap, px of the photo at full size, for places at
    /// board level: tall parts lean.
    pub expected_error_px: f64,
}

/// Finds the transform from `reference` to `photo`, two upright grey photos of one side of one
/// model's board: any turn, scale 0.5 to 2, other unit, other light.
///
/// Both photos must show the board flat; places above board level are not where this puts them.
///
/// # Errors
/// A [`Refusal`] rather than a fit that cannot be believed.
pub fn automatic(
    reference: &GrayImage,
    photo: &GrayImage,
    progress: &Progress,
) -> Result<AutoAlignment, Refusal> {
    progress.expect(5);
    let step = || progress.tick().map_err(|_| stopped());
    for (name, image) in [("reference", reference), ("photo", photo)] {
        if image.width().min(image.height()) < LEAST_EDGE {
            return Err(Refusal::new(
                Kind::NoDetail,
                format!(
                    "the {name} is only {} x {} px",
                    image.width(),
                    image.height()
                ),
                "use the photo at full size",
            ));
        }
    }
    let (small_a, small_b) = rayon::join(
        || scaled(reference, FEATURE_PIXELS),
        || scaled(photo, FEATURE_PIXELS),
    );
    let (small_a, small_b) = (small_a?, small_b?);
    let (found_a, found_b) = rayon::join(
        || features(&small_a.plane, MOST_FEATURES),
        || features(&small_b.plane, MOST_FEATURES),
    );
    step()?;
    let coarse = coarse_fit(&found_a, &found_b)?;
    step()?;
    let (work_a, work_b) = rayon::join(
        || scaled(reference, WORKING_PIXELS),
        || scaled(photo, WORKING_PIXELS),
    );
    let (work_a, work_b) = (work_a?, work_b?);
    let start = rescale(&coarse.transform, &small_a, &small_b, &work_a, &work_b)?;
    step()?;
    let fine = refine(&work_a, &work_b, start)?;
    step()?;
    let evidence = trust::examine(&work_a.plane, &work_b.plane, &fine.transform);
    step()?;
    let trust = trust::judge(&evidence)?;
    let whole = to_full(&fine.transform, &work_a, &work_b)?;
    Ok(AutoAlignment {
        homography: whole,
        inliers: coarse.inliers.len() + fine.used,
        rms_px: fine.rms / work_b.factor,
        expected_error_px: expected_error(&evidence, fine.rms) / work_b.factor,
        trust,
    })
}

fn stopped() -> Refusal {
    Refusal::new(Kind::Cancelled, "stopped on request", "start it again")
}

/// A photo at a working size.
struct Scaled {
    plane: Plane,
    /// Working pixels per full-size pixel.
    factor: f64,
}

fn scaled(gray: &GrayImage, pixels: f64) -> Result<Scaled, Refusal> {
    let (width, height) = gray.dimensions();
    let factor = (pixels / (f64::from(width) * f64::from(height))).sqrt();
    if factor >= 1.0 {
        return Ok(Scaled {
            plane: Plane::from_gray(gray),
            factor: 1.0,
        });
    }
    let broken = |error: &dyn std::fmt::Display| {
        Refusal::new(
            Kind::NoDetail,
            format!("the photo could not be made smaller: {error}"),
            "open it in a picture editor and save it again",
        )
    };
    let size = |v: u32| (f64::from(v) * factor).round().max(1.0) as u32;
    let source = Pixels::from_vec_u8(width, height, gray.as_raw().clone(), PixelType::U8)
        .map_err(|e| broken(&e))?;
    let mut target = Pixels::new(size(width), size(height), PixelType::U8);
    let area = ResizeAlg::Convolution(fast_image_resize::FilterType::Box);
    Resizer::new()
        .resize(&source, &mut target, &ResizeOptions::new().resize_alg(area))
        .map_err(|e| broken(&e))?;
    let small = GrayImage::from_raw(size(width), size(height), target.into_vec())
        .ok_or_else(|| broken(&"size"))?;
    Ok(Scaled {
        factor: f64::from(small.width()) / f64::from(width),
        plane: Plane::from_gray(&small),
    })
}

/// Pixel of one size to pixel of another: centres at whole numbers.
fn zoom<S, D>(factor: f64) -> Result<Homography<S, D>, HomographyError> {
    let shift = 0.5 * factor - 0.5;
    Homography::from_rows([[factor, 0.0, shift], [0.0, factor, shift], [0.0, 0.0, 1.0]])
}

type AtoB = Homography<PhotoA, PhotoB>;

fn rescale(
    fit: &AtoB,
    from_a: &Scaled,
    from_b: &Scaled,
    to_a: &Scaled,
    to_b: &Scaled,
) -> Result<AtoB, Refusal> {
    let inner = || -> Result<AtoB, HomographyError> {
        let into: Homography<PhotoA, PhotoA> = zoom(from_a.factor / to_a.factor)?;
        let out: Homography<PhotoB, PhotoB> = zoom(to_b.factor / from_b.factor)?;
        into.then(fit)?.then(&out)
    };
    inner().map_err(|_| super::checks::horizon())
}

fn to_full(fit: &AtoB, a: &Scaled, b: &Scaled) -> Result<AtoB, Refusal> {
    let inner = || -> Result<AtoB, HomographyError> {
        let into: Homography<PhotoA, PhotoA> = zoom(a.factor)?;
        let out: Homography<PhotoB, PhotoB> = zoom(1.0 / b.factor)?;
        into.then(fit)?.then(&out)
    };
    inner().map_err(|_| super::checks::horizon())
}

fn coarse_fit(a: &[Feature], b: &[Feature]) -> Result<Consensus<PhotoA, PhotoB>, Refusal> {
    for (name, found) in [("reference", a), ("photo", b)] {
        if found.len() < LEAST_FEATURES {
            return Err(Refusal::new(
                Kind::NoDetail,
                format!("the {name} has almost no detail ({} features)", found.len()),
                "take it again in focus and with more light, or click landmarks",
            ));
        }
    }
    let matches = match_features(a, b);
    consensus(a, b, &matches, TOLERANCE_PX, SEED).ok_or_else(|| {
        Refusal::new(
            Kind::NoMatch,
            format!("too little of the two photos agrees ({} matches)", matches.len()),
            "is it the same side of the same board, and not mirrored? If it is, click four landmarks or more",
        )
    })
}

struct Fine {
    transform: AtoB,
    used: usize,
    /// px at working size.
    rms: f64,
}

/// Looks for patches at half size, then at working size, and refits on what is found.
fn refine(a: &Scaled, b: &Scaled, start: AtoB) -> Result<Fine, Refusal> {
    let (half_a, half_b) = rayon::join(|| half(a), || half(b));
    let mut fit = rescale(&start, a, b, &half_a, &half_b)?;
    let hits = patch_hits(&half_a.plane, &half_b.plane, &fit, &REFINE[0]);
    if let Some((better, ..)) = refit(&hits, &fit) {
        fit = better;
    }
    let fit = rescale(&fit, &half_a, &half_b, a, b)?;
    let hits = patch_hits(&a.plane, &b.plane, &fit, &REFINE[1]);
    let (transform, used, rms) = refit(&hits, &fit).ok_or_else(trust::too_few_patches)?;
    Ok(Fine {
        transform,
        used,
        rms,
    })
}

fn half(whole: &Scaled) -> Scaled {
    Scaled {
        plane: whole.plane.halve(),
        factor: whole.factor / 2.0,
    }
}

/// Reweighted least squares on the patches that can be believed.
fn refit(hits: &[PatchHit<PhotoA, PhotoB>], start: &AtoB) -> Option<(AtoB, usize, f64)> {
    let sure: Vec<_> = (hits.iter())
        .filter(|h| h.score >= LEAST_SCORE && h.margin >= LEAST_MARGIN)
        .collect();
    if sure.len() < LEAST_PATCHES {
        return None;
    }
    let from: Vec<_> = sure.iter().map(|h| h.from).collect();
    let to: Vec<_> = sure.iter().map(|h| h.to).collect();
    let misses = |fit: &AtoB| -> Option<Vec<f64>> {
        let miss = |(f, t): (&Point2D<f64, PhotoA>, &Point2D<f64, PhotoB>)| {
            Some((fit.apply(*f)? - *t).length())
        };
        from.iter().zip(&to).map(miss).collect()
    };
    let mut fit = *start;
    for _ in 0..10 {
        let weights: Vec<f64> = (misses(&fit)?.iter())
            .map(|m| 1.0 / (1.0 + (m / CAUCHY_PX).powi(2)))
            .collect();
        fit = fit_homography(&from, &to, Some(&weights)).ok()?;
    }
    let close: Vec<f64> = (misses(&fit)?.into_iter())
        .filter(|m| *m < 3.0 * CAUCHY_PX)
        .collect();
    let squares: f64 = close.iter().map(|m| m * m).sum();
    (close.len() >= LEAST_PATCHES)
        .then(|| (fit, close.len(), (squares / close.len() as f64).sqrt()))
}

/// The larger of what the agreeing patches leave and their median distance, px at working size.
fn expected_error(evidence: &Evidence, rms: f64) -> f64 {
    rms.max(evidence.median_off)
}

#[cfg(test)]
mod tests;
