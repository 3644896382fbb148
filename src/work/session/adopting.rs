//! Which maps a job can adopt, and what a change of map leaves behind.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use super::super::error::WorkError;
use crate::board::{BoardMap, FindingSeverity, MapFile, lint};
use crate::record::{PhotoState, PlaceKey, State};
use crate::stats::median;
use crate::store::Job;

/// What was said of joints and parts that the new map does not have, in words; nothing where all
/// that was said of the board finds its place on it.
pub(super) fn left_behind(state: &State, map: &BoardMap) -> Option<String> {
    let known: BTreeSet<&str> = map
        .parts
        .iter()
        .flat_map(|part| std::iter::once(&part.uid).chain(part.pins.iter().map(|pin| &pin.uid)))
        .map(String::as_str)
        .collect();
    let (mut joints, mut parts) = (0usize, 0usize);
    for key in state.places.keys() {
        match key {
            PlaceKey::Joint(joint)
                if joint.board == map.board && !known.contains(joint.pin.as_str()) =>
            {
                joints += 1;
            }
            PlaceKey::Part(board, part)
                if *board == map.board && !known.contains(part.as_str()) =>
            {
                parts += 1;
            }
            _ => {}
        }
    }
    let counted = |n: usize, what: &str| match n {
        0 => None,
        1 => Some(format!("1 {what}")),
        n => Some(format!("{n} {what}s")),
    };
    let told: Vec<String> = counted(joints, "joint")
        .into_iter()
        .chain(counted(parts, "part"))
        .collect();
    (!told.is_empty()).then(|| {
        format!(
            "somebody has judged {} that this map does not have under the same identity (uid): \
             that stays in the record and no longer counts; undo takes the change of map back",
            told.join(" and ")
        )
    })
}

/// Places that lie this much elsewhere, mm, are elsewhere: a pitch is 2.54, and maps made on photos
/// of one board differ by a tenth or two.
const MOVED_MM: f64 = 0.3;

/// How far half of what the board's map in force and the new one have in common lies elsewhere,
/// mm: landmarks, or where they share none, pins. `None` where they agree or share nothing.
pub(super) fn moved_mm(maps: &[BoardMap], new: &BoardMap) -> Option<f64> {
    let old = maps.iter().find(|map| map.board == new.board)?;
    let apart = |a: [f64; 2], b: [f64; 2]| (a[0] - b[0]).hypot(a[1] - b[1]);
    let landmarks = old.landmarks.iter().filter_map(|before| {
        let after = new.landmarks.iter().find(|mark| mark.name == before.name)?;
        Some(apart(before.at, after.at))
    });
    let mut off: Vec<f64> = landmarks.collect();
    if off.is_empty() {
        let pins = |map: &BoardMap| -> BTreeMap<String, [f64; 2]> {
            (map.parts.iter().flat_map(|part| &part.pins))
                .map(|pin| (pin.uid.clone(), pin.at))
                .collect()
        };
        let after = pins(new);
        off = (pins(old).iter())
            .filter_map(|(uid, before)| Some(apart(*before, *after.get(uid)?)))
            .collect();
    }
    median(&off).filter(|off| *off > MOVED_MM)
}

/// Whether places lie elsewhere on the new map than on the one in force, or may, as that is not at
/// hand.
pub(super) fn moved(state: &State, maps: &[BoardMap], new: &MapFile) -> bool {
    let board = &new.map.board;
    let adopted = state.maps.get(board).and_then(|adoption| adoption.sha256());
    let another = adopted.is_some_and(|sha256| sha256 != new.sha256);
    let at_hand = maps.iter().any(|map| map.board == *board);
    (another && !at_hand) || moved_mm(maps, &new.map).is_some()
}

/// That photos no longer lie on the map, in words.
pub(super) fn to_align_again(state: &State, maps: &[BoardMap], new: &MapFile) -> Option<String> {
    if !moved(state, maps, new) {
        return None;
    }
    let new = &new.map;
    let of_board = |photo: &&PhotoState| {
        (photo.alignment()).is_some_and(|alignment| alignment.view.board == new.board)
    };
    let photos = state.photos.values().filter(of_board).count();
    let why = match moved_mm(maps, new) {
        Some(off) => format!("places lie {off:.1} mm elsewhere on this map than on the one before"),
        None => "the map before is not at hand, so nobody can tell whether places moved".to_owned(),
    };
    (photos > 0).then(|| {
        format!(
            "{why}: {photos} of the board's photos no longer lie on it. Align them again, or undo \
             the change of map"
        )
    })
}

/// That the map is of another model than the unit, in words; nothing where the names agree.
pub(super) fn other_model(state: &State, map: &BoardMap) -> Option<String> {
    let unit = state.unit.as_ref()?;
    (!crate::store::same_model(&unit.model, &map.model)).then(|| {
        format!(
            "the map is of a {}, and this unit is a {}: rails, limits and joints may be others; undo takes it back",
            map.model, unit.model
        )
    })
}

pub(super) fn stored_map(job: &Job, sha256: &str) -> Result<BoardMap, WorkError> {
    let path = job.map_path(sha256)?;
    Ok(MapFile::from_bytes(job.map_bytes(sha256)?, &path)?.map)
}

/// Loads a map that has no errors; its warnings become cautions.
pub(super) fn usable_map(path: &Path) -> Result<(MapFile, Vec<String>), WorkError> {
    let file = MapFile::load(path)?;
    let findings = lint(&file.map);
    let words = |finding: &crate::board::Finding| format!("{}: {}", finding.place, finding.reason);
    let errors: Vec<String> = findings
        .iter()
        .filter(|f| f.severity == FindingSeverity::Error)
        .map(words)
        .collect();
    if let Some(first) = errors.first() {
        return Err(WorkError::bad(
            format!(
                "{}: {} errors, the first: {first}",
                path.display(),
                errors.len()
            ),
            format!(
                "mend the map; all of them: benchglass map check {}",
                path.display()
            ),
        ));
    }
    let cautions = findings.iter().map(words).collect();
    Ok((file, cautions))
}
