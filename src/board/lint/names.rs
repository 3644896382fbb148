//! Names: blank, repeated, unfit for an address, or against the class letters.

use std::collections::BTreeMap;

use super::{Finding, Kind, part_place, pin_place};
use crate::board::address::MARKS;
use crate::board::class_letters::{class_of, letters_of};
use crate::board::model::BoardMap;

pub(super) fn check(map: &BoardMap, findings: &mut Vec<Finding>) {
    blanks(map, findings);
    references(map, findings);
    uids(map, findings);
    pin_numbers(map, findings);
    labels(map, findings);
    class_letters(map, findings);
}

fn blanks(map: &BoardMap, findings: &mut Vec<Finding>) {
    let mut kind = Kind::error(findings, "blank or unusable names");
    for (what, text) in [("model", &map.model), ("board", &map.board)] {
        if text.trim().is_empty() {
            kind.add(
                "whole map".to_owned(),
                format!("{what} is blank"),
                "name it",
            );
        }
    }
    if map.board.contains(MARKS) {
        kind.add(
            "whole map".to_owned(),
            format!("board name `{}` holds `:`, `.` or `/`", map.board),
            "leave these out: addresses are divided by them",
        );
    }
    for (i, part) in map.parts.iter().enumerate() {
        if part.reference.trim().is_empty() {
            kind.add(
                format!("part number {} of the list", i + 1),
                "ref is blank",
                "give it the reference printed on the board",
            );
        } else if unusable(&part.reference) {
            kind.add(
                part_place(part),
                "the reference holds `:`, `.`, `/` or outer space",
                "leave these out: addresses are divided by them",
            );
        }
        if part.uid.trim().is_empty() {
            kind.add(part_place(part), "uid is blank", "give it a uid of its own");
        }
        for pin in &part.pins {
            if pin.uid.trim().is_empty() {
                kind.add(
                    pin_place(part, pin),
                    "uid is blank",
                    "give it a uid of its own",
                );
            }
            if pin.no.trim().is_empty() || pin.no.contains([':', '/']) || pin.no.trim() != pin.no {
                kind.add(
                    pin_place(part, pin),
                    "the pin number is blank or holds `:`, `/` or outer space",
                    "give the number or letter that the trade counts by",
                );
            }
        }
    }
}

fn unusable(reference: &str) -> bool {
    reference.contains(MARKS)
        || reference.contains(char::is_control)
        || reference.trim() != reference
}

/// Calls `repeated` for each item whose key was seen before, with the first that had it.
fn repeats<'a, T: Copy + 'a>(
    items: impl Iterator<Item = T>,
    key: impl Fn(T) -> String,
    mut repeated: impl FnMut(T, T),
) {
    let mut seen = BTreeMap::new();
    for item in items {
        let key = key(item);
        if key.is_empty() {
            continue;
        }
        match seen.entry(key) {
            std::collections::btree_map::Entry::Occupied(first) => repeated(*first.get(), item),
            std::collections::btree_map::Entry::Vacant(free) => {
                free.insert(item);
            }
        }
    }
}

fn references(map: &BoardMap, findings: &mut Vec<Finding>) {
    let mut kind = Kind::error(findings, "repeated references");
    repeats(
        map.parts.iter(),
        |part| part.reference.trim().to_lowercase(),
        |first, part| {
            kind.add(
                part_place(part),
                format!(
                    "the reference is used twice (uids {} and {})",
                    first.uid, part.uid
                ),
                "give each part its own reference",
            );
        },
    );
}

fn uids(map: &BoardMap, findings: &mut Vec<Finding>) {
    let mut kind = Kind::error(findings, "repeated uids");
    repeats(
        map.parts.iter(),
        |part| part.uid.clone(),
        |first, part| {
            kind.add(
                part_place(part),
                format!("uid {} is also that of part {}", part.uid, first.reference),
                "give each part its own uid; never use one again",
            );
        },
    );
    let pins = || {
        map.parts
            .iter()
            .flat_map(|part| part.pins.iter().map(move |pin| (part, pin)))
    };
    repeats(
        pins(),
        |(_, pin)| pin.uid.clone(),
        |(other, first), (part, pin)| {
            kind.add(
                pin_place(part, pin),
                format!(
                    "uid {} is also that of {}",
                    pin.uid,
                    pin_place(other, first)
                ),
                "give each pin its own uid on the whole board; never use one again",
            );
        },
    );
}

fn pin_numbers(map: &BoardMap, findings: &mut Vec<Finding>) {
    let mut kind = Kind::error(findings, "repeated pin numbers");
    for part in &map.parts {
        repeats(
            part.pins.iter(),
            |pin| pin.no.trim().to_lowercase(),
            |first, pin| {
                kind.add(
                    pin_place(part, pin),
                    format!(
                        "the number is used twice in this part (uids {} and {})",
                        first.uid, pin.uid
                    ),
                    "number the pins as the trade counts, each once",
                );
            },
        );
    }
}

fn labels(map: &BoardMap, findings: &mut Vec<Finding>) {
    let mut kind = Kind::error(findings, "repeated or blank names");
    let groups: [(&str, Vec<&String>); 3] = [
        ("landmark", map.landmarks.iter().map(|l| &l.name).collect()),
        ("rail", map.rails.iter().map(|r| &r.name).collect()),
        (
            "test point",
            map.test_points.iter().map(|t| &t.name).collect(),
        ),
    ];
    for (what, names) in groups {
        for (i, _) in names
            .iter()
            .enumerate()
            .filter(|(_, n)| n.trim().is_empty())
        {
            kind.add(
                format!("{what} number {} of the list", i + 1),
                "name is blank",
                "name it as the person at the bench would",
            );
        }
        repeats(
            names.into_iter(),
            |name| name.trim().to_lowercase(),
            |_, name| {
                kind.add(
                    format!("{what} {name}"),
                    "the name is used twice",
                    "give each its own name",
                );
            },
        );
    }
}

fn class_letters(map: &BoardMap, findings: &mut Vec<Finding>) {
    let mut kind = Kind::warning(findings, "class letters");
    for part in &map.parts {
        let letters = letters_of(part.kind);
        let class = class_of(part.reference.trim());
        if letters.is_empty() || part.reference.trim().is_empty() {
            continue;
        }
        if !letters.iter().any(|l| l.eq_ignore_ascii_case(class)) {
            kind.add(
                part_place(part),
                format!(
                    "class letters `{class}` are not those of its kind (IEEE 315: {})",
                    letters.join(", ")
                ),
                "keep it where the board is printed so; otherwise mend the reference or the kind",
            );
        }
    }
}
