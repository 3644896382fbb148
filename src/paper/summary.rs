//! What a slip says besides its lines: hazards, materials, coverage, the gate, and what it does
//! not say.

use std::collections::{BTreeMap, BTreeSet};

use super::line::Draft;
use super::site::{described, site_of};
use super::slip::{board_of, title};
use super::view::{GateLine, Obstacle, Term};
use super::words::{capital, counted, day, listed, small};
use super::workmanship::{Need, workmanship};
use crate::board::{BoardMap, Part, PartKind, Side, Zone};
use crate::record::{Event, JointKey, Mark, State, Verdict};

/// Most parts named in one hazard before the list is cut: a caution that fills a page is not read.
const MOST_NAMED: usize = 8;

/// What is dangerous on these boards, by the maps.
#[must_use]
pub fn hazards(maps: &BTreeMap<String, BoardMap>) -> Vec<String> {
    let mut hazards = Vec::new();
    for map in maps.values() {
        let board = title(map);
        let named = |wanted: &dyn Fn(&Part) -> bool| -> Vec<String> {
            map.parts
                .iter()
                .filter(|part| wanted(part))
                .map(|part| part.reference.clone())
                .collect()
        };
        let safety = named(&|part| part.zone == Zone::Safety);
        if !safety.is_empty() {
            hazards.push(format!(
                "Mains or otherwise dangerous on the {board}: {}.",
                few(&safety)
            ));
        }
        let charge = charged(map);
        if charge.is_empty() {
            hazards.push(format!(
                "The map of the {board} names no part that holds charge. That is no proof that \
                 there is none: measure."
            ));
        } else {
            hazards.push(format!(
                "Measure stored charge on {} ({board}); do not trust time or a switch off.",
                few(&charge)
            ));
        }
    }
    if maps.is_empty() {
        hazards.push(
            "There is no map of this unit: nothing here says which parts hold charge or are at \
             mains. Find out before you touch."
                .to_owned(),
        );
    }
    hazards
}

/// Electrolytics of the supply and safety areas; all electrolytics where there are none there.
fn charged(map: &BoardMap) -> Vec<String> {
    let of = |wanted: &dyn Fn(&Part) -> bool| -> Vec<String> {
        map.parts
            .iter()
            .filter(|part| part.kind == PartKind::Electrolytic && wanted(part))
            .map(|part| part.reference.clone())
            .collect()
    };
    let supply = of(&|part| part.zone != Zone::Load);
    if supply.is_empty() { of(&|_| true) } else { supply }
}

fn few(names: &[String]) -> String {
    if names.len() <= MOST_NAMED {
        listed(names)
    } else {
        let more = names.len() - MOST_NAMED;
        format!("{} and {more} more", names[..MOST_NAMED].join(", "))
    }
}

