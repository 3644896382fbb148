use std::path::{Path, PathBuf};

use benchglass::board::Side;
use benchglass::desk::Desk;
use benchglass::geometry::{BoardPoint, PhotoPoint};
use benchglass::record::{PhotoState, Unit, View};
use benchglass::work::Session;
use eframe::egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use image::{Rgb, RgbImage};
use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;

use super::bench::{
    LANDMARKS, at_home, click_photo, job_with, map, on_photo, press, press_with, settle,
};
use super::round::opened;

/// Turn and scale of the second photo against the first.
const TURN_DEG: f64 = 7.0;
const SCALE: f64 = 0.94;

/// The whole board at 20 px/mm: lands, legends and tracks in invented places.
fn busy_board() -> RgbImage {
    let mut rng = ChaCha8Rng::seed_from_u64(4);
    let mut image = RgbImage::from_pixel(720, 520, Rgb([40, 85, 45]));
    for _ in 0..240 {
        let at = (rng.random_range(10..690), rng.random_range(10..490));
        let level = rng.random_range(10..=240u8);
        let colour = Rgb([level, level, level / 2 + 60]);
        if rng.random_range(0..3) == 0 {
            let radius = rng.random_range(3..11);
            imageproc::drawing::draw_filled_circle_mut(&mut image, at, radius, colour);
        } else {
            let size = (rng.random_range(4..46u32), rng.random_range(4..28u32));
            let rect = imageproc::rect::Rect::at(at.0, at.1).of_size(size.0, size.1);
            imageproc::drawing::draw_filled_rect_mut(&mut image, rect, colour);
        }
    }
    imageproc::filter::gaussian_blur_f32(&image, 1.0)
}

/// Where a place of the first photo lies on the second.
fn on_second(at: PhotoPoint) -> PhotoPoint {
    let (sin, cos) = TURN_DEG.to_radians().sin_cos();
    let from = at - PhotoPoint::new(360.0, 260.0);
    PhotoPoint::new(
        380.0 + SCALE * (cos * from.x - sin * from.y),
        280.0 + SCALE * (sin * from.x + cos * from.y),
    )
}

/// The same board from another place, a little darker.
fn second(of: &RgbImage) -> RgbImage {
    let (sin, cos) = TURN_DEG.to_radians().sin_cos();
    RgbImage::from_fn(760, 560, |x, y| {
        let to = PhotoPoint::new(f64::from(x), f64::from(y)) - PhotoPoint::new(380.0, 280.0);
        let (x, y) = (
            360.0 + (cos * to.x + sin * to.y) / SCALE,
            260.0 + (cos * to.y - sin * to.x) / SCALE,
        );
        let inside = x >= 0.0 && y >= 0.0 && x < 719.0 && y < 519.0;
        let mut pixel = [70.0f32; 3];
        if inside {
            let (x0, y0) = (x as u32, y as u32);
            let (fx, fy) = (x.fract() as f32, y.fract() as f32);
            for (channel, value) in pixel.iter_mut().enumerate() {
                let at = |dx, dy| f32::from(of.get_pixel(x0 + dx, y0 + dy).0[channel]);
                *value = (at(0, 0) * (1.0 - fx) + at(1, 0) * fx) * (1.0 - fy)
                    + (at(0, 1) * (1.0 - fx) + at(1, 1) * fx) * fy;
            }
        }
        Rgb(pixel.map(|value| (value * 0.9) as u8))
    })
}

fn photos(folder: &Path) -> (PathBuf, PathBuf) {
    let (first, other) = (folder.join("first.png"), folder.join("second.png"));
    let board = busy_board();
    board.save(&first).unwrap();
    second(&board).save(&other).unwrap();
    (first, other)
}

fn drop_in(window: &mut Harness<'static, Desk>, photo: &Path) {
    let ctx = window.ctx.clone();
    window
        .state_mut()
        .photos_came(&ctx, vec![photo.to_path_buf()]);
    settle(window);
}

fn recorded(dir: &Path, name: &str) -> PhotoState {
    let session = Session::read(dir).unwrap();
    let photos = &session.state().photos;
    let photo = photos.values().find(|photo| photo.facts.name == name);
    photo.unwrap().clone()
}

/// How far off the second photo's alignment puts the corners of the board, px.
fn worst_px(photo: &PhotoState) -> f64 {
    let alignment = photo.alignment().expect("it lies on the map");
    LANDMARKS
        .iter()
        .map(|(_, mm)| {
            let at = BoardPoint::new(mm[0], mm[1]);
            let found = alignment.projection.apply(at).unwrap();
            (found - on_second(on_photo(*mm))).length()
        })
        .fold(0.0, f64::max)
}

