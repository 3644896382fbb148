//! The record in words: one sentence per event, for undo labels and the printed record.

use std::collections::BTreeMap;

use crate::board::BoardMap;

use super::address::{photo_name, target_label};
use super::event::{
    BenchId, Check, CheckKind, Event, EventId, Judgement, Measurement, Outcome, Target, Verdict,
};
use super::state::State;
use super::words;

/// How many places a sentence names before it only counts them.
const NAMED_TARGETS: usize = 3;

/// One line of the record.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct HistoryLine {
    /// The event.
    pub event: EventId,
    /// The bench that wrote it.
    pub bench: BenchId,
    /// When, RFC 3339.
    pub at: String,
    /// Who.
    pub by: String,
    /// What happened, one sentence.
    pub text: String,
    /// Whether it counts; otherwise it was undone.
    pub counts: bool,
}

/// The whole record in words, oldest first. Undoing and redoing name what they are about.
#[must_use]
pub fn history(state: &State, maps: &[BoardMap]) -> Vec<HistoryLine> {
    let by_id: BTreeMap<EventId, &Event> = state
        .log
        .iter()
        .map(|logged| (logged.event.id, &logged.event.what))
        .collect();
    state
        .log
        .iter()
        .map(|logged| HistoryLine {
            event: logged.event.id,
            bench: logged.event.bench,
            at: logged.event.at.clone(),
            by: logged.event.by.clone(),
            text: match &logged.event.what {
                Event::Withdrawn { targets } => withdrawn(targets, &by_id, maps, state),
                what => describe(what, maps, state),
            },
            counts: logged.counts(),
        })
        .collect()
}

/// What a withdrawal is about; withdrawing a withdrawal is redoing what that one had undone.
fn withdrawn(
    targets: &[EventId],
    by_id: &BTreeMap<EventId, &Event>,
    maps: &[BoardMap],
    state: &State,
) -> String {
    let mut said: Vec<String> = Vec::new();
    for target in targets {
        match by_id.get(target) {
            Some(Event::Withdrawn { targets }) => said.extend(targets.iter().map(|redone| {
                let what = by_id.get(redone);
                let what =
                    what.map_or_else(|| NOT_HERE.to_owned(), |what| describe(what, maps, state));
                format!("Redone: {what}")
            })),
            Some(what) => said.push(format!("Undone: {}", describe(what, maps, state))),
            None => said.push(format!("Undone: {NOT_HERE}")),
        }
    }
    said.join(" ")
}

/// Stands for an event that has not arrived in this folder.
const NOT_HERE: &str = "an entry that is not here yet.";

