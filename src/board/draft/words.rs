//! What each step is called, for undo and redo.

use super::Sketch;
use super::edit::Edit;
use crate::board::model::BoardMap;

/// Most references that are named one by one.
const NAMED: usize = 3;

pub(super) fn of(edit: &Edit, before: &Sketch, after: &Sketch) -> String {
    let parts = |uids: &[String]| references(&before.map, &after.map, uids);
    match edit {
        Edit::Describe { board, .. } => format!("Name the board {}", board.trim()),
        Edit::Frame { .. } => "Lay the photo under the board".to_owned(),
        Edit::LayAnew { .. } => "Lay the photo under the board anew".to_owned(),
        Edit::OtherSide { .. } => "Show the other side".to_owned(),
        Edit::Outline { .. } | Edit::OutlineRound { .. } => "Draw the edge of the board".to_owned(),
        Edit::Accept { joints, .. } => format!("Take over {} found joints", joints.len()),
        Edit::Row {
            count,
            extend: Some(uid),
            ..
        } => format!("Add {count} pins to {}", parts(std::slice::from_ref(uid))),
        Edit::Row { count, .. } => format!("Make {}, a row of {count}", newest(after)),
        Edit::TwoRows { count, .. } => format!("Make {}, {count} pins in two rows", newest(after)),
        Edit::TwoLeads { .. } => format!("Make {}, two leads", newest(after)),
        Edit::OnePin { .. } => format!("Make {}, one pin", newest(after)),
        Edit::Array { columns, rows, .. } => {
            format!("Make {}, {columns} by {rows} pins", newest(after))
        }
        Edit::Gather { pins, .. } => format!("Make {} of {} pins", newest(after), pins.len()),
        Edit::Duplicate { parts: of, .. } => format!("Duplicate {}", parts(of)),
        Edit::Mirror {
            parts: of, copy, ..
        } => {
            let what = if *copy { "Mirror a copy of" } else { "Mirror" };
            format!("{what} {}", parts(of))
        }
        Edit::Move { parts: of, .. } => format!("Move {}", parts(of)),
        Edit::MovePin { pin, .. } => format!("Move {}", pin_name(&after.map, pin)),
        Edit::Delete { parts: of, pins } if of.is_empty() => match pins.as_slice() {
            [one] => format!("Delete {}", pin_name(&before.map, one)),
            several => format!("Delete {} pins", several.len()),
        },
        Edit::Delete { parts: of, .. } => format!("Delete {}", parts(of)),
        Edit::Rename { part, reference } => format!(
            "Call {} {}",
            references(&before.map, &before.map, std::slice::from_ref(part)),
            reference.trim()
        ),
        Edit::RenamePin { pin, no } => {
            format!("Call {} {}", pin_name(&before.map, pin), no.trim())
        }
        Edit::Renumber { part, .. } => {
            format!("Number {} anew", parts(std::slice::from_ref(part)))
        }
        Edit::Kind { parts: of, .. } => format!("Say what {} is", parts(of)),
        Edit::Value { part, .. } => format!("Value of {}", parts(std::slice::from_ref(part))),
        Edit::Zone { parts: of, .. } => format!("Area of {}", parts(of)),
        Edit::Watch { of, why } => {
            let one = std::slice::from_ref(of);
            let name = if after.map.part(of).is_some() {
                parts(one)
            } else {
                pin_name(&after.map, of)
            };
            if why.trim().is_empty() {
                format!("{name} is no weak spot")
            } else {
                format!("{name} is a weak spot")
            }
        }
        Edit::Lands { parts: of, .. } if of.is_empty() => "Size of all lands".to_owned(),
        Edit::Lands { parts: of, .. } => format!("Lands of {}", parts(of)),
        Edit::Body { part, .. } => format!("Body of {}", parts(std::slice::from_ref(part))),
        Edit::Snap { grid, .. } => format!("Put pins on the {} mm grid", grid.pitch_mm),
        Edit::Landmark { name, .. } => format!("Landmark {}", name.trim()),
        Edit::SuggestLandmarks => "Choose landmarks".to_owned(),
        Edit::DropLandmark { name } => format!("Take landmark {} away", name.trim()),
        Edit::Rail { rail } => format!("Rail {}", rail.name.trim()),
        Edit::DropRail { name } => format!("Take rail {} away", name.trim()),
        Edit::TestPoint { point } => format!("Test point {}", point.name.trim()),
        Edit::DropTestPoint { name } => format!("Take test point {} away", name.trim()),
        Edit::Together { words, .. } => words.clone(),
    }
}

fn newest(after: &Sketch) -> &str {
    after
        .map
        .parts
        .last()
        .map_or("a part", |part| part.reference.as_str())
}

fn references(before: &BoardMap, after: &BoardMap, uids: &[String]) -> String {
    if uids.len() > NAMED {
        return format!("{} parts", uids.len());
    }
    let names: Vec<&str> = uids
        .iter()
        .filter_map(|uid| after.part(uid).or_else(|| before.part(uid)))
        .map(|part| part.reference.as_str())
        .collect();
    if names.is_empty() {
        "a part".to_owned()
    } else {
        names.join(", ")
    }
}

fn pin_name(map: &BoardMap, uid: &str) -> String {
    map.pin(uid).map_or_else(
        || "a pin".to_owned(),
        |(part, pin)| format!("{}.{}", part.reference, pin.no),
    )
}
