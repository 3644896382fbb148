//! How bad a fault usually is where it was found. A person may always say otherwise.

use crate::board::BoardMap;
use crate::record::{Blocks, FaultKind, Severity, Target, is_near_power};

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
