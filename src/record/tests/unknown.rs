//! What nobody knows holds the gate shut.

use crate::board::{BoardMap, Expect, Zone};

use super::super::testing::*;
use super::super::*;

fn held(events: &[Envelope], map: BoardMap, stage: Stage) -> Vec<String> {
    let verdict = gate(&fold(events.to_vec()), &[map], stage);
    verdict.reasons.iter().map(ToString::to_string).collect()
}

fn with(job: &[Envelope], bench: &mut Bench, events: Vec<Event>) -> Vec<Envelope> {
    let mut all = job.to_vec();
    all.extend(events.into_iter().map(|what| bench.write(what)));
    replacing(all)
}

fn cold(events: &[Envelope]) -> Vec<String> {
    held(events, map(), Stage::Cold)
}

fn unit(what: &str) -> Target {
    Target::Unit {
        what: what.to_owned(),
    }
}

#[test]
fn work_on_the_unit_after_closing_up_asks_for_closing_it_again() {
    let mut bench = Bench::new(1);
    let job = finished_job(&mut bench);
    let seen = fold(job.clone()).joint(&key("J4-1")).events;
    let reworked = with(
        &job,
        &mut bench,
        vec![Event::Judged(judge(&["J4-1"], Verdict::Reworked, &seen))],
    );
    let id = reworked.last().map(|event| event.id).unwrap();
    let loaded = [(Expect::VoltsDc, 11.9), (Expect::MillivoltsPp, 80.0)];
    let again = |bench: &mut Bench, job: &[Envelope]| {
        let readings = vec![
            rail(ReadingMode::Cold, &[(Expect::Ohm, 470.0)]),
            rail(ReadingMode::Unloaded, &[(Expect::VoltsDc, 12.1)]),
            rail(ReadingMode::Loaded, &loaded),
            test_point("middle", 50.0),
            check(function_test(), Outcome::Passed, ""),
        ];
        with(job, bench, readings)
    };
    let accepted = Event::Judged(judge(&["J4-1"], Verdict::Accepted, &[id]));
    let done = with(&reworked, &mut bench, vec![accepted]);
    let done = again(&mut bench, &done);
    assert!(held(&done, map(), Stage::Function).is_empty());
    let closed = held(&done, map(), Stage::Closed);
    assert!(
        closed[0].starts_with("The unit was opened again"),
        "{closed:?}"
    );

    let reseated = Event::Reseated {
        board: "main".to_owned(),
        part: "J4".to_owned(),
        note: String::new(),
    };
    let touched = with(&job, &mut bench, vec![reseated]);
    let touched = again(&mut bench, &touched);
    let closed = held(&touched, map(), Stage::Closed);
    assert!(
        closed[0].starts_with("The unit was opened again"),
        "{closed:?}"
    );
}

#[test]
fn a_rail_without_a_least_resistance_holds_first_power() {
    let job = finished_job(&mut Bench::new(1));
    let mut unlimited = map();
    unlimited.rails[0].cold_min_ohm = None;
    let reasons = held(&job, unlimited, Stage::Cold);
    assert_eq!(reasons.len(), 1);
    assert!(reasons[0].starts_with("The map states no tolerance for main: rail +12 V"));
    let mut none = map();
    none.rails.clear();
    let reasons = held(&job, none, Stage::Cold);
    assert!(
        reasons
            .iter()
            .any(|reason| reason.starts_with("No adopted map names a supply rail"))
    );
}

