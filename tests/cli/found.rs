//! Joints, dark lines and quality of photographs that belong to no job: on a part of a rendered
//! sample, whose truth is known.

use std::path::Path;

use serde_json::Value;

use crate::bench::Bench;

/// Part of the sample photo: left, top, width, height.
const PART: [u32; 4] = [900, 1350, 760, 760];

struct Sample {
    /// Middle and land radius of each joint that is wholly in the part, px of the part.
    joints: Vec<[f64; 3]>,
}

fn sample(bench: &Bench) -> Sample {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-boards");
    let file = "photos/FH12-0242/main-solder-overview.jpg";
    // Opened upright: the truth is in upright px.
    let photo = benchglass::photo::open(&root.join(file)).expect("the sample is there");
    let [left, top, width, height] = PART;
    image::imageops::crop_imm(&photo.image, left, top, width, height)
        .to_image()
        .save(bench.path("part.png"))
        .expect("writable");
    let text = std::fs::read_to_string(root.join("truth/FH12-0242.json")).expect("readable");
    let truth: Value = serde_json::from_str(&text).expect("JSON");
    let photos = truth["photos"].as_array().expect("photos");
    let shown = photos.iter().find(|p| p["file"] == file).expect("listed");
    let number = |v: &Value| v.as_f64().expect("a number");
    let joints = shown["joints"]
        .as_array()
        .expect("joints")
        .iter()
        .map(|j| {
            [
                number(&j["at_px"][0]) - f64::from(left),
                number(&j["at_px"][1]) - f64::from(top),
                number(&j["land_radius_px"]),
            ]
        })
        .filter(|[x, y, r]| {
            let inside = |v: f64, length: u32| v > 1.5 * r && v < f64::from(length) - 1.5 * r;
            inside(*x, width) && inside(*y, height)
        })
        .collect();
    Sample { joints }
}

#[test]
fn find_keeps_its_contract_and_feeds_the_hint() {
    let bench = Bench::new();
    let truth = sample(&bench).joints;
    let found = bench
        .done(&[
            "find",
            "--photo",
            "part.png",
            "--csv",
            "found.csv",
            "--json",
        ])
        .json();
    assert_eq!(found["schema"], 1);
    let joints = found["joints"].as_array().expect("a list");
    for joint in joints {
        for key in [
            "id",
            "x_px",
            "y_px",
            "land_radius_px",
            "score",
            "pin_radius_px",
        ] {
            assert!(joint.get(key).is_some(), "{key} is missing: {joint}");
        }
    }
    let number = |v: &Value| v.as_f64().expect("a number");
    let hit = |t: &[f64; 3]| {
        joints.iter().any(|j| {
            let off = (number(&j["x_px"]) - t[0]).hypot(number(&j["y_px"]) - t[1]);
            let ratio = number(&j["land_radius_px"]) / t[2];
            off <= 0.5 * t[2] && (1.0 / 1.35..=1.35).contains(&ratio)
        })
    };
    let hits = truth.iter().filter(|t| hit(t)).count();
    assert!(
        hits * 10 >= truth.len() * 8,
        "{hits} of {} joints",
        truth.len()
    );
    assert!(!found["rows"].as_array().expect("a list").is_empty());
    assert!(found["odd"].is_array() && found.get("px_per_mm").is_some());

    let listed = bench
        .done(&[
            "hint",
            "--photo",
            "part.png",
            "--joints",
            "found.csv",
            "--json",
        ])
        .json();
    let by_itself = bench
        .done(&["hint", "--photo", "part.png", "--json"])
        .json();
    for hint in [&listed, &by_itself] {
        assert_eq!(hint["joints"].as_array().map(Vec::len), Some(joints.len()));
    }
    assert_eq!(by_itself["found"]["joints"], found["joints"]);
}

