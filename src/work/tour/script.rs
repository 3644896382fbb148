//! What the tour's repairer does: looks joint by joint at the photo that shows it closest, marks
//! what was planted, measures, has it mended, and asks the gate at every step.

use std::collections::{BTreeMap, BTreeSet};

use crate::board::{Expect, Limits, Part, Pin, Side, Zone};
use crate::joint::{Band, JointHint};
use crate::progress::Progress;
use crate::record::{
    CheckKind, Fault, FaultKind, JointKey, Outcome, PhotoId, Reading, ReadingMode, Stage, Subject,
    Target, Verdict,
};
use crate::render::{PlantedFault, UnitTruth};
use crate::stats::wilson_95;

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
    found.among_planted_95 = interval(found.look_first, found.shown);
    found.among_others_95 = interval(found.look_first_without, found.without);
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

fn interval(hits: usize, of: usize) -> Option<[f64; 2]> {
    wilson_95(hits as u64, of as u64).map(|interval| [interval.low, interval.high])
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
    checks(session)?;
    rails(session, ReadingMode::Loaded)?;
    function(session)?;
    ask(
        session,
        report,
        "closing up and testing once more",
        Stage::Closed,
    );
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

/// The joints that each aligned photo of a solder side shows, with the scale there, px/mm.
fn shown(session: &Session) -> Vec<(PhotoId, BTreeMap<JointKey, f64>)> {
    let photos = session.state().photos.iter();
    photos
        .filter_map(|(id, photo)| {
            let alignment = photo.alignment().filter(|a| a.view.side == Side::Solder)?;
            let map = session
                .maps()
                .iter()
                .find(|m| m.board == alignment.view.board)?;
            let labels: BTreeMap<String, JointKey> = crate::board::round_order(map, Side::Solder)
                .into_iter()
                .map(|joint| (joint.label(), key_of(&map.board, joint.pin)))
                .collect();
            let joints = spots_of(session, id)
                .ok()?
                .into_iter()
                .filter_map(|spot| Some((labels.get(&spot.id)?.clone(), spot.px_per_mm?)))
                .collect();
            Some((id.clone(), joints))
        })
        .collect()
}

fn key_of(board: &str, pin: &Pin) -> JointKey {
    JointKey {
        board: board.to_owned(),
        pin: pin.uid.clone(),
        side: Side::Solder,
    }
}

/// The photo that shows all of these joints, the closest one.
fn photo_of(session: &Session, targets: &[Target]) -> Option<PhotoId> {
    let keys: Vec<&JointKey> = targets
        .iter()
        .map(|target| match target {
            Target::Joint(key) => Some(key),
            _ => None,
        })
        .collect::<Option<_>>()?;
    shown(session)
        .into_iter()
        .filter_map(|(photo, joints)| {
            let scales: Option<Vec<f64>> =
                keys.iter().map(|key| joints.get(key).copied()).collect();
            Some((photo, scales?.into_iter().fold(f64::INFINITY, f64::min)))
        })
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(photo, _)| photo)
}

/// Looks at every joint of the main board that is not marked, and at the supply area of the front
/// panel, part by part, one gesture a part and photo. The rest of the front panel is left for
/// another evening, so that the last stage has something to say.
fn look_at_the_rest(session: &mut Session, marked: &[Target]) -> Result<(), WorkError> {
    let mut best: BTreeMap<JointKey, (PhotoId, f64)> = BTreeMap::new();
    for (photo, joints) in shown(session) {
        for (key, scale) in joints {
            if best.get(&key).is_none_or(|(_, other)| scale > *other) {
                best.insert(key, (photo.clone(), scale));
            }
        }
    }
    let mut gestures: BTreeMap<(String, String, PhotoId), Vec<Target>> = BTreeMap::new();
    for map in session.maps() {
        let tonight = |part: &Part| map.board == "main" || part.zone != Zone::Load;
        let joints = crate::board::round_order(map, Side::Solder);
        for joint in joints.into_iter().filter(|joint| tonight(joint.part)) {
            let key = key_of(&map.board, joint.pin);
            let Some((photo, _)) = best.get(&key) else {
                continue;
            };
            let target = Target::Joint(key);
            if !marked.contains(&target) {
                gestures
                    .entry((
                        map.board.clone(),
                        joint.part.reference.clone(),
                        photo.clone(),
                    ))
                    .or_default()
                    .push(target);
            }
        }
    }
    for ((_, _, photo), targets) in gestures {
        let mut wish = Wish::new(targets, Verdict::NoFaultSeen);
        wish.photo = Some(photo);
        session.apply(Action::Judge(wish))?;
    }
    Ok(())
}

/// The checks before power, and the resistance of every rail to its return.
fn cold_checks(session: &mut Session) -> Result<(), WorkError> {
    checks(session)?;
    rails(session, ReadingMode::Cold)
}

fn checks(session: &mut Session) -> Result<(), WorkError> {
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
    Ok(())
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