#[test]
fn doubts_where_power_reaches_hold_first_power_and_doubts_beside_it_do_not() {
    let mut bench = Bench::new(1);
    let job = finished_job(&mut bench);
    let mut said = |target: Target, verdict| {
        let seen = fold(job.clone()).judgements_of(std::slice::from_ref(&target));
        let mut judgement = judge(&[], verdict, &seen);
        judgement.targets = vec![target];
        let mut reasons = cold(&with(&job, &mut bench, vec![Event::Judged(judgement)]));
        reasons.retain(|reason| !reason.starts_with("Out of date"));
        reasons
    };
    for verdict in [Verdict::Suspect, Verdict::Reworked] {
        assert_eq!(said(joint("U7-1"), verdict).len(), 1, "{verdict:?}");
        assert_eq!(said(unit("mains cord"), verdict).len(), 1, "{verdict:?}");
        assert!(said(joint("J4-1"), verdict).is_empty(), "{verdict:?}");
    }
    let hidden = said(unit("mains cord"), Verdict::CannotBeJudged);
    assert!(
        hidden[0].starts_with("mains cord: cannot be judged"),
        "{hidden:?}"
    );
    let part = |part: &str| Target::Part {
        board: "main".to_owned(),
        part: part.to_owned(),
    };
    assert_eq!(said(part("f1"), Verdict::CannotBeJudged).len(), 1);
    assert!(said(part("j4"), Verdict::CannotBeJudged).is_empty());
}

#[test]
fn a_fault_told_in_words_alone_blocks_until_it_is_accepted() {
    let mut bench = Bench::new(1);
    let job = finished_job(&mut bench);
    let seen = fold(job.clone()).joint(&key("J4-1")).events;
    let mut charred = judge(&["J4-1"], Verdict::Faulty, &seen);
    charred.note = "charred".to_owned();
    let faulty = with(&job, &mut bench, vec![Event::Judged(charred)]);
    let id = faulty.last().map(|event| event.id).unwrap();
    let mut then = |verdict| {
        let next = Event::Judged(judge(&["J4-1"], verdict, &[id]));
        with(&faulty, &mut bench, vec![next])
    };
    for verdict in [Verdict::Reworked, Verdict::Suspect, Verdict::CannotBeJudged] {
        let job = then(verdict);
        let reasons = cold(&job);
        let open = |reason: &&String| reason.starts_with("main:J4.1");
        assert_eq!(
            reasons.iter().filter(open).count(),
            1,
            "{verdict:?}: {reasons:?}"
        );
        let state = fold(job);
        assert_eq!(state.marks().len(), 1, "{verdict:?}");
    }
    // Said to show no fault after all: that takes it back.
    let cleared = then(Verdict::NoFaultSeen);
    assert!(fold(cleared).marks().is_empty());
    let reworked = then(Verdict::Reworked);
    let id = reworked.last().map(|event| event.id).unwrap();
    let accepted = Event::Judged(judge(&["J4-1"], Verdict::Accepted, &[id]));
    let done = with(&reworked, &mut bench, vec![accepted]);
    assert!(
        !cold(&done)
            .iter()
            .any(|reason| reason.starts_with("main:J4.1"))
    );
}

#[test]
fn stored_charge_passes_with_what_the_meter_showed() {
    let mut bench = Bench::new(1);
    let job = finished_job(&mut bench);
    let mut unsaid = check(CheckKind::StoredCharge, Outcome::Passed, "waited an hour");
    if let Event::Checked(check) = &mut unsaid {
        check.volts = None;
    }
    let reasons = cold(&with(&job, &mut bench, vec![unsaid]));
    assert_eq!(reasons.len(), 1);
    assert!(reasons[0].contains("without what the meter showed"));
    let none = check(CheckKind::StoredCharge, Outcome::NotFitted, "no reservoirs");
    assert!(cold(&with(&job, &mut bench, vec![none])).is_empty());
}

