//! Parts and pins that two maps call alike under different identities.

use std::collections::{BTreeMap, BTreeSet};

use crate::board::model::{BoardMap, Part};

/// Parts of `old` and `new` with the same reference (without regard to case) of which neither
/// uid is in the other map: by all that a map says the same part, but no record of the one fits
/// the other. In the order of `new`.
pub(super) fn strangers<'a>(old: &'a BoardMap, new: &'a BoardMap) -> Vec<(&'a Part, &'a Part)> {
    let uids = |map: &'a BoardMap| -> BTreeSet<&str> {
        map.parts.iter().map(|part| part.uid.as_str()).collect()
    };
    let (before, after) = (uids(old), uids(new));
    let gone: BTreeMap<String, &Part> = old
        .parts
        .iter()
        .filter(|part| !after.contains(part.uid.as_str()))
        .map(|part| (name(&part.reference), part))
        .collect();
    new.parts
        .iter()
        .filter(|part| !before.contains(part.uid.as_str()))
        .filter_map(|part| Some((*gone.get(&name(&part.reference))?, part)))
        .collect()
}

/// Gives the parts and pins of `new` the uids that `old` has for the same reference and pin
/// number, so that jobs made with `old` find their joints again. A part or pin that `old` does
/// not have keeps its own, or gets a new one where another took that over. Returns how many
/// pins go by the identity that they have in `old`.
pub fn take_identities(new: &mut BoardMap, old: &BoardMap) -> usize {
    let known: BTreeMap<String, &Part> = old
        .parts
        .iter()
        .map(|part| (name(&part.reference), part))
        .collect();
    let mut parts = Vec::new();
    let mut pins = Vec::new();
    let mut kept = 0;
    for part in &mut new.parts {
        let earlier = known.get(&name(&part.reference)).copied();
        parts.push((&mut part.uid, earlier.map(|part| part.uid.clone())));
        let numbers: BTreeMap<String, &str> = earlier
            .into_iter()
            .flat_map(|part| &part.pins)
            .map(|pin| (name(&pin.no), pin.uid.as_str()))
            .collect();
        for pin in &mut part.pins {
            let wanted = numbers.get(&name(&pin.no)).map(|uid| (*uid).to_owned());
            kept += usize::from(wanted.is_some());
            pins.push((&mut pin.uid, wanted));
        }
    }
    settle(parts);
    settle(pins);
    kept
}

fn name(text: &str) -> String {
    text.trim().to_lowercase()
}

/// Sets each uid to the one that is wanted for it; the others keep theirs as far as it is free.
fn settle(uids: Vec<(&mut String, Option<String>)>) {
    let mut used = BTreeSet::new();
    let mut others = Vec::new();
    for (uid, wanted) in uids {
        match wanted.filter(|wanted| used.insert(wanted.clone())) {
            Some(wanted) => *uid = wanted,
            None => others.push(uid),
        }
    }
    for uid in others {
        let own = uid.clone();
        let mut next = 2u32;
        while !used.insert(uid.clone()) {
            *uid = format!("{own}-{next}");
            next += 1;
        }
    }
}
