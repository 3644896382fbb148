//! Checks of the renderer as a whole: repeatability, truth against pixels, metadata.

use image::DynamicImage;

use crate::board::Side;
use crate::geometry::BoardPoint;
use crate::progress::Progress;

use super::encode::jpeg;
use super::{Camera, Light, NOTICE, PhotoSpec, RenderError, Rendered, Workshop, maps};

fn spec(board: &str, look_at: [f64; 2], px_per_mm: f64, size: [u32; 2]) -> PhotoSpec {
    PhotoSpec {
        unit: "FH12-0242".to_owned(),
        board: board.to_owned(),
        side: Side::Solder,
        what: "test".to_owned(),
        size,
        camera: Camera {
            look_at,
            px_per_mm,
            tilt_deg: 3.0,
            lean_deg: 40.0,
            turn_deg: 2.0,
            focal: 3.0,
            k1: -0.02,
            k2: 0.003,
        },
        light: Light::bench(0),
        seed: 12,
        plant: true,
        quality: 88,
        orientation: 1,
        taken: "2026:03:04 10:20:30".to_owned(),
    }
}

fn bytes_with(threads: usize, spec: &PhotoSpec) -> Vec<u8> {
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(threads)
        .build()
        .unwrap();
    pool.install(|| {
        let rendered = Workshop::new().render_photo(spec).unwrap();
        jpeg(&rendered.image, spec).unwrap()
    })
}

#[test]
fn the_same_seed_gives_the_same_bytes_on_one_thread_and_on_two() {
    let spec = spec("front", [55.0, 30.0], 3.0, [120, 90]);
    let once = bytes_with(1, &spec);
    assert_eq!(once, bytes_with(2, &spec));
    let mut other = spec;
    other.seed = 13;
    assert_ne!(once, bytes_with(2, &other));
}

#[test]
fn truth_agrees_with_its_own_transform_and_with_the_picture() {
    let spec = spec("main", [128.0, 45.0], 11.0, [420, 320]);
    let Rendered { image, truth } = Workshop::new().render_photo(&spec).unwrap();
    let map = &maps()[0];
    assert!(truth.joints.len() > 25, "{}", truth.joints.len());
    let mut errors = Vec::new();
    for joint in &truth.joints {
        let pin = map
            .parts
            .iter()
            .flat_map(|part| &part.pins)
            .find(|pin| pin.uid == joint.uid)
            .unwrap();
        let flat = truth
            .photo_from_board
            .apply(BoardPoint::new(pin.at[0], pin.at[1]))
            .unwrap();
        // The published model r' = r (1 + k1 r^2 + k2 r^4), applied here by hand.
        let d = &truth.distortion;
        let (u, v) = (flat.x - d.centre[0], flat.y - d.centre[1]);
        let r2 = (u * u + v * v) / (d.unit_px * d.unit_px);
        let factor = 1.0 + d.k1 * r2 + d.k2 * r2 * r2;
        let bent = [d.centre[0] + u * factor, d.centre[1] + v * factor];
        assert!((bent[0] - joint.at_px[0]).hypot(bent[1] - joint.at_px[1]) < 0.02);
        errors.push(grey_middle(&image, joint.at_px, joint.land_radius_px));
    }
    errors.sort_by(f64::total_cmp);
    let median = errors[errors.len() / 2];
    assert!(
        median < 1.0,
        "median distance of grey middle from truth: {median} px"
    );
}

