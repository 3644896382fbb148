//! Which maps a job can adopt, and what a change of map leaves behind.

use std::collections::BTreeSet;
use std::path::Path;

use super::super::error::WorkError;
use crate::board::{BoardMap, FindingSeverity, MapFile, lint};
use crate::record::{PlaceKey, State};
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
