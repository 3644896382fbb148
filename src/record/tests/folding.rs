//! What is current, contradicted, withdrawn, stale and covered.

use crate::board::{Side, Zone};

use super::super::testing::*;
use super::super::*;

#[test]
fn nobody_looked_is_unseen() {
    let state = fold([]);
    assert_eq!(state.joint(&key("J4-1")).verdict, None);
    assert!(state.marks().is_empty());
}

#[test]
fn replaced_judgement_leaves_and_a_judgement_of_several_places_is_filtered_per_place() {
    let mut bench = Bench::new(1);
    let many = bench.write(Event::Judged(judge(
        &["J4-1", "J4-2"],
        Verdict::Suspect,
        &[],
    )));
    let one = bench.write(Event::Judged(judge(
        &["J4-1"],
        Verdict::NoFaultSeen,
        &[many.id],
    )));
    let state = fold([one.clone(), many.clone()]);
    assert_eq!(
        state.joint(&key("J4-1")).verdict,
        Some(Verdict::NoFaultSeen)
    );
    assert_eq!(state.joint(&key("J4-1")).events, [one.id]);
    assert_eq!(state.joint(&key("J4-2")).verdict, Some(Verdict::Suspect));
    assert!(!state.joint(&key("J4-1")).contradicted);
    assert_eq!(
        state.judgements_of(&[joint("J4-1"), joint("J4-2")]).len(),
        2
    );
}

#[test]
fn people_who_did_not_see_each_other_contradict_and_the_worst_counts() {
    let (mut one, mut two) = (Bench::new(1), Bench::new(2));
    let a = one.write(Event::Judged(judge(&["J4-1"], Verdict::NoFaultSeen, &[])));
    let b = two.write(Event::Judged(faulty("J4-1", Severity::FixNow, &[])));
    let state = fold([a.clone(), b.clone()]);
    let seen = state.joint(&key("J4-1"));
    assert_eq!(seen.verdict, Some(Verdict::Faulty));
    assert!(seen.contradicted);
    assert_eq!(seen.by, ["bench 1", "bench 2"]);
    one.ms = two.ms;
    let settled = one.write(Event::Judged(judge(
        &["J4-1"],
        Verdict::NoFaultSeen,
        &[a.id, b.id],
    )));
    let state = fold([a, b, settled]);
    assert!(!state.joint(&key("J4-1")).contradicted);
    assert_eq!(state.place(&joint("J4-1")).unwrap().story.len(), 3);
}

#[test]
fn two_suspicions_add_up() {
    let (mut one, mut two) = (Bench::new(1), Bench::new(2));
    let suspect = |kind, severity| {
        Event::Judged(Judgement {
            faults: vec![fault(kind, severity)],
            ..judge(&["J4-1"], Verdict::Suspect, &[])
        })
    };
    let state = fold([
        one.write(suspect(FaultKind::Cold, Severity::Watch)),
        two.write(suspect(FaultKind::Cold, Severity::FixNow)),
        two.write(suspect(FaultKind::Bridge, Severity::Watch)),
    ]);
    let marks = state.marks();
    assert_eq!(marks.len(), 1);
    assert!(!marks[0].place.contradicted);
    assert_eq!(marks[0].severity, Some(Severity::FixNow));
    assert_eq!(marks[0].place.faults.len(), 2);
}

#[test]
fn rework_and_acceptance_keep_the_fault_as_the_story_of_the_line() {
    let mut bench = Bench::new(1);
    let found = bench.write(Event::Judged(faulty("J4-1", Severity::BlocksPower, &[])));
    let rework = judge(&["J4-1"], Verdict::Reworked, &[found.id]);
    let rework = bench.write(Event::Judged(rework));
    let accept = judge(&["J4-1"], Verdict::Accepted, &[rework.id]);
    let accept = bench.write(Event::Judged(accept));
    let clear = judge(&["J4-1"], Verdict::NoFaultSeen, &[accept.id]);
    let clear = bench.write(Event::Judged(clear));
    let state = fold([found.clone(), rework.clone()]);
    assert_eq!(state.marks()[0].severity, Some(Severity::BlocksPower));
    assert_eq!(state.marks()[0].place.verdict, Verdict::Reworked);
    let state = fold([found.clone(), rework.clone(), accept.clone()]);
    let mark = &state.marks()[0];
    assert!(mark.place.is_accepted());
    assert_eq!(mark.place.faults[0].fault, FaultKind::Fractured);
    assert_eq!(mark.place.story, [found.id, rework.id, accept.id]);
    assert!(fold([found, rework, accept, clear]).marks().is_empty());
}

