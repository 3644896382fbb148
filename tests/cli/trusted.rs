//! What the record may be trusted for: what nobody knows, and what was taken too early, opens
//! nothing.

use std::path::PathBuf;

use crate::bench::{Bench, Ran, small_map};

/// Runs a command as another bench, which has a home of its own.
fn elsewhere(bench: &Bench, arguments: &[&str]) {
    let ran = bench
        .command(arguments)
        .env("BENCHGLASS_HOME", bench.path("other home"))
        .env("BENCHGLASS_BY", "somebody else")
        .status()
        .expect("the binary runs");
    assert!(ran.success(), "{arguments:?}");
}

/// The journal files of a job, that of this bench first.
fn journals(bench: &Bench) -> Vec<PathBuf> {
    let files = std::fs::read_dir(bench.path("job/journal")).expect("readable");
    let mut files: Vec<_> = files.map(|file| file.expect("there").path()).collect();
    files.retain(|path| path.extension().is_some_and(|end| end == "jsonl"));
    files.sort_by_key(|path| !std::fs::read_to_string(path).is_ok_and(|t| t.contains("started")));
    files
}

fn cold(bench: &Bench) -> String {
    bench.run(&["gate", "job", "--stage", "cold"]).out()
}

const FRACTURED: [&str; 7] = [
    "mark",
    "job",
    "J1.2",
    "--verdict",
    "faulty",
    "--fault",
    "fractured",
];

#[test]
fn what_another_bench_has_not_sent_in_full_or_was_altered_holds_the_gate() {
    let bench = Bench::new();
    bench.job();
    elsewhere(&bench, &FRACTURED);
    let theirs = journals(&bench).pop().expect("two journals");
    let whole = std::fs::read(&theirs).expect("readable");
    assert!(cold(&bench).contains("J1.2"));

    // Half of the line is still on its way.
    std::fs::write(&theirs, &whole[..whole.len() - 3]).expect("writable");
    let ran = bench.run(&["gate", "job", "--stage", "cold"]);
    assert!(ran.out().contains("have not arrived whole"), "{ran:?}");
    assert!(ran.err().contains("not whole"), "{ran:?}");
    std::fs::write(&theirs, &whole).expect("writable");

    // A copy that a sync tool cut off, of lines that are all there, holds nothing back.
    let copy = theirs.with_file_name("cut off copy.jsonl");
    std::fs::write(&copy, &whole[..whole.len() - 3]).expect("writable");
    assert!(!cold(&bench).contains("have not arrived whole"));
    std::fs::write(&copy, &whole[..20]).expect("writable");
    assert!(cold(&bench).contains("have not arrived whole"));
    let verified = bench.run(&["verify", "job"]).out();
    assert!(verified.contains("what has not arrived"), "{verified}");
    std::fs::remove_file(&copy).expect("removable");

    // A line is taken out of the middle of our own.
    bench.done(&["note", "job", "looked at the cord"]);
    let ours = journals(&bench).remove(0);
    let text = std::fs::read_to_string(&ours).expect("readable");
    let fewer: Vec<&str> = (text.lines().enumerate())
        .filter(|(index, _)| *index != 1)
        .map(|(_, line)| line)
        .collect();
    std::fs::write(&ours, fewer.join("\n") + "\n").expect("writable");
    let held = cold(&bench);
    // Said once, where it is, and not of every line that follows.
    assert!(held.contains("An entry of the record exists"), "{held}");
    assert!(held.contains("a journal file was altered"), "{held}");
}

#[test]
fn a_rework_is_not_accepted_on_a_photo_of_before_it() {
    let bench = Bench::new();
    bench.job();
    let mark = |arguments: &[&str]| -> Ran {
        let mut all = vec!["mark", "job", "J1.2", "--verdict"];
        all.extend(arguments);
        bench.run(&all)
    };
    let faulty = ["faulty", "--fault", "fractured", "--photo", "board.png"];
    assert_eq!(mark(&faulty).code(), 0);
    assert_eq!(mark(&["reworked", "--photo", "board.png"]).code(), 0);
    for verdict in ["accepted", "no-fault-seen"] {
        let ran = mark(&[verdict, "--photo", "board.png", "--note", "shines"]);
        assert_eq!(ran.code(), 1, "{ran:?}");
        assert!(ran.err().contains("came in before"), "{ran:?}");
    }
    assert!(cold(&bench).contains("J1.2"));
    assert_eq!(mark(&["accepted"]).code(), 0, "a look at the board itself");
    assert!(!cold(&bench).contains("J1.2"));
}

