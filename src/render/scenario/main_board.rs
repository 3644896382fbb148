//! The main board of the invented FH-12.

use crate::board::{BoardMap, Expect, Outline, Part, PartKind, TestPoint, Zone};

use super::MODEL;
use super::build::{
    Grid, can, dip, expect, hole, landmark, middle, mm, oval, part, rail, rect, round, two_lead,
};

/// Width and height of the main board in mm.
const SIZE: [f64; 2] = [180.0, 120.0];

/// The main board's map.
pub(super) fn map() -> BoardMap {
    let mut parts = supply();
    parts.extend(logic());
    parts.extend(switching());
    parts.extend(small_parts());
    parts.extend(links_and_points());
    for (name, x, y) in [
        ("H1", 5.0, 5.0),
        ("H2", 175.0, 5.0),
        ("H3", 175.0, 115.0),
        ("H4", 5.0, 115.0),
    ] {
        parts.push(hole(name, [x, y]));
    }
    BoardMap {
        schema: 1,
        model: MODEL.to_owned(),
        board: "main".to_owned(),
        title: "main board".to_owned(),
        revision: Some("C".to_owned()),
        origin: "invented for the samples".to_owned(),
        outline: vec![[0.0, 0.0], [SIZE[0], 0.0], SIZE, [0.0, SIZE[1]]],
        parts,
        landmarks: landmarks(),
        rails: vec![
            rail("+12 V", "TP2.1", [11.5, 12.6], [11.4, 12.6], 120.0, 30.0),
            rail("-12 V", "U7.3", [-12.6, -11.5], [-12.6, -11.4], 150.0, 30.0),
            rail("+5 V", "TP4.1", [4.8, 5.2], [4.75, 5.25], 80.0, 20.0),
        ],
        test_points: test_points(),
    }
}

fn landmarks() -> Vec<crate::board::Landmark> {
    vec![
        landmark("hole A", [5.0, 5.0], "middle of the screw hole by the fuse"),
        landmark(
            "hole B",
            [175.0, 5.0],
            "middle of the screw hole by the panel header",
        ),
        landmark(
            "hole C",
            [175.0, 115.0],
            "middle of the screw hole by relay K12",
        ),
        landmark(
            "hole D",
            [5.0, 115.0],
            "middle of the screw hole by the board name",
        ),
        landmark(
            "J4 pin 1",
            [mm(18), mm(43)],
            "square land, first of the terminal block",
        ),
        landmark(
            "J4 pin 16",
            [mm(48), mm(43)],
            "last land of the terminal block",
        ),
        landmark(
            "U1 pin 1",
            [mm(28), mm(13)],
            "first land of the 40-pin package",
        ),
        landmark(
            "J2 pin 1",
            [mm(54), mm(4)],
            "square land of the panel header",
        ),
    ]
}

fn test_points() -> Vec<TestPoint> {
    let settings = |position: &str| [("SW1".to_owned(), position.to_owned())].into();
    vec![
        TestPoint {
            name: "TP3".to_owned(),
            at: "TP3.1".to_owned(),
            expect: vec![
                expect(Expect::MillivoltsPp, 40.0, 30.0, 60.0),
                expect(Expect::OffsetVolts, 1.5, 1.4, 1.6),
            ],
            settings: settings("RUN"),
        },
        TestPoint {
            name: "TP5".to_owned(),
            at: "TP5.1".to_owned(),
            expect: vec![expect(Expect::Hertz, 1_000.0, 990.0, 1_010.0)],
            settings: settings("TEST"),
        },
        TestPoint {
            name: "TP6".to_owned(),
            at: "TP6.1".to_owned(),
            expect: vec![expect(Expect::VoltsDc, 8.2, 7.8, 8.6)],
            settings: settings("RUN"),
        },
    ]
}

