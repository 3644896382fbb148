//! Every bad input gets an error that names the file and the remedy, with the right exit code,
//! and loses nothing.

use crate::bench::{Bench, contents, no_panic, small_map};

#[test]
fn photos_that_are_none() {
    let bench = Bench::new();
    let job = bench.job();
    std::fs::create_dir(bench.path("photo.jpg")).expect("writable");
    std::fs::write(bench.path("empty.jpg"), b"").expect("writable");
    std::fs::write(bench.path("words.jpg"), b"this is a letter").expect("writable");
    std::fs::write(
        bench.path("phone.heic"),
        b"\0\0\0\x18ftypheic\0\0\0\0mif1heic",
    )
    .expect("writable");
    let whole = jpeg();
    std::fs::write(bench.path("cut.jpg"), &whole[..whole.len() / 2]).expect("writable");
    let before = contents(&bench.path("job"));
    for name in [
        "empty.jpg",
        "words.jpg",
        "phone.heic",
        "cut.jpg",
        "absent.jpg",
    ] {
        let ran = bench.run(&["add", &job, name]);
        assert_eq!(ran.code(), 2, "{ran:?}");
        assert!(ran.err().contains(name), "{ran:?}");
        no_panic(&ran);
    }
    assert!(
        bench
            .run(&["add", &job, "phone.heic"])
            .err()
            .contains("JPEG")
    );
    let folder = bench.run(&["hint", "--photo", "photo.jpg", "--joints", "empty.jpg"]);
    assert_eq!(folder.code(), 2, "{folder:?}");
    // An empty folder called photo.jpg has no photos in it; that is said, and harms nothing.
    no_panic(&bench.run(&["add", &job, "photo.jpg"]));
    assert_eq!(contents(&bench.path("job")), before, "nothing was recorded");
}

fn jpeg() -> Vec<u8> {
    let picture = image::RgbImage::from_fn(320, 240, |x, y| image::Rgb([x as u8, y as u8, 90]));
    let mut bytes = std::io::Cursor::new(Vec::new());
    picture
        .write_to(&mut bytes, image::ImageFormat::Jpeg)
        .expect("encoded");
    bytes.into_inner()
}

#[test]
fn a_photo_of_one_pixel() {
    let bench = Bench::new();
    image::RgbImage::new(1, 1)
        .save(bench.path("one.jpg"))
        .expect("writable");
    std::fs::write(
        bench.path("j.csv"),
        "id,x_px,y_px,land_radius_px\na,0,0,30\n",
    )
    .expect("writable");
    let hint = bench.run(&["hint", "--photo", "one.jpg", "--joints", "j.csv", "--json"]);
    no_panic(&hint);
    assert_eq!(hint.code(), 0, "{hint:?}");
    let joint = &hint.json()["joints"][0];
    assert!(
        joint["likelihood"].is_null() && joint["rank"].is_null(),
        "{joint}"
    );
    let job = bench.job();
    no_panic(&bench.done(&["add", &job, "one.jpg"]));
    no_panic(&bench.done(&["slip", &job]));
}

#[test]
fn maps_that_are_none() {
    let bench = Bench::new();
    let good = small_map().to_string();
    for (name, text) in [
        (
            "nan.json",
            good.replacen("3.81", "NaN", 1)
                .replacen("10.0,10.0", "NaN,10.0", 1),
        ),
        ("cut.json", good[..good.len() / 2].to_owned()),
        ("huge.json", good.replacen("10.0,10.0", "1e300,10.0", 1)),
        ("list.json", "[1,2,3]".to_owned()),
        (
            "newer.json",
            good.replacen("\"schema\":1", "\"schema\":9", 1),
        ),
    ] {
        std::fs::write(bench.path(name), &text).expect("writable");
        assert_ne!(text, good, "{name} must differ");
        let ran = bench.run(&["map", "check", name]);
        assert_eq!(ran.code(), 2, "{name}: {ran:?}");
        assert!(ran.err().contains(name), "{ran:?}");
        let start = bench.run(&[
            "start",
            &format!("job-{name}"),
            "--unit",
            "U",
            "--model",
            "M",
            "--map",
            name,
        ]);
        assert_eq!(start.code(), 2, "{start:?}");
        assert!(
            !bench.path(&format!("job-{name}")).exists(),
            "no half-made job stays behind"
        );
    }
    let mut twice = small_map();
    let part = twice["parts"][0].clone();
    twice["parts"].as_array_mut().expect("a list").push(part);
    std::fs::write(bench.path("twice.json"), twice.to_string()).expect("writable");
    let lint = bench.run(&["map", "check", "twice.json"]);
    assert_eq!(lint.code(), 1, "{lint:?}");
    assert!(lint.out().contains("J1"), "{lint:?}");
}

