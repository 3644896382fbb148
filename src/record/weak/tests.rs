use super::{WeakPlace, WeakSpot, weak_label, weak_spots, write_watch_notes};
use crate::board::{MapIndex, Side, round_order};
use crate::record::event::{Event, FaultKind, Severity, Target, Verdict};
use crate::record::testing::{Bench, faulty, judge, map};
use crate::record::{State, fold};

/// The state of a unit on which these were judged, in order.
fn unit(number: u8, judged: Vec<crate::record::Judgement>) -> State {
    let mut bench = Bench::new(number);
    let events: Vec<_> = judged
        .into_iter()
        .map(|judgement| bench.write(Event::Judged(judgement)))
        .collect();
    fold(events)
}

fn found(units: &[(&str, &State)]) -> Vec<(String, usize, usize, usize)> {
    let map = map();
    let index = MapIndex::new(&map);
    weak_spots(&map, units)
        .iter()
        .map(|spot| {
            let label = weak_label(&index, &spot.place).unwrap();
            (label, spot.faulty, spot.suspect, spot.looked_at)
        })
        .collect()
}

#[test]
fn units_are_counted_and_not_jobs_or_photos() {
    let bad = unit(1, vec![faulty("J4-1", Severity::BlocksPower, &[])]);
    let again = unit(2, vec![judge(&["J4-1"], Verdict::NoFaultSeen, &[])]);
    let good = unit(3, vec![judge(&["J4-1", "J4-2"], Verdict::NoFaultSeen, &[])]);
    let doubt = unit(4, vec![judge(&["J4-1"], Verdict::Suspect, &[])]);
    let units = [
        ("FH12-0001", &bad),
        ("fh12-0001 ", &again),
        ("FH12-0002", &good),
        ("FH12-0003", &doubt),
    ];
    assert_eq!(found(&units), [("J4.1".to_owned(), 1, 1, 3)]);
    assert!(
        found(&[("FH12-0002", &good)]).is_empty(),
        "nothing found, nothing weak"
    );
}

#[test]
fn the_interval_is_wilson_s() {
    // Newcombe 1998, method 3 (from memory): 1 of 29 gives 0.6113 to 17.1755 %.
    let bad = unit(1, vec![faulty("J4-1", Severity::FixNow, &[])]);
    let good = unit(2, vec![judge(&["J4-1"], Verdict::NoFaultSeen, &[])]);
    let codes: Vec<String> = (0..28).map(|i| format!("unit {i}")).collect();
    let mut units: Vec<(&str, &State)> = codes.iter().map(|code| (code.as_str(), &good)).collect();
    units.push(("bad", &bad));
    let spots = weak_spots(&map(), &units);
    assert_eq!((spots.len(), spots[0].looked_at), (1, 29));
    assert!((spots[0].interval.low - 0.006_113).abs() < 1e-6);
    assert!((spots[0].interval.high - 0.171_755).abs() < 1e-6);
}

#[test]
fn only_what_stands_counts() {
    let mut bench = Bench::new(1);
    let marked = bench.write(Event::Judged(faulty("J4-1", Severity::FixNow, &[])));
    let undone = bench.write(Event::Withdrawn {
        targets: vec![marked.id],
    });
    let state = fold(vec![marked.clone(), undone]);
    assert!(found(&[("a", &state)]).is_empty(), "withdrawn");

    // Two people who did not see each other's judgement: the worst stands.
    let mut other = Bench::new(2);
    let against = other.write(Event::Judged(judge(&["J4-1"], Verdict::NoFaultSeen, &[])));
    let state = fold(vec![marked, against]);
    assert_eq!(found(&[("a", &state)]), [("J4.1".to_owned(), 1, 0, 1)]);

    let hidden = unit(3, vec![judge(&["J4-1"], Verdict::CannotBeJudged, &[])]);
    let bad = unit(4, vec![faulty("J4-1", Severity::FixNow, &[])]);
    assert_eq!(
        found(&[("hidden", &hidden), ("bad", &bad)]),
        [("J4.1".to_owned(), 1, 0, 1)],
        "something in the way is no look"
    );
}

#[test]
fn a_fault_that_was_mended_was_a_fault() {
    let mut bench = Bench::new(1);
    let marked = bench.write(Event::Judged(faulty("J4-1", Severity::FixNow, &[])));
    let mended = bench.write(Event::Judged(judge(
        &["J4-1"],
        Verdict::Reworked,
        &[marked.id],
    )));
    let accepted = bench.write(Event::Judged(judge(
        &["J4-1"],
        Verdict::Accepted,
        &[mended.id],
    )));
    let state = fold(vec![marked, mended, accepted]);
    assert_eq!(found(&[("a", &state)]), [("J4.1".to_owned(), 1, 0, 1)]);
}

#[test]
fn a_part_counts_as_looked_at_where_its_joints_were() {
    let mut loose = faulty("J4-1", Severity::FixNow, &[]);
    loose.targets = vec![Target::Part {
        board: "main".to_owned(),
        part: "j4".to_owned(),
    }];
    let bad = unit(1, vec![loose]);
    let good = unit(2, vec![judge(&["J4-2"], Verdict::NoFaultSeen, &[])]);
    assert_eq!(
        found(&[("a", &bad), ("b", &good)]),
        [("J4".to_owned(), 1, 0, 2)]
    );
}

#[test]
fn the_surest_come_first() {
    let both = unit(
        1,
        vec![
            faulty("J4-1", Severity::FixNow, &[]),
            faulty("J4-2", Severity::FixNow, &[]),
        ],
    );
    let one = unit(
        2,
        vec![
            faulty("J4-2", Severity::FixNow, &[]),
            judge(&["J4-1"], Verdict::NoFaultSeen, &[]),
        ],
    );
    let order: Vec<String> = found(&[("a", &both), ("b", &one)])
        .into_iter()
        .map(|(label, ..)| label)
        .collect();
    assert_eq!(order, ["J4.2", "J4.1"]);
}

fn spots() -> Vec<WeakSpot> {
    let bad = unit(1, vec![faulty("U7-2", Severity::FixNow, &[])]);
    weak_spots(&map(), &[("a", &bad)])
}

#[test]
fn notes_come_first_in_the_round_and_are_replaced_not_piled_up() {
    let mut map = map();
    map.parts[1].pins[1].watch = Some("hot".to_owned());
    assert_eq!(write_watch_notes(&mut map, &spots()), 1);
    let note = map.parts[1].pins[1].watch.clone().unwrap();
    assert!(
        note.starts_with(
            "hot; earlier units: faulty on 1 of 1 unit looked at (21 to 100 %, 95 % interval)"
        ),
        "{note}"
    );
    assert_eq!(round_order(&map, Side::Solder)[0].label(), "U7.2");
    assert_eq!(
        write_watch_notes(&mut map, &spots()),
        0,
        "again changes nothing"
    );
    assert_eq!(write_watch_notes(&mut map, &[]), 1);
    assert_eq!(map.parts[1].pins[1].watch.as_deref(), Some("hot"));
}

#[test]
fn faults_are_counted_by_unit() {
    let spots = spots();
    assert_eq!(spots[0].faults, [(FaultKind::Fractured, 1)]);
    assert!(matches!(&spots[0].place, WeakPlace::Joint(joint) if joint.pin == "U7-2"));
}
