//! What the tour's repairer does: looks joint by joint at the photo that shows it closest, marks
//! what was planted, measures, has it mended, and asks the gate at every step.

use std::collections::{BTreeMap, BTreeSet};

use crate::board::{Expect, Limits, Side};
use crate::joint::{Band, JointHint};
use crate::progress::Progress;
use crate::record::{
    CheckKind, Fault, FaultKind, JointKey, Outcome, PhotoId, Reading, ReadingMode, Stage, Subject,
    Target, Verdict,
};
use crate::render::{PlantedFault, UnitTruth};

use super::super::action::{Action, Wish};
use super::super::error::WorkError;
use super::super::hints::{evidence, spots_of};
use super::super::session::Session;
use super::super::severity::usual_severity;
use super::{Asked, Found, Hints, Suspect, TourReport};

/// How many suspects the report names.
const SUSPECTS: usize = 12;

/// Board and joint of every planted crack.
pub(super) fn planted_cracks(truth: &UnitTruth) -> BTreeSet<(String, String)> {
    truth
        .planted
        .iter()
        .filter_map(|fault| match fault {
            PlantedFault::Fractured { board, joint, .. } => Some((board.clone(), joint.clone())),
            _ => None,
        })
        .collect()
}

/// A joint by board and label with the hint on the photo that shows it closest.
type Closest<'a> = BTreeMap<(String, String), (&'a PhotoId, &'a JointHint, usize)>;

fn closest<'a>(session: &Session, hints: &'a Hints) -> Closest<'a> {
    let mut closest: Closest = BTreeMap::new();
    for (photo, report) in hints {
        let Some(board) = session
            .state()
            .photos
            .get(photo)
            .and_then(|p| p.alignment())
            .map(|alignment| alignment.view.board.clone())
        else {
            continue;
        };
        let read = report.joints.iter().filter(|j| j.rank.is_some()).count();
        for joint in report.joints.iter().filter(|j| j.rank.is_some()) {
            let key = (board.clone(), joint.id.clone());
            let nearer = closest
                .get(&key)
                .is_none_or(|(_, other, _)| joint.px_per_mm > other.px_per_mm);
            if nearer {
                closest.insert(key, (photo, joint, read));
            }
        }
    }
    closest
}

/// The most suspect joints, and how the planted cracks fared.
pub(super) fn suspects(
    session: &Session,
    hints: &Hints,
    planted: &BTreeSet<(String, String)>,
) -> (Vec<Suspect>, Found) {
    let closest = closest(session, hints);
    let mut found = Found::default();
    for (key, (_, joint, _)) in &closest {
        let first = joint.band == Band::LookHereFirst;
        let (all, look_first) = if planted.contains(key) {
            (&mut found.shown, &mut found.look_first)
        } else {
            (&mut found.without, &mut found.look_first_without)
        };
        *all += 1;
        *look_first += usize::from(first);
    }
    let mut ranked: Vec<_> = closest.into_iter().collect();
    ranked.sort_by(|(a_key, (_, a, _)), (b_key, (_, b, _))| {
        b.likelihood
            .partial_cmp(&a.likelihood)
            .unwrap_or(std::cmp::Ordering::Equal)
            .then_with(|| a_key.cmp(b_key))
    });
    let suspects = ranked
        .into_iter()
        .take(SUSPECTS)
        .map(|(key, (photo, joint, of))| Suspect {
            planted: planted.contains(&key),
            joint: format!("{}:{}", key.0, key.1),
            photo: session
                .state()
                .photos
                .get(photo)
                .map(|p| p.facts.name.clone())
                .unwrap_or_default(),
            rank: joint.rank.unwrap_or(0),
            of,
            band: joint.band.words().to_owned(),
            reason: joint.reason.clone(),
            px_per_mm: joint.px_per_mm.unwrap_or(0.0),
        })
        .collect();
    (suspects, found)
}

/// Plays the job to its end and fills in the report.
pub(super) fn play(
    session: &mut Session,
    truth: &UnitTruth,
    hints: &Hints,
    report: &mut TourReport,
    progress: &Progress,
) -> Result<(), WorkError> {
    ask(
        session,
        report,
        "the photos are aligned, nothing is judged",
        Stage::Cold,
    );
    let marked = mark_planted(session, truth, hints)?;
    look_at_the_rest(session, &marked)?;
    report.coverage = session.coverage_rows();
    cold_checks(session)?;
    ask(session, report, "cold checks and looking", Stage::Cold);
    report.papers = super::hand_over(session, progress)?;

    for target in &marked {
        session.apply(Action::Judge(Wish::new(
            vec![target.clone()],
            Verdict::Reworked,
        )))?;
    }
    cold_checks(session)?;
    ask(
        session,
        report,
        "the rework, before anybody rechecked it",
        Stage::Cold,
    );
    for target in &marked {
        session.apply(Action::Judge(Wish::new(
            vec![target.clone()],
            Verdict::Accepted,
        )))?;
    }
    ask(session, report, "the recheck", Stage::Cold);
    rails(session, ReadingMode::Unloaded)?;
    ask(
        session,
        report,
        "rails measured, load unplugged",
        Stage::Supply,
    );
    rails(session, ReadingMode::Loaded)?;
    ask(
        session,
        report,
        "rails measured, load connected",
        Stage::Load,
    );
    function(session)?;
    ask(
        session,
        report,
        "test points and function test",
        Stage::Function,
    );
    session.apply(Action::CloseUp {
        note: "lid on, all screws in".to_owned(),
    })?;
    ask(session, report, "closing up", Stage::Closed);
    Ok(())
}