#[test]
fn lists_of_joints_that_are_none() {
    let bench = Bench::new();
    bench.draw_photo("board.png");
    for (name, text, column) in [
        (
            "nan.csv",
            "id,x_px,y_px,land_radius_px\na,NaN,10,20\n",
            "x_px",
        ),
        ("column.csv", "id,x_px,y_px\na,10,10\n", "land_radius_px"),
        (
            "radius.csv",
            "id,x_px,y_px,land_radius_px\na,10,10,-4\n",
            "land_radius_px",
        ),
        ("none.csv", "id,x_px,y_px,land_radius_px\n", "joints"),
    ] {
        std::fs::write(bench.path(name), text).expect("writable");
        let ran = bench.run(&["hint", "--photo", "board.png", "--joints", name, "--json"]);
        assert_eq!(ran.code(), 2, "{ran:?}");
        assert!(
            ran.err().contains(name) && ran.err().contains(column),
            "{ran:?}"
        );
        let refusal = ran.json();
        assert!(refusal["reason"].as_str().is_some() && refusal["remedy"].as_str().is_some());
    }
}

#[test]
fn jobs_that_are_none() {
    let bench = Bench::new();
    std::fs::create_dir(bench.path("folder")).expect("writable");
    for job in ["folder", "nowhere"] {
        for command in ["verify", "coverage", "slip", "history"] {
            let ran = bench.run(&[command, job]);
            assert!(ran.code() >= 1, "{ran:?}");
            assert!(ran.err().contains(job), "{ran:?}");
            no_panic(&ran);
        }
    }
    let job = bench.job();
    let again = bench.run(&["start", &job, "--unit", "X", "--model", "Y"]);
    assert_ne!(
        again.code(),
        0,
        "a job is never begun over another: {again:?}"
    );
    bench.done(&["verify", &job]);
}

#[test]
fn places_and_readings_that_are_none() {
    let bench = Bench::new();
    let job = bench.job();
    let before = contents(&bench.path("job/journal"));
    for arguments in [
        vec!["mark", &job, "J9.1", "--verdict", "suspect"],
        vec!["mark", &job, "J1.99", "--verdict", "suspect"],
        vec!["mark", &job, "J1.1", "--verdict", "faulty"],
        vec![
            "mark",
            &job,
            "J1.1",
            "--verdict",
            "suspect",
            "--fault",
            "wobbly",
        ],
        vec![
            "measure", &job, "--rail", "+5 V", "--mode", "unloaded", "--volts", "NaN",
        ],
        vec![
            "measure", &job, "--rail", "+5 V", "--mode", "unloaded", "--volts", "",
        ],
        vec![
            "measure", &job, "--rail", "+99 V", "--mode", "unloaded", "--volts", "5",
        ],
        vec![
            "measure", &job, "--rail", "+5 V", "--mode", "loaded", "--mv-pp", "-5",
        ],
        vec![
            "measure", &job, "--rail", "+5 V", "--mode", "cold", "--ohm", "1e300",
        ],
        vec![
            "measure", &job, "--rail", "+5 V", "--mode", "loaded", "--ohm", "820",
        ],
        vec!["mark", &job, "--unit-part", " ", "--verdict", "suspect"],
        vec![
            "mark",
            &job,
            "--unit-part",
            "cord\nStage cold: passed",
            "--verdict",
            "suspect",
        ],
        vec![
            "mark",
            &job,
            "--area",
            "nope/solder:1,2,3,4",
            "--verdict",
            "suspect",
        ],
        vec![
            "mark",
            &job,
            "--area",
            "main/solder:900,900,901,901",
            "--verdict",
            "suspect",
        ],
        vec![
            "mark",
            &job,
            "--area",
            "main/solder:3,3,3,9",
            "--verdict",
            "suspect",
        ],
        vec![
            "measure",
            &job,
            "--check",
            "cord",
            "--outcome",
            "not-fitted",
        ],
        vec![
            "align",
            &job,
            "--photo",
            "nothing.jpg",
            "--board",
            "main",
            "--side",
            "solder",
            "--place",
            "hole A=1,2",
        ],
    ] {
        let ran = bench.run(&arguments);
        assert_eq!(ran.code(), 2, "{arguments:?} {ran:?}");
        assert!(
            ran.err().contains("What to do") || ran.err().contains("; "),
            "{ran:?}"
        );
        no_panic(&ran);
    }
    assert_eq!(
        contents(&bench.path("job/journal")),
        before,
        "nothing was recorded"
    );
}