/// Inlet, fuse, bridge, reservoirs, regulators.
fn supply() -> Vec<Part> {
    let transistor = |reference: &str, value: &str, x: i32, y: i32, nets: [&str; 3]| {
        let pins: Vec<Grid> = (0..3).map(|i| (x + i, y)).collect();
        let [cx, cy] = middle(&pins);
        part(
            reference,
            PartKind::Transistor,
            value,
            rect([cx, cy + 0.8], [10.2, 4.6]),
        )
        .with_pins(oval(1.7, 2.4, 1.0), &pins, &nets)
        .zone(Zone::Supply)
    };
    vec![
        part(
            "J1",
            PartKind::Terminal,
            "24 V AC inlet",
            rect([mm(4) - 1.0, mm(9)], [10.0, 11.0]),
        )
        .with_pins(round(2.8, 1.3), &[(4, 10), (4, 8)], &["AC_A", "AC_B"])
        .zone(Zone::Safety)
        .watch("screw torque works on these joints"),
        part(
            "F1",
            PartKind::Fuse,
            "T 2 A",
            rect(middle(&[(8, 4), (16, 4)]), [25.0, 8.0]),
        )
        .with_pins(round(2.8, 1.3), &[(8, 4), (16, 4)], &["AC_A", "AC_F"])
        .zone(Zone::Safety),
        part(
            "D1",
            PartKind::Diode,
            "bridge 2 A",
            Outline::Circle {
                at: middle(&[(8, 9), (10, 11)]),
                diameter: 9.0,
            },
        )
        .with_pins(
            round(2.0, 1.0),
            &[(8, 9), (10, 9), (10, 11), (8, 11)],
            &["VRAW_P", "AC_F", "VRAW_N", "AC_B"],
        )
        .zone(Zone::Supply),
        can(
            "C1",
            "1000 uF 35 V",
            [(15, 11), (18, 11)],
            16.0,
            ["VRAW_P", "GND"],
        ),
        can(
            "C2",
            "470 uF 35 V",
            [(15, 18), (17, 18)],
            13.0,
            ["GND", "VRAW_N"],
        ),
        can(
            "C3",
            "220 uF 16 V",
            [(10, 16), (11, 16)],
            8.0,
            ["+12V", "GND"],
        )
        .watch("stands beside the hot regulator and leaks with age"),
        can(
            "C4",
            "100 uF 16 V",
            [(16, 24), (17, 24)],
            8.0,
            ["+5V", "GND"],
        ),
        can(
            "C5",
            "47 uF 16 V",
            [(21, 12), (22, 12)],
            6.3,
            ["GND", "-12V"],
        ),
        transistor("U6", "+12 V 1 A", 5, 17, ["VRAW_P", "GND", "+12V"]),
        transistor("U7", "-12 V 1 A", 5, 23, ["GND", "VRAW_N", "-12V"]),
        transistor("U8", "+5 V 1 A", 10, 23, ["+12V", "GND", "+5V"])
            .watch("the heatsink rocks on its three leads"),
    ]
}

/// The micro and its helpers.
fn logic() -> Vec<Part> {
    let mut micro = [""; 40];
    for (index, net) in [
        "PANEL1",
        "PANEL2",
        "PANEL3",
        "PANEL4",
        "PANEL5",
        "PANEL6",
        "PANEL7",
        "PANEL8",
        "RESET",
        "PANEL9",
        "PANEL10",
        "SYNC",
        "RAIN",
        "SDA",
        "SCL",
        "MODE",
        "",
        "XTAL2",
        "XTAL1",
        "GND",
        "IN1",
        "IN2",
        "IN3",
        "IN4",
        "IN5",
        "IN6",
        "IN7",
        "IN8",
        "IN9",
        "IN10",
        "IN11",
        "IN12",
        "",
        "CLK1K",
        "",
        "MASTER_IN",
        "",
        "SW2A",
        "SW2B",
        "+5V",
    ]
    .iter()
    .enumerate()
    {
        micro[index] = net;
    }
    vec![
        dip("U1", "FH12 CPU V2.3", (28, 13), 40, 6, &micro),
        dip(
            "U2",
            "clock memory",
            (52, 20),
            8,
            3,
            &["", "CLK1K", "BAT", "GND", "SDA", "SCL", "", "+5V"],
        ),
        dip(
            "U3",
            "FH7414",
            (52, 13),
            14,
            3,
            &[
                "SYNC_A", "SYNC", "RST_A", "RESET", "RAIN_A", "RAIN", "GND", "MODE", "MODE_A",
                "SW2B", "SW2C", "", "", "+5V",
            ],
        ),
        dip(
            "U4",
            "zone driver FH2003",
            (22, 23),
            16,
            3,
            &[
                "IN1", "IN2", "IN3", "IN4", "IN5", "IN6", "IN7", "GND", "+12V", "DRV7", "DRV6",
                "DRV5", "DRV4", "DRV3", "DRV2", "DRV1",
            ],
        ),
        dip(
            "U5",
            "zone driver FH2003",
            (43, 23),
            16,
            3,
            &[
                "IN8",
                "IN9",
                "IN10",
                "IN11",
                "IN12",
                "MASTER_IN",
                "",
                "GND",
                "+12V",
                "",
                "MASTER",
                "DRV12",
                "DRV11",
                "DRV10",
                "DRV9",
                "DRV8",
            ],
        ),
    ]
}

