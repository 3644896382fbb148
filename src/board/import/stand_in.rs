//! Lands that stand for those whose size is not stated: kept clear of their neighbours.

use std::collections::BTreeSet;

use rstar::RTree;

use crate::board::model::Part;

/// Share of the distance to the nearest other pin that a stand-in land may take: lands of a
/// fine-pitch package cover some half of their pitch.
const SHARE: f64 = 0.7;

/// Neighbours at the very same place that are passed over, so that a map with thousands of pins
/// on one spot cannot make this slow.
const MAX_TIED: usize = 16;

/// Makes surface lands with these pin uids smaller where they would touch their neighbours.
pub(super) fn keep_clear(parts: &mut [Part], stand_ins: &BTreeSet<String>) {
    if stand_ins.is_empty() {
        return;
    }
    let places = parts
        .iter()
        .flat_map(|part| part.pins.iter().map(|pin| pin.at));
    let tree = RTree::bulk_load(places.collect::<Vec<[f64; 2]>>());
    for pin in parts.iter_mut().flat_map(|part| part.pins.iter_mut()) {
        if pin.drill.is_some() || !stand_ins.contains(&pin.uid) {
            continue;
        }
        let apart = tree
            .nearest_neighbor_iter_with_distance_2(pin.at)
            .take(MAX_TIED)
            .map(|(_, square)| square.sqrt())
            .find(|distance| *distance > 0.0);
        if let Some(apart) = apart {
            pin.land.size = pin.land.size.map(|size| size.min(apart * SHARE));
        }
    }
}
