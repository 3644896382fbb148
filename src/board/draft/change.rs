//! Carrying edits out.

use std::collections::BTreeSet;

use super::Sketch;
use super::build::{self, part_mut, remove_parts, remove_pins};
use super::carry;
use super::edit::{Edit, Line};
use super::error::DraftError;
use super::frame::{Frame, length};
use super::landmarks;
use super::names::{Uids, next_of_class, next_reference};
use super::places::{micrometres, place, rounded};
use crate::board::class_letters::{class_of, letters_of};
use crate::board::model::{Landmark, Outline, Part, PartKind};
use crate::geometry::{BoardBox, BoardPoint};

/// Carries one edit out; the uids of the parts that it made. Where it fails, `sketch` may be
/// half changed: the caller throws it away.
pub(super) fn carry_out(
    sketch: &mut Sketch,
    uids: &mut Uids,
    edit: &Edit,
) -> Result<Vec<String>, DraftError> {
    match edit {
        Edit::Frame {
            side,
            photo_size,
            by,
        } => {
            let (frame, edge) = Frame::by(*side, *photo_size, by)?;
            lay_under(sketch, frame)?;
            if let Some(edge) = edge {
                sketch.map.outline = edge.iter().map(|p| rounded(*p).to_array()).collect();
                sketch.outlined = true;
            }
        }
        Edit::LayAnew { photo_from_board } => {
            let Some(before) = sketch.frame.clone() else {
                return Err(DraftError::Nothing);
            };
            lay_under(
                sketch,
                Frame {
                    photo_from_board: *photo_from_board,
                    ..before
                },
            )?;
        }
        Edit::OtherSide { side } => {
            let Some(before) = sketch.frame.clone() else {
                return Err(DraftError::Nothing);
            };
            if before.side != *side {
                let middle = sketch.map.bounds().center().x;
                let mirror = carry::mirror_about(Line::AtX(middle))?;
                let frame = Frame {
                    side: *side,
                    photo_from_board: mirror.then(&before.photo_from_board)?,
                    ..before
                };
                lay_under(sketch, frame)?;
            }
        }
        Edit::Outline { corners } => {
            for corner in corners {
                place("a corner", *corner)?;
            }
            if corners.len() < 3 {
                return Err(DraftError::Count {
                    what: "corners",
                    count: corners.len(),
                    remedy: "an edge has at least three".to_owned(),
                });
            }
            sketch.map.outline = corners.iter().map(|c| c.map(micrometres)).collect();
            sketch.outlined = true;
        }
        Edit::OutlineRound { margin_mm } => {
            outline_round(sketch, length("the margin", *margin_mm)?)?
        }
        Edit::Accept {
            joints,
            rows,
            packages,
        } => return build::accept(sketch, uids, joints, rows, packages),
        Edit::Row { part, .. }
        | Edit::TwoRows { part, .. }
        | Edit::TwoLeads { part, .. }
        | Edit::OnePin { part, .. }
        | Edit::Array { part, .. } => {
            return Ok(vec![build::part(sketch, uids, edit, part)?]);
        }
        Edit::Gather { part, pins } => {
            return Ok(vec![build::gather(sketch, uids, edit, part, pins)?]);
        }
        Edit::Duplicate { parts, by } => {
            return copies(sketch, uids, parts, &carry::shift_by(*by)?);
        }
        Edit::Mirror { parts, about, copy } => return mirror(sketch, uids, parts, *about, *copy),
        Edit::Move { parts, by } => {
            let motion = carry::shift_by(*by)?;
            for part in chosen(sketch, parts)? {
                carry::part(part, &motion)?;
            }
            touch(sketch, parts);
        }
        Edit::Delete { parts, pins } => delete(sketch, parts, pins)?,
        Edit::Together { edits, .. } => {
            let mut made = Vec::new();
            for edit in edits {
                made.extend(carry_out(sketch, uids, edit)?);
            }
            return Ok(made);
        }
        Edit::SuggestLandmarks => landmarks::suggest(sketch)?,
        words => name(sketch, words)?,
    }
    Ok(Vec::new())
}

