use std::collections::BTreeSet;
use std::path::Path;

use proptest::prelude::*;

use super::*;
use crate::board::model::{
    Expect, Extent, Land, LandShape, Limits, PartKind, Rail, Side, TestPoint,
};
use crate::board::{FindingSeverity, MapFile};
use crate::geometry::{BoardPoint, PhotoPoint};

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
fn two_pins_and_their_pitches_give_scale_and_side() {
    let by = FrameBy::Pitch {
        from: [100.0, 300.0],
        to: [608.0, 310.0],
        pitches: 10,
        pitch_mm: 2.54,
    };
    for (side, sign) in [(Side::Component, -1.0), (Side::Solder, 1.0)] {
        let mut draft = draft();
        draft
            .apply(&Edit::Frame {
                side,
                photo_size: [1000, 800],
                by: by.clone(),
            })
            .unwrap();
        let frame = draft.frame().unwrap();
        let a = frame.board(PhotoPoint::new(100.0, 300.0)).unwrap();
        let b = frame.board(PhotoPoint::new(608.0, 310.0)).unwrap();
        assert!(((b - a).length() - 25.4).abs() < 1e-6);
        assert!((b.y - a.y).abs() < 1e-6, "the row lies along an axis");
        // Left on the photo is left on the board from the component side, right from the other.
        assert_eq!((b.x - a.x).signum(), -sign);
        let up = frame.board(PhotoPoint::new(100.0, 100.0)).unwrap();
        assert!(up.y > a.y, "up is up");
        assert_eq!(
            frame.photo_from_board.determinant_at(a).unwrap().signum(),
            sign
        );
        let all = draft.map().bounds();
        assert!(all.min.x.abs() < 0.01 && all.min.y.abs() < 0.01);
    }
}

#[test]
fn four_corners_take_the_perspective_out() {
    let truth = crate::geometry::Homography::<crate::geometry::BoardMm, crate::geometry::PhotoPx>::from_rows([
        [10.0, 0.4, 100.0],
        [0.3, -9.0, 900.0],
        [0.0004, 0.0007, 1.0],
    ])
    .unwrap();
    let photo = |x: f64, y: f64| truth.apply(BoardPoint::new(x, y)).unwrap().to_array();
    // Begun at any corner, going round either way.
    let corners = [
        photo(80.0, 50.0),
        photo(80.0, 0.0),
        photo(0.0, 0.0),
        photo(0.0, 50.0),
    ];
    let mut draft = draft();
    draft
        .apply(&Edit::Frame {
            side: Side::Component,
            photo_size: [1400, 1000],
            by: FrameBy::Rectangle {
                corners,
                size_mm: [50.0, 80.0],
                board_edge: true,
            },
        })
        .unwrap();
    assert_eq!(
        draft.map().outline,
        [[0.0, 0.0], [80.0, 0.0], [80.0, 50.0], [0.0, 50.0]]
    );
    for (x, y) in [(10.0, 10.0), (70.0, 45.0), (33.0, 12.0)] {
        let [u, v] = photo(x, y);
        let back = draft.frame().unwrap().board(PhotoPoint::new(u, v)).unwrap();
        assert!((back - BoardPoint::new(x, y)).length() < 1e-6, "{back:?}");
    }
    let crossed = FrameBy::Rectangle {
        corners: [corners[0], corners[2], corners[1], corners[3]],
        size_mm: [50.0, 80.0],
        board_edge: true,
    };
    let edit = Edit::Frame {
        side: Side::Component,
        photo_size: [1400, 1000],
        by: crossed,
    };
    assert!(matches!(draft.apply(&edit), Err(DraftError::Corners)));
}

