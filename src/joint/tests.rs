//! The hint on joints drawn here: shaded domes with grain, with and without a dark ring.

use image::{Rgb, RgbImage};
use proptest::prelude::*;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::*;
use crate::geometry::PhotoPoint;
use crate::progress::Progress;

const R: f64 = 24.0;

/// A dark arc: middle offset from the joint (px), radius, degrees from 0 clockwise, share of light taken.
#[derive(Clone, Copy)]
struct Crack {
    off: (f64, f64),
    radius: f64,
    arc_deg: f64,
    take: f64,
}

/// A photo with joints in a row, each a shaded dome on a dark board, with grain.
fn photo(cracks: &[Option<Crack>], gain: f64, blur: f32) -> (RgbImage, Vec<JointSpot>) {
    let pitch = 70.0;
    let mut rng = ChaCha8Rng::seed_from_u64(7);
    let width = (pitch * cracks.len() as f64) as u32;
    let middle = |k: usize| (pitch * (k as f64 + 0.5), 36.3);
    let mut image = RgbImage::from_fn(width, 72, |x, y| {
        let k = ((f64::from(x) / pitch) as usize).min(cracks.len() - 1);
        let (cx, cy) = middle(k);
        let (dx, dy) = (f64::from(x) - cx, f64::from(y) - cy);
        let r = dx.hypot(dy);
        let mut light = if r < R {
            0.25 + 0.1 * dy / R + 0.12 * (1.0 - (r / R).powi(2))
        } else {
            0.03
        };
        if let Some(c) = cracks[k] {
            let (ux, uy) = (dx - c.off.0, dy - c.off.1);
            let along = uy.atan2(ux).to_degrees().rem_euclid(360.0);
            if along <= c.arc_deg {
                light *= 1.0 - c.take * (-((ux.hypot(uy) - c.radius) / 1.1).powi(2)).exp();
            }
        }
        let light = (light * gain * (1.0 + 0.03 * (rng.random::<f64>() - 0.5))).clamp(0.0, 1.0);
        let v = (255.0 * (1.055 * light.powf(1.0 / 2.4) - 0.055)).clamp(0.0, 255.0) as u8;
        Rgb([v, v, v])
    });
    if blur > 0.0 {
        image = imageproc::filter::gaussian_blur_f32(&image, blur);
    }
    let spots = (0..cracks.len())
        .map(|k| spot(&format!("J{k}"), middle(k).0, middle(k).1, R))
        .collect();
    (image, spots)
}

fn spot(id: &str, x: f64, y: f64, r: f64) -> JointSpot {
    JointSpot {
        id: id.into(),
        centre: PhotoPoint::new(x, y),
        land_radius_px: r,
        pin_radius_px: None,
        px_per_mm: None,
        tilt_deg: None,
    }
}

fn run(image: &RgbImage, spots: &[JointSpot]) -> HintReport {
    hint_photo(image, spots, &Progress::new()).unwrap()
}

fn row_with(at: usize, crack: Crack) -> Vec<Option<Crack>> {
    (0..6).map(|k| (k == at).then_some(crack)).collect()
}

const FULL: Crack = Crack {
    off: (1.5, -1.0),
    radius: 13.0,
    arc_deg: 360.0,
    take: 0.5,
};

#[test]
fn an_off_centre_ring_ranks_first_and_is_drawn_where_it_is() {
    let (image, spots) = photo(&row_with(3, FULL), 1.0, 0.0);
    let report = run(&image, &spots);
    let hint = &report.joints[3];
    assert_eq!(
        (hint.rank, hint.band),
        (Some(1), Band::LookHereFirst),
        "{hint:?}"
    );
    assert!((hint.arc_deg.unwrap() - 360.0).abs() < 1e-9);
    let (cx, cy) = (
        spots[3].centre.x + FULL.off.0,
        spots[3].centre.y + FULL.off.1,
    );
    for [x, y] in &hint.arc {
        let miss = ((x - cx).hypot(y - cy) - FULL.radius).abs();
        assert!(miss < 1.2, "({x}, {y}) is {miss} px off the drawn ring");
    }
    for other in report.joints.iter().filter(|j| j.id != "J3") {
        assert_eq!(other.band, Band::NoLineSeen, "{other:?}");
        assert!(other.reason.contains("clears nothing"));
    }
}

