use std::path::Path;

use benchglass::board::{PartKind, Side, has_errors, lint};
use benchglass::desk::Desk;
use benchglass::desk::mapping::Tool;
use benchglass::desk::model::Page;
use benchglass::geometry::{BoardPoint, PhotoPoint};
use benchglass::progress::Progress;
use benchglass::record::{Unit, Verdict};
use benchglass::work::{Session, add_photos};
use eframe::egui::{Key, Modifiers, accesskit::Role};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;

use super::bench::{
    PINS, at_home, click_photo, on_photo, photo, press, press_with, settle, window, write,
};

/// A job with the drawn photo and no map, opened on the page where maps are made.
pub(crate) fn making(folder: &Path) -> Harness<'static, Desk> {
    let dir = folder.join("FH12-0902");
    let unit = Unit {
        code: "FH12-0902".to_owned(),
        model: "Fernhollow FH-12".to_owned(),
        complaint: String::new(),
    };
    let mut session = Session::begin(&dir, unit, &[], "tester").unwrap();
    let shot = photo(&folder.join("solder.png"));
    add_photos(&mut session, &[shot], None, &Progress::new()).unwrap();
    drop(session);
    let mut window = window([1280.0, 800.0]);
    let ctx = window.ctx.clone();
    window.state_mut().open_job(&ctx, &dir);
    settle(&mut window);
    window.get_by_label("make a map").click();
    settle(&mut window);
    assert_eq!(window.state().model.page, Page::Map);
    window
}

pub(crate) fn state<'a>(
    window: &'a Harness<'static, Desk>,
) -> &'a benchglass::desk::mapping::Making {
    let bench = window.state().model.bench.as_ref().unwrap();
    bench.making.as_ref().expect("a map is being made")
}

/// Scale from pin 1 and pin 4 of the drawn header: 15 mm, three pitches of 5 mm.
fn set_scale(window: &mut Harness<'static, Desk>) {
    window
        .get_all_by_label_contains("Click a pin at one end of a row")
        .next()
        .unwrap();
    window.get_by_label("5.08 mm").click();
    settle(window);
    // Off the middle: the click is drawn to it.
    for pin in [PINS[0], PINS[3]] {
        let at = on_photo(pin);
        click_photo(window, PhotoPoint::new(at.x + 5.0, at.y - 4.0));
    }
    press(window, Key::Num4);
    press(window, Key::Enter);
    assert!(state(window).draft.frame().is_some());
    assert_eq!(state(window).tool, Tool::Row);
}

#[test]
fn a_map_is_made_kept_and_its_photo_lies_on_it() {
    at_home(
        "mapping::a_map_is_made_kept_and_its_photo_lies_on_it",
        |folder| {
            let mut window = making(folder);
            set_scale(&mut window);
            window
                .get_all_by_label_contains("Click pin 1 of the row")
                .next()
                .unwrap();
            // The solder side: pin 1 of the board is on the right of the photo.
            click_photo(&mut window, on_photo(PINS[0]));
            click_photo(&mut window, on_photo(PINS[3]));
            let part = &state(&window).map().parts[0];
            assert_eq!((part.reference.as_str(), part.pins.len()), ("J1", 4));
            window.get_by_label("Undo: Make J1, a row of 4");
            press(&mut window, Key::T);
            click_photo(&mut window, on_photo([8.0, 20.0]));
            click_photo(&mut window, on_photo([18.0, 20.0]));
            press_with(&mut window, Modifiers::SHIFT, Key::C);
            let part = &state(&window).map().parts[1];
            assert_eq!(
                (part.reference.as_str(), part.kind),
                ("C1", PartKind::Capacitor)
            );
            window.get_by_label("Keep this map").click();
            settle(&mut window);

            assert_eq!(window.state().model.page, Page::Table);
            let said = &window.state().model.messages;
            assert!(said.iter().any(|m| m.text.contains("is kept")), "{said:?}");
            let session = Session::read(&folder.join("FH12-0902")).unwrap();
            let [map] = session.maps() else {
                panic!("one map")
            };
            assert!(!has_errors(&lint(map)));
            assert_eq!(map.model, "Fernhollow FH-12");
            let photo = session.state().photos.values().next().unwrap();
            let alignment = photo.alignment().expect("the photo lies on the map");
            assert_eq!(alignment.view.side, Side::Solder);
            for (pin, mm) in map.parts[0].pins.iter().zip(PINS) {
                let at = BoardPoint::new(pin.at[0], pin.at[1]);
                let shown = alignment.projection.apply(at).unwrap();
                assert!((shown - on_photo(mm)).length() < 2.0, "{shown:?}");
            }
            // The pitch is true: 5.08 mm by the typed pitch.
            let step = map.parts[0].pins[1].centre() - map.parts[0].pins[0].centre();
            assert!((step.length() - 5.08).abs() < 0.05, "{step:?}");
            // The round has begun: the next key judges the first joint.
            press(&mut window, Key::N);
            let session = Session::read(&folder.join("FH12-0902")).unwrap();
            let verdicts: Vec<Verdict> =
                session.state().places.values().map(|p| p.verdict).collect();
            assert_eq!(verdicts, [Verdict::NoFaultSeen]);
        },
    );
}

