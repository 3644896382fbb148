//! Joints found on a loose photo, the hint on what was found, and how a finding compares with a list.

use std::path::Path;

use image::RgbImage;
use serde::Serialize;

use crate::joint::{
    Found, HintReport, JointError, JointSpot, LEAST_EXAMPLES, find_joints, find_joints_like,
    hint_photo, read_joints_csv,
};
use crate::photo;
use crate::progress::Progress;
use crate::stats::{Interval, wilson_95};

use super::error::WorkError;
use super::evaluate::read_joint_list;

/// Joints of a photo that belongs to no job.
///
/// # Errors
/// Where the photo cannot be opened, or the work was stopped.
pub fn find_loose(photo: &Path, progress: &Progress) -> Result<Found, WorkError> {
    let opened = photo::open(photo)?;
    Ok(find_joints(&opened.image, progress)?)
}

/// Joints of a photo that belongs to no job, like those of the list `like`; the places of `unlike`
/// are none.
///
/// # Errors
/// Where the photo or a list cannot be read, `like` holds too few joints or one that is not on the
/// photo, or the work was stopped.
pub fn find_loose_like(
    photo: &Path,
    like: &Path,
    unlike: Option<&Path>,
    progress: &Progress,
) -> Result<Found, WorkError> {
    let read = |list: &Path| -> Result<Vec<JointSpot>, WorkError> {
        let name = list.display().to_string();
        Ok(read_joints_csv(&read_joint_list(list)?, &name)?)
    };
    let (joints, others) = (read(like)?, unlike.map(read).transpose()?);
    let opened = photo::open(photo)?;
    let others = others.unwrap_or_default();
    find_joints_like(&opened.image, &joints, &others, progress).map_err(|error| {
        let list = match (&error, unlike) {
            (JointError::BadExample { like: false, .. }, Some(unlike)) => unlike,
            (JointError::BadExample { .. } | JointError::FewExamples { .. }, _) => like,
            _ => return error.into(),
        };
        WorkError::BadInput {
            reason: format!("{}: {error}", list.display()),
            remedy: format!(
                "list places of this very photo: with --like {LEAST_EXAMPLES} joints or more, about eight, some of each kind that it shows"
            ),
        }
    })
}

/// The hint on the joints that were found by themselves, with what was found.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FoundHint {
    /// The hint, as for a list.
    #[serde(flatten)]
    pub report: HintReport,
    /// Where its joints are.
    pub found: Found,
}

/// Finds the joints of a photo and ranks them.
///
/// # Errors
/// Where the photo cannot be opened, no joint was found, or the work was stopped.
pub fn hint_found(photo: &Path, progress: &Progress) -> Result<FoundHint, WorkError> {
    let opened = photo::open(photo)?;
    let found = find_joints(&opened.image, progress)?;
    if found.joints.is_empty() {
        return Err(WorkError::refused(
            format!("no solder joint was found on {}", photo.display()),
            "take the solder side from nearer, straight down, or list the joints with --joints",
        ));
    }
    let report = hint_photo(&opened.image, &found.spots(), progress)?;
    Ok(FoundHint { report, found })
}

/// The joints of a photo, found by themselves and ranked.
#[derive(Debug)]
pub struct RankedJoints {
    /// The one to look at first before the others; those that the photo cannot carry a hint of
    /// come last. Without a scale: it is told by rows alone.
    pub spots: Vec<JointSpot>,
    /// How many examples they were found by; none where the photo was searched without.
    pub examples: usize,
    /// Whether hardly any of the examples was found again.
    pub doubtful: bool,
    /// As [`Found::caution`].
    pub caution: Option<String>,
}

