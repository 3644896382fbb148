use benchglass::board::Side;
use benchglass::desk::Desk;
use benchglass::geometry::PhotoPoint;
use benchglass::record::{FaultKind, JointKey, Subject, Target, Verdict};
use benchglass::work::Session;
use eframe::egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use std::path::Path;

use super::bench::{
    LANDMARKS, PINS, at_home, click_photo, job, on_photo, press, press_with, settle, window, write,
};

pub(crate) fn opened(dir: &Path) -> Harness<'static, Desk> {
    let mut window = window([1280.0, 800.0]);
    let ctx = window.ctx.clone();
    window.state_mut().open_job(&ctx, dir);
    settle(&mut window);
    window
}

fn verdict(dir: &Path, pin: usize) -> Option<Verdict> {
    let session = Session::read(dir).unwrap();
    session.state().joint(&key(pin)).verdict
}

fn key(pin: usize) -> JointKey {
    JointKey {
        board: "main".to_owned(),
        pin: format!("j1-{pin}"),
        side: Side::Solder,
    }
}

#[test]
fn landmarks_are_clicked_judged_and_accepted() {
    at_home(
        "round::landmarks_are_clicked_judged_and_accepted",
        |folder| {
            let dir = job(folder, false);
            let mut window = opened(&dir);
            press(&mut window, Key::K);
            window.get_by_label("Landmark hole A");
            for (_, at) in &LANDMARKS[..3] {
                click_photo(&mut window, on_photo(*at));
            }
            window.get_by_label_contains("landmarks, on average");
            // The fourth in the wrong place: refused or named before anything is recorded.
            click_photo(&mut window, on_photo([20.0, 5.0]));
            window.get_by_label_contains("This cannot be right");
            assert!(window.query_by_label("Lay the photo on the map").is_none());
            window.get_by_label("Landmark hole D").click();
            window.run_steps(2);
            click_photo(&mut window, on_photo(LANDMARKS[3].1));
            window.get_by_label("Lay the photo on the map").click();
            settle(&mut window);

            let session = Session::read(&dir).unwrap();
            let photo = session.state().photos.values().next().unwrap();
            let alignment = photo.alignment().expect("recorded");
            assert_eq!(alignment.landmarks.len(), 4);
            assert!(
                (alignment.px_per_mm - 20.0).abs() < 0.3,
                "{}",
                alignment.px_per_mm
            );
            window.get_by_label_contains(
                "J1.1 on the glass, photographed at 20 pixels per millimetre",
            );
        },
    );
}

#[test]
fn a_click_beside_a_hole_moves_to_its_middle_and_can_be_told_not_to() {
    at_home(
        "round::a_click_beside_a_hole_moves_to_its_middle_and_can_be_told_not_to",
        |folder| {
            let dir = job(folder, false);
            let mut window = opened(&dir);
            press(&mut window, Key::K);
            let beside = |hole: usize| on_photo(LANDMARKS[hole].1) + euclid::vec2(5.0, -4.0);
            click_photo(&mut window, beside(0));
            window.get_by_label_contains("hole A moved");
            window
                .get_by_label("Move a click to the middle of the hole or land there")
                .click();
            window.run_steps(2);
            click_photo(&mut window, beside(1));
            click_photo(&mut window, on_photo(LANDMARKS[2].1));
            click_photo(&mut window, on_photo(LANDMARKS[3].1));
            // All are placed: a stray click moves none of them.
            window.get_by_label("Every landmark of the map is placed.");
            click_photo(&mut window, on_photo([12.0, 20.0]));
            window.get_by_label_contains("No landmark is left to place");
            window.get_by_label("Lay the photo on the map").click();
            settle(&mut window);

            let session = Session::read(&dir).unwrap();
            let photo = session.state().photos.values().next().unwrap();
            let placed = &photo.alignment().expect("recorded").landmarks;
            let off = |hole: usize| {
                let (name, at) = LANDMARKS[hole];
                let mark = placed.iter().find(|mark| mark.name == name).unwrap();
                (PhotoPoint::from(mark.at_px) - on_photo(at)).length()
            };
            assert!(off(0) < 0.5, "moved to within {} px", off(0));
            assert!(off(1) > 5.0, "left {} px beside", off(1));
        },
    );
}

