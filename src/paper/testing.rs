//! An invented FH-12 job for the tests of this room: a small main board, a bench's record of it
//! and placeholder photographs drawn here.

use std::collections::BTreeMap;
use std::sync::{Arc, LazyLock};

use image::{Rgb, RgbImage};
use uuid::Uuid;

use super::slip::{SlipSource, slip_view};
use super::view::SlipView;
use crate::board::{BoardMap, Land, LandShape, Outline, Part, PartKind, Pin, Side, Zone};
use crate::geometry::{BoardMm, BoardPoint, Homography, PhotoPoint, PhotoPx};
use crate::record::*;

/// Board 160 by 100 mm.
pub(crate) fn main_board() -> BoardMap {
    let mut parts = vec![
        rect(
            "T1",
            PartKind::Transformer,
            "24 V AC",
            Zone::Safety,
            [22.0, 78.0],
            [34.0, 34.0],
        ),
        rect(
            "F1",
            PartKind::Fuse,
            "T 500 mA",
            Zone::Safety,
            [52.0, 90.0],
            [22.0, 6.0],
        ),
        circle("C12", "470 \u{b5}F 25 V", [60.0, 74.0], 10.0),
        circle("C14", "470 \u{b5}F 25 V", [74.0, 74.0], 10.0),
        rect(
            "U7",
            PartKind::Transistor,
            "+12 V regulator",
            Zone::Supply,
            [90.0, 88.0],
            [10.0, 4.5],
        ),
        rect(
            "SW2",
            PartKind::Switch,
            "slide switch",
            Zone::Load,
            [146.0, 84.0],
            [20.0, 8.0],
        ),
        rect(
            "J2",
            PartKind::Header,
            "to the front panel",
            Zone::Load,
            [122.0, 92.0],
            [27.0, 6.0],
        ),
        rect(
            "U3",
            PartKind::Ic,
            "zone driver",
            Zone::Load,
            [112.0, 56.0],
            [20.0, 6.6],
        ),
        rect(
            "R5",
            PartKind::Resistor,
            "4.7 k\u{3a9}",
            Zone::Load,
            [140.0, 62.0],
            [7.0, 2.5],
        ),
        rect(
            "JP1",
            PartKind::Link,
            "",
            Zone::Load,
            [140.0, 52.0],
            [9.0, 1.5],
        ),
        rect(
            "J4",
            PartKind::Terminal,
            "zone outputs",
            Zone::Load,
            [80.0, 9.0],
            [84.0, 13.0],
        ),
    ];
    for (index, x) in [30.0, 54.0, 78.0].into_iter().enumerate() {
        let name = format!("K{}", index + 1);
        parts.push(rect(
            &name,
            PartKind::Relay,
            "zone relay",
            Zone::Load,
            [x, 36.0],
            [18.0, 14.0],
        ));
    }
    pins(&mut parts, "C12", &[[57.5, 74.0], [62.5, 74.0]], 2.0, &[]);
    pins(&mut parts, "C14", &[[71.5, 74.0], [76.5, 74.0]], 2.0, &[]);
    pins(
        &mut parts,
        "U7",
        &row([87.46, 88.0], 3, [2.54, 0.0]),
        1.9,
        &["IN", "GND", "+12 V"],
    );
    pins(
        &mut parts,
        "SW2",
        &row([141.0, 84.0], 3, [5.08, 0.0]),
        2.2,
        &[],
    );
    pins(
        &mut parts,
        "J2",
        &row([112.0, 92.0], 9, [2.54, 0.0]),
        1.8,
        &[],
    );
    let mut dip = row([103.11, 52.19], 8, [2.54, 0.0]);
    dip.extend(row([120.89, 59.81], 8, [-2.54, 0.0]));
    pins(
        &mut parts,
        "U3",
        &dip,
        1.6,
        &["Z1", "Z2", "Z3", "Z4", "Z5", "Z6"],
    );
    pins(
        &mut parts,
        "R5",
        &[[134.92, 62.0], [145.08, 62.0]],
        1.8,
        &[],
    );
    pins(&mut parts, "JP1", &[[135.0, 52.0], [145.0, 52.0]], 1.8, &[]);
    let zones: Vec<String> = (0..16).map(|i| format!("ZONE {i}")).collect();
    let zones: Vec<&str> = zones.iter().map(String::as_str).collect();
    pins(
        &mut parts,
        "J4",
        &row([41.9, 9.0], 16, [5.08, 0.0]),
        2.6,
        &zones[1..],
    );
    for (name, x) in [("K1", 30.0), ("K2", 54.0), ("K3", 78.0)] {
        let at = [
            [x - 7.0, 31.0],
            [x - 7.0, 41.0],
            [x, 31.0],
            [x + 7.0, 31.0],
            [x + 7.0, 41.0],
        ];
        pins(&mut parts, name, &at, 2.4, &[]);
    }
    BoardMap {
        schema: 1,
        model: "Fernhollow FH-12".to_owned(),
        board: "main".to_owned(),
        title: "main board".to_owned(),
        revision: None,
        origin: "invented for a test".to_owned(),
        outline: vec![[0.0, 0.0], [160.0, 0.0], [160.0, 100.0], [0.0, 100.0]],
        parts,
        landmarks: Vec::new(),
        rails: Vec::new(),
        test_points: Vec::new(),
    }
}

