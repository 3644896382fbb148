//! What the record knows of joints for certain enough to be a label: what was said of them, and how
//! that was confirmed.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::event::{
    EventId, Evidence, Fault, FaultKind, JointKey, Judgement, PhotoId, Target, Verdict,
};
use super::state::{PlaceKey, PlaceState, State};

/// How it was found out whether a joint is cracked, beyond looking.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ConfirmedBy {
    /// A probe pushed the pin: it moved in the solder, or it did not.
    Probe,
    /// The joint was reflowed, and that cured the fault. Says nothing of a joint that was not faulty.
    Reflow,
    /// The joint was cut and looked at in section.
    Section,
}

impl ConfirmedBy {
    /// In words, for a joint that is cracked or is not.
    #[must_use]
    pub fn words(self, cracked: bool) -> &'static str {
        match (self, cracked) {
            (Self::Probe, true) => "moved under a probe",
            (Self::Probe, false) => "did not move under a probe",
            (Self::Reflow, _) => "reflowed and cured",
            (Self::Section, _) => "sectioned",
        }
    }

    /// Whether this can tell that a joint is *not* cracked.
    #[must_use]
    pub fn can_clear(self) -> bool {
        self != Self::Reflow
    }
}

/// One joint between two reworks, with the last judgement of that time.
#[derive(Debug, Clone, PartialEq)]
pub struct KnownState {
    /// The joint.
    pub joint: JointKey,
    /// The judgement.
    pub judged: EventId,
    /// When it was written, RFC 3339.
    pub at: String,
    /// Its verdict.
    pub verdict: Verdict,
    /// The faults that it names.
    pub faults: Vec<Fault>,
    /// What the hint said then.
    pub evidence: Option<Evidence>,
    /// The photo that was looked at.
    pub seen_on: Option<PhotoId>,
    /// Places in [`State::log`] of the rework before and the rework after. Photos that came in
    /// between show the joint as it was judged.
    pub between: (Option<usize>, Option<usize>),
    /// How it was confirmed.
    pub confirmed_by: Option<ConfirmedBy>,
    /// Whether it is cracked; `None` where nobody confirmed it, or judgements contradict each other.
    pub cracked: Option<bool>,
}

/// Every judged joint, once for each time between two reworks, in the order of keys and of time.
///
/// *Cracked* is a joint that was judged faulty, fractured, and confirmed; *not cracked* one on which no
/// fault was seen, confirmed by probe or section. Everything else is judged, and unknown. `said` adds how
/// joints were confirmed where the record does not say so: it counts for the newest time in which the joint was
/// called fractured, else for the newest.
#[must_use]
pub fn known_joints(state: &State, said: &BTreeMap<JointKey, ConfirmedBy>) -> Vec<KnownState> {
    let position: BTreeMap<EventId, usize> = state
        .log
        .iter()
        .enumerate()
        .map(|(at, logged)| (logged.event.id, at))
        .collect();
    let mut known = Vec::new();
    for (key, place) in &state.places {
        if let PlaceKey::Joint(joint) = key {
            known.extend(of_joint(state, &position, joint, place, said.get(joint)));
        }
    }
    known
}

/// The times of one joint.
fn of_joint(
    state: &State,
    position: &BTreeMap<EventId, usize>,
    joint: &JointKey,
    place: &PlaceState,
    said: Option<&ConfirmedBy>,
) -> Vec<KnownState> {
    let mut times: Vec<KnownState> = Vec::new();
    let mut since: Option<usize> = None;
    let mut open = false;
    for id in &place.story {
        let (Some(at), Some(logged)) = (position.get(id), state.event(*id)) else {
            continue;
        };
        let super::event::Event::Judged(judgement) = &logged.event.what else {
            continue;
        };
        match judgement.verdict {
            Verdict::Reworked | Verdict::Accepted => {
                // What cured it tells what it was.
                if let (Some(by), Some(time)) = (judgement.confirmed_by, times.last_mut()) {
                    time.confirmed_by = Some(by);
                }
                if judgement.verdict == Verdict::Reworked {
                    if let (true, Some(time)) = (open, times.last_mut()) {
                        time.between.1 = Some(*at);
                    }
                    since = Some(*at);
                    open = false;
                }
            }
            _ => {
                let earlier = if open { times.pop() } else { None };
                times.push(time_of(
                    joint,
                    *id,
                    &logged.event.at,
                    judgement,
                    since,
                    earlier,
                ));
                open = true;
            }
        }
    }
    confirm(&mut times, said, place.contradicted);
    times
}

fn time_of(
    joint: &JointKey,
    judged: EventId,
    at: &str,
    judgement: &Judgement,
    since: Option<usize>,
    earlier: Option<KnownState>,
) -> KnownState {
    KnownState {
        joint: joint.clone(),
        judged,
        at: at.to_owned(),
        verdict: judgement.verdict,
        faults: judgement.faults.clone(),
        evidence: judgement.evidence.clone(),
        seen_on: judgement.seen_on.as_ref().map(|spot| spot.photo.clone()),
        between: (since, None),
        // A confirmation holds for the verdict that it was given with.
        confirmed_by: judgement.confirmed_by.or_else(|| {
            earlier
                .filter(|time| time.verdict == judgement.verdict)
                .and_then(|time| time.confirmed_by)
        }),
        cracked: None,
    }
}

