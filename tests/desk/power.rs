use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use benchglass::board::Expect;
use benchglass::desk::Desk;
use benchglass::desk::stages::Standing;
use benchglass::record::{
    CheckKind, Coverage, Event, Outcome, Reading, ReadingMode, Reason, Stage, Subject, Unit,
};
use benchglass::work::{Action, Session};
use eframe::egui::Key;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use serde_json::{Value, json};

use super::bench::{at_home, fill, job, map, press, settle, window, write};
use super::round::opened;

/// A map of the invented board with this changed.
fn changed(path: &Path, change: impl FnOnce(&mut Value)) -> PathBuf {
    let path = map(path);
    let mut map: Value = serde_json::from_slice(&std::fs::read(&path).unwrap()).unwrap();
    change(&mut map);
    std::fs::write(&path, map.to_string()).unwrap();
    path
}

/// A job with these maps and no photos, in a window in which every page has room.
fn opened_with(folder: &Path, maps: &[PathBuf]) -> (PathBuf, Harness<'static, Desk>) {
    let dir = folder.join("FH12-0907");
    let unit = Unit {
        code: "FH12-0907".to_owned(),
        model: "Fernhollow FH-12".to_owned(),
        complaint: String::new(),
    };
    drop(Session::begin(&dir, unit, maps, "tester").unwrap());
    let mut window = window([1280.0, 2400.0]);
    let ctx = window.ctx.clone();
    window.state_mut().open_job(&ctx, &dir);
    settle(&mut window);
    (dir, window)
}

fn test_point(name: &str, position: &str) -> Value {
    json!({
        "name": name, "at": "J1.3", "settings": {"SW1": position},
        "expect": [{"quantity": "volts_dc", "min": 4.9, "max": 5.1}],
    })
}

/// How the controls stood at the newest reading of a test point.
fn settings(dir: &Path, name: &str) -> BTreeMap<String, String> {
    let session = Session::read(dir).unwrap();
    let subject = Subject::TestPoint {
        board: "main".to_owned(),
        name: name.to_owned(),
    };
    let readings = &session.state().measurements[&subject];
    readings.last().unwrap().what.settings.clone()
}

fn read(window: &mut Harness<'static, Desk>, field: &str, value: &str) {
    window.get_by_label(field).focus();
    window.run_steps(2);
    write(window, value);
    press(window, Key::Enter);
}

/// Where the map wants a switch is not where it stands: that is said by a tick, or not recorded.
#[test]
fn how_a_control_stands_is_recorded_only_where_it_was_ticked() {
    at_home(
        "power::how_a_control_stands_is_recorded_only_where_it_was_ticked",
        |folder| {
            let map = changed(&folder.join("main.json"), |map| {
                map["test_points"] = json!([
                    test_point("TP1", "RUN"),
                    test_point("TP2", "RUN"),
                    test_point("TP3", "TEST"),
                ]);
            });
            let (dir, mut window) = opened_with(folder, &[map]);
            press(&mut window, Key::V);
            let hint = "does not count until it is ticked";
            assert_eq!(window.query_all_by_label_contains(hint).count(), 3);
            read(&mut window, "TP1, at J1.3 V", "5.0");
            assert_eq!(settings(&dir, "TP1"), BTreeMap::new());
            window.get_by_label_contains("does not count: nobody wrote down how SW1 stood");
            let held = Session::read(&dir).unwrap().gate(Stage::Function).reasons;
            assert!(
                (held.iter())
                    .any(|held| matches!(&held.reason, Reason::OtherSettings { found: None, .. })),
                "{held:?}"
            );

            // One tick serves every row that wants the same.
            window
                .get_by_label("TP1, at J1.3: SW1 stands at RUN")
                .click();
            settle(&mut window);
            assert_eq!(window.query_all_by_label_contains(hint).count(), 1);
            let run = BTreeMap::from([("SW1".to_owned(), "RUN".to_owned())]);
            read(&mut window, "TP1, at J1.3 V", "5.0");
            assert_eq!(settings(&dir, "TP1"), run);
            read(&mut window, "TP2, at J1.3 V", "5.0");
            assert_eq!(settings(&dir, "TP2"), run);

            // A switch stands in one place: another position takes the first away.
            window
                .get_by_label("TP3, at J1.3: SW1 stands at TEST")
                .click();
            settle(&mut window);
            assert_eq!(window.query_all_by_label_contains(hint).count(), 2);
            read(&mut window, "TP3, at J1.3 V", "5.0");
            let test = BTreeMap::from([("SW1".to_owned(), "TEST".to_owned())]);
            assert_eq!(settings(&dir, "TP3"), test);

            // Nobody saw it stay: it is ticked anew after the page was left.
            press(&mut window, Key::Escape);
            press(&mut window, Key::V);
            assert_eq!(window.query_all_by_label_contains(hint).count(), 3);
        },
    );
}

