//! Each tool of the page where maps are made, as a hand uses it: clicks on the photo, typed
//! fields, and what stands in the map afterwards.

use benchglass::board::Side;
use benchglass::desk::Desk;
use benchglass::geometry::{BoardPoint, PhotoPoint};
use benchglass::work::Session;
use eframe::egui::{Key, Modifiers, accesskit::Role};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;

use super::bench::{PINS, at_home, click_photo, on_photo, press, press_with, settle, write};
use super::mapping::{making, state};

/// Frames that a scroll takes to come to rest.
const SCROLLED: usize = 20;

/// Scale from the four corners of the drawn board, going round, 36 by 26 mm.
fn set_scale_by_corners(window: &mut Harness<'static, Desk>) {
    window.get_by_label("corners of the board").click();
    settle(window);
    for corner in [[36.0, 26.0], [0.0, 26.0], [0.0, 0.0], [36.0, 0.0]] {
        let at = on_photo(corner);
        click_photo(
            window,
            PhotoPoint::new(at.x.clamp(2.0, 717.0), at.y.clamp(2.0, 517.0)),
        );
    }
    // The fields take the keys by themselves, one after the other.
    for text in ["36", "26.0"] {
        write(window, text);
        press(window, Key::Enter);
    }
    assert!(state(window).draft.frame().is_some());
}

/// Types into the field of this name and presses Enter.
fn fill(window: &mut Harness<'static, Desk>, field: &str, text: &str) {
    let found = window.get_by_role_and_label(Role::TextInput, field);
    found.scroll_to_me();
    found.focus();
    window.run_steps(SCROLLED);
    press_with(window, Modifiers::COMMAND, Key::A);
    write(window, text);
    press(window, Key::Enter);
}

/// Clicks the control of this name, brought into sight first.
fn click_on(window: &mut Harness<'static, Desk>, label: &str) {
    window.get_by_label(label).scroll_to_me();
    window.run_steps(SCROLLED);
    window.get_by_label(label).click();
    settle(window);
}

/// Where the pins of a part lie on the photo.
fn pins_on_photo(window: &Harness<'static, Desk>, part: usize) -> Vec<PhotoPoint> {
    let draft = &state(window).draft;
    let frame = draft.frame().unwrap();
    draft.map().parts[part]
        .pins
        .iter()
        .map(|pin| frame.photo(pin.centre()).unwrap())
        .collect()
}

#[test]
fn four_corners_set_the_scale_and_draw_the_edge() {
    at_home(
        "map_tools::four_corners_set_the_scale_and_draw_the_edge",
        |folder| {
            let mut window = making(folder);
            set_scale_by_corners(&mut window);
            let draft = &state(&window).draft;
            assert!(draft.now().outlined);
            let size = draft.map().bounds().size();
            assert!((size.width - 36.0).abs() < 0.01 && (size.height - 26.0).abs() < 0.01);
            let scale = draft
                .frame()
                .unwrap()
                .px_per_mm(BoardPoint::new(18.0, 13.0));
            assert!((scale.unwrap() - 20.0).abs() < 0.2, "{scale:?}");
            window.get_by_label_contains("Its edge is drawn.");

            // The edge again, by its own tool: an L; a click on the first corner closes it.
            press(&mut window, Key::E);
            for corner in [
                [1.0, 1.0],
                [35.0, 1.0],
                [35.0, 12.0],
                [20.0, 12.0],
                [20.0, 25.0],
                [1.0, 25.0],
                [1.0, 1.0],
            ] {
                click_photo(&mut window, on_photo(corner));
            }
            assert_eq!(state(&window).map().outline.len(), 6);
            assert!(state(&window).clicks.is_empty());
            window
                .get_by_label("Undo: Draw the edge of the board")
                .click();
            settle(&mut window);
            assert_eq!(state(&window).map().outline.len(), 4);
        },
    );
}

