//! The front-panel board of the invented FH-12.

use crate::board::{BoardMap, Expect, Outline, Part, PartKind, TestPoint};

use super::MODEL;
use super::build::{
    Grid, can, dip, expect, hole, landmark, middle, mm, part, rail, rect, round, two_lead,
};

/// Width and height of the front-panel board in mm.
const SIZE: [f64; 2] = [130.0, 66.0];

/// The front-panel board's map.
pub(super) fn map() -> BoardMap {
    let mut parts = chips();
    parts.extend(lamps());
    parts.extend(controls());
    for (name, x, y) in [
        ("H1", 5.0, 5.0),
        ("H2", 125.0, 5.0),
        ("H3", 125.0, 61.0),
        ("H4", 5.0, 61.0),
    ] {
        parts.push(hole(name, [x, y]));
    }
    BoardMap {
        schema: 1,
        model: MODEL.to_owned(),
        board: "front".to_owned(),
        title: "front panel board".to_owned(),
        revision: Some("B".to_owned()),
        origin: "invented for the samples".to_owned(),
        outline: vec![[0.0, 0.0], [SIZE[0], 0.0], SIZE, [0.0, SIZE[1]]],
        parts,
        landmarks: vec![
            landmark(
                "hole A",
                [5.0, 5.0],
                "middle of the screw hole below the lamps",
            ),
            landmark(
                "hole B",
                [125.0, 5.0],
                "middle of the screw hole by the rotary switch",
            ),
            landmark(
                "hole C",
                [125.0, 61.0],
                "middle of the screw hole by the cable header",
            ),
            landmark(
                "hole D",
                [5.0, 61.0],
                "middle of the screw hole above the lamps",
            ),
            landmark(
                "U1 pin 1",
                [mm(20), mm(16)],
                "first land of the display driver",
            ),
            landmark(
                "J1 pin 1",
                [mm(38), mm(21)],
                "square land of the cable header",
            ),
        ],
        rails: vec![{
            let mut panel = rail("+5 V", "J1.1", [4.8, 5.2], [4.7, 5.25], 80.0, 30.0);
            panel.return_at = "J1.2".to_owned();
            panel
        }],
        test_points: vec![TestPoint {
            name: "TP1".to_owned(),
            at: "TP1.1".to_owned(),
            expect: vec![expect(Expect::Hertz, 250.0, 225.0, 275.0)],
            settings: [("SW5".to_owned(), "CLOCK".to_owned())].into(),
        }],
    }
}

fn segments(prefix: &str, count: usize) -> Vec<String> {
    (1..=count).map(|i| format!("{prefix}{i}")).collect()
}

fn chips() -> Vec<Part> {
    let mut driver: Vec<String> = segments("PANEL", 8);
    driver.extend(segments("DIG", 4));
    driver.extend(["SCAN".to_owned(), "GND".to_owned()]);
    driver.extend(segments("SEG", 8));
    driver.extend(segments("ROW", 4));
    driver.extend(["ISET".to_owned(), "+5V".to_owned()]);
    let driver: Vec<&str> = driver.iter().map(String::as_str).collect();
    let mut digits: Vec<String> = segments("SEG", 7);
    digits.extend(["SEG8".to_owned()]);
    digits.extend(segments("DIG", 4));
    let digits: Vec<&str> = digits.iter().map(String::as_str).collect();
    let mut display = dip("DS1", "4 digits", (20, 6), 12, 6, &digits);
    display.kind = PartKind::Display;
    display.outline = rect([mm(22) + 1.27, mm(9)], [40.0, 20.0]);
    vec![
        dip("U1", "display driver FH7218", (20, 16), 28, 6, &driver)
            .watch("the display goes blank when this chip's supply joints crack"),
        display,
        two_lead(
            "R1",
            PartKind::Resistor,
            "10k 5%",
            [(36, 16), (40, 16)],
            [6.5, 2.4],
            ["ISET", "+5V"],
        ),
        two_lead(
            "R2",
            PartKind::Resistor,
            "1k 5%",
            [(36, 14), (40, 14)],
            [6.5, 2.4],
            ["PANEL9", "+5V"],
        ),
        two_lead(
            "C2",
            PartKind::Capacitor,
            "100 nF",
            [(17, 20), (17, 22)],
            [6.0, 2.6],
            ["+5V", "GND"],
        ),
        can(
            "C1",
            "22 uF 16 V",
            [(43, 16), (44, 16)],
            6.3,
            ["+5V", "GND"],
        ),
    ]
}

/// Twelve zone lamps in two columns.
fn lamps() -> Vec<Part> {
    (0..12)
        .map(|i| {
            let at: Grid = (5 + 6 * (i / 6), 5 + 3 * (i % 6));
            let pins = [at, (at.0 + 1, at.1)];
            let row = format!("ROW{}", i % 4 + 1);
            let segment = format!("SEG{}", i % 8 + 1);
            let outline = Outline::Circle {
                at: middle(&pins),
                diameter: 5.0,
            };
            part(
                &format!("D{}", i + 1),
                PartKind::Diode,
                "LED red 5 mm",
                outline,
            )
            .with_pins(round(1.8, 0.9), &pins, &[&segment, &row])
        })
        .collect()
}

fn controls() -> Vec<Part> {
    let mut parts = Vec::new();
    for i in 0..4 {
        let x = 31 + 4 * i;
        let pins = [(x, 4), (x + 2, 4), (x + 2, 6), (x, 6)];
        let row = format!("ROW{}", i + 1);
        parts.push(
            part(
                &format!("SW{}", i + 1),
                PartKind::Switch,
                "push button",
                rect(middle(&pins), [7.2, 7.2]),
            )
            .with_pins(round(1.8, 1.0), &pins, &[&row, &row, "SCAN", "SCAN"]),
        );
    }
    let pins: Vec<Grid> = (0..6)
        .map(|i| (38 + 2 * (i % 3), 9 + 3 * (i / 3)))
        .collect();
    parts.push(
        part(
            "SW5",
            PartKind::Switch,
            "rotary CLOCK / SET / RUN",
            Outline::Circle {
                at: middle(&pins),
                diameter: 14.0,
            },
        )
        .with_pins(
            round(2.0, 1.1),
            &pins,
            &["SCAN", "ROW1", "ROW2", "ROW3", "PANEL9", "PANEL10"],
        )
        .watch("the knob levers on these joints"),
    );
    let header: Vec<Grid> = (0..14).map(|i| (38 + i / 2, 21 + i % 2)).collect();
    parts.push(
        part(
            "J1",
            PartKind::Header,
            "cable to main board",
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
        .watch("the door pulls on this cable"),
    );
    let outline = Outline::Circle {
        at: middle(&[(35, 19)]),
        diameter: 2.0,
    };
    parts.push(
        part("TP1", PartKind::Other, "display scan", outline).with_pins(
            round(2.0, 1.0),
            &[(35, 19)],
            &["SCAN"],
        ),
    );
    parts
}
