use std::sync::Arc;

use benchglass::desk::Desk;
use benchglass::desk::marker::State;
use benchglass::record::{Coverage, Reason, Stage};
use benchglass::work::{Action, Session};
use eframe::egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;

use super::bench::{PINS, at_home, click_photo, job, on_photo, press, press_with};
use super::round::opened;

/// The photo has 20 px/mm, the shop wants 60: whoever looks at it has not looked, in the window
/// as at the gate.
#[test]
fn a_look_from_too_far_away_counts_as_none() {
    at_home("looks::a_look_from_too_far_away_counts_as_none", |folder| {
        let dir = job(folder, true);
        let mut session = Session::open(&dir, "tester").unwrap();
        session
            .apply(Action::Demand(Coverage {
                before_power: 1.0,
                before_closing: 1.0,
                least_px_per_mm: 60.0,
            }))
            .unwrap();
        drop(session);
        let mut window = opened(&dir);
        for _ in 0..4 {
            press(&mut window, Key::N);
        }
        window.get_by_label_contains("4 in it are unseen, 4 of them looked at from too far away");
        window.get_by_label_contains("0 of 4 looked at, 4 from too far away (60 px/mm asked)");
        let far = "looked at from too far away (20 of 60 px/mm)";
        assert!(
            window
                .query_all_by_label_contains(&format!("J1.3, {far}"))
                .next()
                .is_some()
        );
        // U leads round to the first of them, whose glass says it too.
        press(&mut window, Key::U);
        window.get_by_label_contains("J1.1 on the glass");
        window.get_by_label(far);
        let bench = window.state().model.bench.as_ref().unwrap();
        assert_eq!(bench.state_of(0), State::TooFar);
        assert_eq!((bench.seen.judged, bench.seen.too_far), (0, 4));
        // The gate counts the same.
        let short = bench.session.gate(Stage::Closed).reasons;
        let counted = short.iter().find_map(|held| match &held.reason {
            Reason::CoverageShort { judged, total, .. } => Some((*judged, *total)),
            _ => None,
        });
        assert_eq!(counted, Some((0, 4)));
        assert!(told(&window, "Nothing here is unseen") == 0);

        // A fault is a fault from any distance; it counts as no look all the same.
        press(&mut window, Key::F);
        press(&mut window, Key::B);
        let bench = window.state().model.bench.as_ref().unwrap();
        assert_eq!(bench.state_of(0), State::Faulty);
        assert!(bench.is_unseen(0));
        // Walking only unseen ones passes none of them over.
        click_photo(&mut window, on_photo(PINS[0]));
        press_with(&mut window, Modifiers::SHIFT, Key::U);
        press(&mut window, Key::ArrowRight);
        window.get_by_label_contains("J1.2 on the glass");
    });
}

/// Where the shop asks for no scale, any look counts, as before.
#[test]
fn any_look_counts_where_no_scale_is_asked_for() {
    at_home(
        "looks::any_look_counts_where_no_scale_is_asked_for",
        |folder| {
            let dir = job(folder, true);
            let mut window = opened(&dir);
            for _ in 0..4 {
                press(&mut window, Key::N);
            }
            window.get_by_label_contains("nothing in it is unseen");
            press(&mut window, Key::U);
            assert_eq!(told(&window, "Nothing here is unseen."), 1);
            let bench = window.state().model.bench.as_ref().unwrap();
            assert_eq!(bench.state_of(0), State::NoFaultSeen);
            assert_eq!((bench.seen.judged, bench.seen.too_far), (4, 0));
        },
    );
}

fn told(window: &egui_kittest::Harness<'static, benchglass::desk::Desk>, words: &str) -> usize {
    let messages = &window.state().model.messages;
    (messages.iter())
        .filter(|message| message.text.contains(words))
        .count()
}

/// The hint leads to what it would look at first, and not to what it has to keep to itself.
#[test]
fn the_hint_leads_to_the_unseen_joint_that_it_ranks_first() {
    at_home(
        "looks::the_hint_leads_to_the_unseen_joint_that_it_ranks_first",
        |folder| {
            let dir = job(folder, true);
            let mut window = opened(&dir);
            let bench = window.state_mut().model.bench.as_mut().unwrap();
            let photo = bench.photo.clone().unwrap();
            let (key, report) = bench.hints.get(&photo).cloned().unwrap();
            let mut ranked = (*report).clone();
            for (rank, pin) in [(1, "J1.3"), (2, "J1.2"), (3, "J1.4")] {
                let hint = ranked.joints.iter_mut().find(|hint| hint.id == pin);
                hint.unwrap().rank = Some(rank);
            }
            let first = (ranked.joints.iter_mut()).find(|hint| hint.id == "J1.1");
            first.unwrap().rank = None;
            bench.hints.insert(photo, (key, Arc::new(ranked)));
            let hidden: Vec<String> = (bench.stops.iter())
                .filter(|stop| bench.is_hidden(stop))
                .map(|stop| stop.name.clone())
                .collect();
            let here = |window: &Harness<'static, Desk>| {
                let bench = window.state().model.bench.as_ref().unwrap();
                bench.stop().unwrap().name.clone()
            };
            let mut led = Vec::new();
            for _ in 0..3 {
                press_with(&mut window, Modifiers::SHIFT, Key::H);
                led.push(here(&window));
                press(&mut window, Key::N);
            }
            led.dedup();
            let mut wanted = vec!["J1.3", "J1.2", "J1.4"];
            wanted.retain(|name| !hidden.iter().any(|hidden| hidden == name));
            assert_eq!(led[..wanted.len()], wanted[..], "hidden: {hidden:?}");
            press_with(&mut window, Modifiers::SHIFT, Key::H);
            assert_eq!(told(&window, "is unseen and has a hint that is shown"), 1);
        },
    );
}
