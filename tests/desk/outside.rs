use std::path::Path;
use std::time::Duration;

use benchglass::desk::Desk;
use benchglass::desk::model::{Page, Pending};
use benchglass::record::{Event, Reason, Stage, Verdict};
use benchglass::store::{Home, Job, Journal, Wait};
use benchglass::work::{Action, Session};
use eframe::egui::Key;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use serde_json::json;

use super::bench::{at_home, job, joint, left_alone, press, settle, window, write};
use super::round::opened;

/// Another machine writes into the same folder, as through a tool that syncs it.
fn elsewhere(dir: &Path, folder: &Path, what: Event) {
    let job = Job::open(dir).unwrap();
    let home = Home::at(folder.join("another machine"));
    let opened = Journal::open(&job, &home, "Ada", Wait::No).unwrap();
    opened.journal.append(what).unwrap();
}

fn fractured(pin: usize) -> Event {
    let event = serde_json::from_value(json!({
        "kind": "judged", "verdict": "faulty",
        "targets": [{"on": "joint", "board": "main", "pin": format!("j1-{pin}"), "side": "solder"}],
        "faults": [{"fault": "fractured", "severity": "blocks_power"}],
    }))
    .unwrap();
    assert!(matches!(event, Event::Judged(_)), "{event:?}");
    event
}

fn note(text: &str) -> Event {
    Event::Noted {
        text: text.to_owned(),
        photo: None,
    }
}

fn told(window: &Harness<'static, Desk>, words: &str) -> usize {
    let messages = &window.state().model.messages;
    (messages.iter())
        .filter(|message| message.text.contains(words))
        .count()
}

/// A mark that holds power back is seen without a touch, and nobody is moved or interrupted.
#[test]
fn what_another_bench_writes_comes_in_by_itself() {
    at_home(
        "outside::what_another_bench_writes_comes_in_by_itself",
        |folder| {
            let dir = job(folder, true);
            let mut window = opened(&dir);
            let delays = window.output().viewport_output.values();
            let next = delays.map(|output| output.repaint_delay).min().unwrap();
            assert!(
                next <= Duration::from_secs(1),
                "it wakes by itself: {next:?}"
            );

            press(&mut window, Key::ArrowRight);
            press(&mut window, Key::C);
            write(&mut window, "under K3");
            elsewhere(&dir, folder, fractured(3));
            left_alone(&mut window);
            assert_eq!(
                told(&window, "1 entry came in from another bench, by Ada."),
                1
            );
            let said = window.state().model.messages.last().unwrap();
            assert!(said.remedy.contains("J1.3"), "{said:?}");
            let bench = window.state().model.bench.as_ref().unwrap();
            let held = bench.session.gate(Stage::Cold).reasons;
            assert!(
                (held.iter()).any(|held| matches!(held.reason, Reason::MarkOpen { .. })),
                "{held:?}"
            );
            // The place of work and what was being said are as they were.
            assert_eq!(bench.stop().unwrap().name, "J1.2");
            let typed = Pending::Obstacle("under K3".to_owned());
            assert_eq!(window.state().model.pending, typed);
            assert_eq!(window.state().model.page, Page::Table);
            press(&mut window, Key::Enter);
            let session = Session::read(&dir).unwrap();
            let verdict = |pin| session.state().joint(&joint(pin)).verdict;
            assert_eq!(verdict(2), Some(Verdict::CannotBeJudged));
            assert_eq!(verdict(3), Some(Verdict::Faulty));

            // It says so where the joint on the glass is meant, and of own words nothing.
            elsewhere(&dir, folder, fractured(3));
            left_alone(&mut window);
            assert_eq!(told(&window, "It is about J1.3 too, where you are."), 1);
            let before = told(&window, "came in");
            press(&mut window, Key::O);
            write(&mut window, "seen");
            press(&mut window, Key::Enter);
            left_alone(&mut window);
            assert_eq!(told(&window, "came in"), before);
        },
    );
}

/// Gate and slip are never shown of a record that is behind the folder, and closing up is said
/// after all that lies in it.
#[test]
fn gate_slip_and_closing_up_look_at_the_folder_first() {
    at_home(
        "outside::gate_slip_and_closing_up_look_at_the_folder_first",
        |folder| {
            let dir = job(folder, true);
            let mut window = opened(&dir);
            elsewhere(&dir, folder, fractured(1));
            press(&mut window, Key::G);
            assert_eq!(told(&window, "1 entry came in"), 1);
            let bench = window.state().model.bench.as_ref().unwrap();
            assert_eq!(bench.session.state().marks().len(), 1);
            elsewhere(&dir, folder, note("the lid is bent"));
            window.get_by_label("The unit is closed up").click();
            settle(&mut window);
            assert_eq!(told(&window, "1 entry came in"), 2);
            let session = Session::read(&dir).unwrap();
            let log = &session.state().log;
            let [.., before, last] = log.as_slice() else {
                panic!("{log:?}")
            };
            assert!(matches!(before.event.what, Event::Noted { .. }));
            assert!(matches!(last.event.what, Event::ClosedUp { .. }));

            press(&mut window, Key::Escape);
            let lines = |window: &Harness<'static, Desk>| {
                let bench = window.state().model.bench.as_ref().unwrap();
                bench.slip.as_ref().map(|(_, view)| view.line_count)
            };
            press(&mut window, Key::I);
            assert_eq!(lines(&window), Some(1));
            // On the page it is laid out anew by itself.
            elsewhere(&dir, folder, fractured(2));
            left_alone(&mut window);
            settle(&mut window);
            assert_eq!(lines(&window), Some(2));
        },
    );
}

