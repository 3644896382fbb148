mod frames;
mod properties;

use std::collections::BTreeSet;
use std::path::Path;

use super::*;
use crate::board::model::{
    Expect, Extent, Land, LandShape, Limits, PartKind, Rail, Side, TestPoint,
};
use crate::board::{FindingSeverity, MapFile};
use crate::geometry::BoardPoint;

fn spec(kind: PartKind) -> PartSpec {
    PartSpec {
        reference: None,
        kind,
        value: String::new(),
        side: Side::Component,
        land: Land {
            shape: LandShape::Round,
            size: [1.8, 1.8],
        },
        drill: Some(0.9),
    }
}

fn draft() -> Draft {
    Draft::new("Fernhollow FH-12", "main")
}

fn row(first: Mm, last: Mm, count: usize) -> Edit {
    Edit::Row {
        part: spec(PartKind::Header),
        first,
        last,
        count,
        first_no: 1,
        extend: None,
    }
}

fn pins(draft: &Draft, part: usize) -> Vec<(String, Mm)> {
    let part = &draft.map().parts[part];
    part.pins
        .iter()
        .map(|pin| (pin.no.clone(), pin.at))
        .collect()
}

fn package(pin_1: Mm, row_end: Mm, count: usize) -> Edit {
    Edit::TwoRows {
        part: spec(PartKind::Ic),
        pin_1,
        row_end,
        across: Across::Mm(7.62),
        count,
        numbering: Numbering::Round,
    }
}

/// Worked example, common practice, no source: a package of eight, its mark up, seen from above.
/// 1 to 4 go down its left side, 5 to 8 up its right one.
#[test]
fn a_package_counts_counter_clockwise_seen_from_the_component_side() {
    let mut draft = draft();
    draft
        .apply(&package([10.0, 30.0], [10.0, 22.38], 8))
        .unwrap();
    let wanted = [
        ("1", [10.0, 30.0]),
        ("2", [10.0, 27.46]),
        ("3", [10.0, 24.92]),
        ("4", [10.0, 22.38]),
        ("5", [17.62, 22.38]),
        ("6", [17.62, 24.92]),
        ("7", [17.62, 27.46]),
        ("8", [17.62, 30.0]),
    ]
    .map(|(no, at)| (no.to_owned(), at));
    assert_eq!(pins(&draft, 0), wanted);

    // The same by a click on the other row; on the wrong side it is refused.
    let through = |x: f64| Edit::TwoRows {
        part: spec(PartKind::Ic),
        pin_1: [10.0, 30.0],
        row_end: [10.0, 22.38],
        across: Across::Through([x, 25.0]),
        count: 8,
        numbering: Numbering::Round,
    };
    assert_eq!(
        pins_of(&through(17.62)).unwrap()[7].at,
        BoardPoint::new(17.62, 30.0)
    );
    assert!(matches!(pins_of(&through(2.0)), Err(DraftError::Clockwise)));
}

#[test]
fn a_two_row_header_counts_across() {
    let edit = Edit::TwoRows {
        part: spec(PartKind::Header),
        pin_1: [0.0, 0.0],
        row_end: [5.08, 0.0],
        across: Across::Through([1.0, -2.54]),
        count: 6,
        numbering: Numbering::Across,
    };
    let places = pins_of(&edit).unwrap();
    let flat: Vec<(&str, Mm)> = places
        .iter()
        .map(|p| (p.no.as_str(), p.at.to_array()))
        .collect();
    assert_eq!(
        flat,
        [
            ("1", [0.0, 0.0]),
            ("2", [0.0, -2.54]),
            ("3", [2.54, 0.0]),
            ("4", [2.54, -2.54]),
            ("5", [5.08, 0.0]),
            ("6", [5.08, -2.54]),
        ]
    );
}

#[test]
fn a_mirrored_package_is_one_that_can_be() {
    let mut draft = draft();
    draft
        .apply(&package([10.0, 30.0], [10.0, 22.38], 8))
        .unwrap();
    let uid = draft.map().parts[0].uid.clone();
    let turn = |draft: &Draft| {
        let part = &draft.map().parts[0];
        let at = |i: usize| part.pins[i].centre();
        (at(3) - at(0)).cross(at(4) - at(3))
    };
    assert!(turn(&draft) > 0.0, "counter-clockwise");
    for about in [Line::AtX(40.0), Line::AtY(10.0)] {
        draft
            .apply(&Edit::Mirror {
                parts: vec![uid.clone()],
                about,
                copy: false,
            })
            .unwrap();
        assert!(turn(&draft) > 0.0, "{about:?}");
    }
    let xs: BTreeSet<i64> = pins(&draft, 0)
        .iter()
        .map(|(_, at)| (at[0] * 100.0).round() as i64)
        .collect();
    assert_eq!(xs, BTreeSet::from([6238, 7000]));
}