#[test]
fn find_looks_for_joints_like_those_of_a_list() {
    let bench = Bench::new();
    let truth = sample(&bench).joints;
    let list = |name: &str, joints: &[[f64; 3]]| {
        let mut text = String::from("id,x_px,y_px,land_radius_px\n");
        for (k, [x, y, r]) in joints.iter().enumerate() {
            text += &format!("E{k},{x:.1},{y:.1},{r:.1}\n");
        }
        std::fs::write(bench.path(name), text).expect("writable");
    };
    let some: Vec<[f64; 3]> = truth.iter().step_by(truth.len() / 8).copied().collect();
    list("like.csv", &some);
    let asked = |unlike: &[&str]| {
        let plain = [
            "find", "--photo", "part.png", "--like", "like.csv", "--json",
        ];
        bench.done(&[&plain, unlike].concat()).json()
    };
    let number = |v: &Value| v.as_f64().expect("a number");
    let on = |found: &Value, [x, y, r]: &[f64; 3]| {
        let joints = found["joints"].as_array().expect("a list");
        (joints.iter()).any(|j| (number(&j["x_px"]) - x).hypot(number(&j["y_px"]) - y) < 0.5 * r)
    };
    let found = asked(&[]);
    let hits = truth.iter().filter(|t| on(&found, t)).count();
    assert!(hits * 10 >= truth.len() * 8, "{hits} of {}", truth.len());
    let all = found["joints"].as_array().map_or(0, Vec::len);
    assert!(hits * 10 >= all * 6, "{hits} of {all} found");

    let none = truth.iter().find(|t| on(&found, t) && !some.contains(t));
    let none = *none.expect("one is found");
    list("none.csv", &[none]);
    let without = asked(&["--unlike", "none.csv"]);
    assert!(!on(&without, &none), "{none:?}");

    for (joints, said) in [
        (&some[..3], "3 joints are too few"),
        (&[[9000.0, 20.0, 20.0]; 5][..], "E0: its middle"),
    ] {
        list("like.csv", joints);
        let ran = bench.run(&["find", "--photo", "part.png", "--like", "like.csv"]);
        assert_eq!(ran.code(), 2, "{ran:?}");
        assert!(
            ran.err().contains("like.csv") && ran.err().contains(said),
            "{ran:?}"
        );
    }
    list("like.csv", &some);
    list("none.csv", &[[20.0, 9000.0, 20.0]]);
    let both = ["--like", "like.csv", "--unlike", "none.csv"];
    let ran = bench.run(&[&["find", "--photo", "part.png"], &both[..]].concat());
    assert_eq!(ran.code(), 2, "{ran:?}");
    assert!(ran.err().contains("none.csv: E0: its middle"), "{ran:?}");
    let ran = bench.run(&["find", "--photo", "part.png", "--unlike", "none.csv"]);
    assert_eq!(ran.code(), 2, "{ran:?}");
}

#[test]
fn a_photo_without_joints_is_refused_by_the_hint_and_found_empty() {
    let bench = Bench::new();
    image::RgbImage::from_pixel(300, 200, image::Rgb([40, 60, 50]))
        .save(bench.path("plain.png"))
        .expect("writable");
    let found = bench
        .done(&["find", "--photo", "plain.png", "--json"])
        .json();
    assert_eq!(found["joints"].as_array().map(Vec::len), Some(0));
    assert!(found["px_per_mm"].is_null());
    let ran = bench.run(&["hint", "--photo", "plain.png", "--json"]);
    assert_eq!(ran.code(), 1);
    let refusal = ran.json();
    assert!(
        refusal["reason"]
            .as_str()
            .is_some_and(|r| r.contains("plain.png"))
    );
    assert!(
        refusal["remedy"]
            .as_str()
            .is_some_and(|r| r.contains("--joints"))
    );
}

#[test]
fn dark_lines_are_written_as_a_picture_of_the_photo_s_size() {
    let bench = Bench::new();
    let photo = image::RgbImage::from_fn(240, 160, |x, y| {
        let v = if y.abs_diff(80) < 2 {
            50
        } else {
            140 + (x * 7 + y * 13) as u8 % 9
        };
        image::Rgb([v; 3])
    });
    photo.save(bench.path("crack.png")).expect("writable");
    let answer = bench
        .done(&["darkline", "crack.png", "-o", "dark.png", "--json"])
        .json();
    assert_eq!(answer["size"], serde_json::json!([240, 160]));
    assert!(!answer["lines"].as_array().expect("a list").is_empty());
    let picture = image::open(bench.path("dark.png")).expect("a picture");
    assert_eq!(picture.color(), image::ColorType::L16);
    let grey = picture.to_luma16();
    assert_eq!(grey.dimensions(), (240, 160));
    assert!(grey.get_pixel(120, 80)[0] > 4 * grey.get_pixel(120, 40)[0].max(1000));

    let ran = bench.run(&["darkline", "crack.png", "-o", "crack.png"]);
    assert_eq!(ran.code(), 2, "{ran:?}");
    assert_eq!(
        image::open(bench.path("crack.png"))
            .expect("whole")
            .to_rgb8(),
        photo
    );
}

#[test]
fn quality_says_cell_by_cell_what_can_be_judged() {
    let bench = Bench::new();
    let stripes = image::RgbImage::from_fn(400, 200, |x, _| {
        let v = if x >= 200 {
            255
        } else if x / 12 % 2 == 0 {
            60
        } else {
            170
        };
        image::Rgb([v; 3])
    });
    stripes.save(bench.path("half.png")).expect("writable");
    let map = bench
        .done(&["quality", "half.png", "--columns", "4", "--json"])
        .json();
    assert_eq!(
        (map["columns"].as_u64(), map["rows"].as_u64()),
        (Some(4), Some(2))
    );
    let cells = map["cells"].as_array().expect("cells");
    assert_eq!(cells.len(), 8);
    assert_eq!(cells[0]["can_be_judged"], true, "{}", cells[0]);
    assert_eq!(cells[3]["can_be_judged"], false);
    assert!(
        cells[3]["advice"]
            .as_str()
            .is_some_and(|a| a.starts_with("Glare"))
    );
    let ran = bench.run(&["quality", "half.png", "--px-per-mm", "0"]);
    assert_eq!(ran.code(), 2);
}