#[test]
fn a_folder_that_is_gone_is_told_once() {
    at_home("outside::a_folder_that_is_gone_is_told_once", |folder| {
        let dir = job(folder, true);
        let mut window = opened(&dir);
        let away = folder.join("away");
        std::fs::rename(&dir, &away).unwrap();
        for _ in 0..2 {
            left_alone(&mut window);
            assert_eq!(told(&window, "cannot read the journal folder"), 1);
        }
        let bench = window.state().model.bench.as_ref().unwrap();
        assert!(bench.session.state().unit.is_some(), "nothing is dropped");
        std::fs::rename(&away, &dir).unwrap();
        left_alone(&mut window);
        assert_eq!(told(&window, "The job's folder can be read again."), 1);
        assert_eq!(told(&window, "gone from"), 0);
    });
}

/// A second window of this bench reads on while the first one writes.
#[test]
fn a_window_that_only_reads_sees_what_the_other_writes() {
    at_home(
        "outside::a_window_that_only_reads_sees_what_the_other_writes",
        |folder| {
            let dir = job(folder, true);
            let mut holder = Session::open(&dir, "other").unwrap();
            let mut window = window([1280.0, 800.0]);
            let ctx = window.ctx.clone();
            window.state_mut().open_job(&ctx, &dir);
            settle(&mut window);
            let text = "the cord is frayed".to_owned();
            holder.apply(Action::Note { text, photo: None }).unwrap();
            left_alone(&mut window);
            assert_eq!(
                told(&window, "came in from another bench or window, by other"),
                1
            );
        },
    );
}

/// The core of it, with no window.
#[test]
fn a_session_takes_in_what_others_wrote_and_not_its_own() {
    at_home(
        "outside::a_session_takes_in_what_others_wrote_and_not_its_own",
        |folder| {
            let dir = job(folder, true);
            let mut session = Session::open(&dir, "tester").unwrap();
            assert_eq!(session.take_in().unwrap(), None);
            let text = "mine".to_owned();
            session.apply(Action::Note { text, photo: None }).unwrap();
            assert_eq!(session.take_in().unwrap(), None, "its own");
            elsewhere(&dir, folder, note("theirs"));
            let came = session.take_in().unwrap().unwrap();
            assert_eq!((came.events.len(), came.gone, came.maps), (1, 0, false));
            let newest = session.state().log.last().unwrap();
            assert_eq!(came.events, [newest.event.id]);
            assert_eq!(session.take_in().unwrap(), None, "once");
            // What is written next sorts after it.
            let text = "after".to_owned();
            session.apply(Action::Note { text, photo: None }).unwrap();
            let said: Vec<&str> = (session.state().notes.iter())
                .map(|note| note.text.as_str())
                .collect();
            assert_eq!(said, ["mine", "theirs", "after"]);

            // A copy of a journal, as some tools leave one behind, brings nothing new.
            let files = std::fs::read_dir(dir.join("journal")).unwrap();
            let journals: Vec<_> = files.map(|file| file.unwrap().path()).collect();
            let theirs = (journals.iter())
                .find(|path| std::fs::read_to_string(path).unwrap().contains("theirs"))
                .unwrap();
            let copy = theirs.with_file_name("a conflict.jsonl");
            std::fs::copy(theirs, &copy).unwrap();
            assert!(session.take_in().unwrap().unwrap().is_empty());
            std::fs::remove_file(theirs).unwrap();
            assert!(session.take_in().unwrap().unwrap().is_empty());
            std::fs::remove_file(&copy).unwrap();
            let came = session.take_in().unwrap().unwrap();
            assert_eq!((came.events.len(), came.gone), (0, 1));

            std::fs::rename(&dir, folder.join("away")).unwrap();
            assert!(session.take_in().is_err());
            assert_eq!(session.state().notes.len(), 2, "as it was");
        },
    );
}

/// A map whose word arrives before its file is taken in once the file is there.
#[test]
fn a_map_that_arrives_after_its_word_is_taken_in() {
    at_home(
        "outside::a_map_that_arrives_after_its_word_is_taken_in",
        |folder| {
            let dir = job(folder, true);
            let maps = std::fs::read_dir(dir.join("maps")).unwrap();
            let map = maps.map(|file| file.unwrap().path()).next().unwrap();
            let aside = folder.join("on its way.json");
            std::fs::rename(&map, &aside).unwrap();
            let mut session = Session::open(&dir, "tester").unwrap();
            assert!(session.maps().is_empty());
            // The first look only learns what to wait for.
            let first = session.take_in().unwrap();
            assert!(first.is_none_or(|came| came.is_empty()));
            assert_eq!(session.take_in().unwrap(), None);
            std::fs::rename(&aside, &map).unwrap();
            let came = session.take_in().unwrap().unwrap();
            assert!(came.maps && came.events.is_empty(), "{came:?}");
            assert_eq!(session.maps().len(), 1);
        },
    );
}

/// While photos are brought in the folder is not looked at, and the gate says so.
#[test]
fn the_gate_says_when_it_is_behind() {
    at_home("outside::the_gate_says_when_it_is_behind", |folder| {
        let dir = job(folder, true);
        let mut window = opened(&dir);
        window.state_mut().model.bench.as_mut().unwrap().lent = true;
        press(&mut window, Key::G);
        window.get_by_label_contains("This is the record as it was when they began");
        window.state_mut().model.bench.as_mut().unwrap().lent = false;
        window.run_steps(2);
        let behind = window.query_by_label_contains("This is the record as it was when they began");
        assert!(behind.is_none());
    });
}