#[test]
fn hostile_text_stays_text() {
    let bench = Bench::new();
    let job = bench.job();
    let note =
        "=HYPERLINK(\"x\")</td><img src=x onerror=alert(1)>\u{202e}\u{0}tail".replace('\u{0}', "");
    bench.done(&[
        "mark",
        &job,
        "J1.2",
        "--verdict",
        "faulty",
        "--fault",
        "other",
        "--note",
        &note,
    ]);
    let slip = bench.done(&["slip", &job, "--json"]).json();
    for file in slip["files"].as_array().expect("a list") {
        let file = file.as_str().expect("a path");
        let text = std::fs::read_to_string(bench.path(file)).expect("UTF-8");
        if file.ends_with(".html") {
            assert!(!text.contains("<img src=x"), "escaped");
        }
        // The raw table is for machines and says so in its name: there, cells stay as they were.
        if file.ends_with(".csv") && !file.ends_with("-raw.csv") {
            for record in csv::Reader::from_reader(text.as_bytes()).records() {
                for cell in &record.expect("RFC 4180") {
                    assert!(!cell.starts_with('='), "a formula: {cell}");
                }
            }
        }
    }
}

/// A result that would replace what it is made from, or a file of another kind.
#[test]
fn no_result_is_written_over_what_it_is_made_from() {
    let bench = Bench::new();
    bench.draw_photo("board.png");
    std::fs::write(
        bench.path("map.json"),
        crate::bench::small_map().to_string(),
    )
    .expect("writable");
    std::fs::write(bench.path("edits.json"), "[]").expect("writable");
    std::fs::write(bench.path("list.csv"), "id,x_px,y_px,land_radius_px\n").expect("writable");
    std::fs::create_dir(bench.path("set")).expect("writable");
    let before = contents(&bench.path("."));
    for arguments in [
        vec!["find", "--photo", "board.png", "--csv", "board.png"],
        vec!["find", "--photo", "board.png", "--csv", "map.json"],
        vec![
            "find",
            "--photo",
            "board.png",
            "--truth",
            "list.csv",
            "--csv",
            "list.csv",
        ],
        vec!["evaluate", "set", "--plot", "board.png"],
        vec!["map", "export", "map.json", "-o", "map.json"],
        vec!["map", "export", "map.json", "-o", "board.png"],
        vec!["map", "make", "edits.json", "-o", "edits.json"],
        vec!["map", "make", "edits.json", "-o", "map.json"],
        vec!["darkline", "board.png", "-o", "map.json"],
        vec!["darkline", "board.png", "-o", "board.png"],
    ] {
        let ran = bench.run(&arguments);
        assert_ne!(ran.code(), 0, "{arguments:?}");
        assert!(
            ran.err().contains("What to do") || ran.err().contains("; "),
            "{ran:?}"
        );
        no_panic(&ran);
        assert_eq!(contents(&bench.path(".")), before, "{arguments:?}");
    }
    // With a word it may.
    bench.run(&["map", "make", "edits.json", "-o", "map.json", "--replace"]);
    assert_ne!(contents(&bench.path(".")), before);
}

#[cfg(unix)]
#[test]
fn a_link_that_a_result_is_written_to_stays_a_link() {
    let bench = Bench::new();
    bench.draw_photo("board.png");
    std::fs::write(bench.path("real.csv"), "").expect("writable");
    std::os::unix::fs::symlink("real.csv", bench.path("link.csv")).expect("writable");
    bench.run(&["find", "--photo", "board.png", "--csv", "link.csv"]);
    assert!(bench.path("link.csv").is_symlink());
    let written = std::fs::read_to_string(bench.path("real.csv")).expect("there");
    assert!(written.starts_with("id,"), "{written}");
}

#[test]
fn a_fault_leaves_the_slip_only_with_a_word() {
    let bench = Bench::new();
    let job = bench.job();
    let faulty = |more: &[&str]| {
        let mut all = vec!["mark", &job, "J1.2", "--verdict", "faulty"];
        all.extend(more);
        bench.run(&all)
    };
    assert_eq!(faulty(&["--fault", "fractured"]).code(), 0);
    let refused = faulty(&["--fault", "icicle"]);
    assert_eq!(refused.code(), 1, "{refused:?}");
    assert!(refused.err().contains("fractured"), "{refused:?}");
    let hidden = bench.run(&[
        "mark",
        &job,
        "J1.2",
        "--verdict",
        "cannot-be-judged",
        "--fault",
        "icicle",
    ]);
    assert_eq!(hidden.code(), 1, "{hidden:?}");
    let less = faulty(&["--fault", "fractured", "--severity", "watch"]);
    assert_eq!(less.code(), 1, "{less:?}");
    assert_eq!(
        faulty(&["--fault", "fractured", "--fault", "icicle"]).code(),
        0
    );
    let with_a_word = faulty(&["--fault", "icicle", "--note", "a hair, wiped off"]);
    assert_eq!(with_a_word.code(), 0, "{with_a_word:?}");
}

