//! Photos of a job aligned by themselves, with photos of this unit and of another one.

use image::imageops::{FilterType, overlay, resize};
use image::{Rgb, RgbImage};
use imageproc::drawing::{draw_filled_circle_mut, draw_filled_rect_mut};
use imageproc::geometric_transformations::{Border, Interpolation, Projection, warp_into};
use imageproc::rect::Rect;
use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;

use crate::bench::{Bench, photo_px, small_map};

/// Most px that a pin may be off: the clicks are exact, the rest is the match.
const NEAR_PX: f64 = 2.0;

/// A board with enough on it to be told from others: lands and legends in random places.
fn board(seed: u64) -> RgbImage {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut image = RgbImage::from_pixel(1280, 800, Rgb([58, 92, 50]));
    for _ in 0..420 {
        let (x, y) = (rng.random_range(45..1200i32), rng.random_range(45..730i32));
        let grey = Rgb([rng.random_range(20..=250u8); 3]);
        if rng.random_range(0..3) == 0 {
            draw_filled_circle_mut(&mut image, (x, y), rng.random_range(4..14), grey);
        } else {
            let size = (rng.random_range(5..50u32), rng.random_range(4..26u32));
            draw_filled_rect_mut(&mut image, Rect::at(x, y).of_size(size.0, size.1), grey);
        }
    }
    image
}

/// The board turned by 20 degrees and made smaller; the same for a place on it.
fn turned(image: &RgbImage) -> (RgbImage, impl Fn([f64; 2]) -> [f64; 2]) {
    let view = Projection::translate(-640.0, -400.0)
        .and_then(Projection::rotate(20f32.to_radians()))
        .and_then(Projection::scale(0.8, 0.8))
        .and_then(Projection::translate(660.0, 480.0));
    let mut photo = RgbImage::new(1320, 960);
    let around = Border::Constant(Rgb([150, 120, 90]));
    warp_into(image, view, Interpolation::Bilinear, around, &mut photo);
    (photo, move |[x, y]| {
        let (u, v) = view * (x as f32, y as f32);
        [f64::from(u), f64::from(v)]
    })
}

fn start(bench: &Bench, job: &str, unit: &str) {
    std::fs::write(bench.path("map.json"), small_map().to_string()).expect("writable");
    let map = bench.path("map.json").display().to_string();
    bench.done(&[
        "start",
        job,
        "--unit",
        unit,
        "--model",
        "Test tone box",
        "--map",
        &map,
    ]);
}

fn add(bench: &Bench, job: &str, photo: &str, side: &str) {
    bench.done(&["add", job, photo, "--board", "main", "--side", side]);
}

/// The first unit's job with one photo that is aligned by landmarks.
fn first_unit(bench: &Bench) -> RgbImage {
    let image = board(7);
    image.save(bench.path("first.png")).expect("writable");
    start(bench, "one", "T-1");
    add(bench, "one", "first.png", "solder");
    align_by_corners(bench, |at| at);
    image
}

/// Aligns the first photo by four holes, `seen` being where it has what [`board`] has at a place.
fn align_by_corners(bench: &Bench, seen: impl Fn([f64; 2]) -> [f64; 2]) {
    let mut arguments = vec![
        "align".to_owned(),
        "one".into(),
        "--photo".into(),
        "first.png".into(),
    ];
    let corners = [
        ("hole A", 3.0, 3.0),
        ("hole B", 47.0, 3.0),
        ("hole C", 47.0, 27.0),
        ("hole D", 3.0, 27.0),
    ];
    for (name, x, y) in corners {
        let [u, v] = seen(photo_px(x, y));
        arguments.extend(["--place".to_owned(), format!("{name}={u},{v}")]);
    }
    bench.done(&arguments.iter().map(String::as_str).collect::<Vec<_>>());
}

/// The board half as large on a busy table; the same for a place on it.
fn on_table(image: &RgbImage) -> (RgbImage, impl Fn([f64; 2]) -> [f64; 2] + use<>) {
    const CORNER: [i64; 2] = [480, 400];
    let mut table = RgbImage::new(1600, 1200);
    for (seed, (x, y)) in (30..).zip([(0, 0), (1280, 0), (0, 800), (1280, 800)]) {
        overlay(&mut table, &board(seed), x, y);
    }
    let small = resize(image, 640, 400, FilterType::Triangle);
    overlay(&mut table, &small, CORNER[0], CORNER[1]);
    let half = |v: f64, from: i64| (v + 0.5) / 2.0 - 0.5 + from as f64;
    (table, move |[x, y]| {
        [half(x, CORNER[0]), half(y, CORNER[1])]
    })
}

/// Where the recorded alignment puts a board point.
fn put(answer: &serde_json::Value, [x, y]: [f64; 2]) -> [f64; 2] {
    let h = |row: usize, column: usize| {
        answer["photo_from_board"][row][column]
            .as_f64()
            .expect("a number")
    };
    let row = |r: usize| h(r, 0) * x + h(r, 1) * y + h(r, 2);
    [row(0) / row(2), row(1) / row(2)]
}

fn assert_aligned(answer: &serde_json::Value, seen: impl Fn([f64; 2]) -> [f64; 2]) {
    for at in [[10.0, 10.0], [36.67, 10.0], [25.0, 25.0]] {
        let [x, y] = put(answer, at);
        let [u, v] = seen(photo_px(at[0], at[1]));
        assert!(
            (x - u).hypot(y - v) < NEAR_PX,
            "{at:?}: {x} {y} for {u} {v}"
        );
    }
    let error = answer["expected_error_mm"].as_f64().expect("a number");
    assert!(error > 0.0 && error < 0.5, "{answer}");
}

