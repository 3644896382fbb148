//! Maps from published formats, the library, differences, and weak spots of earlier units.

use serde_json::Value;

use crate::bench::{Bench, small_map};

const LANDS: &str = "\
327N1               R1    -1          A01X+001000Y+001000X0600Y0300
327N2               R1    -2          A01X+002000Y+001000X0600Y0300
317N1               J1    -1    D0400PA00X+005000Y+005000X0700Y0000
999
";

#[test]
fn an_import_asks_and_then_says_what_it_did() {
    let bench = Bench::new();
    std::fs::write(bench.path("lands.txt"), LANDS).expect("writable");
    let base = [
        "map",
        "import",
        "lands.txt",
        "-o",
        "m.json",
        "--model",
        "M",
        "--board",
        "main",
        "--json",
    ];
    let asked = bench.run(&base);
    assert_eq!(asked.code(), 2, "{asked:?}");
    let reason = asked.json()["reason"].as_str().expect("words").to_owned();
    assert!(
        reason.contains("lands.txt") && reason.contains("step=0.0001in"),
        "{reason}"
    );
    assert!(
        !bench.path("m.json").exists(),
        "nothing is written on a question"
    );

    let mut answered = base.to_vec();
    answered.extend(["--answer", "step=0.0001in"]);
    let done = bench.done(&answered).json();
    assert_eq!(
        (&done["parts"], &done["pins"]),
        (&2.into(), &3.into()),
        "{done}"
    );
    assert_eq!(done["format"], "ipc356");
    let assumed = done["assumed"].to_string();
    assert!(assumed.contains("side=solder"), "{assumed}");
    assert!(
        done["findings"].to_string().contains("landmarks"),
        "the linter speaks: {done}"
    );
    let text = bench
        .done(&[&answered[..9], &answered[10..]].concat())
        .out();
    for word in ["Read:", "Assumed:", "Mind:", "Check:"] {
        assert!(text.contains(word), "{text}");
    }
}

#[test]
fn layers_of_one_board_are_merged_and_others_named() {
    let bench = Bench::new();
    let layer = |side: &str, part: &str| {
        format!(
            "%TF.FileFunction,Copper,L1,{side}*%\n%FSLAX46Y46*%\n%MOMM*%\n\
             %TA.AperFunction,SMDPad,CuDef*%\n%ADD10R,1.5X0.8*%\nD10*\n\
             %TO.P,{part},1*%\nX3000000Y2000000D03*\nM02*\n"
        )
    };
    std::fs::write(bench.path("top.bin"), layer("Top", "R1")).expect("writable");
    std::fs::write(bench.path("bottom.bin"), layer("Bot", "R2")).expect("writable");
    let tail = ["-o", "m.json", "--model", "M", "--board", "main", "--json"];
    let done = bench
        .done(&[&["map", "import", "top.bin", "bottom.bin"][..], &tail].concat())
        .json();
    assert_eq!(done["parts"], 2, "{done}");
    std::fs::write(bench.path("lands.txt"), LANDS).expect("writable");
    let mixed = bench.run(&[&["map", "import", "top.bin", "lands.txt"][..], &tail].concat());
    assert_eq!(mixed.code(), 2);
    assert!(mixed.err().contains("lands.txt"), "{mixed:?}");
    let broken = layer("Top", "R1").replace("X3000000", "X3.0");
    std::fs::write(bench.path("broken.gbr"), broken).expect("writable");
    let told = bench.run(&[&["map", "import", "broken.gbr"][..], &tail].concat());
    assert_eq!(told.code(), 2);
    assert!(told.err().contains("line 8, column 3"), "{told:?}");
}

/// Writes the small map, changed.
fn write_map(bench: &Bench, name: &str, change: impl FnOnce(&mut Value)) {
    let mut map = small_map();
    change(&mut map);
    std::fs::write(bench.path(name), map.to_string()).expect("writable");
}