/// What to have at hand: consumables first, then parts by kind and value with their places.
#[must_use]
pub fn materials(drafts: &[Draft<'_>]) -> Vec<String> {
    let mut needs: BTreeSet<Need> = BTreeSet::new();
    let mut parts: BTreeMap<(String, bool), Vec<String>> = BTreeMap::new();
    for draft in drafts {
        if draft.marks.iter().any(|m| m.place.verdict == Verdict::Reworked) {
            continue;
        }
        let own: BTreeSet<Need> = draft
            .faults()
            .iter()
            .flat_map(|fault| workmanship(fault.fault).needs.iter().copied())
            .collect();
        let sure = own.contains(&Need::Part);
        if sure || own.contains(&Need::PartPerhaps) {
            for (reference, kind, value) in &draft.site.parts {
                let places = parts.entry((described(*kind, value), !sure)).or_default();
                if !places.contains(reference) {
                    places.push(reference.clone());
                }
            }
        }
        needs.extend(own);
    }
    let mut list: Vec<String> = needs.into_iter().filter_map(consumable).collect();
    for ((what, perhaps), places) in parts {
        let what = if what.is_empty() { "part".to_owned() } else { what };
        let perhaps = if perhaps { ", perhaps" } else { "" };
        list.push(format!("{} {what} ({}){perhaps}", places.len(), listed(&places)));
    }
    list
}

fn consumable(need: Need) -> Option<String> {
    let word = match need {
        Need::Solder => "solder",
        Need::Flux => "flux",
        Need::Wick => "wick or pump",
        Need::Cleaner => "cleaning fluid and brush",
        Need::Wire => "insulated wire",
        Need::Adhesive => "adhesive for lands",
        Need::Cord => "cord or wire as fitted",
        Need::Part | Need::PartPerhaps => return None,
    };
    Some(word.to_owned())
}

/// The fault terms that stand on the slip, each once, with what they mean.
#[must_use]
pub fn terms(drafts: &[Draft<'_>]) -> Vec<Term> {
    let kinds: BTreeSet<_> = drafts
        .iter()
        .flat_map(Draft::faults)
        .map(|fault| fault.fault)
        .collect();
    kinds
        .into_iter()
        .map(|kind| {
            let row = workmanship(kind);
            Term {
                term: row.term.to_owned(),
                meaning: row.meaning.to_owned(),
            }
        })
        .collect()
}

/// Who looked at the unit, and the first and last time.
#[must_use]
pub fn looked(state: &State) -> (Vec<String>, Option<[String; 2]>) {
    let mut by: Vec<String> = Vec::new();
    let mut times: Vec<&str> = Vec::new();
    for logged in state.log.iter().filter(|logged| logged.counts()) {
        if matches!(logged.event.what, Event::Judged(_)) {
            times.push(&logged.event.at);
            if !by.contains(&logged.event.by) {
                by.push(logged.event.by.clone());
            }
        }
    }
    let span = times
        .first()
        .zip(times.last())
        .map(|(first, last)| [(*first).to_owned(), (*last).to_owned()]);
    (by, span)
}

/// A place whose rework was accepted, in one sentence.
#[must_use]
pub fn accepted(maps: &BTreeMap<String, BoardMap>, mark: &Mark<'_>) -> String {
    let label = label(maps, mark.key, &mark.place.target);
    let terms: Vec<String> = mark
        .place
        .faults
        .iter()
        .map(|fault| small(workmanship(fault.fault).term))
        .collect();
    let what = if terms.is_empty() {
        String::new()
    } else {
        format!(" ({})", listed(&terms))
    };
    format!(
        "{label}{what}: accepted by {}, {}",
        listed(&mark.place.by),
        day(&mark.place.at)
    )
}

fn label(
    maps: &BTreeMap<String, BoardMap>,
    key: &crate::record::PlaceKey,
    target: &crate::record::Target,
) -> String {
    let map = board_of(Some(key)).and_then(|board| maps.get(board));
    site_of(&[key], target, map).label
}

/// Places that cannot be judged as they are.
#[must_use]
pub fn cannot_judge(state: &State, maps: &BTreeMap<String, BoardMap>) -> Vec<Obstacle> {
    state
        .places
        .iter()
        .filter(|(_, place)| place.cannot_be_judged)
        .map(|(key, place)| Obstacle {
            place: label(maps, key, &place.target),
            obstacle: if place.obstacle.trim().is_empty() {
                "nobody wrote down what is in the way".to_owned()
            } else {
                place.obstacle.clone()
            },
        })
        .collect()
}

/// What share of the joints somebody has judged, per board and side.
#[must_use]
pub fn coverage(state: &State, maps: &BTreeMap<String, BoardMap>) -> Vec<String> {
    maps.values()
        .flat_map(|map| {
            [Side::Solder, Side::Component]
                .into_iter()
                .filter_map(move |side| side_coverage(state, map, side))
        })
        .collect()
}

/// The side where a pin is soldered: behind its part where it goes through a hole.
fn soldered_side(part: Side, drill: Option<f64>) -> Side {
    match (part, drill) {
        (Side::Component, Some(_)) => Side::Solder,
        (Side::Solder, Some(_)) => Side::Component,
        (side, None) => side,
    }
}

fn side_coverage(state: &State, map: &BoardMap, side: Side) -> Option<String> {
    let (mut judged, mut all) = (0, 0);
    let mut finest: Option<f64> = None;
    let mut coarsest: Option<f64> = None;
    for (part, pin) in map.parts.iter().flat_map(|part| part.pins.iter().map(move |pin| (part, pin))) {
        if soldered_side(part.side, pin.drill) != side {
            continue;
        }
        all += 1;
        let joint = state.joint(&JointKey {
            board: map.board.clone(),
            pin: pin.uid.clone(),
            side,
        });
        if joint.verdict.is_some_and(|v| v != Verdict::CannotBeJudged) {
            judged += 1;
            if let Some(scale) = joint.look.px_per_mm() {
                finest = Some(finest.map_or(scale, |f| f.max(scale)));
                coarsest = Some(coarsest.map_or(scale, |c| c.min(scale)));
            }
        }
    }
    if all == 0 {
        return None;
    }
    let scale = match (coarsest, finest) {
        (Some(low), Some(high)) if high - low >= 1.0 => {
            format!(", on photos at {low:.0} to {high:.0} px/mm")
        }
        (Some(low), _) => format!(", on photos at {low:.0} px/mm"),
        _ => String::new(),
    };
    let side = match side {
        Side::Component => "component side",
        Side::Solder => "solder side",
    };
    let left = all - judged;
    Some(format!(
        "{}, {side}: {judged} of {} judged{scale}; {}.",
        capital(&title(map)),
        counted(all, "joint", "joints"),
        if left == 0 {
            "none left unseen".to_owned()
        } else {
            format!("{left} not looked at")
        }
    ))
}

/// How the power stages stand.
#[must_use]
pub fn gate(state: &State, maps: &BTreeMap<String, BoardMap>) -> Vec<GateLine> {
    let _ = (state, maps);
    Vec::new()
}

/// What this paper does not say: the reader must not take silence for a verdict.
#[must_use]
pub fn silent(state: &State, maps: &BTreeMap<String, BoardMap>) -> Vec<String> {
    let mut silent = vec![
        "It does not say that a joint without a line is whole: only that nobody marked it."
            .to_owned(),
        "A photograph cannot show hidden fillets, broken wires inside insulation or faults that \
         come with heat."
            .to_owned(),
        "The hint is a hint: it ranks joints for a second look and neither clears nor condemns \
         any."
            .to_owned(),
        "Pictures are cut from the photos, turned as the board lies and straightened; the \
         originals are in the job, unaltered."
            .to_owned(),
    ];
    if maps.is_empty() {
        silent.push("There is no board map: how much was not looked at is not known.".to_owned());
    }
    if !state.unknown.is_empty() {
        silent.push(format!(
            "The job holds {} of a newer version that this program cannot read; they may say more.",
            counted(state.unknown.len(), "entry", "entries")
        ));
    }
    if state.maps.values().any(crate::record::BoardAdoption::contradicted) {
        silent.push("Two different maps stand for one board: places may be named by either.".to_owned());
    }
    silent
}
