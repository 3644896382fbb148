//! What the tour's repairer sees: marks on what was planted, and a look at everything else.

use std::collections::BTreeMap;

use crate::board::{Part, Pin, Side, Zone};
use crate::record::{Fault, FaultKind, JointKey, PhotoId, Target, Verdict};
use crate::render::PlantedFault;

use super::super::action::{Action, Wish};
use super::super::error::WorkError;
use super::super::hints::{evidence, spots_of};
use super::super::session::Session;
use super::super::severity::usual_severity;
use super::Hints;
use super::suspects::closest;

/// Marks everything that was planted; the places with their faults, in order.
pub(super) fn mark_planted(
    session: &mut Session,
    all: &[PlantedFault],
    hints: &Hints,
) -> Result<Vec<(Target, FaultKind)>, WorkError> {
    let mut marked: Vec<(Target, FaultKind)> = Vec::new();
    for planted in all {
        let (places, fault, note) = words_for(planted);
        let board = planted.board().to_owned();
        let mut targets = Vec::new();
        for place in places {
            targets.extend(session.targets(&format!("{board}:{place}"))?);
        }
        targets.retain(|target| marked.iter().all(|(known, _)| known != target));
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
        marked.extend(targets.into_iter().map(|target| (target, fault)));
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

pub(super) fn key_of(board: &str, pin: &Pin) -> JointKey {
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
pub(super) fn look_at_the_rest(
    session: &mut Session,
    marked: &[(Target, FaultKind)],
) -> Result<(), WorkError> {
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
            if marked.iter().all(|(known, _)| *known != target) {
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
