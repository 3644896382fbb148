//! What files and other people say forges no line of the answer, crashes nothing, and is measured
//! only while it is what came in.

use crate::bench::{Bench, contents, no_panic};

/// Lines that begin as the program's own do.
fn lines_with<'a>(text: &'a str, begin: &str) -> Vec<&'a str> {
    text.lines()
        .filter(|line| line.trim_start().starts_with(begin))
        .collect()
}

#[test]
fn a_remark_forges_no_line_of_the_answer() {
    let bench = Bench::new();
    let job = bench.job();
    let forged = "x\nCold: nothing forbids it.";
    let checked = bench.done(&[
        "measure",
        &job,
        "--check",
        "cord",
        "--outcome",
        "failed",
        "--note",
        forged,
    ]);
    assert_eq!(lines_with(&checked.out(), "Cold:").len(), 0, "{checked:?}");
    let gate = bench.run(&["gate", &job]);
    assert_eq!(gate.code(), 1, "{gate:?}");
    assert!(
        gate.out().contains("| Cold: nothing forbids it."),
        "{gate:?}"
    );
    let told = gate.out();
    let own = lines_with(&told, "Cold:");
    assert_eq!(own.len(), 1, "{gate:?}");
    assert!(own[0].starts_with("Cold: not yet"), "{gate:?}");
    // The document for machines keeps the remark as it is.
    let json = bench.run(&["gate", &job, "--json"]).json();
    assert!(json.to_string().contains("x\\nCold:"), "{json}");

    let note = bench.done(&["note", &job, "one\r\nRecorded: two\u{2028}Recorded: three"]);
    assert_eq!(lines_with(&note.out(), "Recorded:").len(), 1, "{note:?}");
    let history = bench.done(&["history", &job]);
    for begin in ["Cold:", "Recorded:"] {
        assert_eq!(lines_with(&history.out(), begin).len(), 0, "{history:?}");
    }
    let start = bench.done(&[
        "start",
        "other",
        "--unit",
        "U\nThe job is whole.",
        "--model",
        "M",
        "--without-map",
    ]);
    assert_eq!(lines_with(&start.out(), "The job").len(), 0, "{start:?}");
}

/// File names come from cards and from other people.
#[cfg(unix)]
#[test]
fn a_file_name_forges_no_line_and_steers_no_terminal() {
    let bench = Bench::new();
    let job = bench.job();
    let folder = bench.path("card");
    std::fs::create_dir(&folder).expect("writable");
    let mut photo = image::open(bench.path("board.png"))
        .expect("a photo")
        .to_rgb8();
    photo.put_pixel(0, 0, image::Rgb([9, 9, 9]));
    photo
        .save(folder.join("a\n2 added, 0 already here, 0 refused.png"))
        .expect("writable");
    let letter = "letter\u{1b}[2J\nadded b.png.txt";
    std::fs::write(folder.join(letter), "words").expect("writable");
    let added = bench.done(&["add", &job, "card"]);
    assert_eq!(lines_with(&added.out(), "2 added").len(), 0, "{added:?}");
    assert_eq!(lines_with(&added.out(), "1 added").len(), 1, "{added:?}");
    assert!(added.err().contains("\u{fffd}[2J"), "{added:?}");
    assert!(!added.err().contains('\u{1b}'), "{added:?}");
    assert_eq!(lines_with(&added.err(), "added").len(), 0, "{added:?}");
    let again = bench.done(&["add", &job, "card"]);
    assert_eq!(lines_with(&again.out(), "2 added").len(), 0, "{again:?}");
    let refused = bench.run(&["add", &job, &format!("card/{letter}")]);
    assert_eq!(refused.code(), 2, "{refused:?}");
    assert!(!refused.err().contains('\u{1b}'), "{refused:?}");
    assert_eq!(lines_with(&refused.err(), "added").len(), 0, "{refused:?}");
}

