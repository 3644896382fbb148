use std::path::Path;

use proptest::prelude::*;

use super::model::{BoardMap, Side};
use super::testing::{sample, sample_json};
use super::{
    AddressError, MapError, MapFile, MapIndex, Place, full_address, label, resolve, resolve_many,
    round_order,
};
use crate::geometry::{BoardBox, BoardPoint};

fn error(text: &str) -> MapError {
    BoardMap::parse(text, Path::new("bad.json")).unwrap_err()
}

fn error_text(text: &str) -> String {
    error(text).to_string()
}

/// The sample with one piece of its text replaced.
fn altered(from: &str, to: &str) -> String {
    assert!(sample_json().contains(from), "{from}");
    sample_json().replacen(from, to, 1)
}

#[test]
fn bare_and_quoted_nan_are_named() {
    for (word, shown) in [
        ("NaN", "`NaN`"),
        ("Infinity", "`Infinity`"),
        ("-Infinity", "`-Infinity`"),
        ("nan", "`nan`"),
        ("1e999", "`1e999`"),
        ("-1e999", "`-1e999`"),
        ("null", "`null`"),
        ("\"NaN\"", "NaN"),
    ] {
        let text = altered("[12.54, 10]", &format!("[{word}, 10]"));
        let told = error_text(&text);
        assert!(told.contains("numbers must be finite"), "{word}: {told}");
        assert!(told.contains("bad.json: line 15, column"), "{word}: {told}");
        assert!(told.contains(shown), "{word}: {told}");
    }
}

#[test]
fn column_counts_characters() {
    let text = "{\"schema\": 1, \"model\": \"Größe\", \"board\": NaN}";
    match error(text) {
        MapError::NotFinite { line, column, .. } => assert_eq!((line, column), (1, 42)),
        other => panic!("{other}"),
    }
}

#[test]
fn syntax_errors_name_line_and_column() {
    let told = error_text("{\n  \"schema\": 1,\n  \"model\" \"x\"\n}");
    assert!(
        told.starts_with("bad.json: line 3, column 11: expected `:`"),
        "{told}"
    );
    let told = error_text(&altered("\"uid\": \"p-j1\"", "\"uuid\": \"p-j1\""));
    assert!(
        told.contains("unknown field `uuid`") && told.contains("line 11"),
        "{told}"
    );
    let told = error_text(&altered("\"shape\": \"circle\"", "\"shape\": \"blob\""));
    assert!(told.contains("blob"), "{told}");
    for text in ["", "[]", "{", "\u{feff}", "{}", "1"] {
        assert!(matches!(error(text), MapError::Syntax { .. }), "{text}");
    }
    assert!(error_text(&altered("[13.81, 10]", &"[".repeat(100_000))).contains("recursion"));
}

#[test]
fn another_schema_version_says_so() {
    let told = error_text(&altered("\"schema\": 1", "\"schema\": 2"));
    assert!(
        told.contains("schema version 2") && told.contains("newer"),
        "{told}"
    );
    // Also where the newer version has fields that this program does not know.
    let told = error_text("{\"schema\": 7, \"layers\": []}");
    assert!(told.contains("schema version 7"), "{told}");
    assert!(error_text(&altered("\"schema\": 1", "\"schema\": 0")).contains("version 0"));
}

#[test]
fn absurd_numbers_counts_and_lengths_are_refused() {
    let told = error_text(&altered("[12.54, 10]", "[1e300, 10]"));
    assert!(
        told.contains("part J1, pin 2") && told.contains("beyond +-10000"),
        "{told}"
    );
    let told = error_text(&altered("\"max\": 5.25", "\"max\": 1e13"));
    assert!(told.contains("rail +5 V"), "{told}");
    let told = error_text(&altered(
        "\"ref\": \"J1\"",
        &format!("\"ref\": \"{}\"", "J".repeat(200)),
    ));
    assert!(told.contains("200 characters"), "{told}");
    let corners = vec!["[1, 1]"; 3_000].join(",");
    let told = error_text(&altered("[0, 0]", &corners));
    assert!(told.contains("at most 2000"), "{told}");
}

