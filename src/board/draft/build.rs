//! Making parts: from places, from found joints, from pins of other parts.

use std::collections::BTreeSet;

use rstar::RTree;
use rstar::primitives::GeomWithData;

use super::edit::{Across, Edit, FoundJoint, Numbering, PartSpec};
use super::error::DraftError;
use super::frame::length;
use super::names::{Uids, next_reference, pin_slots};
use super::places::{self, PinPlace, body, micrometres, pins_of, place};
use super::{MOST_PINS, Sketch};
use crate::board::model::{Land, LandShape, Part, PartKind, Pin, Side, Zone};
use crate::geometry::BoardPoint;

/// A new pin takes over a found joint whose middle lies within this share of its land: half,
/// so that two neighbouring lands can never both claim it.
const OVER: f64 = 0.5;

/// Share of a found land that its hole is thought to take, until somebody says otherwise
/// (0.8 of 1.6 mm, common practice, no source).
const HOLE_SHARE: f64 = 0.5;

/// Makes the part of an edit that says where pins are; its uid.
pub(super) fn part(
    sketch: &mut Sketch,
    uids: &mut Uids,
    edit: &Edit,
    spec: &PartSpec,
) -> Result<String, DraftError> {
    let places = pins_of(edit)?;
    if let Edit::Row {
        extend: Some(uid), ..
    } = edit
    {
        let pins = pins(sketch, uids, spec, &places)?;
        let part = part_mut(sketch, uid)?;
        part.pins.extend(pins);
        let all: Vec<PinPlace> = part
            .pins
            .iter()
            .map(|pin| PinPlace {
                no: pin.no.clone(),
                at: pin.centre(),
            })
            .collect();
        // A row alone says nothing of the whole body: round all its pins.
        let whole = Edit::Gather {
            part: spec.clone(),
            pins: Vec::new(),
        };
        part.outline = body(&whole, spec, &all);
        return Ok(uid.clone());
    }
    let outline = body(edit, spec, &places);
    let pins = pins(sketch, uids, spec, &places)?;
    Ok(add(sketch, uids, spec, outline, pins))
}

fn add(
    sketch: &mut Sketch,
    uids: &mut Uids,
    spec: &PartSpec,
    outline: crate::board::model::Outline,
    pins: Vec<Pin>,
) -> String {
    let given = spec
        .reference
        .as_deref()
        .map(str::trim)
        .filter(|r| !r.is_empty());
    let uid = uids.part();
    if given.is_none() {
        sketch.proposed.insert(uid.clone());
    }
    let reference = given.map_or_else(|| next_reference(&sketch.map, spec.kind), str::to_owned);
    sketch.map.parts.push(Part {
        uid: uid.clone(),
        reference,
        kind: spec.kind,
        value: spec.value.trim().to_owned(),
        side: spec.side,
        outline,
        pins,
        zone: Zone::default(),
        watch: None,
    });
    uid
}

/// Pins at these places; those that cover a found joint keep its identity.
fn pins(
    sketch: &mut Sketch,
    uids: &mut Uids,
    spec: &PartSpec,
    places: &[PinPlace],
) -> Result<Vec<Pin>, DraftError> {
    let size = [
        length("the land's width", spec.land.size[0])?,
        length("the land's height", spec.land.size[1])?,
    ];
    let drill = spec.drill.map(|d| length("the hole", d)).transpose()?;
    let land = Land {
        shape: spec.land.shape,
        size: size.map(micrometres),
    };
    let mut taken = take_over(sketch, places, size[0].max(size[1]) * OVER);
    Ok(places
        .iter()
        .enumerate()
        .map(|(i, place)| Pin {
            uid: taken[i].take().unwrap_or_else(|| uids.pin()),
            no: place.no.clone(),
            at: place.at.to_array(),
            land,
            drill: drill.map(micrometres),
            net: None,
            watch: None,
        })
        .collect())
}

/// Takes the found joints that new pins cover out of their makeshift parts; their uids.
fn take_over(sketch: &mut Sketch, places: &[PinPlace], reach: f64) -> Vec<Option<String>> {
    let mut taken: Vec<Option<String>> = vec![None; places.len()];
    if sketch.found.is_empty() {
        return taken;
    }
    let free = sketch
        .map
        .parts
        .iter()
        .filter(|part| sketch.found.contains(&part.uid))
        .flat_map(|part| &part.pins)
        .map(|pin| GeomWithData::new(pin.at, pin.uid.clone()))
        .collect();
    let tree: RTree<GeomWithData<[f64; 2], String>> = RTree::bulk_load(free);
    let mut gone = BTreeSet::new();
    for (slot, place) in taken.iter_mut().zip(places) {
        let at = place.at.to_array();
        let nearest = tree
            .nearest_neighbor_iter_with_distance_2(at)
            .take_while(|(_, square)| *square <= reach * reach)
            .find(|(pin, _)| !gone.contains(&pin.data));
        if let Some((pin, _)) = nearest {
            gone.insert(pin.data.clone());
            *slot = Some(pin.data.clone());
        }
    }
    remove_pins(sketch, &gone);
    taken
}

