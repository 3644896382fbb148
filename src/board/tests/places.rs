//! Addresses, labels, what is where, and the order of the round.

use super::super::testing::sample;
use super::super::{
    AddressError, BoardMap, Joint, MapIndex, Place, Side, full_address, label, resolve,
    resolve_many, round_order,
};
use super::joint;
use crate::geometry::{BoardBox, BoardPoint};

#[test]
fn addresses_resolve() {
    let maps = [sample()];
    for text in [
        "panel:J1.3/solder",
        "J1.3",
        "j1.3",
        "PANEL:j1.3",
        "J1.3/SOLDER",
    ] {
        let want = joint("panel", "p-j1", "j1-3", Side::Solder);
        assert_eq!(resolve(&maps, text).unwrap(), want, "{text}");
    }
    assert_eq!(
        resolve(&maps, "J1.3/component").unwrap(),
        joint("panel", "p-j1", "j1-3", Side::Component)
    );
    assert_eq!(
        resolve(&maps, "c1.-").unwrap(),
        joint("panel", "p-c1", "c1-2", Side::Solder)
    );
    let part = Place::Part {
        board: "panel".into(),
        part: "p-r1".into(),
    };
    assert_eq!(resolve(&maps, "R1").unwrap(), part);
}

#[test]
fn several_joints_resolve_in_the_order_written() {
    let maps = [&sample()];
    let pins = |text: &str| -> Vec<String> {
        resolve_many(&maps, text)
            .unwrap()
            .into_iter()
            .map(|place| match place {
                Place::Joint { pin, .. } => pin,
                Place::Part { part, .. } => part,
            })
            .collect()
    };
    assert_eq!(pins("J1.2-4"), ["j1-2", "j1-3", "j1-4"]);
    assert_eq!(pins("J1.*"), ["j1-1", "j1-2", "j1-3", "j1-4"]);
    assert_eq!(pins("J1.4, 1-2/solder"), ["j1-4", "j1-1", "j1-2"]);
    assert_eq!(pins("J1"), ["p-j1"]);
    let told = resolve(&maps, "J1.1-4").unwrap_err();
    assert!(matches!(told, AddressError::Several { count: 4, .. }));
    let told = resolve_many(&maps, "J1.3-9").unwrap_err().to_string();
    assert!(
        told.contains("J1 has no pin 5; it has 4 pins, 1 to 4"),
        "{told}"
    );
    let told = resolve_many(&maps, "J1.1-4000000000")
        .unwrap_err()
        .to_string();
    assert!(told.contains("no pin"), "{told}");
}

#[test]
fn what_is_not_there_is_answered_with_what_is() {
    let maps = [sample()];
    let told = resolve(&maps, "J11.3").unwrap_err().to_string();
    assert!(told.contains("no J11 here; J1 has 4 pins"), "{told}");
    let told = resolve(&maps, "main:J1").unwrap_err().to_string();
    assert!(
        told.contains("no board `main` here; there is panel"),
        "{told}"
    );
    let told = resolve(&maps, "J1/solder").unwrap_err().to_string();
    assert!(told.contains("J1.1/solder"), "{told}");
    let told = resolve::<BoardMap>(&[], "J1").unwrap_err().to_string();
    assert!(told.contains("no board map at all"), "{told}");
    let mut main = sample();
    main.board = "main".into();
    let told = resolve(&[sample(), main], "J1.2").unwrap_err().to_string();
    assert!(told.contains("panel:J1.2 or main:J1.2"), "{told}");
}

#[test]
fn surface_lands_have_one_side() {
    let mut map = sample();
    map.parts[2].pins[0].drill = None;
    let maps = [map];
    assert_eq!(
        resolve(&maps, "R1.1").unwrap(),
        joint("panel", "p-r1", "r1-1", Side::Component)
    );
    let told = resolve(&maps, "R1.1/solder").unwrap_err().to_string();
    assert!(told.contains("no joint on the solder side"), "{told}");
}

#[test]
fn labels_and_lookups() {
    let map = sample();
    assert_eq!(label(&map, "j1-3", Side::Solder).unwrap(), "J1.3");
    assert_eq!(
        label(&map, "j1-3", Side::Component).unwrap(),
        "J1.3/component"
    );
    assert_eq!(
        full_address(&map, "c1-1", Side::Solder).unwrap(),
        "panel:C1.+/solder"
    );
    assert_eq!(label(&map, "none", Side::Solder), None);
    assert_eq!(map.part("p-c1").unwrap().reference, "C1");
    assert_eq!(map.part_by_reference("c1").unwrap().uid, "p-c1");
    let index = MapIndex::new(&map);
    assert_eq!(index.pin("r1-2").unwrap().0.reference, "R1");
    assert!(index.pin("r1-3").is_none());
}