#[test]
fn what_was_never_reworked_is_not_accepted_because_two_benches_differ() {
    let bench = Bench::new();
    bench.job();
    // Neither has seen the other's word.
    let before = std::fs::read(&journals(&bench)[0]).expect("readable");
    bench.done(&["mark", "job", "J1.2", "--verdict", "no-fault-seen"]);
    let ours = journals(&bench).remove(0);
    let after = std::fs::read(&ours).expect("readable");
    std::fs::write(&ours, before).expect("writable");
    elsewhere(&bench, &FRACTURED);
    std::fs::write(&ours, after).expect("writable");
    assert!(cold(&bench).contains("judgements differ"));

    let early = bench.run(&["mark", "job", "J1.2", "--verdict", "accepted"]);
    assert_eq!(early.code(), 1, "{early:?}");
    assert!(early.err().contains("not marked reworked"), "{early:?}");
}

#[test]
fn stored_charge_wants_a_figure_that_is_small() {
    let bench = Bench::new();
    bench.job();
    let check = |more: &[&str]| {
        let mut all = vec![
            "measure",
            "job",
            "--check",
            "stored-charge",
            "--outcome",
            "passed",
        ];
        all.extend(more);
        bench.run(&all)
    };
    assert_eq!(check(&[]).code(), 2);
    assert_eq!(check(&["--volts", "about none"]).code(), 2);
    assert_eq!(check(&["--volts", "320"]).code(), 2);
    assert_eq!(check(&["--volts", "-0.4"]).code(), 0);
    let told = bench.done(&["history", "job"]).out();
    assert!(told.contains("-0.4 V"), "{told}");
    let cord = bench.run(&[
        "measure",
        "job",
        "--check",
        "cord",
        "--outcome",
        "passed",
        "--volts",
        "1",
    ]);
    assert_eq!(cord.code(), 2, "{cord:?}");
}

#[test]
fn a_reading_under_power_before_the_gate_allows_it_is_said() {
    let bench = Bench::new();
    bench.job();
    let read = bench.done(&[
        "measure", "job", "--rail", "+5 V", "--mode", "loaded", "--volts", "5.0",
    ]);
    let all = read.out() + &read.err();
    assert!(all.contains("while the gate still held"), "{all}");
}

#[test]
fn photos_do_not_lie_on_a_map_whose_places_are_elsewhere() {
    let bench = Bench::new();
    bench.job();
    let mut map = small_map();
    let moved = |at: &mut serde_json::Value, by: f64| {
        let x = at[0].as_f64().expect("a number");
        at[0] = (x + by).into();
    };
    // One landmark put right leaves the rest where it was.
    moved(&mut map["landmarks"][1]["at"], -0.5);
    std::fs::write(bench.path("right.json"), map.to_string()).expect("writable");
    let adopted = bench.done(&["map", "adopt", "job", "right.json"]);
    assert!(!(adopted.out() + &adopted.err()).contains("elsewhere"));
    bench.done(&[
        "mark",
        "job",
        "J1.3",
        "--verdict",
        "suspect",
        "--photo",
        "board.png",
    ]);

    for landmark in map["landmarks"].as_array_mut().expect("a list") {
        moved(&mut landmark["at"], 2.54);
    }
    std::fs::write(bench.path("moved.json"), map.to_string()).expect("writable");
    let adopted = bench.done(&["map", "adopt", "job", "moved.json"]);
    let said = adopted.out() + &adopted.err();
    assert!(said.contains("2.5 mm elsewhere"), "{said}");
    let mark = bench.run(&[
        "mark",
        "job",
        "J1.3",
        "--verdict",
        "faulty",
        "--fault",
        "fractured",
        "--photo",
        "board.png",
    ]);
    assert_eq!(mark.code(), 2, "{mark:?}");
    assert!(mark.err().contains("align it first"), "{mark:?}");
    // Undo brings both back.
    bench.done(&["undo", "job"]);
    // Where the map before is not at hand, nobody can tell.
    let maps = bench.path("job/maps");
    let names = std::fs::read_dir(&maps).expect("readable");
    let paths: Vec<PathBuf> = names.map(|name| name.expect("there").path()).collect();
    let kept: Vec<_> = (paths.iter())
        .map(|path| (path.clone(), std::fs::read(path).expect("readable")))
        .collect();
    for path in &paths {
        std::fs::remove_file(path).expect("removable");
    }
    let adopted = bench.done(&["map", "adopt", "job", "moved.json"]);
    let said = adopted.out() + &adopted.err();
    assert!(
        said.contains("nobody can tell whether places moved"),
        "{said}"
    );
    for (path, bytes) in kept {
        std::fs::write(path, bytes).expect("writable");
    }
    bench.done(&["undo", "job"]);
    bench.done(&[
        "mark",
        "job",
        "J1.3",
        "--verdict",
        "suspect",
        "--photo",
        "board.png",
    ]);
}