#[test]
fn a_later_judgement_cannot_be_replaced_by_an_earlier_one() {
    let mut bench = Bench::new(1);
    let mut first = bench.write(Event::Judged(judge(&["J4-1"], Verdict::NoFaultSeen, &[])));
    let second = bench.write(Event::Judged(faulty(
        "J4-1",
        Severity::BlocksPower,
        &[first.id],
    )));
    first.what = Event::Judged(judge(&["J4-1"], Verdict::NoFaultSeen, &[second.id]));
    let state = fold([first, second]);
    assert_eq!(state.joint(&key("J4-1")).verdict, Some(Verdict::Faulty));
}

#[test]
fn undo_redo_and_what_they_reach() {
    let (mut one, mut two) = (Bench::new(1), Bench::new(2));
    let a = one.write(Event::Judged(judge(&["J4-1"], Verdict::Suspect, &[])));
    let b = one.write(Event::Judged(judge(&["J4-2"], Verdict::Suspect, &[])));
    let other = two.write(Event::Judged(judge(&["U7-1"], Verdict::Suspect, &[])));
    let mut all = vec![a.clone(), b.clone(), other];
    let state = fold(all.clone());
    assert_eq!(state.undoable(one.id()).map(|e| e.id), Some(b.id));
    assert_eq!(state.redoable(one.id()), None);

    let undo_b = one.write(Event::Withdrawn {
        targets: vec![b.id],
    });
    let undo_a = one.write(Event::Withdrawn {
        targets: vec![a.id],
    });
    all.extend([undo_b.clone(), undo_a.clone()]);
    let state = fold(all.clone());
    assert_eq!(state.joint(&key("J4-1")).verdict, None);
    assert_eq!(state.joint(&key("J4-2")).verdict, None);
    assert_eq!(state.joint(&key("U7-1")).verdict, Some(Verdict::Suspect));
    assert_eq!(state.undoable(one.id()), None);
    assert_eq!(state.redoable(one.id()).map(|e| e.id), Some(undo_a.id));

    all.push(one.write(Event::Withdrawn {
        targets: vec![undo_a.id],
    }));
    let state = fold(all.clone());
    assert_eq!(state.joint(&key("J4-1")).verdict, Some(Verdict::Suspect));
    assert_eq!(state.redoable(one.id()).map(|e| e.id), Some(undo_b.id));
    assert_eq!(state.undoable(one.id()).map(|e| e.id), Some(a.id));

    all.push(one.write(Event::Noted {
        text: "new".to_owned(),
        photo: None,
    }));
    assert_eq!(fold(all).redoable(one.id()), None);
}

#[test]
fn a_withdrawal_reaches_only_what_sorts_before_it() {
    let mut bench = Bench::new(1);
    let mut early = bench.write(Event::Withdrawn {
        targets: Vec::new(),
    });
    let judged = bench.write(Event::Judged(judge(&["J4-1"], Verdict::Suspect, &[])));
    early.what = Event::Withdrawn {
        targets: vec![judged.id],
    };
    let state = fold([early, judged]);
    assert_eq!(state.joint(&key("J4-1")).verdict, Some(Verdict::Suspect));
}

