//! Laws that hold for any interleaving of benches: merge, withdrawal, and a gate that nothing
//! but the right work opens.

use proptest::prelude::*;

use super::super::testing::*;
use super::super::*;

/// What one bench does at one moment.
#[derive(Debug, Clone)]
enum Deed {
    Judge(u8, u8, bool),
    Measure(f64),
    Check(u8, u8),
    Adopt(u8),
    Reopen,
    Undo(u8),
    Newer,
    /// Reads everything that the other benches have written.
    Sync,
}

fn deed() -> impl Strategy<Value = Deed> {
    prop_oneof![
        6 => (0..6u8, 0..6u8, any::<bool>()).prop_map(|(p, v, saw)| Deed::Judge(p, v, saw)),
        2 => (11.0..13.0f64).prop_map(Deed::Measure),
        2 => (0..6u8, 0..3u8).prop_map(|(kind, outcome)| Deed::Check(kind, outcome)),
        1 => (0..3u8).prop_map(Deed::Adopt),
        1 => Just(Deed::Reopen),
        3 => any::<u8>().prop_map(Deed::Undo),
        1 => Just(Deed::Newer),
        2 => Just(Deed::Sync),
    ]
}

const PINS: [&str; 6] = ["F1-1", "F1-2", "U7-1", "U7-2", "J4-1", "J4-2"];
const VERDICTS: [Verdict; 6] = [
    Verdict::NoFaultSeen,
    Verdict::Accepted,
    Verdict::CannotBeJudged,
    Verdict::Reworked,
    Verdict::Suspect,
    Verdict::Faulty,
];
const OUTCOMES: [Outcome; 3] = [Outcome::Passed, Outcome::NotFitted, Outcome::Failed];

/// Plays deeds on three benches; returns what each wrote.
fn play(deeds: &[(u8, Deed)]) -> [Vec<Envelope>; 3] {
    let mut benches = [1, 2, 3].map(Bench::new);
    let mut seen: [Vec<Envelope>; 3] = Default::default();
    let mut written: [Vec<Envelope>; 3] = Default::default();
    for (who, deed) in deeds {
        let who = usize::from(*who % 3);
        let what = match deed {
            Deed::Sync => {
                seen[who] = written.concat();
                let newest = seen[who].iter().map(|event| event.clock.ms).max();
                benches[who].ms = benches[who].ms.max(newest.unwrap_or(0));
                continue;
            }
            Deed::Judge(pin, verdict, saw) => {
                let pin = PINS[usize::from(*pin)];
                let replaces = if *saw {
                    fold(seen[who].clone()).judgements_of(&[joint(pin)])
                } else {
                    Vec::new()
                };
                let verdict = VERDICTS[usize::from(*verdict)];
                let mut judgement = judge(&[pin], verdict, &replaces);
                if verdict >= Verdict::Suspect {
                    judgement.faults = vec![fault(FaultKind::Cold, Severity::BlocksPower)];
                }
                Event::Judged(judgement)
            }
            Deed::Measure(volts) => rail(
                ReadingMode::Unloaded,
                &[(crate::board::Expect::VoltsDc, *volts)],
            ),
            Deed::Check(kind, outcome) => check(
                CheckKind::BEFORE_POWER[usize::from(*kind)].clone(),
                OUTCOMES[usize::from(*outcome)],
                "",
            ),
            Deed::Adopt(map) => Event::MapAdopted {
                board: "main".to_owned(),
                sha256: map.to_string(),
                moved: false,
                replaces: Vec::new(),
            },
            Deed::Reopen => Event::Reopened {
                board: None,
                reason: "look".to_owned(),
            },
            Deed::Undo(pick) => {
                let Some(target) = seen[who].get(usize::from(*pick) % seen[who].len().max(1))
                else {
                    continue;
                };
                Event::Withdrawn {
                    targets: vec![target.id],
                }
            }
            Deed::Newer => Event::Unknown(serde_json::json!({"kind": "sung"})),
        };
        let event = benches[who].write(what);
        seen[who].push(event.clone());
        written[who].push(event);
    }
    written
}

