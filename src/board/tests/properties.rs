//! Any text, any address.

use std::path::Path;

use proptest::prelude::*;
use serde_json::{Value, json};

use super::super::testing::{mutated, sample, sample_json};
use super::super::{
    BoardMap, MapFile, MapIndex, Side, full_address, label, lint, map_diff, resolve, resolve_many,
    round_order, take_identities,
};
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

/// What a value of the sample may become: of the right kind and absurd, or of another kind.
fn nasty() -> impl Strategy<Value = Value> {
    prop::sample::select(vec![
        Value::Null,
        json!(true),
        json!(-1),
        json!(0),
        json!(1e-300),
        json!(9_999.999_9),
        json!(1e300),
        json!(u64::MAX),
        json!(""),
        json!(" "),
        json!("j1"),
        json!("J1.1"),
        json!("p-j1"),
        json!("\u{0}:./"),
        json!("round"),
        json!("solder"),
        json!("hardware"),
        json!([]),
        json!([0, 0]),
        json!([[1, 1], [1, 1], [1, 1]]),
        json!({}),
    ])
}

/// Every place in a JSON document, as pointers.
fn places_in(value: &Value, at: &str, found: &mut Vec<String>) {
    found.push(at.to_owned());
    match value {
        Value::Object(fields) => {
            for (key, inner) in fields {
                places_in(inner, &format!("{at}/{key}"), found);
            }
        }
        Value::Array(items) => {
            for (i, inner) in items.iter().enumerate() {
                places_in(inner, &format!("{at}/{i}"), found);
            }
        }
        _ => {}
    }
}

/// The sample with values replaced, taken out and doubled: JSON always, a map sometimes, so that
/// what comes behind the parser is reached.
fn altered_values() -> impl Strategy<Value = String> {
    let change = (any::<prop::sample::Index>(), 0..4u8, nasty());
    prop::collection::vec(change, 1..8).prop_map(|changes| {
        let mut map: Value = serde_json::from_str(sample_json()).unwrap();
        for (index, how, new) in changes {
            let mut places = Vec::new();
            places_in(&map, "", &mut places);
            let at = index.get(&places).clone();
            let (parent, key) = at.rsplit_once('/').unwrap_or(("", ""));
            match (how, map.pointer_mut(parent)) {
                // Twice the same: repeated names, overlapping lands, crossing edges.
                (0 | 1, Some(Value::Array(items))) => {
                    if let Some(item) = key.parse().ok().and_then(|i: usize| items.get(i)) {
                        let again = item.clone();
                        items.push(again);
                    }
                }
                (2, Some(Value::Object(fields))) => {
                    fields.remove(key);
                }
                _ => {
                    if let Some(value) = map.pointer_mut(&at) {
                        *value = new;
                    }
                }
            }
        }
        map.to_string()
    })
}

proptest! {
    #[test]
    fn altered_values_never_panic(text in altered_values()) {
        match BoardMap::parse(&text, Path::new("m.json")) {
            Ok(map) => {
                let _ = lint(&map);
                let _ = round_order(&map, Side::Solder);
                let _ = map_diff(&sample(), &map);
                let index = MapIndex::new(&map);
                let _ = index.joints_in(map.bounds(), Side::Component);
                let mut merged = map.clone();
                let _ = take_identities(&mut merged, &sample());
            }
            Err(error) => prop_assert!(error.to_string().contains("m.json")),
        }
    }

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
        x in -1e4..1e4f64, y in prop::num::f64::NORMAL.prop_map(|v| v % 1e4),
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
