//! From a wish to judge to the event that records it.

use super::super::action::Wish;
use super::super::error::WorkError;
use super::{Planned, describe, laid_twice, photo_of, side_word};
use crate::board::{BoardMap, Side};
use crate::geometry::BoardPoint;
use crate::record::{
    Event, EventId, Fault, Judgement, PlaceState, Severity, Spot, State, Target, Verdict,
    can_be_confirmed,
};

/// Checks a judgement and fills in what the record keeps of it.
pub(in crate::work) fn judgement(
    state: &State,
    maps: &[BoardMap],
    wish: Wish,
) -> Result<Planned, WorkError> {
    check_wish(state, maps, &wish)?;
    let (seen_on, px_per_mm) = match (&wish.spot, &wish.photo) {
        (Some(spot), _) => (
            Some(spot.clone()),
            scale_of(state, maps, &wish.targets, &spot.photo)?,
        ),
        (None, Some(photo)) => {
            let spots = spots_on(state, maps, &wish.targets, photo)?;
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
        cautions: Vec::new(),
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
    check_photo_after_rework(state, maps, wish, place)?;
    let current = || (place.current.iter()).filter_map(|id| state.verdict_of(*id));
    let done = |verdict| matches!(verdict, Verdict::Reworked | Verdict::Accepted);
    match wish.verdict {
        Verdict::Accepted if !current().any(done) => Err(nothing_to_accept(maps, target)),
        Verdict::Accepted
            if wish.note.trim().is_empty()
                && current().any(|v| !done(v) && v != Verdict::NoFaultSeen) =>
        {
            Err(WorkError::refused(
                format!(
                    "somebody says that {} is not in order, and had not seen the rework",
                    describe(maps, target)
                ),
                "look again, and say with --note why it is accepted all the same",
            ))
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
        // After a rework the recheck says what is there now.
        Verdict::Faulty | Verdict::Suspect | Verdict::CannotBeJudged
            if !wish.faults.is_empty() && place.verdict != Verdict::Reworked =>
        {
            let drops = |fault: &&Fault| {
                let named = wish.faults.iter().find(|named| named.fault == fault.fault);
                named.is_none_or(|named| named.severity < fault.severity)
            };
            let milder = |fault: &Fault| fault.severity < Severity::BlocksPower;
            if place.unnamed_fault && wish.faults.iter().all(milder) && wish.note.trim().is_empty()
            {
                return Err(WorkError::refused(
                    format!(
                        "{} has a fault on the slip that was told in words alone and blocks power; this would make less of it without a word",
                        describe(maps, target)
                    ),
                    "say with --note why it does not block power, or name it with --severity blocks-power",
                ));
            }
            match place.faults.iter().find(drops) {
                Some(fault) if !place.is_accepted() && wish.note.trim().is_empty() => {
                    Err(WorkError::refused(
                        format!(
                            "{} has {} ({}) on the slip, which this would take off or make less of without a word",
                            describe(maps, target),
                            fault.fault.words(),
                            fault.severity.words()
                        ),
                        "name that fault too (--fault once for each), or say with --note why it does not stand any more",
                    ))
                }
                _ => Ok(()),
            }
        }
        _ => Ok(()),
    }
}

/// A photo that came in before a rework does not show that it is good.
fn check_photo_after_rework(
    state: &State,
    maps: &[BoardMap],
    wish: &Wish,
    place: &PlaceState,
) -> Result<(), WorkError> {
    let spot = wish.spot.as_ref().map(|spot| &spot.photo);
    let Some(photo) = spot.or(wish.photo.as_ref()) else {
        return Ok(());
    };
    // A doubt may well come from an old photo; that all is well may not.
    let clears = matches!(wish.verdict, Verdict::Accepted | Verdict::NoFaultSeen);
    if !clears || !state.came_in_before_rework(&place.target, photo) {
        return Ok(());
    }
    let name = (state.photos.get(photo)).map_or("the photo", |photo| photo.facts.name.as_str());
    Err(WorkError::refused(
        format!(
            "{name} came in before {} was reworked, so it does not show the rework",
            describe(maps, &place.target)
        ),
        "add a photo taken after it, or leave --photo out for a look at the board itself",
    ))
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
        let on_board = targets
            .iter()
            .any(|target| whereabouts(maps, target).is_some());
        if on_board {
            // A look at a photo of which nobody knows what it shows where is no look at a joint.
            return Err(WorkError::bad(
                format!(
                    "{} does not lie on a map, so nobody can tell where it shows this",
                    facts.facts.name
                ),
                "align it first (benchglass align), or leave --photo out for a look at the board itself",
            ));
        }
        return Ok(Vec::new());
    };
    if facts.contradicted() {
        return Err(laid_twice(&facts.facts.name));
    }
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
        let centre = alignment.projection.apply(at);
        let scale = alignment.projection.scale_at(at);
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
    // The person says where the photo shows it: no scale is known there without an alignment.
    if photo_of(state, photo)?.alignment().is_none() {
        return Ok(None);
    }
    Ok(spots_on(state, maps, targets, photo)?
        .into_iter()
        .map(|(_, scale)| scale)
        .reduce(f64::min))
}

type Whereabouts<'a> = (&'a str, Option<Side>, BoardPoint, f64);

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
