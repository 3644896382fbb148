//! A board map made by a file of edits.

use serde_json::{Value, json};

use crate::bench::Bench;

fn land() -> Value {
    json!({"shape": "round", "size": [1.8, 1.8]})
}

fn edits() -> Value {
    json!([
        {"do": "two_rows", "part": {"kind": "ic", "land": land(), "drill": 0.9},
         "pin_1": [20.0, 40.0], "row_end": [20.0, 22.22], "across": {"mm": 7.62}, "count": 16},
        {"do": "row", "part": {"kind": "header", "land": land(), "drill": 0.9},
         "first": [40.0, 20.0], "last": [52.7, 20.0], "count": 6},
        {"do": "outline", "corners": [[0.0, 0.0], [70.0, 0.0], [70.0, 50.0], [0.0, 50.0]]},
        {"do": "suggest_landmarks"},
    ])
}

#[test]
fn edits_make_a_map_that_the_check_accepts() {
    let bench = Bench::new();
    std::fs::write(bench.path("edits.json"), edits().to_string()).expect("writable");
    let made = bench
        .done(&[
            "map",
            "make",
            "edits.json",
            "-o",
            "main.json",
            "--model",
            "Fernhollow FH-12",
            "--json",
        ])
        .json();
    assert_eq!((&made["parts"], &made["pins"]), (&json!(2), &json!(22)));
    assert_eq!(made["steps"][0], "Make U1, 16 pins in two rows");
    bench.done(&["map", "check", "main.json"]);

    // Gone on with: a part more, the others as they were.
    let more = json!([{"do": "two_leads", "part": {"kind": "resistor", "land": land(), "drill": 0.9},
                       "a": [30.0, 10.0], "b": [40.16, 10.0]}]);
    std::fs::write(bench.path("more.json"), more.to_string()).expect("writable");
    bench.done(&[
        "map",
        "make",
        "more.json",
        "--from",
        "main.json",
        "-o",
        "next.json",
    ]);
    let read = |name: &str| -> Value {
        serde_json::from_slice(&std::fs::read(bench.path(name)).expect("written")).expect("JSON")
    };
    let (before, after) = (read("main.json"), read("next.json"));
    assert_eq!(before["parts"][0], after["parts"][0]);
    assert_eq!(after["parts"][2]["ref"], "R1");
}

#[test]
fn an_edit_that_cannot_be_is_named() {
    let bench = Bench::new();
    let bad = json!([edits()[0].clone(), {"do": "delete", "parts": ["nobody"]}]);
    std::fs::write(bench.path("edits.json"), bad.to_string()).expect("writable");
    let ran = bench.run(&["map", "make", "edits.json", "-o", "main.json"]);
    assert_eq!(ran.code(), 2);
    assert!(
        ran.err()
            .contains("edits.json: edit 2: there is no such part"),
        "{}",
        ran.err()
    );
    assert!(!bench.path("main.json").exists());
    std::fs::write(bench.path("edits.json"), "[{\"do\": \"fly\"}]").expect("writable");
    let ran = bench.run(&["map", "make", "edits.json", "-o", "main.json"]);
    assert_eq!(ran.code(), 2);
    assert!(ran.err().contains("line 1"), "{}", ran.err());
}
