use std::path::Path;

use proptest::prelude::*;

use super::number::{Marks, marks, value};
use super::{
    BottomX, DecimalMark, ImportError, ImportOptions, Imported, LengthUnit, QuestionKey,
    export_centroid, import_centroid,
};
use crate::board::model::{BoardMap, Outline, PartKind, Side};
use crate::board::testing::sample;

fn options() -> ImportOptions {
    ImportOptions {
        model: "Fernhollow FH-12".into(),
        board: "main".into(),
        ..ImportOptions::default()
    }
}

fn import(text: &str, options: &ImportOptions) -> Result<Imported, ImportError> {
    import_centroid(text.as_bytes(), Path::new("parts.csv"), options)
}

fn at(map: &BoardMap, reference: &str) -> [f64; 2] {
    let centre = map.part_by_reference(reference).unwrap().outline.centre();
    [centre.x, centre.y]
}

fn told(text: &str) -> String {
    import(text, &options()).unwrap_err().to_string()
}

fn asked(text: &str) -> Vec<QuestionKey> {
    match import(text, &options()) {
        Err(ImportError::Asks { questions, .. }) => questions.iter().map(|q| q.key).collect(),
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_unit_that_is_not_stated_is_asked() {
    let text = "Designator,Mid X,Mid Y,Layer,Rotation\nR1,500,250,Top,90\n";
    assert_eq!(asked(text), [QuestionKey::Units]);
    let message = told(text);
    assert!(message.contains("`500` on line 2"), "{message}");
    assert!(
        message.contains("units=mm (millimetres) or units=mil"),
        "{message}"
    );
    let mut answered = options();
    answered.answer("units", "mil").unwrap();
    let map = import(text, &answered).unwrap().map;
    assert_eq!(at(&map, "R1"), [12.7, 6.35]);
    assert!(answered.answer("units", "cubits").is_err());
}

#[test]
fn an_answer_is_for_the_cells_without_a_unit() {
    let text = "Ref,X,Y,Side\nR1,500,12.7mm,T\n";
    assert_eq!(asked(text), [QuestionKey::Units]);
    let mut answered = options();
    answered.units = Some(LengthUnit::Mil);
    assert_eq!(
        at(&import(text, &answered).unwrap().map, "R1"),
        [12.7, 12.7]
    );
    let told = import("Units used = in\nRef,X,Y,Side\nR1,5,1,T\n", &answered).unwrap_err();
    assert!(
        told.to_string().contains("the file states in, but mil"),
        "{told}"
    );
}

#[test]
fn everything_open_is_asked_at_once() {
    assert_eq!(
        asked("Ref;X;Y\nR1;1,234;5\n"),
        [QuestionKey::Decimal, QuestionKey::Units, QuestionKey::Side]
    );
    assert_eq!(
        asked("Ref,X (mm),Y (mm),Side\nR1,1,2,B\n"),
        [QuestionKey::BottomX]
    );
}

#[test]
fn contradictions_are_named_with_line_and_column() {
    for (text, want) in [
        (
            "Ref,X (mm),Y (mm),Side\nR1,1,2,left\n",
            "line 2, column 4 (Side): `left` is no side",
        ),
        (
            "Ref,X (mm),Y (mm),Side\nR1,1,abc,T\n",
            "line 2, column 3 (Y (mm)): `abc` is not a number",
        ),
        (
            "Ref,X (mm),Y (mm),Side\nR1,1,NaN,T\n",
            "line 2, column 3 (Y (mm)): `NaN` is not a number",
        ),
        (
            "Ref,X (mm),Y (mm),Side\nR1,1,1e999,T\n",
            "`1e999` is not a number",
        ),
        ("Ref,X (mm),Y (mm),Side\nR1,1,1e9,T\n", "beyond +-10000"),
        ("Ref,X (mm),Y (mil),Side\nR1,1,2,T\n", "line 1, column 3"),
        (
            "Ref,X (um),Y (um),Side\nR1,1,2,T\n",
            "line 1, column 2 (X (um)): `um` is no unit",
        ),
        (
            "Ref,X (mm),Y (mm),Side\nR1,5mil,2,T\n",
            "`5mil` is in mil, but the file is in mm",
        ),
        (
            "Ref,X (mm),Y (mm),Side\nR1,1,2,T\n\nr1,3,4,T\n",
            "line 4, column 1 (Ref): r1 is already on line 2",
        ),
        (
            "Ref,X (mm),X (mil),Y (mm),Side\nR1,1,2,3,T\n",
            "line 1, column 3",
        ),
        (
            "Ref;X (mm);Y (mm);Side\nR1;1,5;2.5;T\n",
            "line 2, column 3 (Y (mm)): `2.5` has another decimal mark",
        ),
        (
            "Ref,X (mm),Y (mm),Side\nR1,12,7,5,0,T\n",
            "line 2, column 5 (no heading): the line has 6 cells",
        ),
        (
            "Ref,X (mm),Y (mm),Side\nR1,12\n",
            "line 2, column 3 (Y (mm)): the line ends after 2 cells",
        ),
        (
            "Ref,X (mm),Y (mm),Side\n,1,2,T\n",
            "line 2, column 1 (Ref): the reference is blank",
        ),
        (
            "Ref,X (mm),Y (mm),Side,Rot\nR1,1,2,T,1 rad\n",
            "line 2, column 5 (Rot): `1 rad`",
        ),
        ("Ref,X (mm),Y (mm),Side\n", "no part follows"),
        ("title\nRef,X (mm),Side\nR1,1,T\n", "line 2 has no y"),
        (
            "Units: mil\nRef,X (mm),Y (mm),Side\nR1,1,2,T\n",
            "the heading says mm, line 1 says mil",
        ),
        ("", "no heading found"),
    ] {
        let message = told(text);
        assert!(message.contains(want), "{text:?}: {message}");
        assert!(message.starts_with("parts.csv: "), "{message}");
    }
    let message = import_centroid(b"Ref,X\n\xff", Path::new("p.csv"), &options())
        .unwrap_err()
        .to_string();
    assert!(message.contains("line 2, column 1: not UTF-8"), "{message}");
    let utf16 = b"\xff\xfeR\0e\0f\0";
    assert!(import_centroid(utf16, Path::new("p.csv"), &options()).is_err());
}

#[test]
fn lone_carriage_returns_are_line_ends() {
    let map = import("Ref,X (mm),Y (mm),Side\rR1,10,5,T\rR2,20,5,T\r", &options())
        .unwrap()
        .map;
    assert_eq!(at(&map, "R2"), [20.0, 5.0]);
}

#[test]
fn the_mirrored_solder_side_is_turned_back() {
    let text = "Ref,X (mm),Y (mm),Side,Rot\nR1,10,5,T,30\nR2,-10,5,B,30\n";
    let mut told = options();
    told.bottom_x = Some(BottomX::Negated);
    let map = import(text, &told).unwrap().map;
    assert_eq!(at(&map, "R2"), [10.0, 5.0]);
    let part = map.part_by_reference("R2").unwrap();
    assert_eq!(part.side, Side::Solder);
    assert!(matches!(
        part.outline,
        Outline::Rect {
            turn_deg: -30.0,
            ..
        }
    ));
    told.bottom_x = Some(BottomX::AsTop);
    assert_eq!(at(&import(text, &told).unwrap().map, "R2"), [-10.0, 5.0]);
}

#[test]
fn what_the_file_lacks_is_noted() {
    let imported = import(
        "Ref,X (mm),Y (mm),Side\nR1,10,5,T\nZZ9,30,5,T\n",
        &options(),
    )
    .unwrap();
    let notes = imported.notes.join("\n");
    for want in [
        "no pins",
        "squares of 2 mm",
        "no column for the turn",
        "1 parts (ZZ9",
    ] {
        assert!(notes.contains(want), "{notes}");
    }
    assert_eq!(imported.questions[0].key, QuestionKey::Outline);
    assert_eq!(imported.map.parts[0].kind, PartKind::Resistor);
    let findings = crate::board::lint(&imported.map);
    assert_eq!(
        findings.len(),
        1,
        "only the landmarks are missing: {findings:?}"
    );
}

#[test]
fn numbers_read_one_way_or_both() {
    use DecimalMark::{Comma, Point};
    for (text, want) in [
        ("12", Marks::Plain),
        ("12.7", Marks::Only(Point)),
        ("12,7", Marks::Only(Comma)),
        ("0,123", Marks::Only(Comma)),
        ("1234,567", Marks::Only(Comma)),
        ("1,234", Marks::Either),
        ("-12,700", Marks::Either),
        ("1,234.5", Marks::Only(Point)),
        ("1.234,5", Marks::Only(Comma)),
        ("1,234,567", Marks::Only(Point)),
        ("1.234.567", Marks::Only(Comma)),
    ] {
        assert_eq!(marks(text), want, "{text}");
    }
    assert_eq!(value("1.234,5", Comma), Some(1234.5));
    assert_eq!(value("1,234.5", Point), Some(1234.5));
    assert_eq!(value("\u{2212}12,7", Comma), Some(-12.7));
    for bad in [
        "", "-", ".", "inf", "nan", "1,2,3", "12,34.5", "1e999", "0x10", "--1", "1 2",
    ] {
        assert_eq!(value(bad, Point), None, "{bad}");
    }
}

#[test]
fn our_own_export_comes_back_without_a_question() {
    let mut map = sample();
    map.parts[1].side = Side::Solder;
    map.parts[2].reference = "=R1".into();
    let text = export_centroid(&map).unwrap();
    assert_eq!(
        text,
        "ref,x_mm,y_mm,side,turn_deg\r\nJ1,13.81,10,component,0\r\nC1,30,20,solder,0\r\n\
         '=R1,50,30,component,90\r\n"
    );
    let back = import(&text, &options()).unwrap().map;
    assert_eq!(at(&back, "C1"), [30.0, 20.0]);
    assert_eq!(back.part_by_reference("C1").unwrap().side, Side::Solder);
}

const GOOD: &str = "Units: mm\nDesignator;Comment;Mid X;Mid Y;Layer;Rotation\n\
    R1;10k;12,7;5,08;Top;90\nC2;\"1 uF; 16 V\";1.234,5mm;0;Bottom;0\n";

fn piece() -> impl Strategy<Value = &'static str> {
    prop::sample::select(vec![
        "Ref", "X", "Mid Y", "Y", "(mm)", "_mil", "in", "mm", "Top", "b", ";", ",", "\t", "\n",
        "\r\n", "\"", "'", "-", ".", "1,234", "12.7", "0", "R1", "#", "1e9", "NaN", " ",
        "\u{feff}", "Units", "ä",
    ])
}

proptest! {
    #[test]
    fn mutated_files_never_panic(
        bytes in crate::board::testing::mutated(GOOD),
        told in any::<[bool; 4]>(),
    ) {
        let options = ImportOptions {
            units: told[0].then_some(LengthUnit::Mil),
            decimal: told[1].then_some(DecimalMark::Comma),
            bottom_x: told[2].then_some(BottomX::Negated),
            side: told[3].then_some(Side::Solder),
            ..options()
        };
        match import_centroid(&bytes, Path::new("p.csv"), &options) {
            Ok(imported) => {
                let json = imported.map.to_json();
                let again = BoardMap::parse(&json, Path::new("p.json")).unwrap();
                prop_assert_eq!(again, imported.map);
            }
            Err(error) => prop_assert!(error.to_string().contains("p.csv")),
        }
    }

    #[test]
    fn any_cells_are_answered(heading: bool, pieces in prop::collection::vec(piece(), 0..30)) {
        let heading = if heading { "Ref;X;Y;Side\nR1;1;2;" } else { "" };
        let _ = import(&format!("{heading}{}", pieces.concat()), &options());
    }

    #[test]
    fn places_survive_export(x in -500.0..500.0f64, y in -500.0..500.0f64, turn in -360.0..360.0f64) {
        let mut map = sample();
        map.parts[2].outline = Outline::Rect { at: [x, y], size: [1.0, 1.0], turn_deg: turn };
        let back = import(&export_centroid(&map).unwrap(), &options()).unwrap().map;
        let [bx, by] = at(&back, "R1");
        // Written to four decimals.
        prop_assert!((bx - x).abs() <= 0.000_051 && (by - y).abs() <= 0.000_051);
    }
}
