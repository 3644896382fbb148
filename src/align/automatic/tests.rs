use image::Luma;
use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;

use super::*;
use crate::register::Plane;
use euclid::Point2D;

/// An invented board: lands, bodies and tracks in random places.
fn board(seed: u64) -> GrayImage {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut image = GrayImage::from_pixel(800, 600, Luma([70]));
    for _ in 0..260 {
        let (x, y) = (rng.random_range(20..740i32), rng.random_range(20..540i32));
        let value = Luma([rng.random_range(10..=250u8)]);
        if rng.random_range(0..3) == 0 {
            imageproc::drawing::draw_filled_circle_mut(
                &mut image,
                (x, y),
                rng.random_range(3..12),
                value,
            );
        } else {
            let size = (rng.random_range(4..50u32), rng.random_range(4..30u32));
            let rect = imageproc::rect::Rect::at(x, y).of_size(size.0, size.1);
            imageproc::drawing::draw_filled_rect_mut(&mut image, rect, value);
        }
    }
    imageproc::filter::gaussian_blur_f32(&image, 1.0)
}

/// `image` as another camera has it: where `view` puts it, darker towards the right, with noise.
fn seen(image: &GrayImage, view: &AtoB, seed: u64) -> GrayImage {
    let back = view.inverse().unwrap();
    let plane = Plane::from_gray(image);
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    GrayImage::from_fn(900, 700, |x, y| {
        let at = back.apply(Point2D::new(f64::from(x), f64::from(y)));
        let value = at.and_then(|at| plane.sample(at.x, at.y)).unwrap_or(0.35);
        let light = 1.0 - 0.3 * x as f32 / 900.0;
        Luma([(value * light * 255.0 + rng.random_range(-4.0..4.0f32)).clamp(0.0, 255.0) as u8])
    })
}

/// The same through a lens.
fn bent(image: &GrayImage, k: f64) -> GrayImage {
    let lens = Lens::new(image.dimensions().into(), k).unwrap();
    let plane = Plane::from_gray(image);
    GrayImage::from_fn(image.width(), image.height(), |x, y| {
        let at: Point2D<f64, PhotoB> = Point2D::new(f64::from(x), f64::from(y));
        let flat = lens.straight(at).unwrap();
        let value = plane.sample(flat.x, flat.y).unwrap_or(0.35);
        Luma([(value * 255.0) as u8])
    })
}

/// A turn of `degrees` about the middle at `scale`, slightly tilted.
fn view(degrees: f64, scale: f64) -> AtoB {
    let (sin, cos) = degrees.to_radians().sin_cos();
    let (s, c) = (sin * scale, cos * scale);
    let tilt: AtoB =
        Homography::from_rows([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [4e-5, -3e-5, 1.0]]).unwrap();
    let turn: Homography<PhotoB, PhotoB> = Homography::from_rows([
        [c, -s, 450.0 - c * 400.0 + s * 300.0],
        [s, c, 350.0 - s * 400.0 - c * 300.0],
        [0.0, 0.0, 1.0],
    ])
    .unwrap();
    tilt.then(&turn).unwrap()
}

fn align(a: &GrayImage, b: &GrayImage) -> Result<AutoAlignment, Refusal> {
    automatic(a, b, &Progress::new())
}

#[test]
fn turned_scaled_and_relit_boards_are_found_to_a_fraction_of_a_pixel() {
    let reference = board(1);
    for (degrees, scale) in [(0.0, 1.0), (37.0, 0.9), (180.0, 0.7), (268.0, 0.55)] {
        let truth = view(degrees, scale);
        let fit = align(&reference, &seen(&reference, &truth, 5)).unwrap();
        for (x, y) in [
            (100.0, 100.0),
            (400.0, 300.0),
            (700.0, 500.0),
            (100.0, 500.0),
        ] {
            let at = Point2D::new(x, y);
            let off = (fit.homography.apply(at).unwrap() - truth.apply(at).unwrap()).length();
            assert!(off < 0.5, "{degrees} degrees: {off} px at {at:?}");
        }
        assert!(
            fit.trust.agreement > 0.8 && fit.expected_error_px < 1.0,
            "{fit:?}"
        );
    }
}

