//! What was recorded of it.

use uuid::Uuid;

use super::board::main_board;
use crate::board::Side;
use crate::geometry::{BoardMm, BoardPoint, Homography, PhotoPx};
use crate::record::*;

/// One bench's journal in the making.
pub(crate) struct Journal {
    /// The events so far.
    pub(crate) events: Vec<Envelope>,
}

impl Journal {
    pub(crate) fn new() -> Self {
        let mut journal = Self { events: Vec::new() };
        journal.write(
            "Ann",
            Event::Started(Unit {
                code: "FH12-0242".to_owned(),
                model: "Fernhollow FH-12".to_owned(),
                complaint: "zones stick".to_owned(),
            }),
        );
        journal.write(
            "Ann",
            Event::MapAdopted {
                board: "main".to_owned(),
                sha256: "ab".repeat(32),
                moved: false,
                replaces: Vec::new(),
            },
        );
        journal
    }

    pub(crate) fn write(&mut self, by: &str, what: Event) -> EventId {
        let seq = self.events.len() as u64;
        let id = Uuid::from_u128(u128::from(seq) + 1);
        let minute = seq % 60;
        self.events.push(Envelope {
            id,
            bench: Uuid::from_u128(7),
            seq,
            clock: Clock {
                ms: 1_773_480_000_000 + seq * 60_000,
                n: 0,
            },
            at: format!("2026-03-14T09:{minute:02}:00+01:00"),
            by: by.to_owned(),
            prev: String::new(),
            what,
        });
        id
    }

    pub(crate) fn judged(&mut self, by: &str, judgement: Judgement) -> EventId {
        self.write(by, Event::Judged(judgement))
    }

    pub(crate) fn state(&self) -> State {
        fold(self.events.clone())
    }
}

pub(crate) fn judgement(targets: Vec<Target>, verdict: Verdict) -> Judgement {
    Judgement {
        targets,
        verdict,
        faults: Vec::new(),
        obstacle: String::new(),
        note: String::new(),
        seen_on: None,
        px_per_mm: None,
        evidence: None,
        confirmed_by: None,
        replaces: Vec::new(),
    }
}

pub(crate) fn faulty(targets: Vec<Target>, kind: FaultKind, severity: Severity) -> Judgement {
    Judgement {
        faults: vec![Fault {
            fault: kind,
            severity,
            action: String::new(),
        }],
        ..judgement(targets, Verdict::Faulty)
    }
}

pub(crate) fn joints(names: &[&str]) -> Vec<Target> {
    names
        .iter()
        .map(|name| {
            Target::Joint(JointKey {
                board: "main".to_owned(),
                pin: (*name).to_owned(),
                side: Side::Solder,
            })
        })
        .collect()
}

pub(crate) fn part(uid: &str) -> Vec<Target> {
    vec![Target::Part {
        board: "main".to_owned(),
        part: uid.to_owned(),
    }]
}

const SOLDER: &str = "51";
const COMPONENT: &str = "52";
const NEAR: &str = "53";
pub(super) const PANEL: &str = "54";

pub(super) fn photo_id(name: &str) -> PhotoId {
    name.repeat(32)
}

pub(super) type PhotoFromBoard = Homography<BoardMm, PhotoPx>;

/// Size and transform of the invented photographs.
pub(super) fn photographs() -> Vec<(&'static str, Side, [u32; 2], PhotoFromBoard)> {
    let rows = |rows| PhotoFromBoard::from_rows(rows).unwrap();
    vec![
        // Seen from behind: x runs to the left. A slight perspective.
        (
            SOLDER,
            Side::Solder,
            [700, 450],
            rows([[-3.8, 0.12, 655.0], [0.1, -3.7, 400.0], [2e-4, 1e-4, 1.0]]),
        ),
        (
            COMPONENT,
            Side::Component,
            [700, 450],
            rows([[3.85, 0.1, 35.0], [0.07, -3.8, 410.0], [1e-4, 0.0, 1.0]]),
        ),
        (
            NEAR,
            Side::Solder,
            [800, 640],
            rows([[-42.0, 1.0, 2560.0], [0.5, -42.0, 690.0], [0.0, 0.0, 1.0]]),
        ),
    ]
}

/// Adds the photographs to a journal.
pub(crate) fn add_photographs(journal: &mut Journal) {
    let facts = |name: &str, size, view| PhotoFacts {
        photo: photo_id(name),
        file: format!("{name}.jpg"),
        name: format!("rendered-{name}.jpg"),
        size,
        taken: None,
        taken_offset: None,
        camera: None,
        focal_mm: None,
        orientation: None,
        view,
    };
    for (name, side, size, photo_from_board) in photographs() {
        let view = View {
            board: "main".to_owned(),
            side,
        };
        journal.write(
            "Ann",
            Event::PhotoAdded(facts(name, size, Some(view.clone()))),
        );
        let middle = BoardPoint::new(80.0, 50.0);
        journal.write(
            "Ann",
            Event::Aligned(Alignment {
                photo: photo_id(name),
                view,
                projection: photo_from_board.into(),
                method: "landmarks: homography".to_owned(),
                landmarks: Vec::new(),
                rms_px: Some(0.6),
                px_per_mm: photo_from_board.scale_at(middle).unwrap(),
                automatic: None,
                replaces: Vec::new(),
            }),
        );
    }
    journal.write("Ann", Event::PhotoAdded(facts(PANEL, [600, 400], None)));
}

