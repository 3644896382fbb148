use std::path::Path;

use proptest::prelude::*;

use super::import_ipc356;
use crate::board::import::{
    CoordinateStep, ImportError, ImportOptions, Imported, MapFormat, QuestionKey, Repeats,
    format_of,
};
use crate::board::model::{BoardMap, LandShape, PartKind, Side};
use crate::board::testing::{import_options as options, keys_asked};

fn import(text: &str) -> Result<Imported, ImportError> {
    import_ipc356(text.as_bytes(), Path::new("board.ipc"), &options())
}

fn imported(text: &str) -> Imported {
    import(text).unwrap_or_else(|e| panic!("{e}"))
}

fn told(text: &str) -> String {
    import(text).unwrap_err().to_string()
}

fn asked(text: &str) -> Vec<QuestionKey> {
    keys_asked(import(text))
}

/// A record by its fields, column by column.
fn record(op: &str, net: &str, part: &str, pin: &str, hole: &str, rest: &str) -> String {
    format!("{op:3}{net:14}   {part:6}-{pin:4} {hole:6}{rest}\n")
}

fn surface(part: &str, pin: &str, layer: u32, x: i32, y: i32) -> String {
    let rest = format!("A{layer:02}X{x:+07}Y{y:+07}X0600Y0300R000");
    record("327", "NET", part, pin, "", &rest)
}

fn hole(part: &str, pin: &str, x: i32, y: i32) -> String {
    let rest = format!("A00X{x:+07}Y{y:+07}X0630Y0000R000");
    record("317", "NET", part, pin, "D0320P", &rest)
}

const HEAD: &str = "C  a board\nP  JOB   test\nP  UNITS CUST 0\n";

fn file(records: &[String]) -> String {
    format!("{HEAD}{}999\n", records.concat())
}

fn pin<'a>(map: &'a BoardMap, part: &str, no: &str) -> &'a crate::board::Pin {
    let part = map.part_by_reference(part).unwrap();
    part.pins.iter().find(|pin| pin.no == no).unwrap()
}

#[test]
fn a_part_in_holes_is_soldered_behind_itself() {
    let done = imported(&file(&[
        hole("U1", "2", 2000, 1000),
        hole("U1", "1", 1000, 1000),
    ]));
    let part = done.map.part_by_reference("U1").unwrap();
    assert_eq!((part.side, part.kind), (Side::Component, PartKind::Ic));
    let numbers: Vec<&str> = part.pins.iter().map(|pin| pin.no.as_str()).collect();
    assert_eq!(numbers, ["1", "2"]);
    assert_eq!(part.pins[0].soldered_side(part.side), Side::Solder);
    assert_eq!(part.pins[0].land.shape, LandShape::Round);
    assert!((part.pins[0].drill.unwrap() - 0.8128).abs() < 1e-9);
    assert!(
        done.assumed.iter().any(|line| line.contains("side=solder")),
        "{:?}",
        done.assumed
    );
    assert_eq!(done.questions[0].key, QuestionKey::Outline);
}

#[test]
fn a_surface_part_is_soldered_on_its_own_side() {
    let done = imported(&file(&[
        surface("R1", "1", 1, 1000, 0),
        surface("R2", "1", 8, 2000, 0),
    ]));
    for (part, side) in [("R1", Side::Component), ("R2", Side::Solder)] {
        let part = done.map.part_by_reference(part).unwrap();
        assert_eq!(part.side, side);
        assert_eq!(part.pins[0].drill, None);
        assert_eq!(part.pins[0].soldered_side(part.side), side);
    }
    assert!(
        done.assumed
            .iter()
            .any(|line| line.contains("Layer 8 is the solder side"))
    );
}

#[test]
fn lands_on_both_sides_become_two_parts() {
    let done = imported(&file(&[
        surface("J5", "1", 1, 1000, 0),
        surface("J5", "2", 2, 1000, 0),
    ]));
    assert_eq!(
        done.map.part_by_reference("J5").unwrap().side,
        Side::Component
    );
    assert_eq!(
        done.map.part_by_reference("J5-solder").unwrap().side,
        Side::Solder
    );
}

