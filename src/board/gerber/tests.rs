use std::path::{Path, PathBuf};

use proptest::prelude::*;

use super::import_gerber;
use crate::board::import::{
    ImportError, ImportOptions, Imported, LengthUnit, Outer, QuestionKey, Repeats,
};
use crate::board::model::{BoardMap, LandShape, Outline, Side};
use crate::board::testing::{import_options as options, keys_asked};

fn import_with(files: &[&str], options: &ImportOptions) -> Result<Imported, ImportError> {
    let sources: Vec<(PathBuf, Vec<u8>)> = files
        .iter()
        .enumerate()
        .map(|(i, text)| {
            (
                PathBuf::from(format!("layer{i}.gbr")),
                text.as_bytes().to_vec(),
            )
        })
        .collect();
    import_gerber(&sources, options)
}

fn imported(files: &[&str]) -> Imported {
    import_with(files, &options()).unwrap_or_else(|e| panic!("{e}"))
}

fn told(text: &str) -> String {
    import_with(&[text], &options()).unwrap_err().to_string()
}

fn asked(files: &[&str]) -> Vec<QuestionKey> {
    keys_asked(import_with(files, &options()))
}

/// A copper layer with these commands after its header.
fn copper(side: &str, body: &str) -> String {
    let layer = if side == "Top" { 1 } else { 2 };
    format!(
        "%TF.FileFunction,Copper,L{layer},{side}*%\n%FSLAX46Y46*%\n%MOMM*%\n\
         %TA.AperFunction,SMDPad,CuDef*%\n%ADD10R,1.5X0.8*%\n\
         %TA.AperFunction,ComponentPad*%\n%ADD11C,1.6*%\n%TD.AperFunction*%\n%ADD12O,1X2*%\n\
         {body}\nM02*\n"
    )
}

fn flash(aperture: u32, part: &str, pin: &str, x: f64, y: f64) -> String {
    let steps = |v: f64| (v * 1e6).round() as i64;
    format!(
        "D{aperture}*\n%TO.P,{part},{pin}*%\nX{}Y{}D03*\n",
        steps(x),
        steps(y)
    )
}

fn part<'a>(done: &'a Imported, reference: &str) -> &'a crate::board::Part {
    done.map.part_by_reference(reference).unwrap()
}

#[test]
fn surface_pads_stand_on_their_own_side() {
    let top = copper("Top", &flash(10, "R1", "1", 1.0, 2.0));
    let bottom = copper("Bot", &flash(10, "R2", "1", 5.0, 2.0));
    let done = imported(&[&top, &bottom]);
    for (reference, side) in [("R1", Side::Component), ("R2", Side::Solder)] {
        let part = part(&done, reference);
        assert_eq!((part.side, part.pins[0].drill), (side, None));
        assert_eq!(part.pins[0].soldered_side(part.side), side);
        assert_eq!(part.pins[0].land.size, [1.5, 0.8]);
    }
    // Right-handed as seen from the top, bottom layers too: no mirroring.
    assert_eq!(part(&done, "R2").pins[0].at, [5.0, 2.0]);
}

#[test]
fn component_pads_are_in_holes_and_soldered_behind_the_part() {
    let top = copper("Top", &flash(11, "J1", "1", 0.0, 0.0));
    let bottom = copper("Bot", &flash(11, "J1", "1", 0.0, 0.0));
    let done = imported(&[&top, &bottom]);
    let part = part(&done, "J1");
    assert_eq!(part.pins.len(), 1, "one pin, seen twice");
    assert_eq!(
        part.pins[0].drill,
        Some(0.8),
        "half the land, and it is said"
    );
    assert_eq!(part.pins[0].soldered_side(part.side), Side::Solder);
    assert!(
        done.assumed
            .iter()
            .any(|line| line.contains("diameter of 1 holes"))
    );
}

#[test]
fn drill_hits_give_the_holes() {
    let top = copper(
        "Top",
        &(flash(11, "J1", "1", 0.0, 0.0) + &flash(12, "J1", "2", 2.54, 0.0)),
    );
    let drill = "%TF.FileFunction,Plated,1,2,PTH,Drill*%\n%FSLAX46Y46*%\n%MOMM*%\n%ADD10C,1*%\nD10*\nX0Y0D03*\nX9000000Y0D03*\nM02*\n";
    let screws = "%TF.FileFunction,NonPlated,1,2,NPTH,Drill*%\n%FSLAX46Y46*%\n%MOMM*%\n%ADD10C,3.2*%\nD10*\nX20000000Y0D03*\nM02*\n";
    let done = imported(&[&top, drill, screws]);
    let pins = &part(&done, "J1").pins;
    assert_eq!(pins[0].drill, Some(1.0));
    assert_eq!(pins[1].drill, None, "no hit: a surface land");
    assert_eq!(done.map.landmarks[0].name, "hole 1");
    assert_eq!(done.map.landmarks[0].at, [20.0, 0.0]);
    assert!(
        done.left_out
            .iter()
            .any(|line| line.contains("1 plated holes without a pin"))
    );
}

