//! Every bad input gets an error that names the file and the remedy, with the right exit code,
//! and loses nothing.

use crate::bench::{Bench, contents, small_map};

fn no_panic(ran: &crate::bench::Ran) {
    assert!(!ran.err().contains("panicked"), "{ran:?}");
}

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
