//! Time to load a large map, and to add up a long record.

use std::hint::black_box;
use std::path::Path;

use benchglass::board::draft::{Draft, Edit, FoundJoint};
use benchglass::board::{
    BoardMap, ImportOptions, MapIndex, Side, import_ipc356, lint, map_diff, round_order,
};
use benchglass::geometry::BoardPoint;
use benchglass::record::{Clock, Envelope, Event, JointKey, Judgement, Target, Verdict, fold};
use criterion::{Criterion, criterion_group, criterion_main};
use uuid::Uuid;

/// A board of 250 forty-pin packages.
fn ten_thousand_pins() -> String {
    let parts: Vec<_> = (0..250u32)
        .map(|part| {
            let (x, y) = (f64::from(part % 10) * 60.0, f64::from(part / 10) * 20.0);
            let pins: Vec<_> = (0..40u32)
                .map(|pin| {
                    let at = [
                        x + f64::from(pin % 20) * 2.54,
                        y + f64::from(pin / 20) * 15.24,
                    ];
                    serde_json::json!({
                        "uid": format!("u{part}-{pin}"), "no": format!("{}", pin + 1), "at": at,
                        "land": {"shape": "round", "size": [1.6, 1.6]}, "drill": 0.8
                    })
                })
                .collect();
            serde_json::json!({
                "uid": format!("u{part}"), "ref": format!("U{}", part + 1), "kind": "ic",
                "side": "component", "pins": pins,
                "outline": {"shape": "rect", "at": [x + 24.0, y + 7.6], "size": [50.0, 14.0]}
            })
        })
        .collect();
    serde_json::json!({
        "schema": 1, "model": "Large", "board": "main", "parts": parts,
        "outline": [[-10.0, -10.0], [700.0, -10.0], [700.0, 600.0], [-10.0, 600.0]]
    })
    .to_string()
}

/// The same board as a list of lands.
fn ten_thousand_lands() -> String {
    let mut text = String::from("P  UNITS CUST 0\n");
    for i in 0..10_000u32 {
        let (part, pin) = (i / 40, i % 40);
        let x = part % 10 * 24_000 + pin % 20 * 1_000;
        let y = part / 10 * 8_000 + pin / 20 * 6_000;
        text.push_str(&format!(
            "317{:<14}   {:<6}-{:<4} D0320PA00X+{x:06}Y+{y:06}X0630Y0000R000S0\n",
            format!("N{i}"),
            format!("U{}", part + 1),
            pin + 1
        ));
    }
    text.push_str("999\n");
    text
}

/// Twenty thousand looks at five thousand joints.
fn long_record() -> Vec<Envelope> {
    let bench = Uuid::from_u128(1);
    (0..20_000u64)
        .map(|i| Envelope {
            id: Uuid::from_u128(u128::from(i) + 2),
            bench,
            seq: i,
            clock: Clock { ms: i, n: 0 },
            at: "2026-03-14T09:30:00+01:00".to_owned(),
            by: "bench".to_owned(),
            prev: String::new(),
            what: Event::Judged(Judgement {
                targets: vec![Target::Joint(JointKey {
                    board: "main".to_owned(),
                    pin: format!("p{}", i % 5000),
                    side: Side::Solder,
                })],
                verdict: Verdict::NoFaultSeen,
                faults: Vec::new(),
                obstacle: String::new(),
                note: String::new(),
                seen_on: None,
                px_per_mm: Some(40.0),
                evidence: None,
                confirmed_by: None,
                replaces: Vec::new(),
            }),
        })
        .collect()
}

/// A board of ten thousand parts of one pin each, as found joints make it.
fn ten_thousand_parts() -> String {
    let parts: Vec<_> = (0..10_000u32)
        .map(|part| {
            let at = [f64::from(part % 100) * 3.0, f64::from(part / 100) * 3.0];
            serde_json::json!({
                "uid": format!("x{part}"), "ref": format!("X{}", part + 1), "kind": "other",
                "side": "component",
                "outline": {"shape": "rect", "at": at, "size": [2.0, 2.0]},
                "pins": [{
                    "uid": format!("x{part}-1"), "no": "1", "at": at,
                    "land": {"shape": "round", "size": [1.6, 1.6]}, "drill": 0.8
                }]
            })
        })
        .collect();
    serde_json::json!({
        "schema": 1, "model": "Large", "board": "main", "parts": parts,
        "outline": [[-5.0, -5.0], [302.0, -5.0], [302.0, 302.0], [-5.0, 302.0]]
    })
    .to_string()
}

