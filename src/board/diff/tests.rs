use super::map_diff;
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