#[test]
fn nearest_joint_and_joints_of_an_area() {
    let map = sample();
    let index = MapIndex::new(&map);
    let near = |x, y, within| {
        index
            .nearest_joint(BoardPoint::new(x, y), Side::Solder, within)
            .map(|joint| joint.label())
    };
    assert_eq!(near(12.9, 10.3, 1.0).as_deref(), Some("J1.2"));
    assert_eq!(near(12.9, 13.0, 1.0), None);
    assert_eq!(near(f64::NAN, 1.0, 1.0), None);
    let area = BoardBox::new(BoardPoint::new(11.0, 5.0), BoardPoint::new(30.0, 25.0));
    let labels: Vec<String> = index
        .joints_in(area, Side::Solder)
        .iter()
        .map(Joint::label)
        .collect();
    assert_eq!(labels, ["J1.2", "J1.3", "J1.4", "C1.+"]);
}

#[test]
fn parts_are_found_by_their_bodies() {
    let map = sample();
    let index = MapIndex::new(&map);
    let found = |x, y, side| {
        index
            .part_at(BoardPoint::new(x, y), side)
            .map(|part| part.reference.as_str())
    };
    assert_eq!(found(30.0, 23.0, Side::Component), Some("C1"));
    // Within the square round the can, but outside the can.
    assert_eq!(found(33.0, 23.0, Side::Component), None);
    // R1 is turned by 90 degrees.
    assert_eq!(found(50.0, 33.0, Side::Component), Some("R1"));
    assert_eq!(found(53.0, 30.0, Side::Component), None);
    assert_eq!(found(30.0, 20.0, Side::Solder), None);
}

#[test]
fn lettered_rows_are_lists_too() {
    let mut map = sample();
    for (pin, no) in map.parts[0].pins.iter_mut().zip(["A1", "A2", "B1", "2-5"]) {
        pin.no = no.into();
    }
    let count = |text: &str| resolve_many(&[&map], text).map(|places| places.len());
    assert_eq!(count("J1.A1-A2"), Ok(2));
    assert_eq!(count("J1.a1-2"), Ok(2));
    assert_eq!(count("J1.2-5"), Ok(1), "a name that holds - is a name");
    assert!(count("J1.A1-B1").is_err());
}

#[test]
fn the_round_starts_with_weak_spots_and_snakes() {
    let mut map = sample();
    let order = |map: &BoardMap, side| -> Vec<String> {
        round_order(map, side)
            .iter()
            .map(|joint| format!("{}.{}", joint.part.reference, joint.pin.no))
            .collect()
    };
    // J1 is watched; R1 (y 30) and C1 (y 20) share the top row of 20 mm: on the component side
    // C1 (x 30) comes before R1 (x 50); seen from behind it is the other way about.
    assert_eq!(
        order(&map, Side::Component),
        [
            "J1.1", "J1.2", "J1.3", "J1.4", "C1.+", "C1.-", "R1.1", "R1.2"
        ]
    );
    assert_eq!(
        order(&map, Side::Solder),
        [
            "J1.1", "J1.2", "J1.3", "J1.4", "R1.1", "R1.2", "C1.+", "C1.-"
        ]
    );
    map.parts[0].watch = None;
    map.parts[0].pins[2].watch = Some("cracked before".into());
    assert_eq!(
        order(&map, Side::Component),
        [
            "J1.3", "C1.+", "C1.-", "R1.1", "R1.2", "J1.1", "J1.2", "J1.4"
        ]
    );
    // The second row is walked back: add a part left of J1 in its row.
    let mut left = map.parts[0].clone();
    left.reference = "J2".into();
    for pin in &mut left.pins {
        pin.at[0] -= 8.0;
        pin.watch = None;
    }
    map.parts.push(left);
    let walked = order(&map, Side::Component);
    let at = |name: &str| walked.iter().position(|joint| joint == name).unwrap();
    assert!(at("J1.1") < at("J2.1"), "{walked:?}");
    map.parts[2].pins[0].drill = None;
    assert!(!order(&map, Side::Solder).contains(&"R1.1".to_owned()));
}
