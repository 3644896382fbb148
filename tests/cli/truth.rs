//! A job's judged joints as a labelled set: written, evaluated, never over something, whole or not at all.

use std::time::Duration;

use crate::bench::{Bench, contents};

/// A job with a confirmed crack, a confirmed joint without one, and two that were only looked at.
fn judged(bench: &Bench) -> String {
    let job = bench.job();
    for arguments in [
        &["J1.2", "--verdict", "faulty", "--fault", "fractured"][..],
        &[
            "J1.1",
            "--verdict",
            "no-fault-seen",
            "--confirmed-by",
            "probe",
        ],
        &["J1.3", "J1.4", "--verdict", "no-fault-seen"],
    ] {
        let mut all = vec!["mark", &job];
        all.extend(arguments);
        all.extend(["--photo", "board.png"]);
        bench.done(&all);
    }
    job
}

/// Lines of the set's only truth list, by joint: `cracked`, `confirmed_by`.
fn truth(bench: &Bench, folder: &str) -> std::collections::BTreeMap<String, [String; 2]> {
    let list = contents(&bench.path(folder))
        .into_iter()
        .find(|(path, _)| path.to_string_lossy().ends_with("_truth.csv"))
        .expect("a truth list");
    let mut reader = csv::Reader::from_reader(list.1.as_slice());
    assert_eq!(reader.headers().expect("a header").get(1), Some("cracked"));
    reader
        .records()
        .map(|line| {
            let line = line.expect("a line");
            (line[0].to_owned(), [line[1].to_owned(), line[2].to_owned()])
        })
        .collect()
}

#[test]
fn a_set_is_written_and_evaluated() {
    let bench = Bench::new();
    let job = judged(&bench);
    let before = contents(&bench.path(&job));
    let report = bench
        .done(&[
            "truth",
            &job,
            "--out",
            "sets/one",
            "--confirmed-by",
            "J1.2=section",
            "--json",
        ])
        .json();
    assert_eq!(contents(&bench.path(&job)), before, "the job was changed");
    let counts =
        ["photos", "joints", "cracked", "not_cracked", "unknown"].map(|k| report[k].as_u64());
    assert_eq!(counts, [1, 4, 1, 1, 2].map(Some), "{report}");
    let lines = truth(&bench, "sets/one");
    let line = |joint: &str| lines[joint].clone().map(|text| text);
    assert_eq!(line("J1.2"), ["1", "sectioned"]);
    assert_eq!(line("J1.1"), ["0", "did not move under a probe"]);
    assert_eq!(line("J1.3"), ["", ""]);
    // The photo is the original, byte for byte; the crop is cut from it pixel for pixel.
    let files = contents(&bench.path("sets/one"));
    let original = std::fs::read(bench.path("board.png")).expect("readable");
    assert!(files.iter().any(|(_, bytes)| *bytes == original));
    let (path, _) = files
        .iter()
        .find(|(path, _)| path.to_string_lossy().ends_with("-J1.2.png"))
        .expect("a crop");
    let crop = image::open(path).expect("a picture").to_rgb8();
    let photo = image::open(bench.path("board.png"))
        .expect("a picture")
        .to_rgb8();
    let [x, y] = crate::bench::photo_px(10.0 + 3.81, 10.0);
    assert_eq!(
        crop.get_pixel(crop.width() / 2, crop.height() / 2),
        photo.get_pixel(x.round() as u32, y.round() as u32)
    );
    // Evaluated: one cracked and one other, and the crack ranks higher.
    let figures = bench.done(&["evaluate", "sets", "--json"]).json();
    assert_eq!(
        (
            figures["all"]["joints"].as_u64(),
            figures["all"]["cracked"].as_u64()
        ),
        (Some(2), Some(1))
    );
    assert_eq!(figures["all"]["roc_auc"]["value"], 1.0, "{figures}");
}

#[test]
fn what_cannot_be_is_refused_and_nothing_is_written() {
    let bench = Bench::new();
    let job = judged(&bench);
    std::fs::create_dir_all(bench.path("there")).expect("writable");
    std::fs::write(bench.path("there/mine.txt"), "mine").expect("writable");
    let there = bench.run(&["truth", &job, "--out", "there"]);
    assert_eq!(there.code(), 1, "{there:?}");
    assert!(there.err().contains("never written over"), "{there:?}");
    assert_eq!(contents(&bench.path("there")).len(), 1);
    for (said, word) in [
        ("J1.2", "has no `=`"),
        ("J1.2=guess", "probe, reflow or section"),
        ("J9.9=probe", "J9"),
    ] {
        let ran = bench.run(&["truth", &job, "--out", "new", "--confirmed-by", said]);
        assert_eq!(ran.code(), 2, "{ran:?}");
        assert!(ran.err().contains(word), "{ran:?}");
    }
    let reflow = bench.run(&[
        "mark",
        &job,
        "J1.5",
        "--verdict",
        "no-fault-seen",
        "--confirmed-by",
        "reflow",
    ]);
    assert_eq!(reflow.code(), 2, "{reflow:?}");
    // An original that was altered is not handed on.
    let photo = contents(&bench.path("job/photos")).remove(0).0;
    let mut bytes = std::fs::read(&photo).expect("readable");
    bytes.push(0);
    std::fs::write(&photo, bytes).expect("writable");
    let altered = bench.run(&["truth", &job, "--out", "new"]);
    assert_eq!(altered.code(), 1, "{altered:?}");
    assert!(altered.err().contains("altered"), "{altered:?}");
    assert!(!bench.path("new").exists());
    let parts = std::fs::read_dir(bench.path("")).expect("readable");
    let parts = parts.filter_map(Result::ok).map(|e| e.file_name());
    assert!(
        parts
            .into_iter()
            .all(|n| !n.to_string_lossy().contains(".part"))
    );
}

#[test]
fn a_kill_leaves_the_whole_set_or_none() {
    let bench = Bench::new();
    let job = judged(&bench);
    bench.done(&["truth", &job, "--out", "whole"]);
    let names = |folder: &str| {
        let folder = bench.path(folder);
        let all = contents(&folder).into_iter();
        all.map(|(path, bytes)| {
            (
                path.strip_prefix(&folder).expect("inside").to_owned(),
                bytes,
            )
        })
        .collect::<Vec<_>>()
    };
    let whole = names("whole");
    for round in 0..6_u64 {
        let folder = format!("killed{round}");
        let mut child = bench
            .command(&["truth", &job, "--out", &folder])
            .stdout(std::process::Stdio::null())
            .stderr(std::process::Stdio::null())
            .spawn()
            .expect("the binary starts");
        std::thread::sleep(Duration::from_millis(40 * round));
        let _may_have_ended = child.kill();
        let _ended = child.wait();
        if bench.path(&folder).exists() {
            assert_eq!(names(&folder), whole, "round {round}");
        }
    }
}
