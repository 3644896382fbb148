//! What a slip says besides its lines: hazards, materials, coverage, the gate, and what it does
//! not say.

use std::collections::{BTreeMap, BTreeSet};

use super::line::Draft;
use super::site::site_of;
use super::slip::{NoPhoto, board_of, map_of, title};
use super::view::{BesideHint, Obstacle, Term};
use super::words::{capital, counted, day, listed, shown};
use crate::board::{BoardMap, Part, PartKind, Side, Zone};
use crate::record::{self, Covered, Event, Mark, Need, PhotoId, PlaceKey, State, Target, Verdict};

/// As of which entry of the record a paper was written.
pub(super) fn as_of(state: &State) -> String {
    match state.log.last() {
        None => "Nothing is recorded yet.".to_owned(),
        Some(last) => {
            let id = last.event.id.simple().to_string();
            let time = last.event.at.get(11..16).unwrap_or_default();
            format!(
                "As of entry {} of the record, {} {time} ({}).",
                state.log.len(),
                day(&last.event.at),
                &id[id.len().saturating_sub(8)..]
            )
        }
    }
}

/// Most parts named in one hazard before the list is cut: a caution that fills a page is not read.
const MOST_NAMED: usize = 8;

/// What is dangerous on these boards, by the maps.
#[must_use]
pub(super) fn hazards(maps: &[BoardMap]) -> Vec<String> {
    let mut hazards = Vec::new();
    for map in maps {
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
    if supply.is_empty() {
        of(&|_| true)
    } else {
        supply
    }
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
pub(super) fn materials(drafts: &[Draft<'_>]) -> Vec<String> {
    let mut needs: BTreeSet<Need> = BTreeSet::new();
    let mut parts: BTreeMap<(String, bool), Vec<String>> = BTreeMap::new();
    for draft in drafts {
        if draft
            .marks
            .iter()
            .any(|m| m.place.verdict == Verdict::Reworked)
        {
            continue;
        }
        let own: BTreeSet<Need> = draft
            .faults()
            .iter()
            .flat_map(|fault| fault.fault.workmanship().needs.iter().copied())
            .collect();
        let sure = own.contains(&Need::Part);
        if sure || own.contains(&Need::PartPerhaps) {
            for (reference, described) in &draft.site.parts {
                let places = parts.entry((described.clone(), !sure)).or_default();
                if !places.contains(reference) {
                    places.push(reference.clone());
                }
            }
        }
        needs.extend(own);
    }
    let consumables: Vec<&str> = needs.into_iter().filter_map(consumable).collect();
    let mut list: Vec<String> = Vec::new();
    if !consumables.is_empty() {
        list.push(capital(&listed(&consumables)));
    }
    for ((what, perhaps), places) in parts {
        let what = if what.is_empty() {
            "part".to_owned()
        } else {
            what
        };
        let perhaps = if perhaps { ", perhaps" } else { "" };
        list.push(format!(
            "{} {what} ({}){perhaps}",
            places.len(),
            listed(&places)
        ));
    }
    list
}

fn consumable(need: Need) -> Option<&'static str> {
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
    Some(word)
}

/// The fault terms that stand on the slip, each once, with what they mean.
#[must_use]
pub(super) fn terms(drafts: &[Draft<'_>]) -> Vec<Term> {
    let kinds: BTreeSet<_> = drafts
        .iter()
        .flat_map(Draft::faults)
        .map(|fault| fault.fault)
        .collect();
    kinds
        .into_iter()
        .map(|kind| {
            let row = kind.workmanship();
            Term {
                term: capital(row.term),
                meaning: row.meaning.to_owned(),
            }
        })
        .collect()
}

/// Who looked at the unit, and the first and last time.
#[must_use]
pub(super) fn looked(state: &State) -> (Vec<String>, Option<[String; 2]>) {
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
pub(super) fn accepted(maps: &[BoardMap], mark: &Mark<'_>) -> String {
    let label = label(maps, mark.key, &mark.place.target);
    let terms: Vec<String> = mark
        .place
        .faults
        .iter()
        .map(|fault| fault.fault.words().to_owned())
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

fn label(maps: &[BoardMap], key: &PlaceKey, target: &Target) -> String {
    let map = board_of(Some(key)).and_then(|board| map_of(maps, board));
    site_of(&[key], target, map).label
}

/// Places that cannot be judged as they are.
#[must_use]
pub(super) fn cannot_judge(state: &State, maps: &[BoardMap]) -> Vec<Obstacle> {
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
pub(super) fn coverage(state: &State, maps: &[BoardMap]) -> Vec<String> {
    record::coverage(state, maps)
        .iter()
        .zip(maps)
        .flat_map(|(board, map)| {
            [Side::Solder, Side::Component]
                .into_iter()
                .filter_map(move |side| Some((side, board.sides.get(&side)?)))
                .filter(|(_, covered)| covered.total > 0)
                .map(move |(side, covered)| side_coverage(map, side, covered))
        })
        .collect()
}

fn side_coverage(map: &BoardMap, side: Side, covered: &Covered) -> String {
    let side = match side {
        Side::Component => "component side",
        Side::Solder => "solder side",
    };
    let mut rest = Vec::new();
    let unseen = covered.unseen.saturating_sub(covered.too_coarse);
    if unseen > 0 {
        rest.push(format!("{unseen} not looked at"));
    }
    if covered.too_coarse > 0 {
        rest.push(format!(
            "{} looked at too coarsely to count",
            covered.too_coarse
        ));
    }
    if covered.cannot_be_judged > 0 {
        rest.push(format!("{} cannot be judged", covered.cannot_be_judged));
    }
    let scale = covered.px_per_mm.map_or_else(String::new, |scale| {
        format!(", on photos at {scale:.0} px/mm (median)")
    });
    let rest = if rest.is_empty() {
        String::new()
    } else {
        format!("; {}", rest.join(", "))
    };
    format!(
        "{}, {side}: {} of {} judged{scale}{rest}.",
        capital(&title(map)),
        covered.judged,
        counted(covered.total, "joint", "joints"),
    )
}

/// What the eye marked before it saw the hint; `None` where there is nothing to set side by side.
#[must_use]
pub(super) fn beside_hint(state: &State) -> Option<BesideHint> {
    let counted = record::eye_and_hint(state);
    (counted.compared() > 0).then(|| BesideHint {
        words: counted.words_on_paper(),
        both: counted.both,
        eye_alone: counted.eye_alone,
        hint_alone: counted.hint_alone,
        neither: counted.neither,
        without_reading: counted.without_reading,
        hint_of_eye: counted.hint_of_eye().map(|share| [share.low, share.high]),
    })
}

/// Where the pictures come from. That originals are unaltered is said of those only that are.
fn pictures(state: &State, lost: &BTreeMap<PhotoId, NoPhoto>) -> String {
    let mut text =
        "Pictures are cut from the photos, turned as the board lies and straightened".to_owned();
    if lost.is_empty() {
        return text + "; the originals are in the job, unaltered.";
    }
    for (why, said) in [
        (
            NoPhoto::Altered,
            "No picture is cut from what was altered in the job after it came in",
        ),
        (
            NoPhoto::Missing,
            "What is missing from the job, or cannot be opened",
        ),
    ] {
        let names: Vec<String> = (lost.iter())
            .filter(|(_, reason)| **reason == why)
            .map(|(id, _)| state.photos.get(id).map_or(id, |photo| &photo.facts.name))
            .map(|name| shown(name).replace('\n', " "))
            .collect();
        if !names.is_empty() {
            text += &format!(". {said}: {}", listed(&names));
        }
    }
    text + ". Bring that back from a copy; the originals that the pictures are cut from are unaltered."
}

/// What this paper does not say: the reader must not take silence for a verdict.
#[must_use]
pub(super) fn silent(
    state: &State,
    maps: &[BoardMap],
    lost: &BTreeMap<PhotoId, NoPhoto>,
) -> Vec<String> {
    let mut silent = vec![
        "It does not say that a joint without a line is whole: only that nobody marked it."
            .to_owned(),
        "A photograph cannot show hidden fillets, broken wires inside insulation or faults that \
         come with heat."
            .to_owned(),
        "The hint is a hint: it ranks joints for a second look and neither clears nor condemns \
         any."
            .to_owned(),
        pictures(state, lost),
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
    if state.maps.values().any(record::BoardAdoption::contradicted) {
        silent.push(
            "Two different maps stand for one board: places may be named by either.".to_owned(),
        );
    }
    silent
}