/// Finds the joints of a photo and ranks them: those like `like` and not like `unlike`, or, without
/// examples, what looks like a joint by itself.
///
/// # Errors
/// Where the work was stopped, there are fewer examples than [`LEAST_EXAMPLES`], or one does not lie
/// on the photo.
pub fn ranked_joints(
    image: &RgbImage,
    like: &[JointSpot],
    unlike: &[JointSpot],
    progress: &Progress,
) -> Result<RankedJoints, WorkError> {
    let examples = like.len();
    let found = if like.is_empty() {
        find_joints(image, progress)?
    } else {
        find_joints_like(image, like, unlike, progress)?
    };
    // Places of a round carry no scale, and are read without: so they are ranked without.
    let unscaled = |spot| JointSpot {
        px_per_mm: None,
        ..spot
    };
    let spots: Vec<JointSpot> = found.spots().into_iter().map(unscaled).collect();
    let report = hint_photo(image, &spots, progress)?;
    let rank = |at: usize| report.joints.get(at).and_then(|joint| joint.rank);
    let mut order: Vec<usize> = (0..spots.len()).collect();
    order.sort_by_key(|at| (rank(*at).is_none(), rank(*at)));
    Ok(RankedJoints {
        spots: order.into_iter().map(|at| spots[at].clone()).collect(),
        examples,
        doubtful: found.is_doubtful(examples),
        caution: found.caution,
    })
}

/// A list of found joints as the hint reads it: `id,x_px,y_px,land_radius_px`.
#[must_use]
pub fn found_csv(found: &Found) -> String {
    let mut text = String::from("id,x_px,y_px,land_radius_px\r\n");
    for joint in &found.joints {
        text.push_str(&format!(
            "{},{},{},{}\r\n",
            joint.id, joint.x_px, joint.y_px, joint.land_radius_px
        ));
    }
    text
}

/// A found joint is the listed one when its middle is within this share of the land radius ...
pub const SAME_PLACE: f64 = 0.5;
/// ... and its radius within this factor.
pub const SAME_RADIUS: f64 = 1.3;

/// How a finding compares with a list of joints that somebody made by hand.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FindScore {
    /// Joints of the list.
    pub listed: usize,
    /// Of these, how many were found.
    pub listed_found: usize,
    /// Share of the listed joints that were found.
    pub recall: Option<f64>,
    /// Wilson's 95 % interval of it.
    pub recall_95: Option<[f64; 2]>,
    /// Joints found.
    pub found: usize,
    /// Of these, how many are on the list. The others are not all wrong: lists are rarely complete.
    pub found_listed: usize,
    /// Share of the found ones that are on the list.
    pub on_list: Option<f64>,
    /// Wilson's 95 % interval of it.
    pub on_list_95: Option<[f64; 2]>,
    /// Names of listed joints that were missed.
    pub missed: Vec<String>,
    /// Names of found joints that are not on the list.
    pub unlisted: Vec<String>,
}

/// Compares a finding with a list.
#[must_use]
pub fn score_finding(found: &Found, listed: &[JointSpot]) -> FindScore {
    let same = |spot: &JointSpot, joint: &crate::joint::FoundJoint| {
        let off = (spot.centre.x - joint.x_px).hypot(spot.centre.y - joint.y_px);
        let ratio = joint.land_radius_px / spot.land_radius_px;
        off <= SAME_PLACE * spot.land_radius_px
            && (SAME_RADIUS.recip()..=SAME_RADIUS).contains(&ratio)
    };
    let missed: Vec<String> = listed
        .iter()
        .filter(|spot| !found.joints.iter().any(|joint| same(spot, joint)))
        .map(|spot| spot.id.clone())
        .collect();
    let unlisted: Vec<String> = found
        .joints
        .iter()
        .filter(|joint| !listed.iter().any(|spot| same(spot, joint)))
        .map(|joint| joint.id.clone())
        .collect();
    let (hits, kept) = (
        listed.len() - missed.len(),
        found.joints.len() - unlisted.len(),
    );
    let share = |hits: usize, n: usize| (n > 0).then(|| hits as f64 / n as f64);
    let interval = |hits: usize, n: usize| {
        wilson_95(hits as u64, n as u64).map(|Interval { low, high }| [low, high])
    };
    FindScore {
        listed: listed.len(),
        listed_found: hits,
        recall: share(hits, listed.len()),
        recall_95: interval(hits, listed.len()),
        found: found.joints.len(),
        found_listed: kept,
        on_list: share(kept, found.joints.len()),
        on_list_95: interval(kept, found.joints.len()),
        missed,
        unlisted,
    }
}