#[test]
fn the_length_of_an_arc_is_measured() {
    for arc_deg in [120.0, 200.0, 280.0] {
        let (image, spots) = photo(&row_with(1, Crack { arc_deg, ..FULL }), 1.0, 0.0);
        let hint = &run(&image, &spots).joints[1];
        assert_eq!(hint.rank, Some(1));
        assert!(
            (hint.arc_deg.unwrap() - arc_deg).abs() <= 25.0,
            "drawn {arc_deg}, found {:?}",
            hint.arc_deg
        );
        assert!(hint.depth_sigma.unwrap() > 3.0);
    }
}

#[test]
fn the_deeper_of_two_cracks_comes_first() {
    let mut cracks = row_with(0, Crack { take: 0.25, ..FULL });
    cracks[4] = Some(Crack { take: 0.6, ..FULL });
    let (image, spots) = photo(&cracks, 1.0, 0.0);
    let report = run(&image, &spots);
    assert_eq!(
        (report.joints[4].rank, report.joints[0].rank),
        (Some(1), Some(2))
    );
}

#[test]
fn no_reading_says_why_and_what_helps() {
    let (image, _) = photo(&row_with(0, FULL), 1.0, 0.0);
    let (soft, soft_spots) = photo(&row_with(0, FULL), 1.0, 6.0);
    let mut glaring = image.clone();
    for (x, y, p) in glaring.enumerate_pixels_mut() {
        if x < 35 && y < 70 {
            *p = Rgb([255, 255, 255]);
        }
    }
    let cases = [
        (&image, spot("a", 35.0, 36.3, 9.0), "px across", "Go closer"),
        (&image, spot("b", 10.0, 36.3, R), "edge cuts", "whole joint"),
        (
            &image,
            spot("c", 5000.0, 36.3, R),
            "not on this photo",
            "Use the photo",
        ),
        (
            &image,
            spot("d", f64::NAN, 36.3, R),
            "not on this photo",
            "Use the photo",
        ),
        (
            &image,
            JointSpot {
                px_per_mm: Some(19.97),
                ..spot("e", 35.0, 36.3, R)
            },
            "19.9 px/mm here, 20 are needed",
            "Go closer",
        ),
        (
            &image,
            JointSpot {
                tilt_deg: Some(52.0),
                ..spot("g", 35.0, 36.3, R)
            },
            "52 degrees from square",
            "straight above",
        ),
        (&soft, soft_spots[0].clone(), "too soft", "Focus"),
        (&glaring, spot("f", 35.0, 36.3, R), "glare", "Move the lamp"),
    ];
    for (image, spot, why, advice) in cases {
        let hint = &run(image, std::slice::from_ref(&spot)).joints[0];
        assert_eq!(
            (hint.band, hint.likelihood, hint.rank),
            (Band::NoReading, None, None),
            "{hint:?}"
        );
        assert!(
            hint.reason.contains(why) && hint.reason.contains(advice),
            "{}",
            hint.reason
        );
        assert!(hint.arc.is_empty());
    }
}

#[test]
fn a_flat_patch_gives_no_reading() {
    let image = RgbImage::from_pixel(80, 80, Rgb([90, 90, 90]));
    let hint = &run(&image, &[spot("J1", 40.0, 40.0, R)]).joints[0];
    assert_eq!(hint.band, Band::NoReading);
    assert!(hint.reason.contains("hardly stands out"), "{}", hint.reason);
}

#[test]
fn threads_do_not_change_the_result() {
    let (image, spots) = photo(&row_with(2, FULL), 1.0, 0.0);
    let with = |threads| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap();
        pool.install(|| serde_json::to_string(&run(&image, &spots)).unwrap())
    };
    assert_eq!(with(1), with(4));
}