#[test]
fn readings_and_checks_grow_stale_by_what_touches_them() {
    let mut bench = Bench::new(1);
    let job = finished_job(&mut bench);
    let stale = |touch: Event, bench: &mut Bench| {
        let state = fold(job.iter().cloned().chain([bench.write(touch)]));
        let readings = state
            .measurements
            .values()
            .flatten()
            .filter(|m| m.stale.is_some())
            .count();
        let checks = state
            .checks
            .values()
            .flatten()
            .filter(|c| c.stale.is_some())
            .count();
        (readings, checks)
    };
    let rework = |target: Target| {
        let targets = vec![target];
        Event::Judged(Judgement {
            targets,
            ..judge(&[], Verdict::Reworked, &[])
        })
    };
    let reopened = |board: Option<&str>| Event::Reopened {
        board: board.map(str::to_owned),
        reason: "to look at J4".to_owned(),
    };
    // Three rail readings and a test point; six checks and a function test.
    assert_eq!(stale(rework(joint("J4-1")), &mut bench), (4, 1));
    assert_eq!(stale(reopened(None), &mut bench), (4, 7));
    assert_eq!(stale(reopened(Some("panel")), &mut bench), (0, 7));
    let cord = Target::Unit {
        what: "mains cord".to_owned(),
    };
    assert_eq!(stale(rework(cord), &mut bench), (4, 7));
    let reseated = Event::Reseated {
        board: "main".to_owned(),
        part: "J4".to_owned(),
        note: String::new(),
    };
    assert_eq!(stale(reseated, &mut bench), (4, 1));
    assert_eq!(
        stale(
            Event::ClosedUp {
                note: String::new()
            },
            &mut bench
        ),
        (0, 0)
    );
    let looked = Event::Judged(judge(&["J4-1"], Verdict::Suspect, &[]));
    assert_eq!(stale(looked, &mut bench), (0, 0));
}

#[test]
fn maps_and_alignments_that_nobody_replaced_stand_side_by_side() {
    let (mut one, mut two) = (Bench::new(1), Bench::new(2));
    let adopt = |sha256: &str, replaces: &[EventId]| Event::MapAdopted {
        board: "main".to_owned(),
        sha256: sha256.repeat(32),
        moved: false,
        replaces: replaces.to_vec(),
    };
    let a = one.write(adopt("aa", &[]));
    let b = two.write(adopt("bb", &[]));
    assert!(fold([a.clone(), b.clone()]).maps["main"].contradicted());
    one.ms = two.ms;
    let c = one.write(adopt("bb", &[a.id]));
    let state = fold([a.clone(), b.clone(), c]);
    assert!(!state.maps["main"].contradicted());
    assert_eq!(state.maps["main"].sha256(), Some("bb".repeat(32).as_str()));
    let same = two.write(adopt("aa", &[]));
    assert!(!fold([a, same]).maps["main"].contradicted());
}

#[test]
fn future_clocks_are_taken_and_flagged() {
    let mut bench = Bench::new(1);
    let mut event = bench.write(Event::Judged(judge(&["J4-1"], Verdict::Suspect, &[])));
    assert!(fold_at([event.clone()], Some(MORNING_MS)).flags.is_empty());
    assert_eq!(
        fold_at([event.clone()], Some(MORNING_MS - 3 * 86_400_000))
            .flags
            .len(),
        1
    );
    event.clock.ms += 10 * 86_400_000 + 1;
    let state = fold([event.clone()]);
    assert_eq!(
        state.flags,
        [Flag::FutureClock {
            event: event.id,
            days: 10
        }]
    );
    assert_eq!(state.joint(&key("J4-1")).verdict, Some(Verdict::Suspect));
    event.clock.ms = u64::MAX;
    assert_eq!(fold_at([event], Some(0)).flags.len(), 1);
}

