use super::*;
use image::Rgb;

/// A drawn board: two rows of eight lively joints, 50 px apart.
fn board() -> RgbImage {
    RgbImage::from_fn(500, 300, |x, y| {
        let (x, y) = (f64::from(x), f64::from(y));
        let grain = ((x * 12.989 + y * 78.233).sin() * 43_758.545).fract() * 6.0;
        for row in [70.0, 220.0] {
            for k in 0..8 {
                let (u, v) = (x - 70.0 - 50.0 * f64::from(k), y - row);
                if u.hypot(v) < 17.0 {
                    let streaks = 55.0 * (u * 0.6).sin() * (v * 0.5 + f64::from(k)).cos();
                    let grey = (140.0 - 2.5 * v - u + streaks + grain).clamp(20.0, 245.0);
                    return Rgb([grey as u8; 3]);
                }
            }
        }
        Rgb([
            (25.0 + grain) as u8,
            (75.0 + grain) as u8,
            (35.0 + grain) as u8,
        ])
    })
}

#[test]
fn threads_do_not_change_the_finding() {
    let photo = board();
    let with = |threads| {
        rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap()
            .install(|| find_joints(&photo, &Progress::new()).unwrap())
    };
    let one = with(1);
    assert_eq!(one, with(3));
    // Drawn joints are only half like solder: what is found must at least lie on them.
    for joint in &one.joints {
        let on = |row: f64| {
            (0..8).any(|k| (joint.x_px - 70.0 - 50.0 * f64::from(k)).hypot(joint.y_px - row) < 17.0)
        };
        assert!(on(70.0) || on(220.0), "{joint:?}");
    }
}

/// Flat pale lands of 14 px without a glint, which the trees do not take for solder, among tracks and
/// as many square pads.
fn pale_board() -> (RgbImage, Vec<[f64; 2]>) {
    let lands: Vec<[f64; 2]> = (0..30)
        .map(|k| {
            let (column, row) = (f64::from(k % 6), f64::from(k / 6));
            [60.0 + 90.0 * column + 9.0 * row, 60.0 + 80.0 * row]
        })
        .collect();
    let photo = RgbImage::from_fn(620, 460, |x, y| {
        let (x, y) = (f64::from(x), f64::from(y));
        let grain = ((x * 12.989 + y * 78.233).sin() * 43_758.545).fract() * 5.0;
        let near = |[u, v]: &&[f64; 2]| (x - u).hypot(y - v) < 14.0;
        if let Some([u, v]) = lands.iter().find(near) {
            let grey = 205.0 - 1.2 * (y - v) - 0.6 * (x - u) + grain;
            return Rgb([grey as u8, (grey * 0.93) as u8, (grey * 0.88) as u8]);
        }
        let pad = (x % 90.0 - 15.0).abs() < 11.0 && (y % 80.0 - 22.0).abs() < 11.0;
        let track = (x + 2.0 * y) % 24.0 < 9.0;
        match (pad, track) {
            (true, _) => Rgb([(215.0 + grain) as u8; 3]),
            (_, true) => Rgb([(60.0 + grain) as u8, (140.0 + grain) as u8, 105]),
            _ => Rgb([(35.0 + grain) as u8, (75.0 + grain) as u8, 60]),
        }
    });
    (photo, lands)
}

fn pointed(id: &str, [x, y]: [f64; 2], land_radius_px: f64) -> JointSpot {
    JointSpot {
        id: id.to_owned(),
        centre: PhotoPoint::new(x, y),
        land_radius_px,
        pin_radius_px: None,
        px_per_mm: None,
        tilt_deg: None,
    }
}

#[test]
fn joints_like_those_pointed_out_are_found() {
    let (photo, lands) = pale_board();
    let on = |found: &Found, at: &[f64; 2]| {
        (found.joints.iter()).any(|j| (j.x_px - at[0]).hypot(j.y_px - at[1]) < 5.0)
    };
    let count = |found: &Found| lands.iter().filter(|at| on(found, at)).count();
    let alone = find_joints(&photo, &Progress::new()).unwrap();
    assert!(
        count(&alone) < 10,
        "found without examples: {}",
        count(&alone)
    );
    // Clicks are a px or two off, and rims seen to a tenth.
    let like: Vec<JointSpot> = [0, 5, 9, 13, 16, 20, 24, 29]
        .iter()
        .map(|k| {
            let [x, y] = lands[*k];
            let off = f64::from(*k as u32 % 3) - 1.0;
            pointed(&format!("E{k}"), [x + off, y - off], 14.0 + off)
        })
        .collect();
    let found = find_joints_like(&photo, &like, &[], &Progress::new()).unwrap();
    let hits = count(&found);
    assert!(hits >= 28, "{hits} of {}", lands.len());
    assert!(found.joints.len() <= hits + 3, "{:?}", found.joints);
    let sizes: Vec<f64> = found.joints.iter().map(|j| j.land_radius_px).collect();
    let size = crate::stats::median(&sizes).unwrap();
    assert!((12.5..=15.5).contains(&size), "{size}");

    assert_eq!(found.caution, None);

    // Clicks between the lands have nothing in common.
    let beside: Vec<JointSpot> = (0..8)
        .map(|k| {
            let [x, y] = lands[3 * k];
            let turn = f64::from(k as u32);
            pointed("B", [x + 24.0 * turn.cos(), y + 24.0 * turn.sin()], 14.0)
        })
        .collect();
    let nothing = find_joints_like(&photo, &beside, &[], &Progress::new()).unwrap();
    let caution = nothing.caution.unwrap_or_default();
    assert!(
        caution.contains("of the 8 joints that were pointed out"),
        "{caution}"
    );

    // What is pointed out as none is not found.
    let none = pointed("N1", lands[7], 14.0);
    let found = find_joints_like(&photo, &like, &[none], &Progress::new()).unwrap();
    assert!(!on(&found, &lands[7]), "{:?}", found.joints);
    assert!(count(&found) >= 20, "{}", count(&found));
}