#[test]
fn references_go_on_and_uids_never_come_back() {
    let mut draft = draft();
    for i in 0..3 {
        let x = f64::from(i) * 10.0;
        draft
            .apply(&Edit::TwoLeads {
                part: spec(PartKind::Resistor),
                a: [x, 0.0],
                b: [x, 10.16],
            })
            .unwrap();
    }
    let names: Vec<&str> = draft
        .map()
        .parts
        .iter()
        .map(|p| p.reference.as_str())
        .collect();
    assert_eq!(names, ["R1", "R2", "R3"]);
    let third = draft.map().parts[2].clone();
    draft
        .apply(&Edit::Rename {
            part: third.uid.clone(),
            reference: "R6".to_owned(),
        })
        .unwrap();
    assert_eq!(next_reference(draft.map(), PartKind::Resistor), "R7");
    assert_eq!(draft.undoable(), Some("Call R3 R6"));
    draft.undo();
    draft.undo();
    draft
        .apply(&Edit::TwoLeads {
            part: spec(PartKind::Capacitor),
            a: [0.0, 20.0],
            b: [5.08, 20.0],
        })
        .unwrap();
    let fresh = &draft.map().parts[2];
    assert_eq!(fresh.reference, "C1");
    assert_ne!(fresh.uid, third.uid);
    assert!(
        fresh
            .pins
            .iter()
            .all(|pin| third.pins.iter().all(|old| old.uid != pin.uid))
    );
    // A map that is gone on with gives out none of its own again.
    let mut again = Draft::of(draft.map().clone());
    again.apply(&row([0.0, 40.0], [2.54, 40.0], 2)).unwrap();
    let uids: Vec<&String> = again
        .map()
        .parts
        .iter()
        .flat_map(|p| std::iter::once(&p.uid).chain(p.pins.iter().map(|pin| &pin.uid)))
        .collect();
    assert_eq!(uids.iter().collect::<BTreeSet<_>>().len(), uids.len());
}

#[test]
fn found_joints_become_parts_and_tools_take_them_over() {
    let mut draft = draft();
    let joints: Vec<FoundJoint> = (0..6)
        .map(|i| FoundJoint {
            at: [10.0 + 2.54 * f64::from(i), 10.0 + 0.05 * f64::from(i % 2)],
            land_mm: 1.9,
        })
        .collect();
    draft
        .apply(&Edit::Accept {
            joints: joints.clone(),
            rows: vec![vec![0, 1, 2]],
            packages: Vec::new(),
        })
        .unwrap();
    let names: Vec<&str> = draft
        .map()
        .parts
        .iter()
        .map(|p| p.reference.as_str())
        .collect();
    assert_eq!(names, ["J1", "X1", "X2", "X3"]);
    let uids: Vec<String> = draft
        .map()
        .parts
        .iter()
        .flat_map(|p| &p.pins)
        .map(|p| p.uid.clone())
        .collect();
    // Accepting them again makes nothing.
    assert!(matches!(
        draft.apply(&Edit::Accept {
            joints,
            rows: Vec::new(),
            packages: Vec::new(),
        }),
        Err(DraftError::Nothing)
    ));
    draft.apply(&row([10.0, 10.0], [22.7, 10.0], 6)).unwrap();
    assert_eq!(draft.map().parts.len(), 1);
    let now: Vec<String> = draft.map().parts[0]
        .pins
        .iter()
        .map(|p| p.uid.clone())
        .collect();
    assert_eq!(now, uids, "identities stay");
    // A part that somebody named is not eaten.
    let uid = draft.map().parts[0].uid.clone();
    draft
        .apply(&Edit::Rename {
            part: uid,
            reference: "J7".to_owned(),
        })
        .unwrap();
    draft.apply(&row([10.0, 10.0], [22.7, 10.0], 6)).unwrap();
    assert_eq!(draft.map().parts.len(), 2);
}

/// A package of eight whose body stands on the component side, its rows as they are found on a
/// photo: in any order, along either way, lying either way. Common practice, no source.
#[test]
fn facing_rows_become_a_package_numbered_round() {
    let joint = |x: f64, y: f64| FoundJoint {
        at: [x, y],
        land_mm: 1.6,
    };
    let left: Vec<FoundJoint> = (0..4)
        .map(|i| joint(10.0, 30.0 - 2.54 * f64::from(i)))
        .collect();
    let right: Vec<FoundJoint> = (0..4)
        .map(|i| joint(17.62, 30.02 - 2.54 * f64::from(i)))
        .collect();
    let wanted: Vec<Mm> = left
        .iter()
        .chain(right.iter().rev())
        .map(|j| j.at)
        .collect();
    for (a, b) in [([0, 1, 2, 3], [4, 5, 6, 7]), ([7, 6, 5, 4], [0, 1, 2, 3])] {
        let mut draft = draft();
        draft
            .apply(&Edit::Accept {
                joints: left.iter().chain(&right).copied().collect(),
                rows: vec![a.to_vec(), b.to_vec()],
                packages: vec![[0, 1], [1, 0], [0, 9]],
            })
            .unwrap();
        let [part] = draft.map().parts.as_slice() else {
            panic!("one part")
        };
        assert_eq!((part.reference.as_str(), part.kind), ("U1", PartKind::Ic));
        let pins: Vec<Mm> = part.pins.iter().map(|pin| pin.at).collect();
        let near = |(a, b): (&Mm, &Mm)| (a[0] - b[0]).hypot(a[1] - b[1]) < 1e-6;
        assert!(
            pins.iter().zip(&wanted).all(near) && pins.len() == 8,
            "{a:?} {b:?}: {pins:?}"
        );
    }
    // Rows of unequal length stay two rows.
    let mut draft = draft();
    draft
        .apply(&Edit::Accept {
            joints: left.iter().chain(&right).copied().collect(),
            rows: vec![vec![0, 1, 2, 3], vec![4, 5, 6]],
            packages: vec![[0, 1]],
        })
        .unwrap();
    let names: Vec<&str> = draft
        .map()
        .parts
        .iter()
        .map(|p| p.reference.as_str())
        .collect();
    assert_eq!(names, ["J1", "J2", "X1"]);
}