fn log(dir: &Path) -> Vec<Event> {
    let session = Session::read(dir).unwrap();
    let log = session.state().log.iter();
    log.map(|logged| logged.event.what.clone()).collect()
}

/// One board, one part, one demand: nothing more is made stale than was touched.
#[test]
fn a_board_a_part_and_a_demand_are_said_on_the_page_of_the_gate() {
    at_home(
        "power::a_board_a_part_and_a_demand_are_said_on_the_page_of_the_gate",
        |folder| {
            let main = map(&folder.join("main.json"));
            let front = changed(&folder.join("front.json"), |map| {
                map["board"] = json!("front");
                map["title"] = json!("front panel");
                map["parts"][0]["ref"] = json!("J9");
                map["rails"] = json!([]);
            });
            let (dir, mut window) = opened_with(folder, &[main, front]);
            press(&mut window, Key::G);
            unfold(&mut window);
            window.get_by_label("The unit was opened or touched again");
            window.get_by_label("front board only").click();
            settle(&mut window);
            window
                .get_by_label("The front board was opened or touched again")
                .click();
            settle(&mut window);
            let wanted = Event::Reopened {
                board: Some("front".to_owned()),
                reason: "opened or touched again".to_owned(),
            };
            assert_eq!(log(&dir).last(), Some(&wanted));
            // The choice is for one time.
            fill(&mut window, "Why", "");
            press(&mut window, Key::Delete);
            window.get_by_label("Say in a word why.");
            let entries = log(&dir).len();
            window
                .get_by_label("The unit was opened or touched again")
                .click();
            settle(&mut window);
            assert_eq!(log(&dir).len(), entries, "not without a word");
            fill(&mut window, "Why", "the fuse was changed");
            window
                .get_by_label("The unit was opened or touched again")
                .click();
            settle(&mut window);
            let wanted = Event::Reopened {
                board: None,
                reason: "the fuse was changed".to_owned(),
            };
            assert_eq!(log(&dir).last(), Some(&wanted));

            window.get_by_label("a part of the main board").click();
            settle(&mut window);
            fill(&mut window, "Reference", "X9");
            window.get_by_label("The main board has no part X9.");
            fill(&mut window, "Reference", "j");
            window.get_by_label("J1").click();
            settle(&mut window);
            window.get_by_label("This part was reseated").click();
            settle(&mut window);
            let wanted = Event::Reseated {
                board: "main".to_owned(),
                part: "J1".to_owned(),
                note: String::new(),
            };
            assert_eq!(log(&dir).last(), Some(&wanted));

            window.get_by_label_contains("To be looked at, where the shop says nothing else");
            let closing = "% of all joints before closing up";
            fill(&mut window, closing, "all");
            window.get_by_label("A number from 0 to 100 is wanted.");
            fill(&mut window, closing, "62,5");
            let least = "least px/mm of a look at a photo (0: any)";
            fill(&mut window, least, "11");
            window.get_by_label("This is what the shop demands").click();
            settle(&mut window);
            let wanted = Coverage {
                before_power: 1.0,
                before_closing: 0.625,
                least_px_per_mm: 11.0,
            };
            let session = Session::read(&dir).unwrap();
            assert_eq!(session.state().demand(), &wanted);
            window.get_by_label_contains("The shop wants looked at");
        },
    );
}

