//! The most suspect joints of the tour, and how the planted cracks fared.

use std::collections::{BTreeMap, BTreeSet};

use crate::joint::{Band, JointHint};
use crate::record::PhotoId;
use crate::render::{PlantedFault, UnitTruth};
use crate::stats::wilson_95;

use super::super::session::Session;
use super::{Found, Hints, Suspect};

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
pub(super) type Closest<'a> = BTreeMap<(String, String), (&'a PhotoId, &'a JointHint, usize)>;

pub(super) fn closest<'a>(session: &Session, hints: &'a Hints) -> Closest<'a> {
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
