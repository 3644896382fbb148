//! Weak spots: what was found on earlier units of a model, place by place, with how many units
//! that is of how many looked at.

use std::collections::{BTreeMap, BTreeSet};

use crate::board::{BoardMap, Joint, MapIndex, Side};
use crate::stats::{Interval, wilson_95};

use super::event::{FaultKind, JointKey, Verdict};
use super::state::{PlaceKey, PlaceState, State};

/// How a note begins that this module wrote: what stands before it is the person's own.
const PREFIX: &str = "earlier units: ";

/// A place of a board that a map can mark.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum WeakPlace {
    /// One joint.
    Joint(JointKey),
    /// A whole part: board and part uid.
    Part(String, String),
}

/// What earlier units say of one place.
#[derive(Debug, Clone, PartialEq)]
pub struct WeakSpot {
    /// The place.
    pub place: WeakPlace,
    /// Units on which somebody looked at it.
    pub looked_at: usize,
    /// Units on which it was faulty: found so, reworked, or accepted after rework.
    pub faulty: usize,
    /// Units on which it was suspect, and no more than that.
    pub suspect: usize,
    /// Wilson 95 % interval of the share of units on which it was faulty or suspect.
    pub interval: Interval,
    /// What was found, the most frequent first, each with its number of units.
    pub faults: Vec<(FaultKind, usize)>,
}

impl WeakSpot {
    /// Units on which it was faulty or suspect.
    #[must_use]
    pub fn found(&self) -> usize {
        self.faulty + self.suspect
    }

    /// In words: `faulty on 2, suspect on 1 of 4 units (30 to 95 % with 95 % confidence); fractured 2`.
    #[must_use]
    pub fn words(&self) -> String {
        let counts = match (self.faulty, self.suspect) {
            (faulty, 0) => format!("faulty on {faulty}"),
            (0, suspect) => format!("suspect on {suspect}"),
            (faulty, suspect) => format!("faulty on {faulty}, suspect on {suspect}"),
        };
        let units = if self.looked_at == 1 { "unit" } else { "units" };
        let faults: Vec<String> = self
            .faults
            .iter()
            .map(|(fault, count)| format!("{} {count}", fault.words()))
            .collect();
        let faults = if faults.is_empty() {
            String::new()
        } else {
            format!("; {}", faults.join(", "))
        };
        format!(
            "{counts} of {} {units} looked at ({:.0} to {:.0} %, 95 % interval){faults}",
            self.looked_at,
            100.0 * self.interval.low,
            100.0 * self.interval.high
        )
    }
}

/// What one unit says of one place.
#[derive(Debug, Clone, Default, PartialEq)]
struct Seen {
    looked: bool,
    worst: Option<Verdict>,
    faults: BTreeSet<FaultKind>,
}

impl Seen {
    fn add(&mut self, place: &PlaceState) {
        // Something in the way is no look; a fault named beside it still stands.
        let hidden = place.cannot_be_judged && place.faults.is_empty();
        if hidden && place.verdict <= Verdict::CannotBeJudged {
            return;
        }
        self.looked = true;
        self.worst = self.worst.max(Some(place.verdict));
        self.faults.extend(place.faults.iter().map(|f| f.fault));
    }

    /// Faulty once is faulty, though it was reworked since.
    fn is_faulty(&self) -> bool {
        !self.faults.is_empty() && self.worst != Some(Verdict::Suspect)
            || matches!(
                self.worst,
                Some(Verdict::Faulty | Verdict::Reworked | Verdict::Accepted)
            )
    }

    fn is_suspect(&self) -> bool {
        !self.is_faulty() && self.worst == Some(Verdict::Suspect)
    }
}

/// Weak spots of the board of `map` over earlier units, the surest first: by the lower end of
/// the interval, then by count, then by place.
///
/// Each record comes with the code of its unit; several jobs of one unit (codes are compared
/// without regard to case and outer space) count once, with the worst that any of them says.
/// Only current verdicts count: what was withdrawn or replaced does not, and where current
/// judgements contradict each other the worst stands. A joint counts as looked at where a
/// verdict other than *cannot be judged* stands. A part counts as looked at where it or any of
/// its joints was judged. Places that the map does not have are left out.
#[must_use]
pub fn weak_spots(map: &BoardMap, units: &[(&str, &State)]) -> Vec<WeakSpot> {
    let places = Places::of(map);
    let mut by_unit: BTreeMap<String, BTreeMap<WeakPlace, Seen>> = BTreeMap::new();
    for (code, state) in units {
        let seen = by_unit.entry(code.trim().to_lowercase()).or_default();
        for (key, place) in &state.places {
            for at in places.marked_by(key) {
                let whole_part = matches!(at, WeakPlace::Part(..));
                let joint = matches!(key, PlaceKey::Joint(_));
                let entry = seen.entry(at).or_default();
                if whole_part && joint {
                    // A look at a joint is a look at its part, but a joint's fault is its own.
                    entry.looked |= !place.cannot_be_judged;
                } else {
                    entry.add(place);
                }
            }
        }
    }
    let mut tallies: BTreeMap<WeakPlace, Vec<&Seen>> = BTreeMap::new();
    for seen in by_unit.values() {
        for (place, seen) in seen.iter().filter(|(_, seen)| seen.looked) {
            tallies.entry(place.clone()).or_default().push(seen);
        }
    }
    let mut spots: Vec<WeakSpot> = tallies
        .into_iter()
        .filter_map(|(place, seen)| tally(place, &seen))
        .collect();
    spots.sort_by(|a, b| {
        b.interval
            .low
            .total_cmp(&a.interval.low)
            .then(b.found().cmp(&a.found()))
            .then_with(|| a.place.cmp(&b.place))
    });
    spots
}

