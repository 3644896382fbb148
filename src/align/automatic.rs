//! Aligning one photo to another of the same side of the same board.

mod bent;
mod board;
mod candidates;
mod differs;
mod refine;
mod view;

use image::GrayImage;
use rayon::prelude::*;
use serde::Serialize;

use super::refusal::{Refusal, RefusalKind as Kind};
use super::trust::{self, Evidence, Trust};
use crate::geometry::{Homography, Lens, PhotoA, PhotoB};
use crate::progress::Progress;
use crate::register::{PatchGrid, repeats};
pub use bent::BentAlignment;
use board::BoardOnly;
pub use board::OnBoard;
use candidates::{Candidate, Look, Sight, candidates};
pub use differs::Differing;
use differs::differs;
use refine::{FULL, Fine, LAST, ROUGH, refine};
use view::{AtoB, Both, Shown, apart, inward, outward, shared};

/// Smaller photos have no room for features.
const LEAST_EDGE: u32 = 64;

/// Looks at two photos that show about as much as each other. Matching costs the product of the
/// numbers of features.
const ALIKE: Look = Look {
    pixels: 0.75e6,
    most: 3000,
};

/// A closer look at both where that was not enough ...
const CLOSER: Look = Look {
    pixels: 2.0e6,
    most: 8000,
};

/// ... a closer look at the photo that shows more, where the other is a close-up ...
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

/// A rival with less than this share of it before it is refined is none.
const NO_RIVAL: f64 = 0.4;

/// A rival that settles nearer to the fit than this share of its shift has come back to it.
const CAME_BACK: f64 = 0.5;

/// A fit that may be off by more than this share of the photo's diagonal helps nobody: 25 px of
/// 12 MP. Of 98 right answers on made cases none promised more than a third of it.
const MOST_UNSURE: f64 = 0.005;

/// Where the lens moves no corner by more than this, px of the last refinement, all places were
/// within its search.
const MOVED_PX: f64 = 2.0;

/// From this share of agreeing detail on, no mirrored fit is looked for: it would have to share
/// more than the photo has.
const SURE_DETAIL: f64 = 0.5;

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
    /// The fit with the lens of the photo in it, where the photos carry one.
    #[serde(skip)]
    pub bent: Option<BentAlignment>,
    /// Regions in which both photos have detail that is not the same: parts that were added, or
    /// another revision, on which the reference's map does not hold there. Largest first.
    pub differs: Vec<Differing>,
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
    let known = Known {
        photo: reference,
        lens: None,
        on_board: None,
    };
    automatic_with(&known, photo, progress)
}

/// A photo, and what is known of how it lies on its board.
#[derive(Clone, Copy)]
pub struct Known<'a> {
    /// Upright, at full size.
    pub photo: &'a GrayImage,
    /// Its lens: what is bent in another photo is then told apart from what is bent in this one
    /// ([`AutoAlignment::bent`]).
    pub lens: Option<&'a Lens>,
    /// Where it shows the board: what lies beside it is then left out.
    pub on_board: Option<OnBoard<'a>>,
}

/// As [`automatic`], with what is known of the reference.
///
/// # Errors
/// As [`automatic`].
pub fn automatic_with(
    known: &Known,
    photo: &GrayImage,
    progress: &Progress,
) -> Result<AutoAlignment, Refusal> {
    progress.expect(5);
    let step = || progress.tick().map_err(|_| stopped());
    let only = (known.on_board).and_then(|on_board| BoardOnly::of(known.photo, on_board));
    let reference = (only.as_ref()).map_or_else(|| Shown::whole(known.photo), BoardOnly::shown);
    let lens = known.lens;
    let shown = Shown::whole(photo);
    for (name, image) in [("reference", reference), ("photo", shown)] {
        let (width, height) = image.size();
        if width.min(height) < LEAST_EDGE {
            return Err(Refusal::new(
                Kind::NoDetail,
                format!("the {name} is only {width} x {height} px"),
                "use the photo at full size",
            ));
        }
    }
    let looked = |look_a, look_b| {
        let (a, b) = rayon::join(
            || Sight::of("reference", reference, look_a),
            || Sight::of("photo", shown, look_b),
        );
        Ok::<_, Refusal>((a?, b?))
    };
    let (sight_a, sight_b) = looked(ALIKE, ALIKE)?;
    step()?;
    let refusal = match attempt(reference, lens, shown, &sight_a, &sight_b) {
        Ok(found) => return Ok(found),
        Err(refusal) if refusal.kind == Kind::OnePitch => return Err(refusal),
        Err(refusal) => refusal,
    };
    step()?;
    for (look_a, look_b) in [(CLOSER, CLOSER), (WIDE, CLOSE), (CLOSE, WIDE)] {
        let (close_a, close_b) = looked(look_a, look_b)?;
        match attempt(reference, lens, shown, &close_a, &close_b) {
            Ok(found) => return Ok(found),
            Err(refusal) if refusal.kind == Kind::OnePitch => return Err(refusal),
            Err(_) => step()?,
        }
    }
    let turned = image::imageops::flip_horizontal(photo);
    let turned = Shown::whole(&turned);
    if attempt(reference, lens, turned, &sight_a, &sight_b.mirrored()).is_ok() {
        return Err(turned_over());
    }
    Err(refusal)
}

