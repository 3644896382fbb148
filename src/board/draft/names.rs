//! References and identities for new parts.

use std::collections::{BTreeMap, BTreeSet};

use crate::board::class_letters::{class_of, letters_of};
use crate::board::model::{BoardMap, PartKind};

/// Class letters of parts that are none of the kinds: the trade has none (ours).
const OTHER: &str = "X";

/// Class letters that a new part of this kind gets.
#[must_use]
pub fn class_letters(kind: PartKind) -> &'static str {
    letters_of(kind).first().copied().unwrap_or(OTHER)
}

/// The next free reference of a kind: R7 after R6, whatever is missing before.
#[must_use]
pub fn next_reference(map: &BoardMap, kind: PartKind) -> String {
    next_of_class(map, class_letters(kind))
}

pub(super) fn next_of_class(map: &BoardMap, class: &str) -> String {
    let greatest = map
        .parts
        .iter()
        .filter(|part| class_of(&part.reference).eq_ignore_ascii_case(class))
        .filter_map(|part| part.reference[class.len()..].parse::<u64>().ok())
        .max()
        .unwrap_or(0);
    format!("{class}{}", greatest.saturating_add(1))
}

/// Gives out identities that the map never had: not those of what was made and taken away again,
/// nor those that an earlier version of a map that is gone on with may have had.
#[derive(Debug, Clone)]
pub(super) struct Uids {
    taken: BTreeSet<String>,
    /// Tells the sitting apart: empty for a new map, else from what the map was at its begin.
    sitting: String,
    next: u64,
}

impl Uids {
    pub(super) fn new() -> Self {
        Self {
            taken: BTreeSet::new(),
            sitting: String::new(),
            next: 1,
        }
    }

    pub(super) fn of(map: &BoardMap) -> Self {
        /// Six hexadecimal digits: two sittings share them once in sixteen million.
        const DIGITS: usize = 6;
        let parts = map.parts.iter().map(|part| part.uid.clone());
        let pins = map.parts.iter().flat_map(|part| &part.pins);
        Self {
            taken: parts.chain(pins.map(|pin| pin.uid.clone())).collect(),
            sitting: format!("{}-", &map.sha256()[..DIGITS]),
            next: 1,
        }
    }

    pub(super) fn part(&mut self) -> String {
        self.give("p")
    }

    pub(super) fn pin(&mut self) -> String {
        self.give("j")
    }

    fn give(&mut self, letter: &str) -> String {
        loop {
            let uid = format!("{letter}{}{}", self.sitting, self.next);
            self.next += 1;
            if !self.taken.contains(&uid) {
                return uid;
            }
        }
    }
}

/// Where each uid stands: part, or part and pin.
pub(super) fn pin_slots(map: &BoardMap) -> BTreeMap<&str, (usize, usize)> {
    map.parts
        .iter()
        .enumerate()
        .flat_map(|(i, part)| {
            part.pins
                .iter()
                .enumerate()
                .map(move |(j, pin)| (pin.uid.as_str(), (i, j)))
        })
        .collect()
}