#[test]
fn a_round_is_walked_by_keys_and_the_journal_has_it() {
    at_home(
        "round::a_round_is_walked_by_keys_and_the_journal_has_it",
        |folder| {
            let dir = job(folder, true);
            let mut window = opened(&dir);
            press(&mut window, Key::N);
            assert_eq!(verdict(&dir, 1), Some(Verdict::NoFaultSeen));
            press(&mut window, Key::S);
            assert_eq!(verdict(&dir, 2), Some(Verdict::Suspect));
            press(&mut window, Key::F);
            window.get_by_label("solder bridge");
            press(&mut window, Key::F);
            assert_eq!(verdict(&dir, 3), Some(Verdict::Faulty));
            press(&mut window, Key::C);
            write(&mut window, "under K3");
            press(&mut window, Key::Enter);
            let session = Session::read(&dir).unwrap();
            let state = session.state();
            assert_eq!(state.joint(&key(3)).faults[0].fault, FaultKind::Fractured);
            let fourth = state.place(&Target::Joint(key(4))).unwrap();
            assert_eq!(
                (fourth.verdict, fourth.obstacle.as_str()),
                (Verdict::CannotBeJudged, "under K3")
            );
            let scale = state.joint(&key(1)).look.px_per_mm().unwrap();
            assert!((scale - 20.0).abs() < 0.3, "{scale}");

            // Undo and redo in words.
            press_with(&mut window, Modifiers::COMMAND, Key::Z);
            assert_eq!(verdict(&dir, 4), None);
            window.get_by_label_contains("Undone: main:J1.4/solder");
            press_with(&mut window, Modifiers::COMMAND | Modifiers::SHIFT, Key::Z);
            assert_eq!(verdict(&dir, 4), Some(Verdict::CannotBeJudged));
            window.get_by_label_contains("Redone: main:J1.4/solder");

            // Typing a reference; a cleared mark wants a word; the whole row at once.
            press(&mut window, Key::Slash);
            write(&mut window, "j1.2");
            press(&mut window, Key::Enter);
            window.get_by_label_contains("J1.2 on the glass");
            press(&mut window, Key::N);
            assert_eq!(
                verdict(&dir, 2),
                Some(Verdict::Suspect),
                "not without a word"
            );
            write(&mut window, "a reflection, gone with the lamp moved");
            press(&mut window, Key::Enter);
            assert_eq!(verdict(&dir, 2), Some(Verdict::NoFaultSeen));
            press(&mut window, Key::R);
            window.get_by_label_contains("4 joints of J1");
            press(&mut window, Key::S);
            assert!((1..=4).all(|pin| verdict(&dir, pin) == Some(Verdict::Suspect)));

            // The table leads as well.
            click_photo(&mut window, on_photo(PINS[0]));
            window.get_by_label_contains("J1.1 on the glass");
        },
    );
}