/// Screens at the size of the sights what their features propose, refines the best on the photos
/// and checks it.
fn attempt(
    reference: Shown,
    lens: Option<&Lens>,
    photo: Shown,
    a: &Sight,
    b: &Sight,
) -> Result<AutoAlignment, Refusal> {
    let (proposed, matches) = candidates(a, b);
    let best = screened(a, b, &proposed, 0.0).ok_or_else(|| no_match(matches))?;
    let (best, rival) = with_rival(a, b, best);
    let start = outward(&best.fine.fit, &a.view, &b.view).map_err(|_| no_match(matches))?;
    let fine = refine(reference, photo, &start, FULL).ok_or_else(|| no_match(matches))?;
    let both = Both::under(reference, photo, &fine.fit, trust::CHECK.pixels)
        .ok_or_else(|| no_match(matches))?;
    let evidence =
        found_in(&both, &fine.fit, &trust::CHECK.grid).ok_or_else(|| no_match(matches))?;
    if shared(reference, photo, &fine.fit) < LEAST_SHARED {
        return Err(no_match(matches));
    }
    let trust = trust::judge(&evidence)?;
    if fine.two_levels {
        return Err(Refusal::new(
            Kind::NotTrusted,
            "the photos fit on two levels, the board and the tops of tall parts, and which is the board cannot be told",
            "take it with more of the bare board in it, or click four landmarks or more on the board itself",
        ));
    }
    if rival > RIVAL_SHARE * best.evidence.detail {
        return Err(Refusal::new(
            Kind::OnePitch,
            "the photo fits about as well one repetition along a row further on",
            "take it again so that an end of the row or another part shows, or click four landmarks or more",
        ));
    }
    let sure = trust.detail >= SURE_DETAIL;
    if !sure && fits_mirrored_as_well(a, b, best.evidence.detail) {
        return Err(turned_over());
    }
    let straight = AutoAlignment {
        homography: fine.fit,
        inliers: best.matches + fine.agreeing,
        rms_px: fine.rms,
        expected_error_px: fine.rms.hypot(fine.apart),
        scale: evidence.scale,
        bent: None,
        differs: Vec::new(),
        trust,
    };
    let found = through_lens(reference, lens, photo, &fine, &straight).unwrap_or(straight);
    let off = (found.bent).map_or(found.expected_error_px, |bent| bent.expected_error_px);
    let (width, height) = photo.whole_size();
    if off > MOST_UNSURE * f64::from(width).hypot(f64::from(height)) {
        return Err(Refusal::new(
            Kind::NotTrusted,
            format!("the best fit may be off by {off:.0} px"),
            "take the photo straighter or with more of the board in it, or click four landmarks or more",
        ));
    }
    Ok(AutoAlignment {
        differs: differs(&both, &found.homography),
        ..found
    })
}

/// The same through the lens of the photo, where the places found carry it. The homography is then
/// the one that comes nearest to that.
fn through_lens(
    reference: Shown,
    lens: Option<&Lens>,
    photo: Shown,
    fine: &Fine,
    found: &AutoAlignment,
) -> Option<AutoAlignment> {
    let size = photo.whole_size().into();
    let first = bent::bent(fine, size, lens)?;
    let (straight, _) = first.nearest(lens)?;
    // The corners may have been out of reach of the straight fit.
    let corners = [0.0, 1.0];
    let far = apart(&straight, &fine.fit, reference.whole_size(), corners) > MOVED_PX * fine.px;
    let again = far
        .then(|| refine(reference, photo, &straight, LAST))
        .flatten();
    let bent = (again.and_then(|fine| bent::bent(&fine, size, lens))).unwrap_or(first);
    let (homography, left) = bent.nearest(lens)?;
    let through = bent.bent;
    Some(AutoAlignment {
        homography,
        rms_px: through.rms_px.hypot(left),
        expected_error_px: through.expected_error_px.hypot(left),
        bent: Some(through),
        ..found.clone()
    })
}

/// Whether the mirrored photo fits no worse. Rows of joints are nearly their own mirror image, so
/// that a photo that was turned over can fit most of them.
fn fits_mirrored_as_well(a: &Sight, b: &Sight, detail: f64) -> bool {
    let b = b.mirrored();
    let (proposed, _) = candidates(a, &b);
    screened(a, &b, &proposed, NO_RIVAL * detail)
        .is_some_and(|other| other.evidence.detail >= detail)
}

