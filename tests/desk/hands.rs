//! What hands do too early, too long or elsewhere: nothing lands on another joint, photo or job
//! than the one that it was meant for.

use std::path::{Path, PathBuf};

use benchglass::board::Expect;
use benchglass::desk::model::{Page, Pending};
use benchglass::record::{
    FaultKind, JointKey, Look, Reading, ReadingMode, Subject, Target, Verdict,
};
use benchglass::work::{Action, Session};
use eframe::egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable as _;

use super::bench::{
    LANDMARKS, PINS, at_home, click_photo, job, job_of, on_photo, photo, press, press_with, settle,
    write,
};
use super::first_start::with_no_map;
use super::round::opened;

type Window = egui_kittest::Harness<'static, benchglass::desk::Desk>;

/// The same picture with one pixel changed: another photo.
fn another(path: &Path) -> PathBuf {
    let path = photo(path);
    let mut image = image::open(&path).unwrap().to_rgb8();
    image.put_pixel(0, 0, image::Rgb([1, 2, 3]));
    image.save(&path).unwrap();
    path
}

fn faults(dir: &Path, pin: usize) -> Vec<FaultKind> {
    let session = Session::read(dir).unwrap();
    let target = Target::Joint(JointKey {
        board: "main".to_owned(),
        pin: format!("j1-{pin}"),
        side: benchglass::board::Side::Solder,
    });
    let place = session.state().place(&target);
    place.map_or_else(Vec::new, |place| {
        place.faults.iter().map(|fault| fault.fault).collect()
    })
}

#[test]
fn a_second_fault_leaves_the_first_where_it_is() {
    at_home(
        "hands::a_second_fault_leaves_the_first_where_it_is",
        |folder| {
            let dir = job(folder, true);
            let mut window = opened(&dir);
            press(&mut window, Key::F);
            press(&mut window, Key::F);
            press(&mut window, Key::ArrowLeft);
            press(&mut window, Key::F);
            press(&mut window, Key::B);
            assert_eq!(faults(&dir, 1), [FaultKind::Fractured, FaultKind::Bridge]);
            // Named for the whole row, it goes to those that have no others: one gesture, one event.
            press(&mut window, Key::ArrowLeft);
            press(&mut window, Key::R);
            press(&mut window, Key::F);
            press(&mut window, Key::G);
            assert_eq!(faults(&dir, 1), [FaultKind::Fractured, FaultKind::Bridge]);
            window.get_by_label_contains("1 joint of this row has other faults already");
            assert_eq!(faults(&dir, 3), [FaultKind::Contamination]);
            press_with(&mut window, Modifiers::COMMAND, Key::Z);
            assert!((2..=4).all(|pin| faults(&dir, pin).is_empty()));
            assert_eq!(faults(&dir, 1).len(), 2);
            // After a rework the recheck may find something else.
            click_photo(&mut window, on_photo(PINS[0]));
            press(&mut window, Key::W);
            click_photo(&mut window, on_photo(PINS[0]));
            press(&mut window, Key::F);
            press(&mut window, Key::I);
            assert!(faults(&dir, 1).contains(&FaultKind::Insufficient));
        },
    );
}

/// A photo of before a rework does not show it; of the rest of the row it shows what it shows.
#[test]
fn what_was_reworked_since_is_not_seen_on_the_photo_of_before() {
    at_home(
        "hands::what_was_reworked_since_is_not_seen_on_the_photo_of_before",
        |folder| {
            let dir = job(folder, true);
            let mut window = opened(&dir);
            let go = |window: &mut Window, pin: usize| click_photo(window, on_photo(PINS[pin - 1]));
            let state = |pin: usize| {
                let session = Session::read(&dir).unwrap();
                let joint = session.state().joint(&super::bench::joint(pin));
                (joint.verdict, joint.look)
            };
            press(&mut window, Key::F);
            press(&mut window, Key::F);
            go(&mut window, 1);
            press(&mut window, Key::W);
            // Accepted on the old photo it is a recheck at the board, and told.
            go(&mut window, 1);
            press(&mut window, Key::A);
            window.get_by_label_contains("written down as a look at the board itself");
            assert_eq!(state(1), (Some(Verdict::Accepted), Look::Board));

            go(&mut window, 2);
            press(&mut window, Key::R);
            press(&mut window, Key::N);
            window.get_by_label_contains("1 of this row was reworked after this photo came in");
            assert_eq!(state(1), (Some(Verdict::Accepted), Look::Board));
            for pin in 2..=4 {
                let (verdict, look) = state(pin);
                assert_eq!(verdict, Some(Verdict::NoFaultSeen), "{pin}");
                assert!(matches!(look, Look::Photo(_)), "{pin}: {look:?}");
            }
            go(&mut window, 1);
            press(&mut window, Key::N);
            window.get_by_label_contains("it does not show the rework: nothing was written down");
            assert_eq!(state(1), (Some(Verdict::Accepted), Look::Board));
        },
    );
}

