//! The gate, stage by stage.

use crate::board::{BoardMap, Expect};

use super::super::testing::*;
use super::super::*;

fn held(events: &[Envelope], maps: &[BoardMap], stage: Stage) -> Vec<String> {
    let verdict = gate(&fold(events.to_vec()), maps, stage);
    assert_eq!(verdict.permitted, verdict.reasons.is_empty());
    verdict.reasons.iter().map(ToString::to_string).collect()
}

fn reasons(events: &[Envelope], stage: Stage) -> Vec<String> {
    held(events, &[map()], stage)
}

fn with(job: &[Envelope], bench: &mut Bench, events: Vec<Event>) -> Vec<Envelope> {
    let mut all = job.to_vec();
    all.extend(events.into_iter().map(|what| bench.write(what)));
    replacing(all)
}

#[test]
fn finished_job_permits_every_stage_and_claims_nothing() {
    let job = finished_job(&mut Bench::new(1));
    for stage in Stage::ALL {
        assert_eq!(reasons(&job, stage), Vec::<String>::new(), "{stage:?}");
        let verdict = gate(&fold(job.clone()), &[map()], stage);
        assert!(verdict.permits.starts_with("Permits one step: "));
        assert!(
            verdict
                .permits
                .ends_with("not proof that the unit is safe.")
        );
    }
}

#[test]
fn empty_job_is_held_by_everything_at_once() {
    let verdict = gate(&fold([]), &[map()], Stage::Closed);
    let has = |reason: &Reason| verdict.reasons.iter().any(|held| held.reason == *reason);
    assert!(has(&Reason::NoUnit) && has(&Reason::NoMap) && has(&Reason::NoRails));
    assert!(has(&Reason::NoFunctionTest) && has(&Reason::NotClosedUp));
    for check in CheckKind::BEFORE_POWER {
        assert!(has(&Reason::CheckMissing { check }));
    }
    assert!(!verdict.permitted);
}

#[test]
fn leaving_out_any_one_event_holds_a_stage() {
    let job = finished_job(&mut Bench::new(1));
    for left_out in 0..job.len() {
        let mut fewer = job.clone();
        let gone = fewer.remove(left_out);
        // Each reading and check before closing is replaced by one after it.
        let repeated = fewer.iter().any(|event| match &event.what {
            Event::Checked(Check { replaces, .. })
            | Event::Measured(Measurement { replaces, .. }) => replaces.contains(&gone.id),
            _ => false,
        });
        let stored_charge = matches!(&gone.what, Event::Checked(check)
            if check.check == CheckKind::StoredCharge);
        let held = reasons(&fewer, Stage::Closed);
        assert_eq!(
            held.is_empty(),
            repeated || stored_charge,
            "{gone:?}: {held:?}"
        );
    }
}

#[test]
fn every_stage_carries_the_reasons_of_those_before_it() {
    let mut bench = Bench::new(1);
    let job = finished_job(&mut bench);
    let failed = check(CheckKind::Cord, Outcome::Failed, "nick by the plug");
    let job = with(&job, &mut bench, vec![failed]);
    for stage in Stage::ALL {
        let verdict = gate(&fold(job.clone()), &[map()], stage);
        assert_eq!(verdict.reasons[0].stage, Stage::Cold);
        let text = verdict.reasons[0].to_string();
        assert!(text.starts_with("Failed: mains cord") && text.contains("nick by the plug"));
    }
}

#[test]
fn not_fitted_needs_a_note() {
    let mut bench = Bench::new(1);
    let job = finished_job(&mut bench);
    let selector = |note| check(CheckKind::VoltageSelector, Outcome::NotFitted, note);
    let silent = with(&job, &mut bench, vec![selector(" ")]);
    assert_eq!(reasons(&silent, Stage::Cold).len(), 1);
    let said = with(&job, &mut bench, vec![selector("one voltage only")]);
    assert!(reasons(&said, Stage::Cold).is_empty());
}

#[test]
fn disagreeing_checks_take_the_worst() {
    let mut bench = Bench::new(1);
    let mut job = finished_job(&mut bench);
    // Not through `with`: this bench has not seen the other check.
    job.push(Bench::new(2).write(check(CheckKind::Plug, Outcome::Failed, "")));
    assert_eq!(reasons(&job, Stage::Cold).len(), 1);
}