fn tally(place: WeakPlace, seen: &[&Seen]) -> Option<WeakSpot> {
    let faulty = seen.iter().filter(|seen| seen.is_faulty()).count();
    let suspect = seen.iter().filter(|seen| seen.is_suspect()).count();
    if faulty + suspect == 0 {
        return None;
    }
    let mut faults: BTreeMap<FaultKind, usize> = BTreeMap::new();
    for fault in seen.iter().flat_map(|seen| &seen.faults) {
        *faults.entry(*fault).or_default() += 1;
    }
    let mut faults: Vec<(FaultKind, usize)> = faults.into_iter().collect();
    faults.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(&b.0)));
    Some(WeakSpot {
        looked_at: seen.len(),
        faulty,
        suspect,
        interval: wilson_95((faulty + suspect) as u64, seen.len() as u64)?,
        faults,
        place,
    })
}

/// What the map has, to know which keys of a record are on it.
struct Places<'a> {
    board: &'a str,
    part_of_pin: BTreeMap<&'a str, &'a str>,
    parts: BTreeSet<&'a str>,
}

impl<'a> Places<'a> {
    fn of(map: &'a BoardMap) -> Self {
        let pins = map.parts.iter().flat_map(|part| {
            part.pins
                .iter()
                .map(|pin| (pin.uid.as_str(), part.uid.as_str()))
        });
        Self {
            board: &map.board,
            part_of_pin: pins.collect(),
            parts: map.parts.iter().map(|part| part.uid.as_str()).collect(),
        }
    }

    /// The places of the map that a judgement of `key` says something of.
    fn marked_by(&self, key: &PlaceKey) -> Vec<WeakPlace> {
        match key {
            PlaceKey::Joint(joint) if joint.board.eq_ignore_ascii_case(self.board) => {
                let Some(part) = self.part_of_pin.get(joint.pin.as_str()) else {
                    return Vec::new();
                };
                let joint = JointKey {
                    board: self.board.to_owned(),
                    ..joint.clone()
                };
                let part = WeakPlace::Part(self.board.to_owned(), (*part).to_owned());
                vec![WeakPlace::Joint(joint), part]
            }
            PlaceKey::Part(board, part)
                if board.eq_ignore_ascii_case(self.board) && self.parts.contains(part.as_str()) =>
            {
                vec![WeakPlace::Part(self.board.to_owned(), part.clone())]
            }
            _ => Vec::new(),
        }
    }
}

/// What people call the place on the indexed map; `None` where the map does not have it.
#[must_use]
pub fn weak_label(index: &MapIndex<'_>, place: &WeakPlace) -> Option<String> {
    match place {
        WeakPlace::Joint(joint) => {
            let (part, pin) = index.pin(&joint.pin)?;
            let side = joint.side;
            Some(Joint { part, pin, side }.label())
        }
        WeakPlace::Part(_, part) => index.map().part(part).map(|part| part.reference.clone()),
    }
}

/// Writes weak spots into a map as its `watch` notes, so that the round begins with them.
/// What a person wrote there stays in front; what was written here before is replaced, and
/// taken out where nothing stands behind it any more. Returns how many notes changed.
pub fn write_watch_notes(map: &mut BoardMap, spots: &[WeakSpot]) -> usize {
    let mut joints: BTreeMap<&str, Vec<(Side, &WeakSpot)>> = BTreeMap::new();
    let mut parts: BTreeMap<&str, &WeakSpot> = BTreeMap::new();
    for spot in spots {
        match &spot.place {
            WeakPlace::Joint(joint) => joints
                .entry(joint.pin.as_str())
                .or_default()
                .push((joint.side, spot)),
            WeakPlace::Part(_, part) => {
                parts.insert(part.as_str(), spot);
            }
        }
    }
    let mut changed = 0;
    for part in &mut map.parts {
        let words = parts.get(part.uid.as_str()).map(|spot| spot.words());
        changed += usize::from(note(&mut part.watch, words));
        for pin in &mut part.pins {
            let words = joints.get(pin.uid.as_str()).map(|sides| {
                let usual = pin.soldered_side(part.side);
                let each = sides.iter().map(|(side, spot)| {
                    if *side == usual {
                        spot.words()
                    } else {
                        format!("{side} side: {}", spot.words())
                    }
                });
                each.collect::<Vec<_>>().join("; ")
            });
            changed += usize::from(note(&mut pin.watch, words));
        }
    }
    changed
}

/// Sets what earlier units say in one note; whether it changed.
fn note(watch: &mut Option<String>, words: Option<String>) -> bool {
    let own = watch
        .as_deref()
        .map(|text| text.find(PREFIX).map_or(text, |at| &text[..at]))
        .map(|text| text.trim_end().trim_end_matches(';').trim_end())
        .filter(|text| !text.is_empty());
    let next = match (own, words) {
        (own, None) => own.map(str::to_owned),
        (None, Some(words)) => Some(format!("{PREFIX}{words}")),
        (Some(own), Some(words)) => Some(format!("{own}; {PREFIX}{words}")),
    };
    let changed = *watch != next;
    *watch = next;
    changed
}

#[cfg(test)]
mod tests;