#[test]
fn pads_that_do_not_say_whether_they_have_a_hole_are_asked() {
    let top = copper("Top", &flash(12, "J1", "1", 0.0, 0.0));
    assert_eq!(asked(&[&top]), [QuestionKey::Holes]);
    for (holes, side) in [(true, Side::Solder), (false, Side::Component)] {
        let answered = ImportOptions {
            holes: Some(holes),
            ..options()
        };
        let done = import_with(&[&top], &answered).unwrap();
        let part = part(&done, "J1");
        assert_eq!(part.pins[0].soldered_side(part.side), side);
    }
    // On both copper layers it is a hole, and nothing needs asking.
    let bottom = copper("Bot", &flash(12, "J1", "1", 0.0, 0.0));
    assert!(
        part(&imported(&[&top, &bottom]), "J1").pins[0]
            .drill
            .is_some()
    );
}

#[test]
fn the_component_layer_gives_side_body_value_and_turn() {
    let top = copper("Bot", &flash(10, "R1", "1", 1.0, 2.0));
    let parts = "%TF.FileFunction,Component,L2,Bot*%\n%FSLAX46Y46*%\n%MOMM*%\n\
        %TA.AperFunction,ComponentMain*%\n%ADD10C,0.3*%\n\
        %TA.AperFunction,ComponentOutline,Body*%\n%ADD11C,0.1*%\n\
        %TA.AperFunction,ComponentPin*%\n%ADD12P,0.36X4X0.0*%\n%TD.AperFunction*%\n\
        %TO.C,R1*%\n%TO.CRot,-90*%\n%TO.CVal,10k*%\n%TO.CFtp,axial*%\n%TO.CMnt,SMD*%\n\
        D10*\nX2000000Y2000000D03*\n\
        D11*\nX1000000Y1000000D02*\nX3000000Y1000000D01*\nX3000000Y3000000D01*\n\
        D12*\n%TO.P,R1,2*%\nX3000000Y2000000D03*\n\
        %TD*%\n%TO.C,H1*%\nD10*\nX9000000Y9000000D03*\nM02*\n";
    let done = imported(&[&top, parts]);
    let r1 = part(&done, "R1");
    assert_eq!(r1.side, Side::Solder);
    assert_eq!(r1.value, "10k, axial");
    assert_eq!(
        r1.outline,
        Outline::Rect {
            at: [2.0, 2.0],
            size: [2.0, 2.0],
            turn_deg: 0.0
        }
    );
    assert_eq!(r1.pins.len(), 2, "pin 2 from the component layer");
    assert_eq!(r1.pins[1].drill, None, "mounted on the surface");
    assert!(part(&done, "H1").pins.is_empty());
}

#[test]
fn a_part_against_its_component_layer_is_refused() {
    let top = copper("Top", &flash(10, "R1", "1", 1.0, 2.0));
    let parts = "%TF.FileFunction,Component,L2,Bot*%\n%FSLAX46Y46*%\n%MOMM*%\n\
        %TA.AperFunction,ComponentMain*%\n%ADD10C,0.3*%\n%TO.C,R1*%\nD10*\nX0Y0D03*\nM02*\n";
    let told = import_with(&[&top, parts], &options())
        .unwrap_err()
        .to_string();
    assert!(told.contains("R1 stands on the solder side"), "{told}");
}

#[test]
fn a_profile_gives_the_edge() {
    let top = copper("Top", &flash(10, "R1", "1", 1.0, 2.0));
    // Strokes in any order and direction.
    let profile = "%TF.FileFunction,Profile,NP*%\n%FSLAX46Y46*%\n%MOMM*%\n%ADD10C,0.1*%\nD10*\n\
        X0Y0D02*\nX50000000Y0D01*\nX50000000Y40000000D02*\nX50000000Y0D01*\n\
        X0Y0D02*\nX0Y40000000D01*\nX50000000Y40000000D01*\nM02*\n";
    let done = imported(&[&top, profile]);
    assert_eq!(done.map.outline.len(), 4);
    assert_eq!(done.map.bounds().width(), 50.0);
    assert!(done.questions.is_empty(), "the edge needs no asking");
}

#[test]
fn old_comment_attributes_escapes_and_inches() {
    let text = "G04 #@! TF.FileFunction,Copper,L1,Top*\n%FSLAX24Y24*%\n%MOIN*%\n\
        G04 #@! TA.AperFunction,SMDPad,CuDef*\n%ADD10R,0.05X0.03*%\nD10*\n\
        G04 #@! TO.P,R1,1*\nG04 #@! TO.N,\\u03a9 100% x*\nX10000Y5000D03*\nM02*\n";
    let done = imported(&[text]);
    let pin = &part(&done, "R1").pins[0];
    assert_eq!(pin.at, [25.4, 12.7]);
    assert!((pin.land.size[0] - 1.27).abs() < 1e-12);
    assert_eq!(pin.net.as_deref(), Some("\u{3a9} 100% x"));
}