#[test]
fn the_library_brings_the_newest_map_to_the_next_job() {
    let bench = Bench::new();
    write_map(&bench, "one.json", |_| ());
    write_map(&bench, "two.json", |map| {
        map["parts"][0]["pins"][2]["at"] = serde_json::json!([17.62, 10.4]);
    });
    let start = |job: &str| {
        bench
            .done(&[
                "start",
                job,
                "--unit",
                job,
                "--model",
                "test TONE box",
                "--json",
            ])
            .json()
    };
    assert_eq!(start("none")["boards"], serde_json::json!([]));
    bench.done(&["map", "keep", "one.json", "--note", "first"]);
    let first = start("a");
    assert_eq!(first["boards"], serde_json::json!(["main"]));
    assert_eq!(first["from_library"][0]["note"], "first");

    bench.done(&["map", "keep", "two.json", "--note", "J1.3 measured"]);
    let again = bench.done(&["map", "keep", "two.json", "--json"]).json();
    assert_eq!(again["new"], false, "the same map is not kept twice");
    let listed = bench
        .done(&["map", "list", "Test tone box", "--json"])
        .json();
    assert_eq!(listed["revisions"].as_array().expect("a list").len(), 2);
    assert_eq!(
        listed["revisions"][1]["parent"],
        listed["revisions"][0]["id"]
    );

    // Opening offers, with the difference in words; nothing changes until it is asked for.
    let offered = bench.done(&["map", "adopt", "a"]).out();
    assert!(
        offered.contains("part J1, pin 3: moved by 0.4 mm"),
        "{offered}"
    );
    assert!(offered.contains("--newest"), "{offered}");
    let offer = bench.done(&["map", "adopt", "a", "--json"]).json();
    assert_eq!(
        (&offer["adopted"], &offer["newer"][0]["standing"]),
        (&false.into(), &"earlier".into())
    );
    bench.done(&["map", "adopt", "a", "--newest"]);
    let offer = bench.done(&["map", "adopt", "a", "--json"]).json();
    assert_eq!(offer["newer"], serde_json::json!([]));
    assert_eq!(bench.done(&["verify", "a", "--json"]).json()["whole"], true);

    // An old revision can be taken out, byte for byte.
    let hash = listed["revisions"][0]["sha256"].as_str().expect("a hash");
    bench.done(&[
        "map",
        "take",
        "Test tone box",
        "--revision",
        &hash[..8],
        "-o",
        "old.json",
    ]);
    let bytes = |name: &str| std::fs::read(bench.path(name)).expect("readable");
    assert_eq!(bytes("old.json"), bytes("one.json"));
    let unknown = bench.run(&["map", "take", "No such", "-o", "x.json"]);
    assert_eq!(unknown.code(), 2);
    let without = bench
        .done(&[
            "start",
            "b",
            "--unit",
            "b",
            "--model",
            "Test tone box",
            "--without-map",
            "--json",
        ])
        .json();
    assert_eq!(without["boards"], serde_json::json!([]));
}

/// What a half-finished sync or a bad disk leaves must not bring an older map to the next job.
#[test]
fn a_damaged_library_begins_no_job_with_an_older_map() {
    let bench = Bench::new();
    write_map(&bench, "one.json", |_| ());
    write_map(&bench, "two.json", |map| map["title"] = "second".into());
    bench.done(&["map", "keep", "one.json"]);
    let kept = bench.done(&["map", "keep", "two.json", "--json"]).json();
    let name = format!("{}.json", kept["revision"]["id"].as_str().expect("an id"));
    let of = |ends: &str| {
        let files = crate::bench::contents(&bench.path("home/library"));
        let mut paths = files.into_iter().map(|(path, _)| path);
        paths.find(|path| path.ends_with(ends)).expect("there")
    };
    let revision = of(&name);
    let good = std::fs::read(&revision).expect("readable");
    let start = |job: &str, more: &[&str]| {
        let plain = [
            "start",
            job,
            "--unit",
            job,
            "--model",
            "Test tone box",
            "--json",
        ];
        bench.run(&[&plain[..], more].concat())
    };
    std::fs::write(&revision, &good[..good.len() / 2]).expect("writable");
    let torn = start("a", &[]);
    assert_eq!(torn.code(), 3, "{torn:?}");
    assert!(
        torn.err().contains(&name) && torn.err().contains("from a copy, or move it away"),
        "{torn:?}"
    );
    assert!(!bench.path("a").exists(), "no half-made job");
    assert_eq!(bench.run(&["map", "keep", "one.json"]).code(), 3);
    // Whoever names a map, or none, is not held up.
    assert_eq!(start("b", &["--without-map"]).code(), 0);
    assert_eq!(start("c", &["--map", "two.json"]).code(), 0);

    let board = revision.parent().and_then(std::path::Path::parent);
    let board = board.expect("a folder");
    std::fs::remove_dir_all(board.join("revisions")).expect("writable");
    let none = start("d", &[]);
    assert_eq!(none.code(), 3, "{none:?}");
    assert!(none.err().contains("benchglass map keep"), "{none:?}");
    assert!(
        none.json()["remedy"]
            .as_str()
            .is_some_and(|r| !r.is_empty())
    );
    bench.done(&["map", "keep", "two.json"]);
    let mended = start("e", &[]).json();
    assert_eq!(mended["boards"], serde_json::json!(["main"]));
}