/// Folds out what is seldom said on the page of the gate.
fn unfold(window: &mut Harness<'static, Desk>) {
    window
        .get_by_label("It was opened, a part was reseated, or the shop demands something else")
        .click();
    settle(window);
}

/// Writes everything down that the cold stage asks for, and asks for no joints.
fn all_cold(session: &mut Session) {
    session
        .apply(Action::Demand(Coverage {
            before_power: 0.0,
            before_closing: 0.0,
            least_px_per_mm: 0.0,
        }))
        .unwrap();
    for check in CheckKind::BEFORE_POWER {
        let note = "measured".to_owned();
        let outcome = Outcome::Passed;
        let volts = (check == CheckKind::StoredCharge).then_some(0.3);
        let action = Action::Check {
            check,
            outcome,
            volts,
            note,
        };
        session.apply(action).unwrap();
    }
    session
        .apply(rail(ReadingMode::Cold, Expect::Ohm, 640.0))
        .unwrap();
}

fn rail(mode: ReadingMode, quantity: Expect, value: f64) -> Action {
    Action::Measure {
        subject: Subject::Rail {
            board: "main".to_owned(),
            rail: "+5 V".to_owned(),
            mode,
        },
        readings: vec![Reading { quantity, value }],
        settings: BTreeMap::new(),
        note: String::new(),
    }
}

/// Nothing against power is not power on: a stage is done once something was read behind it.
#[test]
fn a_stage_is_open_until_its_step_was_taken() {
    at_home(
        "power::a_stage_is_open_until_its_step_was_taken",
        |folder| {
            let dir = job(folder, true);
            let mut session = Session::open(&dir, "tester").unwrap();
            all_cold(&mut session);
            drop(session);
            let stages = |window: &Harness<'static, Desk>| {
                let bench = window.state().model.bench.as_ref().unwrap();
                bench.seen.stages.clone()
            };
            let window = opened(&dir);
            window.get_by_label("cold: open");
            let now = stages(&window);
            assert_eq!(now[0], (Stage::Cold, Standing::Open));
            assert!(
                matches!(now[1], (Stage::Supply, Standing::NotYet(_))),
                "{now:?}"
            );
            drop(window);

            let mut session = Session::open(&dir, "tester").unwrap();
            session
                .apply(rail(ReadingMode::Unloaded, Expect::VoltsDc, 5.0))
                .unwrap();
            drop(session);
            let mut window = opened(&dir);
            window.get_by_label("cold: done");
            window.get_by_label("supply alone: open");
            let now = stages(&window);
            assert!(
                matches!(now[2], (Stage::Load, Standing::NotYet(_))),
                "{now:?}"
            );

            // Opened again, nothing of it holds.
            press(&mut window, Key::G);
            unfold(&mut window);
            window
                .get_by_label("The unit was opened or touched again")
                .click();
            settle(&mut window);
            let now = stages(&window);
            assert!(
                matches!(now[0], (Stage::Cold, Standing::NotYet(_))),
                "{now:?}"
            );
        },
    );
}

#[test]
fn the_slip_promises_no_ticks_that_come_back() {
    at_home(
        "power::the_slip_promises_no_ticks_that_come_back",
        |folder| {
            let dir = job(folder, true);
            let mut window = opened(&dir);
            press(&mut window, Key::I);
            window.get_by_label_contains("What is ticked there does not come back here");
            assert!(
                window
                    .query_by_label_contains("can be ticked on a phone")
                    .is_none()
            );
        },
    );
}