fn rect(name: &str, kind: PartKind, value: &str, zone: Zone, at: [f64; 2], size: [f64; 2]) -> Part {
    Part {
        uid: name.to_lowercase(),
        reference: name.to_owned(),
        kind,
        value: value.to_owned(),
        side: Side::Component,
        outline: Outline::Rect {
            at,
            size,
            turn_deg: 0.0,
        },
        pins: Vec::new(),
        zone,
        watch: None,
    }
}

fn circle(name: &str, value: &str, at: [f64; 2], diameter: f64) -> Part {
    Part {
        outline: Outline::Circle { at, diameter },
        ..rect(
            name,
            PartKind::Electrolytic,
            value,
            Zone::Supply,
            at,
            [0.0; 2],
        )
    }
}

fn row(from: [f64; 2], count: usize, step: [f64; 2]) -> Vec<[f64; 2]> {
    (0..count)
        .map(|i| [from[0] + step[0] * i as f64, from[1] + step[1] * i as f64])
        .collect()
}

fn pins(parts: &mut [Part], name: &str, at: &[[f64; 2]], land: f64, nets: &[&str]) {
    let part = parts
        .iter_mut()
        .find(|part| part.reference == name)
        .unwrap();
    part.pins = at
        .iter()
        .enumerate()
        .map(|(index, &at)| Pin {
            uid: format!("{name}-{}", index + 1),
            no: (index + 1).to_string(),
            at,
            land: Land {
                shape: LandShape::Round,
                size: [land, land],
            },
            drill: Some(1.0),
            net: nets.get(index).map(|net| (*net).to_owned()),
            watch: None,
        })
        .collect();
}

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
const PANEL: &str = "54";

fn photo_id(name: &str) -> PhotoId {
    name.repeat(32)
}

type PhotoFromBoard = Homography<BoardMm, PhotoPx>;

