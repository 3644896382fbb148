use super::{map_diff, take_identities};
use crate::board::model::Side;
use crate::board::testing::sample;

fn told(change: impl FnOnce(&mut crate::board::BoardMap)) -> Vec<String> {
    let old = sample();
    let mut new = old.clone();
    change(&mut new);
    map_diff(&old, &new)
        .iter()
        .map(ToString::to_string)
        .collect()
}

#[test]
fn the_same_map_has_no_changes() {
    assert!(told(|_| ()).is_empty());
}

#[test]
fn each_kind_of_change_is_one_line() {
    assert_eq!(
        told(|map| map.parts[1].reference = "C7".into()),
        ["part C7: renamed from C1"]
    );
    assert_eq!(
        told(|map| map.parts[0].pins[2].at[1] += 0.3),
        ["part J1, pin 3: moved by 0.3 mm"]
    );
    assert_eq!(
        told(|map| map.parts[0].pins[2].no = "3a".into()),
        ["part J1, pin 3a: renumbered from 3"]
    );
    assert_eq!(
        told(|map| map.rails[0].loaded.min = 4.8),
        ["rail +5 V: loaded was 4.75 to 5.25 V, is 4.8 to 5.25 V"]
    );
    assert_eq!(
        told(|map| map.parts[2].pins[0].watch = Some("cracks".into())),
        ["part R1, pin 1: is a weak spot now: cracks"]
    );
    assert_eq!(
        told(|map| {
            map.parts.remove(1);
        }),
        ["part C1: removed, with 2 pins"]
    );
    assert_eq!(
        told(|map| map.parts[2].side = Side::Solder),
        ["part R1: side was component, is solder"]
    );
    assert_eq!(
        told(|map| map.test_points[0].expect[0].max = Some(2.3)),
        [
            "test point TP1: expected was volts dc 1.7 to 2.2 (nominal 1.9), is volts dc 1.7 to 2.3 (nominal 1.9)"
        ]
    );
    assert_eq!(
        told(|map| map.outline[2] = [82.0, 50.0]),
        ["board outline: was 80 x 50 mm with 4 corners, is 82 x 50 mm with 4 corners"]
    );
}

#[test]
fn a_part_that_moves_with_its_pins_is_told_once() {
    let lines = told(|map| {
        let part = &mut map.parts[2];
        for pin in &mut part.pins {
            pin.at[0] += 2.54;
        }
        if let crate::board::Outline::Rect { at, .. } = &mut part.outline {
            at[0] += 2.54;
        }
    });
    assert_eq!(lines, ["part R1: moved by 2.54 mm"]);
}

#[test]
fn a_new_origin_is_told_once() {
    let lines = told(|map| {
        let shift = |at: &mut [f64; 2]| {
            at[0] += 100.0;
            at[1] -= 10.0;
        };
        map.outline.iter_mut().for_each(shift);
        map.landmarks.iter_mut().for_each(|l| shift(&mut l.at));
        for part in &mut map.parts {
            part.pins.iter_mut().for_each(|pin| shift(&mut pin.at));
            match &mut part.outline {
                crate::board::Outline::Rect { at, .. }
                | crate::board::Outline::Circle { at, .. } => shift(at),
                crate::board::Outline::Polygon { points } => points.iter_mut().for_each(shift),
            }
        }
    });
    assert_eq!(
        lines,
        ["whole map: all that stayed moved by 100 mm in x and -10 mm in y"]
    );
}

#[test]
fn parts_that_only_their_names_join_are_told_as_such_and_can_be_joined() {
    let old = sample();
    let mut new = old.clone();
    for part in &mut new.parts {
        part.uid = format!("part-{}", part.reference);
        for pin in &mut part.pins {
            pin.uid = format!("pin-{}.{}", part.reference, pin.no);
        }
    }
    // A part that the old map does not have took the uid of one that it has.
    let mut fresh = new.parts[0].clone();
    fresh.uid = "p-r1".into();
    fresh.reference = "J9".into();
    for pin in &mut fresh.pins {
        pin.uid = format!("r1-{}", pin.no);
    }
    new.parts.push(fresh);
    // So its uid stays in both maps: R1 is no stranger, J1 and C1 are.
    let told: Vec<String> = map_diff(&old, &new)
        .iter()
        .map(ToString::to_string)
        .collect();
    assert!(
        told[0].starts_with("whole map: 2 parts go by the same names under another identity (uid): what was said of 6 joints"),
        "{told:#?}"
    );
    assert!(told.contains(&"part C1: the same name under another identity, 2 pins".to_owned()));

    assert_eq!(take_identities(&mut new, &old), 8);
    let lines: Vec<String> = map_diff(&old, &new)
        .iter()
        .map(ToString::to_string)
        .collect();
    assert_eq!(lines, ["part J9: added, with 4 pins"]);
    assert_eq!(new.parts[3].uid, "p-r1-2");
    let uids: std::collections::BTreeSet<&str> = new
        .parts
        .iter()
        .flat_map(|part| &part.pins)
        .map(|pin| pin.uid.as_str())
        .collect();
    assert_eq!(uids.len(), 12, "every identity once");
}