/// A photo that is dropped on a job with an aligned one lies on the map by itself, says how far
/// it is to be believed, and is taken back like anything else: then it stays where it is.
#[test]
fn a_dropped_photo_finds_its_place_as_a_proposal_that_can_be_taken_back() {
    at_home(
        "matching::a_dropped_photo_finds_its_place_as_a_proposal_that_can_be_taken_back",
        |folder| {
            let (first, second) = photos(folder);
            let dir = job_with(folder, "FH12-0900", &first, true);
            let mut window = opened(&dir);
            drop_in(&mut window, &second);
            window.get_by_label_contains(
                "second.png was laid on the map by itself, matched with first.png: trust",
            );
            let photo = recorded(&dir, "second.png");
            let matched = photo.alignment().unwrap().automatic.clone().unwrap();
            assert!(matched.trust > 0.5, "{matched:?}");
            let off = worst_px(&photo);
            assert!(off < 2.0, "{off} px: a tenth of a millimetre");

            // On the table it says so as long as it stands.
            press(&mut window, Key::CloseBracket);
            window.get_by_label_contains("laid by itself, trust");
            press(&mut window, Key::K);
            window.get_by_label_contains("Laid on the map by itself, matched with first.png");
            press(&mut window, Key::Escape);

            press_with(&mut window, Modifiers::COMMAND, Key::Z);
            window.get_by_label_contains("Undone: Photo");
            assert!(recorded(&dir, "second.png").alignment().is_none());
            window.get_by_label("find its place");
            let words = window
                .get_by_label_contains("does not show this joint")
                .rect();
            assert!(
                words.left() > 730.0 && words.right() < 1000.0,
                "wrapped where the joint would stand: {words:?}"
            );
            // Asked for again, and stopped: nothing is laid, and nobody is told off.
            window.key_press_modifiers(Modifiers::SHIFT, Key::K);
            window.run_steps(3);
            window.get_by_label_contains(benchglass::desk::MATCHING);
            window.get_by_label("Stop").click();
            settle(&mut window);
            assert!(recorded(&dir, "second.png").alignment().is_none());
            assert!(
                window
                    .query_by_label_contains("did not find its place")
                    .is_none()
            );
        },
    );
}

/// What is no photo of this board is not laid on it: why, and what to do instead.
#[test]
fn a_photo_that_cannot_be_matched_says_why_and_leads_to_landmarks() {
    at_home(
        "matching::a_photo_that_cannot_be_matched_says_why_and_leads_to_landmarks",
        |folder| {
            let (first, _) = photos(folder);
            let blank = folder.join("label.png");
            RgbImage::from_pixel(400, 300, Rgb([90, 90, 90]))
                .save(&blank)
                .unwrap();
            let dir = job_with(folder, "FH12-0900", &first, true);
            let mut window = opened(&dir);
            drop_in(&mut window, &blank);
            window.get_by_label_contains(
                "label.png did not find its place on the map, against first.png:",
            );
            window.get_by_label("Place landmarks on it (K) instead.");
            assert!(recorded(&dir, "label.png").alignment().is_none());
            let photo = recorded(&dir, "label.png").facts.photo;
            window.state_mut().model.bench.as_mut().unwrap().photo = Some(photo);
            press(&mut window, Key::K);
            window.get_by_label_contains("It did not find its place by itself:");
            window.get_by_label_contains("What to do:");
            window.get_by_label("It shows");
        },
    );
}

/// The second unit of a model needs no landmarks: the first one's photo is enough. And a photo
/// that a person laid stays as the person laid it.
#[test]
fn a_photo_is_matched_with_one_of_another_unit_of_the_model() {
    at_home(
        "matching::a_photo_is_matched_with_one_of_another_unit_of_the_model",
        |folder| {
            let (first, second) = photos(folder);
            let shelf = folder.join("shelf");
            std::fs::create_dir_all(&shelf).unwrap();
            let reference = job_with(&shelf, "FH12-0455", &first, true);
            let dir = folder.join("FH12-0900");
            let unit = Unit {
                code: "FH12-0900".to_owned(),
                model: "Fernhollow FH-12".to_owned(),
                complaint: String::new(),
            };
            drop(Session::begin(&dir, unit, &[map(&folder.join("main.json"))], "tester").unwrap());
            let mut window = opened(&reference);
            press_with(&mut window, Modifiers::SHIFT, Key::K);
            window.get_by_label("first.png was laid on the map by a person, and stays as it is.");

            let ctx = window.ctx.clone();
            window.state_mut().open_job(&ctx, &dir);
            settle(&mut window);
            drop_in(&mut window, &second);
            window.get_by_label_contains("matched with first.png of unit FH12-0455: trust");
            let photo = recorded(&dir, "second.png");
            let solder = View {
                board: "main".to_owned(),
                side: Side::Solder,
            };
            assert_eq!(photo.alignment().unwrap().view, solder);
            let off = worst_px(&photo);
            assert!(off < 2.0, "{off} px: a tenth of a millimetre");
            // The round is there at once, with the joints on the photo.
            window.get_by_label_contains("J1.1 on the glass, photographed at 19");
            click_photo(&mut window, on_second(on_photo(super::bench::PINS[2])));
            window.get_by_label_contains("J1.3 on the glass");
        },
    );
}