#[test]
fn marks_that_block_power_block_until_accepted() {
    let mut bench = Bench::new(1);
    let job = finished_job(&mut bench);
    let seen = fold(job.clone()).joint(&key("J4-1")).events;
    let mut open = |judgement: Judgement, job: &[Envelope]| {
        let job = with(job, &mut bench, vec![Event::Judged(judgement)]);
        let id = job.last().map(|event| event.id).unwrap();
        // Rework makes readings stale as well: here only the marks are of interest.
        let mut held = reasons(&job, Stage::Cold);
        held.retain(|reason| reason.starts_with("main:J4.1"));
        (held, job, id)
    };
    let (held, found, id) = open(faulty("J4-1", Severity::BlocksPower, &seen), &job);
    assert!(held[0].starts_with("main:J4.1/solder: faulty, fractured joint (blocks power)"));
    // Something in the way does not make the fault go away, nor does rework alone.
    let (held, ..) = open(judge(&["J4-1"], Verdict::CannotBeJudged, &[id]), &found);
    assert!(
        held.iter()
            .any(|reason| reason.contains("cannot be judged, fractured"))
    );
    let (held, reworked, id) = open(judge(&["J4-1"], Verdict::Reworked, &[id]), &found);
    assert!(held[0].contains("Recheck the rework"));
    // Accepted by somebody who did not see the rework: people differ.
    let (held, ..) = open(judge(&["J4-1"], Verdict::Accepted, &[]), &reworked);
    assert!(held[0].contains("judgements differ"));
    let (held, accepted, _) = open(judge(&["J4-1"], Verdict::Accepted, &[id]), &reworked);
    assert!(held.is_empty(), "{held:?}");
    // Somebody who saw none of it saw no fault either: not settled, so not accepted.
    let (held, ..) = open(judge(&["J4-1"], Verdict::NoFaultSeen, &[]), &accepted);
    assert!(held[0].contains("accepted, fractured joint (blocks power); judgements differ"));
    // Milder faults hold the closing alone, watch and cosmetic none.
    let (held, fix_now, _) = open(faulty("J4-1", Severity::FixNow, &seen), &job);
    assert!(held.is_empty());
    assert_eq!(reasons(&fix_now, Stage::Closed).len(), 1);
    let (held, watch, _) = open(faulty("J4-1", Severity::Watch, &seen), &job);
    assert!(held.is_empty() && reasons(&watch, Stage::Closed).is_empty());
    // A fault of which nobody said how bad it is blocks: unknown is not OK.
    let (held, ..) = open(judge(&["J4-1"], Verdict::Faulty, &seen), &job);
    assert!(held[0].contains("nobody said how bad"));
}

#[test]
fn coverage_is_asked_for_as_the_shop_demands() {
    let mut bench = Bench::new(1);
    let mut job = finished_job(&mut bench);
    let look = Event::Judged(judge(&["F1-1", "F1-2", "U7-1"], Verdict::NoFaultSeen, &[]));
    job[2].what = look;
    let held = reasons(&job, Stage::Cold);
    assert_eq!(held.len(), 1);
    assert_eq!(
        held[0],
        "Board main: 3 of 4 safety and supply joints judged, 4 asked for. Look at main:U7.2/solder."
    );
    let demand = |before_power, before_closing, least_px_per_mm| {
        Event::CoverageDemanded(Coverage {
            before_power,
            before_closing,
            least_px_per_mm,
        })
    };
    let less = with(&job, &mut bench, vec![demand(0.75, 0.5, 0.0)]);
    assert!(reasons(&less, Stage::Closed).is_empty());
    let none = with(&job, &mut bench, vec![demand(0.0, 0.0, 0.0)]);
    assert!(reasons(&none, Stage::Closed).is_empty());
    let nonsense = with(&job, &mut bench, vec![demand(f64::NAN, -1.0, f64::NAN)]);
    assert_eq!(reasons(&nonsense, Stage::Closed).len(), 1);
    // A look at the board itself counts at any demanded scale, one at a photo by its scale.
    if let Event::Judged(judgement) = &mut job[2].what {
        judgement.px_per_mm = Some(11.0);
    }
    let fine = with(&job, &mut bench, vec![demand(0.5, 0.0, 60.0)]);
    assert!(reasons(&fine, Stage::Cold)[0].contains("0 of 4"));
}

#[test]
fn no_joints_are_no_data() {
    let job = finished_job(&mut Bench::new(1));
    let mut bare = map();
    bare.parts.clear();
    let held = held(&job, &[bare], Stage::Closed);
    assert_eq!(held.len(), 2);
    assert!(held.iter().all(|reason| reason.contains("no data")));
}

#[test]
fn missing_contradicted_and_unadopted_maps() {
    let mut bench = Bench::new(1);
    let job = finished_job(&mut bench);
    assert!(held(&job, &[], Stage::Cold)[0].contains("not at hand"));
    let other = Event::MapAdopted {
        board: "main".to_owned(),
        sha256: "bb".repeat(32),
        moved: false,
        replaces: Vec::new(),
    };
    let two = with(&job, &mut bench, vec![other]);
    assert!(reasons(&two, Stage::Cold)[0].contains("2 different maps"));
    let mut stranger = map();
    stranger.board = "panel".to_owned();
    assert!(held(&job, &[map(), stranger], Stage::Closed).is_empty());
}

#[test]
fn newer_and_altered_events_shut_the_gate_even_when_withdrawn() {
    let mut bench = Bench::new(1);
    let job = finished_job(&mut bench);
    let newer = bench.write(Event::Unknown(serde_json::json!({"kind": "sung"})));
    let undo = bench.write(Event::Withdrawn {
        targets: vec![newer.id],
    });
    let mut all = job.clone();
    all.extend([newer, undo]);
    assert!(reasons(&all, Stage::Cold)[0].contains("does not know"));
    let mut altered = job.clone();
    let mut other = job[3].clone();
    other.by = "somebody else".to_owned();
    altered.push(other);
    assert!(reasons(&altered, Stage::Cold)[0].contains("two different forms"));
}

