//! Aligning one photo to another of the same side of the same board.

mod candidates;
mod refine;
mod view;

use image::GrayImage;
use serde::Serialize;

use super::refusal::{Refusal, RefusalKind as Kind};
use super::trust::{self, Evidence, Trust};
use crate::geometry::{Homography, HomographyError, PhotoA, PhotoB};
use crate::progress::Progress;
use crate::register::{mirrored, repeats};
use candidates::{Candidate, Look, Sight, candidates};
use refine::{FULL, Fine, ROUGH, refine};
use view::{AtoB, inward, overlap, shared};

/// Smaller photos have no room for features.
const LEAST_EDGE: u32 = 64;

/// Looks at two photos that show about as much as each other. Matching costs the product of the
/// numbers of features.
const ALIKE: Look = Look {
    pixels: 1.0e6,
    most: 4000,
};

/// A closer look at the photo that shows more, where the other is a close-up ...
const WIDE: Look = Look {
    pixels: 6.0e6,
    most: 14_000,
};

/// ... and a look at the close-up.
const CLOSE: Look = Look {
    pixels: 0.5e6,
    most: 2000,
};

/// Shifts by which the reference repeats itself that are tried both ways.
const MOST_REPEATS: usize = 3;

/// Longest shift, as a share of the longer edge of the reference's view: a board's rows have
/// pitches far below it.
const LONGEST_REPEAT: f64 = 0.12;

/// A rival a pitch off must have no more than this share of the agreeing patches.
const RIVAL_SHARE: f64 = 0.7;

/// A rival that settles nearer to the fit than this share of its shift has come back to it.
const CAME_BACK: f64 = 0.5;

/// Least share of one of the photos that the other must show: two photos of a board taken on one
/// table also fit where a corner of the table is the same.
const LEAST_SHARED: f64 = 0.4;

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
    /// Pixels of the photo for one of the reference, in the middle of what both show.
    pub scale: f64,
}

/// Finds the transform from `reference` to `photo`, two upright grey photos of one side of one
/// model's board: any turn, scale 0.5 to 2, or a close-up up to a scale of 5; other unit, other light.
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
    progress.expect(4);
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
    let looked = |look_a, look_b| {
        let (a, b) = rayon::join(
            || Sight::of("reference", reference, look_a),
            || Sight::of("photo", photo, look_b),
        );
        Ok::<_, Refusal>((a?, b?))
    };
    let (sight_a, sight_b) = looked(ALIKE, ALIKE)?;
    step()?;
    let refusal = match attempt(reference, photo, &sight_a, &sight_b) {
        Ok(found) => return Ok(found),
        Err(refusal) if refusal.kind == Kind::OnePitch => return Err(refusal),
        Err(refusal) => refusal,
    };
    step()?;
    for (look_a, look_b) in [(WIDE, CLOSE), (CLOSE, WIDE)] {
        let (close_a, close_b) = looked(look_a, look_b)?;
        match attempt(reference, photo, &close_a, &close_b) {
            Ok(found) => return Ok(found),
            Err(refusal) if refusal.kind == Kind::OnePitch => return Err(refusal),
            Err(_) => step()?,
        }
    }
    let turned = image::imageops::flip_horizontal(photo);
    let width = sight_b.view.plane.width() as u32;
    let sight_b = Sight {
        features: mirrored(&sight_b.features, width),
        view: sight_b.view,
    };
    if attempt(reference, &turned, &sight_a, &sight_b).is_ok() {
        return Err(Refusal::new(
            Kind::Mirrored,
            "the photo fits only when it is mirrored: it was turned over, or shows this side through the board",
            "use the photo as the camera took it; for the other side of the board take a reference of that side",
        ));
    }
    Err(refusal)
}

/// Refines and checks what the features of two sights propose.
fn attempt(
    reference: &GrayImage,
    photo: &GrayImage,
    a: &Sight,
    b: &Sight,
) -> Result<AutoAlignment, Refusal> {
    let (proposed, matches) = candidates(&a.view, &a.features, &b.view, &b.features);
    let best = best_of(reference, photo, &proposed).ok_or_else(|| no_match(matches))?;
    let best = settle_pitch(reference, photo, a, best)?;
    let trust = trust::judge(&best.evidence)?;
    let scale = best.evidence.scale;
    Ok(AutoAlignment {
        homography: best.fine.fit,
        inliers: best.matches + best.fine.agreeing,
        rms_px: best.fine.rms,
        expected_error_px: best.fine.rms.hypot(best.fine.apart),
        scale,
        trust,
    })
}

fn stopped() -> Refusal {
    Refusal::new(Kind::Cancelled, "stopped on request", "start it again")
}