/// Takes pins away; a part that loses its last one goes too.
pub(super) fn remove_pins(sketch: &mut Sketch, gone: &BTreeSet<String>) {
    if gone.is_empty() {
        return;
    }
    let mut emptied = BTreeSet::new();
    for part in &mut sketch.map.parts {
        let before = part.pins.len();
        part.pins.retain(|pin| !gone.contains(&pin.uid));
        if before > 0 && part.pins.is_empty() {
            emptied.insert(part.uid.clone());
        }
    }
    remove_parts(sketch, &emptied);
}

pub(super) fn remove_parts(sketch: &mut Sketch, gone: &BTreeSet<String>) {
    sketch.map.parts.retain(|part| !gone.contains(&part.uid));
    for uid in gone {
        sketch.proposed.remove(uid);
        sketch.found.remove(uid);
    }
}

pub(super) fn part_mut<'a>(sketch: &'a mut Sketch, uid: &str) -> Result<&'a mut Part, DraftError> {
    sketch
        .map
        .parts
        .iter_mut()
        .find(|part| part.uid == uid)
        .ok_or(DraftError::NoPart)
}

/// Found joints as makeshift parts: a row becomes one, every other joint one of its own.
pub(super) fn accept(
    sketch: &mut Sketch,
    uids: &mut Uids,
    joints: &[FoundJoint],
    rows: &[Vec<usize>],
    packages: &[[usize; 2]],
) -> Result<Vec<String>, DraftError> {
    for joint in joints {
        place("a found joint", joint.at)?;
        length("a found land", joint.land_mm)?;
    }
    let covered = covered(sketch, joints);
    let mut done = vec![false; joints.len()];
    let mut made = Vec::new();
    for [a, b] in packages {
        let (Some(a), Some(b)) = (rows.get(*a), rows.get(*b)) else {
            continue;
        };
        let both: BTreeSet<usize> = a.iter().chain(b).copied().collect();
        let free = |&i: &usize| i < joints.len() && !covered[i] && !done[i];
        let whole = a.len() == b.len() && a.len() >= 2 && both.len() == 2 * a.len();
        if !whole || both.len() > MOST_PINS || !both.iter().all(free) {
            continue;
        }
        for &i in &both {
            done[i] = true;
        }
        let round = numbered_round(joints, a, b);
        made.push(found_part(sketch, uids, joints, &round, PartKind::Ic));
    }
    for row in rows {
        let row: Vec<usize> = row
            .iter()
            .copied()
            .filter(|&i| i < joints.len() && !covered[i] && !std::mem::replace(&mut done[i], true))
            .take(MOST_PINS)
            .collect();
        match row.as_slice() {
            [] => {}
            [alone] => done[*alone] = false,
            _ => made.push(found_part(sketch, uids, joints, &row, PartKind::Header)),
        }
    }
    for i in 0..joints.len() {
        if !done[i] && !covered[i] {
            made.push(found_part(sketch, uids, joints, &[i], PartKind::Other));
        }
    }
    if made.is_empty() {
        return Err(DraftError::Nothing);
    }
    Ok(made)
}

/// Which found joints lie on a land that the map has already.
fn covered(sketch: &Sketch, joints: &[FoundJoint]) -> Vec<bool> {
    let pins = sketch.map.parts.iter().flat_map(|part| &part.pins);
    let tree: RTree<GeomWithData<[f64; 2], f64>> = RTree::bulk_load(
        pins.map(|pin| GeomWithData::new(pin.at, pin.land_radius_mm()))
            .collect(),
    );
    joints
        .iter()
        .map(|joint| {
            tree.nearest_neighbor_iter_with_distance_2(joint.at)
                .next()
                .is_some_and(|(pin, square)| square.sqrt() <= pin.data.max(joint.land_mm / 2.0))
        })
        .collect()
}

