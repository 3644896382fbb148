use std::path::Path;

use benchglass::record::{Target, Verdict};
use benchglass::work::{Action, Session, Wish};
use eframe::egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable as _;

use super::bench::{at_home, job, joint, press, press_with};
use super::round::opened;

fn verdict(dir: &Path, pin: usize) -> Option<Verdict> {
    let session = Session::read(dir).unwrap();
    session.state().joint(&joint(pin)).verdict
}

fn suspect(pin: usize) -> Action {
    let target = Target::Joint(joint(pin));
    Action::Judge(Wish::new(vec![target], Verdict::Suspect))
}

/// What somebody said at this machine yesterday is not taken back by a key today.
#[test]
fn undo_reaches_what_this_window_wrote_since_it_opened_the_job() {
    at_home(
        "sitting::undo_reaches_what_this_window_wrote_since_it_opened_the_job",
        |folder| {
            let dir = job(folder, true);
            let mut before = Session::open(&dir, "somebody before").unwrap();
            before.apply(suspect(1)).unwrap();
            drop(before);
            let mut window = opened(&dir);
            let undo = Modifiers::COMMAND;
            let redo = Modifiers::COMMAND | Modifiers::SHIFT;
            press_with(&mut window, undo, Key::Z);
            assert_eq!(verdict(&dir, 1), Some(Verdict::Suspect));
            // It is there and says that there is nothing; redo is not there at all.
            window.get_by_label("undo");
            assert!(window.query_by_label("redo").is_none());
            let seen = &window.state().model.bench.as_ref().unwrap().seen;
            assert_eq!((&seen.would_undo, &seen.would_redo), (&None, &None));

            // The first unseen joint is J1.2.
            press(&mut window, Key::S);
            assert_eq!(verdict(&dir, 2), Some(Verdict::Suspect));
            let seen = &window.state().model.bench.as_ref().unwrap().seen;
            let words = seen.would_undo.clone().unwrap();
            assert!(
                words.contains("J1.2") && words.contains("suspect"),
                "{words}"
            );
            press_with(&mut window, undo, Key::Z);
            press_with(&mut window, undo, Key::Z);
            assert_eq!(verdict(&dir, 2), None);
            assert_eq!(
                verdict(&dir, 1),
                Some(Verdict::Suspect),
                "not of this sitting"
            );
            let seen = &window.state().model.bench.as_ref().unwrap().seen;
            assert_eq!(seen.would_undo, None);
            assert_eq!(seen.would_redo, Some(words));
            press_with(&mut window, redo, Key::Z);
            assert_eq!(verdict(&dir, 2), Some(Verdict::Suspect));
        },
    );
}

/// The command line, whose every call is a sitting of its own, reaches what the bench wrote.
#[test]
fn undo_of_the_bench_reaches_further_than_undo_of_a_sitting() {
    at_home(
        "sitting::undo_of_the_bench_reaches_further_than_undo_of_a_sitting",
        |folder| {
            let dir = job(folder, true);
            let mut session = Session::open(&dir, "tester").unwrap();
            session.apply(suspect(1)).unwrap();
            drop(session);
            let mut session = Session::open(&dir, "tester").unwrap();
            assert_eq!(session.undoable_here(), None);
            let refused = session.apply(Action::UndoHere).unwrap_err();
            assert!(refused.remedy().contains("since the job was opened"));
            session.apply(Action::Undo).unwrap();
            assert_eq!(verdict(&dir, 1), None);
            // The undo itself was of this sitting.
            session.apply(Action::RedoHere).unwrap();
            assert_eq!(verdict(&dir, 1), Some(Verdict::Suspect));
            assert!(session.apply(Action::RedoHere).is_err());
            let mine = session.apply(suspect(2)).unwrap().event;
            assert_eq!(session.undoable_here(), Some(mine));
            session.apply(Action::UndoHere).unwrap();
            assert_eq!(session.returning_here(), Some(mine));
            assert_eq!(session.undoable_here(), None);
            assert!(session.undoable().is_some(), "the bench wrote more");
        },
    );
}