#[test]
fn readings_have_to_be_there_within_and_fresh() {
    let mut bench = Bench::new(1);
    let job = finished_job(&mut bench);
    let mut read = |mode, readings: &[(Expect, f64)], stage| {
        reasons(&with(&job, &mut bench, vec![rail(mode, readings)]), stage)
    };
    let low = read(ReadingMode::Cold, &[(Expect::Ohm, 99.9)], Stage::Cold);
    assert!(
        low[0].contains("99.9 ohm; in order from 100 ohm up"),
        "{low:?}"
    );
    assert!(read(ReadingMode::Cold, &[(Expect::Ohm, 100.0)], Stage::Cold).is_empty());
    let blank = read(ReadingMode::Unloaded, &[], Stage::Supply);
    assert!(blank[0].starts_with("Not measured: main: rail +12 V (supply alone"));
    let ripple = read(ReadingMode::Loaded, &[(Expect::VoltsDc, 12.0)], Stage::Load);
    assert!(ripple[0].contains("alternating level in mV peak-to-peak"));
    let twice = [(Expect::VoltsDc, 12.0), (Expect::VoltsDc, 12.7)];
    assert!(read(ReadingMode::Unloaded, &twice, Stage::Supply)[0].contains("12.7 V"));
    let nan = read(
        ReadingMode::Unloaded,
        &[(Expect::VoltsDc, f64::NAN)],
        Stage::Supply,
    );
    assert!(nan[0].starts_with("Not measured"));
    let reworked = Event::Judged(judge(&["J4-1"], Verdict::Reworked, &[]));
    let touched = with(&job, &mut bench, vec![reworked]);
    let held = reasons(&touched, Stage::Supply);
    assert!(
        held.iter()
            .any(|reason| reason.contains("main was reworked on 2026-03-02"))
    );
}

#[test]
fn test_points_count_under_the_stated_settings_and_tolerance_alone() {
    let mut bench = Bench::new(1);
    let job = finished_job(&mut bench);
    let other = with(&job, &mut bench, vec![test_point("full", 50.0)]);
    let held = reasons(&other, Stage::Function);
    assert!(
        held[0].contains("`gain` stood at `full`, not `middle`"),
        "{held:?}"
    );
    let mut unstated = map();
    unstated.test_points[0].expect[0].min = None;
    unstated.test_points[0].expect[0].max = None;
    let verdict = gate(&fold(job), &[unstated], Stage::Function);
    assert_eq!(verdict.reasons.len(), 1);
    assert!(matches!(
        verdict.reasons[0].reason,
        Reason::NoTolerance { .. }
    ));
}

#[test]
fn function_tests_need_one_pass_and_no_failure() {
    let mut bench = Bench::new(1);
    let job = finished_job(&mut bench);
    let second = CheckKind::Function {
        test: "clock keeps time".to_owned(),
    };
    let failed = with(&job, &mut bench, vec![check(second, Outcome::Failed, "")]);
    let held = reasons(&failed, Stage::Function);
    assert_eq!(
        held,
        ["Failed: function test `clock keeps time`. Put it right and check again."]
    );
    let not_fitted = check(function_test(), Outcome::NotFitted, "no zones");
    let none = with(&job, &mut bench, vec![not_fitted]);
    assert!(reasons(&none, Stage::Function)[0].starts_with("No function test has passed"));
}

#[test]
fn closing_wants_its_checks_after_it_and_the_lid_on() {
    let mut bench = Bench::new(1);
    let job = finished_job(&mut bench);
    let again = with(
        &job,
        &mut bench,
        vec![Event::ClosedUp {
            note: String::new(),
        }],
    );
    // Five outside checks, one function test, one rail.
    assert_eq!(reasons(&again, Stage::Closed).len(), 7);
    assert!(reasons(&again, Stage::Function).is_empty());
    let opened = Event::Reopened {
        board: None,
        reason: "rattle".to_owned(),
    };
    let opened = with(&job, &mut bench, vec![opened]);
    let held = reasons(&opened, Stage::Closed);
    assert!(
        held.iter()
            .any(|reason| reason.starts_with("The unit was opened again"))
    );
    let no_closing: Vec<_> = job
        .into_iter()
        .filter(|event| !matches!(event.what, Event::ClosedUp { .. }))
        .collect();
    assert!(reasons(&no_closing, Stage::Closed)[0].starts_with("Nobody has recorded"));
}

#[test]
fn no_sentence_of_the_gate_calls_anything_safe() {
    let verdict = gate(&fold([]), &[map()], Stage::Closed);
    for reason in &verdict.reasons {
        let text = reason.to_string();
        assert!(!text.is_empty());
        for word in ["is safe", "sound", "good"] {
            assert!(!text.contains(word), "{text}");
        }
    }
    let json = serde_json::to_value(&verdict).unwrap();
    assert_eq!(json["reasons"][0]["stage"], "cold");
    assert_eq!(json["reasons"][0]["reason"], "no_unit");
}
