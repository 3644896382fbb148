//! What people call the places of the record.

use crate::board::{BoardMap, Part, Pin};

use super::event::{Event, JointKey, PhotoId, Target};
use super::state::State;
use super::words;

/// What a person calls a target: `main:J4.3/solder`, `main:R7`, an area in millimetres, a place
/// on a photo. Where no map knows the pin or part, its uid stands in.
#[must_use]
pub fn target_label(target: &Target, maps: &[BoardMap], state: &State) -> String {
    match target {
        Target::Joint(joint) => joint_label(joint, maps),
        Target::Part { board, part } => {
            let reference = of_board(maps, board)
                .flat_map(|map| &map.parts)
                .find(|known| known.uid == *part)
                .map_or(part.as_str(), |known| &known.reference);
            format!("{board}:{reference}")
        }
        Target::Area { view, from, to } => format!(
            "{}/{}, area {:.1}, {:.1} to {:.1}, {:.1} mm",
            view.board,
            words::side(view.side),
            from[0],
            from[1],
            to[0],
            to[1]
        ),
        Target::Photo(spot) => format!(
            "photo {} at {:.0}, {:.0} px",
            photo_name(&spot.photo, state),
            spot.at_px[0],
            spot.at_px[1]
        ),
        Target::Unit { what } => what.clone(),
    }
}

/// What a photo is called: the name it came in with. Where several of the job have that name, the
/// first letters of its hash follow; they stand alone for a photo that is not here.
pub(super) fn photo_name(photo: &PhotoId, state: &State) -> String {
    let short = photo.get(..8).unwrap_or(photo);
    let added = |event: &Event| match event {
        Event::PhotoAdded(facts) if facts.photo == *photo => Some(facts.name.clone()),
        _ => None,
    };
    let here = state
        .photos
        .get(photo)
        .map(|known| known.facts.name.clone());
    let taken_back = || (state.log.iter()).find_map(|logged| added(&logged.event.what));
    let Some(name) = here.or_else(taken_back) else {
        return short.to_owned();
    };
    let shared = (state.photos.iter()).any(|(id, other)| id != photo && other.facts.name == name);
    if shared {
        format!("{name} ({short})")
    } else {
        name
    }
}

fn joint_label(joint: &JointKey, maps: &[BoardMap]) -> String {
    of_board(maps, &joint.board)
        .flat_map(|map| &map.parts)
        .find_map(|part| {
            let pin = part.pins.iter().find(|pin| pin.uid == joint.pin)?;
            Some(address(part, pin, joint))
        })
        .unwrap_or_else(|| {
            let side = words::side(joint.side);
            format!("{}:pin {}/{side}", joint.board, joint.pin)
        })
}

/// The address of a joint whose part and pin are known: `main:J4.3/solder`.
pub(super) fn address(part: &Part, pin: &Pin, joint: &JointKey) -> String {
    let side = words::side(joint.side);
    format!("{}:{}.{}/{side}", joint.board, part.reference, pin.no)
}

fn of_board<'a>(maps: &'a [BoardMap], board: &'a str) -> impl Iterator<Item = &'a BoardMap> {
    maps.iter().filter(move |map| map.board == board)
}
