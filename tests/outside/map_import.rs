//! Imports of maps with pins, against published records and rules.
//!
//! IPC-D-356: the three sample records and the columns come from a public page on IPC-356 of a
//! maker of viewers; the unit of the samples is assumed (0.0001 in), for the page leaves UNITS
//! out. Lengths: 1 in = 25.4 mm exactly (international agreement of 1959). The record with
//! sizes, turn and mask is our own, by the same columns; that the Y size of a round land is 0,
//! from a board maker's practice note. Meaning of UNITS codes: from memory.
//!
//! Gerber: attribute forms as in public test vectors of a general parser; coordinates =
//! integer / 10^decimals (from memory); right-handed as seen from the top, bottom layers
//! included (a board maker's page on Gerber X3).

use std::path::{Path, PathBuf};

use benchglass::board::{
    BoardMap, ImportError, ImportOptions, Imported, LandShape, MapFormat, Pin, QuestionKey, Side,
    import_map_files,
};

fn import(text: &str, answers: &[(&str, &str)]) -> Result<Imported, ImportError> {
    let mut options = ImportOptions {
        model: "Fernhollow FH-12".into(),
        board: "main".into(),
        ..ImportOptions::default()
    };
    for (key, value) in answers {
        options.answer(key, value).expect("an answer");
    }
    // The name lies about the format: contents decide.
    let name = PathBuf::from("board.txt");
    import_map_files(&[(name, text.as_bytes().to_vec())], &options)
}

fn pin<'a>(map: &'a BoardMap, part: &str, no: &str) -> (&'a Pin, Side) {
    let part = map.part_by_reference(part).expect(part);
    let pin = part.pins.iter().find(|pin| pin.no == no).expect(no);
    (pin, pin.soldered_side(part.side))
}

#[track_caller]
fn near(got: [f64; 2], want: [f64; 2]) {
    assert!(
        (got[0] - want[0]).abs() < 1e-9 && (got[1] - want[1]).abs() < 1e-9,
        "{got:?} is not {want:?}"
    );
}

const PUBLISHED: &str = "\
317+3.3V            J13   -2    D0400PA00X+043550Y+006480
327+3.3V            C171  -1          A01X+041900Y+006660
327+3.3V            D1    -3          A08X+040650Y+007720
";

#[test]
fn published_records() {
    match import(PUBLISHED, &[]) {
        Err(ImportError::Asks { questions, .. }) => {
            assert_eq!(
                questions[0].key,
                QuestionKey::Step,
                "the page leaves UNITS out"
            );
        }
        other => panic!("must ask: {other:?}"),
    }
    let done = import(PUBLISHED, &[("step", "0.0001in")]).expect("answered");
    assert_eq!(done.format, MapFormat::Ipc356);
    let (j13, side) = pin(&done.map, "J13", "2");
    near(j13.at, [110.617, 16.4592]);
    assert!((j13.drill.expect("a hole") - 1.016).abs() < 1e-9);
    assert_eq!((side, j13.net.as_deref()), (Side::Solder, Some("+3.3V")));
    let (c171, side) = pin(&done.map, "C171", "1");
    near(c171.at, [106.426, 16.9164]);
    assert_eq!((side, c171.drill), (Side::Component, None));
    let (_, side) = pin(&done.map, "D1", "3");
    assert_eq!(side, Side::Solder, "layer 8 is the highest");
}

#[test]
fn a_record_with_all_its_columns() {
    let text = "P  UNITS CUST 0\n\
        327GND              R7    -1          A01X+040000Y+020000X0630Y0118R000S2\n\
        317GND              J1    -1    D0400PA00X+050000Y-020000X0630Y0000R000 S0\n999\n";
    let done = import(text, &[]).expect("units are stated");
    let (land, _) = pin(&done.map, "R7", "1");
    near(land.at, [101.6, 50.8]);
    near(land.land.size, [1.6002, 0.29972]);
    assert_eq!(land.land.shape, LandShape::Rect);
    let (round, _) = pin(&done.map, "J1", "1");
    assert_eq!(round.land.shape, LandShape::Round, "Y size 0");
    near(round.land.size, [1.6002, 1.6002]);
    near(round.at, [127.0, -50.8]);
}

#[test]
fn units_by_their_codes() {
    let with = |units: &str| {
        format!(
            "P  UNITS {units}\n327N                R1    -1          A01X+025400Y+000000\n999\n"
        )
    };
    for (units, x) in [("CUST 0", 64.516), ("CUST 1", 25.4), ("SI", 25.4)] {
        let done = import(&with(units), &[]).expect(units);
        near(pin(&done.map, "R1", "1").0.at, [x, 0.0]);
    }
    // Read at least four ways in public code: asked, never guessed.
    assert!(matches!(
        import(&with("CUST 2"), &[]),
        Err(ImportError::Asks { .. })
    ));
}

fn gerber(body: &str) -> String {
    format!(
        "%TF.FileFunction,Copper,L1,Top*%\n%FSLAX46Y46*%\n%MOMM*%\n\
         %TA.AperFunction,SMDPad,CuDef*%\n%ADD10R,1.5X0.8*%\nD10*\n{body}M02*\n"
    )
}

#[test]
fn a_flash_under_its_pin_attribute() {
    let done = import(&gerber("%TO.P,U1,3*%\nX3000000Y2000000D03*\n"), &[]).expect("stated");
    assert_eq!(done.format, MapFormat::Gerber);
    near(pin(&done.map, "U1", "3").0.at, [3.0, 2.0]);
}

#[test]
fn attribute_forms_of_public_vectors() {
    let body = "%TO.N,Net1*%\n%TO.P,U1,1*%\nX0Y0D03*\n\
        %TO.N,*%\n%TO.P,U1,2*%\nX2000000Y0D03*\n\
        %TO.N,N/C*%\n%TO.P,U1,EP,Thermal pad*%\nX4000000Y0D03*\n\
        %TO.C,R1*%\n%TO.CRot,359.99*%\n%TO.CMnt,SMD*%\n%TD*%\nX6000000Y0D03*\n";
    let done = import(&gerber(body), &[]).expect("stated");
    let net = |no| pin(&done.map, "U1", no).0.net.clone();
    assert_eq!(net("1").as_deref(), Some("Net1"));
    assert_eq!((net("2"), net("EP")), (None, None));
    assert_eq!(done.map.parts[0].pins.len(), 3, "no attribute, no pin");
}

#[test]
fn bottom_layers_are_seen_from_the_top() {
    let top = gerber("%TO.P,R1,1*%\nX3000000Y2000000D03*\n");
    let bottom = top
        .replace("L1,Top", "L2,Bot")
        .replace("R1", "R2")
        .replace("X3000000", "X9000000");
    let sources = [
        (PathBuf::from("a"), top.into_bytes()),
        (PathBuf::from("b"), bottom.into_bytes()),
    ];
    let done = import_map_files(&sources, &ImportOptions::default()).expect("merged");
    let (r2, side) = pin(&done.map, "R2", "1");
    near(r2.at, [9.0, 2.0]);
    assert_eq!(side, Side::Solder);
    let written = done.map.to_json();
    assert_eq!(
        BoardMap::parse(&written, Path::new("m")).expect("parses"),
        done.map
    );
}
