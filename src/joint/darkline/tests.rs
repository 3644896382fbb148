use super::oriented::second_derivatives;
use super::*;
use image::Rgb;
use proptest::prelude::*;

/// A grainy surface with a dark wandering line from left to right, and specks.
fn surface(width: u32, height: u32, line_px: f64, depth: f64, gain: f64) -> RgbImage {
    RgbImage::from_fn(width, height, |x, y| {
        let (u, v) = (f64::from(x), f64::from(y));
        let grain = ((u * 12.989 + v * 78.233).sin() * 43_758.545).fract() * 16.0;
        let mut light = 130.0 + grain;
        if (v - line_at(u, height)).abs() < line_px / 2.0 {
            light *= 1.0 - depth;
        }
        // Specks of the same darkness, on a lattice.
        let (sx, sy) = ((u + 20.0) % 60.0 - 30.0, (v + 10.0) % 50.0 - 25.0);
        if sx.hypot(sy) < 2.5 {
            light *= 1.0 - depth;
        }
        let v = (light * gain).clamp(0.0, 255.0) as u8;
        Rgb([v, v, v])
    })
}

fn line_at(x: f64, height: u32) -> f64 {
    f64::from(height) / 2.0 + 9.0 * (x / 37.0).sin()
}

fn respond(photo: &RgbImage) -> DarkLines {
    dark_lines(photo, &Progress::new()).unwrap()
}

/// Median response on the line, and on the specks that are not near it.
fn on_and_off(found: &DarkLines) -> (f64, f64) {
    let at = |x: u32, y: u32| f64::from(found.response[(y * found.width + x) as usize]);
    let on: Vec<f64> = (20..found.width - 20)
        .map(|x| at(x, line_at(f64::from(x), found.height).round() as u32))
        .collect();
    let mut off = Vec::new();
    for y in (15..found.height - 15).step_by(50) {
        for x in (10..found.width - 15).step_by(60) {
            if (f64::from(y) - line_at(f64::from(x), found.height)).abs() > 30.0 {
                off.push(at(x, y));
            }
        }
    }
    assert!(!off.is_empty());
    (
        crate::stats::median(&on).unwrap(),
        crate::stats::median(&off).unwrap(),
    )
}

#[test]
fn second_derivatives_agree_with_the_reference() {
    let fixture: serde_json::Value = serde_json::from_str(include_str!(
        "../../../tests/fixtures/joint/second_derivatives.json"
    ))
    .unwrap();
    let plane: Vec<f32> = (0..40_i32)
        .flat_map(|y| (0..48_i32).map(move |x| (x, y)))
        .map(|(x, y)| {
            let line = if (x - y).abs() < 2 { 40 } else { 0 };
            (60 + (3 * x * x + 5 * y * y + 2 * x * y) / 400 + (31 * x + 17 * y) % 7 - line) as f32
        })
        .collect();
    let found = second_derivatives(&plane, 48, 40, 2.0);
    for point in fixture["points"].as_array().unwrap() {
        let number = |key: &str| point[key].as_f64().unwrap();
        let i = (number("y") * 48.0 + number("x")) as usize;
        for (ours, key) in [
            (found.xx[i], "xx"),
            (found.xy[i], "xy"),
            (found.yy[i], "yy"),
        ] {
            // The rest that truncation leaves is taken out of ours: about 1e-4 of the brightness.
            assert!(
                (f64::from(ours) - number(key)).abs() < 0.03,
                "{key} at {point}: {ours}"
            );
        }
    }
}

#[test]
fn a_long_line_stands_out_against_specks_at_every_width() {
    for line_px in [2.0, 4.0, 9.0, 16.0] {
        let found = respond(&surface(360, 200, line_px, 0.5, 1.0));
        let (on, off) = on_and_off(&found);
        assert!(
            on > 3.0 * off && on > 0.4,
            "{line_px} px: {on} against {off}"
        );
        let longest = found.lines.first().expect("a line is listed");
        assert!(longest.length_px > 250.0, "{longest:?}");
    }
}

#[test]
fn brightness_hardly_matters() {
    let (a, _) = on_and_off(&respond(&surface(360, 200, 4.0, 0.5, 1.0)));
    let (b, _) = on_and_off(&respond(&surface(360, 200, 4.0, 0.5, 0.6)));
    assert!((a / b - 1.0).abs() < 0.35, "{a} against {b}");
}