#[test]
fn photos_that_come_in_late_stay_in_their_own_job() {
    at_home(
        "hands::photos_that_come_in_late_stay_in_their_own_job",
        |folder| {
            let one = job_of(&folder.join("one"), "FH12-0901", true);
            let other = job_of(&folder.join("other"), "FH12-0902", true);
            let late = another(&folder.join("late.png"));
            let mut window = opened(&one);
            let ctx = window.ctx.clone();
            window.state_mut().photos_came(&ctx, vec![late]);
            window.state_mut().open_job(&ctx, &other);
            settle(&mut window);
            let here = |window: &Window| {
                let bench = window.state().model.bench.as_ref().unwrap();
                bench.session.dir().to_path_buf()
            };
            assert_eq!(here(&window), other);
            window.get_by_label_contains("which is not open any more");
            press(&mut window, Key::N);
            assert_eq!(Session::read(&one).unwrap().state().places.len(), 0);
            assert_eq!(Session::read(&one).unwrap().state().photos.len(), 2);
            assert_eq!(Session::read(&other).unwrap().state().places.len(), 1);
        },
    );
}

#[test]
fn landmarks_are_placed_on_the_photo_on_the_table() {
    at_home(
        "hands::landmarks_are_placed_on_the_photo_on_the_table",
        |folder| {
            let dir = job(folder, false);
            let more = another(&folder.join("more.png"));
            let mut window = opened(&dir);
            let ctx = window.ctx.clone();
            window.state_mut().photos_came(&ctx, vec![more]);
            settle(&mut window);
            let (draft, table) = (
                |window: &Window| {
                    let draft = &window.state().model.bench.as_ref().unwrap().draft;
                    (draft.photo.clone(), draft.placed.len())
                },
                |window: &Window| {
                    let bench = window.state().model.bench.as_ref().unwrap();
                    bench.photo.clone().unwrap()
                },
            );
            press(&mut window, Key::K);
            window.get_by_label("It shows");
            let before = table(&window);
            click_photo(&mut window, on_photo(LANDMARKS[0].1));
            let placed = draft(&window).1;
            press(&mut window, Key::CloseBracket);
            if table(&window) == before {
                press(&mut window, Key::OpenBracket);
            }
            assert_ne!(table(&window), before, "another photo is on the table");
            assert_eq!(draft(&window), (table(&window), 0));
            press(&mut window, Key::OpenBracket);
            if table(&window) != before {
                press(&mut window, Key::CloseBracket);
                press(&mut window, Key::CloseBracket);
            }
            assert_eq!(draft(&window), (before, placed), "its clicks waited");
        },
    );
}

#[test]
fn letters_typed_where_files_are_chosen_judge_nothing() {
    at_home(
        "hands::letters_typed_where_files_are_chosen_judge_nothing",
        |folder| {
            let dir = job(folder, true);
            let mut window = opened(&dir);
            press_with(&mut window, Modifiers::COMMAND, Key::O);
            assert!(window.state().model.chooser.is_some());
            for key in [Key::N, Key::S, Key::F] {
                press(&mut window, key);
            }
            assert_eq!(window.state().model.pending, Pending::Nothing);
            assert_eq!(Session::read(&dir).unwrap().state().places.len(), 0);
        },
    );
}

#[test]
fn a_place_without_a_map_can_be_taken_back_and_forgotten_in_its_turn() {
    at_home(
        "hands::a_place_without_a_map_can_be_taken_back_and_forgotten_in_its_turn",
        |folder| {
            let shot = photo(&folder.join("board.png"));
            let mut window = with_no_map(&folder.join("FH12-0903"), shot);
            for pin in PINS {
                click_photo(&mut window, on_photo(pin));
            }
            let here = |window: &Window| {
                let bench = window.state().model.bench.as_ref().unwrap();
                (bench.here, bench.stops.len())
            };
            assert_eq!(here(&window), (Some(3), 4));
            // The second goes: the third has its turn.
            click_photo(&mut window, on_photo(PINS[1]));
            let third = window.state().model.bench.as_ref().unwrap().stops[2]
                .target
                .clone();
            window.get_by_label("Forget this place").click();
            settle(&mut window);
            assert_eq!(here(&window), (Some(1), 3));
            let bench = window.state().model.bench.as_ref().unwrap();
            assert_eq!(bench.stop().unwrap().target, third);
            press(&mut window, Key::N);
            press_with(&mut window, Modifiers::COMMAND, Key::Z);
            let bench = window.state().model.bench.as_ref().unwrap();
            assert_eq!(bench.stops.len(), 3, "the place is there, unseen again");
            assert!(bench.session.state().place(&third).is_none());
        },
    );
}