fn turned_over() -> Refusal {
    Refusal::new(
        Kind::Mirrored,
        "the photo fits only, or better, when it is mirrored: it was turned over, or shows this side through the board",
        "use the photo as the camera took it; for the other side of the board take a reference of that side",
    )
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

/// A fit between two sights, refined roughly, and what a rough check found.
#[derive(Debug, Clone)]
struct Checked {
    fine: Fine,
    matches: usize,
    evidence: Evidence,
}

/// The candidate under which most of the detail agrees. Only those that come near the best at a
/// glance, and have this share of detail there, are refined.
fn screened(a: &Sight, b: &Sight, proposed: &[Candidate], least: f64) -> Option<Checked> {
    // What shows too little of the other photo may fit best of all: a corner of the table.
    let glances: Vec<(&Candidate, f64)> = (proposed.par_iter())
        .filter(|candidate| shared(a.shown(), b.shown(), &candidate.fit) >= LEAST_SHARED)
        .filter_map(|candidate| Some((candidate, glance(a, b, &candidate.fit)?.detail)))
        .collect();
    let most = (glances.iter())
        .map(|(_, detail)| *detail)
        .fold(0.0, f64::max);
    let least = least.max(NO_RIVAL * most);
    let hopeful: Vec<&Candidate> = (glances.iter())
        .filter(|(_, detail)| *detail >= least)
        .map(|(candidate, _)| *candidate)
        .collect();
    let checked: Vec<_> = (hopeful.par_iter())
        .filter_map(|candidate| check(a, b, candidate))
        .collect();
    checked.into_iter().reduce(better)
}

fn glance(a: &Sight, b: &Sight, fit: &AtoB) -> Option<Evidence> {
    examined(a.shown(), b.shown(), fit, &trust::GLANCE)
}

/// The one with more detail; the first where they are equal.
fn better(one: Checked, other: Checked) -> Checked {
    if other.evidence.detail > one.evidence.detail {
        other
    } else {
        one
    }
}

/// Tries the fit one repetition of the reference further on, each way: the better, and the share
/// of detail that agrees with the next best.
fn with_rival(a: &Sight, b: &Sight, best: Checked) -> (Checked, f64) {
    let view = &a.view;
    let edge = view.plane.width().max(view.plane.height()) as f64;
    let shifts = repeats(&a.features, (LONGEST_REPEAT * edge) as f32, MOST_REPEATS);
    let steps: Vec<[f64; 2]> = (shifts.iter())
        .flat_map(|[x, y]| [[*x, *y], [-x, -y]])
        .collect();
    let middle = best.evidence.middle;
    // A repetition further on, the photos show all but the same of each other.
    let Some(both) = Both::under(a.shown(), b.shown(), &best.fine.fit, trust::GLANCE.pixels) else {
        return (best, 0.0);
    };
    let rivals: Vec<Checked> = (steps.par_iter())
        .filter_map(|[x, y]| {
            let shift: Homography<PhotoA, PhotoA> =
                Homography::from_rows([[1.0, 0.0, *x], [0.0, 1.0, *y], [0.0, 0.0, 1.0]]).ok()?;
            let fit = shift.then(&best.fine.fit).ok()?;
            let matches = best.matches;
            if found_in(&both, &fit, &trust::GLANCE.grid)?.detail < NO_RIVAL * best.evidence.detail
            {
                return None;
            }
            let rival = check(a, b, &Candidate { fit, matches })?;
            let (to, from) = (rival.fine.fit.apply(middle)?, best.fine.fit.apply(middle)?);
            let apart = (to - from).length();
            (apart > CAME_BACK * best.evidence.scale * x.hypot(*y)).then_some(rival)
        })
        .collect();
    let Some(rival) = rivals.into_iter().reduce(better) else {
        return (best, 0.0);
    };
    if rival.evidence.detail > best.evidence.detail {
        let worse = best.evidence.detail;
        (rival, worse)
    } else {
        (best, rival.evidence.detail)
    }
}

fn check(a: &Sight, b: &Sight, candidate: &Candidate) -> Option<Checked> {
    let (a, b) = (a.shown(), b.shown());
    let fine = refine(a, b, &candidate.fit, ROUGH)?;
    if shared(a, b, &fine.fit) < LEAST_SHARED {
        return None;
    }
    let evidence = examined(a, b, &fine.fit, &trust::RANKING)?;
    Some(Checked {
        fine,
        matches: candidate.matches,
        evidence,
    })
}

fn examined(a: Shown, b: Shown, fit: &AtoB, how: &trust::Check) -> Option<Evidence> {
    found_in(&Both::under(a, b, fit, how.pixels)?, fit, &how.grid)
}

/// What is found under this fit in what both show.
fn found_in(both: &Both, fit: &AtoB, grid: &PatchGrid) -> Option<Evidence> {
    let inner = inward(fit, &both.a, &both.b).ok()?;
    let mut evidence = trust::examine(&both.a.plane, &both.b.plane, &inner, grid);
    evidence.middle = both.a.outward(evidence.middle);
    evidence.scale = fit.scale_at(evidence.middle)?;
    Some(evidence)
}

#[cfg(test)]
mod tests;