#[test]
fn a_finished_map_passes_the_linter_and_its_own_parser() {
    let mut draft = draft();
    draft
        .apply(&package([10.0, 30.0], [10.0, 22.38], 8))
        .unwrap();
    draft.apply(&row([30.0, 10.0], [40.16, 10.0], 5)).unwrap();
    draft
        .apply(&Edit::Row {
            part: spec(PartKind::Connector),
            first: [31.27, 12.54],
            last: [38.89, 12.54],
            count: 4,
            first_no: 6,
            extend: Some(draft.map().parts[1].uid.clone()),
        })
        .unwrap();
    assert_eq!(draft.map().parts[1].pins.last().unwrap().no, "9");
    draft.apply(&Edit::OutlineRound { margin_mm: 5.0 }).unwrap();
    draft.apply(&Edit::SuggestLandmarks).unwrap();
    draft
        .apply(&Edit::Rail {
            rail: Rail {
                name: "-12 V".to_owned(),
                at: "U1.4".to_owned(),
                return_at: "J1.1".to_owned(),
                unloaded: Limits {
                    min: -12.6,
                    max: -11.4,
                },
                loaded: Limits {
                    min: -12.6,
                    max: -11.4,
                },
                cold_min_ohm: Some(80.0),
                ripple_max_mv_pp: None,
                amperes_max: None,
            },
        })
        .unwrap();
    draft
        .apply(&Edit::TestPoint {
            point: TestPoint {
                name: "TP1".to_owned(),
                at: "U1.8".to_owned(),
                expect: vec![Extent {
                    quantity: Expect::VoltsDc,
                    nominal: None,
                    min: Some(4.8),
                    max: Some(5.2),
                }],
                settings: [("S1".to_owned(), "RUN".to_owned())].into(),
            },
        })
        .unwrap();
    let pin = draft.map().parts[1].pins[2].uid.clone();
    draft
        .apply(&Edit::Watch {
            of: pin,
            why: "takes the weight of the plug".to_owned(),
        })
        .unwrap();
    let bad: Vec<_> = draft
        .findings()
        .into_iter()
        .filter(|f| f.severity == FindingSeverity::Error)
        .collect();
    assert_eq!(bad, []);
    let file = MapFile::of(draft.map().clone());
    assert_eq!(
        &MapFile::from_bytes(file.text.into_bytes(), Path::new("x"))
            .unwrap()
            .map,
        draft.map()
    );
}

#[test]
fn nonsense_is_refused_and_changes_nothing() {
    let mut draft = draft();
    draft.apply(&row([0.0, 0.0], [10.0, 0.0], 5)).unwrap();
    let before = draft.now().clone();
    for edit in [
        row([0.0, 0.0], [0.0, 0.01], 5),
        row([0.0, 0.0], [f64::NAN, 0.0], 5),
        row([0.0, 0.0], [10.0, 0.0], 1),
        row([0.0, 0.0], [10.0, 0.0], usize::MAX),
        package([0.0, 0.0], [10.0, 0.0], 7),
        Edit::Delete {
            parts: vec!["nobody".to_owned()],
            pins: Vec::new(),
        },
        Edit::Delete {
            parts: Vec::new(),
            pins: Vec::new(),
        },
        Edit::Rename {
            part: draft.map().parts[0].uid.clone(),
            reference: " ".to_owned(),
        },
        Edit::LayAnew {
            photo_from_board: crate::geometry::Homography::from_rows([
                [1.0, 0.0, 0.0],
                [0.0, 1.0, 0.0],
                [0.0, 0.0, 1.0],
            ])
            .unwrap(),
        },
        Edit::Together {
            words: "half".to_owned(),
            edits: vec![
                row([0.0, 5.0], [10.0, 5.0], 3),
                Edit::SuggestLandmarks,
                Edit::DropRail {
                    name: "none".to_owned(),
                },
            ],
        },
        Edit::Move {
            parts: vec![draft.map().parts[0].uid.clone()],
            by: [1e7, 0.0],
        },
    ] {
        let said = draft.apply(&edit).unwrap_err().to_string();
        assert!(said.contains("; "), "no remedy: {said}");
        assert_eq!(draft.now(), &before);
    }
}
