//! How bad a fault usually is where it was found. A person may always say otherwise.

use crate::board::{BoardMap, Zone};
use crate::record::{Blocks, FaultKind, Severity, Target};

/// The severity that a fault gets where nobody says one: what the workmanship table says, its
/// conditional faults blocking power in safety and supply areas and off the board.
#[must_use]
pub fn usual_severity(maps: &[BoardMap], targets: &[Target], fault: FaultKind) -> Severity {
    match fault.workmanship().blocks {
        Blocks::Yes => Severity::BlocksPower,
        Blocks::No => Severity::Watch,
        Blocks::Conditional => {
            if targets.iter().any(|target| is_near_power(maps, target)) {
                Severity::BlocksPower
            } else {
                Severity::FixNow
            }
        }
    }
}

fn is_near_power(maps: &[BoardMap], target: &Target) -> bool {
    let zone = |board: &str, find: &dyn Fn(&BoardMap) -> Option<Zone>| {
        maps.iter().find(|map| map.board == board).and_then(find)
    };
    let zone = match target {
        Target::Joint(key) => zone(&key.board, &|map| {
            map.pin(&key.pin).map(|(part, _)| part.zone)
        }),
        Target::Part { board, part } => zone(board, &|map| map.part(part).map(|part| part.zone)),
        // Cords, plugs and cases carry mains; what no map covers is not known to be harmless.
        Target::Unit { .. } | Target::Photo(_) | Target::Area { .. } => return true,
    };
    zone.is_some_and(|zone| zone != Zone::Load)
}