#[test]
fn differences_are_told_in_words() {
    let bench = Bench::new();
    write_map(&bench, "one.json", |_| ());
    write_map(&bench, "two.json", |map| {
        map["parts"][0]["ref"] = "J7".into();
        map["rails"][0]["at"] = "J7.1".into();
        map["rails"][0]["return"] = "J7.2".into();
        map["rails"][0]["loaded"]["min"] = 4.8.into();
    });
    let text = bench.done(&["map", "diff", "one.json", "two.json"]).out();
    assert!(text.contains("part J7: renamed from J1"), "{text}");
    assert!(
        text.contains("rail +5 V: loaded was 4.75 to 5.25 V, is 4.8 to 5.25 V"),
        "{text}"
    );
    let same = bench
        .done(&["map", "diff", "one.json", "one.json", "--json"])
        .json();
    assert_eq!(same["same"], true);
}

#[test]
fn what_earlier_units_had_is_asked_for_first_on_the_next() {
    let bench = Bench::new();
    write_map(&bench, "map.json", |_| ());
    for (unit, verdict) in [("U1", "faulty"), ("U2", "no-fault-seen"), ("U3", "suspect")] {
        bench.done(&[
            "start",
            unit,
            "--unit",
            unit,
            "--model",
            "Test tone box",
            "--map",
            "map.json",
        ]);
        let mut mark = vec!["mark", unit, "J1.5", "--verdict", verdict];
        if verdict == "faulty" {
            mark.extend(["--fault", "fractured"]);
        }
        bench.done(&mark);
    }
    bench.done(&["start", "other", "--unit", "X", "--model", "Something else"]);
    let weak = bench
        .done(&[
            "weak",
            "U1",
            "U2",
            "U3",
            "U1",
            "other",
            "--model",
            "Test tone box",
            "--json",
        ])
        .json();
    let spot = &weak["boards"][0]["spots"][0];
    assert_eq!(spot["place"], "J1.5", "{weak}");
    let counts = ["faulty", "suspect", "looked_at"].map(|key| spot[key].as_u64());
    assert_eq!(counts, [Some(1), Some(1), Some(3)]);
    assert!(spot["low"].as_f64() < spot["high"].as_f64());
    assert_eq!(weak["passed_over"].as_array().expect("a list").len(), 1);

    // Without names, the jobs that this bench worked on.
    let known = bench.done(&["weak", "--map", "map.json", "--json"]).json();
    assert_eq!(known["boards"][0]["spots"][0]["looked_at"], 3, "{known}");

    bench.done(&["weak", "--map", "map.json", "--write", "watched.json"]);
    let written = std::fs::read_to_string(bench.path("watched.json")).expect("written");
    assert!(
        written.contains("earlier units: faulty on 1, suspect on 1 of 3 units"),
        "{written}"
    );
    bench.done(&["map", "check", "watched.json"]);
    // Nothing else is written over: not a job's own file, not a map that somebody went on with.
    for target in ["U1/job.json", "watched.json"] {
        if target == "watched.json" {
            write_map(&bench, target, |map| map["title"] = "mine".into());
        }
        let before = std::fs::read(bench.path(target)).expect("there");
        let refused = bench.run(&["weak", "--map", "map.json", "--write", target]);
        assert_eq!(refused.code(), 2, "{refused:?}");
        assert!(refused.err().contains("--replace"), "{refused:?}");
        assert_eq!(std::fs::read(bench.path(target)).expect("there"), before);
    }
    let replace = [
        "weak",
        "--map",
        "map.json",
        "--write",
        "watched.json",
        "--replace",
    ];
    bench.done(&replace);
    let again = std::fs::read_to_string(bench.path("watched.json")).expect("written");
    assert_eq!(again, written);
    // The map that was named is gone on with.
    bench.done(&["weak", "--map", "map.json", "--write", "map.json"]);
    let own = std::fs::read_to_string(bench.path("map.json")).expect("written");
    assert_eq!(own, written);
    let none = bench.run(&["weak", "U1", "--model", "Nothing"]);
    assert_eq!(none.code(), 1, "refused: {none:?}");
}

