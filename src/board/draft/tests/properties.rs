//! Any edits in any order.

use std::collections::BTreeSet;
use std::path::Path;

use proptest::prelude::*;

use super::super::*;
use super::{draft, package, row, spec};
use crate::board::model::{PartKind, Side};
use crate::geometry::PhotoPoint;

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
            rows: vec![vec![1, 2], vec![0, 3]],
            packages: if n.is_multiple_of(3) {
                vec![[0, 1]]
            } else {
                Vec::new()
            },
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