/// Distance between a place and the middle of what is grey (solder) amid green (mask).
fn grey_middle(image: &image::RgbImage, at: [f64; 2], radius: f64) -> f64 {
    let reach = radius * 1.25;
    let (mut sum, mut mx, mut my) = (0.0, 0.0, 0.0);
    for y in (at[1] - reach) as u32..=(at[1] + reach) as u32 {
        for x in (at[0] - reach) as u32..=(at[0] + reach) as u32 {
            let (dx, dy) = (f64::from(x) - at[0], f64::from(y) - at[1]);
            if dx.hypot(dy) > reach || x >= image.width() || y >= image.height() {
                continue;
            }
            let [r, g, b] = image.get_pixel(x, y).0.map(f64::from);
            let green = (2.0 * g - r - b) / (r + g + b + 1.0);
            let weight = (1.0 - green / 0.15).clamp(0.0, 1.0);
            sum += weight;
            mx += weight * dx;
            my += weight * dy;
        }
    }
    if sum > 0.0 {
        (mx / sum).hypot(my / sum)
    } else {
        radius
    }
}

#[test]
fn a_cracked_joint_is_darker_along_its_crack_than_the_same_joint_without() {
    // J4.3, terminal ZONE 2.
    let with = spec("main", [55.88, 109.22], 44.0, [240, 240]);
    let mut without = with.clone();
    without.plant = false;
    let workshop = Workshop::new();
    let cracked = workshop.render_photo(&with).unwrap();
    let sound = workshop.render_photo(&without).unwrap();
    let joint = cracked
        .truth
        .joints
        .iter()
        .find(|j| j.joint == "J4.3")
        .unwrap();
    assert_eq!(joint.fault.as_deref(), Some("fractured"));
    let path = &joint.crack.as_ref().unwrap().path_px;
    assert!(path.len() > 40);
    let mean = |image: &image::RgbImage| {
        let sum: f64 = path
            .iter()
            .map(|[x, y]| {
                let p = image.get_pixel(x.round() as u32, y.round() as u32).0;
                p.map(f64::from).iter().sum::<f64>() / 3.0
            })
            .sum();
        sum / path.len() as f64
    };
    let (dark, plain) = (mean(&cracked.image), mean(&sound.image));
    assert!(dark < 0.8 * plain, "{dark} {plain}");
    assert!(
        sound
            .truth
            .joints
            .iter()
            .all(|j| j.crack.is_none() && j.fault.is_none())
    );
}

#[test]
fn every_orientation_comes_back_upright_and_the_metadata_say_rendered() {
    let mut upright = image::RgbImage::new(24, 16);
    for (x, y, pixel) in upright.enumerate_pixels_mut() {
        let level = |on: bool| if on { 220 } else { 30 };
        pixel.0 = [level(x < 12), level(y < 8), level(x + y < 12)];
    }
    for orientation in 1..=8u16 {
        let mut spec = spec("main", [0.0, 0.0], 10.0, [24, 16]);
        spec.orientation = orientation;
        spec.quality = 100;
        let bytes = jpeg(&upright, &spec).unwrap();
        let exif = exif::Reader::new()
            .read_from_container(&mut std::io::Cursor::new(&bytes))
            .unwrap();
        let text = |tag| {
            let field = exif.get_field(tag, exif::In::PRIMARY).unwrap();
            field.display_value().to_string()
        };
        assert!(text(exif::Tag::ImageDescription).contains(NOTICE));
        assert!(text(exif::Tag::Model).contains("Rendered sample"));
        assert_eq!(text(exif::Tag::DateTimeOriginal), "2026-03-04 10:20:30");
        assert!(
            exif.get_field(exif::Tag::OffsetTimeOriginal, exif::In::PRIMARY)
                .is_none()
        );
        let comment = exif
            .get_field(exif::Tag::UserComment, exif::In::PRIMARY)
            .unwrap();
        match &comment.value {
            exif::Value::Undefined(bytes, _) => assert!(bytes.ends_with(NOTICE.as_bytes())),
            other => panic!("{other:?}"),
        }
        // The image library's own orientation table turns it back.
        let mut back: DynamicImage = image::load_from_memory(&bytes).unwrap();
        let turn = image::metadata::Orientation::from_exif(orientation as u8).unwrap();
        back.apply_orientation(turn);
        let back = back.to_rgb8();
        assert_eq!(back.dimensions(), (24, 16), "{orientation}");
        for (x, y) in [(3, 3), (20, 3), (3, 13), (20, 13)] {
            let (a, b) = (back.get_pixel(x, y).0, upright.get_pixel(x, y).0);
            assert!(
                a.iter().zip(b).all(|(a, b)| a.abs_diff(b) < 40),
                "{orientation} {x} {y}"
            );
        }
    }
}

