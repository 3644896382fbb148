mod places;
mod properties;

use std::path::Path;

use super::model::{BoardMap, Side};
use super::testing::{sample, sample_json};
use super::{MapError, MapFile, MapIndex, Place, round_order};
use crate::geometry::BoardPoint;

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
