//! The crack hint on a loose photo with listed joints, or on an aligned photo of a job.

use std::path::Path;

use image::RgbImage;

use crate::board::{BoardMap, Side};
use crate::geometry::Projection;
use crate::joint::{HintReport, JointHint, JointSpot, hint_photo};
use crate::photo;
use crate::progress::Progress;
use crate::record::{Evidence, PhotoId};

use super::error::WorkError;
use super::plan::{laid_twice, map_of, side_word};
use super::session::Session;

/// The hint on a photo that belongs to no job.
///
/// # Errors
/// Where the photo cannot be opened, or the work was stopped.
pub fn hint_loose(
    photo: &Path,
    spots: &[JointSpot],
    progress: &Progress,
) -> Result<HintReport, WorkError> {
    let opened = photo::open(photo)?;
    Ok(hint_photo(&opened.image, spots, progress)?)
}

/// The hint on every joint of the map that an aligned photo of the job shows. Ids are the
/// joints' labels, for example `J4.3`.
///
/// # Errors
/// Where the photo is not aligned, cannot be opened, or the work was stopped.
pub fn hint_in_job(
    session: &Session,
    photo: &PhotoId,
    progress: &Progress,
) -> Result<HintReport, WorkError> {
    let spots = spots_of(session, photo)?;
    let opened = session.open_photo(photo)?;
    Ok(hint_photo(&opened, &spots, progress)?)
}

/// The joints of the map that an aligned photo shows, by label.
///
/// # Errors
/// Where the photo is not aligned, or shows no joint.
pub fn spots_of(session: &Session, photo: &PhotoId) -> Result<Vec<JointSpot>, WorkError> {
    let state = session
        .state()
        .photos
        .get(photo)
        .ok_or_else(|| WorkError::bad("no such photo in this job", "add it first"))?;
    let Some(alignment) = state.alignment() else {
        return Err(WorkError::refused(
            format!(
                "{} is not aligned, so it is not known where its joints are",
                state.facts.name
            ),
            "align it with landmarks first (benchglass align), or give --joints with a loose photo",
        ));
    };
    if state.contradicted() {
        return Err(laid_twice(&state.facts.name));
    }
    let map = map_of(session.maps(), &alignment.view.board)?;
    let spots = spots_on_photo(
        map,
        alignment.view.side,
        &alignment.projection,
        state.facts.size,
    );
    if spots.is_empty() {
        return Err(WorkError::refused(
            format!(
                "no joint of {} lies on {} as it is aligned, seen from the {} side",
                map.board,
                state.facts.name,
                side_word(alignment.view.side)
            ),
            "look at the alignment: is it the right board and side?",
        ));
    }
    Ok(spots)
}

/// Projects the joints of one side into a photo of the given size.
#[must_use]
pub fn spots_on_photo(
    map: &BoardMap,
    side: Side,
    projection: &Projection,
    size: [u32; 2],
) -> Vec<JointSpot> {
    let [width, height] = size.map(f64::from);
    crate::board::round_order(map, side)
        .into_iter()
        .filter_map(|joint| {
            let centre = projection.apply(joint.centre())?;
            let scale = projection.scale_at(joint.centre())?;
            let inside = centre.x >= 0.0
                && centre.y >= 0.0
                && centre.x <= width - 1.0
                && centre.y <= height - 1.0;
            inside.then(|| JointSpot {
                id: joint.label(),
                centre,
                land_radius_px: joint.pin.land_radius_mm() * scale,
                pin_radius_px: None,
                px_per_mm: Some(scale),
                tilt_deg: projection.tilt_deg_at(joint.centre()),
            })
        })
        .collect()
}

/// What the record keeps of a hint.
#[must_use]
pub fn evidence(report: &HintReport, hint: &JointHint) -> Evidence {
    let read = report.joints.iter().filter(|j| j.rank.is_some()).count();
    let small = |count: usize| u32::try_from(count).unwrap_or(u32::MAX);
    Evidence {
        band: hint.band.words().to_owned(),
        rank: hint.rank.map(small),
        of: Some(small(read)),
        arc_deg: hint.arc_deg,
        depth_sigma: hint.depth_sigma,
        reason: hint.reason.clone(),
        arc: hint.arc.clone(),
    }
}

/// The hint on an upright photo that is already in memory.
///
/// # Errors
/// Where the work was stopped.
pub fn hint_image(
    image: &RgbImage,
    spots: &[JointSpot],
    progress: &Progress,
) -> Result<HintReport, WorkError> {
    Ok(hint_photo(image, spots, progress)?)
}