#[test]
fn brightness_and_a_quarter_turn_change_little() {
    let cracks = row_with(
        2,
        Crack {
            arc_deg: 220.0,
            ..FULL
        },
    );
    let (image, spots) = photo(&cracks, 1.0, 0.0);
    let (bright, _) = photo(&cracks, 1.6, 0.0);
    let turned = image::imageops::rotate90(&image);
    let last_row = f64::from(image.height()) - 1.0;
    let turned_spots: Vec<JointSpot> = spots
        .iter()
        .map(|s| spot(&s.id, last_row - s.centre.y, s.centre.x, R))
        .collect();
    let plain = run(&image, &spots);
    for other in [run(&bright, &spots), run(&turned, &turned_spots)] {
        for (a, b) in plain.joints.iter().zip(&other.joints) {
            assert!(b.likelihood.is_some(), "{b:?}");
            let (a, b) = (a.likelihood.unwrap(), b.likelihood.unwrap());
            assert!((a - b).abs() < 0.12, "{a} against {b}");
        }
        assert_eq!(other.joints[2].rank, Some(1));
    }
}

#[test]
fn the_report_keeps_to_the_contract() {
    let (image, mut spots) = photo(&row_with(2, FULL), 1.0, 0.0);
    spots.push(spot("tiny", 40.0, 36.0, 5.0));
    let json = serde_json::to_value(run(&image, &spots)).unwrap();
    assert_eq!(json["schema"], 1);
    assert!(
        json["calibration"]
            .as_str()
            .unwrap()
            .contains("no real crack")
    );
    for joint in json["joints"].as_array().unwrap() {
        for key in [
            "id",
            "likelihood",
            "band",
            "rank",
            "reason",
            "arc_deg",
            "depth_sigma",
            "arc",
            "px_across",
        ] {
            assert!(joint.get(key).is_some(), "{key} missing in {joint}");
        }
    }
    assert_eq!(json["joints"][2]["band"], "look here first");
    assert_eq!(json["joints"][6]["band"], "no reading");
    assert!(json["joints"][6]["likelihood"].is_null());
    assert_eq!(json["joints"][2]["arc"][0].as_array().unwrap().len(), 2);
}

#[test]
fn stopping_stops() {
    let (image, spots) = photo(&row_with(2, FULL), 1.0, 0.0);
    let progress = Progress::new();
    progress.cancel();
    assert_eq!(
        hint_photo(&image, &spots, &progress),
        Err(JointError::Cancelled)
    );
}

#[test]
fn the_glass_gets_the_ring_with_the_arc_on_it() {
    let (image, spots) = photo(
        &row_with(
            0,
            Crack {
                off: (0.0, 0.0),
                ..FULL
            },
        ),
        1.0,
        0.0,
    );
    let look = look(&image, &spots[0]).unwrap();
    assert_eq!(
        look.unknown.len(),
        (look.ring.width() * look.ring.height()) as usize
    );
    assert_eq!(look.path.len(), look.depth.len());
    // On the drawn ring the unrolled picture is darker than two pixels further in and out.
    let (x, y) = look.path[10];
    let at = |dy: i64| i32::from(look.ring.get_pixel(x as u32, (y as i64 + dy) as u32).0[0]);
    assert!(
        at(0) + 15 < at(-5).min(at(5)),
        "{} {} {}",
        at(-5),
        at(0),
        at(5)
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]
    #[test]
    fn never_panics_and_stays_a_likelihood(
        seed in any::<u64>(),
        (w, h) in (1_u32..160, 1_u32..160),
        spots in prop::collection::vec((-50.0..250.0_f64, -50.0..250.0_f64, prop_oneof![0.001..90.0_f64, Just(f64::NAN), Just(1e12), Just(-3.0)]), 1..12),
    ) {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let step = rng.random_range(1..64_u32);
        let image = RgbImage::from_fn(w, h, |x, y| {
            let v = (x / step * 37 + y / step * 91) as u8;
            Rgb([v.wrapping_add(rng.random_range(0..40)), v, v])
        });
        let spots: Vec<JointSpot> = spots.iter().enumerate().map(|(k, (x, y, r))| spot(&k.to_string(), *x, *y, *r)).collect();
        let report = run(&image, &spots);
        prop_assert_eq!(report.joints.len(), spots.len());
        for joint in &report.joints {
            prop_assert_eq!(joint.likelihood.is_some(), joint.rank.is_some());
            if let Some(l) = joint.likelihood {
                prop_assert!((0.0..=1.0).contains(&l));
                prop_assert!((0.0..=360.0).contains(&joint.arc_deg.unwrap_or(-1.0)));
                prop_assert!(joint.arc.iter().flatten().all(|v| v.is_finite()));
            }
        }
    }
}