/// What happened, in one sentence.
#[must_use]
pub fn describe(event: &Event, maps: &[BoardMap], state: &State) -> String {
    match event {
        Event::Started(unit) => format!("Job started for {} ({}).", unit.code, unit.model),
        Event::MapAdopted { board, sha256, .. } => {
            format!("Map {} adopted for board {board}.", short(sha256))
        }
        Event::PhotoAdded(facts) => format!("Photo {} added.", facts.name),
        Event::PhotoPlaced { photo, view } => format!(
            "Photo {} shows the {} side of board {}.",
            photo_name(photo, state),
            words::side(view.side),
            view.board
        ),
        Event::Aligned(alignment) => format!(
            "Photo {} aligned to board {} by {}.",
            photo_name(&alignment.photo, state),
            alignment.view.board,
            (alignment.automatic.as_ref()).map_or_else(
                || alignment.method.clone(),
                |matched| {
                    let unit = matched.unit.as_ref();
                    let whose = unit.map_or_else(String::new, |unit| format!(" of unit {unit}"));
                    format!(
                        "matching photo {}{whose}",
                        photo_name(&matched.against, state)
                    )
                }
            )
        ),
        Event::Judged(judgement) => judged(judgement, maps, state),
        Event::Measured(measurement) => measured(measurement),
        Event::Checked(check) => checked(check),
        Event::Reopened { board, reason } => {
            let what = board
                .as_ref()
                .map_or_else(|| "The unit".to_owned(), |board| format!("Board {board}"));
            with_remark(format!("{what} was opened"), reason)
        }
        Event::Reseated { board, part, note } => {
            with_remark(format!("{board}:{part} was reseated"), note)
        }
        Event::ClosedUp { note } => with_remark("The unit was closed up".to_owned(), note),
        Event::CoverageDemanded(demand) => format!(
            "Coverage asked for: {:.0} % of safety and supply joints before power, {:.0} % of all \
             joints before closing, at {} px/mm or more.",
            demand.before_power * 100.0,
            demand.before_closing * 100.0,
            demand.least_px_per_mm
        ),
        Event::Noted { text, photo } => {
            let on = photo.as_ref().map_or_else(String::new, |p| {
                format!(" on photo {}", photo_name(p, state))
            });
            format!("Note{on}: {text}")
        }
        Event::Withdrawn { targets } => match targets.len() {
            1 => match state.event(targets[0]).map(|logged| &logged.event.what) {
                Some(Event::Withdrawn { targets }) => {
                    let again = targets.first().and_then(|id| state.event(*id));
                    match again.map(|logged| &logged.event.what) {
                        // Whatever a line of a journal names, itself even: words end here.
                        Some(Event::Withdrawn { .. }) | None => "One step put back.".to_owned(),
                        Some(again) => format!("Put back: {}", describe(again, maps, state)),
                    }
                }
                Some(taken) => format!("Taken back: {}", describe(taken, maps, state)),
                None => "One step withdrawn.".to_owned(),
            },
            n => format!("{n} steps withdrawn."),
        },
        Event::Unknown(value) => {
            let kind = value
                .get("kind")
                .and_then(serde_json::Value::as_str)
                .unwrap_or("no kind");
            format!("Something of a newer version ({kind}), kept as it is.")
        }
    }
}

fn short(hash: &str) -> &str {
    hash.get(..8).unwrap_or(hash)
}

fn with_remark(sentence: String, remark: &str) -> String {
    if remark.trim().is_empty() {
        format!("{sentence}.")
    } else {
        format!("{sentence}: {remark}")
    }
}

fn judged(judgement: &Judgement, maps: &[BoardMap], state: &State) -> String {
    let mut text = format!(
        "{}: {}",
        places(&judgement.targets, maps, state),
        judgement.verdict.words()
    );
    for fault in &judgement.faults {
        text += &format!(", {} ({})", fault.fault.words(), fault.severity.words());
    }
    if !judgement.obstacle.is_empty() {
        text += &format!(", in the way: {}", judgement.obstacle);
    }
    if let Some(by) = judgement.confirmed_by {
        let cracked = judgement.verdict != Verdict::NoFaultSeen;
        text += &format!(", {}", by.words(cracked));
    }
    with_remark(text, &judgement.note)
}

fn places(targets: &[Target], maps: &[BoardMap], state: &State) -> String {
    let named: Vec<String> = targets
        .iter()
        .take(NAMED_TARGETS)
        .map(|target| target_label(target, maps, state))
        .collect();
    match targets.len().saturating_sub(NAMED_TARGETS) {
        0 => named.join(", "),
        more => format!("{} and {more} more", named.join(", ")),
    }
}

fn measured(measurement: &Measurement) -> String {
    let readings: Vec<String> = measurement
        .readings
        .iter()
        .map(|reading| {
            let (name, unit) = words::quantity(reading.quantity);
            format!("{name} {} {unit}", reading.value)
        })
        .collect();
    let sentence = format!(
        "Measured at {}: {}",
        measurement.subject,
        readings.join(", ")
    );
    with_remark(sentence, &measurement.note)
}

fn checked(check: &Check) -> String {
    let outcome = match (&check.check, check.outcome) {
        (CheckKind::StoredCharge, Outcome::Passed) => "done",
        (_, outcome) => outcome.words(),
    };
    let volts = check
        .volts
        .map(|volts| format!(", {volts} V"))
        .unwrap_or_default();
    with_remark(
        format!("Checked {}: {outcome}{volts}", check.check.words()),
        &check.note,
    )
}
