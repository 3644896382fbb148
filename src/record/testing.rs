//! A small invented job for the tests of this room.

use uuid::Uuid;

use crate::board::{
    BoardMap, Expect, Extent, Land, LandShape, Limits, Outline, Part, PartKind, Pin, Rail, Side,
    TestPoint, Zone,
};

use super::event::*;

/// A board with one safety, one supply and one load part of two pins each, one rail and one test
/// point.
pub(crate) fn map() -> BoardMap {
    BoardMap {
        schema: 1,
        model: "Fernhollow FH-12".to_owned(),
        board: "main".to_owned(),
        title: String::new(),
        revision: None,
        origin: "invented for a test".to_owned(),
        outline: vec![[0.0, 0.0], [60.0, 0.0], [60.0, 40.0], [0.0, 40.0]],
        parts: vec![
            part("F1", Zone::Safety, 10.0),
            part("U7", Zone::Supply, 20.0),
            part("J4", Zone::Load, 30.0),
        ],
        landmarks: Vec::new(),
        rails: vec![Rail {
            name: "+12 V".to_owned(),
            at: "U7.1".to_owned(),
            return_at: "U7.2".to_owned(),
            unloaded: Limits {
                min: 11.4,
                max: 12.6,
            },
            loaded: Limits {
                min: 11.4,
                max: 12.6,
            },
            cold_min_ohm: Some(100.0),
            ripple_max_mv_pp: Some(120.0),
            amperes_max: None,
        }],
        test_points: vec![TestPoint {
            name: "TP3".to_owned(),
            at: "J4.1".to_owned(),
            expect: vec![Extent {
                quantity: Expect::MillivoltsPp,
                nominal: Some(40.0),
                min: Some(30.0),
                max: Some(60.0),
            }],
            settings: [("gain".to_owned(), "middle".to_owned())].into(),
        }],
    }
}

fn part(reference: &str, zone: Zone, x: f64) -> Part {
    let pin = |no: &str, y: f64| Pin {
        uid: format!("{reference}-{no}"),
        no: no.to_owned(),
        at: [x, y],
        land: Land {
            shape: LandShape::Round,
            size: [1.7, 1.7],
        },
        drill: Some(1.0),
        net: None,
        watch: None,
    };
    Part {
        uid: reference.to_lowercase(),
        reference: reference.to_owned(),
        kind: PartKind::Other,
        value: String::new(),
        side: Side::Component,
        outline: Outline::Circle {
            at: [x, 11.0],
            diameter: 4.0,
        },
        pins: vec![pin("1", 10.0), pin("2", 12.54)],
        zone,
        watch: None,
    }
}

/// One bench that writes events with a clock that rises by a second.
pub(crate) struct Bench {
    id: BenchId,
    seq: u64,
    pub(crate) ms: u64,
}

/// 2026-03-02T09:00:00Z.
pub(crate) const MORNING_MS: u64 = 1_772_442_000_000;

impl Bench {
    pub(crate) fn new(number: u8) -> Self {
        Self {
            id: Uuid::from_bytes([number; 16]),
            seq: 0,
            ms: MORNING_MS,
        }
    }

    pub(crate) fn id(&self) -> BenchId {
        self.id
    }

    pub(crate) fn write(&mut self, what: Event) -> Envelope {
        self.ms += 1000;
        let mut id = *self.id.as_bytes();
        id[8..].copy_from_slice(&self.seq.to_be_bytes());
        let at = jiff::Timestamp::from_millisecond(self.ms.try_into().unwrap()).unwrap();
        let envelope = Envelope {
            id: Uuid::from_bytes(id),
            bench: self.id,
            seq: self.seq,
            clock: Clock { ms: self.ms, n: 0 },
            at: at.to_string(),
            by: format!("bench {}", id[0]),
            prev: String::new(),
            what,
        };
        self.seq += 1;
        envelope
    }
}

pub(crate) fn joint(pin: &str) -> Target {
    Target::Joint(key(pin))
}

pub(crate) fn key(pin: &str) -> JointKey {
    JointKey {
        board: "main".to_owned(),
        pin: pin.to_owned(),
        side: Side::Solder,
    }
}

pub(crate) fn judge(targets: &[&str], verdict: Verdict, replaces: &[EventId]) -> Judgement {
    Judgement {
        targets: targets.iter().map(|pin| joint(pin)).collect(),
        verdict,
        faults: Vec::new(),
        obstacle: String::new(),
        note: String::new(),
        seen_on: None,
        px_per_mm: None,
        evidence: None,
        confirmed_by: None,
        replaces: replaces.to_vec(),
    }
}

