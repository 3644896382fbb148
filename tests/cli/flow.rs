//! From nothing to a slip, on a board of the test's own.

use serde_json::Value;

use crate::bench::{Bench, contents, photo_px};

#[test]
fn from_photographs_to_a_slip() {
    let bench = Bench::new();
    let job = bench.job();

    let hint = bench
        .done(&["hint", &job, "--photo", "board.png", "--json"])
        .json();
    assert_eq!(hint["schema"], 1);
    let first = first_suspect(&hint);
    assert_eq!(
        first["id"], "J1.2",
        "the ring drawn round J1.2 ranks first: {hint}"
    );

    bench.done(&[
        "mark",
        &job,
        "J1.2",
        "--verdict",
        "faulty",
        "--fault",
        "fractured",
        "--photo",
        "board.png",
    ]);
    bench.done(&[
        "mark",
        &job,
        "J1.1",
        "J1.3-8",
        "--verdict",
        "no-fault-seen",
        "--photo",
        "board.png",
    ]);
    bench.done(&[
        "mark",
        &job,
        "--unit-part",
        "mains cord",
        "--verdict",
        "faulty",
        "--fault",
        "damaged-cord",
        "--note",
        "spliced with tape <script>alert(1)</script>",
    ]);

    let rows = bench.done(&["coverage", &job, "--json"]).json();
    let row = &rows["rows"][0];
    assert_eq!(
        (&row["total"], &row["judged"]),
        (&Value::from(8), &Value::from(8)),
        "{rows}"
    );
    let scale = row["median_px_per_mm"]
        .as_f64()
        .expect("looked at on a photo");
    assert!((scale - 24.0).abs() < 0.5, "{scale}");

    let slip = bench.done(&["slip", &job, "--json"]).json();
    assert_eq!(slip["lines"], 2, "{slip}");
    let html = std::fs::read_to_string(bench.path(&find(&slip, ".html"))).expect("written");
    assert!(html.contains("J1.2") && html.contains("mains cord"));
    assert!(!html.contains("<script>"), "a note is text, never markup");
    for outside in ["http://", "https://"] {
        let loads = html.matches(&format!("src=\"{outside}")).count()
            + html.matches(&format!("href=\"{outside}")).count();
        assert_eq!(loads, 0, "the page is self-contained");
    }
    let table = std::fs::read(bench.path(&find(&slip, ".csv"))).expect("written");
    let rows = csv::Reader::from_reader(table.as_slice()).records().count();
    assert_eq!(rows, 2);
    let data: Value =
        serde_json::from_slice(&std::fs::read(bench.path(&find(&slip, ".json"))).expect("written"))
            .expect("JSON");
    assert_eq!(data["schema"], 1);
}

fn first_suspect(hint: &Value) -> &Value {
    hint["joints"]
        .as_array()
        .expect("a list")
        .iter()
        .find(|joint| joint["rank"] == 1)
        .expect("a first one")
}

fn find(slip: &Value, ending: &str) -> String {
    slip["files"]
        .as_array()
        .expect("a list")
        .iter()
        .filter_map(Value::as_str)
        .find(|file| file.ends_with(ending))
        .unwrap_or_else(|| panic!("no {ending}: {slip}"))
        .into()
}

#[test]
fn the_gate_opens_step_by_step_and_shuts_again() {
    let bench = Bench::new();
    let job = bench.job();
    let ask = |stage: &str| bench.run(&["gate", &job, "--stage", stage, "--json"]);
    assert_eq!(ask("cold").code(), 1, "an empty record permits nothing");

    for check in ["cord", "plug", "fuse-rating", "voltage-selector"] {
        bench.done(&["measure", &job, "--check", check, "--outcome", "passed"]);
    }
    bench.done(&[
        "measure",
        &job,
        "--check",
        "stored-charge",
        "--outcome",
        "passed",
        "--volts",
        "0.3",
    ]);
    bench.done(&[
        "measure",
        &job,
        "--check",
        "earth-continuity",
        "--outcome",
        "not-fitted",
        "--note",
        "double insulated",
    ]);
    bench.done(&[
        "measure", &job, "--rail", "+5 V", "--mode", "cold", "--ohm", "820",
    ]);
    let left = ask("cold").json();
    assert_eq!(
        left["passed"], false,
        "nobody has looked at the supply area: {left}"
    );
    bench.done(&[
        "mark",
        &job,
        "J1.*",
        "--verdict",
        "no-fault-seen",
        "--photo",
        "board.png",
    ]);
    assert_eq!(ask("cold").code(), 0, "{:?}", ask("cold"));

    assert_eq!(ask("supply").code(), 1);
    // 4.749 V is below 4.75 V, even where a display would round it.
    bench.done(&[
        "measure", &job, "--rail", "+5 V", "--mode", "unloaded", "--volts", "4.749",
    ]);
    assert_eq!(ask("supply").code(), 1);
    bench.done(&[
        "measure", &job, "--rail", "+5 V", "--mode", "unloaded", "--volts", "4.750",
    ]);
    assert_eq!(ask("supply").code(), 0, "{:?}", ask("supply"));

    bench.done(&["reopen", &job, "--reason", "a screw was loose inside"]);
    let stale = ask("supply");
    assert_eq!(stale.code(), 1, "readings before a reopening are stale");
    bench.done(&["undo", &job]);
    assert_eq!(ask("supply").code(), 0, "undo takes the reopening back");
    bench.done(&["redo", &job]);
    assert_eq!(ask("supply").code(), 1);
}