#[test]
fn a_current_that_the_map_limits_is_asked_for_and_judged() {
    let mut bench = Bench::new(1);
    let job = finished_job(&mut bench);
    let mut limited = map();
    limited.rails[0].amperes_max = Some(0.8);
    let reasons = held(&job, limited.clone(), Stage::Load);
    assert!(
        reasons[0].starts_with("Not measured: main: rail +12 V"),
        "{reasons:?}"
    );
    let mut read = |amperes| {
        let readings = [
            (Expect::VoltsDc, 11.9),
            (Expect::MillivoltsPp, 80.0),
            (Expect::AmperesDc, amperes),
        ];
        let job = with(&job, &mut bench, vec![rail(ReadingMode::Loaded, &readings)]);
        held(&job, limited.clone(), Stage::Load)
    };
    assert!(read(0.7).is_empty());
    assert!(read(9.9)[0].starts_with("Outside its limits"));
}

#[test]
fn a_board_of_which_no_zone_is_known_is_no_data_beside_one_that_has_them() {
    let mut bench = Bench::new(1);
    let mut job = finished_job(&mut bench);
    job.push(bench.write(Event::MapAdopted {
        board: "psu".to_owned(),
        sha256: "bb".repeat(32),
        moved: false,
        replaces: Vec::new(),
    }));
    let mut psu = map();
    psu.board = "psu".to_owned();
    for part in &mut psu.parts {
        part.zone = Zone::Load;
    }
    psu.rails[0].name = "+40 V".to_owned();
    let asked = |psu: BoardMap, stage| {
        let verdict = gate(&fold(job.clone()), &[map(), psu], stage);
        let words = verdict.reasons.iter().map(ToString::to_string);
        words
            .filter(|reason| reason.contains("no data"))
            .collect::<Vec<_>>()
    };
    let reasons = asked(psu.clone(), Stage::Cold);
    assert!(reasons[0].starts_with("The map of board psu does not say which joints belong"));
    // A doubt there may be one about the supply.
    let of_psu = |pin: &str| {
        Target::Joint(JointKey {
            board: "psu".to_owned(),
            ..key(pin)
        })
    };
    assert!(is_near_power(&[map(), psu.clone()], &of_psu("J4-1")));
    assert!(!is_near_power(&[map(), psu.clone()], &joint("J4-1")));
    // Without a rail it is a board that the supply feeds from elsewhere.
    psu.rails.clear();
    assert!(asked(psu.clone(), Stage::Cold).is_empty());
    psu.parts.clear();
    assert!(!asked(psu.clone(), Stage::Cold).is_empty());
    let closing = asked(psu, Stage::Closed);
    assert!(
        closing
            .iter()
            .any(|reason| reason.contains("which joints there are"))
    );
}

#[test]
fn a_clock_that_runs_ahead_does_not_put_a_reading_after_a_rework() {
    let mut bench = Bench::new(1);
    let job = finished_job(&mut bench);
    let mut ahead = Bench::new(2);
    let mut early = ahead.write(rail(ReadingMode::Unloaded, &[(Expect::VoltsDc, 12.1)]));
    early.clock.ms += 4 * 365 * 24 * 3_600_000;
    let seen = fold(job.clone()).joint(&key("J4-1")).events;
    let reworked = Event::Judged(judge(&["J4-1"], Verdict::Reworked, &seen));
    let mut all = with(&job, &mut bench, vec![reworked]);
    all.push(early.clone());
    let stale = |events: &[Envelope]| {
        let state = fold(events.to_vec());
        let readings = state.measurements.values().flatten();
        readings
            .filter(|reading| reading.event == early.id)
            .all(|reading| reading.stale.is_some())
    };
    assert!(stale(&all));
    // Taken after it by the date as well, it counts.
    if let Some(last) = all.last_mut() {
        last.at = "2026-03-03T08:00:00Z".to_owned();
    }
    assert!(!stale(&all));
}