/// Relays, terminal block, panel header and switches.
fn switching() -> Vec<Part> {
    let mut parts: Vec<Part> = (0..12).map(relay).collect();
    let ways: Vec<Grid> = (0..16).map(|i| (18 + 2 * i, 43)).collect();
    let mut nets: Vec<String> = vec!["VALVE_COM".to_owned()];
    nets.extend((1..=12).map(|zone| format!("ZONE{zone}")));
    nets.extend(["VALVE_COM", "MASTER", "RAIN_A"].map(str::to_owned));
    let nets: Vec<&str> = nets.iter().map(String::as_str).collect();
    let [cx, cy] = middle(&ways);
    parts.push(
        part(
            "J4",
            PartKind::Terminal,
            "valve terminals",
            rect([cx, cy + 1.2], [83.0, 11.0]),
        )
        .with_pins(round(2.6, 1.3), &ways, &nets)
        .watch("screw torque and field wiring crack these joints")
        .watch_pin(3, "ZONE 2: cracked on other units of this model"),
    );
    let header: Vec<Grid> = (0..14).map(|i| (54 + i / 2, 4 + i % 2)).collect();
    parts.push(
        part(
            "J2",
            PartKind::Header,
            "front panel",
            rect(middle(&header), [22.0, 8.8]),
        )
        .with_pins(
            round(1.7, 1.0),
            &header,
            &[
                "+5V", "GND", "+5V", "GND", "PANEL1", "PANEL2", "PANEL3", "PANEL4", "PANEL5",
                "PANEL6", "PANEL7", "PANEL8", "PANEL9", "PANEL10",
            ],
        )
        .watch("the door pulls on this cable: look for ring cracks and a split housing"),
    );
    for (reference, value, x, nets) in [
        ("SW1", "RUN / TEST", 38, ["GND", "MODE_A", "+5V"]),
        ("SW2", "12 h / 24 h", 45, ["SW2A", "SW2C", "GND"]),
    ] {
        let pins: Vec<Grid> = (0..3).map(|i| (x + i, 4)).collect();
        parts.push(
            part(
                reference,
                PartKind::Switch,
                value,
                rect(middle(&pins), [13.5, 6.5]),
            )
            .with_pins(oval(1.7, 2.4, 1.0), &pins, &nets)
            .watch("slide switches work loose"),
        );
    }
    parts
}

fn relay(index: i32) -> Part {
    let x = 5 + 5 * index;
    let zone = index + 1;
    let pins = [(x, 31), (x + 3, 31), (x + 3, 38), (x, 38)];
    let drive = format!("DRV{zone}");
    let out = format!("ZONE{zone}");
    let [cx, cy] = middle(&pins);
    part(
        &format!("K{zone}"),
        PartKind::Relay,
        "12 V relay 3 A",
        rect([cx, cy], [11.4, 22.0]),
    )
    .with_pins(round(2.3, 1.1), &pins, &["+12V", &drive, "VALVE_COM", &out])
    .watch("heavy body: look for ring cracks at the contact pins")
}