#[test]
fn a_plain_surface_is_silent_and_nothing_is_no_photo() {
    let flat = respond(&RgbImage::from_pixel(120, 90, Rgb([120, 90, 60])));
    assert!(flat.response.iter().all(|v| *v < 1e-3));
    assert!(flat.lines.is_empty());
    assert!(respond(&RgbImage::new(0, 0)).response.is_empty());
    assert_eq!(respond(&RgbImage::new(1, 1)).response.len(), 1);
}

#[test]
fn the_picture_is_sixteen_bit_and_as_large_as_the_photo() {
    let found = respond(&surface(101, 67, 3.0, 0.6, 1.0));
    let picture = found.picture();
    assert_eq!(picture.dimensions(), (101, 67));
    assert!(picture.pixels().map(|p| p[0]).max() > Some(10_000));
}

/// The same steps, whichever way: sums, derivatives and smoothing are made of this.
#[test]
fn sums_of_shifted_rows_agree_with_the_plain_sum() {
    let line: Vec<f32> = (0..90_u16).map(|i| f32::from(i * 37 % 101)).collect();
    let (mut plain, mut weighted) = (vec![0.0_f32; 53], vec![0.0_f32; 53]);
    rows::plain_sum(&mut plain, &[&line[3..], &line[20..], &line[37..]]);
    rows::weighted_sum(&mut weighted, &[(0.5, &line[3..]), (-2.0, &line[20..])]);
    for x in 0..53 {
        assert_eq!(plain[x], line[3 + x] + line[20 + x] + line[37 + x]);
        assert_eq!(weighted[x], 0.5 * line[3 + x] - 2.0 * line[20 + x]);
    }
}

#[test]
fn parts_that_touch_at_a_corner_are_one_and_others_are_not() {
    // Two diagonals that meet, and a bar by itself.
    let picture = [
        "#...#......",
        ".#.#....###",
        "..#........",
        "...........",
        "#..........",
    ];
    let plane: Vec<f32> = picture
        .iter()
        .flat_map(|row| row.bytes().map(|b| f32::from(u8::from(b == b'#'))))
        .collect();
    // Weighted by the length of their part: the cross counts more than the bar, the bar more than the dot.
    let weighted = lines::by_length(&plane, 11);
    let at = |x: usize, y: usize| weighted[y * 11 + x];
    assert!(at(0, 0) > at(8, 1) && at(8, 1) > at(0, 4));
    for (x, y) in [(4, 0), (1, 1), (3, 1), (2, 2)] {
        assert_eq!(at(x, y), at(0, 0));
    }
    assert_eq!(at(5, 3), 0.0);
}

#[test]
fn a_large_photo_is_worked_on_small_and_drawn_large() {
    let (width, height) = (2300, 1800);
    let photo = surface(width, height, 8.0, 0.6, 1.0);
    let found = respond(&photo);
    assert_eq!((found.averaged, found.working_size()), (2, [1150, 900]));
    assert_eq!(found.response.len(), 1150 * 900);
    let picture = found.picture();
    assert_eq!(picture.dimensions(), (width, height));
    let on = (100..width - 100)
        .step_by(50)
        .filter(|x| {
            let y = line_at(f64::from(*x), height).round() as u32;
            picture.get_pixel(*x, y)[0] > 3 * picture.get_pixel(*x, y - 60)[0].max(1000)
        })
        .count();
    assert!(on > 35, "{on} of 42");
}

#[test]
fn stopping_stops() {
    let progress = Progress::new();
    progress.cancel();
    assert_eq!(
        dark_lines(&surface(80, 60, 3.0, 0.5, 1.0), &progress),
        Err(JointError::Cancelled)
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]
    /// A quarter turn turns the response: sixteen directions are closed under it.
    #[test]
    fn a_quarter_turn_turns_the_response(depth in 0.3..0.8_f64, line_px in 2.0..6.0_f64) {
        let photo = surface(160, 160, line_px, depth, 1.0);
        let turned = respond(&image::imageops::rotate90(&photo));
        let plain = respond(&photo);
        let mut sum = 0.0_f32;
        for y in 0..160_usize {
            for x in 0..160_usize {
                let a = plain.response[y * 160 + x];
                let b = turned.response[x * 160 + 159 - y];
                sum += (a - b).abs();
            }
        }
        // A part that a rounding error splits may weigh otherwise: the mean tells.
        prop_assert!(sum / (160.0 * 160.0) < 0.005, "{}", sum);
    }

    #[test]
    fn threads_do_not_change_the_result(depth in 0.2..0.8_f64) {
        let photo = surface(120, 90, 3.0, depth, 1.0);
        let with = |n| rayon::ThreadPoolBuilder::new().num_threads(n).build().unwrap().install(|| respond(&photo));
        prop_assert_eq!(with(1), with(3));
    }
}