#[test]
fn a_named_fault_beside_one_told_in_words_alone_does_not_hide_it() {
    let mut bench = Bench::new(1);
    let job = finished_job(&mut bench);
    let seen = fold(job.clone()).joint(&key("J4-1")).events;
    let faulty = with(
        &job,
        &mut bench,
        vec![Event::Judged(judge(&["J4-1"], Verdict::Faulty, &seen))],
    );
    let id = faulty.last().map(|event| event.id).unwrap();
    let mut reworked = judge(&["J4-1"], Verdict::Reworked, &[id]);
    reworked.faults = vec![fault(FaultKind::Disturbed, Severity::Cosmetic)];
    let reworked = with(&faulty, &mut bench, vec![Event::Judged(reworked)]);
    let open = |reasons: Vec<String>| {
        let of_joint = |reason: &String| reason.starts_with("main:J4.1");
        reasons.into_iter().find(of_joint).unwrap_or_default()
    };
    assert!(open(cold(&reworked)).contains("nobody said how bad"));
    assert!(open(held(&reworked, map(), Stage::Closed)).contains("nobody said how bad"));
    // Another bench, which has not seen it, calls the same joint cosmetic.
    let mut both = faulty.clone();
    let cosmetic = faulty_cosmetic(&seen);
    both.push(Bench::new(2).write(Event::Judged(cosmetic)));
    assert!(open(cold(&both)).contains("judgements differ"));
}

fn faulty_cosmetic(seen: &[EventId]) -> Judgement {
    faulty("J4-1", Severity::Cosmetic, seen)
}

/// The clock of a bench stood an hour ahead while a rework was recorded, and was then put right.
#[test]
fn a_rework_dated_in_the_future_does_not_outdate_what_is_measured_after_it() {
    const HOUR_MS: u64 = 3_600_000;
    let mut bench = Bench::new(1);
    let job = finished_job(&mut bench);
    let seen = fold(job.clone()).joint(&key("J4-1")).events;
    let right = bench.ms;
    bench.ms += HOUR_MS;
    let reworked = Event::Judged(judge(&["J4-1"], Verdict::Reworked, &seen));
    let job = with(&job, &mut bench, vec![reworked]);
    let after = |number: u8| {
        let mut other = Bench::new(number);
        let mut read = other.write(rail(ReadingMode::Unloaded, &[(Expect::VoltsDc, 12.1)]));
        read.seq = 900;
        read.id = EventId::from_u128(u128::from(number) << 64 | 900);
        let at = jiff::Timestamp::from_millisecond((right + 60_000).try_into().unwrap());
        read.at = at.unwrap().to_string();
        // It has read the later clock and goes on from there.
        read.clock.ms = right + HOUR_MS + 60_000;
        let mut all = job.clone();
        let id = read.id;
        all.push(read);
        let state = fold_at(all, Some(right + 120_000));
        let readings = state.measurements.values().flatten();
        let stale: Vec<bool> = readings
            .filter(|reading| reading.event == id)
            .map(|reading| reading.stale.is_some())
            .collect();
        stale
    };
    assert_eq!(after(1), [false], "its own order is never in doubt");
    assert_eq!(after(2), [false], "a date to come decides nothing");
}

/// A bench whose clock once ran ahead made its checks before another closed the unit up.
#[test]
fn closing_checks_of_before_closing_by_their_date_do_not_count_as_made_after_it() {
    let mut bench = Bench::new(1);
    let mut job = finished_job(&mut bench);
    let mut ahead = Bench::new(2);
    let mut early = ahead.write(check(CheckKind::Cord, Outcome::Passed, ""));
    early.at = "2026-03-02T08:00:00Z".to_owned();
    early.clock.ms += 365 * 24 * 3_600_000;
    // That it replaces the check after closing makes it the only one.
    if let Event::Checked(check) = &mut early.what {
        let known = fold(job.clone());
        let cord = &known.checks[&CheckKind::Cord];
        check.replaces = cord.iter().map(|check| check.event).collect();
    }
    assert!(held(&job, map(), Stage::Closed).is_empty());
    job.push(early);
    let reasons = held(&job, map(), Stage::Closed);
    assert!(
        reasons.iter().any(|reason| reason.contains("mains cord")),
        "{reasons:?}"
    );
}