#[test]
fn inner_layers_vias_and_other_records_are_counted() {
    let done = imported(&file(&[
        surface("R1", "1", 1, 1000, 0),
        surface("R1", "2", 4, 2000, 0),
        surface("R1", "3", 2, 3000, 0),
        hole("VIA", "", 500, 500),
        record("378", "NET", "", "", "", ""),
        record("389", "BOARD", "", "", "", ""),
        record("367", "", "", "", "D1250U", "A00X+010000Y+010000").replace('-', " "),
    ]));
    let left = done.left_out.join("\n");
    for line in [
        "1 vias",
        "1 surface records on inner layers",
        "1 conductor records (378)",
        "1 outline records (389)",
        "1 comments",
    ] {
        assert!(left.contains(line), "{left}");
    }
    assert_eq!(done.map.landmarks[0].name, "hole 1");
    assert!((done.map.landmarks[0].at[0] - 25.4).abs() < 1e-9);
}

#[test]
fn pins_near_the_corners_are_landmarks_where_holes_are_too_few() {
    let done = imported(&file(&[
        hole("J1", "1", 0, 0),
        hole("J1", "2", 20_000, 0),
        hole("J2", "1", 20_000, 10_000),
        hole("J2", "2", 0, 10_000),
        hole("U1", "1", 9_000, 5_000),
        surface("R1", "1", 1, -500, -500),
    ]));
    let names: Vec<&str> = done.map.landmarks.iter().map(|l| l.name.as_str()).collect();
    assert_eq!(names, ["J1.1", "J1.2", "J2.1", "J2.2"]);
    let findings = crate::board::lint(&done.map);
    assert!(
        !crate::board::has_errors(&findings),
        "a job can use it: {findings:?}"
    );
}

#[test]
fn lands_without_sizes_keep_clear_of_their_neighbours() {
    let bare = |no: &str, x: i32| record("327", "N", "U1", no, "", &format!("A01X{x:+07}Y+000000"));
    // 0.65 mm pitch is 256 steps of 0.0001 in.
    let done = imported(&file(&[
        bare("1", 0),
        bare("2", 256),
        bare("3", 512),
        bare("4", 5000),
    ]));
    let width = |no| pin(&done.map, "U1", no).land.size[0];
    assert!(width("1") < 0.5 && width("2") < 0.5, "{}", width("1"));
    assert_eq!(width("4"), 1.0);
    assert!(
        done.assumed
            .iter()
            .any(|line| line.contains("size of 4 lands"))
    );
}

#[test]
fn nets_long_names_and_no_connection() {
    let text = format!(
        "{HEAD}P  NNAME1 A_NAME_LONGER_THAN_FOURTEEN\n{}{}{}999\n",
        record(
            "327",
            "NNAME1",
            "R1",
            "1",
            "",
            "A01X+001000Y+000000X0600Y0300R000"
        ),
        record(
            "327",
            "N/C",
            "R1",
            "2",
            "",
            "A01X+002000Y+000000X0600Y0300R000"
        ),
        record(
            "327",
            "+5V",
            "R1",
            "3",
            "",
            "A01X+003000Y+000000X0600Y0300R000"
        ),
    );
    let done = imported(&text);
    let net = |no| pin(&done.map, "R1", no).net.as_deref();
    assert_eq!(net("1"), Some("A_NAME_LONGER_THAN_FOURTEEN"));
    assert_eq!((net("2"), net("3")), (None, Some("+5V")));
}

#[test]
fn quarter_turns_are_exact_and_others_are_said() {
    let land = |turn: &str| {
        let rest = format!("A01X+001000Y+000000X0600Y0300R{turn}");
        imported(&file(&[record("327", "N", "R1", "1", "", &rest)]))
    };
    let size = |done: &Imported| pin(&done.map, "R1", "1").land;
    assert_eq!(size(&land("090")).size, [0.762, 1.524]);
    assert_eq!(size(&land("180")).size, [1.524, 0.762]);
    let skew = land("045");
    assert_eq!(size(&skew).shape, LandShape::Round);
    assert!(
        skew.assumed
            .iter()
            .any(|line| line.contains("quarter turns"))
    );
}

#[test]
fn a_continuation_fills_its_record() {
    let done = imported(&file(&[
        record("317", "NET", "J1", "1", "D0400P", "A00X+001000Y+000000"),
        record(
            "017",
            "",
            "J1",
            "1",
            "",
            "A00X+001000Y+000000X0700Y0000R000",
        ),
    ]));
    assert!((pin(&done.map, "J1", "1").land.size[0] - 1.778).abs() < 1e-9);
    let text = file(&[record("017", "", "J1", "1", "", "A00X+001000Y+000000")]);
    assert!(told(&text).contains("line 4, column 1: a continuation with nothing before it"));
    let text = file(&[
        hole("J1", "1", 0, 0),
        record("017", "", "J2", "1", "", "A00"),
    ]);
    assert!(told(&text).contains("line 5, column 21: it continues another pin"));
}