#[test]
fn turned_and_trailing_zero_forms() {
    let body = format!(
        "%LR90*%\n{}%LR45*%\n{}",
        flash(10, "R1", "1", 0.0, 0.0),
        flash(10, "R1", "2", 5.0, 0.0)
    );
    let done = imported(&[&copper("Top", &body)]);
    let pins = &part(&done, "R1").pins;
    assert_eq!(pins[0].land.size, [0.8, 1.5]);
    assert_eq!(pins[1].land.shape, LandShape::Round);
    let text = copper("Top", &flash(10, "R1", "1", 1.0, 2.0))
        .replace("FSLAX46Y46", "FSTAX33Y33")
        .replace("X1000000Y2000000", "X001Y0025");
    let done = imported(&[&text]);
    assert_eq!(part(&done, "R1").pins[0].at, [1.0, 2.5]);
}

#[test]
fn blocks_macros_regions_arcs_and_copies_are_passed_over() {
    let body = format!(
        "%AMRound*\n4,1,4,$1,$2,0*\n1,1,$1+$1,$2,$3*%\n%ADD13Round,0.2X1*%\n\
         %ABD14*%\nX0Y0D03*\n%AB*%\nG36*\nX0Y0D02*\nG02X100Y100I5J5D01*\nG37*\nG01*\n\
         %SRX2Y2I10J10*%\n{}%SR*%\n%LPD*%\n",
        flash(13, "R1", "1", 0.0, 0.0).replace("%TO", "%TA.AperFunction,SMDPad*%\n%TO")
    );
    let done = import_with(
        &[&copper("Top", &body)],
        &ImportOptions {
            holes: Some(false),
            ..options()
        },
    )
    .unwrap();
    assert_eq!(
        part(&done, "R1").pins[0].land.size,
        [1.0, 1.0],
        "a macro's size is not stated"
    );
    assert!(
        done.left_out
            .iter()
            .any(|line| line.contains("4 times (a panel)"))
    );
}

#[test]
fn a_macro_gives_the_box_round_its_shapes() {
    let text = copper("Top", &flash(13, "R1", "1", 0.0, 0.0)).replace(
        "%ADD12O",
        "%AMBox*0 a comment*\n21,1,$1,$2,0,0,0*%\n%TA.AperFunction,SMDPad*%\n%ADD13Box,2X0.5*%\n%TD*%\n%ADD12O",
    );
    let done = imported(&[&text]);
    assert_eq!(part(&done, "R1").pins[0].land.size, [2.0, 0.5]);
    assert!(
        done.assumed
            .iter()
            .any(|line| line.contains("made by macros"))
    );
}

#[test]
fn what_is_open_is_asked_at_once() {
    let bare = copper("Top", &flash(10, "R1", "1", 1.0, 2.0))
        .replace("%TF.FileFunction,Copper,L1,Top*%\n", "")
        .replace("%MOMM*%\n", "");
    assert_eq!(asked(&[&bare]), [QuestionKey::Layer, QuestionKey::Units]);
    let answered = ImportOptions {
        layer: Some(Outer::Bottom),
        units: Some(LengthUnit::Inch),
        ..options()
    };
    let done = import_with(&[&bare], &answered).unwrap();
    assert_eq!(part(&done, "R1").side, Side::Solder);
    assert_eq!(part(&done, "R1").pins[0].at, [25.4, 50.8]);
    let twice = copper(
        "Top",
        &(flash(10, "R1", "1", 0.0, 0.0) + &flash(10, "R1", "1", 3.0, 0.0)),
    );
    assert_eq!(asked(&[&twice]), [QuestionKey::Repeats]);
}