fn deeds() -> impl Strategy<Value = Vec<(u8, Deed)>> {
    prop::collection::vec((0..3u8, deed()), 0..40)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]

    /// Merge is union: commutative, associative, idempotent, whatever has synced already.
    #[test]
    fn merge_laws(deeds in deeds(), cuts in any::<[u8; 3]>(), shuffled in any::<u64>()) {
        let [a, b, c] = play(&deeds);
        let whole = fold([a.clone(), b.clone(), c.clone()].concat());
        prop_assert_eq!(&fold([c.clone(), a.clone(), b.clone()].concat()), &whole);
        prop_assert_eq!(&fold([a.clone(), a.clone(), b.clone(), c.clone(), b.clone()].concat()), &whole);
        // Associative: folding what two merges of different groupings brought together.
        let ab = merged(&[&a, &b]);
        let bc = merged(&[&b, &c]);
        prop_assert_eq!(fold(merged(&[&ab, &c])), fold(merged(&[&a, &bc])));
        // Partial syncs: a prefix of each bench first, everything later.
        let prefix = |events: &[Envelope], cut: u8| {
            events[..usize::from(cut) % (events.len() + 1)].to_vec()
        };
        let early = merged(&[&prefix(&a, cuts[0]), &prefix(&b, cuts[1]), &prefix(&c, cuts[2])]);
        let late = merged(&[&early, &a, &b, &c]);
        prop_assert_eq!(&fold(late), &whole);
        let mut all = [a, b, c].concat();
        shuffle(&mut all, shuffled);
        prop_assert_eq!(fold(all), whole);
    }

    /// Withdrawing an event is as if it had never been, and redo brings back exactly what was.
    #[test]
    fn withdraw_and_redo(deeds in deeds(), pick in any::<prop::sample::Index>()) {
        let all = play(&deeds).concat();
        prop_assume!(!all.is_empty());
        let target = pick.get(&all).clone();
        let mut bench = Bench::new(9);
        bench.ms += 1_000_000;
        let undo = bench.write(Event::Withdrawn { targets: vec![target.id] });
        let redo = bench.write(Event::Withdrawn { targets: vec![undo.id] });
        let without = all.iter().filter(|event| event.id != target.id).cloned();
        let undone = fold(all.iter().cloned().chain([undo.clone()]));
        let redone = fold(all.iter().cloned().chain([undo, redo]));
        prop_assert!(meaning(&redone) == meaning(&fold(all.clone())));
        if !matches!(target.what, Event::Unknown(_)) {
            prop_assert!(meaning(&undone) == meaning(&fold(without)));
        }
    }

    /// A mark that blocks power never opens a gate, whatever was there and whatever it replaces.
    #[test]
    fn blocking_mark_never_opens_a_gate(
        deeds in deeds(),
        pin in 0..6usize,
        verdict in 0..6usize,
        finished in any::<bool>(),
        saw in any::<bool>(),
        later_ms in 0..100_000u64,
    ) {
        prop_assume!(VERDICTS[verdict] != Verdict::Accepted);
        let mut all = if finished { finished_job(&mut Bench::new(7)) } else { Vec::new() };
        all.extend(play(&deeds).concat());
        let mut bench = Bench::new(9);
        bench.ms += later_ms;
        let state = fold(all.clone());
        let replaces = if saw { state.judgements_of(&[joint(PINS[pin])]) } else { Vec::new() };
        let mut judgement = judge(&[PINS[pin]], VERDICTS[verdict], &replaces);
        judgement.faults = vec![fault(FaultKind::Burnt, Severity::BlocksPower)];
        all.push(bench.write(Event::Judged(judgement)));
        let state = fold(all);
        for stage in Stage::ALL {
            prop_assert!(!gate(&state, &[map()], stage).permitted);
        }
    }

    /// Withdrawing everything never opens a gate.
    #[test]
    fn withdrawing_everything_never_opens_a_gate(deeds in deeds()) {
        let mut all = finished_job(&mut Bench::new(7));
        all.extend(play(&deeds).concat());
        let mut bench = Bench::new(9);
        bench.ms += 1_000_000;
        let targets = all.iter().map(|event| event.id).collect();
        all.push(bench.write(Event::Withdrawn { targets }));
        let state = fold(all);
        for stage in Stage::ALL {
            prop_assert!(!gate(&state, &[map()], stage).permitted);
        }
    }

    /// Every later stage holds at least what the stages before it hold.
    #[test]
    fn later_stages_hold_no_less(deeds in deeds(), finished in any::<bool>()) {
        let mut all = if finished { finished_job(&mut Bench::new(7)) } else { Vec::new() };
        all.extend(play(&deeds).concat());
        let state = fold(all);
        let mut before: Vec<Held> = Vec::new();
        for stage in Stage::ALL {
            let verdict = gate(&state, &[map()], stage);
            prop_assert_eq!(&verdict.reasons[..before.len()], &before[..]);
            before = verdict.reasons;
        }
    }

    /// An event survives being written and read, floats to the last bit.
    #[test]
    fn events_survive_json(deeds in deeds()) {
        for event in play(&deeds).concat() {
            let line = serde_json::to_string(&event).unwrap();
            prop_assert_eq!(serde_json::from_str::<Envelope>(&line).unwrap(), event);
        }
    }
}

/// Set union by identity, in the order of identities.
fn merged(groups: &[&[Envelope]]) -> Vec<Envelope> {
    let mut all: Vec<Envelope> = groups.concat();
    all.sort_by_key(|event| event.id);
    all.dedup();
    all
}

fn shuffle(events: &mut [Envelope], mut seed: u64) {
    for i in (1..events.len()).rev() {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
        events.swap(i, (seed >> 33) as usize % (i + 1));
    }
}

/// A state without its log, and without positions in it.
fn meaning(state: &State) -> State {
    let mut meaning = state.clone();
    meaning.log.clear();
    let at =
        |position: Option<usize>| position.map(|position| state.log[position].event.seq as usize);
    meaning.closed_up = at(state.closed_up);
    meaning.reopened = at(state.reopened);
    for current in meaning.measurements.values_mut().flatten() {
        current.position = 0;
    }
    for current in meaning.checks.values_mut().flatten() {
        current.position = 0;
    }
    meaning
}