#[test]
fn what_is_open_is_asked() {
    let records = format!("{}999\n", hole("U1", "1", 1000, 1000));
    assert_eq!(asked(&records), [QuestionKey::Step]);
    let second = format!("P  UNITS CUST 2\n{records}");
    match import(&second) {
        Err(ImportError::Asks { questions, .. }) => {
            assert_eq!(questions[0].choices.len(), 4, "{questions:?}");
        }
        other => panic!("{other:?}"),
    }
    let mut answered = options();
    answered.answer("step", "0.0001mm").unwrap();
    let done = import_ipc356(second.as_bytes(), Path::new("b"), &answered).unwrap();
    assert!((pin(&done.map, "U1", "1").at[0] - 0.1).abs() < 1e-9);
    // An answer against what the file states is refused.
    answered.step = Some(CoordinateStep::Micrometre);
    let text = file(&[hole("U1", "1", 1000, 1000)]);
    let told = import_ipc356(text.as_bytes(), Path::new("b"), &answered).unwrap_err();
    assert!(told.to_string().contains("states another unit"), "{told}");
}

#[test]
fn si_and_cust_1_are_micrometres() {
    for units in ["CUST 1", "SI"] {
        let text = format!("P  UNITS {units}\n{}999\n", hole("U1", "1", 25400, -1270));
        let at = pin(&imported(&text).map, "U1", "1").at;
        assert_eq!(at, [25.4, -1.27]);
    }
}

#[test]
fn one_pin_at_two_places_is_asked() {
    let text = file(&[
        hole("J1", "5", 0, 0),
        hole("J1", "5", 1000, 0),
        hole("J1", "5", 1000, 0),
    ]);
    assert_eq!(asked(&text), [QuestionKey::Repeats]);
    for (repeats, numbers) in [
        (Repeats::Number, vec!["5", "5_2"]),
        (Repeats::First, vec!["5"]),
    ] {
        let answered = ImportOptions {
            repeats: Some(repeats),
            ..options()
        };
        let done = import_ipc356(text.as_bytes(), Path::new("b"), &answered).unwrap();
        let part = &done.map.parts[0];
        let got: Vec<&str> = part.pins.iter().map(|pin| pin.no.as_str()).collect();
        assert_eq!(got, numbers);
    }
}

#[test]
fn copper_on_layer_one_alone_with_unplated_holes_is_asked() {
    let record = record(
        "317",
        "N",
        "R1",
        "1",
        "D0320U",
        "A01X+001000Y+000000X0630Y0000",
    );
    let text = file(&[record]);
    assert_eq!(asked(&text), [QuestionKey::Side]);
    let mut answered = options();
    answered.answer("side", "solder").unwrap();
    let done = import_ipc356(text.as_bytes(), Path::new("b"), &answered).unwrap();
    let part = &done.map.parts[0];
    assert_eq!(part.pins[0].soldered_side(part.side), Side::Component);
}

#[test]
fn unknown_records_are_asked_or_skipped() {
    let text = file(&[hole("U1", "1", 0, 0), "556 something\n".to_owned()]);
    assert_eq!(asked(&text), [QuestionKey::Unknown]);
    let mut answered = options();
    answered.answer("unknown", "skip").unwrap();
    let done = import_ipc356(text.as_bytes(), Path::new("b"), &answered).unwrap();
    assert!(done.left_out.iter().any(|line| line.contains("not known")));
}

#[test]
fn bad_records_are_named_with_line_and_column() {
    let good = hole("U1", "1", 1000, 2000);
    for (from, to, want) in [
        ("X+001000", "X+00I000", "line 4, column 43"),
        ("Y+002000", " +002000", "line 4, column 50"),
        ("A00", "B00", "line 4, column 39"),
        ("D0320P", "D0320Q", "line 4, column 38"),
        ("D0320P", "D03.0P", "line 4, column 34"),
        ("U1    -", "U1    +", "line 4, column 27"),
        ("NET  ", "NE\tT ", "line 4, column 6: a tab"),
        (
            "X+001000Y+002000",
            "                ",
            "line 4, column 42: the coordinates are missing",
        ),
    ] {
        let text = file(&[good.replacen(from, to, 1)]);
        assert!(told(&text).contains(want), "{to}: {}", told(&text));
    }
    assert!(told("hello\n").contains("line 1, column 1: `hello` begins no record"));
    assert!(
        told(&format!("{HEAD}P UNITS SI\n999\n"))
            .contains("line 4, column 1: UNITS SI contradicts line 3")
    );
    assert!(told(&format!("{HEAD}999\n")).contains("no pin of any part"));
}