#[test]
fn large_examples_do_not_hide_what_is_no_joint_beside_small_ones() {
    // The same board twice: as it is, and beneath it seven times as large.
    let (small, lands) = pale_board();
    let cut = image::imageops::crop_imm(&small, 0, 0, 200, 130).to_image();
    let filter = image::imageops::FilterType::Triangle;
    let large = image::imageops::resize(&cut, 1400, 910, filter);
    let mut photo = RgbImage::new(1400, 1370);
    image::imageops::overlay(&mut photo, &small, 0, 0);
    image::imageops::overlay(&mut photo, &small, 700, 0);
    image::imageops::overlay(&mut photo, &large, 0, 460);
    let mut like: Vec<JointSpot> = [0, 5, 9, 13, 16, 20, 24, 29]
        .iter()
        .map(|k| pointed("S", lands[*k], 14.0))
        .collect();
    like.extend([0, 1].map(|k| {
        let [x, y] = lands[k];
        pointed("L", [7.0 * x, 460.0 + 7.0 * y], 98.0)
    }));
    let found = find_joints_like(&photo, &like, &[], &Progress::new()).unwrap();
    let on = |[x, y]: [f64; 2]| (found.joints.iter()).any(|j| (j.x_px - x).hypot(j.y_px - y) < 5.0);
    let hits = (lands.iter())
        .flat_map(|[x, y]| [[*x, *y], [x + 700.0, *y]])
        .filter(|at| on(*at))
        .count();
    assert!(hits >= 50, "{hits} of 60");
    assert!(found.joints.len() <= 90, "{}", found.joints.len());
}

#[test]
fn examples_that_say_nothing_are_refused_by_name() {
    let (photo, lands) = pale_board();
    let like: Vec<JointSpot> = (0..5)
        .map(|k| pointed(&format!("E{k}"), lands[k], 14.0))
        .collect();
    let asked = |like: &[JointSpot]| find_joints_like(&photo, like, &[], &Progress::new());
    assert_eq!(
        asked(&like[..4]),
        Err(JointError::FewExamples {
            given: 4,
            needed: LEAST_EXAMPLES
        })
    );
    for (at, radius) in [
        ([900.0, 5.0], 14.0),
        ([60.0, 60.0], 4.0),
        ([60.0, 60.0], 400.0),
    ] {
        let mut like = like.clone();
        like.push(pointed("E9", at, radius));
        let error = asked(&like).unwrap_err().to_string();
        assert!(error.starts_with("E9: its "), "{error}");
    }
    let progress = Progress::new();
    progress.cancel();
    let stopped = find_joints_like(&photo, &like, &[], &progress);
    assert_eq!(stopped, Err(JointError::Cancelled));
    // Five clicks on one bare spot teach nothing, and nothing breaks.
    let plain = RgbImage::from_pixel(300, 200, Rgb([90, 90, 90]));
    let same: Vec<JointSpot> = (0..5)
        .map(|k| pointed(&format!("E{k}"), [150.0, 100.0], 14.0))
        .collect();
    let found = find_joints_like(&plain, &same, &[], &Progress::new()).unwrap();
    assert!(found.joints.is_empty(), "{:?}", found.joints);
    let caution = found.caution.unwrap_or_default();
    assert!(caution.starts_with("None of the 5 joints"), "{caution}");
}

#[test]
fn threads_do_not_change_what_is_like_the_examples() {
    let (photo, lands) = pale_board();
    let like: Vec<JointSpot> = (0..6)
        .map(|k| pointed(&format!("E{k}"), lands[4 * k], 14.0))
        .collect();
    let with = |threads| {
        rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap()
            .install(|| find_joints_like(&photo, &like, &[], &Progress::new()).unwrap())
    };
    assert_eq!(with(1), with(3));
}

#[test]
fn places_that_stand_in_no_rows_call_for_caution() {
    let row = |members: std::ops::Range<usize>| Row {
        joints: members.clone().map(|k| format!("F{}", k + 1)).collect(),
        pitch_px: 60.0,
        turn_deg: 0.0,
        gaps: Vec::new(),
        members: members.collect(),
    };
    let said = caution(40, &[row(0..5), row(3..5)]).unwrap();
    assert!(
        said.starts_with("Only 5 of 40 places stand in rows"),
        "{said}"
    );
    assert!(said.contains("solder side"), "{said}");
    // As many as a solder side has, or too few to ask for rows.
    assert_eq!(caution(40, &[row(0..3), row(3..6)]), None);
    assert_eq!(caution(14, &[]), None);
    assert!(caution(15, &[]).is_some());
}

#[test]
fn tiny_and_empty_photos_hold_no_joint() {
    for (w, h) in [(0, 0), (1, 1), (3, 200), (60, 41)] {
        let photo = RgbImage::from_fn(w, h, |x, y| Rgb([(x * 31 + y * 17) as u8; 3]));
        let found = find_joints(&photo, &Progress::new()).unwrap();
        assert!(
            found.px_per_mm.is_none() && found.rows.is_empty(),
            "{w} x {h}"
        );
    }
}

#[test]
fn stopping_stops() {
    let progress = Progress::new();
    progress.cancel();
    assert_eq!(find_joints(&board(), &progress), Err(JointError::Cancelled));
}