#[test]
fn a_photo_on_no_map_is_no_look_at_a_joint() {
    let bench = Bench::new();
    let job = bench.job();
    let mut other = image::open(bench.path("board.png"))
        .expect("a photo")
        .to_rgb8();
    other.put_pixel(0, 0, image::Rgb([9, 9, 9]));
    other.save(bench.path("other.png")).expect("writable");
    bench.done(&[
        "add",
        &job,
        "other.png",
        "--board",
        "main",
        "--side",
        "component",
    ]);
    let ran = bench.run(&[
        "mark",
        &job,
        "J1.1",
        "--verdict",
        "no-fault-seen",
        "--photo",
        "other.png",
    ]);
    assert_eq!(ran.code(), 2, "{ran:?}");
    assert!(ran.err().contains("does not lie on a map"), "{ran:?}");
}

/// What nobody can see from the chain: the end of the file, and the file itself.
#[test]
fn verify_misses_no_end_of_the_journal() {
    let bench = Bench::new();
    let job = bench.job();
    bench.done(&["note", &job, "the last word"]);
    bench.done(&["verify", &job]);
    let journal = std::fs::read_dir(bench.path("job/journal")).expect("a folder");
    let path = journal.flatten().next().expect("a file").path();
    let text = std::fs::read_to_string(&path).expect("UTF-8");
    let shorter = text
        .trim_end()
        .rsplit_once('\n')
        .expect("lines")
        .0
        .to_owned()
        + "\n";
    for (what, changed) in [
        (
            "altered",
            Some(text.replace("the last word", "the lost word")),
        ),
        ("shortened", Some(shorter)),
        ("gone", None),
    ] {
        match changed {
            Some(changed) => std::fs::write(&path, changed).expect("writable"),
            None => std::fs::remove_file(&path).expect("writable"),
        }
        let ran = bench.run(&["verify", &job]);
        assert_eq!(ran.code(), 1, "{what}: {ran:?}");
        assert!(
            ran.out()
                .contains("does not end with what this bench wrote last"),
            "{what}: {ran:?}"
        );
        std::fs::write(&path, &text).expect("writable");
    }
    bench.done(&["verify", &job]);
    // A copy that this bench did not write in ends where it was copied.
    std::fs::create_dir_all(bench.path("copy")).expect("writable");
    for (path, bytes) in contents(&bench.path("job")) {
        let name = path.strip_prefix(bench.path("job")).expect("in it");
        let to = bench.path("copy").join(name);
        std::fs::create_dir_all(to.parent().expect("a folder")).expect("writable");
        std::fs::write(to, bytes).expect("writable");
    }
    bench.done(&["note", &job, "one more"]);
    bench.done(&["verify", "copy"]);
    // What happened to the end is said when the next command writes, too.
    let now = std::fs::read_to_string(&path).expect("UTF-8");
    std::fs::write(&path, now.replace("one more", "one less")).expect("writable");
    let told = bench.done(&["note", &job, "after that"]);
    assert!(told.err().contains("Mind: "), "{told:?}");
}

#[test]
fn a_start_that_was_cut_off_is_taken_up_again() {
    let bench = Bench::new();
    let start = [
        "start",
        "cut",
        "--unit",
        "T-9",
        "--model",
        "Test tone box",
        "--without-map",
    ];
    bench.done(&start);
    let journal = std::fs::read_dir(bench.path("cut/journal")).expect("a folder");
    for file in journal.flatten() {
        std::fs::remove_file(file.path()).expect("writable");
    }
    bench.done(&start);
    assert_ne!(bench.run(&start).code(), 0, "a job is here now");
}

#[test]
fn the_tour_spares_a_job_that_somebody_recorded_in() {
    let bench = Bench::new();
    let job = "jobs/FH12-0242";
    bench.done(&[
        "start",
        job,
        "--unit",
        "FH12-0242",
        "--model",
        "Test tone box",
        "--without-map",
    ]);
    let before = contents(&bench.path(job));
    let ran = bench.run(&["tour", "--out", "jobs"]);
    assert_eq!(ran.code(), 1, "{ran:?}");
    assert!(ran.err().contains("is not replaced"), "{ran:?}");
    assert_eq!(contents(&bench.path(job)), before);
}