#[test]
fn a_faulty_joint_holds_the_gate_until_its_rework_is_accepted() {
    let bench = Bench::new();
    let job = bench.job();
    let blocked = |what: &str| {
        bench
            .run(&["gate", &job, "--stage", "cold"])
            .out()
            .contains(what)
    };
    bench.done(&[
        "mark",
        &job,
        "J1.2",
        "--verdict",
        "faulty",
        "--fault",
        "fractured",
    ]);
    assert!(blocked("J1.2"));
    let early = bench.run(&["mark", &job, "J1.2", "--verdict", "accepted", "--json"]);
    assert_eq!(early.code(), 1, "nothing to accept before the rework");
    assert!(
        early.json()["remedy"]
            .as_str()
            .is_some_and(|r| r.contains("reworked"))
    );
    bench.done(&["mark", &job, "J1.2", "--verdict", "reworked"]);
    assert!(blocked("J1.2"), "reworked is not yet accepted");
    bench.done(&["mark", &job, "J1.2", "--verdict", "accepted"]);
    assert!(!blocked("J1.2"));
}

#[test]
fn originals_are_never_altered() {
    let bench = Bench::new();
    let before = {
        bench.draw_photo("board.png");
        std::fs::read(bench.path("board.png")).expect("there")
    };
    let job = bench.job();
    let kept = contents(&bench.path("job/photos"));
    bench.done(&["hint", &job, "--photo", "board.png"]);
    bench.done(&[
        "mark",
        &job,
        "J1.2",
        "--verdict",
        "suspect",
        "--photo",
        "board.png",
    ]);
    bench.done(&["slip", &job]);
    assert_eq!(contents(&bench.path("job/photos")), kept);
    assert_eq!(kept[0].1, before, "the copy is the original, byte for byte");
    bench.done(&["verify", &job]);

    // Somebody edits a photo in the job folder: verify says which.
    std::fs::write(&kept[0].0, b"edited").expect("writable");
    let proof = bench.run(&["verify", &job]);
    assert_eq!(proof.code(), 1);
    assert!(proof.out().contains("board.png"), "{proof:?}");
}

#[test]
fn the_same_photo_is_taken_once() {
    let bench = Bench::new();
    let job = bench.job();
    std::fs::copy(bench.path("board.png"), bench.path("again.png")).expect("copied");
    let report = bench.done(&["add", &job, "again.png", "--json"]).json();
    assert_eq!(
        report["added"].as_array().map(Vec::len),
        Some(0),
        "{report}"
    );
    assert_eq!(
        report["duplicates"].as_array().map(Vec::len),
        Some(1),
        "{report}"
    );
}

#[test]
fn a_place_on_an_unaligned_photo_goes_on_the_slip() {
    let bench = Bench::new();
    bench.draw_photo("case.png");
    bench.done(&["start", "job", "--unit", "T-2", "--model", "Unknown box"]);
    bench.done(&["add", "job", "case.png"]);
    bench.done(&[
        "mark",
        "job",
        "--photo",
        "case.png",
        "--at-px",
        "300,200,60",
        "--verdict",
        "faulty",
        "--fault",
        "cracked-header",
    ]);
    let outside = bench.run(&[
        "mark",
        "job",
        "--photo",
        "case.png",
        "--at-px",
        "99999,200",
        "--verdict",
        "suspect",
    ]);
    assert_eq!(outside.code(), 2, "{outside:?}");
    let slip = bench.done(&["slip", "job", "--json"]).json();
    assert_eq!(slip["lines"], 1);
}

#[test]
fn wrong_side_is_refused_by_name() {
    let bench = Bench::new();
    bench.job();
    let mut arguments = vec![
        "align".to_owned(),
        "job".into(),
        "--photo".into(),
        "board.png".into(),
        "--board".into(),
        "main".into(),
        "--side".into(),
        "component".into(),
        "--json".into(),
    ];
    for (name, x, y) in [
        ("hole A", 3.0, 3.0),
        ("hole B", 47.0, 3.0),
        ("hole C", 47.0, 27.0),
        ("hole D", 3.0, 27.0),
    ] {
        let [u, v] = photo_px(x, y);
        arguments.extend(["--place".into(), format!("{name}={u},{v}")]);
    }
    let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let refused = bench.run(&arguments);
    assert_eq!(refused.code(), 1, "{refused:?}");
    let words = refused.json()["reason"]
        .as_str()
        .unwrap_or("")
        .to_lowercase();
    assert!(words.contains("mirrored"), "{words}");
    let remedy = refused.json()["remedy"]
        .as_str()
        .unwrap_or("")
        .to_lowercase();
    assert!(remedy.contains("solder"), "{remedy}");
}
