//! One line of the slip from one gesture's marks.

use super::error::PaperError;
use super::picture::Picture;
use super::pictures::Pictures;
use super::site::Site;
use super::slip::{SlipSource, lie, map_of};
use super::view::{FaultLine, Line, SeverityWord, Signed};
use super::words::{capital, day, listed, sentence};
use crate::board::{PartKind, Zone};
use crate::record::{
    Event, EventId, Fault, FaultKind, Mark, Need, PlaceState, Severity, State, Verdict,
};

/// A line in the making: the marks of one gesture, resolved against the map.
#[derive(Debug, Clone)]
pub(super) struct Draft<'a> {
    /// The marks, at least one.
    pub(super) marks: Vec<Mark<'a>>,
    /// Where it is.
    pub(super) site: Site,
}

impl Draft<'_> {
    /// The faults that stand, worst first.
    #[must_use]
    pub(super) fn faults(&self) -> Vec<Fault> {
        let mut faults = self
            .marks
            .first()
            .map_or_else(Vec::new, |mark| mark.place.faults.clone());
        faults.sort_by_key(|fault| std::cmp::Reverse(fault.severity));
        faults
    }
}

/// Writes one line.
///
/// # Errors
/// [`PaperError::Picture`] where a picture cannot be packed.
pub(super) fn finished(
    source: &SlipSource<'_>,
    draft: &Draft<'_>,
    number: usize,
    pictures: &mut Pictures<'_>,
) -> Result<Line, PaperError> {
    let site = &draft.site;
    let Some(place) = draft.marks.first().map(|mark| mark.place) else {
        return Ok(empty(number));
    };
    let faults = draft.faults();
    let map = site
        .board
        .as_ref()
        .and_then(|board| map_of(source.maps, board));
    let whereabouts = map
        .zip(site.side)
        .and_then(|(map, side)| lie(map, side))
        .zip(site.centre())
        .map_or_else(String::new, |(lie, at)| lie.whereabouts(at));
    Ok(Line {
        number,
        place: site.label.clone(),
        addresses: site.addresses.clone(),
        part: site.part.clone(),
        nets: site.nets.clone(),
        whereabouts,
        at_mm: site
            .centre()
            .map(|at| [at.x, at.y].map(|mm| (mm * 1000.0).round() / 1000.0)),
        faults: faults.iter().map(fault_line).collect(),
        verdict: place.verdict.words().to_owned(),
        evidence: evidence(place, &faults),
        note: place.notes.join("\n"),
        actions: actions(place, &faults, site),
        severity: place.severity().map(severity_word),
        cautions: cautions(site),
        disagreement: disagreement(source.state, place),
        seen_by: listed(&place.by),
        seen_at: place.at.clone(),
        done: signed(source.state, place, Verdict::Reworked),
        rechecked: signed(source.state, place, Verdict::Accepted),
        overview: pictures.overview(site)?.map(Picture::rounded),
        close_up: pictures.close_up(site, place)?.map(Picture::rounded),
    })
}

fn empty(number: usize) -> Line {
    Line {
        number,
        place: String::new(),
        addresses: Vec::new(),
        part: String::new(),
        nets: Vec::new(),
        whereabouts: String::new(),
        at_mm: None,
        faults: Vec::new(),
        verdict: String::new(),
        evidence: Vec::new(),
        note: String::new(),
        actions: Vec::new(),
        severity: None,
        cautions: Vec::new(),
        disagreement: None,
        seen_by: String::new(),
        seen_at: String::new(),
        done: None,
        rechecked: None,
        overview: None,
        close_up: None,
    }
}

fn fault_line(fault: &Fault) -> FaultLine {
    let row = fault.fault.workmanship();
    FaultLine {
        code: code(fault.fault),
        term: capital(row.term),
        meaning: row.meaning.to_owned(),
        severity: severity_word(fault.severity),
    }
}

/// The stable code of a fault, as it stands in the journal.
#[must_use]
pub(super) fn code(fault: FaultKind) -> String {
    match serde_json::to_value(fault) {
        Ok(serde_json::Value::String(code)) => code,
        _ => String::new(),
    }
}

/// The word for a severity.
#[must_use]
pub(super) fn severity_word(severity: Severity) -> SeverityWord {
    match severity {
        Severity::Cosmetic => SeverityWord::Cosmetic,
        Severity::Watch => SeverityWord::Watch,
        Severity::FixNow => SeverityWord::FixNow,
        Severity::BlocksPower => SeverityWord::BlocksPower,
    }
}

