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
