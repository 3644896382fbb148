//! From an action to the one event that records it. Pure: reads the state, writes nothing.

mod judging;
mod measuring;

use crate::align::from_landmarks;
use crate::board::{BoardMap, Landmark, Part, Place, Side, resolve};
use crate::geometry::{BoardMm, Homography, PhotoPoint, PhotoPx};
use crate::record::{
    Alignment, Event, JointKey, Matched, PhotoState, PlacedLandmark, ReadingMode, State, Target,
    View,
};

use super::aligning::FoundAlignment;
use super::error::WorkError;

pub(super) use judging::judgement;
pub(super) use measuring::{check, demand, measurement, note, reseat};

/// What an action will record, and what to tell the person about it.
#[derive(Debug)]
pub(super) struct Planned {
    pub event: Event,
    pub cautions: Vec<String>,
}

impl From<Event> for Planned {
    fn from(event: Event) -> Self {
        Self {
            event,
            cautions: Vec::new(),
        }
    }
}

/// The map of a board, or which boards there are.
pub(super) fn map_of<'a>(maps: &'a [BoardMap], board: &str) -> Result<&'a BoardMap, WorkError> {
    maps.iter().find(|map| map.board == board).ok_or_else(|| {
        let known: Vec<&str> = maps.iter().map(|map| map.board.as_str()).collect();
        if known.is_empty() {
            WorkError::bad(
                format!("this job has no board map, so there is no board `{board}`"),
                "adopt one: benchglass map adopt JOB MAP.json",
            )
        } else {
            WorkError::bad(
                format!("this job has no board `{board}`"),
                format!("use one of: {}", known.join(", ")),
            )
        }
    })
}

fn photo_of<'a>(state: &'a State, photo: &str) -> Result<&'a PhotoState, WorkError> {
    state.photos.get(photo).ok_or_else(|| {
        WorkError::bad(
            format!("no photo {photo} in this job"),
            "add it first: benchglass add JOB PHOTO",
        )
    })
}

/// Two benches laid a photo on the board in two ways at once: nobody can tell what it shows where.
pub(super) fn laid_twice(name: &str) -> WorkError {
    WorkError::refused(
        format!("{name} lies on the map in two ways at once, as two benches laid it"),
        "align it again: that settles which holds",
    )
}

/// Fits the landmarks and records the fit.
pub(super) fn alignment(
    state: &State,
    maps: &[BoardMap],
    photo: &str,
    view: View,
    placed: &[(String, PhotoPoint)],
) -> Result<Planned, WorkError> {
    let facts = &photo_of(state, photo)?.facts;
    let map = with_pins(map_of(maps, &view.board)?, view.side, placed);
    let fit = from_landmarks(&map, view.side, placed, (facts.size[0], facts.size[1]))?;
    let landmarks = fit
        .per_landmark
        .iter()
        .filter_map(|residual| {
            let (_, at) = placed
                .iter()
                .find(|(name, _)| name.trim().eq_ignore_ascii_case(residual.name.trim()))?;
            Some(PlacedLandmark {
                name: residual.name.clone(),
                at_px: [at.x, at.y],
                left_out_px: residual.left_out_px,
            })
        })
        .collect();
    let mut cautions = Vec::new();
    if let Some(click) = &fit.suspect_click {
        cautions.push(click.words.clone());
    }
    cautions.extend(fit.cautions.iter().cloned());
    Ok(Planned {
        event: Event::Aligned(Alignment {
            photo: photo.to_owned(),
            view,
            projection: fit.projection,
            method: fit.method.to_string(),
            landmarks,
            rms_px: Some(fit.rms_px),
            px_per_mm: fit.px_per_mm.centre,
            automatic: None,
            replaces: state.alignments_of(photo),
        }),
        cautions,
    })
}

/// How an alignment that came of making the map is called in the record.
const MADE_ON: &str = "map made on this photo";