#[test]
fn the_second_photo_and_the_next_unit_follow_the_first_photo() {
    let bench = Bench::new();
    let image = first_unit(&bench);
    let (photo, seen) = turned(&image);
    photo.save(bench.path("second.png")).expect("writable");

    add(&bench, "one", "second.png", "solder");
    let own = bench
        .done(&["align", "one", "--photo", "second.png", "--json"])
        .json();
    assert_eq!(own["against_name"], "first.png");
    assert!(own["against_unit"].is_null());
    assert_aligned(&own, &seen);
    // What a person placed stays, and is not matched with what was matched with it.
    let back = bench.run(&["align", "one", "--photo", "first.png"]);
    assert_eq!(back.code(), 1, "{back:?}");
    assert!(back.err().contains("by landmarks"), "{back:?}");
    let named = bench.run(&[
        "align",
        "one",
        "--photo",
        "first.png",
        "--against",
        "second.png",
    ]);
    assert_eq!(named.code(), 1, "{named:?}");

    start(&bench, "two", "T-2");
    add(&bench, "two", "second.png", "solder");
    let ran = bench.done(&["align", "two", "--photo", "second.png", "--json"]);
    assert_eq!(ran.json()["against_unit"], "T-1", "{ran:?}");
    assert_aligned(&ran.json(), &seen);
    let told = bench.done(&["history", "two"]).out();
    assert!(told.contains("of unit T-1"), "{told}");
}

#[test]
fn a_photo_said_to_show_the_other_side_is_named() {
    let bench = Bench::new();
    let (photo, _) = turned(&first_unit(&bench));
    photo.save(bench.path("second.png")).expect("writable");
    add(&bench, "one", "second.png", "component");

    let ran = bench.run(&["align", "one", "--photo", "second.png"]);

    assert_eq!(ran.code(), 1, "{ran:?}");
    let told = ran.err();
    assert!(
        told.contains("said to show main, component side, but it fits first.png, which shows main, solder side")
            && told.contains("--side solder"),
        "{told}"
    );
}

#[test]
fn a_job_with_nothing_aligned_says_where_to_begin() {
    let bench = Bench::new();
    board(7).save(bench.path("first.png")).expect("writable");
    start(&bench, "one", "T-1");
    add(&bench, "one", "first.png", "solder");

    let ran = bench.run(&["align", "one", "--photo", "first.png"]);

    assert_eq!(ran.code(), 1, "{ran:?}");
    assert!(ran.err().contains("align one by landmarks"), "{ran:?}");
}

#[test]
fn a_board_turned_over_on_its_table_is_not_taken_for_the_side_that_was_up() {
    let bench = Bench::new();
    let (first, seen) = on_table(&board(7));
    first.save(bench.path("first.png")).expect("writable");
    let (other, _) = on_table(&board(8));
    other.save(bench.path("other.png")).expect("writable");

    // Two photos alone fit on the table, and the region is named.
    let alone = bench.done(&["align", "--reference", "first.png", "--photo", "other.png"]);
    assert!(
        alone.out().contains("it is the table that fits") && alone.out().contains("--edge"),
        "{alone:?}"
    );
    // With the board's corners they do not.
    let corners = [[0.0, 0.0], [1279.0, 0.0], [1279.0, 799.0], [0.0, 799.0]]
        .map(&seen)
        .map(|[x, y]| format!("{x},{y}"));
    let edge: Vec<&str> = corners
        .iter()
        .flat_map(|at| ["--edge", at.as_str()])
        .collect();
    let pair = ["align", "--reference", "first.png", "--photo", "other.png"];
    let ran = bench.run(&[&pair[..], &edge].concat());
    assert_eq!(ran.code(), 1, "{ran:?}");
    assert!(
        ran.err().contains("too little of the two photos agrees"),
        "{ran:?}"
    );
    // The photo against itself still fits.
    let same = ["align", "--reference", "first.png", "--photo", "first.png"];
    bench.done(&[&same[..], &edge].concat());
    for (bad, said) in [
        (&["10,10", "90,10"][..], "2 corners enclose nothing"),
        (
            &["10,10", "300,300", "300,10", "10,300"],
            "cross each other",
        ),
        (&["9000,10", "9900,10", "9500,900"], "encloses 0.0 %"),
        (&["10,10", "x,5", "10,300"], "edge"),
        (&["-9000,10", "-9900,10", "-9500,900"], "encloses 0.0 %"),
    ] {
        let edge: Vec<&str> = bad.iter().flat_map(|at| ["--edge", at]).collect();
        let ran = bench.run(&[&pair[..], &edge].concat());
        assert_eq!(ran.code(), 2, "{ran:?}");
        assert!(ran.err().contains(said), "{ran:?}");
    }

    // A job knows where the board is.
    start(&bench, "one", "T-1");
    add(&bench, "one", "first.png", "solder");
    align_by_corners(&bench, &seen);
    add(&bench, "one", "other.png", "solder");
    let ran = bench.run(&["align", "one", "--photo", "other.png"]);
    assert_eq!(ran.code(), 1, "{ran:?}");
    assert!(
        ran.err().contains("too little of the two photos agrees"),
        "{ran:?}"
    );
}