#[test]
fn a_plan_is_written_with_maps_truth_and_readme() {
    let dir = tempfile::tempdir().unwrap();
    let plan = [spec("front", [55.0, 30.0], 2.0, [80, 60])];
    let progress = Progress::new();
    let made = super::render_plan(dir.path(), 12, &plan, &progress).unwrap();
    assert_eq!(progress.counts(), (1, 1));
    assert!(
        made[0]
            .path
            .ends_with("photos/FH12-0242/front-solder-test.jpg")
    );
    assert_eq!(
        made[0].bytes,
        std::fs::metadata(&made[0].path).unwrap().len()
    );
    let truth = std::fs::read(dir.path().join("truth/FH12-0242.json")).unwrap();
    let truth: super::UnitTruth = serde_json::from_slice(&truth).unwrap();
    assert_eq!(
        truth.photos[0].file,
        "photos/FH12-0242/front-solder-test.jpg"
    );
    let map = std::fs::read(dir.path().join("maps/main.json")).unwrap();
    let map: crate::board::BoardMap = serde_json::from_slice(&map).unwrap();
    assert_eq!(map, maps()[0]);
    let readme = std::fs::read_to_string(dir.path().join("README.md")).unwrap();
    assert!(readme.contains("rendered and invented"));
    assert!(readme.contains("benchglass samples --out sample-boards --seed 12"));
}

#[test]
fn bad_orders_are_refused_by_name() {
    let workshop = Workshop::new();
    let mut wrong = spec("main", [90.0, 60.0], 5.0, [64, 64]);
    wrong.unit = "FH12-9999".to_owned();
    let error = workshop.render_photo(&wrong).unwrap_err().to_string();
    assert!(
        error.contains("FH12-9999") && error.contains("FH12-0455"),
        "{error}"
    );
    let mut large = spec("main", [90.0, 60.0], 5.0, [64, 64]);
    large.size = [64, 100_000];
    assert!(matches!(
        workshop.render_photo(&large),
        Err(RenderError::Size { .. })
    ));
    let file = tempfile::NamedTempFile::new().unwrap();
    let error = super::render_plan(file.path(), 1, &[], &Progress::new()).unwrap_err();
    assert!(matches!(&error, RenderError::Write { path, .. } if path.starts_with(file.path())));
    let progress = Progress::new();
    progress.cancel();
    let dir = tempfile::tempdir().unwrap();
    let plan = super::reduced_plan(1);
    let error = super::render_plan(dir.path(), 1, &plan, &progress).unwrap_err();
    assert!(matches!(error, RenderError::Cancelled(_)));
}

#[test]
fn the_plan_meets_its_own_promises() {
    let plan = super::sample_plan(12);
    let large = |spec: &&PhotoSpec| u64::from(spec.size[0]) * u64::from(spec.size[1]) >= 12_000_000;
    let large: Vec<&PhotoSpec> = plan.iter().filter(large).collect();
    assert!(large.iter().all(|spec| spec.unit == "FH12-0242"));
    let overview = |side| {
        large
            .iter()
            .any(|spec| spec.side == side && spec.what == "overview")
    };
    assert!(overview(Side::Solder) && overview(Side::Component));
    let close = large
        .iter()
        .filter(|spec| spec.camera.px_per_mm >= 40.0)
        .count();
    assert!(close >= 4, "{close} close-ups with the large camera");
    for unit in super::units() {
        for side in [Side::Solder, Side::Component] {
            assert!(plan.iter().any(|s| s.unit == unit.code && s.side == side));
        }
    }
}
