//! Checks of the invented maps.

use std::collections::BTreeSet;

use crate::board::{BoardMap, Outline};

use super::{PlantedFault, maps, units};

fn pins(map: &BoardMap) -> Vec<(String, [f64; 2], f64)> {
    map.parts
        .iter()
        .flat_map(|part| {
            part.pins.iter().map(|pin| {
                let name = format!("{}.{}", part.reference, pin.no);
                (name, pin.at, pin.land.size[0].max(pin.land.size[1]) / 2.0)
            })
        })
        .collect()
}

#[test]
fn uids_and_references_are_unique_and_pins_lie_inside() {
    for map in maps() {
        let mut seen = BTreeSet::new();
        let (width, height) = (map.outline[2][0], map.outline[2][1]);
        for part in &map.parts {
            assert!(seen.insert(part.uid.clone()), "{}", part.uid);
            for pin in &part.pins {
                assert!(seen.insert(pin.uid.clone()), "{}", pin.uid);
                let margin = pin.land.size[0].max(pin.land.size[1]) / 2.0 + 0.5;
                assert!(
                    pin.at[0] > margin
                        && pin.at[1] > margin
                        && pin.at[0] < width - margin
                        && pin.at[1] < height - margin,
                    "{} {}",
                    map.board,
                    pin.uid
                );
                assert!(pin.drill.unwrap() < pin.land.size[0]);
            }
        }
    }
}

#[test]
fn lands_do_not_overlap() {
    for map in maps() {
        let pins = pins(&map);
        for (index, (name, at, radius)) in pins.iter().enumerate() {
            for (other, there, reach) in &pins[index + 1..] {
                let gap = (at[0] - there[0]).hypot(at[1] - there[1]);
                // Oval lands lie side by side, so their widths decide along the row.
                let need = if (at[1] - there[1]).abs() < 0.1 {
                    1.7
                } else {
                    radius + reach
                };
                assert!(gap > need.min(2.4), "{} {name} {other} {gap}", map.board);
            }
        }
    }
}

#[test]
fn bodies_of_big_parts_keep_clear_of_each_other() {
    let span = |outline: &Outline| match outline {
        Outline::Rect { at, size, .. } => [
            at[0] - size[0] / 2.0,
            at[1] - size[1] / 2.0,
            at[0] + size[0] / 2.0,
            at[1] + size[1] / 2.0,
        ],
        Outline::Circle { at, diameter } => {
            let r = diameter / 2.0 * 0.8;
            [at[0] - r, at[1] - r, at[0] + r, at[1] + r]
        }
        Outline::Polygon { .. } => unreachable!("the samples have none"),
    };
    for map in maps() {
        for (index, part) in map.parts.iter().enumerate() {
            for other in &map.parts[index + 1..] {
                let (a, b) = (span(&part.outline), span(&other.outline));
                let clear = a[2] <= b[0] || b[2] <= a[0] || a[3] <= b[1] || b[3] <= a[1];
                assert!(
                    clear,
                    "{} {} {}",
                    map.board, part.reference, other.reference
                );
            }
        }
    }
}

#[test]
fn the_scenario_is_as_large_as_the_design_says() {
    let maps = maps();
    let main = pins(&maps[0]).len();
    assert!((200..=280).contains(&main), "{main}");
    assert!(maps[0].landmarks.len() >= 6 && maps[1].landmarks.len() >= 4);
    assert_eq!(maps[0].rails.len(), 3);
    assert_eq!(units().len(), 4);
}

#[test]
fn every_planted_fault_names_a_place_of_its_map() {
    let maps = maps();
    for unit in units() {
        for fault in &unit.faults {
            let map = maps.iter().find(|map| map.board == fault.board()).unwrap();
            let joints: BTreeSet<String> = pins(map).into_iter().map(|(name, ..)| name).collect();
            let parts: BTreeSet<&str> = map
                .parts
                .iter()
                .map(|part| part.reference.as_str())
                .collect();
            match fault {
                PlantedFault::Fractured { joint, .. } => assert!(joints.contains(joint)),
                PlantedFault::Bridge { joint, other, .. }
                | PlantedFault::PriorRepair { joint, other, .. } => {
                    assert!(joints.contains(joint) && joints.contains(other));
                }
                PlantedFault::Missing { part, .. }
                | PlantedFault::Leaking { part, .. }
                | PlantedFault::CrackedHeader { part, .. }
                | PlantedFault::LooseSwitch { part, .. } => assert!(parts.contains(part.as_str())),
            }
        }
    }
}
