//! From an action to the one event that records it. Pure: reads the state, writes nothing.

use crate::align::from_landmarks;
use crate::board::{BoardMap, Landmark, Part, Place, Side, resolve};
use crate::geometry::{BoardMm, Homography, PhotoPoint, PhotoPx};
use crate::record::{
    Alignment, Check, CheckKind, Coverage, Event, EventId, JointKey, Judgement, Matched,
    Measurement, Outcome, PhotoId, PhotoState, PlacedLandmark, ReadingMode, Spot, State, Subject,
    Target, Verdict, View, can_be_confirmed,
};

use super::action::Wish;
use super::aligning::FoundAlignment;
use super::error::WorkError;

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
            photo_from_board: fit.photo_from_board,
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
        photo_from_board,
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
    let px_per_mm = found.photo_from_board.scale_at(middle).ok_or_else(|| {
        WorkError::refused(
            "the alignment found puts the middle of the board behind the horizon",
            "align the photo by landmarks",
        )
    })?;
    let cautions = vec![format!(
        "matched with {}; expect an error of about {:.1} px ({:.2} mm) at board level, tall parts lean",
        found.against_name,
        found.expected_error_px,
        found.expected_error_px / px_per_mm
    )];
    Ok(Planned {
        event: Event::Aligned(Alignment {
            replaces: state.alignments_of(&found.photo),
            photo: found.photo,
            view: found.view,
            photo_from_board: found.photo_from_board,
            method: "automatic".to_owned(),
            landmarks: Vec::new(),
            rms_px: Some(found.rms_px),
            px_per_mm,
            automatic: Some(Matched {
                against: found.against,
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

/// Checks a judgement and fills in what the record keeps of it.
pub(super) fn judgement(
    state: &State,
    maps: &[BoardMap],
    wish: Wish,
) -> Result<Planned, WorkError> {
    check_wish(state, maps, &wish)?;
    let mut cautions = Vec::new();
    let (seen_on, px_per_mm) = match (&wish.spot, &wish.photo) {
        (Some(spot), _) => (
            Some(spot.clone()),
            scale_of(state, maps, &wish.targets, &spot.photo)?,
        ),
        (None, Some(photo)) => {
            let spots = spots_on(state, maps, &wish.targets, photo)?;
            if spots.is_empty() {
                cautions.push(
                    "the photo is not aligned, so no scale is kept with this look: align it first"
                        .to_owned(),
                );
            }
            let scale = spots.iter().map(|(_, scale)| *scale).reduce(f64::min);
            (spots.into_iter().next().map(|(spot, _)| spot), scale)
        }
        (None, None) => (None, None),
    };
    let replaces: Vec<EventId> = state.judgements_of(&wish.targets);
    Ok(Planned {
        event: Event::Judged(Judgement {
            targets: wish.targets,
            verdict: wish.verdict,
            faults: wish.faults,
            obstacle: wish.obstacle,
            note: wish.note,
            seen_on,
            px_per_mm,
            evidence: wish.evidence,
            confirmed_by: wish.confirmed_by,
            replaces,
        }),
        cautions,
    })
}

fn check_wish(state: &State, maps: &[BoardMap], wish: &Wish) -> Result<(), WorkError> {
    if wish.targets.is_empty() {
        return Err(WorkError::bad(
            "nothing to judge was named",
            "name a joint (J4.3), several (J4.1-16), a part (SW2), a place on a photo or a piece of the unit",
        ));
    }
    if wish.confirmed_by.is_some() && !can_be_confirmed(wish.verdict, &wish.targets) {
        return Err(WorkError::bad(
            "a confirmation goes with joints that are faulty, reworked, accepted, or show no fault",
            "name joints, and a verdict that was found out beyond looking",
        ));
    }
    if wish.verdict == Verdict::NoFaultSeen && wish.confirmed_by.is_some_and(|by| !by.can_clear()) {
        return Err(WorkError::bad(
            "a reflow that cured something says that there was a fault",
            "say faulty, reworked or accepted, or leave the confirmation out",
        ));
    }
    let has_words = !wish.faults.is_empty() || !wish.note.trim().is_empty();
    match wish.verdict {
        Verdict::Faulty if !has_words => Err(WorkError::bad(
            "a fault without a name cannot go on the slip",
            "name it with --fault (for example fractured), or say it with --note",
        )),
        Verdict::NoFaultSeen if !wish.faults.is_empty() => Err(WorkError::bad(
            "no fault seen, and a fault named: that contradicts itself",
            "leave the fault out, or say suspect or faulty",
        )),
        Verdict::CannotBeJudged if wish.obstacle.trim().is_empty() && !has_words => {
            Err(WorkError::bad(
                "cannot be judged, but not why",
                "say what is in the way with --obstacle, for example \"under K3\" or \"photo too soft\"",
            ))
        }
        _ => wish
            .targets
            .iter()
            .try_for_each(|target| check_change(state, maps, wish, target)),
    }
}

/// Some verdicts only make sense after others.
fn check_change(
    state: &State,
    maps: &[BoardMap],
    wish: &Wish,
    target: &Target,
) -> Result<(), WorkError> {
    let Some(place) = state.place(target) else {
        return match wish.verdict {
            Verdict::Accepted => Err(nothing_to_accept(maps, target)),
            _ => Ok(()),
        };
    };
    match wish.verdict {
        Verdict::Accepted if place.verdict != Verdict::Reworked && !place.contradicted => {
            Err(nothing_to_accept(maps, target))
        }
        Verdict::NoFaultSeen
            if place.is_mark() && !place.is_accepted() && wish.note.trim().is_empty() =>
        {
            Err(WorkError::refused(
                format!(
                    "{} is on the slip; it cannot be cleared without a word",
                    describe(maps, target)
                ),
                "say with --note why no fault is seen any more, or mark it reworked and then accepted",
            ))
        }
        _ => Ok(()),
    }
}

fn nothing_to_accept(maps: &[BoardMap], target: &Target) -> WorkError {
    WorkError::refused(
        format!(
            "{} is not marked reworked, so there is nothing to accept",
            describe(maps, target)
        ),
        "mark it reworked first; accepting is a second look at a second time",
    )
}

/// The places of `targets` on an aligned photo with the scale there, px/mm; none where the photo
/// is not aligned.
fn spots_on(
    state: &State,
    maps: &[BoardMap],
    targets: &[Target],
    photo: &str,
) -> Result<Vec<(Spot, f64)>, WorkError> {
    let facts = photo_of(state, photo)?;
    let Some(alignment) = facts.alignment() else {
        return Ok(Vec::new());
    };
    let mut spots = Vec::new();
    for target in targets {
        let Some((board, side, at, radius_mm)) = whereabouts(maps, target) else {
            continue;
        };
        if board != alignment.view.board || side.is_some_and(|side| side != alignment.view.side) {
            return Err(WorkError::bad(
                format!(
                    "{} is not on this photo: it shows {} from the {} side",
                    describe(maps, target),
                    alignment.view.board,
                    side_word(alignment.view.side)
                ),
                "name the photo that you looked at",
            ));
        }
        let centre = alignment.photo_from_board.apply(at);
        let scale = alignment.photo_from_board.scale_at(at);
        let (Some(centre), Some(scale)) = (centre, scale) else {
            continue;
        };
        let [width, height] = facts.facts.size.map(f64::from);
        if centre.x < 0.0 || centre.y < 0.0 || centre.x > width - 1.0 || centre.y > height - 1.0 {
            return Err(WorkError::bad(
                format!("{} lies outside this photo", describe(maps, target)),
                "name the photo that you looked at, or leave --photo out for a look at the board itself",
            ));
        }
        let spot = Spot {
            photo: photo.to_owned(),
            at_px: [centre.x, centre.y],
            radius_px: radius_mm * scale,
        };
        spots.push((spot, scale));
    }
    Ok(spots)
}

fn scale_of(
    state: &State,
    maps: &[BoardMap],
    targets: &[Target],
    photo: &str,
) -> Result<Option<f64>, WorkError> {
    Ok(spots_on(state, maps, targets, photo)?
        .into_iter()
        .map(|(_, scale)| scale)
        .reduce(f64::min))
}

type Whereabouts<'a> = (&'a str, Option<Side>, crate::geometry::BoardPoint, f64);

fn whereabouts<'a>(maps: &'a [BoardMap], target: &'a Target) -> Option<Whereabouts<'a>> {
    match target {
        Target::Joint(key) => {
            let map = maps.iter().find(|map| map.board == key.board)?;
            let (_, pin) = map.pin(&key.pin)?;
            Some((
                &map.board,
                Some(key.side),
                pin.centre(),
                pin.land_radius_mm(),
            ))
        }
        Target::Part { board, part } => {
            let map = maps.iter().find(|map| map.board == *board)?;
            let part = map.part(part)?;
            let half = part.outline.bounds().size();
            Some((
                &map.board,
                None,
                part.outline.centre(),
                half.width.max(half.height) / 2.0,
            ))
        }
        _ => None,
    }
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

/// Checks a measurement against the map: the subject must be there.
pub(super) fn measurement(
    state: &State,
    maps: &[BoardMap],
    measurement: Measurement,
) -> Result<Planned, WorkError> {
    let known: Vec<&str> = match &measurement.subject {
        Subject::Rail { board, .. } => map_of(maps, board)?
            .rails
            .iter()
            .map(|rail| rail.name.as_str())
            .collect(),
        Subject::TestPoint { board, .. } => map_of(maps, board)?
            .test_points
            .iter()
            .map(|point| point.name.as_str())
            .collect(),
    };
    let (name, what) = match &measurement.subject {
        Subject::Rail { rail, .. } => (rail, "rail"),
        Subject::TestPoint { name, .. } => (name, "test point"),
    };
    if !known.contains(&name.as_str()) {
        return Err(WorkError::bad(
            format!("the map has no {what} `{name}`"),
            if known.is_empty() {
                format!("add the {what} to the map and adopt it again")
            } else {
                format!("use one of: {}", known.join(", "))
            },
        ));
    }
    if measurement.readings.is_empty() {
        return Err(WorkError::bad(
            format!("no value for {name}: blank is not measured"),
            "give a value, for example --volts 12.02, --ohm 1800 or --mv-pp 48",
        ));
    }
    if let Some(bad) = measurement.readings.iter().find(|r| !r.value.is_finite()) {
        return Err(WorkError::bad(
            format!("{name}: {} is not a number that a meter shows", bad.value),
            "write down the figure on the meter",
        ));
    }
    let replaces = state
        .measurements
        .get(&measurement.subject)
        .map(|current| current.iter().map(|m| m.event).collect())
        .unwrap_or_default();
    Ok(Event::Measured(Measurement {
        replaces,
        ..measurement
    })
    .into())
}

/// Checks a check: *not fitted* wants a word, a function test a name.
pub(super) fn check(
    state: &State,
    check: CheckKind,
    outcome: Outcome,
    note: String,
) -> Result<Planned, WorkError> {
    if outcome == Outcome::NotFitted && note.trim().is_empty() {
        return Err(WorkError::bad(
            "not fitted, but not why",
            "say it with --note, for example \"double insulated, no earth\"",
        ));
    }
    if matches!(&check, CheckKind::Function { test } if test.trim().is_empty()) {
        return Err(WorkError::bad(
            "a function test needs a name",
            "say what you tried, for example --function \"all twelve zones switch\"",
        ));
    }
    let replaces = state
        .checks
        .get(&check)
        .map(|current| current.iter().map(|c| c.event).collect())
        .unwrap_or_default();
    Ok(Event::Checked(Check {
        check,
        outcome,
        note,
        replaces,
    })
    .into())
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

/// A part was unplugged and plugged again: it must be on the map.
pub(super) fn reseat(
    maps: &[BoardMap],
    board: String,
    part: &str,
    note: String,
) -> Result<Planned, WorkError> {
    let map = map_of(maps, &board)?;
    let found = map.part_by_reference(part).ok_or_else(|| {
        WorkError::bad(
            format!("{board} has no part {part}"),
            "use the reference that the map has",
        )
    })?;
    Ok(Event::Reseated {
        board,
        part: found.reference.clone(),
        note,
    }
    .into())
}

/// What coverage the shop demands: shares are shares.
pub(super) fn demand(demand: Coverage) -> Result<Planned, WorkError> {
    for (what, share) in [
        ("before power", demand.before_power),
        ("before closing", demand.before_closing),
    ] {
        if !(0.0..=1.0).contains(&share) {
            return Err(WorkError::bad(
                format!("a share of {share} {what}"),
                "give a share from 0 to 1, for example 0.8",
            ));
        }
    }
    if !(0.0..=1000.0).contains(&demand.least_px_per_mm) {
        return Err(WorkError::bad(
            format!("a least scale of {} px/mm", demand.least_px_per_mm),
            "give a scale from 0 (any) to 1000 px/mm",
        ));
    }
    Ok(Event::CoverageDemanded(demand).into())
}

/// A remark: it must say something.
pub(super) fn note(text: String, photo: Option<PhotoId>) -> Result<Planned, WorkError> {
    if text.trim().is_empty() {
        return Err(WorkError::bad(
            "an empty remark",
            "write what you want to keep",
        ));
    }
    Ok(Event::Noted { text, photo }.into())
}