/// A photo with perspective, its scale taken from one row and two per cent wrong: the grid puts
/// it right, and each pin is still where the photo shows it.
#[test]
fn the_grid_takes_a_wrong_scale_and_the_perspective_out() {
    let truth = crate::geometry::Homography::<crate::geometry::BoardMm, crate::geometry::PhotoPx>::from_rows([
        [-27.0, 0.6, 2100.0],
        [-0.5, -26.0, 1500.0],
        [-0.0004, 0.0006, 1.0],
    ])
    .unwrap();
    let places: Vec<BoardPoint> = (0..12)
        .flat_map(|i| [(i, 0), (i, 1), (i, 14)])
        .chain([(20, 5), (21, 5), (24, 9), (25, 9), (26, 9), (24, 10)])
        .map(|(x, y)| BoardPoint::new(f64::from(x) * 2.54 + 3.0, f64::from(y) * 2.54 + 4.0))
        .collect();
    let px: Vec<PhotoPoint> = places.iter().map(|p| truth.apply(*p).unwrap()).collect();
    let mut draft = draft();
    draft
        .apply(&Edit::Frame {
            side: Side::Solder,
            photo_size: [2300, 1700],
            by: FrameBy::Pitch {
                from: px[0].to_array(),
                to: px[33].to_array(),
                pitches: 11,
                pitch_mm: 2.59,
            },
        })
        .unwrap();
    let joints = px
        .iter()
        .map(|p| FoundJoint {
            at: draft.frame().unwrap().board(*p).unwrap().to_array(),
            land_mm: 1.7,
        })
        .collect();
    draft
        .apply(&Edit::Accept {
            joints,
            rows: Vec::new(),
        })
        .unwrap();
    let edit = straighten(draft.now(), 2.54).expect("the pins stand on a grid");
    draft.apply(&edit).unwrap();
    for (pin, p) in draft.map().parts.iter().map(|part| &part.pins[0]).zip(&px) {
        let [x, y] = pin.at.map(|v| (v / 2.54 - (v / 2.54).round()).abs());
        assert!(x < 1e-3 && y < 1e-3, "{:?}", pin.at);
        let shown = draft.frame().unwrap().photo(pin.centre()).unwrap();
        assert!((shown - *p).length() < 0.5, "{shown:?} {p:?}");
    }
    let step = |i: usize, j: usize| {
        (draft.map().parts[i].pins[0].centre() - draft.map().parts[j].pins[0].centre()).length()
    };
    assert!((step(0, 33) - 11.0 * 2.54).abs() < 1e-6);
    assert!((step(0, 2) - 14.0 * 2.54).abs() < 1e-6);
}