/// Edits that change what things are called and are, not where they are.
fn name(sketch: &mut Sketch, edit: &Edit) -> Result<(), DraftError> {
    match edit {
        Edit::Describe {
            model,
            board,
            title,
            revision,
            origin,
        } => {
            let map = &mut sketch.map;
            map.model = named("model", model)?;
            map.board = named("board", board)?;
            map.title = title.trim().to_owned();
            map.revision = revision
                .as_deref()
                .map(str::trim)
                .filter(|r| !r.is_empty())
                .map(str::to_owned);
            map.origin = origin.trim().to_owned();
        }
        Edit::Rename { part, reference } => {
            part_mut(sketch, part)?.reference = named("reference", reference)?;
            sketch.proposed.remove(part);
            sketch.found.remove(part);
        }
        Edit::MovePin { pin, to } => {
            let to = rounded(place("the pin", *to)?);
            pin_mut(sketch, pin)?.at = to.to_array();
        }
        Edit::RenamePin { pin, no } => {
            let no = named("pin number", no)?;
            pin_mut(sketch, pin)?.no = no;
        }
        Edit::Renumber {
            part,
            pin_1,
            backwards,
        } => {
            renumber(part_mut(sketch, part)?, pin_1, *backwards)?;
            sketch.found.remove(part);
        }
        Edit::Kind { parts, kind } => {
            be(sketch, parts, *kind)?;
        }
        Edit::Value { part, value } => {
            part_mut(sketch, part)?.value = value.trim().to_owned();
        }
        Edit::Zone { parts, zone } => {
            for part in chosen(sketch, parts)? {
                part.zone = *zone;
            }
        }
        Edit::Watch { of, why } => {
            let why = Some(why.trim())
                .filter(|w| !w.is_empty())
                .map(str::to_owned);
            match part_mut(sketch, of) {
                Ok(part) => part.watch = why,
                Err(_) => pin_mut(sketch, of)?.watch = why,
            }
        }
        Edit::Lands { parts, land, drill } => {
            let mut land = *land;
            for side in &mut land.size {
                *side = micrometres(length("the land", *side)?);
            }
            let drill = drill
                .map(|d| length("the hole", d))
                .transpose()?
                .map(micrometres);
            for part in chosen_or_all(sketch, parts)? {
                for pin in &mut part.pins {
                    pin.land = land;
                    pin.drill = drill;
                }
            }
        }
        Edit::Body { part, outline } => part_mut(sketch, part)?.outline = outline.clone(),
        Edit::Snap { grid, parts } => {
            length("the pitch", grid.pitch_mm)?;
            place("the grid", grid.origin)?;
            for part in chosen_or_all(sketch, parts)? {
                // A part that does not stand on the grid as a whole (a connector of another pitch)
                // is left as it is: half of it moved would be worse.
                let crossings: Option<Vec<BoardPoint>> = part
                    .pins
                    .iter()
                    .map(|pin| grid.snap(pin.centre()))
                    .collect();
                for (pin, at) in part.pins.iter_mut().zip(crossings.into_iter().flatten()) {
                    pin.at = at.to_array();
                }
            }
        }
        measure => places_to_measure(sketch, measure)?,
    }
    Ok(())
}

/// Landmarks, rails and test points.
fn places_to_measure(sketch: &mut Sketch, edit: &Edit) -> Result<(), DraftError> {
    let map = &mut sketch.map;
    let same = |a: &str, b: &str| a.trim().eq_ignore_ascii_case(b.trim());
    let gone = |what: &'static str, name: &str, before: usize, after: usize| {
        if before == after {
            let name = name.to_owned();
            return Err(DraftError::NoSuch { what, name });
        }
        Ok(())
    };
    match edit {
        Edit::Landmark { name, at, look_for } => {
            let mark = Landmark {
                name: named("landmark", name)?,
                at: rounded(place("the landmark", *at)?).to_array(),
                look_for: look_for.trim().to_owned(),
            };
            put(&mut map.landmarks, mark, |known| same(&known.name, name));
        }
        Edit::DropLandmark { name } => {
            let before = map.landmarks.len();
            map.landmarks.retain(|known| !same(&known.name, name));
            gone("landmark", name, before, map.landmarks.len())?;
        }
        Edit::Rail { rail } => {
            let mut rail = rail.clone();
            rail.name = named("rail", &rail.name)?;
            let name = rail.name.clone();
            put(&mut map.rails, rail, |known| same(&known.name, &name));
        }
        Edit::DropRail { name } => {
            let before = map.rails.len();
            map.rails.retain(|known| !same(&known.name, name));
            gone("rail", name, before, map.rails.len())?;
        }
        Edit::TestPoint { point } => {
            let mut point = point.clone();
            point.name = named("test point", &point.name)?;
            let name = point.name.clone();
            put(&mut map.test_points, point, |known| {
                same(&known.name, &name)
            });
        }
        Edit::DropTestPoint { name } => {
            let before = map.test_points.len();
            map.test_points.retain(|known| !same(&known.name, name));
            gone("test point", name, before, map.test_points.len())?;
        }
        // Every other edit was carried out above.
        _ => {}
    }
    Ok(())
}