/// The dark arc of J4.3 on the near photo.
fn arc() -> Vec<[f64; 2]> {
    let photo_from_board = photographs()[2].3;
    (0..=50)
        .map(|i| {
            let turn = (20.0 + 253.0 * f64::from(i) / 50.0).to_radians();
            let at = BoardPoint::new(52.06 + 0.72 * turn.cos(), 9.0 + 0.72 * turn.sin());
            let at = photo_from_board.apply(at).unwrap();
            [at.x, at.y]
        })
        .collect()
}

/// What a bench recorded of FH12-0242, and more faults than one unit usually has.
pub(crate) fn full_journal() -> Journal {
    let mut journal = Journal::new();
    add_photographs(&mut journal);
    let quiet: Vec<String> = main_board()
        .parts
        .iter()
        .flat_map(|part| part.pins.iter().skip(2).map(|pin| pin.uid.clone()))
        .filter(|uid| {
            let marked = [
                "J4-3", "U3-4", "U3-5", "U3-9", "J4-9", "J4-10", "J4-11", "J4-12",
            ];
            !marked.contains(&uid.as_str())
        })
        .collect();
    let quiet: Vec<&str> = quiet.iter().map(String::as_str).collect();
    journal.judged(
        "Ann",
        Judgement {
            px_per_mm: Some(42.0),
            ..judgement(joints(&quiet), Verdict::NoFaultSeen)
        },
    );
    let near = Spot {
        photo: photo_id(NEAR),
        at_px: [382.0, 338.0],
        radius_px: 55.0,
    };
    journal.judged(
        "Ann",
        Judgement {
            faults: vec![Fault {
                fault: FaultKind::Fractured,
                severity: Severity::BlocksPower,
                action: "Remove old solder, resolder J4.1 to J4.16; support the block".to_owned(),
            }],
            seen_on: Some(near),
            px_per_mm: Some(42.0),
            evidence: Some(Evidence {
                band: "look here first".to_owned(),
                rank: Some(1),
                of: Some(96),
                arc_deg: Some(253.0),
                depth_sigma: Some(9.1),
                reason: String::new(),
                arc: arc(),
            }),
            ..judgement(joints(&["J4-3"]), Verdict::Faulty)
        },
    );
    journal.judged(
        "Ann",
        faulty(
            joints(&["U3-4", "U3-5"]),
            FaultKind::Bridge,
            Severity::BlocksPower,
        ),
    );
    more_faults(&mut journal);
    elsewhere(&mut journal);
    journal
}

fn more_faults(journal: &mut Journal) {
    journal.judged(
        "Ann",
        faulty(joints(&["K2-1"]), FaultKind::Disturbed, Severity::FixNow),
    );
    journal.judged("Ben", judgement(joints(&["K2-1"]), Verdict::NoFaultSeen));
    let row = joints(&["J4-9", "J4-10", "J4-11", "J4-12"]);
    journal.judged("Ann", faulty(row, FaultKind::Cold, Severity::Watch));
    journal.judged(
        "Ann",
        faulty(part("sw2"), FaultKind::LooseSwitch, Severity::FixNow),
    );
    journal.judged(
        "Ann",
        faulty(part("c12"), FaultKind::Leaking, Severity::BlocksPower),
    );
    journal.judged(
        "Ann",
        Judgement {
            note: "Do not hang the cable on it.".to_owned(),
            ..faulty(part("j2"), FaultKind::CrackedHeader, Severity::FixNow)
        },
    );
    journal.judged(
        "Ann",
        faulty(part("jp1"), FaultKind::Missing, Severity::BlocksPower),
    );
    let first = journal.judged(
        "Ann",
        faulty(
            joints(&["K3-2"]),
            FaultKind::Fractured,
            Severity::BlocksPower,
        ),
    );
    journal.judged(
        "Ben",
        Judgement {
            replaces: vec![first],
            ..judgement(joints(&["K3-2"]), Verdict::Reworked)
        },
    );
    let first = journal.judged(
        "Ann",
        faulty(joints(&["C14-1"]), FaultKind::Cold, Severity::FixNow),
    );
    journal.judged(
        "Ben",
        Judgement {
            replaces: vec![first],
            ..judgement(joints(&["C14-1"]), Verdict::Accepted)
        },
    );
    journal.judged("Ann", judgement(joints(&["R5-1"]), Verdict::Suspect));
    journal.judged(
        "Ann",
        Judgement {
            obstacle: "a wire lies over it".to_owned(),
            ..judgement(joints(&["U3-9"]), Verdict::CannotBeJudged)
        },
    );
}

/// Faults that are on no joint and no part of the map.
fn elsewhere(journal: &mut Journal) {
    let area = Target::Area {
        view: View {
            board: "main".to_owned(),
            side: Side::Solder,
        },
        from: [84.0, 82.0],
        to: [97.0, 93.0],
    };
    journal.judged(
        "Ann",
        faulty(
            vec![area],
            FaultKind::DamagedLaminate,
            Severity::BlocksPower,
        ),
    );
    let cord = Target::Unit {
        what: "mains cord".to_owned(),
    };
    journal.judged(
        "Ann",
        Judgement {
            note: "Crushed 20 cm from the plug.".to_owned(),
            ..faulty(vec![cord], FaultKind::DamagedCord, Severity::BlocksPower)
        },
    );
    let spot = Spot {
        photo: photo_id(PANEL),
        at_px: [420.0, 150.0],
        radius_px: 40.0,
    };
    journal.judged(
        "Ann",
        faulty(
            vec![Target::Photo(spot)],
            FaultKind::DirtyContact,
            Severity::Cosmetic,
        ),
    );
}