#[test]
fn coverage_counts_joints_where_they_are_soldered() {
    let map = map();
    let mut bench = Bench::new(1);
    let look = |pins: &[&str], verdict, scale| {
        Event::Judged(Judgement {
            px_per_mm: scale,
            ..judge(pins, verdict, &[])
        })
    };
    let far = Target::Joint(JointKey {
        side: Side::Component,
        ..key("F1-1")
    });
    let far = Judgement {
        targets: vec![far],
        ..judge(&[], Verdict::NoFaultSeen, &[])
    };
    let state = fold([
        bench.write(look(&["F1-1"], Verdict::NoFaultSeen, Some(60.0))),
        bench.write(look(&["F1-2"], Verdict::Suspect, Some(40.0))),
        bench.write(look(&["U7-1"], Verdict::NoFaultSeen, Some(11.0))),
        bench.write(look(&["U7-2"], Verdict::CannotBeJudged, Some(60.0))),
        bench.write(look(&["J4-1"], Verdict::NoFaultSeen, None)),
        bench.write(Event::Judged(far)),
        bench.write(Event::CoverageDemanded(Coverage {
            before_power: 1.0,
            before_closing: 1.0,
            least_px_per_mm: 20.0,
        })),
    ]);
    let boards = coverage(&state, std::slice::from_ref(&map));
    let all = &boards[0].all;
    assert_eq!((all.total, all.judged, all.unseen), (6, 3, 2));
    assert_eq!((all.cannot_be_judged, all.too_coarse), (1, 1));
    assert_eq!(all.px_per_mm, Some(50.0));
    assert_eq!(all.share(), Some(0.5));
    assert_eq!(boards[0].zones[&Zone::Safety].judged, 2);
    assert_eq!(boards[0].zones[&Zone::Supply].judged, 0);
    assert_eq!(boards[0].sides[&Side::Component].total, 1);
    assert_eq!(boards[0].sides[&Side::Solder].total, 6);
    assert_eq!(boards[0].parts[2].covered.share(), Some(0.5));
    assert_eq!(Covered::default().share(), None);
}

#[test]
fn two_forms_of_one_event_are_flagged_and_one_stands_whatever_comes_first() {
    let mut bench = Bench::new(1);
    let first = bench.write(Event::Judged(judge(&["J4-1"], Verdict::Suspect, &[])));
    let mut other = first.clone();
    other.what = Event::Judged(judge(&["J4-1"], Verdict::NoFaultSeen, &[]));
    let mut later = first.clone();
    later.clock.ms += 5;
    let state = fold([first.clone(), other.clone(), later.clone(), first.clone()]);
    assert_eq!(state.flags, [Flag::Clash { event: first.id }]);
    assert_eq!(state.log.len(), 1);
    assert_eq!(fold([later.clone(), other.clone(), first.clone()]), state);
    assert_eq!(fold([other, first, later]), state);
}

#[test]
fn a_known_kind_with_news_in_it_is_kept_as_unknown() {
    let judged = serde_json::to_value(Event::Judged(judge(&["J4-1"], Verdict::Suspect, &[])));
    let mut judged = judged.unwrap();
    judged["verdict"] = "polished".into();
    let event: Event = serde_json::from_value(judged.clone()).unwrap();
    assert_eq!(event, Event::Unknown(judged));
    let state = fold([Bench::new(1).write(event)]);
    assert_eq!(state.unknown.len(), 1);
}

#[test]
fn undoing_and_redoing_say_what() {
    let mut bench = Bench::new(1);
    let judged = bench.write(Event::Judged(judge(&["J4-1"], Verdict::Suspect, &[])));
    let undo = bench.write(Event::Withdrawn {
        targets: vec![judged.id],
    });
    let redo = bench.write(Event::Withdrawn {
        targets: vec![undo.id],
    });
    let lines = history(&fold([judged, undo, redo]), &[map()]);
    let texts: Vec<&str> = lines.iter().map(|line| line.text.as_str()).collect();
    let suspect = "main:J4.1/solder: suspect.";
    let expected = [
        suspect.to_owned(),
        format!("Undone: {suspect}"),
        format!("Redone: {suspect}"),
    ];
    assert_eq!(texts, expected);
    assert_eq!(
        lines.iter().map(|line| line.counts).collect::<Vec<_>>(),
        [true, false, true]
    );
}