/// The joints of two facing rows of equal length in the order of a package's pins: down one row
/// and back along the other, counter-clockwise seen from the component side. Of the two pins
/// that could then be 1 the upper one is taken, of two equally high ones the left one.
fn numbered_round(joints: &[FoundJoint], a: &[usize], b: &[usize]) -> Vec<usize> {
    let at = |i: usize| BoardPoint::new(joints[i].at[0], joints[i].at[1]);
    let (mut a, mut b) = (a.to_vec(), b.to_vec());
    let (first, last) = (at(a[0]), at(a[a.len() - 1]));
    if (at(b[0]) - first).square_length() > (at(b[0]) - last).square_length() {
        b.reverse();
    }
    if (last - first).cross(at(b[0]) - first) < 0.0 {
        a.reverse();
        b.reverse();
    }
    let other = b[b.len() - 1];
    let mut round: Vec<usize> = a.iter().copied().chain(b.into_iter().rev()).collect();
    let (one, two) = (at(a[0]), at(other));
    // Higher by less than a land's breadth is level.
    let level = (one.y - two.y).abs() < joints[a[0]].land_mm / 2.0;
    let second = if level { two.x < one.x } else { two.y > one.y };
    if second {
        round.rotate_left(a.len());
    }
    round
}

fn found_part(
    sketch: &mut Sketch,
    uids: &mut Uids,
    joints: &[FoundJoint],
    which: &[usize],
    kind: PartKind,
) -> String {
    let round = |mm: f64| Land {
        shape: LandShape::Round,
        size: [micrometres(mm); 2],
    };
    let spec = PartSpec {
        reference: None,
        kind,
        value: String::new(),
        side: Side::Component,
        land: round(joints[which[0]].land_mm),
        drill: None,
    };
    let at = |i: usize| places::rounded(BoardPoint::new(joints[i].at[0], joints[i].at[1]));
    let places: Vec<PinPlace> = which
        .iter()
        .enumerate()
        .map(|(n, &i)| PinPlace {
            no: (n + 1).to_string(),
            at: at(i),
        })
        .collect();
    let edit = match places.as_slice() {
        [first, ..] if kind == PartKind::Ic => Edit::TwoRows {
            part: spec.clone(),
            pin_1: first.at.to_array(),
            row_end: places[places.len() / 2 - 1].at.to_array(),
            across: Across::Through(places[places.len() - 1].at.to_array()),
            count: places.len(),
            numbering: Numbering::Round,
        },
        [first, .., last] if (last.at - first.at).length() > 0.5 => Edit::Row {
            part: spec.clone(),
            first: first.at.to_array(),
            last: last.at.to_array(),
            count: places.len(),
            first_no: 1,
            extend: None,
        },
        _ => Edit::Gather {
            part: spec.clone(),
            pins: Vec::new(),
        },
    };
    let pins = places
        .iter()
        .zip(which)
        .map(|(place, &i)| Pin {
            uid: uids.pin(),
            no: place.no.clone(),
            at: place.at.to_array(),
            land: round(joints[i].land_mm),
            drill: Some(micrometres(joints[i].land_mm * HOLE_SHARE)),
            net: None,
            watch: None,
        })
        .collect();
    let uid = add(sketch, uids, &spec, body(&edit, &spec, &places), pins);
    sketch.found.insert(uid.clone());
    uid
}

/// Pins of any parts become one new part, in this order; they keep identity, land and hole.
pub(super) fn gather(
    sketch: &mut Sketch,
    uids: &mut Uids,
    edit: &Edit,
    spec: &PartSpec,
    chosen: &[String],
) -> Result<String, DraftError> {
    if chosen.is_empty() {
        return Err(DraftError::Nothing);
    }
    let mut gone = BTreeSet::new();
    let mut pins = Vec::with_capacity(chosen.len());
    {
        let slots = pin_slots(&sketch.map);
        for uid in chosen {
            let &(part, pin) = slots.get(uid.as_str()).ok_or(DraftError::NoPin)?;
            if !gone.insert(uid.clone()) {
                continue;
            }
            let mut pin = sketch.map.parts[part].pins[pin].clone();
            pin.no = (pins.len() + 1).to_string();
            pins.push(pin);
        }
    }
    let places: Vec<PinPlace> = pins
        .iter()
        .map(|pin| PinPlace {
            no: pin.no.clone(),
            at: pin.centre(),
        })
        .collect();
    remove_pins(sketch, &gone);
    let shaped = match (places.as_slice(), spec.kind) {
        ([a, b], _) => Edit::TwoLeads {
            part: spec.clone(),
            a: a.at.to_array(),
            b: b.at.to_array(),
        },
        _ => edit.clone(),
    };
    Ok(add(sketch, uids, spec, body(&shaped, spec, &places), pins))
}