fn put<T>(list: &mut Vec<T>, new: T, is_same: impl Fn(&T) -> bool) {
    match list.iter_mut().find(|known| is_same(known)) {
        Some(known) => *known = new,
        None => list.push(new),
    }
}

/// Lays a photo under the board; what was placed on the one before stays where it is on it.
fn lay_under(sketch: &mut Sketch, frame: Frame) -> Result<(), DraftError> {
    if let Some(before) = &sketch.frame {
        let board_from_photo = frame.photo_from_board.inverse()?;
        let motion = before.photo_from_board.then(&board_from_photo)?;
        carry::map(&mut sketch.map, &motion)?;
    }
    if !sketch.outlined
        && let Some(corners) = frame.photo_corners()
    {
        sketch.map.outline = corners.iter().map(|p| rounded(*p).to_array()).collect();
    }
    sketch.frame = Some(frame);
    Ok(())
}

fn outline_round(sketch: &mut Sketch, margin: f64) -> Result<(), DraftError> {
    let pins = sketch.map.parts.iter().flat_map(|part| &part.pins);
    let lands = pins.flat_map(|pin| {
        let r = pin.land.size[0].max(pin.land.size[1]) / 2.0;
        let at = pin.centre();
        let corner = |sign: f64| BoardPoint::new(at.x + sign * r, at.y + sign * r);
        [corner(-1.0), corner(1.0)]
    });
    let mut lands = lands.peekable();
    if lands.peek().is_none() {
        return Err(DraftError::Nothing);
    }
    let edge = BoardBox::from_points(lands).inflate(margin, margin);
    let (a, b) = (rounded(edge.min), rounded(edge.max));
    sketch.map.outline = vec![[a.x, a.y], [b.x, a.y], [b.x, b.y], [a.x, b.y]];
    sketch.outlined = true;
    Ok(())
}

fn named(what: &'static str, name: &str) -> Result<String, DraftError> {
    let trimmed = name.trim();
    let why = if trimmed.is_empty() {
        "it is blank"
    } else if trimmed.chars().any(char::is_control) {
        "it holds a control character"
    } else {
        return Ok(trimmed.to_owned());
    };
    let name = name.to_owned();
    Err(DraftError::Name { what, name, why })
}

fn pin_mut<'a>(sketch: &'a mut Sketch, uid: &str) -> Result<&'a mut crate::board::Pin, DraftError> {
    sketch
        .map
        .parts
        .iter_mut()
        .flat_map(|part| &mut part.pins)
        .find(|pin| pin.uid == uid)
        .ok_or(DraftError::NoPin)
}

/// The parts with these uids.
fn chosen<'a>(
    sketch: &'a mut Sketch,
    uids: &[String],
) -> Result<impl Iterator<Item = &'a mut Part>, DraftError> {
    if uids.is_empty() {
        return Err(DraftError::Nothing);
    }
    chosen_or_all(sketch, uids)
}

fn chosen_or_all<'a>(
    sketch: &'a mut Sketch,
    uids: &[String],
) -> Result<impl Iterator<Item = &'a mut Part>, DraftError> {
    known(sketch, uids)?;
    let wanted: BTreeSet<String> = uids.iter().cloned().collect();
    let parts = sketch.map.parts.iter_mut();
    Ok(parts.filter(move |part| wanted.is_empty() || wanted.contains(&part.uid)))
}

/// Refuses uids that no part has.
fn known(sketch: &Sketch, uids: &[String]) -> Result<(), DraftError> {
    let there: BTreeSet<&str> = sketch.map.parts.iter().map(|p| p.uid.as_str()).collect();
    if uids.iter().all(|uid| there.contains(uid.as_str())) {
        Ok(())
    } else {
        Err(DraftError::NoPart)
    }
}