#[test]
fn bad_commands_are_named_with_line_and_column() {
    let good = copper("Top", &flash(10, "R1", "1", 1.0, 2.0));
    for (from, to, want) in [
        ("X1000000Y", "X1.0Y", "line 12, column 3: a decimal point"),
        ("Y2000000D03", "Q2D03", "line 12, column 9: `Q2`: a letter"),
        (
            "D10*\n",
            "D77*\n",
            "`D77`: an aperture that was not defined",
        ),
        (
            "%FSLAX46Y46*%",
            "%FSLIX46Y46*%",
            "line 2, column 2: incremental",
        ),
        ("%FSLAX46Y46*%", "", "no FS says"),
        ("%MOMM*%", "%MOCM*%", "line 3, column 2: the unit"),
        (
            "R,1.5X0.8",
            "R,1.5X",
            "line 5, column 2: `` is not a number",
        ),
        ("TO.P,R1,1", "TO.P,R1", "the pin attribute names no pin"),
        ("M02*", "G91*\nM02*", "incremental coordinates"),
        ("M02*", "%IR90*%\nM02*", "`IR` moves or turns"),
        ("M02*", "%IFother*%\nM02*", "`IFother` is no command"),
        ("M02*", "M02", "a command without `*`"),
        ("M02*", "%TD", "a command without `*`"),
        ("M02*", "%TD*", "a `%` that is never closed"),
    ] {
        let text = good.replacen(from, to, 1);
        assert!(told(&text).contains(want), "{to}: {}", told(&text));
    }
    let none = copper("Top", "D10*\nX0Y0D03*");
    assert!(told(&none).contains("no pin of any part"));
}

#[test]
fn files_of_different_boards_are_refused() {
    let top = copper("Top", &flash(10, "R1", "1", 1.0, 2.0));
    let mark = |text: &str, id: &str| format!("%TF.ProjectId,board,{id},1*%\n{text}");
    let told = import_with(&[&mark(&top, "a"), &mark(&top, "b")], &options())
        .unwrap_err()
        .to_string();
    assert!(
        told.contains("different boards") && told.contains("layer1.gbr"),
        "{told}"
    );
}

#[test]
fn deep_blocks_are_refused() {
    let body = "%ABD20*%\n".repeat(40);
    assert!(told(&copper("Top", &body)).contains("nested more than 32 deep"));
}

fn check(bytes: &[u8]) -> Result<(), TestCaseError> {
    let everything = ImportOptions {
        units: Some(LengthUnit::Mm),
        layer: Some(Outer::Top),
        holes: Some(true),
        repeats: Some(Repeats::Number),
        ..options()
    };
    for given in [options(), everything] {
        let sources = [(PathBuf::from("b.gbr"), bytes.to_vec())];
        match import_gerber(&sources, &given) {
            Ok(done) => {
                prop_assert!(done.map.parts.len() <= bytes.len());
                prop_assert!(BoardMap::parse(&done.map.to_json(), Path::new("b")).is_ok());
            }
            Err(error) => prop_assert!(error.to_string().contains("b.gbr"), "{}", error),
        }
    }
    Ok(())
}

/// Pieces of files, good and bad, to be put in any order.
fn piece() -> impl Strategy<Value = String> {
    prop_oneof![
        Just("%FSLAX46Y46*%\n".to_owned()),
        Just("%MOMM*%\n".to_owned()),
        Just("%MOIN*%\n".to_owned()),
        "%ADD1[0-3](C|R|O|P|M1),[0-9X.]{0,6}\\*%\n",
        "%TO\\.P,R[0-9],[0-9]\\*%\n",
        "%TO\\.C,R[0-9]\\*%\n",
        "%TO\\.CRot,[0-9.-]{1,4}\\*%\n",
        "%TA\\.AperFunction,(SMDPad|ComponentPad|ComponentMain|ComponentPin|ComponentOutline,Body)\\*%\n",
        "%TF\\.FileFunction,(Copper,L1,Top|Copper,L2,Bot|Component,L1,Top|Profile,NP|Plated,1,2,PTH|Legend,Top)\\*%\n",
        Just("%TD*%\n".to_owned()),
        "D1[0-3]\\*\n",
        "X-?[0-9]{1,8}Y-?[0-9]{1,8}D0[1-3]\\*\n",
        Just("G36*\nG37*\n".to_owned()),
        "G0[1-4]\\*\n",
        "%AB(D1[0-9])?\\*%\n",
        "%AMM1\\*(1|4|5|7|20|21),1(,[0-9$.()x/+-]{1,5}){2,9}\\*%\n",
        "%SR(X[0-9]Y[0-9])?\\*%\n",
        "%L[PMRS][0-9DNC.]{0,4}\\*%\n",
        Just("%AMM1*1,1,$1,0,0*%\n".to_owned()),
        Just("M02*\n".to_owned()),
        "[ -~]{0,6}",
    ]
}

proptest! {
    #[test]
    fn no_bytes_panic(bytes in proptest::collection::vec(any::<u8>(), 0..300)) {
        check(&bytes)?;
    }

    #[test]
    fn no_order_of_commands_panics(pieces in proptest::collection::vec(piece(), 0..16)) {
        check(pieces.concat().as_bytes())?;
    }

    #[test]
    fn no_mutation_panics(
        changes in proptest::collection::vec((any::<u16>(), any::<u8>(), 0u8..3), 1..6),
    ) {
        let body = flash(10, "R1", "1", 1.0, 2.0) + &flash(11, "J1", "2", 4.0, 2.0);
        let mut bytes = copper("Top", &body).into_bytes();
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