#[test]
fn files_keep_their_exact_text_and_hash() {
    let text = format!("\u{feff}{}", sample_json());
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("panel.json");
    std::fs::write(&path, &text).unwrap();
    let file = MapFile::load(&path).unwrap();
    assert_eq!(file.text, text);
    assert_eq!(file.map, sample());
    let of = MapFile::of(sample());
    assert_eq!(of.sha256, sample().sha256());
    assert_ne!(of.sha256, file.sha256);
    // FIPS 180-4 example: the hash of "abc".
    assert_eq!(
        super::file::sha256_hex(b"abc"),
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    );
}

#[test]
fn unreadable_files_are_named() {
    let dir = tempfile::tempdir().unwrap();
    let told = MapFile::load(dir.path()).unwrap_err().to_string();
    assert!(told.contains("cannot be read"), "{told}");
    let told = MapFile::from_bytes(b"{\n\xff}".to_vec(), Path::new("l.json"))
        .unwrap_err()
        .to_string();
    assert!(told.contains("l.json: line 2: not UTF-8"), "{told}");
    let big = vec![b' '; super::MAX_FILE_BYTES as usize + 1];
    let told = MapFile::from_bytes(big, Path::new("big.json")).unwrap_err();
    assert!(matches!(told, MapError::TooLarge { .. }));
}

#[test]
fn one_pin_is_one_line() {
    let json = sample().to_json();
    let pin = json.lines().find(|l| l.contains("\"j1-2\"")).unwrap();
    assert!(pin.contains("\"net\": \"GND\"}"), "{pin}");
    assert_eq!(BoardMap::parse(&json, Path::new("x")).unwrap(), sample());
}

fn joint(board: &str, part: &str, pin: &str, side: Side) -> Place {
    Place::Joint {
        board: board.into(),
        part: part.into(),
        pin: pin.into(),
        side,
    }
}

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
        .map(super::joints::Joint::label)
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

/// A board of `parts` 40-pin packages in rows.
fn large(parts: usize) -> BoardMap {
    let mut map = sample();
    let pin = map.parts[0].pins[1].clone();
    let side = (parts as f64).sqrt().ceil() as usize;
    map.outline = vec![
        [0.0, 0.0],
        [2_000.0, 0.0],
        [2_000.0, 2_000.0],
        [0.0, 2_000.0],
    ];
    map.rails.clear();
    map.test_points.clear();
    map.parts = (0..parts)
        .map(|i| {
            let (x, y) = (10 + i % side * 60, 10 + i / side * 25);
            let mut part = sample().parts[0].clone();
            part.uid = format!("part-{i}");
            part.reference = format!("U{i}");
            part.pins = (0..40)
                .map(|j| {
                    let mut pin = pin.clone();
                    let (row, step) = (j / 20, j % 20);
                    let step = if row == 0 { step } else { 19 - step };
                    pin.at = [x as f64 + 2.54 * step as f64, y as f64 + 15.24 * row as f64];
                    pin.uid = format!("pin-{i}-{j}");
                    pin.no = format!("{}", j + 1);
                    pin
                })
                .collect();
            part
        })
        .collect();
    map
}

#[test]
fn ten_thousand_pins_are_parsed_indexed_and_walked() {
    let json = large(250).to_json();
    let map = BoardMap::parse(&json, Path::new("large.json")).unwrap();
    let index = MapIndex::new(&map);
    let findings = super::lint(&map);
    let walked = round_order(&map, Side::Solder).len();
    assert_eq!(walked, 10_000);
    assert!(
        findings.iter().all(|f| !f.reason.contains("overlap")),
        "{findings:#?}"
    );
    assert!(
        index
            .nearest_joint(BoardPoint::new(10.0, 10.0), Side::Solder, 1.0)
            .is_some()
    );
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

/// Text that is nearly a map: the sample with a few bytes changed, cut or doubled.
pub(super) fn mutated(text: &'static str) -> impl Strategy<Value = Vec<u8>> {
    let len = text.len();
    let edit = (0..len, 0..3u8, prop::collection::vec(any::<u8>(), 0..4));
    prop::collection::vec(edit, 1..6).prop_map(move |edits| {
        let mut bytes = text.as_bytes().to_vec();
        for (at, how, new) in edits {
            let at = at.min(bytes.len());
            let end = match how {
                0 => at,
                1 => (at + new.len()).min(bytes.len()),
                _ => (at + 40).min(bytes.len()),
            };
            bytes.splice(at..end, new);
        }
        bytes
    })
}

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
            Ok(file) => { let _ = super::lint(&file.map); }
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
            let _ = super::lint(&map);
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