/// Somebody has had these parts in hand: they are no makeshift ones any more.
fn touch(sketch: &mut Sketch, parts: &[String]) {
    for uid in parts {
        sketch.found.remove(uid);
    }
}

fn delete(sketch: &mut Sketch, parts: &[String], pins: &[String]) -> Result<(), DraftError> {
    if parts.is_empty() && pins.is_empty() {
        return Err(DraftError::Nothing);
    }
    known(sketch, parts)?;
    remove_parts(sketch, &parts.iter().cloned().collect());
    remove_pins(sketch, &pins.iter().cloned().collect());
    Ok(())
}

fn copies(
    sketch: &mut Sketch,
    uids: &mut Uids,
    parts: &[String],
    motion: &carry::Motion,
) -> Result<Vec<String>, DraftError> {
    let originals: Vec<Part> = chosen(sketch, parts)?.map(|part| part.clone()).collect();
    let mut made = Vec::with_capacity(originals.len());
    for mut part in originals {
        carry::part(&mut part, motion)?;
        part.uid = uids.part();
        part.reference = next_of_class(&sketch.map, class_of(&part.reference));
        for pin in &mut part.pins {
            pin.uid = uids.pin();
        }
        sketch.proposed.insert(part.uid.clone());
        made.push(part.uid.clone());
        sketch.map.parts.push(part);
    }
    Ok(made)
}

/// Mirrors; a package is then numbered so that it can be: pin 1 changes places with the pin
/// opposite, which keeps the count counter-clockwise.
fn mirror(
    sketch: &mut Sketch,
    uids: &mut Uids,
    parts: &[String],
    about: Line,
    copy: bool,
) -> Result<Vec<String>, DraftError> {
    let motion = carry::mirror_about(about)?;
    let made = if copy {
        copies(sketch, uids, parts, &motion)?
    } else {
        for part in chosen(sketch, parts)? {
            carry::part(part, &motion)?;
        }
        touch(sketch, parts);
        Vec::new()
    };
    let mirrored = if copy { &made } else { parts };
    for part in chosen(sketch, mirrored)? {
        if part.kind == PartKind::Ic && part.pins.len() >= 4 {
            let places: Vec<[f64; 2]> = part.pins.iter().rev().map(|pin| pin.at).collect();
            for (pin, at) in part.pins.iter_mut().zip(places) {
                pin.at = at;
            }
        }
    }
    Ok(made)
}

fn renumber(part: &mut Part, pin_1: &str, backwards: bool) -> Result<(), DraftError> {
    let start = part
        .pins
        .iter()
        .position(|pin| pin.uid == pin_1)
        .ok_or(DraftError::NoPin)?;
    part.pins.rotate_left(start);
    if backwards {
        part.pins[1..].reverse();
    }
    for (i, pin) in part.pins.iter_mut().enumerate() {
        pin.no = (i + 1).to_string();
    }
    Ok(())
}

/// Says what parts are; a proposed reference that the kind does not bear is proposed anew.
fn be(sketch: &mut Sketch, parts: &[String], kind: PartKind) -> Result<(), DraftError> {
    if parts.is_empty() {
        return Err(DraftError::Nothing);
    }
    known(sketch, parts)?;
    for uid in parts {
        let proposed = sketch.proposed.contains(uid);
        let part = part_mut(sketch, uid)?;
        part.kind = kind;
        let fits = letters_of(kind).contains(&class_of(&part.reference));
        if proposed && !fits {
            part.reference.clear();
            let next = next_reference(&sketch.map, kind);
            part_mut(sketch, uid)?.reference = next;
        }
        if kind == PartKind::Electrolytic {
            upright(part_mut(sketch, uid)?);
        }
    }
    touch(sketch, parts);
    Ok(())
}

/// An electrolytic of two leads that was drawn as an axial part stands upright.
fn upright(part: &mut Part) {
    if let ([a, b], Outline::Rect { .. }) = (part.pins.as_slice(), &part.outline) {
        let (a, b) = (a.centre(), b.centre());
        part.outline = Outline::Circle {
            at: rounded(a.lerp(b, 0.5)).to_array(),
            diameter: micrometres((b - a).length() * 2.0).max(0.5),
        };
    }
}