#[test]
fn a_grid_has_the_columns_and_rows_that_are_typed_or_counted() {
    at_home(
        "map_tools::a_grid_has_the_columns_and_rows_that_are_typed_or_counted",
        |folder| {
            let mut window = making(folder);
            set_scale_by_corners(&mut window);
            press(&mut window, Key::G);
            window
                .get_all_by_label_contains("Click pin 1, in a corner of the grid.")
                .next()
                .unwrap();
            // Seen from the solder side the first row goes to the left.
            let corners = [[4.0, 22.0], [19.0, 22.0], [4.0, 16.0]];
            for corner in corners {
                click_photo(&mut window, on_photo(corner));
            }
            // 15 mm and 6 mm at 2.54 mm: seven columns and three rows.
            let part = &state(&window).map().parts[0];
            assert_eq!((part.reference.as_str(), part.pins.len()), ("J1", 21));
            press_with(&mut window, Modifiers::COMMAND, Key::Z);

            // Typed before the second click: columns; before the third: rows.
            click_photo(&mut window, on_photo(corners[0]));
            window.get_by_role_and_label(Role::TextInput, "Columns (blank: counted by the pitch)");
            press(&mut window, Key::Num4);
            click_photo(&mut window, on_photo(corners[1]));
            window.get_by_role_and_label(Role::TextInput, "Rows (blank: counted by the pitch)");
            press(&mut window, Key::Num2);
            click_photo(&mut window, on_photo(corners[2]));
            let part = &state(&window).map().parts[0];
            assert_eq!(part.pins.len(), 8);
            let [first, fourth, fifth] = [0, 3, 4].map(|i| part.pins[i].centre());
            // The corners were clicked 2 px inside the photo: its scale is 0.7 % off.
            assert!(((fourth - first).length() - 15.0).abs() < 0.2);
            assert!(((fifth - first).length() - 6.0).abs() < 0.1);
        },
    );
}

#[test]
fn a_pitch_that_is_not_listed_is_typed() {
    at_home("map_tools::a_pitch_that_is_not_listed_is_typed", |folder| {
        let mut window = making(folder);
        fill(&mut window, "Pitch, mm", "5,0");
        assert!((state(&window).pitch_mm - 5.0).abs() < 1e-9);
        for pin in [PINS[0], PINS[3]] {
            click_photo(&mut window, on_photo(pin));
        }
        press(&mut window, Key::Num4);
        press(&mut window, Key::Enter);
        let [a, b] = [PINS[0], PINS[1]].map(|pin| {
            let frame = state(&window).draft.frame().unwrap();
            frame.board(on_photo(pin)).unwrap()
        });
        assert!(((b - a).length() - 5.0).abs() < 0.05);
    });
}

#[test]
fn copies_stand_where_their_pin_was_clicked_as_they_are_and_mirrored() {
    at_home(
        "map_tools::copies_stand_where_their_pin_was_clicked_as_they_are_and_mirrored",
        |folder| {
            let mut window = making(folder);
            set_scale_by_corners(&mut window);
            press(&mut window, Key::R);
            press(&mut window, Key::Num3);
            // On bare board: nothing draws the clicks anywhere else.
            click_photo(&mut window, on_photo([5.0, 20.0]));
            click_photo(&mut window, on_photo([5.0, 17.0]));
            assert_eq!(state(&window).map().parts[0].pins.len(), 3);

            press(&mut window, Key::D);
            click_photo(&mut window, on_photo([5.0, 20.0]));
            click_photo(&mut window, on_photo([10.0, 19.0]));
            window.get_by_label("Undo: Duplicate J1");
            let moved = pins_on_photo(&window, 1);
            assert!(
                (moved[0] - on_photo([10.0, 19.0])).length() < 1.0,
                "{moved:?}"
            );
            assert!(
                (moved[2] - on_photo([10.0, 16.0])).length() < 1.0,
                "{moved:?}"
            );

            // The copy is chosen now; mirrored it stands where its pin 1 is clicked.
            press(&mut window, Key::I);
            window
                .get_all_by_label_contains("Click a pin of what is chosen.")
                .next()
                .unwrap();
            click_photo(&mut window, on_photo([10.0, 19.0]));
            let ghosts = state(&window).preview(on_photo([28.0, 18.0])).ghosts;
            assert_eq!(ghosts.len(), 3, "drawn before the last click");
            click_photo(&mut window, on_photo([28.0, 18.0]));
            let mirrored = pins_on_photo(&window, 2);
            // Beside it: the row stays level with the part that it is a copy of.
            assert!(
                (mirrored[0] - on_photo([28.0, 19.0])).length() < 1.5,
                "{mirrored:?}"
            );
            assert!(
                (mirrored[0] - ghosts[0].0).length() < 0.1,
                "as it was drawn"
            );
            // Above: mirrored about a level line.
            click_photo(&mut window, on_photo([28.0, 19.0]));
            click_photo(&mut window, on_photo([27.0, 3.0]));
            let below = pins_on_photo(&window, 3);
            assert!(
                (below[0] - on_photo([28.0, 3.0])).length() < 1.5,
                "{below:?}"
            );
            assert!(
                (below[2] - on_photo([28.0, 6.0])).length() < 1.5,
                "{below:?}"
            );
            let names: Vec<&str> = state(&window)
                .map()
                .parts
                .iter()
                .map(|part| part.reference.as_str())
                .collect();
            assert_eq!(names, ["J1", "J2", "J3", "J4"]);
        },
    );
}