#[test]
fn what_was_typed_waits_where_it_cannot_be_written_down() {
    at_home(
        "hands::what_was_typed_waits_where_it_cannot_be_written_down",
        |folder| {
            let dir = job(folder, true);
            let mut window = opened(&dir);
            press(&mut window, Key::C);
            write(&mut window, "a heatsink");
            window.state_mut().model.bench.as_mut().unwrap().lent = true;
            press(&mut window, Key::Enter);
            let typed = Pending::Obstacle("a heatsink".to_owned());
            assert_eq!(window.state().model.pending, typed);
            window.state_mut().model.bench.as_mut().unwrap().lent = false;
            // Going to another joint puts it away, and says what it was.
            click_photo(&mut window, on_photo(PINS[2]));
            window.get_by_label_contains("Not written down: “a heatsink”");
            assert_eq!(window.state().model.page, Page::Table);
            assert_eq!(Session::read(&dir).unwrap().state().places.len(), 0);
        },
    );
}

#[test]
fn volts_and_ripple_are_read_one_after_the_other() {
    let folder = tempfile::tempdir().unwrap();
    let dir = job(folder.path(), true);
    let mut session = Session::open(&dir, "tester").unwrap();
    let subject = Subject::Rail {
        board: "main".to_owned(),
        rail: "+5 V".to_owned(),
        mode: ReadingMode::Loaded,
    };
    let mut read = |quantity, value| {
        session
            .apply(Action::Measure {
                subject: subject.clone(),
                readings: vec![Reading { quantity, value }],
                settings: Default::default(),
                note: String::new(),
            })
            .unwrap();
        let mut current: Vec<(String, f64)> = session.state().measurements[&subject]
            .iter()
            .flat_map(|m| &m.what.readings)
            .map(|r| (format!("{:?}", r.quantity), r.value))
            .collect();
        current.sort_by(|a, b| a.0.cmp(&b.0));
        current
    };
    read(Expect::VoltsDc, 5.02);
    let both = read(Expect::MillivoltsPp, 12.0);
    assert_eq!(
        both,
        [
            ("MillivoltsPp".to_owned(), 12.0),
            ("VoltsDc".to_owned(), 5.02)
        ]
    );
    // Read anew, it replaces its own quantity only.
    let anew = read(Expect::VoltsDc, 4.97);
    assert_eq!(
        anew,
        [
            ("MillivoltsPp".to_owned(), 12.0),
            ("VoltsDc".to_owned(), 4.97)
        ]
    );
}

#[test]
fn a_lost_photo_takes_no_look_and_lets_the_rest_be_said() {
    at_home(
        "hands::a_lost_photo_takes_no_look_and_lets_the_rest_be_said",
        |folder| {
            let dir = job(folder, true);
            let session = Session::read(&dir).unwrap();
            let photo = session.state().photos.keys().next().unwrap().clone();
            std::fs::write(session.photo_path(&photo).unwrap(), "gone").unwrap();
            drop(session);
            let mut window = opened(&dir);
            press(&mut window, Key::N);
            window.get_by_label_contains("nothing was written down");
            assert_eq!(Session::read(&dir).unwrap().state().places.len(), 0);
            press(&mut window, Key::C);
            write(&mut window, "the photo is damaged");
            press(&mut window, Key::Enter);
            let session = Session::read(&dir).unwrap();
            let place = session.state().places.values().next().expect("recorded");
            assert!(place.cannot_be_judged && place.seen_on.is_none());
            assert!(place.evidence.is_none());
        },
    );
}

#[test]
fn a_pin_that_was_asked_for_waits_with_the_clicks() {
    at_home(
        "hands::a_pin_that_was_asked_for_waits_with_the_clicks",
        |folder| {
            let dir = job(folder, false);
            let more = another(&folder.join("more.png"));
            let mut window = opened(&dir);
            let ctx = window.ctx.clone();
            window.state_mut().photos_came(&ctx, vec![more]);
            settle(&mut window);
            press(&mut window, Key::K);
            click_photo(&mut window, on_photo(LANDMARKS[0].1));
            let bench = window.state_mut().model.bench.as_mut().unwrap();
            let (photo, other) = {
                let here = bench.photo.clone().unwrap();
                let mut all = bench.session.state().photos.keys();
                (here.clone(), all.find(|id| **id != here).cloned().unwrap())
            };
            bench
                .draft
                .names
                .push(("J1.3".to_owned(), "middle of the land".to_owned()));
            bench.draft.next = Some(bench.draft.names.len() - 1);
            for table in [other, photo] {
                window.state_mut().model.bench.as_mut().unwrap().photo = Some(table);
                settle(&mut window);
            }
            let draft = &window.state().model.bench.as_ref().unwrap().draft;
            assert_eq!(draft.placed.len(), 1);
            assert_eq!(
                draft.next_name().map(|(name, _)| name.as_str()),
                Some("J1.3")
            );
        },
    );
}