#[test]
fn a_lens_is_told_apart_from_that_of_the_reference() {
    let (reference, view) = (board(1), view(12.0, 0.95));
    let photo = bent(&seen(&reference, &view, 5), -0.03);
    let bent_reference = bent(&reference, 0.02);
    let lens = Lens::new(reference.dimensions().into(), 0.02).unwrap();
    let plain = automatic(&reference, &photo, &Progress::new()).unwrap();
    let through = automatic_with(
        &Known {
            photo: &bent_reference,
            lens: Some(&lens),
            on_board: None,
        },
        &photo,
        &Progress::new(),
    )
    .unwrap();
    for (fit, lens) in [(plain, None), (through, Some(&lens))] {
        let found = fit.bent.unwrap();
        assert!((found.lens.k() + 0.03).abs() < 0.003, "{:?}", found.lens);
        for (x, y) in [
            (100.0, 100.0),
            (400.0, 300.0),
            (650.0, 450.0),
            (150.0, 480.0),
        ] {
            let flat = Point2D::new(x, y);
            let from = lens.map_or(flat, |lens| lens.bend(flat).unwrap());
            let truth = Lens::new(photo.dimensions().into(), -0.03).unwrap();
            let truth = truth.bend(view.apply(flat).unwrap()).unwrap();
            let off = (found.apply(lens, from).unwrap() - truth).length();
            assert!(off < 0.5, "{off} px at {flat:?}");
        }
    }
    let straight = seen(&reference, &view, 6);
    let none = automatic(&reference, &straight, &Progress::new()).unwrap();
    assert_eq!(none.bent, None);
}

#[test]
fn what_is_not_the_same_board_is_refused() {
    let reference = board(1);
    let truth = view(10.0, 0.9);
    let other = seen(&board(2), &truth, 6);
    let mirrored = image::imageops::flip_horizontal(&seen(&reference, &truth, 7));
    let refusal = align(&reference, &other).unwrap_err();
    assert!(
        matches!(refusal.kind, Kind::NoMatch | Kind::NotTrusted),
        "{refusal}"
    );
    assert!(refusal.remedy.contains("click four landmarks"));
    let refusal = align(&reference, &mirrored).unwrap_err();
    assert_eq!(refusal.kind, Kind::Mirrored, "{refusal}");
    let blank = GrayImage::from_pixel(400, 300, Luma([128]));
    assert_eq!(align(&reference, &blank).unwrap_err().kind, Kind::NoDetail);
    let dot = GrayImage::from_pixel(1, 1, Luma([128]));
    assert_eq!(align(&dot, &reference).unwrap_err().kind, Kind::NoDetail);
}

#[test]
fn half_a_board_that_moved_is_not_trusted_as_a_whole() {
    // Left half as it was, right half of another board: the fit may hold, the coverage must say so.
    let (one, two) = (board(1), board(3));
    let mixed = GrayImage::from_fn(800, 600, |x, y| {
        *(if x < 200 { &one } else { &two }).get_pixel(x, y)
    });
    match align(&one, &mixed) {
        Err(refusal) => assert!(matches!(refusal.kind, Kind::NotTrusted | Kind::NoMatch)),
        Ok(fit) => assert!(fit.trust.extent < 0.5 && fit.trust.detail < 0.5, "{fit:?}"),
    }
}

#[test]
fn a_part_of_another_board_is_named_and_the_same_board_is_not() {
    let (one, two) = (board(1), board(3));
    let mixed = GrayImage::from_fn(800, 600, |x, y| {
        *(if x < 500 { &one } else { &two }).get_pixel(x, y)
    });
    let truth = view(25.0, 0.9);
    let fit = align(&one, &seen(&mixed, &truth, 5)).unwrap();
    let region = fit.differs.first().expect("the right part is another");
    assert!(
        region.left > 400.0 && region.right > 700.0 && region.bottom - region.top > 300.0,
        "{region:?}"
    );
    assert!(region.same * 2 < region.compared, "{region:?}");
    let fit = align(&one, &seen(&one, &truth, 5)).unwrap();
    assert_eq!(fit.differs, []);
}

#[test]
fn a_row_without_an_end_in_sight_is_never_trusted() {
    // Lands at one pitch from rim to rim: each place looks like the next.
    let row = |shift: i32| {
        let mut image = GrayImage::from_pixel(800, 600, Luma([60]));
        for y in (0..700).step_by(50) {
            for x in (-100..1000).step_by(50) {
                imageproc::drawing::draw_filled_circle_mut(
                    &mut image,
                    (x + shift, y),
                    14,
                    Luma([210]),
                );
                imageproc::drawing::draw_filled_circle_mut(
                    &mut image,
                    (x + shift + 5, y),
                    5,
                    Luma([20]),
                );
            }
        }
        imageproc::filter::gaussian_blur_f32(&image, 1.0)
    };
    let answer = align(&row(0), &row(20));
    assert!(answer.is_err(), "{answer:?}");
}

#[test]
fn the_answer_is_the_same_for_any_number_of_threads_and_can_be_stopped() {
    let reference = board(1);
    let photo = seen(&reference, &view(20.0, 0.8), 9);
    let many = align(&reference, &photo).unwrap();
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(1)
        .build()
        .unwrap();
    assert_eq!(pool.install(|| align(&reference, &photo)).unwrap(), many);
    let progress = Progress::new();
    progress.cancel();
    let refusal = automatic(&reference, &photo, &progress).unwrap_err();
    assert_eq!(refusal.kind, Kind::Cancelled);
}