/// Resistors, diodes, small capacitors, crystal.
fn small_parts() -> Vec<Part> {
    const BODY: [f64; 2] = [6.5, 2.4];
    const DIODE: [f64; 2] = [5.0, 2.6];
    let mut parts = Vec::new();
    for (reference, value, pins, nets) in [
        ("R1", "4.7k 5%", [(20, 4), (24, 4)], ["AC_F", "SYNC_A"]),
        ("R2", "10k 5%", [(20, 6), (24, 6)], ["SYNC_A", "GND"]),
        ("R3", "1k 5%", [(20, 8), (24, 8)], ["+12V", "BIAS"]),
        ("R4", "2.2k 5%", [(20, 10), (24, 10)], ["BIAS", "GND"]),
        ("R5", "470 5%", [(33, 23), (33, 27)], ["MASTER_IN", "+5V"]),
        ("R6", "22k 5%", [(35, 23), (35, 27)], ["RAIN_A", "+5V"]),
        ("R7", "100k 5%", [(37, 23), (37, 27)], ["RST_A", "+5V"]),
        ("R8", "330 5%", [(39, 23), (39, 27)], ["BAT", "+5V"]),
        ("R9", "10k 5%", [(61, 12), (65, 12)], ["MODE_A", "+5V"]),
        ("R10", "6.8k 5%", [(61, 14), (65, 14)], ["SW2C", "+5V"]),
    ] {
        parts.push(two_lead(
            reference,
            PartKind::Resistor,
            value,
            pins,
            BODY,
            nets,
        ));
    }
    for (reference, value, pins, nets) in [
        ("D2", "1 A", [(20, 15), (24, 15)], ["+12V", "VRAW_P"]),
        ("D3", "1 A", [(20, 17), (24, 17)], ["VRAW_N", "-12V"]),
        ("D4", "8.2 V zener", [(20, 19), (24, 19)], ["BIAS", "GND"]),
        ("D5", "signal", [(61, 17), (65, 17)], ["+5V", "BAT"]),
    ] {
        let zone = if reference == "D5" {
            Zone::Load
        } else {
            Zone::Supply
        };
        parts.push(two_lead(reference, PartKind::Diode, value, pins, DIODE, nets).zone(zone));
    }
    for (reference, value, pins, nets) in [
        ("C6", "22 pF", [(30, 8), (30, 10)], ["XTAL1", "GND"]),
        ("C7", "22 pF", [(38, 8), (38, 10)], ["XTAL2", "GND"]),
        ("C8", "100 nF", [(49, 19), (49, 21)], ["GND", "+5V"]),
        ("C9", "100 nF", [(61, 20), (63, 20)], ["+5V", "GND"]),
    ] {
        parts.push(two_lead(
            reference,
            PartKind::Capacitor,
            value,
            pins,
            [6.0, 2.6],
            nets,
        ));
    }
    parts.push(
        part(
            "Y1",
            PartKind::Crystal,
            "4 MHz",
            rect(middle(&[(33, 9), (35, 9)]), [11.0, 4.6]),
        )
        .with_pins(round(1.7, 0.8), &[(33, 9), (35, 9)], &["XTAL1", "XTAL2"]),
    );
    parts
}

/// Jumper links and test points.
fn links_and_points() -> Vec<Part> {
    let mut parts = Vec::new();
    for (reference, pins, nets) in [
        ("W1", [(26, 4), (30, 4)], ["GND", "GND"]),
        ("W2", [(26, 6), (30, 6)], ["+5V", "+5V"]),
        ("W3", [(62, 23), (66, 23)], ["VALVE_COM", "AC_B"]),
        ("W4", [(62, 26), (66, 26)], ["+12V", "+12V"]),
    ] {
        let link = two_lead(reference, PartKind::Link, "link", pins, [10.2, 0.8], nets);
        parts.push(match reference {
            "W2" => link.watch("feeds the panel; cut in an old service note"),
            _ => link,
        });
    }
    for (reference, at, net, value) in [
        ("TP1", (9, 20), "GND", "ground"),
        ("TP2", (13, 27), "+12V", "+12 V"),
        ("TP3", (58, 21), "SYNC_A", "mains sync"),
        ("TP4", (66, 8), "+5V", "+5 V"),
        ("TP5", (66, 20), "CLK1K", "1 kHz clock"),
        ("TP6", (18, 27), "BIAS", "8.2 V bias"),
    ] {
        let outline = Outline::Circle {
            at: middle(&[at]),
            diameter: 2.0,
        };
        let point = part(reference, PartKind::Other, value, outline);
        parts.push(point.with_pins(round(2.0, 1.0), &[at], &[net]));
    }
    parts
}