/// Nothing that this program writes, but a line of a journal may say anything.
#[test]
fn withdrawals_of_themselves_and_of_each_other_are_told_in_words_that_end() {
    let mut bench = Bench::new(1);
    let judged = bench.write(Event::Judged(judge(&["J4-1"], Verdict::Suspect, &[])));
    let withdrawn = |targets: &[EventId]| Event::Withdrawn {
        targets: targets.to_vec(),
    };
    let mut own = bench.write(withdrawn(&[]));
    own.what = withdrawn(&[own.id]);
    let mut one = bench.write(withdrawn(&[]));
    let other = bench.write(withdrawn(&[one.id]));
    one.what = withdrawn(&[other.id]);
    let undo = bench.write(withdrawn(&[judged.id]));
    let redo = bench.write(withdrawn(&[undo.id]));
    let again = bench.write(withdrawn(&[redo.id]));
    let events = [judged, own, one, other, undo, redo, again];
    let state = fold(events.clone());
    let told: Vec<String> = (events.iter())
        .map(|event| describe(&event.what, &[map()], &state))
        .collect();
    let (suspect, step) = ("main:J4.1/solder: suspect.", "One step put back.");
    let expected = [
        suspect.to_owned(),
        step.to_owned(),
        step.to_owned(),
        step.to_owned(),
        format!("Taken back: {suspect}"),
        format!("Put back: {suspect}"),
        step.to_owned(),
    ];
    assert_eq!(told, expected);
    let lines = history(&state, &[map()]);
    assert_eq!(lines.len(), events.len());
    assert_eq!(lines[1].text, format!("Redone: {step}"));
    assert!(lines.iter().all(|line| !line.text.is_empty()));
}

#[test]
fn photos_go_by_the_name_they_came_in_with() {
    let mut bench = Bench::new(1);
    let (one, two, gone) = ("1".repeat(64), "2".repeat(64), "3".repeat(64));
    let mut added = |photo: &String, name: &str| {
        let facts = serde_json::json!({
            "kind": "photo_added", "photo": photo, "file": "p.jpg", "name": name, "size": [40, 30],
        });
        bench.write(serde_json::from_value(facts).unwrap())
    };
    let mut job = vec![added(&one, "top.jpg"), added(&two, "IMG_1.jpg")];
    let twin = added(&"4".repeat(64), "IMG_1.jpg");
    job.push(twin);
    for photo in [one, two, gone] {
        let on = bench.write(Event::Noted {
            text: "dust".to_owned(),
            photo: Some(photo),
        });
        job.push(on);
    }
    let lines = history(&fold(job), &[map()]);
    let texts: Vec<&str> = lines[3..].iter().map(|line| line.text.as_str()).collect();
    let expected = [
        "Note on photo top.jpg: dust",
        "Note on photo IMG_1.jpg (22222222): dust",
        "Note on photo 33333333: dust",
    ];
    assert_eq!(texts, expected);
}

#[test]
fn every_event_has_a_sentence() {
    let mut bench = Bench::new(1);
    let mut job = finished_job(&mut bench);
    let reworked = judge(&["J4-1"], Verdict::Reworked, &[]);
    job.push(bench.write(Event::Judged(Judgement {
        note: "new solder".into(),
        ..reworked
    })));
    job.push(bench.write(Event::Unknown(
        serde_json::json!({"kind": "sung", "song": 3}),
    )));
    let state = fold(job);
    let lines = history(&state, &[map()]);
    assert_eq!(
        lines[0].text,
        "Job started for FH12-0242 (Fernhollow FH-12)."
    );
    assert!(
        lines
            .iter()
            .any(|l| l.text == "main:J4.1/solder: reworked: new solder")
    );
    assert!(
        lines
            .iter()
            .any(|l| l.text.contains("newer version (sung)"))
    );
    assert!(lines.iter().all(|l| !l.text.is_empty() && l.counts));
}

#[test]
fn twenty_thousand_events_fold() {
    let mut bench = Bench::new(1);
    let mut last: Option<EventId> = None;
    let events: Vec<Envelope> = (0..20_000)
        .map(|i| {
            let pin = format!("J{}-{}", i % 5000 / 16, i % 16);
            let judgement = judge(&[&pin], Verdict::NoFaultSeen, last.as_slice());
            let event = bench.write(Event::Judged(judgement));
            last = Some(event.id);
            event
        })
        .collect();
    let state = fold(events);
    assert_eq!(state.log.len(), 20_000);
}