#[test]
fn steps_are_taken_back_in_words_and_the_preview_comes_before_the_last_click() {
    at_home(
        "mapping::steps_are_taken_back_in_words_and_the_preview_comes_before_the_last_click",
        |folder| {
            let mut window = making(folder);
            set_scale(&mut window);
            click_photo(&mut window, on_photo(PINS[0]));
            let preview = state(&window).preview(on_photo(PINS[3]));
            let numbers: Vec<&str> = preview.ghosts.iter().map(|(_, no)| no.as_str()).collect();
            assert_eq!(numbers, ["1", "2", "3", "4"], "counted by the pitch");
            // Another count is typed before the last click.
            press(&mut window, Key::Num7);
            assert_eq!(state(&window).preview(on_photo(PINS[3])).ghosts.len(), 7);
            press(&mut window, Key::Backspace);
            press_with(&mut window, Modifiers::COMMAND, Key::Z);
            assert!(
                state(&window).clicks.is_empty(),
                "the click that waited is taken back"
            );
            click_photo(&mut window, on_photo(PINS[0]));
            click_photo(&mut window, on_photo(PINS[3]));
            assert_eq!(state(&window).map().parts.len(), 1);
            press_with(&mut window, Modifiers::COMMAND, Key::Z);
            assert!(state(&window).map().parts.is_empty());
            window.get_by_label("Redo: Make J1, a row of 4").click();
            settle(&mut window);
            assert_eq!(state(&window).map().parts.len(), 1);

            // Chosen, named, called weak, taken away and back.
            press(&mut window, Key::C);
            click_photo(&mut window, on_photo(PINS[2]));
            window.get_by_label("Pin 3");
            window
                .get_by_role_and_label(Role::TextInput, "Reference")
                .focus();
            window.run_steps(2);
            press_with(&mut window, Modifiers::COMMAND, Key::A);
            write(&mut window, "J9");
            press(&mut window, Key::Enter);
            assert_eq!(state(&window).map().parts[0].reference, "J9");
            window.get_by_label("this is pin 1").click();
            settle(&mut window);
            let first = &state(&window).map().parts[0].pins[0];
            let shown = state(&window)
                .draft
                .frame()
                .unwrap()
                .photo(first.centre())
                .unwrap();
            assert!((shown - on_photo(PINS[2])).length() < 2.0);
        },
    );
}

#[test]
fn what_is_wrong_is_listed_leads_there_and_keeps_the_map_back() {
    at_home(
        "mapping::what_is_wrong_is_listed_leads_there_and_keeps_the_map_back",
        |folder| {
            let mut window = making(folder);
            set_scale(&mut window);
            for _ in 0..2 {
                click_photo(&mut window, on_photo(PINS[0]));
                click_photo(&mut window, on_photo(PINS[3]));
            }
            window.get_by_label("Keep this map").click();
            settle(&mut window);
            assert_eq!(window.state().model.page, Page::Map);
            assert!(
                window
                    .state()
                    .model
                    .messages
                    .iter()
                    .any(|m| m.text.contains("error"))
            );
            window
                .get_all_by_label_contains("error part J2, pin 1")
                .next()
                .unwrap()
                .click();
            settle(&mut window);
            assert_eq!(state(&window).chosen.len(), 1);

            // The window is closed; the next one goes on where this one left off.
            let dir = folder.join("FH12-0902");
            let ctx = window.ctx.clone();
            window.state_mut().model.bench = None;
            window.state_mut().open_job(&ctx, &dir);
            settle(&mut window);
            press_with(&mut window, Modifiers::COMMAND, Key::M);
            window.get_by_label_contains("You go on where you left off");
            assert_eq!(state(&window).map().parts.len(), 2);
        },
    );
}

/// Six pins of an invented board in records of IPC-D-356 without the unit stated.
fn board_file() -> String {
    [
        ("J1", 1, 1000, 1000),
        ("J1", 2, 2000, 1000),
        ("J2", 1, 12000, 1000),
        ("J2", 2, 12000, 9000),
        ("R1", 1, 1000, 9000),
        ("R1", 2, 5000, 9000),
    ]
    .map(|(part, pin, x, y)| {
        format!("317N{pin}               {part:<6}-{pin}    D0400PA00X+{x:06}Y+{y:06}X0700Y0000\n")
    })
    .concat()
        + "999\n"
}

#[test]
fn a_dropped_board_file_is_asked_about_made_and_adopted() {
    at_home(
        "mapping::a_dropped_board_file_is_asked_about_made_and_adopted",
        |folder| {
            let mut window = making(folder);
            let file = folder.join("lands.txt");
            std::fs::write(&file, board_file()).unwrap();
            let ctx = window.ctx.clone();
            window.state_mut().photos_came(&ctx, vec![file]);
            settle(&mut window);
            assert_eq!(window.state().model.page, Page::Import);
            let importing = window.state().model.importing.as_ref().unwrap();
            let answers: Vec<String> = importing
                .questions
                .iter()
                .map(|(question, _)| question.choices[0].1.to_owned())
                .collect();
            assert!(!answers.is_empty());
            for answer in answers {
                window.get_by_label(&answer).click();
                window.run_steps(2);
            }
            window.get_by_label("Make the map").click();
            settle(&mut window);
            assert_eq!(
                window.state().model.page,
                Page::Table,
                "{:?}",
                window.state().model.messages
            );
            let session = Session::read(&folder.join("FH12-0902")).unwrap();
            let [map] = session.maps() else {
                panic!("one map")
            };
            assert_eq!(map.parts.len(), 3);
            assert!(map.landmarks.len() >= 4);
        },
    );
}