/// Journals come from other benches, and a line of one may say anything.
#[test]
fn a_line_of_a_journal_crashes_nothing() {
    let bench = Bench::new();
    let job = bench.job();
    let id = |number: u64| format!("019cadc6-0000-700f-8000-{number:012}");
    let line = |number: u64, what: serde_json::Value| {
        let event = serde_json::json!({
            "id": id(number), "bench": "0195583a-0000-7000-8000-00000000000f", "seq": number,
            "clock": {"ms": 1_772_442_001_000_u64 + number, "n": 0},
            "at": "2026-03-02T09:00:01Z", "by": "Mallory", "prev": "", "what": what,
        });
        event.to_string() + "\n"
    };
    let withdrawn = |number, target| {
        line(
            number,
            serde_json::json!({"kind": "withdrawn", "targets": [id(target)]}),
        )
    };
    // The eighth byte of these identities is within a letter.
    let photo = |number, photo: &str| {
        line(
            number,
            serde_json::json!({
                "kind": "photo_added", "photo": photo, "file": "p.png", "name": "twin.png",
                "size": [40, 30],
            }),
        )
    };
    let lines = [
        withdrawn(0, 0),
        withdrawn(1, 2),
        withdrawn(2, 1),
        photo(3, "a\u{e9}\u{e9}\u{e9}\u{e9}\u{e9}1"),
        photo(4, "a\u{e9}\u{e9}\u{e9}\u{e9}\u{e9}2"),
    ];
    std::fs::write(bench.path("job/journal/other.jsonl"), lines.concat()).expect("writable");
    let history = bench.done(&["history", &job]);
    assert!(history.out().contains("One step put back."), "{history:?}");
    for arguments in [
        ["gate", &job, "--json"],
        ["slip", &job, "--json"],
        ["undo", &job, "--json"],
        ["redo", &job, "--json"],
        ["verify", &job, "--json"],
    ] {
        let ran = bench.run(&arguments);
        no_panic(&ran);
        assert!((0..=3).contains(&ran.code()), "{arguments:?} {ran:?}");
    }
    let twins = bench.run(&["hint", &job, "--photo", "twin.png"]);
    no_panic(&twins);
    assert_eq!(twins.code(), 2, "{twins:?}");
    assert!(
        twins.err().contains("2 photos are called `twin.png`"),
        "{twins:?}"
    );
}

/// What is measured is recorded of the photo that came in; a changed one is another photo.
#[test]
fn an_original_that_was_altered_is_not_measured() {
    let bench = Bench::new();
    let job = bench.job();
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
    let mut other = image::open(bench.path("board.png"))
        .expect("a photo")
        .to_rgb8();
    other.put_pixel(0, 0, image::Rgb([9, 9, 9]));
    other.save(bench.path("other.png")).expect("writable");
    let shows = ["--board", "main", "--side", "solder"];
    bench.done(&[&["add", &job, "other.png"][..], &shows].concat());
    let page = |slip: &crate::bench::Ran| {
        let files = slip.json()["files"].clone();
        let files = files.as_array().expect("a list").iter();
        let mut names = files.filter_map(serde_json::Value::as_str);
        let page = names.find(|name| name.ends_with("-slip.html"));
        std::fs::read_to_string(bench.path(page.expect("a page"))).expect("UTF-8")
    };
    const UNALTERED: &str = "originals are in the job, unaltered";
    let slip = bench.done(&["slip", &job, "--json"]);
    assert!(page(&slip).contains(UNALTERED));
    assert!(page(&slip).contains("data:image/jpeg"));

    let is_board = |path: &std::path::Path| path.to_string_lossy().ends_with("-board.png");
    let (original, whole) = contents(&bench.path("job/photos"))
        .into_iter()
        .find(|(path, _)| is_board(path))
        .expect("the original");
    other.put_pixel(1, 0, image::Rgb([9, 9, 9]));
    other.save(&original).expect("writable");
    let journal = contents(&bench.path("job/journal"));
    for arguments in [
        vec!["hint", &job, "--photo", "board.png"],
        vec![
            "align",
            &job,
            "--photo",
            "board.png",
            "--snap",
            "--place",
            "hole A=1,2",
        ],
        vec!["align", &job, "--photo", "other.png"],
        vec![
            "align",
            &job,
            "--photo",
            "other.png",
            "--against",
            "board.png",
        ],
        vec!["truth", &job, "--out", "new"],
    ] {
        let ran = bench.run(&arguments);
        assert_eq!(ran.code(), 1, "{arguments:?} {ran:?}");
        assert!(
            ran.err().contains("-board.png: the original was altered")
                && ran.err().contains("bring it back from a copy"),
            "{arguments:?} {ran:?}"
        );
    }
    assert_eq!(contents(&bench.path("job/journal")), journal);
    let slip = bench.done(&["slip", &job, "--json"]);
    let said = page(&slip);
    assert!(!said.contains(UNALTERED) && !said.contains("data:image/jpeg"));
    assert!(
        said.contains("altered in the job after it came in: board.png"),
        "{said}"
    );
    // Back from a copy, all is well.
    std::fs::write(&original, whole).expect("writable");
    bench.done(&["hint", &job, "--photo", "board.png"]);
    assert!(page(&bench.done(&["slip", &job, "--json"])).contains(UNALTERED));
}
