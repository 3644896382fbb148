//! Which places lie where first power goes.

use crate::board::{BoardMap, Zone};

use super::event::Target;

/// Whether the map tells which of its joints first power reaches. One with joints that are all
/// beside it and with a rail has no zones marked: supplies come from somewhere.
pub(super) fn tells_zones(map: &BoardMap) -> bool {
    let mut with_pins = map.parts.iter().filter(|part| !part.pins.is_empty());
    let any = with_pins.clone().next().is_some();
    with_pins.any(|part| part.zone != Zone::Load) || (any && map.rails.is_empty())
}

/// Whether a place lies in a safety or supply area, or may: where no map says, it may.
#[must_use]
pub fn is_near_power(maps: &[BoardMap], target: &Target) -> bool {
    let zone = |board: &str, find: &dyn Fn(&BoardMap) -> Option<Zone>| {
        let map = maps.iter().find(|map| map.board == board)?;
        let zone = find(map)?;
        (zone != Zone::Load || tells_zones(map)).then_some(zone)
    };
    let zone = match target {
        Target::Joint(key) => zone(&key.board, &|map| {
            map.pin(&key.pin).map(|(part, _)| part.zone)
        }),
        Target::Part { board, part } => zone(board, &|map| map.part(part).map(|part| part.zone)),
        // Cords, plugs and cases carry mains; what no map covers is not known to be harmless.
        Target::Unit { .. } | Target::Photo(_) | Target::Area { .. } => return true,
    };
    zone != Some(Zone::Load)
}