/// What speaks for the line: only what was recorded with the look, in words.
fn evidence(place: &PlaceState, faults: &[Fault]) -> Vec<String> {
    let mut said = Vec::new();
    if place.verdict == Verdict::Reworked && !faults.is_empty() {
        said.push(format!(
            "What was to be done: {}",
            fault_actions(faults).join(" ")
        ));
    }
    let Some(evidence) = &place.evidence else {
        return said;
    };
    if let Some(arc) = evidence
        .arc_deg
        .filter(|arc| arc.is_finite() && *arc >= 1.0)
    {
        said.push(format!("A dark arc runs {arc:.0} degrees round the pin."));
    } else if !evidence.reason.trim().is_empty() {
        said.push(sentence(&evidence.reason));
    }
    let rank = match (evidence.rank, evidence.of) {
        (Some(rank), Some(of)) => format!(", rank {rank} of {of} in that photo"),
        (Some(rank), None) => format!(", rank {rank} in that photo"),
        _ => String::new(),
    };
    let band = evidence.band.trim();
    if !band.is_empty() {
        said.push(format!("The hint: {band}{rank}."));
    }
    said
}

/// What to do: the action that was written down, or the usual one, then what the part needs.
fn actions(place: &PlaceState, faults: &[Fault], site: &Site) -> Vec<String> {
    let mut actions: Vec<String> = Vec::new();
    if place.contradicted {
        actions.push("Settle the disagreement first: look again.".to_owned());
    }
    if place.verdict == Verdict::Reworked {
        actions.push("Recheck the rework, then sign.".to_owned());
        return actions;
    }
    for action in fault_actions(faults) {
        if !actions.contains(&action) {
            actions.push(action);
        }
    }
    if faults.is_empty() && place.verdict == Verdict::Suspect {
        actions.push("Look again with the light moved, then name the fault.".to_owned());
    } else if faults.is_empty() && place.verdict == Verdict::Faulty {
        actions.push("Nobody named the fault: look again and name it.".to_owned());
    }
    let solders = faults
        .iter()
        .any(|fault| fault.fault.workmanship().needs.contains(&Need::Solder));
    let said_already = actions.iter().any(|action| {
        let action = action.to_lowercase();
        action.contains("support") || action.contains("hold")
    });
    if solders && !said_already {
        actions.extend(site.kinds.iter().filter_map(|&kind| handling(kind)));
    }
    actions
}

/// The action that was written down for each fault, or the usual one.
fn fault_actions(faults: &[Fault]) -> Vec<String> {
    faults
        .iter()
        .map(|fault| match fault.action.trim() {
            "" => fault.fault.workmanship().action.to_owned(),
            said => sentence(said),
        })
        .collect()
}

/// How to handle a part while its joints are soldered. Common practice, no source.
fn handling(kind: PartKind) -> Option<String> {
    let text = match kind {
        PartKind::Terminal => "Support the block until the solder has frozen.",
        PartKind::Header | PartKind::Connector => {
            "Support the housing until the solder has frozen; never pull on the plug to test it."
        }
        PartKind::Switch | PartKind::Potentiometer => {
            "Hold the body down until the solder has frozen."
        }
        PartKind::Relay | PartKind::Transformer => {
            "Heavy part: support its weight until the solder has frozen."
        }
        PartKind::Display => "Do not lean on the glass.",
        _ => return None,
    };
    Some(text.to_owned())
}

fn cautions(site: &Site) -> Vec<String> {
    let mut cautions = Vec::new();
    match site.zone {
        Zone::Safety => cautions.push(
            "Mains or other dangerous area: plug out and in your keeping; qualified people only."
                .to_owned(),
        ),
        Zone::Supply => {
            cautions.push("Supply area: measure the stored charge before you touch.".to_owned());
        }
        Zone::Load => {}
    }
    if site.zone == Zone::Load && site.kinds.contains(&PartKind::Electrolytic) {
        cautions.push("Can hold charge: measure before you touch.".to_owned());
    }
    cautions
}

/// Where current judgements differ: what each of their authors says.
fn disagreement(state: &State, place: &PlaceState) -> Option<String> {
    if !place.contradicted {
        return None;
    }
    let said: Vec<String> = place
        .current
        .iter()
        .filter_map(|&id| opinion(state, id))
        .collect();
    let who = match place.by.len() {
        0 | 1 => "Two looks disagree".to_owned(),
        2 => "Two people disagree".to_owned(),
        more => format!("{more} people disagree"),
    };
    Some(format!("{who}: {}.", said.join("; ")))
}

fn opinion(state: &State, id: EventId) -> Option<String> {
    let event = &state.event(id)?.event;
    let Event::Judged(judgement) = &event.what else {
        return None;
    };
    let terms: Vec<String> = judgement
        .faults
        .iter()
        .map(|fault| fault.fault.words().to_owned())
        .collect();
    let said = if terms.is_empty() {
        judgement.verdict.words().to_owned()
    } else {
        format!("{}, {}", judgement.verdict.words(), listed(&terms))
    };
    Some(format!("{} on {}: {said}", event.by, day(&event.at)))
}

/// The newest current judgement with this verdict: who signed it and when.
fn signed(state: &State, place: &PlaceState, verdict: Verdict) -> Option<Signed> {
    let newest = |ids: &[EventId]| {
        ids.iter().rev().find_map(|&id| {
            let event = &state.event(id)?.event;
            let said = matches!(&event.what, Event::Judged(j) if j.verdict == verdict);
            said.then(|| Signed {
                by: event.by.clone(),
                at: event.at.clone(),
            })
        })
    };
    newest(&place.current)
}