/// A board of which the cells that `is_tall` picks stand above it: a camera that moved sees them
/// `lean` px further on.
fn with_tall_parts(lean: [u32; 2], seed: u64, is_tall: impl Fn(u32, u32) -> bool) -> GrayImage {
    const CELL: u32 = 60;
    let (low, high) = (board(21), board(22));
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    GrayImage::from_fn(800, 600, |x, y| {
        let top = (x.checked_sub(lean[0])).zip(y.checked_sub(lean[1]));
        let tall = top.filter(|(x, y)| is_tall(x / CELL, y / CELL));
        let value = match tall {
            Some((x, y)) => high.get_pixel(x, y),
            None => low.get_pixel(x, y),
        };
        let grain: i16 = rng.random_range(-4..=4);
        Luma([(i16::from(value.0[0]) + grain).clamp(0, 255) as u8])
    })
}

#[test]
fn two_levels_that_hold_as_much_are_refused_by_name_and_one_that_holds_less_is_not_taken() {
    let half = |x: u32, y: u32| (x + y).is_multiple_of(2);
    let flat = with_tall_parts([0, 0], 1, half);
    let leaning = with_tall_parts([7, 4], 2, half);
    let refusal = align(&flat, &leaning).unwrap_err();
    assert_eq!(refusal.kind, Kind::NotTrusted);
    assert!(refusal.reason.contains("two levels"), "{refusal}");

    let few = |x: u32, y: u32| x.is_multiple_of(4) && y.is_multiple_of(2);
    let flat = with_tall_parts([0, 0], 1, few);
    let leaning = with_tall_parts([7, 4], 2, few);
    let found = align(&flat, &leaning).unwrap();
    for (x, y) in [(150.0, 150.0), (400.0, 300.0), (650.0, 450.0)] {
        let at = found.homography.apply(Point2D::new(x, y)).unwrap();
        let off = (at - Point2D::new(x, y)).length();
        assert!(off < 1.0, "{off} px at {x} {y}");
    }
}

/// A corner of one board laid on four others, which stand for a busy table; turned by a quarter or
/// not.
fn on_table(at: (i64, i64), turned: bool) -> GrayImage {
    let mut table = GrayImage::new(1600, 1200);
    for (k, place) in [(0, 0), (800, 0), (0, 600), (800, 600)]
        .into_iter()
        .enumerate()
    {
        image::imageops::overlay(&mut table, &board(9 + k as u64), place.0, place.1);
    }
    let small = image::imageops::crop_imm(&board(1), 0, 0, 420, 320).to_image();
    let small = if turned {
        image::imageops::rotate90(&small)
    } else {
        small
    };
    image::imageops::overlay(&mut table, &small, at.0, at.1);
    table
}

#[test]
fn a_board_that_was_moved_on_its_table_is_found_where_it_is_known_to_be() {
    let (reference, photo) = (on_table((80, 60), false), on_table((1100, 700), true));
    let on_board =
        |at: Point2D<f64, PhotoA>| (80.0..500.0).contains(&at.x) && (60.0..380.0).contains(&at.y);
    // A quarter turn takes (x, y) of the board to (319 - y, x).
    let truth = AtoB::from_rows([
        [0.0, -1.0, 1100.0 + 319.0 + 60.0],
        [1.0, 0.0, 700.0 - 80.0],
        [0.0, 0.0, 1.0],
    ])
    .unwrap();
    let known = Known {
        photo: &reference,
        lens: None,
        on_board: Some(&on_board),
    };
    let found = automatic_with(&known, &photo, &Progress::new()).unwrap();
    for (x, y) in [(90.0, 70.0), (480.0, 70.0), (480.0, 370.0), (250.0, 200.0)] {
        let at = Point2D::new(x, y);
        let off = (found.homography.apply(at).unwrap() - truth.apply(at).unwrap()).length();
        assert!(off < 0.6, "{off} px at {x}, {y}");
    }
    // Without knowing the board it is the table that fits.
    if let Ok(table) = align(&reference, &photo) {
        let at = Point2D::new(250.0, 200.0);
        let off = table.homography.apply(at).unwrap() - truth.apply(at).unwrap();
        assert!(off.length() > 100.0, "{off:?}");
    }
}

#[test]
fn a_photo_that_is_all_board_is_left_as_it_is() {
    let reference = board(1);
    let photo = seen(&reference, &view(20.0, 0.9), 3);
    let everywhere = |_: Point2D<f64, PhotoA>| true;
    let nowhere = |_: Point2D<f64, PhotoA>| false;
    let plain = align(&reference, &photo).unwrap();
    for on_board in [&everywhere as OnBoard, &nowhere] {
        let known = Known {
            photo: &reference,
            lens: None,
            on_board: Some(on_board),
        };
        assert_eq!(
            automatic_with(&known, &photo, &Progress::new()).unwrap(),
            plain
        );
    }
}