fn confirm(times: &mut [KnownState], said: Option<&ConfirmedBy>, contradicted: bool) {
    if let Some(by) = said {
        let at = times
            .iter()
            .rposition(is_fractured)
            .or_else(|| times.len().checked_sub(1));
        if let Some(time) = at.and_then(|at| times.get_mut(at)) {
            time.confirmed_by = Some(*by);
        }
    }
    let last = times.len().saturating_sub(1);
    for (number, time) in times.iter_mut().enumerate() {
        if contradicted && number == last {
            continue;
        }
        time.cracked = match time.confirmed_by {
            Some(_) if is_fractured(time) => Some(true),
            Some(by) if time.verdict == Verdict::NoFaultSeen && by.can_clear() => Some(false),
            _ => None,
        };
    }
}

fn is_fractured(time: &KnownState) -> bool {
    time.verdict == Verdict::Faulty
        && time
            .faults
            .iter()
            .any(|fault| fault.fault == FaultKind::Fractured)
}

/// Whether a confirmation makes sense with a verdict: only joints, and not where something is in the way.
#[must_use]
pub fn can_be_confirmed(verdict: Verdict, targets: &[Target]) -> bool {
    verdict != Verdict::CannotBeJudged
        && verdict != Verdict::Suspect
        && targets.iter().all(|t| matches!(t, Target::Joint(_)))
}

#[cfg(test)]
mod tests {
    use super::super::event::{Event, Severity};
    use super::super::fold::fold;
    use super::super::testing::{Bench, faulty, judge, key};
    use super::*;

    fn none() -> BTreeMap<JointKey, ConfirmedBy> {
        BTreeMap::new()
    }

    #[test]
    fn what_cured_it_confirms_the_crack_before_the_rework_only() {
        let mut bench = Bench::new(1);
        let first = bench.write(Event::Judged(faulty("J4-1", Severity::FixNow, &[])));
        let rework = bench.write(Event::Judged(judge(
            &["J4-1"],
            Verdict::Reworked,
            &[first.id],
        )));
        let accepted = bench.write(Event::Judged(Judgement {
            confirmed_by: Some(ConfirmedBy::Reflow),
            ..judge(&["J4-1"], Verdict::Accepted, &[rework.id])
        }));
        let after = bench.write(Event::Judged(judge(
            &["J4-1"],
            Verdict::NoFaultSeen,
            &[accepted.id],
        )));
        let state = fold([first.clone(), rework, accepted, after]);
        let known = known_joints(&state, &none());
        assert_eq!(known.len(), 2);
        assert_eq!(
            (known[0].judged, known[0].cracked, known[0].between),
            (first.id, Some(true), (None, Some(1)))
        );
        // A look after the rework is a look, and no confirmation.
        assert_eq!(
            (known[1].cracked, known[1].between),
            (None, (Some(1), None))
        );
        // Said of the joint from outside, it means the crack; a probe of it, too.
        let said = BTreeMap::from([(key("J4-1"), ConfirmedBy::Probe)]);
        let known = known_joints(&state, &said);
        assert_eq!(known[0].confirmed_by, Some(ConfirmedBy::Probe));
        assert_eq!(known[1].cracked, None);
    }

    #[test]
    fn a_look_alone_is_no_label_and_reflow_clears_nothing() {
        let mut bench = Bench::new(1);
        let with = |by| Judgement {
            confirmed_by: by,
            ..judge(&["J4-1"], Verdict::NoFaultSeen, &[])
        };
        for (by, cracked) in [
            (None, None),
            (Some(ConfirmedBy::Reflow), None),
            (Some(ConfirmedBy::Probe), Some(false)),
            (Some(ConfirmedBy::Section), Some(false)),
        ] {
            let state = fold([bench.write(Event::Judged(with(by)))]);
            assert_eq!(known_joints(&state, &none())[0].cracked, cracked, "{by:?}");
        }
        let state = fold([bench.write(Event::Judged(faulty("J4-1", Severity::FixNow, &[])))]);
        assert_eq!(known_joints(&state, &none())[0].cracked, None);
    }

    #[test]
    fn contradicted_joints_are_unknown() {
        let (mut one, mut two) = (Bench::new(1), Bench::new(2));
        let state = fold([
            one.write(Event::Judged(Judgement {
                confirmed_by: Some(ConfirmedBy::Probe),
                ..judge(&["J4-1"], Verdict::NoFaultSeen, &[])
            })),
            two.write(Event::Judged(Judgement {
                confirmed_by: Some(ConfirmedBy::Probe),
                ..faulty("J4-1", Severity::FixNow, &[])
            })),
        ]);
        assert_eq!(known_joints(&state, &none())[0].cracked, None);
    }

    #[test]
    fn old_journals_read_on() {
        let old = serde_json::to_value(judge(&["J4-1"], Verdict::NoFaultSeen, &[])).unwrap();
        assert!(old.get("confirmed_by").is_none());
        let read: Judgement = serde_json::from_value(old).unwrap();
        assert_eq!(read.confirmed_by, None);
    }
}