#[test]
fn a_photo_that_two_benches_laid_differently_shows_nothing_until_it_is_aligned_again() {
    let bench = Bench::new();
    bench.job();
    let ours = journals(&bench).remove(0);
    let after = std::fs::read_to_string(&ours).expect("readable");
    let before: Vec<&str> = after
        .lines()
        .filter(|line| !line.contains("\"aligned\""))
        .collect();
    std::fs::write(&ours, before.join("\n") + "\n").expect("writable");
    // A pitch off, by somebody who has not seen the other alignment.
    let places = [
        (3.0, 3.0, "hole A"),
        (47.0, 3.0, "hole B"),
        (47.0, 27.0, "hole C"),
        (3.0, 27.0, "hole D"),
    ];
    let placed: Vec<String> = (places.iter())
        .map(|(x, y, name)| {
            let [u, v] = crate::bench::photo_px(*x, *y);
            format!("{name}={},{v}", u - 20.0)
        })
        .collect();
    let mut align = vec!["align", "job", "--photo", "board.png"];
    for place in &placed {
        align.extend(["--place", place]);
    }
    elsewhere(&bench, &align);
    std::fs::write(&ours, &after).expect("writable");
    for command in [
        &["hint", "job", "--photo", "board.png"][..],
        &[
            "mark",
            "job",
            "J1.3",
            "--verdict",
            "suspect",
            "--photo",
            "board.png",
        ],
    ] {
        let ran = bench.run(command);
        assert_eq!(ran.code(), 1, "{ran:?}");
        assert!(ran.err().contains("in two ways at once"), "{ran:?}");
    }
    bench.done(&align);
    bench.done(&["hint", "job", "--photo", "board.png"]);
}

#[test]
fn a_start_that_was_cut_off_between_two_maps_is_taken_up_again() {
    let bench = Bench::new();
    bench.job();
    let ours = journals(&bench).remove(0);
    let text = std::fs::read_to_string(&ours).expect("readable");
    let first = text.lines().next().expect("a line");
    assert!(
        first.contains("map_adopted"),
        "the unit comes last: {first}"
    );
    std::fs::write(&ours, format!("{first}\n")).expect("writable");
    assert!(cold(&bench).contains("names no unit"));
    bench.done(&[
        "start",
        "job",
        "--unit",
        "T-1",
        "--model",
        "Test tone box",
        "--map",
        "map.json",
    ]);
    assert!(!cold(&bench).contains("names no unit"));
}

#[test]
fn what_somebody_else_recorded_at_this_bench_is_not_taken_back_by_accident() {
    let bench = Bench::new();
    bench.job();
    bench.done(&["--by", "ann", "note", "job", "the cord is warm"]);
    let ran = bench.run(&["--by", "carl", "undo", "job"]);
    assert_eq!(ran.code(), 1, "{ran:?}");
    assert!(ran.err().contains("ann wrote it"), "{ran:?}");
    assert!(ran.err().contains("the cord is warm"), "{ran:?}");
    bench.done(&["--by", "carl", "undo", "job", "--yes"]);
    bench.done(&["--by", "carl", "redo", "job"]);
    bench.done(&["--by", "ann", "undo", "job"]);
}