#[test]
fn a_map_with_other_identities_is_told_before_and_after_and_an_import_can_keep_them() {
    let bench = Bench::new();
    std::fs::write(bench.path("lands.txt"), BOARD).expect("writable");
    let import = |out: &str, more: &[&str]| {
        let base = [
            "map",
            "import",
            "lands.txt",
            "-o",
            out,
            "--model",
            "M",
            "--board",
            "main",
        ];
        bench.run(&[&base[..], more].concat())
    };
    let first = import("first.json", &[]);
    assert_eq!(first.code(), 0, "{first:?}");
    assert!(
        first.out().contains("Next: hold it against the board"),
        "{first:?}"
    );
    // The same board by hand: the same names, identities of its own.
    let text = std::fs::read_to_string(bench.path("first.json")).expect("written");
    std::fs::write(
        bench.path("own.json"),
        text.replace("part-", "own-").replace("pin-", "own-pin-"),
    )
    .expect("writable");
    bench.done(&[
        "start", "job", "--unit", "U-1", "--model", "M", "--map", "own.json",
    ]);
    bench.done(&["mark", "job", "J1.1", "--verdict", "no-fault-seen"]);

    let told = bench.done(&["map", "diff", "own.json", "first.json"]).out();
    assert!(
        told.contains("2 parts go by the same names under another identity"),
        "{told}"
    );
    let adopted = bench.done(&["map", "adopt", "job", "first.json"]).out();
    assert!(
        adopted.contains("somebody has judged 1 joint that this map does not have"),
        "{adopted}"
    );
    bench.done(&["undo", "job"]);

    // An import writes over no other map; with the earlier map's identities nothing is lost.
    let again = import("own.json", &[]);
    assert_eq!(again.code(), 2, "{again:?}");
    assert!(again.err().contains("--replace"), "{again:?}");
    let kept = import("next.json", &["--identities-of", "own.json"]);
    assert!(
        kept.out()
            .contains("4 pins by the identity of the earlier map"),
        "{kept:?}"
    );
    let adopted = bench.done(&["map", "adopt", "job", "next.json"]).out();
    assert!(!adopted.contains("judged"), "{adopted}");
    let rows = bench.done(&["coverage", "job", "--json"]).json();
    assert!(rows["rows"].to_string().contains("\"judged\":1"), "{rows}");
}

/// Two parts of two pins at the corners of a rectangle, in millimetres.
const BOARD: &str = "\
P  UNITS CUST 1
317N1               J1    -1    D1000PA00X+010000Y+010000X1800Y0000
317N2               J1    -2    D1000PA00X+040000Y+010000X1800Y0000
317N1               J2    -1    D1000PA00X+010000Y+030000X1800Y0000
317N2               J2    -2    D1000PA00X+040000Y+030000X1800Y0000
999
";

#[test]
fn a_map_without_a_name_is_refused_before_anything_is_written() {
    let bench = Bench::new();
    std::fs::write(bench.path("lands.txt"), BOARD).expect("writable");
    let refused = bench.run(&[
        "map",
        "import",
        "lands.txt",
        "-o",
        "m.json",
        "--model",
        " ",
        "--board",
        "main",
    ]);
    assert_eq!(refused.code(), 2, "{refused:?}");
    assert!(
        refused.err().contains("the model of the map has no name"),
        "{refused:?}"
    );
    assert!(!bench.path("m.json").exists());
}