fn ask(session: &Session, report: &mut TourReport, after: &str, stage: Stage) {
    report.gate.push(Asked {
        after: after.to_owned(),
        verdict: session.gate(stage),
    });
}

/// Marks everything that was planted; the places, in order.
fn mark_planted(
    session: &mut Session,
    truth: &UnitTruth,
    hints: &Hints,
) -> Result<Vec<Target>, WorkError> {
    let mut marked: Vec<Target> = Vec::new();
    for planted in &truth.planted {
        let (places, fault, note) = words_for(planted);
        let board = planted.board().to_owned();
        let mut targets = Vec::new();
        for place in places {
            targets.extend(session.targets(&format!("{board}:{place}"))?);
        }
        targets.retain(|target| !marked.contains(target));
        if targets.is_empty() {
            continue;
        }
        let closest = closest(session, hints);
        let hint = match planted {
            PlantedFault::Fractured { joint, .. } => closest.get(&(board, joint.clone())).copied(),
            _ => None,
        };
        let mut wish = Wish::new(targets.clone(), Verdict::Faulty);
        wish.faults = vec![Fault {
            fault,
            severity: usual_severity(session.maps(), &targets, fault),
            action: String::new(),
        }];
        wish.note = note.to_owned();
        wish.photo = hint
            .map(|(photo, _, _)| photo.clone())
            .or_else(|| photo_of(session, &targets));
        if let Some((photo, hint, _)) = hint
            && let Some((_, report)) = hints.iter().find(|(id, _)| id == photo)
        {
            wish.evidence = Some(evidence(report, hint));
        }
        session.apply(Action::Judge(wish))?;
        marked.extend(targets);
    }
    Ok(marked)
}

/// The places that a planted fault is marked on, its term and a remark.
fn words_for(planted: &PlantedFault) -> (Vec<String>, FaultKind, &'static str) {
    match planted {
        PlantedFault::Fractured { joint, .. } => (vec![joint.clone()], FaultKind::Fractured, ""),
        PlantedFault::Bridge { joint, other, .. } => {
            (vec![joint.clone(), other.clone()], FaultKind::Bridge, "")
        }
        PlantedFault::Missing { part, .. } => (vec![part.clone()], FaultKind::Missing, ""),
        PlantedFault::Leaking { part, .. } => (vec![part.clone()], FaultKind::Leaking, ""),
        PlantedFault::CrackedHeader { part, .. } => (
            vec![part.clone()],
            FaultKind::CrackedHeader,
            "housing split along its length",
        ),
        PlantedFault::LooseSwitch { part, .. } => (
            vec![part.clone()],
            FaultKind::LooseSwitch,
            "body rocks in its seat",
        ),
        PlantedFault::PriorRepair { joint, other, .. } => (
            vec![joint.clone(), other.clone()],
            FaultKind::PriorRepair,
            "somebody put a wire here; see what it replaces",
        ),
    }
}

/// Joints of the solder sides by the aligned photo that shows them closest.
fn by_photo(session: &Session) -> BTreeMap<JointKey, (PhotoId, f64)> {
    let mut best: BTreeMap<JointKey, (PhotoId, f64)> = BTreeMap::new();
    for (id, photo) in &session.state().photos {
        let Some(alignment) = photo.alignment().filter(|a| a.view.side == Side::Solder) else {
            continue;
        };
        let Some(map) = session
            .maps()
            .iter()
            .find(|m| m.board == alignment.view.board)
        else {
            continue;
        };
        let labels: BTreeMap<String, JointKey> = crate::board::round_order(map, Side::Solder)
            .into_iter()
            .map(|joint| {
                let key = JointKey {
                    board: map.board.clone(),
                    pin: joint.pin.uid.clone(),
                    side: Side::Solder,
                };
                (joint.label(), key)
            })
            .collect();
        for spot in spots_of(session, id).unwrap_or_default() {
            let Some(key) = labels.get(&spot.id) else {
                continue;
            };
            let scale = spot.px_per_mm.unwrap_or(0.0);
            if best.get(key).is_none_or(|(_, other)| scale > *other) {
                best.insert(key.clone(), (id.clone(), scale));
            }
        }
    }
    best
}