/// Size and transform of the invented photographs.
fn photographs() -> Vec<(&'static str, Side, [u32; 2], PhotoFromBoard)> {
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
                photo_from_board,
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

/// The placeholder photographs, drawn once.
pub(crate) static PHOTOGRAPHS: LazyLock<BTreeMap<PhotoId, Arc<RgbImage>>> =
    LazyLock::new(drawn_photographs);

fn drawn_photographs() -> BTreeMap<PhotoId, Arc<RgbImage>> {
    let map = main_board();
    let mut drawn: BTreeMap<PhotoId, Arc<RgbImage>> = photographs()
        .into_iter()
        .map(|(name, side, size, transform)| {
            (photo_id(name), Arc::new(draw(&map, side, size, &transform)))
        })
        .collect();
    let panel = RgbImage::from_fn(600, 400, |x, y| {
        let near = (f64::from(x) - 420.0).hypot(f64::from(y) - 150.0) < 30.0;
        if near {
            Rgb([150, 140, 90])
        } else {
            Rgb([70, 74, 82])
        }
    });
    drawn.insert(photo_id(PANEL), Arc::new(panel));
    drawn
}

fn draw(map: &BoardMap, side: Side, size: [u32; 2], transform: &PhotoFromBoard) -> RgbImage {
    let back = transform.inverse().unwrap();
    let lands: Vec<(BoardPoint, f64, &str)> = map
        .parts
        .iter()
        .flat_map(|part| &part.pins)
        .map(|pin| (pin.centre(), pin.land_radius_mm(), pin.uid.as_str()))
        .collect();
    RgbImage::from_fn(size[0], size[1], |x, y| {
        let grain = f64::from((x.wrapping_mul(7919) ^ y.wrapping_mul(104_729)) % 17) - 8.0;
        let colour = back
            .apply(PhotoPoint::new(f64::from(x), f64::from(y)))
            .map_or([30.0; 3], |at| colour(map, side, &lands, at));
        Rgb(colour.map(|value| (value + grain).clamp(0.0, 255.0) as u8))
    })
}

fn colour(
    map: &BoardMap,
    side: Side,
    lands: &[(BoardPoint, f64, &str)],
    at: BoardPoint,
) -> [f64; 3] {
    let on_board = (0.0..=160.0).contains(&at.x) && (0.0..=100.0).contains(&at.y);
    if !on_board {
        return [176.0, 168.0, 156.0];
    }
    if side == Side::Component
        && let Some(part) = map.parts.iter().find(|part| {
            super::site::box_of(&super::site::outline_points(&part.outline))
                .is_some_and(|body| body.contains(at))
        })
    {
        return match part.kind {
            PartKind::Terminal => [60.0, 120.0, 66.0],
            PartKind::Relay => [225.0, 222.0, 214.0],
            PartKind::Electrolytic => [40.0, 60.0, 110.0],
            PartKind::Transformer => [150.0, 120.0, 60.0],
            _ => [44.0, 43.0, 42.0],
        };
    }
    let bridge = (at.y - 52.19).abs() < 0.5 && (110.7..113.3).contains(&at.x);
    if side == Side::Solder && bridge {
        return [214.0, 214.0, 210.0];
    }
    for &(centre, radius, uid) in lands {
        let r = (at - centre).length();
        if r > radius {
            continue;
        }
        let turn = (at.y - centre.y)
            .atan2(at.x - centre.x)
            .to_degrees()
            .rem_euclid(360.0);
        if uid == "J4-3" && (0.64..0.8).contains(&r) && (20.0..273.0).contains(&turn) {
            return [38.0, 34.0, 30.0];
        }
        let shine = 1.0 - ((at - centre).length() / radius - 0.45).abs();
        return [130.0, 130.0, 128.0].map(|base| base + 100.0 * shine * shine);
    }
    let track = (at.x * 0.35).sin() * (at.y * 0.5).cos() > 0.55;
    if track {
        [104.0, 128.0, 76.0]
    } else {
        [72.0, 97.0, 58.0]
    }
}

/// The slip of a journal, with the drawn photographs.
pub(crate) fn slip_of(journal: &Journal) -> SlipView {
    let state = journal.state();
    slip_view(&SlipSource {
        state: &state,
        maps: &[main_board()],
        bench: "bench 2",
        sample: Some("Invented sample"),
        photos: &|id| PHOTOGRAPHS.get(id).cloned(),
    })
    .unwrap()
}
