//! EXIF orientation and values against Pillow: the files under `tests/fixtures/exif` were written
//! by Pillow 13.0.0, and `expected.json` beside them holds what its `ImageOps.exif_transpose`
//! makes of each (`make_exif.py` there repeats it).

#![allow(
    clippy::unwrap_used,
    reason = "a fixture that is not as expected is a failed test"
)]

use std::path::{Path, PathBuf};

use benchglass::photo::{Format, first_picture, inspect, open};
use serde_json::Value;

/// JPEG decoders may differ by rounding in the transform and the colour conversion.
const JPEG_ROUNDING: u64 = 3;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures/exif")
}

fn cases() -> Vec<Value> {
    let text = std::fs::read_to_string(folder().join("expected.json")).unwrap();
    let all: Value = serde_json::from_str(&text).unwrap();
    all["files"].as_array().unwrap().clone()
}

fn numbers(value: &Value) -> Vec<u64> {
    let list = value.as_array().unwrap();
    list.iter().map(|v| v.as_u64().unwrap()).collect()
}

/// Largest difference in any channel between a picture and the expected pixels.
fn worst(image: &image::RgbImage, case: &Value) -> u64 {
    let step = u32::try_from(case["step"].as_u64().unwrap()).unwrap();
    let mut worst = 0;
    for (y, row) in (0_u32..).zip(case["pixels"].as_array().unwrap()) {
        for (x, pixel) in (0_u32..).zip(row.as_array().unwrap()) {
            let seen = image.get_pixel(x * step + step / 2, y * step + step / 2).0;
            for (seen, expected) in seen.iter().zip(numbers(pixel)) {
                worst = worst.max(u64::from(*seen).abs_diff(expected));
            }
        }
    }
    worst
}

#[test]
fn every_orientation_is_turned_as_pillow_turns_it() {
    let cases = cases();
    for wanted in 0..=9 {
        let of = |ext: &str| {
            let name = format!("o{wanted}.{ext}");
            cases.iter().filter(|c| c["file"] == *name).count()
        };
        assert!(
            of("jpg") == 1 && of("png") == 1,
            "orientation {wanted} is there"
        );
    }
    for case in &cases {
        let name = case["file"].as_str().unwrap();
        let photo = open(&folder().join(name)).unwrap();
        let upright = numbers(&case["upright"]);
        let size = [photo.image.width(), photo.image.height()].map(u64::from);
        assert_eq!(size.to_vec(), upright, "{name}");
        assert_eq!(
            photo.facts.upright.map(u64::from).to_vec(),
            upright,
            "{name}"
        );
        assert_eq!(
            photo.facts.stored.map(u64::from).to_vec(),
            numbers(&case["stored"]),
            "{name}"
        );
        let allowed = if photo.facts.format == Format::Jpeg {
            JPEG_ROUNDING
        } else {
            0
        };
        let worst = worst(&photo.image, case);
        assert!(worst <= allowed, "{name}: off by {worst}");
    }
}

#[test]
fn the_first_picture_is_turned_the_same_way() {
    for case in cases() {
        let name = case["file"].as_str().unwrap();
        let image = first_picture(&folder().join(name), 1000).unwrap();
        let worst = worst(&image, &case);
        assert!(worst <= JPEG_ROUNDING, "{name}: off by {worst}");
    }
}

#[test]
fn orientations_that_do_not_exist_are_one_with_a_warning() {
    for case in cases() {
        let name = case["file"].as_str().unwrap();
        let facts = inspect(&folder().join(name)).unwrap();
        let stated = case["orientation"].as_u64().unwrap();
        if (1..=8).contains(&stated) {
            assert_eq!(u64::from(facts.orientation), stated, "{name}");
            assert!(facts.warnings.is_empty(), "{name}: {:?}", facts.warnings);
        } else {
            assert_eq!(facts.orientation, 1, "{name}");
            assert!(
                facts.warnings[0].contains(&format!("orientation {stated}")),
                "{name}"
            );
        }
    }
}

#[test]
fn values_that_pillow_wrote_are_read_back() {
    let files = cases();
    let with_exif = files.iter().filter(|case| case.get("note").is_none());
    let mut checked = 0;
    for case in with_exif {
        let name = case["file"].as_str().unwrap();
        if name.ends_with(".tif") {
            continue; // this version of Pillow leaves the Exif directory out of a TIFF
        }
        let facts = inspect(&folder().join(name)).unwrap();
        assert_eq!(
            facts.taken.as_deref(),
            Some("2024-05-01T09:30:00.070"),
            "{name}"
        );
        assert_eq!(facts.taken_offset.as_deref(), Some("+02:00"), "{name}");
        assert_eq!(
            facts.camera.as_deref(),
            Some("Invented Works Test Camera 1"),
            "{name}"
        );
        assert_eq!(
            (facts.focal_mm, facts.focal_35mm),
            (Some(4.25), Some(26.0)),
            "{name}"
        );
        checked += 1;
    }
    assert!(checked >= 20, "{checked} files");
}
