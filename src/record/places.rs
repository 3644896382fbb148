//! Judgements place by place: which are current, whether they agree, and which faults stand.

use std::collections::{BTreeMap, BTreeSet};

use super::event::{Envelope, Event, EventId, Fault, Judgement, Target, Verdict};
use super::state::{Look, PlaceKey, PlaceState};

/// One counted judgement of one place.
struct Told<'a> {
    event: &'a Envelope,
    judgement: &'a Judgement,
    target: &'a Target,
    /// `replaces`, sorted; shared by all targets of the judgement.
    replaces: usize,
}

/// Builds every place that a counted judgement is about. `counted` is in record order.
pub(super) fn build(counted: &[(usize, &Envelope)]) -> BTreeMap<PlaceKey, PlaceState> {
    let mut told: BTreeMap<PlaceKey, Vec<Told<'_>>> = BTreeMap::new();
    let mut replaced_lists: Vec<Vec<EventId>> = Vec::new();
    for (_, event) in counted {
        let Event::Judged(judgement) = &event.what else {
            continue;
        };
        let mut replaces = judgement.replaces.clone();
        replaces.sort_unstable();
        replaced_lists.push(replaces);
        let mut seen = BTreeSet::new();
        for target in &judgement.targets {
            let key = PlaceKey::of(target);
            if seen.insert(key.clone()) {
                told.entry(key).or_default().push(Told {
                    event,
                    judgement,
                    target,
                    replaces: replaced_lists.len() - 1,
                });
            }
        }
    }
    told.into_iter()
        .filter_map(|(key, story)| Some((key, place(&story, &replaced_lists)?)))
        .collect()
}

fn place(story: &[Told<'_>], replaced_lists: &[Vec<EventId>]) -> Option<PlaceState> {
    let mut replaced = vec![false; story.len()];
    let mut standing: Vec<Faults> = Vec::with_capacity(story.len());
    for (index, told) in story.iter().enumerate() {
        let list = &replaced_lists[told.replaces];
        // A judgement replaces only what sorts before it.
        let earlier: Vec<usize> = if list.is_empty() {
            Vec::new()
        } else {
            (0..index)
                .filter(|earlier| list.binary_search(&story[*earlier].event.id).is_ok())
                .collect()
        };
        standing.push(faults_after(told.judgement, &earlier, &standing));
        for earlier in earlier {
            replaced[earlier] = true;
        }
    }
    let current: Vec<usize> = (0..story.len()).filter(|i| !replaced[*i]).collect();
    summarise(story, &current, &standing)
}

/// The faults that stand after a judgement.
#[derive(Default)]
struct Faults {
    named: Vec<Fault>,
    /// Whether somebody said faulty and told it in words alone.
    unnamed: bool,
}

/// The faults that stand after a judgement. One that names none of its own keeps those it
/// replaced, unless it says that no fault was seen; a rework and its acceptance keep them beside
/// their own, so that the line keeps its story and nothing is accepted by leaving it out.
fn faults_after(judgement: &Judgement, earlier: &[usize], standing: &[Faults]) -> Faults {
    let keeps = match judgement.verdict {
        Verdict::NoFaultSeen => false,
        Verdict::Reworked | Verdict::Accepted => true,
        Verdict::CannotBeJudged | Verdict::Suspect | Verdict::Faulty => judgement.faults.is_empty(),
    };
    let mut faults = Faults {
        named: judgement.faults.clone(),
        unnamed: false,
    };
    if keeps {
        for index in earlier {
            add_faults(&mut faults.named, &standing[*index].named);
            faults.unnamed |= standing[*index].unnamed;
        }
    }
    faults.unnamed |= judgement.verdict == Verdict::Faulty && faults.named.is_empty();
    faults
}

/// Adds faults; a kind that is there already keeps its own action and takes the worst severity.
fn add_faults(faults: &mut Vec<Fault>, more: &[Fault]) {
    for fault in more {
        match faults.iter_mut().find(|known| known.fault == fault.fault) {
            Some(known) => known.severity = known.severity.max(fault.severity),
            None => faults.push(fault.clone()),
        }
    }
}

fn summarise(story: &[Told<'_>], current: &[usize], standing: &[Faults]) -> Option<PlaceState> {
    let newest = &story[*current.last()?];
    let judgements = || current.iter().map(|index| story[*index].judgement);
    let mut faults = Vec::new();
    for index in current {
        add_faults(&mut faults, &standing[*index].named);
    }
    let shown = current.iter().rev().map(|index| story[*index].judgement);
    let with_spot = shown.clone().find(|judgement| judgement.seen_on.is_some());
    let mut by: Vec<String> = Vec::new();
    for index in current {
        let name = &story[*index].event.by;
        if !by.contains(name) {
            by.push(name.clone());
        }
    }
    let look = judgements().map(look_of).fold(Look::Unknown, better_look);
    Some(PlaceState {
        target: newest.target.clone(),
        verdict: judgements().map(|judgement| judgement.verdict).max()?,
        contradicted: contradicted(story, current, standing),
        cannot_be_judged: judgements().any(|j| j.verdict == Verdict::CannotBeJudged),
        obstacle: shown
            .clone()
            .map(|judgement| judgement.obstacle.clone())
            .find(|obstacle| !obstacle.is_empty())
            .unwrap_or_default(),
        notes: judgements()
            .filter(|judgement| !judgement.note.is_empty())
            .map(|judgement| judgement.note.clone())
            .collect(),
        look,
        seen_on: with_spot.and_then(|judgement| judgement.seen_on.clone()),
        evidence: shown
            .clone()
            .find_map(|judgement| judgement.evidence.clone()),
        by,
        at: newest.event.at.clone(),
        current: current.iter().map(|index| story[*index].event.id).collect(),
        story: story.iter().map(|told| told.event.id).collect(),
        unnamed_fault: current.iter().any(|index| standing[*index].unnamed),
        faults,
    })
}

/// Whether current judgements differ in verdict or faults. Two suspicions with different faults
/// do not contradict each other: both ask for a second look, and their faults add up.
fn contradicted(story: &[Told<'_>], current: &[usize], standing: &[Faults]) -> bool {
    let facts = |index: usize| {
        let mut faults: Vec<_> = standing[index]
            .named
            .iter()
            .map(|fault| (fault.fault, fault.severity))
            .collect();
        faults.sort_unstable();
        (story[index].judgement.verdict, faults)
    };
    let mut all = current.iter().map(|index| facts(*index));
    let Some(first) = all.next() else {
        return false;
    };
    all.any(|other| other.0 != first.0 || (other.0 != Verdict::Suspect && other.1 != first.1))
}

fn look_of(judgement: &Judgement) -> Look {
    match (judgement.px_per_mm, &judgement.seen_on) {
        (Some(scale), _) if scale.is_finite() => Look::Photo(scale),
        (None, None) => Look::Board,
        _ => Look::Unknown,
    }
}

fn better_look(a: Look, b: Look) -> Look {
    if b > a { b } else { a }
}