fn no_match(matches: usize) -> Refusal {
    Refusal::new(
        Kind::NoMatch,
        format!("too little of the two photos agrees ({matches} matches)"),
        "is it the same side of the same board, and not mirrored? If it is, click four landmarks or more",
    )
}

/// A refined fit and what the check found.
#[derive(Debug, Clone)]
struct Checked {
    fine: Fine,
    matches: usize,
    evidence: Evidence,
}

/// The refined candidate under which most of the detail agrees.
fn best_of(a: &GrayImage, b: &GrayImage, proposed: &[Candidate]) -> Option<Checked> {
    let mut best: Option<Checked> = None;
    for candidate in proposed {
        let Some(checked) = check(a, b, candidate, ROUGH) else {
            continue;
        };
        if best
            .as_ref()
            .is_none_or(|b| checked.evidence.detail > b.evidence.detail)
        {
            best = Some(checked);
        }
    }
    let best = best?;
    let candidate = Candidate {
        fit: best.fine.fit,
        matches: best.matches,
    };
    check(a, b, &candidate, FULL).or(Some(best))
}

/// Tries the fit one repetition of the reference further on, each way: takes the better, and
/// refuses where both hold about as well.
fn settle_pitch(
    a: &GrayImage,
    b: &GrayImage,
    sight: &Sight,
    best: Checked,
) -> Result<Checked, Refusal> {
    let view = &sight.view;
    let edge = view.plane.width().max(view.plane.height()) as f64;
    let shifts = repeats(
        &sight.features,
        (LONGEST_REPEAT * edge) as f32,
        MOST_REPEATS,
    );
    let middle = best.evidence.middle;
    let mut rivals: Vec<Checked> = Vec::new();
    for [x, y] in shifts.iter().flat_map(|[x, y]| [[*x, *y], [-x, -y]]) {
        let (x, y) = (x / view.scale(), y / view.scale());
        let moved = || -> Result<AtoB, HomographyError> {
            let shift: Homography<PhotoA, PhotoA> =
                Homography::from_rows([[1.0, 0.0, x], [0.0, 1.0, y], [0.0, 0.0, 1.0]])?;
            shift.then(&best.fine.fit)
        };
        let Some(rival) =
            (moved().ok()).and_then(|fit| check(a, b, &Candidate { fit, matches: 0 }, ROUGH))
        else {
            continue;
        };
        let apart = (rival
            .fine
            .fit
            .apply(middle)
            .zip(best.fine.fit.apply(middle)))
        .map_or(0.0, |(p, q)| (p - q).length());
        if apart > CAME_BACK * best.evidence.scale * x.hypot(y) {
            rivals.push(rival);
        }
    }
    let count = |c: &Checked| c.evidence.detail;
    let Some(rival) = rivals
        .into_iter()
        .max_by(|p, q| count(p).total_cmp(&count(q)))
    else {
        return Ok(best);
    };
    let (better, worse) = if count(&rival) > count(&best) {
        let candidate = Candidate {
            fit: rival.fine.fit,
            matches: best.matches,
        };
        (check(a, b, &candidate, FULL).unwrap_or(rival), best)
    } else {
        (best, rival)
    };
    if count(&worse) > RIVAL_SHARE * count(&better) && trust::judge(&better.evidence).is_ok() {
        return Err(Refusal::new(
            Kind::OnePitch,
            "the photo fits about as well one repetition along a row further on",
            "take it again so that an end of the row or another part shows, or click four landmarks or more",
        ));
    }
    Ok(better)
}

fn check(a: &GrayImage, b: &GrayImage, candidate: &Candidate, rounds: usize) -> Option<Checked> {
    if shared(a, b, &candidate.fit) < LEAST_SHARED {
        return None;
    }
    let fine = refine(a, b, &candidate.fit, rounds)?;
    if shared(a, b, &fine.fit) < LEAST_SHARED {
        return None;
    }
    let evidence = examined(a, b, &fine.fit)?;
    Some(Checked {
        fine,
        matches: candidate.matches,
        evidence,
    })
}

fn examined(a: &GrayImage, b: &GrayImage, fit: &AtoB) -> Option<Evidence> {
    let (a, b) = overlap(a, b, fit, trust::CHECK_PIXELS)?.ok()?;
    let inner = inward(fit, &a, &b).ok()?;
    let mut evidence = trust::examine(&a.plane, &b.plane, &inner);
    evidence.middle = a.outward(evidence.middle);
    evidence.scale = fit.scale_at(evidence.middle)?;
    Some(evidence)
}

#[cfg(test)]
mod tests;