fn single_pins(criterion: &mut Criterion) {
    let json = ten_thousand_parts();
    criterion.bench_function(
        "load a map of 10 000 parts of one pin and index it",
        |bencher| {
            bencher.iter(|| {
                let map = BoardMap::parse(black_box(&json), Path::new("large.json"));
                map.map(|map| {
                    MapIndex::new(&map)
                        .joints_in(map.bounds(), Side::Solder)
                        .len()
                })
            });
        },
    );
    let Ok(map) = BoardMap::parse(&json, Path::new("large.json")) else {
        return;
    };
    let index = MapIndex::new(&map);
    let mut i = 0u32;
    criterion.bench_function(
        "find the joint and the part under the pointer among 10 000 parts",
        |bencher| {
            bencher.iter(|| {
                i = i.wrapping_add(7919);
                let at = BoardPoint::new(f64::from(i % 300), f64::from(i / 300 % 300));
                let joint = index.nearest_joint(black_box(at), Side::Solder, 3.0);
                (
                    joint.is_some(),
                    index.part_at(at, Side::Component).is_some(),
                )
            });
        },
    );
    criterion.bench_function("lint a map of 10 000 parts of one pin", |bencher| {
        bencher.iter(|| lint(black_box(&map)).len());
    });
    criterion.bench_function("walk a round of 10 000 parts of one pin", |bencher| {
        bencher.iter(|| round_order(black_box(&map), Side::Solder).len());
    });
    // The shape that found joints have before anybody named them, with its steps.
    criterion.bench_function(
        "take over 10 000 found joints, and one edit after",
        |bencher| {
            let joints: Vec<FoundJoint> = map
                .joints(Side::Solder)
                .map(|joint| FoundJoint {
                    at: joint.centre().to_array(),
                    land_mm: 1.6,
                })
                .collect();
            bencher.iter(|| {
                let mut draft = Draft::new("Large", "main");
                let accept = Edit::Accept {
                    joints: joints.clone(),
                    rows: Vec::new(),
                    packages: Vec::new(),
                };
                let taken = draft.apply(&accept).is_ok();
                (
                    taken,
                    draft.apply(&Edit::OutlineRound { margin_mm: 5.0 }).is_ok(),
                )
            });
        },
    );
}

fn core(criterion: &mut Criterion) {
    let json = ten_thousand_pins();
    criterion.bench_function("load a map of 10 000 pins and index it", |bencher| {
        bencher.iter(|| {
            let map = BoardMap::parse(black_box(&json), Path::new("large.json"));
            map.map(|map| {
                MapIndex::new(&map)
                    .joints_in(map.bounds(), Side::Solder)
                    .len()
            })
        });
    });
    if let Ok(map) = BoardMap::parse(&json, Path::new("large.json")) {
        let index = MapIndex::new(&map);
        let mut i = 0u32;
        criterion.bench_function("find the joint under the pointer among 10 000", |bencher| {
            bencher.iter(|| {
                i = i.wrapping_add(7919);
                let at = BoardPoint::new(f64::from(i % 600), f64::from(i / 600 % 500));
                index
                    .nearest_joint(black_box(at), Side::Solder, 3.0)
                    .is_some()
            });
        });
        criterion.bench_function("lint a map of 10 000 pins", |bencher| {
            bencher.iter(|| lint(black_box(&map)).len());
        });
        criterion.bench_function(
            "tell the difference of two maps of 10 000 pins",
            |bencher| {
                bencher.iter(|| map_diff(black_box(&map), &map).len());
            },
        );
    }
    let lands = ten_thousand_lands();
    criterion.bench_function("import 10 000 lands of IPC-D-356", |bencher| {
        bencher.iter(|| {
            import_ipc356(
                black_box(lands.as_bytes()),
                Path::new("large.ipc"),
                &ImportOptions::default(),
            )
            .map(|done| done.map.parts.len())
        });
    });
    let events = long_record();
    criterion.bench_function("fold 20 000 events", |bencher| {
        bencher.iter(|| fold(black_box(events.clone())));
    });
}

criterion_group!(benches, core, single_pins);
criterion_main!(benches);
