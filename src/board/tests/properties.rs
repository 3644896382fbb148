//! Any text, any address.

use std::path::Path;

use proptest::prelude::*;

use super::super::testing::{mutated, sample, sample_json};
use super::super::{BoardMap, MapFile, Side, full_address, label, lint, resolve, resolve_many};
use super::joint;

fn token() -> impl Strategy<Value = &'static str> {
    prop::sample::select(vec![
        "NaN",
        "1e999",
        "-0",
        "null",
        "[]",
        "{}",
        "\"\"",
        "1e308",
        "\"\\u0000\"",
        "true",
        "-",
        "[[",
    ])
}

proptest! {
    #[test]
    fn mutated_text_never_panics(bytes in mutated(sample_json())) {
        match MapFile::from_bytes(bytes, Path::new("m.json")) {
            Ok(file) => { let _ = lint(&file.map); }
            Err(error) => prop_assert!(error.to_string().contains("m.json")),
        }
    }

    #[test]
    fn swapped_tokens_never_panic(at in 0usize..200, token in token()) {
        let json = sample_json();
        let numbers: Vec<_> = json.match_indices(|c: char| c.is_ascii_digit()).collect();
        let (at, digit) = numbers[at % numbers.len()];
        let text = format!("{}{token}{}", &json[..at], &json[at + digit.len()..]);
        if let Ok(map) = BoardMap::parse(&text, Path::new("m.json")) {
            let _ = lint(&map);
        }
    }

    #[test]
    fn round_trip_is_exact(
        x in -1e4..1e4f64, y in prop::num::f64::NORMAL.prop_filter("on a board", |v| v.abs() < 1e4),
        text in "\\PC{0,40}", drill in proptest::option::of(1e-9..9.0f64),
    ) {
        let mut map = sample();
        map.parts[0].pins[1].at = [x, y];
        map.parts[0].pins[1].drill = drill;
        map.parts[0].value = text.clone();
        map.landmarks[0].at = [y, x];
        map.revision = Some(text);
        let json = map.to_json();
        let again = BoardMap::parse(&json, Path::new("m.json")).unwrap();
        prop_assert_eq!(&again, &map);
        prop_assert_eq!(again.to_json(), json);
    }

    #[test]
    fn every_joint_resolves_to_itself(part in 0usize..3, pin in 0usize..2, solder: bool) {
        let map = sample();
        let side = if solder { Side::Solder } else { Side::Component };
        let uid = map.parts[part].pins[pin].uid.clone();
        for text in [label(&map, &uid, side).unwrap(), full_address(&map, &uid, side).unwrap()] {
            let want = joint("panel", &map.parts[part].uid, &uid, side);
            prop_assert_eq!(resolve(&[&map], &text).unwrap(), want);
        }
    }

    #[test]
    fn any_question_is_answered(text in "[A-Za-z0-9:./*, -]{0,16}") {
        let _ = resolve_many(&[sample()], &text);
    }
}