#[test]
fn the_format_is_told_by_the_contents() {
    let name = Path::new("x.csv");
    let of = |text: &str| format_of(text.as_bytes(), name, &ImportOptions::default());
    assert_eq!(of(HEAD).unwrap(), MapFormat::Ipc356);
    assert_eq!(of(&hole("U1", "1", 0, 0)).unwrap(), MapFormat::Ipc356);
    assert_eq!(of("%FSLAX46Y46*%\n").unwrap(), MapFormat::Gerber);
    assert_eq!(of("G04 x*\n").unwrap(), MapFormat::Gerber);
    assert_eq!(of("Ref,X,Y\n").unwrap(), MapFormat::Centroid);
    assert!(matches!(
        of("P  UNITS SI\n%MOMM*%\n"),
        Err(ImportError::Asks { .. })
    ));
    for (start, word) in [
        ("%PDF-1.7", "PDF"),
        ("M48\n", "drill"),
        ("{}", "JSON"),
        ("<a/>", "XML"),
        ("  ", "empty"),
    ] {
        assert!(of(start).unwrap_err().to_string().contains(word), "{word}");
    }
}

proptest! {
    /// Whatever the bytes are, the answer is a map within limits or an error that names the file.
    #[test]
    fn no_bytes_panic(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
        check(&bytes)?;
    }

    /// Records with fields at their columns, any of them out of order.
    #[test]
    fn no_records_panic(
        lines in proptest::collection::vec(
            (
                prop_oneof![Just("317"), Just("327"), Just("367"), Just("017"), Just("027"), Just("378"), Just("999"), Just("P  UNITS SI"), Just("C")],
                "[A-Z]{1,2}[0-9]{0,2}|VIA|", "[0-9A-Z]{0,4}", "(D[0-9]{4}[PU ])?",
                "(A[0-9]{2})?(X[+ -][0-9]{6}Y[+ -][0-9]{6})?(X[0-9]{4}Y[0-9]{4})?(R[0-9]{3})?(S[0-3])?",
            ),
            0..8,
        ),
        answered in any::<[bool; 4]>(),
    ) {
        let text: String = lines
            .iter()
            .map(|(op, part, pin, hole, rest)| record(op, "N", part, pin, hole, rest))
            .collect();
        let given = given(answered);
        if let Ok(done) = import_ipc356(text.as_bytes(), Path::new("b.ipc"), &given) {
            prop_assert!(done.map.parts.len() <= lines.len() * 2);
            prop_assert!(BoardMap::parse(&done.map.to_json(), Path::new("b")).is_ok());
        }
    }

    /// A good file with a few bytes changed, put in or taken out.
    #[test]
    fn no_mutation_panics(
        changes in proptest::collection::vec((any::<u16>(), any::<u8>(), 0u8..3), 1..6),
    ) {
        let mut bytes = file(&[
            hole("U1", "1", 1000, 1000),
            hole("U1", "2", 2000, 1000),
            surface("R1", "1", 8, 500, 500),
        ])
        .into_bytes();
        for (at, byte, how) in changes {
            let at = usize::from(at) % (bytes.len() + 1);
            match how {
                0 if at < bytes.len() => bytes[at] = byte,
                1 => bytes.insert(at, byte),
                _ if at < bytes.len() => {
                    bytes.remove(at);
                }
                _ => {}
            }
        }
        check(&bytes)?;
    }
}

fn given(answered: [bool; 4]) -> ImportOptions {
    ImportOptions {
        step: answered[0].then_some(CoordinateStep::TenthMil),
        side: answered[1].then_some(Side::Solder),
        skip_unknown: answered[2],
        repeats: answered[3].then_some(Repeats::Number),
        ..options()
    }
}

fn check(bytes: &[u8]) -> Result<(), TestCaseError> {
    for answered in [[false; 4], [true; 4]] {
        match import_ipc356(bytes, Path::new("b.ipc"), &given(answered)) {
            Ok(done) => prop_assert!(done.map.parts.len() <= bytes.len()),
            Err(error) => prop_assert!(error.to_string().contains("b.ipc"), "{}", error),
        }
    }
    Ok(())
}