/// Records the frame of a map that was made on a photo as that photo's alignment.
pub(super) fn laid_under(
    state: &State,
    maps: &[BoardMap],
    photo: &str,
    view: View,
    photo_from_board: Homography<BoardMm, PhotoPx>,
) -> Result<Planned, WorkError> {
    photo_of(state, photo)?;
    let middle = map_of(maps, &view.board)?.bounds().center();
    let sign = match view.side {
        Side::Component => -1.0,
        Side::Solder => 1.0,
    };
    let fits = photo_from_board
        .determinant_at(middle)
        .is_some_and(|determinant| determinant * sign > 0.0);
    let (true, Some(px_per_mm)) = (fits, photo_from_board.scale_at(middle)) else {
        return Err(WorkError::bad(
            format!("this does not show the {} side", side_word(view.side)),
            "say the other side, or place landmarks on the photo",
        ));
    };
    Ok(Event::Aligned(Alignment {
        photo: photo.to_owned(),
        view,
        projection: photo_from_board.into(),
        method: MADE_ON.to_owned(),
        landmarks: Vec::new(),
        rms_px: None,
        px_per_mm,
        automatic: None,
        replaces: state.alignments_of(photo),
    })
    .into())
}

/// Records an alignment that was found by matching another photo.
pub(super) fn matched(
    state: &State,
    maps: &[BoardMap],
    found: FoundAlignment,
) -> Result<Planned, WorkError> {
    photo_of(state, &found.photo)?;
    let map = map_of(maps, &found.view.board)?;
    let middle = crate::align::middle_of(map);
    let px_per_mm = found.projection.scale_at(middle).ok_or_else(|| {
        WorkError::refused(
            "the alignment found puts the middle of the board behind the horizon",
            "align the photo by landmarks",
        )
    })?;
    let mut cautions = vec![format!(
        "matched with {}; expect an error of about {:.1} px ({:.2} mm) at board level, tall parts lean",
        found.against(),
        found.expected_error_px,
        found.expected_error_px / px_per_mm
    )];
    cautions.extend(found.differs_words());
    Ok(Planned {
        event: Event::Aligned(Alignment {
            replaces: state.alignments_of(&found.photo),
            photo: found.photo,
            view: found.view,
            projection: found.projection,
            method: "automatic".to_owned(),
            landmarks: Vec::new(),
            rms_px: Some(found.rms_px),
            px_per_mm,
            automatic: Some(Matched {
                against: found.against,
                unit: found.against_unit,
                trust: found.trust.agreement.min(found.trust.coverage),
                expected_error_px: found.expected_error_px,
            }),
        }),
        cautions,
    })
}

/// The map with every pin that was placed as a landmark (`J4.3`) among its landmarks, so that a
/// close-up without a corner or a screw hole can be aligned as well.
#[must_use]
pub fn with_pins(map: &BoardMap, side: Side, placed: &[(String, PhotoPoint)]) -> BoardMap {
    let mut map = map.clone();
    for (name, _) in placed {
        let known = |landmark: &Landmark| landmark.name.trim().eq_ignore_ascii_case(name.trim());
        if map.landmarks.iter().any(known) {
            continue;
        }
        let Ok(Place::Joint { pin, .. }) = resolve(std::slice::from_ref(&map), name) else {
            continue;
        };
        let at = map
            .pin(&pin)
            .filter(|(part, pin)| pin.has_joint_on(part.side, side))
            .map(|(_, pin)| pin.at);
        if let Some(at) = at {
            map.landmarks.push(Landmark {
                name: name.clone(),
                at,
                look_for: "middle of the land".to_owned(),
            });
        }
    }
    map
}

/// A place in words: `J4.3`, `SW2`, `an area of main`, `mains cord`.
#[must_use]
pub fn describe(maps: &[BoardMap], target: &Target) -> String {
    match target {
        Target::Joint(JointKey { board, pin, side }) => maps
            .iter()
            .find(|map| map.board == *board)
            .and_then(|map| crate::board::label(map, pin, *side))
            .unwrap_or_else(|| format!("{board}:{pin}")),
        Target::Part { board, part } => maps
            .iter()
            .find(|map| map.board == *board)
            .and_then(|map| map.part(part))
            .map_or_else(
                || format!("{board}:{part}"),
                |part: &Part| part.reference.clone(),
            ),
        Target::Area { view, .. } => {
            format!("an area of {}, {} side", view.board, side_word(view.side))
        }
        Target::Photo(_) => "a place on a photo".to_owned(),
        Target::Unit { what } => what.clone(),
    }
}

/// The side as a word.
#[must_use]
pub fn side_word(side: Side) -> &'static str {
    match side {
        Side::Component => "component",
        Side::Solder => "solder",
    }
}

/// Where the readings of a mode are taken, in words.
#[must_use]
pub fn mode_word(mode: ReadingMode) -> &'static str {
    match mode {
        ReadingMode::Cold => "cold",
        ReadingMode::Unloaded => "unloaded",
        ReadingMode::Loaded => "loaded",
    }
}