pub(crate) fn fault(kind: FaultKind, severity: Severity) -> Fault {
    Fault {
        fault: kind,
        severity,
        action: String::new(),
    }
}

pub(crate) fn faulty(pin: &str, severity: Severity, replaces: &[EventId]) -> Judgement {
    Judgement {
        faults: vec![fault(FaultKind::Fractured, severity)],
        ..judge(&[pin], Verdict::Faulty, replaces)
    }
}

pub(crate) fn rail(mode: ReadingMode, readings: &[(Expect, f64)]) -> Event {
    Event::Measured(Measurement {
        subject: Subject::Rail {
            board: "main".to_owned(),
            rail: "+12 V".to_owned(),
            mode,
        },
        readings: readings
            .iter()
            .map(|&(quantity, value)| Reading { quantity, value })
            .collect(),
        settings: Default::default(),
        note: String::new(),
        replaces: Vec::new(),
    })
}

pub(crate) fn test_point(gain: &str, millivolts: f64) -> Event {
    Event::Measured(Measurement {
        subject: Subject::TestPoint {
            board: "main".to_owned(),
            name: "TP3".to_owned(),
        },
        readings: vec![Reading {
            quantity: Expect::MillivoltsPp,
            value: millivolts,
        }],
        settings: [("gain".to_owned(), gain.to_owned())].into(),
        note: String::new(),
        replaces: Vec::new(),
    })
}

pub(crate) fn check(check: CheckKind, outcome: Outcome, note: &str) -> Event {
    let volts = (check == CheckKind::StoredCharge).then_some(0.3);
    Event::Checked(Check {
        check,
        outcome,
        volts,
        note: note.to_owned(),
        replaces: Vec::new(),
    })
}

pub(crate) fn function_test() -> CheckKind {
    CheckKind::Function {
        test: "every zone opens".to_owned(),
    }
}

/// Unit, map, a look at every joint and every check up to handing back.
pub(crate) fn finished_job(bench: &mut Bench) -> Vec<Envelope> {
    let all = ["F1-1", "F1-2", "U7-1", "U7-2", "J4-1", "J4-2"];
    let mut events = vec![
        Event::Started(Unit {
            code: "FH12-0242".to_owned(),
            model: "Fernhollow FH-12".to_owned(),
            complaint: "zones stick".to_owned(),
        }),
        Event::MapAdopted {
            board: "main".to_owned(),
            sha256: "aa".repeat(32),
            moved: false,
            replaces: Vec::new(),
        },
        Event::Judged(judge(&all, Verdict::NoFaultSeen, &[])),
    ];
    events.extend(CheckKind::BEFORE_POWER.map(|kind| check(kind, Outcome::Passed, "")));
    events.push(rail(ReadingMode::Cold, &[(Expect::Ohm, 470.0)]));
    events.push(rail(ReadingMode::Unloaded, &[(Expect::VoltsDc, 12.1)]));
    let loaded = [(Expect::VoltsDc, 11.9), (Expect::MillivoltsPp, 80.0)];
    events.push(rail(ReadingMode::Loaded, &loaded));
    events.push(test_point("middle", 50.0));
    events.push(check(function_test(), Outcome::Passed, ""));
    events.push(Event::ClosedUp {
        note: String::new(),
    });
    events.extend(CheckKind::BEFORE_POWER.map(|kind| check(kind, Outcome::Passed, "")));
    events.push(rail(ReadingMode::Loaded, &loaded));
    events.push(check(function_test(), Outcome::Passed, ""));
    // Each check replaces the one of the same kind before closing: see `replacing`.
    replacing(events.into_iter().map(|what| bench.write(what)).collect())
}

/// Fills `replaces` of readings and checks as somebody who sees all of the record would.
pub(crate) fn replacing(mut events: Vec<Envelope>) -> Vec<Envelope> {
    for index in 1..events.len() {
        let (before, rest) = events.split_at_mut(index);
        let same = |a: &Event, b: &Event| match (a, b) {
            (Event::Measured(a), Event::Measured(b)) => a.subject == b.subject,
            (Event::Checked(a), Event::Checked(b)) => a.check == b.check,
            _ => false,
        };
        let seen: Vec<EventId> = before
            .iter()
            .filter(|earlier| same(&earlier.what, &rest[0].what))
            .map(|earlier| earlier.id)
            .collect();
        match &mut rest[0].what {
            Event::Measured(Measurement { replaces, .. })
            | Event::Checked(Check { replaces, .. }) => *replaces = seen,
            _ => {}
        }
    }
    events
}