#[test]
fn rails_test_points_and_weak_spots_are_written_into_the_map() {
    at_home(
        "map_tools::rails_test_points_and_weak_spots_are_written_into_the_map",
        |folder| {
            let mut window = making(folder);
            set_scale_by_corners(&mut window);
            press(&mut window, Key::R);
            press(&mut window, Key::Num4);
            for pin in [PINS[0], PINS[3]] {
                click_photo(&mut window, on_photo(pin));
            }
            // A weak spot: the part, and one of its joints.
            press(&mut window, Key::C);
            click_photo(&mut window, on_photo(PINS[1]));
            fill(&mut window, "Weak spot: why", "cracks where the door pulls");
            fill(&mut window, "This joint is weak: why", "first to go");
            let part = &state(&window).map().parts[0];
            assert_eq!(part.watch.as_deref(), Some("cracks where the door pulls"));
            let weak: Vec<Option<&str>> = part.pins.iter().map(|p| p.watch.as_deref()).collect();
            assert_eq!(weak.iter().flatten().count(), 1);

            // A rail: the chosen pin is taken for its place; limits may be the wrong way round.
            click_on(&mut window, "Rails (0)");
            fill(&mut window, "Rail", "-12 V");
            window.get_by_label_contains("A rail needs a name and both limits");
            let chosen = window.get_all_by_label("take J1.2").next().unwrap();
            chosen.scroll_to_me();
            window.run_steps(SCROLLED);
            window.get_all_by_label("take J1.2").next().unwrap().click();
            settle(&mut window);
            for (field, text) in [
                ("against, such as J1.2", "J1.1"),
                ("unloaded min, V", "-11,4"),
                ("loaded min, V", "-11.5"),
                ("cold, at least, ohm", "80"),
            ] {
                fill(&mut window, field, text);
            }
            // Both pairs have a `max, V`: unloaded, then loaded.
            for (which, text) in ["-12.6", "-12.5"].into_iter().enumerate() {
                let field = window
                    .get_all_by_role_and_label(Role::TextInput, "max, V")
                    .nth(which)
                    .unwrap();
                field.scroll_to_me();
                field.focus();
                window.run_steps(SCROLLED);
                write(&mut window, text);
            }
            click_on(&mut window, "Add this rail");
            let [rail] = state(&window).map().rails.as_slice() else {
                panic!("one rail")
            };
            assert_eq!(
                (rail.at.as_str(), rail.return_at.as_str()),
                ("J1.2", "J1.1")
            );
            assert_eq!((rail.unloaded.min, rail.unloaded.max), (-12.6, -11.4));
            assert_eq!((rail.loaded.min, rail.loaded.max), (-12.5, -11.5));
            assert_eq!(rail.cold_min_ohm, Some(80.0));
            window.get_by_label("Rails (1)");

            // A test point with two quantities and the position of a control.
            click_on(&mut window, "Test points (0)");
            for (unit, max) in [("V", "5.2"), ("mV p-p", "40")] {
                fill(&mut window, "Test point", "TP1");
                fill(&mut window, "measured at, such as R4.2", "J1.3");
                click_on(&mut window, unit);
                fill(&mut window, "max", max);
                fill(
                    &mut window,
                    "controls, such as S1 at RUN, VR2 at 5",
                    "S1 at RUN",
                );
                click_on(&mut window, "Add this test point");
            }
            let [point] = state(&window).map().test_points.as_slice() else {
                panic!("one test point")
            };
            assert_eq!(point.expect.len(), 2);
            assert_eq!(point.settings.get("S1").map(String::as_str), Some("RUN"));

            // Everything is there when the map is kept and read back; an address that is none
            // would have been an error of the linter.
            window.get_by_label("Keep this map").click();
            settle(&mut window);
            let session = Session::read(&folder.join("FH12-0902")).unwrap();
            let [map] = session.maps() else {
                panic!("{:?}", window.state().model.messages)
            };
            assert_eq!((map.rails.len(), map.test_points.len()), (1, 1));
            // The round begins at the weak spot.
            let first = benchglass::board::round_order(map, Side::Solder)[0].label();
            assert_eq!(first, "J1.2");
        },
    );
}
