//! Board maps and their import against published facts.
//!
//! Lengths: 1 in = 25.4 mm exactly (international yard and pound agreement of 1959), so
//! 500 mil = 0.5 in = 12.7 mm. Column aliases: common practice, no source (a centroid CSV has
//! no standard). CSV quoting: RFC 4180. Formula prefix: OWASP's rule. Schema: JSON Schema
//! 2020-12, judged by the general validator `jsonschema`.

use std::path::{Path, PathBuf};

use benchglass::board::{
    BoardMap, BottomX, DecimalMark, ImportError, ImportOptions, Imported, LengthUnit, QuestionKey,
    Side, export_centroid, import_centroid, lint, map_schema,
};
use serde_json::Value;

fn project(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

fn import(text: &str, change: impl FnOnce(&mut ImportOptions)) -> Result<Imported, ImportError> {
    let mut options = ImportOptions {
        model: "Fernhollow FH-12".into(),
        board: "main".into(),
        ..ImportOptions::default()
    };
    change(&mut options);
    import_centroid(text.as_bytes(), Path::new("parts.csv"), &options)
}

fn place(map: &BoardMap, reference: &str) -> (f64, f64) {
    let centre = map
        .part_by_reference(reference)
        .expect(reference)
        .outline
        .centre();
    (centre.x, centre.y)
}

#[track_caller]
fn near(got: (f64, f64), want: (f64, f64)) {
    assert!(
        (got.0 - want.0).abs() < 1e-9 && (got.1 - want.1).abs() < 1e-9,
        "{got:?} is not {want:?}"
    );
}

#[test]
fn five_hundred_mil_is_half_an_inch_is_12_7_mm() {
    for (heading, cell) in [
        ("X (mil),Y (mil)", "500,1000"),
        ("X (in),Y (in)", "0.5,1"),
        ("X (mm),Y (mm)", "12.7,25.4"),
        ("X,Y", "500mil,1000 mils"),
        ("X,Y", "0.5in,1 inch"),
        ("X,Y", "12.7mm,25.4 MM"),
        ("X,Y", "0.5\u{2033},25.4mm"),
        ("x_mil,y_mil", "500,1000mil"),
    ] {
        let text = format!("RefDes,{heading},Side\nU1,{cell},Top\n");
        let imported = import(&text, |_| ()).unwrap_or_else(|e| panic!("{text}: {e}"));
        near(place(&imported.map, "U1"), (12.7, 25.4));
    }
    for (unit, cell) in [
        (LengthUnit::Mil, "500,1000"),
        (LengthUnit::Inch, "0.5,1"),
        (LengthUnit::Mm, "12.7,25.4"),
    ] {
        let text = format!("RefDes,X,Y,Side\nU1,{cell},Top\n");
        assert!(matches!(
            import(&text, |_| ()),
            Err(ImportError::Asks { .. })
        ));
        let imported = import(&text, |o| o.units = Some(unit)).expect("told");
        near(place(&imported.map, "U1"), (12.7, 25.4));
    }
}

#[test]
fn every_alias_separator_and_side_word() {
    let references = [
        "Designator",
        "RefDes",
        "Ref",
        "Reference",
        "Part",
        "REF_DES",
        "ref des",
    ];
    let pairs = [
        ("Mid X", "Mid Y"),
        ("Center-X", "Center-Y"),
        ("X", "Y"),
        ("PosX", "PosY"),
        ("Ref-X", "Ref-Y"),
        ("pos_x", "pos_y"),
    ];
    let sides = [
        ("Layer", "Top", Side::Component),
        ("Side", "T", Side::Component),
        ("TB", "F", Side::Component),
        ("side", "1", Side::Component),
        ("Layer", "Bottom", Side::Solder),
        ("TB", "B", Side::Solder),
        ("Side", "2", Side::Solder),
    ];
    let turns = ["Rotation", "Rot", "Angle"];
    let values = ["Comment", "Value", "Val"];
    let packages = ["Footprint", "Package", "Pattern"];
    for i in 0..references.len() * pairs.len() * sides.len() {
        let reference = references[i % references.len()];
        let (x, y) = pairs[i / references.len() % pairs.len()];
        let (side, word, want) = sides[i / 42 % sides.len()];
        let (turn, value, package) = (turns[i % 3], values[i / 3 % 3], packages[i / 9 % 3]);
        let sep = [",", ";", "\t"][i % 3];
        let heading = [value, reference, package, x, y, side, turn].join(sep);
        let line = ["10k", "R7", "axial", "12.7", "-2.54", word, "270"].join(sep);
        let imported = import(&format!("{heading}\r\n{line}\r\n"), |o| {
            o.units = Some(LengthUnit::Mm);
            o.bottom_x = Some(BottomX::AsTop);
        })
        .unwrap_or_else(|e| panic!("{heading}: {e}"));
        near(place(&imported.map, "R7"), (12.7, -2.54));
        assert_eq!(imported.map.parts[0].side, want, "{heading}");
        assert_eq!(imported.map.parts[0].value, "10k, axial");
    }
}

#[test]
fn the_middle_goes_before_pin_one_and_pairs_stay_together() {
    let text = "Ref,Ref-X,Ref-Y,Mid X,Mid Y,Layer\nU1,1mm,2mm,3mm,4mm,T\n";
    near(
        place(&import(text, |_| ()).expect("mm").map, "U1"),
        (3.0, 4.0),
    );
    let text = "Ref,Mid X,Ref-X,Ref-Y,Layer\nU1,9mm,1mm,2mm,T\n";
    near(
        place(&import(text, |_| ()).expect("mm").map, "U1"),
        (1.0, 2.0),
    );
}

#[test]
fn byte_order_mark_preamble_and_decimal_comma() {
    let bytes = std::fs::read(project("tests/fixtures/board/centroid_comma.csv")).expect("fixture");
    assert!(bytes.starts_with(b"\xef\xbb\xbf"));
    let options = ImportOptions {
        bottom_x: Some(BottomX::Negated),
        ..ImportOptions::default()
    };
    let name = Path::new("centroid_comma.csv");
    let imported = import_centroid(&bytes, name, &options).expect("fixture imports");
    let map = imported.map;
    near(place(&map, "R1"), (12.7, 6.35));
    near(place(&map, "C2"), (1234.5, 0.0));
    near(place(&map, "U3"), (25.4, 50.8));
    assert_eq!(map.part_by_reference("U3").expect("U3").side, Side::Solder);
    assert_eq!(
        map.part_by_reference("C2").expect("C2").value,
        "470 uF; 25 V, \"radial\", 5 mm"
    );
    assert!(
        imported.notes.iter().any(|n| n.contains("line 3")),
        "{:?}",
        imported.notes
    );
    // A wrong answer is refused at the first number that contradicts it, not bent.
    let wrong = ImportOptions {
        decimal: Some(DecimalMark::Point),
        ..options
    };
    let told = import_centroid(&bytes, name, &wrong)
        .expect_err("a comma is no point")
        .to_string();
    assert!(told.contains("line 6, column 3 (Mid X)"), "{told}");
}

#[test]
fn bottom_x_is_asked() {
    let Err(ImportError::Asks { questions, .. }) =
        import("Ref,X (mm),Y (mm),Side\nR1,1,2,Bottom\n", |_| ())
    else {
        panic!("must ask");
    };
    assert_eq!(questions[0].key, QuestionKey::BottomX);
    assert_eq!(questions[0].choices.len(), 2);
}

#[test]
fn export_is_rfc_4180_and_safe_from_formulas() {
    let mut map = page_map();
    map.parts[0].reference = "=2+3,\"x\"\n".into();
    let text = export_centroid(&map).expect("written");
    assert!(text.starts_with("ref,x_mm,y_mm,side,turn_deg\r\n"));
    assert!(
        text.contains("\"'=2+3,\"\"x\"\"\n\",13.81,10,component,0\r\n"),
        "{text}"
    );
}

fn page_json() -> String {
    let page = std::fs::read_to_string(project("docs/board-map.md")).expect("page");
    let (_, rest) = page.split_once("```json\n").expect("a JSON block");
    rest.split_once("```").expect("its end").0.to_owned()
}

fn page_map() -> BoardMap {
    BoardMap::parse(&page_json(), Path::new("docs/board-map.md")).expect("the page's map parses")
}

#[test]
fn the_map_of_the_page_parses_and_is_clean() {
    assert_eq!(lint(&page_map()), []);
}

#[test]
fn the_published_schema_is_fresh() {
    let path = project("docs/board-map.schema.json");
    if std::env::var_os("BENCHGLASS_REGENERATE").is_some() {
        std::fs::write(&path, map_schema()).expect("schema written");
    }
    let published = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(
        published == map_schema(),
        "docs/board-map.schema.json is stale: run the tests with BENCHGLASS_REGENERATE=1"
    );
}

#[test]
fn the_schema_takes_right_maps_and_refuses_wrong_ones() {
    let schema: Value = serde_json::from_str(&map_schema()).expect("JSON");
    assert_eq!(
        schema["$schema"],
        "https://json-schema.org/draft/2020-12/schema"
    );
    jsonschema::meta::validate(&schema).expect("a schema by its own meta-schema");
    let validator = jsonschema::validator_for(&schema).expect("schema compiles");
    let good: Value = serde_json::from_str(&page_json()).expect("JSON");
    assert!(validator.is_valid(&good), "{:?}", validator.validate(&good));
    let written: Value = serde_json::from_str(&page_map().to_json()).expect("JSON");
    assert!(validator.is_valid(&written));

    type Change = fn(&mut Value);
    let changes: [(&str, Change); 7] = [
        ("no uid", |v| {
            v["parts"][0].as_object_mut().expect("part").remove("uid");
        }),
        ("unknown field", |v| v["parts"][0]["colour"] = "red".into()),
        ("a word for a number", |v| {
            v["parts"][0]["pins"][0]["at"][0] = "NaN".into()
        }),
        ("an unknown kind", |v| {
            v["parts"][0]["kind"] = "valve".into()
        }),
        ("another version", |v| v["schema"] = 2.into()),
        ("three coordinates", |v| {
            v["landmarks"][0]["at"] = serde_json::json!([1, 2, 3])
        }),
        ("an outline of two corners", |v| {
            v["outline"] = serde_json::json!([[0, 0], [1, 1]]);
        }),
    ];
    for (what, change) in changes {
        let mut wrong = good.clone();
        change(&mut wrong);
        assert!(!validator.is_valid(&wrong), "{what} must be refused");
    }
}
