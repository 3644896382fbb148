use benchglass::desk::model::Page;
use benchglass::record::{FaultKind, Target};
use benchglass::work::Session;
use eframe::egui::{Key, Modifiers, accesskit::Role};
use egui_kittest::kittest::Queryable as _;

use super::bench::{at_home, draw, job, on_photo, photo, press, press_with, settle, window, write};
use super::round::opened;

fn faulty(dir: &std::path::Path) -> Vec<(Target, FaultKind)> {
    let session = Session::read(dir).unwrap();
    session
        .state()
        .places
        .values()
        .map(|place| (place.target.clone(), place.faults[0].fault))
        .collect()
}

#[test]
fn a_part_is_marked_as_a_whole() {
    at_home("marks::a_part_is_marked_as_a_whole", |folder| {
        let dir = job(folder, true);
        let mut window = opened(&dir);
        press(&mut window, Key::M);
        window.get_by_label("Which fault of the whole of J1?");
        window.get_by_label("cracked header").click();
        settle(&mut window);
        let wanted = Target::Part {
            board: "main".to_owned(),
            part: "j1".to_owned(),
        };
        assert_eq!(faulty(&dir), [(wanted, FaultKind::CrackedHeader)]);
    });
}

#[test]
fn something_that_is_on_no_photo_is_marked_in_words() {
    at_home(
        "marks::something_that_is_on_no_photo_is_marked_in_words",
        |folder| {
            let dir = job(folder, true);
            let mut window = opened(&dir);
            press_with(&mut window, Modifiers::SHIFT, Key::M);
            window
                .get_by_role_and_label(Role::TextInput, "On what? (mains cord, plug, case…)")
                .focus();
            window.run_steps(2);
            write(&mut window, "mains cord");
            window
                .get_by_role_and_label(Role::TextInput, "Press its letter, or find it:")
                .focus();
            window.run_steps(2);
            write(&mut window, "cord");
            window.get_by_label("damaged cord or wiring");
            press(&mut window, Key::Enter);
            let wanted = Target::Unit {
                what: "mains cord".to_owned(),
            };
            assert_eq!(faulty(&dir), [(wanted, FaultKind::DamagedCord)]);
        },
    );
}

/// Drawn in photo pixels, recorded in millimetres of the board.
#[test]
fn an_area_is_drawn_with_shift_held() {
    at_home("marks::an_area_is_drawn_with_shift_held", |folder| {
        let dir = job(folder, true);
        let mut window = opened(&dir);
        draw(&mut window, on_photo([12.0, 8.0]), on_photo([20.0, 4.0]));
        window.get_by_label("Which fault of the area that you drew?");
        window.get_by_label("corrosion").click();
        settle(&mut window);
        let marks = faulty(&dir);
        let [(Target::Area { view, from, to }, FaultKind::Corroded)] = marks.as_slice() else {
            panic!("{marks:?}")
        };
        assert_eq!(view.board, "main");
        let (low, high) = (
            [from[0].min(to[0]), from[1].min(to[1])],
            [from[0].max(to[0]), from[1].max(to[1])],
        );
        for (got, wanted) in low.iter().chain(&high).zip([12.0, 4.0, 20.0, 8.0]) {
            assert!((got - wanted).abs() < 0.3, "{from:?} {to:?}");
        }
    });
}

/// Aids change what is shown and nothing that is kept.
#[test]
fn viewing_aids_leave_the_original_as_it_was() {
    at_home(
        "marks::viewing_aids_leave_the_original_as_it_was",
        |folder| {
            let dir = job(folder, true);
            let original = || {
                let session = Session::read(&dir).unwrap();
                let photo = session.state().photos.keys().next().unwrap().clone();
                std::fs::read(session.photo_path(&photo).unwrap()).unwrap()
            };
            let before = original();
            let mut window = opened(&dir);
            press(&mut window, Key::Period);
            press(&mut window, Key::Period);
            window.get_by_label_contains("shown 1.0 stops brighter");
            press(&mut window, Key::L);
            window.get_by_label_contains("local contrast on");
            let turned = window.state().photo_view().unwrap();
            press(&mut window, Key::E);
            assert_ne!(window.state().photo_view().unwrap(), turned);
            assert_eq!(original(), before);
            assert_eq!(Session::read(&dir).unwrap().state().places.len(), 0);
        },
    );
}

#[test]
fn photos_are_chosen_from_the_list_of_files() {
    at_home(
        "marks::photos_are_chosen_from_the_list_of_files",
        |folder| {
            let shots = folder.join("shots");
            std::fs::create_dir(&shots).unwrap();
            photo(&shots.join("board.png"));
            std::fs::write(shots.join("notes.txt"), "not a photo").unwrap();
            let mut window = window([1280.0, 800.0]);
            settle(&mut window);
            window.get_by_label("Drop or choose photos").click();
            settle(&mut window);
            let (what, _) = window.state().model.chooser.clone().expect("open");
            window.state_mut().model.chooser =
                Some((what, benchglass::desk::chooser::Chooser::at(&shots, what)));
            window.run_steps(2);
            window.get_by_label("board.png").click();
            window.run_steps(2);
            assert!(window.query_by_label_contains("notes.txt").is_none());
            window.get_by_label("Take this file").click();
            settle(&mut window);
            assert_eq!(window.state().model.page, Page::NewJob);
            window.get_by_label("One photo or folder waits to be brought in.");
        },
    );
}

#[test]
fn dark_lines_are_laid_over_the_photo_and_put_away() {
    at_home(
        "marks::dark_lines_are_laid_over_the_photo_and_put_away",
        |folder| {
            let mut window = opened(&job(folder, true));
            press(&mut window, Key::D);
            window.get_by_label_contains("Dark lines are shown in blue");
            press(&mut window, Key::D);
            assert!(window.query_by_label_contains("Dark lines").is_none());
        },
    );
}