#[test]
fn random_places_stand_on_no_grid() {
    // A low-discrepancy set: no two at one pitch.
    let points: Vec<BoardPoint> = (0..40)
        .map(|i| {
            BoardPoint::new(
                (f64::from(i) * 0.618_034).fract() * 80.0,
                (f64::from(i) * 0.754_878).fract() * 60.0,
            )
        })
        .collect();
    assert_eq!(fit_grid(&points, 2.54), None);
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
            rows: Vec::new()
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

/// An edit by numbers; which part it is about is settled when it is carried out.
fn any_edit(draft: &Draft, (what, x, y, n): (u8, f64, f64, usize)) -> Edit {
    let at = |i: usize| {
        draft
            .map()
            .parts
            .get(i % draft.map().parts.len().max(1))
            .map(|p| p.uid.clone())
    };
    let one: Vec<String> = at(n).into_iter().collect();
    let pin = draft
        .map()
        .parts
        .get(n % draft.map().parts.len().max(1))
        .and_then(|p| p.pins.get(n % p.pins.len().max(1)))
        .map(|p| p.uid.clone())
        .unwrap_or_default();
    match what % 16 {
        0 => row([x, y], [x + 20.0, y], 2 + n % 9),
        1 => package([x, y], [x, y - 12.7], 4 + 2 * (n % 8)),
        2 => Edit::TwoLeads {
            part: spec(PartKind::Resistor),
            a: [x, y],
            b: [x + 10.0, y],
        },
        3 => Edit::Duplicate {
            parts: one,
            by: [x / 3.0, y / 3.0],
        },
        4 => Edit::Mirror {
            parts: one,
            about: Line::AtX(x),
            copy: n.is_multiple_of(2),
        },
        5 => Edit::Move {
            parts: one,
            by: [x / 7.0, y / 7.0],
        },
        6 => Edit::Delete {
            parts: one,
            pins: Vec::new(),
        },
        7 => Edit::Delete {
            parts: Vec::new(),
            pins: vec![pin],
        },
        8 => Edit::Kind {
            parts: one,
            kind: PartKind::Transistor,
        },
        9 => Edit::Renumber {
            part: at(n).unwrap_or_default(),
            pin_1: pin,
            backwards: n.is_multiple_of(2),
        },
        10 => Edit::Accept {
            joints: (0..4)
                .map(|i| FoundJoint {
                    at: [x + 3.0 * f64::from(i), y],
                    land_mm: 1.5,
                })
                .collect(),
            rows: vec![vec![1, 2]],
        },
        11 => straighten(draft.now(), 2.54).unwrap_or(Edit::SuggestLandmarks),
        12 => Edit::Frame {
            side: if n.is_multiple_of(2) {
                Side::Solder
            } else {
                Side::Component
            },
            photo_size: [2000, 1500],
            by: FrameBy::Length {
                from: [x, y],
                to: [x + 900.0, y + 50.0],
                length_mm: 60.0,
            },
        },
        13 => Edit::OutlineRound { margin_mm: 3.0 },
        14 => Edit::SuggestLandmarks,
        _ => Edit::Gather {
            part: spec(PartKind::Connector),
            pins: vec![pin],
        },
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Any sequence of edits, all taken back, is the start; all put back in, the end. Meanwhile
    /// every identity is there once.
    #[test]
    fn undo_leads_back_and_redo_forth(steps in proptest::collection::vec((any::<u8>(), 0.0..90.0f64, 0.0..70.0f64, 0usize..40), 1..24)) {
        let mut draft = draft();
        let start = draft.now().clone();
        for step in steps {
            let edit = any_edit(&draft, step);
            let before = draft.now().clone();
            if draft.apply(&edit).is_err() {
                prop_assert_eq!(draft.now(), &before);
            }
            let uids: Vec<&str> = draft.map().parts.iter()
                .flat_map(|p| std::iter::once(p.uid.as_str()).chain(p.pins.iter().map(|pin| pin.uid.as_str())))
                .collect();
            prop_assert_eq!(uids.iter().collect::<BTreeSet<_>>().len(), uids.len());
            let text = draft.map().to_json();
            prop_assert!(BoardMap::parse(&text, Path::new("x")).is_ok());
        }
        let end = draft.now().clone();
        while draft.undo().is_some() {}
        prop_assert_eq!(draft.now(), &start);
        while draft.redo().is_some() {}
        prop_assert_eq!(draft.now(), &end);
    }

    #[test]
    fn snapping_twice_is_snapping_once(
        places in proptest::collection::vec((0.0..100.0f64, 0.0..80.0f64), 2..20),
        origin in (-5.0..5.0f64, -5.0..5.0f64), turn_deg in -45.0..45.0f64, half in any::<bool>(),
    ) {
        let mut draft = draft();
        for (x, y) in places {
            draft.apply(&Edit::OnePin { part: spec(PartKind::Other), at: [x, y] }).unwrap();
        }
        let grid = Grid { origin: [origin.0, origin.1], turn_deg, pitch_mm: if half { 1.27 } else { 2.54 } };
        let snap = Edit::Snap { grid, parts: Vec::new() };
        draft.apply(&snap).unwrap();
        let once = draft.now().clone();
        draft.apply(&snap).unwrap();
        prop_assert_eq!(draft.now(), &once);
    }

    /// What lies on a photo stays where it is on it when the photo is laid under anew.
    #[test]
    fn a_new_frame_leaves_the_pins_on_the_photo(x in 100.0..1900.0f64, y in 100.0..1400.0f64, length_mm in 30.0..90.0f64, slope in -200.0..200.0f64) {
        let mut draft = draft();
        let frame = |side, length_mm, slope| Edit::Frame {
            side,
            photo_size: [2000, 1500],
            by: FrameBy::Length { from: [50.0, 60.0], to: [1800.0, 60.0 + slope], length_mm },
        };
        draft.apply(&frame(Side::Component, 70.0, 0.0)).unwrap();
        let at = draft.frame().unwrap().board(PhotoPoint::new(x, y)).unwrap();
        draft.apply(&Edit::OnePin { part: spec(PartKind::Other), at: at.to_array() }).unwrap();
        draft.apply(&frame(Side::Solder, length_mm, slope)).unwrap();
        let pin = &draft.map().parts[0].pins[0];
        let shown = draft.frame().unwrap().photo(pin.centre()).unwrap();
        // Two roundings to micrometres.
        prop_assert!((shown - PhotoPoint::new(x, y)).length() < 0.1);
        prop_assert!((pin.land.size[0] - 1.8 * length_mm / 70.0).abs() < 0.05);
    }

    #[test]
    fn edits_read_back_from_json(step in (any::<u8>(), 0.0..90.0f64, 0.0..70.0f64, 0usize..40)) {
        let mut draft = draft();
        draft.apply(&row([5.0, 5.0], [15.16, 5.0], 5)).unwrap();
        let edit = any_edit(&draft, step);
        let text = serde_json::to_string(&edit).unwrap();
        prop_assert_eq!(serde_json::from_str::<Edit>(&text).unwrap(), edit);
    }
}