fn photo_of(session: &Session, targets: &[Target]) -> Option<PhotoId> {
    let best = by_photo(session);
    targets.iter().find_map(|target| match target {
        Target::Joint(key) => best.get(key).map(|(photo, _)| photo.clone()),
        _ => None,
    })
}

/// Looks at every joint of the main board that is not marked, part by part, one gesture a part
/// and photo. The front panel is left for another evening, so that the last stage has something
/// to say.
fn look_at_the_rest(session: &mut Session, marked: &[Target]) -> Result<(), WorkError> {
    let best = by_photo(session);
    let mut gestures: BTreeMap<(String, PhotoId), Vec<Target>> = BTreeMap::new();
    for map in session.maps().iter().filter(|map| map.board == "main") {
        for joint in crate::board::round_order(map, Side::Solder) {
            let key = JointKey {
                board: map.board.clone(),
                pin: joint.pin.uid.clone(),
                side: Side::Solder,
            };
            let Some((photo, _)) = best.get(&key) else {
                continue;
            };
            let target = Target::Joint(key);
            if !marked.contains(&target) {
                gestures
                    .entry((joint.part.reference.clone(), photo.clone()))
                    .or_default()
                    .push(target);
            }
        }
    }
    for ((_, photo), targets) in gestures {
        let mut wish = Wish::new(targets, Verdict::NoFaultSeen);
        wish.photo = Some(photo);
        session.apply(Action::Judge(wish))?;
    }
    Ok(())
}

/// The checks before power, and the resistance of every rail to its return.
fn cold_checks(session: &mut Session) -> Result<(), WorkError> {
    for check in CheckKind::BEFORE_POWER {
        let (outcome, note) = match check {
            CheckKind::VoltageSelector => {
                (Outcome::NotFitted, "24 V AC transformer outside the case")
            }
            CheckKind::StoredCharge => (
                Outcome::Passed,
                "0.3 V across the reservoirs after ten minutes, meter proved before and after",
            ),
            _ => (Outcome::Passed, ""),
        };
        session.apply(Action::Check {
            check,
            outcome,
            note: note.to_owned(),
        })?;
    }
    rails(session, ReadingMode::Cold)
}

/// Readings that a healthy rail gives: a little inside its limits.
fn rails(session: &mut Session, mode: ReadingMode) -> Result<(), WorkError> {
    let rails: Vec<_> = session
        .maps()
        .iter()
        .flat_map(|map| {
            map.rails
                .iter()
                .map(|rail| (map.board.clone(), rail.clone()))
        })
        .collect();
    for (board, rail) in rails {
        let mut readings = Vec::new();
        let mut add = |quantity, value| readings.push(Reading { quantity, value });
        match mode {
            ReadingMode::Cold => {
                let Some(least) = rail.cold_min_ohm else {
                    continue;
                };
                add(Expect::Ohm, (least * 8.0).round());
            }
            ReadingMode::Unloaded => add(Expect::VoltsDc, within(rail.unloaded)),
            ReadingMode::Loaded => {
                add(Expect::VoltsDc, within(rail.loaded));
                if let Some(most) = rail.ripple_max_mv_pp {
                    add(Expect::MillivoltsPp, (most * 0.4).round());
                }
            }
        }
        session.apply(Action::Measure {
            subject: Subject::Rail {
                board,
                rail: rail.name,
                mode,
            },
            readings,
            settings: BTreeMap::new(),
            note: String::new(),
        })?;
    }
    Ok(())
}

fn within(limits: Limits) -> f64 {
    let value = limits.min + 0.55 * (limits.max - limits.min);
    (value * 100.0).round() / 100.0
}

fn function(session: &mut Session) -> Result<(), WorkError> {
    let points: Vec<_> = session
        .maps()
        .iter()
        .flat_map(|map| {
            map.test_points
                .iter()
                .map(|point| (map.board.clone(), point.clone()))
        })
        .collect();
    for (board, point) in points {
        let readings = point
            .expect
            .iter()
            .filter_map(|expect| {
                let (min, max) = (expect.min?, expect.max?);
                Some(Reading {
                    quantity: expect.quantity,
                    value: within(Limits { min, max }),
                })
            })
            .collect();
        session.apply(Action::Measure {
            subject: Subject::TestPoint {
                board,
                name: point.name,
            },
            readings,
            settings: point.settings,
            note: String::new(),
        })?;
    }
    session.apply(Action::Check {
        check: CheckKind::Function {
            test: "all twelve zones switch in turn".to_owned(),
        },
        outcome: Outcome::Passed,
        note: String::new(),
    })?;
    Ok(())
}
