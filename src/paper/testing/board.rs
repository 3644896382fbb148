//! The board of the tests.

use crate::board::{BoardMap, Land, LandShape, Outline, Part, PartKind, Pin, Side, Zone};

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