#[test]
fn readings_gate_and_slip_are_pages() {
    at_home("round::readings_gate_and_slip_are_pages", |folder| {
        let dir = job(folder, true);
        let mut window = opened(&dir);
        press(&mut window, Key::F);
        press(&mut window, Key::B);
        press(&mut window, Key::V);
        window.get_by_label("+5 V, at J1.1 to J1.2 ohm").focus();
        window.run_steps(2);
        write(&mut window, "640");
        press(&mut window, Key::Enter);
        window.get_by_label_contains("640 ohm, within its limits");
        window.get_by_label("plug and its fuse: in order").click();
        settle(&mut window);
        let session = Session::read(&dir).unwrap();
        let subject = session.state().measurements.keys().next().unwrap();
        assert!(matches!(subject, Subject::Rail { rail, .. } if rail == "+5 V"));
        assert_eq!(session.state().checks.len(), 1);

        press(&mut window, Key::Escape);
        press(&mut window, Key::G);
        window.get_by_label("Gate: FH12-0900");
        window.get_by_label_contains("J1.1");
        press(&mut window, Key::Escape);
        press(&mut window, Key::I);
        window.get_by_label("Rework slip: FH12-0900");
        window.get_by_label("Solder bridge.");
        window
            .get_by_label("Write the slip: HTML, CSV, JSON")
            .click();
        settle(&mut window);
        let written = dir.join("exports/FH12-0900-slip.html");
        assert!(std::fs::read_to_string(written).unwrap().contains("J1.1"));
        window.get_by_label_contains("The slip with 1 line is written");
        press(&mut window, Key::F1);
        window.get_by_label_contains("Esc leads back");
    });
}

/// Larger text goes on in more rows; every judging key stays within the window.
#[test]
fn at_twice_the_text_size_nothing_that_is_pressed_leaves_the_window() {
    at_home(
        "round::at_twice_the_text_size_nothing_that_is_pressed_leaves_the_window",
        |folder| {
            let dir = job(folder, true);
            let mut window = opened(&dir);
            for _ in 0..10 {
                press_with(&mut window, Modifiers::COMMAND, Key::Plus);
            }
            assert!((window.state().model.look.text_scale - 2.0).abs() < 1e-3);
            for label in [
                "readings",
                "gate",
                "slip",
                "landmarks",
                "all keys",
                "closed up",
                "Next photo",
            ] {
                let rect = window.get_by_label(label).rect();
                assert!(
                    rect.left() >= 0.0 && rect.right() <= 1280.0,
                    "{label}: {rect:?}"
                );
            }
        },
    );
}

/// No word of any page is cut off at the window's right edge, at the largest text.
#[test]
fn no_page_is_wider_than_the_window_at_twice_the_text_size() {
    at_home(
        "round::no_page_is_wider_than_the_window_at_twice_the_text_size",
        |folder| {
            let dir = job(folder, true);
            let mut window = opened(&dir);
            press(&mut window, Key::F);
            press(&mut window, Key::B);
            for _ in 0..10 {
                press_with(&mut window, Modifiers::COMMAND, Key::Plus);
            }
            let pages = [Key::K, Key::V, Key::G, Key::I, Key::F1];
            assert_inside(&window, "table");
            for page in pages {
                press(&mut window, page);
                assert_inside(&window, page.name());
                press(&mut window, Key::Escape);
            }
            press(&mut window, Key::F);
            assert_inside(&window, "faults");
            let ctx = window.ctx.clone();
            window.state_mut().model.bench = None;
            window.state_mut().model.page = benchglass::desk::model::Page::Start;
            settle(&mut window);
            assert_inside(&window, "start");
            window
                .state_mut()
                .photos_came(&ctx, vec![folder.join("solder.png")]);
            settle(&mut window);
            assert_inside(&window, "new job");
        },
    );
}

fn assert_inside(window: &Harness<'static, Desk>, page: &str) {
    let words = window.query_all(egui_kittest::kittest::By::new().predicate(|node| {
        node.label().is_some_and(|label| !label.trim().is_empty())
            || node.value().is_some_and(|value| !value.trim().is_empty())
    }));
    let mut counted = 0;
    for node in words {
        let Some(bounds) = node.accesskit_node().bounding_box() else {
            continue;
        };
        counted += 1;
        assert!(
            bounds.x0 >= -0.5 && bounds.x1 <= 1280.5,
            "{page}: {:?} from {} to {}",
            node.accesskit_node()
                .label()
                .or(node.accesskit_node().value()),
            bounds.x0,
            bounds.x1
        );
    }
    assert!(counted > 5, "{page}: {counted}");
}
