//! Bodies of the parts on the component side.

use nalgebra::{Matrix3, Rotation3};

use crate::board::{Outline, Part, PartKind};

use super::assemble::Order;
use super::body::{Body, Shape, Skin};
use super::font::text;
use super::light::{Rgb, V3};
use super::noise::{Stream, seed_of};

/// All bodies of a map.
pub(super) fn bodies(order: &Order<'_>, seed: u64) -> Vec<Body> {
    let mut out = Vec::new();
    for part in &order.map.parts {
        if order.is_missing(&part.reference) {
            continue;
        }
        let mut maker = Maker {
            part,
            stream: Stream::new(seed_of(seed, &part.uid)),
            seed: seed_of(seed, &part.uid) as u32,
            out: &mut out,
            loose: order.is_loose(&part.reference),
            split: order.is_split(&part.reference),
        };
        maker.make();
    }
    label(order, &mut out);
    out
}

/// The paper label with the unit's serial number.
fn label(order: &Order<'_>, out: &mut Vec<Body>) {
    let at = if order.map.board == "main" {
        [160.0, 108.0]
    } else {
        [24.0, 4.6]
    };
    let turn = 2.5f64.to_radians();
    let mut paper = Body::new(
        Shape::Block {
            centre: V3::new(at[0], at[1], 0.06),
            half: V3::new(13.0, 3.6, 0.06),
            axes: Rotation3::from_axis_angle(&V3::z_axis(), turn).into_inner(),
        },
        Skin::Plastic {
            colour: Rgb::new(0.56, 0.53, 0.42),
            rough: 0.7,
        },
        77,
    );
    paper.print = text(order.unit.code, [0.0, 0.0], 2.3, 0.0);
    paper.ink = Rgb::new(0.03, 0.03, 0.07);
    out.push(paper);
}

struct Maker<'a> {
    part: &'a Part,
    stream: Stream,
    seed: u32,
    out: &'a mut Vec<Body>,
    loose: bool,
    split: bool,
}

const STEEL: Rgb = Rgb::new(0.70, 0.69, 0.66);
const TIN: Rgb = Rgb::new(0.74, 0.73, 0.70);

impl Maker<'_> {
    fn make(&mut self) {
        let ([x, y], [w, h]) = match &self.part.outline {
            Outline::Rect { at, size, .. } => (*at, *size),
            Outline::Circle { at, diameter } => (*at, [*diameter, *diameter]),
            Outline::Polygon { .. } => return,
        };
        match self.part.kind {
            PartKind::Ic => self.package([x, y], [w, h]),
            PartKind::Relay => self.relay([x, y], [w, h]),
            PartKind::Terminal => self.terminal([x, y], [w, h]),
            PartKind::Header | PartKind::Connector => self.header([x, y], [w, h]),
            PartKind::Electrolytic => self.electrolytic([x, y], w),
            PartKind::Resistor => self.resistor(),
            PartKind::Diode if self.part.pins.len() == 4 => self.bridge([x, y], w),
            PartKind::Diode if self.part.value.starts_with("LED") => self.lamp([x, y]),
            PartKind::Diode => self.diode(),
            PartKind::Capacitor => self.disc([x, y]),
            PartKind::Link => self.link(),
            PartKind::Transistor => self.regulator([x, y]),
            PartKind::Switch => self.switch([x, y], [w, h]),
            PartKind::Fuse => self.fuse([x, y]),
            PartKind::Crystal => self.crystal([x, y]),
            PartKind::Display => self.display([x, y], [w, h]),
            PartKind::Other => self.loop_of_wire([x, y]),
            _ => {}
        }
    }

    fn put(&mut self, shape: Shape, skin: Skin) -> &mut Body {
        let count = self.out.len();
        let seed = self.seed;
        self.out.push(Body::new(shape, skin, seed));
        &mut self.out[count]
    }

    fn block(&mut self, centre: [f64; 3], size: [f64; 3], skin: Skin) -> &mut Body {
        let shape = Shape::Block {
            centre: V3::from(centre),
            half: V3::from(size) / 2.0,
            axes: Matrix3::identity(),
        };
        self.put(shape, skin)
    }

    fn rod(&mut self, a: [f64; 3], b: [f64; 3], radius: f64, skin: Skin) {
        let shape = Shape::Rod {
            a: V3::from(a),
            b: V3::from(b),
            radius,
        };
        self.put(shape, skin);
    }

    fn package(&mut self, [x, y]: [f64; 2], [w, h]: [f64; 2]) {
        let tall = 4.4;
        // The package skin reads its half length (in 1/1000 mm) from the seed's low bits.
        self.seed = (self.seed & 0xFFFF_0000) | ((w / 2.0 * 1000.0) as u32 & 0xFFFF);
        let words = self.part.value.to_uppercase();
        let name = words.split(' ').next_back().unwrap_or("").to_owned();
        let week = 8_101 + (self.stream.next() * 700.0) as u32;
        let big = h > 10.0;
        // The program store of the micro carries its version on a sticker.
        let stuck = big && name.len() < 6;
        let lift = self.stream.range(0.0, 0.25);
        let left = if stuck { -12.0 } else { 0.6 };
        let body = self.block(
            [x, y, 0.6 + lift + tall / 2.0 - 0.5],
            [w, h, tall - 1.0],
            Skin::Package { notch: true },
        );
        let size = if big { 2.4 } else { 1.35 };
        body.print = text(&name, [left, if big { 2.0 } else { 1.2 }], size, 0.0);
        body.print.extend(text(
            &format!("{week}"),
            [left, if big { -2.2 } else { -1.2 }],
            size * 0.85,
            0.0,
        ));
        body.ink = Rgb::new(0.42, 0.42, 0.4);
        if stuck {
            let sticker = self.block(
                [x + w * 0.2, y, 0.6 + lift + tall - 1.0 + 0.03],
                [w * 0.36, h * 0.7, 0.06],
                Skin::Plastic {
                    colour: Rgb::new(0.6, 0.58, 0.5),
                    rough: 0.6,
                },
            );
            sticker.print = text(&name, [0.0, 0.0], 2.6, 0.0);
            sticker.ink = Rgb::new(0.05, 0.03, 0.12);
        }
        for pin in self.part.pins.clone() {
            let out = if pin.at[1] > y { 1.0 } else { -1.0 };
            let skin = || Skin::Metal {
                tint: TIN,
                rough: 0.24,
            };
            let side = pin.at[1] - out * 0.05;
            self.block([pin.at[0], side, 1.3], [1.4, 0.28, 2.0], skin());
            self.block([pin.at[0], side, 0.1], [0.5, 0.28, 1.0], skin());
            let inner = f64::midpoint(pin.at[1], y + out * h / 2.0);
            let depth = (pin.at[1] - (y + out * h / 2.0)).abs() + 0.3;
            self.block([pin.at[0], inner, 2.25], [1.4, depth, 0.28], skin());
        }
    }

    fn relay(&mut self, [x, y]: [f64; 2], [w, h]: [f64; 2]) {
        let colour = Rgb::new(0.035, 0.036, 0.04);
        let name = "FR-112".to_owned();
        let body = self.block(
            [x, y, 7.9],
            [w, h, 15.4],
            Skin::Plastic { colour, rough: 0.3 },
        );
        body.print = text(&name, [0.0, 5.6], 1.5, 0.0);
        body.print.extend(text("12 VDC", [0.0, 2.6], 1.4, 0.0));
        body.print.extend(text("3A 250~", [0.0, 0.2], 1.2, 0.0));
        body.print
            .extend([[[-3.5, -2.4], [3.5, -2.4]], [[-3.5, -2.4], [-3.5, -7.6]]]);
        body.print
            .extend([[[3.5, -2.4], [3.5, -7.6]], [[-3.5, -7.6], [3.5, -7.6]]]);
        body.print.extend([[[-3.5, -7.6], [3.5, -2.4]]]);
        body.ink = Rgb::new(0.55, 0.55, 0.52);
    }

    fn terminal(&mut self, [x, y]: [f64; 2], [w, h]: [f64; 2]) {
        let colour = Rgb::new(0.035, 0.13, 0.075);
        let plastic = || Skin::Plastic {
            colour,
            rough: 0.35,
        };
        let flat = w > h;
        let ways = self.part.pins.clone();
        self.block([x, y, 4.0], [w, h, 8.0], plastic());
        for pin in &ways {
            let [px, py] = pin.at;
            let centre = if flat { [px, y - 0.8] } else { [x - 0.4, py] };
            let slot = self.stream.range(0.0, 3.1);
            let shape = Shape::Can {
                centre,
                radius: 2.05,
                low: 7.0,
                high: 8.35,
            };
            self.put(shape, Skin::Screw { slot });
            let wall = if flat {
                ([px + 2.54, y, 5.0], [0.6, h, 10.0])
            } else {
                ([x, py + 2.54, 5.0], [w, 0.6, 10.0])
            };
            self.block(wall.0, wall.1, plastic());
        }
        let lip = if flat {
            ([x, y + h / 2.0 - 0.8, 5.0], [w, 1.6, 10.0])
        } else {
            ([x - w / 2.0 + 0.8, y, 5.0], [1.6, h, 10.0])
        };
        self.block(lip.0, lip.1, plastic());
    }

    fn header(&mut self, [x, y]: [f64; 2], [w, h]: [f64; 2]) {
        let colour = Rgb::new(0.03, 0.03, 0.033);
        let skin = || Skin::Plastic {
            colour,
            rough: 0.38,
        };
        let split = self.split;
        let floor = self.block([x, y, 1.3], [w, h, 2.6], skin());
        if split {
            floor.split = vec![[[-7.2, -4.4], [-6.2, -1.0]], [[-6.2, -1.0], [-7.0, 4.4]]];
        }
        for (cx, cy, sx, sy) in [
            (x, y + h / 2.0 - 0.6, w, 1.2),
            (x - w / 2.0 + 0.6, y, 1.2, h),
            (x + w / 2.0 - 0.6, y, 1.2, h),
            (x - w / 4.0 - 1.4, y - h / 2.0 + 0.6, w / 2.0 - 2.8, 1.2),
            (x + w / 4.0 + 1.4, y - h / 2.0 + 0.6, w / 2.0 - 2.8, 1.2),
        ] {
            let wall = self.block([cx, cy, 4.6], [sx, sy, 9.2], skin());
            if split {
                let at = x - 6.8 - cx;
                wall.split = vec![[[at, -2.0], [at + 0.3, 2.0]]];
            }
        }
        for pin in self.part.pins.clone() {
            let lean = if split && pin.at[0] < x - 5.0 {
                0.35
            } else {
                0.0
            };
            self.block(
                [pin.at[0] - lean, pin.at[1], 4.6],
                [0.64, 0.64, 6.6],
                Skin::Metal {
                    tint: Rgb::new(0.82, 0.66, 0.36),
                    rough: 0.16,
                },
            );
        }
    }

    fn electrolytic(&mut self, [x, y]: [f64; 2], diameter: f64) {
        let colour = match self.seed % 3 {
            0 => Rgb::new(0.02, 0.04, 0.15),
            1 => Rgb::new(0.025, 0.025, 0.03),
            _ => Rgb::new(0.03, 0.06, 0.13),
        };
        let pins = &self.part.pins;
        let stripe = match (pins.first(), pins.get(1)) {
            (Some(plus), Some(minus)) => {
                let d = [minus.at[0] - plus.at[0], minus.at[1] - plus.at[1]];
                let length = d[0].hypot(d[1]).max(1e-6);
                [d[0] / length, d[1] / length]
            }
            _ => [1.0, 0.0],
        };
        let high = 4.0 + diameter * 1.15;
        let shape = Shape::Can {
            centre: [x, y],
            radius: diameter / 2.0,
            low: 0.2,
            high,
        };
        self.put(shape, Skin::Sleeve { colour, stripe });
    }

    /// A body between two pins with bent leads; returns the ends of the body.
    fn leads(&mut self, reach: f64, lift: f64, radius: f64) -> Option<([f64; 3], [f64; 3])> {
        let (a, b) = (self.part.pins.first()?.at, self.part.pins.get(1)?.at);
        let d = [b[0] - a[0], b[1] - a[1]];
        let length = d[0].hypot(d[1]);
        let u = [d[0] / length, d[1] / length];
        let middle = [f64::midpoint(a[0], b[0]), f64::midpoint(a[1], b[1])];
        let skew = self.stream.range(-0.35, 0.35);
        let end = |s: f64| {
            [
                middle[0] + u[0] * (s + skew),
                middle[1] + u[1] * (s + skew),
                lift,
            ]
        };
        let skin = || Skin::Metal {
            tint: TIN,
            rough: 0.2,
        };
        for (pin, body, inward) in [(a, end(-reach), 1.0), (b, end(reach), -1.0)] {
            let shoulder = [
                pin[0] + u[0] * 0.5 * inward,
                pin[1] + u[1] * 0.5 * inward,
                lift,
            ];
            let knee = [pin[0], pin[1], (lift - 0.5).max(0.15)];
            self.rod(body, shoulder, radius, skin());
            self.rod(shoulder, knee, radius, skin());
            self.rod(knee, [pin[0], pin[1], -0.2], radius, skin());
        }
        Some((end(-reach), end(reach)))
    }

    fn resistor(&mut self) {
        let lift = self.stream.range(1.15, 1.5);
        let Some((a, b)) = self.leads(3.0, lift, 0.3) else {
            return;
        };
        let colours = super::bands::bands(&self.part.value);
        let base = Rgb::new(0.46, 0.33, 0.19);
        let places = [-2.25, -1.25, -0.35, 1.9];
        let bands = places.into_iter().zip(colours).collect::<Vec<_>>();
        let flip = self.stream.chance(0.4);
        let (a, b) = if flip { (b, a) } else { (a, b) };
        let caps = Skin::Bands {
            base,
            bands: bands.clone(),
        };
        self.rod(a, b, 1.02, caps);
        // Thicker ends, as the caps under the lacquer make them.
        let toward = |p: [f64; 3], q: [f64; 3], t: f64| {
            [p[0] + (q[0] - p[0]) * t, p[1] + (q[1] - p[1]) * t, p[2]]
        };
        for (p, q, place, index) in [(a, b, -2.25, 0usize), (b, a, 1.9, 3)] {
            let colour = bands.get(index).map_or(base, |band| band.1);
            let _ = place;
            let (p, q) = (toward(p, q, 0.06), toward(p, q, 0.2));
            self.rod(
                p,
                q,
                1.2,
                Skin::Bands {
                    base,
                    bands: vec![(0.0, colour)],
                },
            );
        }
    }

    fn diode(&mut self) {
        let lift = self.stream.range(1.35, 1.7);
        let glass = self.part.value == "signal" || self.part.value.contains("zener");
        let (reach, radius) = if glass { (1.6, 0.95) } else { (2.1, 1.35) };
        let Some((a, b)) = self.leads(reach, lift, if glass { 0.25 } else { 0.4 }) else {
            return;
        };
        let (base, ring) = if glass {
            (Rgb::new(0.35, 0.11, 0.04), Rgb::new(0.02, 0.02, 0.02))
        } else {
            (Rgb::new(0.022, 0.022, 0.024), Rgb::new(0.55, 0.55, 0.52))
        };
        // Pin 1 is the cathode.
        self.rod(
            a,
            b,
            radius,
            Skin::Ring {
                base,
                ring,
                at: -reach * 0.72,
            },
        );
    }

    fn bridge(&mut self, [x, y]: [f64; 2], diameter: f64) {
        let shape = Shape::Can {
            centre: [x, y],
            radius: diameter / 2.0,
            low: 1.5,
            high: 7.2,
        };
        let skin = Skin::Plastic {
            colour: Rgb::new(0.025, 0.025, 0.028),
            rough: 0.35,
        };
        let body = self.put(shape, skin);
        body.print = text("~ +", [0.0, 1.2], 1.6, 45.0);
        body.print.extend(text("- ~", [0.0, -1.6], 1.6, 45.0));
        for pin in self.part.pins.clone() {
            let [px, py] = pin.at;
            self.rod(
                [px, py, -0.2],
                [px, py, 2.0],
                0.4,
                Skin::Metal {
                    tint: TIN,
                    rough: 0.2,
                },
            );
        }
    }

    fn lamp(&mut self, [x, y]: [f64; 2]) {
        let lens = Skin::Lens {
            colour: Rgb::new(0.42, 0.02, 0.015),
        };
        self.put(
            Shape::Can {
                centre: [x, y],
                radius: 2.9,
                low: 1.0,
                high: 2.0,
            },
            lens.clone(),
        );
        self.put(
            Shape::Ball {
                centre: V3::new(x, y, 4.6),
                radii: V3::new(2.5, 2.5, 4.0),
            },
            lens,
        );
    }

    fn disc(&mut self, [x, y]: [f64; 2]) {
        let pins = self.part.pins.clone();
        let along_x = pins.len() == 2 && (pins[0].at[0] - pins[1].at[0]).abs() > 0.1;
        let radii = if along_x {
            [3.1, 1.25, 2.9]
        } else {
            [1.25, 3.1, 2.9]
        };
        let colour = if self.part.value.contains("pF") {
            Rgb::new(0.42, 0.22, 0.07)
        } else {
            Rgb::new(0.36, 0.15, 0.04)
        };
        let lean = self.stream.range(-0.5, 0.5);
        let shape = Shape::Ball {
            centre: V3::new(x + if along_x { 0.0 } else { lean }, y, 4.2),
            radii: V3::from(radii),
        };
        self.put(shape, Skin::Plastic { colour, rough: 0.3 });
        for pin in pins {
            let [px, py] = pin.at;
            let top = [(px + x) / 2.0, (py + y) / 2.0, 3.0];
            self.rod(
                [px, py, -0.2],
                top,
                0.28,
                Skin::Metal {
                    tint: TIN,
                    rough: 0.2,
                },
            );
        }
    }

    fn link(&mut self) {
        let lift = self.stream.range(0.5, 0.9);
        if let Some((a, b)) = self.leads(1.0, lift, 0.34) {
            self.rod(
                a,
                b,
                0.34,
                Skin::Metal {
                    tint: TIN,
                    rough: 0.18,
                },
            );
        }
    }

    fn regulator(&mut self, [x, y]: [f64; 2]) {
        let y = y + 0.4;
        let black = Skin::Plastic {
            colour: Rgb::new(0.022, 0.022, 0.024),
            rough: 0.32,
        };
        let fin = |tint: f64| Skin::Metal {
            tint: Rgb::new(tint, tint, tint),
            rough: 0.3,
        };
        self.block([x, y - 0.6, 8.8], [10.2, 3.0, 9.0], black);
        self.block([x, y + 1.4, 12.2], [10.4, 1.3, 15.6], fin(0.66));
        self.block([x, y + 3.0, 10.5], [17.0, 1.6, 19.0], fin(0.2));
        for i in 0..5 {
            let px = x - 7.2 + 3.6 * f64::from(i);
            self.block([px, y + 6.2, 10.5], [0.9, 5.4, 19.0], fin(0.2));
        }
        for pin in self.part.pins.clone() {
            let [px, py] = pin.at;
            self.block(
                [px, py, 2.2],
                [0.9, 0.5, 4.6],
                Skin::Metal {
                    tint: TIN,
                    rough: 0.22,
                },
            );
        }
    }

    fn switch(&mut self, [x, y]: [f64; 2], [w, h]: [f64; 2]) {
        if w < 8.0 {
            self.block(
                [x, y, 1.9],
                [w - 0.6, h - 0.6, 3.8],
                Skin::Metal {
                    tint: STEEL,
                    rough: 0.28,
                },
            );
            let shape = Shape::Can {
                centre: [x, y],
                radius: 1.75,
                low: 3.0,
                high: 6.0,
            };
            self.put(
                shape,
                Skin::Plastic {
                    colour: Rgb::new(0.03, 0.03, 0.03),
                    rough: 0.3,
                },
            );
            return;
        }
        if (w - h).abs() < 0.1 {
            self.rotary([x, y]);
            return;
        }
        let (yaw, tilt) = if self.loose {
            (11.0f64.to_radians(), 13.0f64.to_radians())
        } else {
            (self.stream.range(-0.8, 0.8).to_radians(), 0.0)
        };
        let axes = Rotation3::from_euler_angles(tilt, 0.35 * tilt, yaw).into_inner();
        let place = |p: [f64; 3]| V3::new(x, y, 0.4 + 2.6 * tilt) + axes * V3::from(p);
        let mut piece = |at: [f64; 3], size: [f64; 3], skin: Skin| {
            let shape = Shape::Block {
                centre: place(at),
                half: V3::from(size) / 2.0,
                axes,
            };
            self.put(shape, skin);
        };
        let steel = || Skin::Metal {
            tint: STEEL,
            rough: 0.26,
        };
        let dark = || Skin::Plastic {
            colour: Rgb::new(0.02, 0.02, 0.02),
            rough: 0.4,
        };
        piece([0.0, 0.0, 3.0], [w, h, 5.4], steel());
        piece([0.0, 0.0, 5.75], [w - 5.0, 2.9, 0.12], dark());
        piece([-2.2, 0.0, 7.6], [3.4, 2.5, 4.0], dark());
        piece([-2.2, 0.0, 9.65], [0.5, 2.4, 0.2], steel());
    }

    fn rotary(&mut self, [x, y]: [f64; 2]) {
        let black = || Skin::Plastic {
            colour: Rgb::new(0.024, 0.024, 0.026),
            rough: 0.4,
        };
        for (radius, low, high, skin) in [
            (8.6, 1.0, 8.0, black()),
            (
                4.4,
                8.0,
                12.0,
                Skin::Metal {
                    tint: STEEL,
                    rough: 0.22,
                },
            ),
            (3.0, 12.0, 20.0, Skin::Screw { slot: 0.7 }),
        ] {
            self.put(
                Shape::Can {
                    centre: [x, y],
                    radius,
                    low,
                    high,
                },
                skin,
            );
        }
    }

    fn fuse(&mut self, [x, y]: [f64; 2]) {
        let pins = self.part.pins.clone();
        self.rod([x - 7.6, y, 5.2], [x + 7.6, y, 5.2], 2.5, Skin::Glass);
        for pin in pins {
            let inward = if pin.at[0] < x { 1.0 } else { -1.0 };
            let px = pin.at[0] + inward * 2.2;
            let clip = || Skin::Metal {
                tint: Rgb::new(0.74, 0.7, 0.58),
                rough: 0.22,
            };
            self.block([px, y + 2.9, 4.0], [5.0, 0.5, 7.0], clip());
            self.block([px, y - 2.9, 4.0], [5.0, 0.5, 7.0], clip());
            self.block([px, y, 1.2], [6.2, 6.0, 0.6], clip());
        }
    }

    fn crystal(&mut self, [x, y]: [f64; 2]) {
        let steel = || Skin::Metal {
            tint: STEEL,
            rough: 0.2,
        };
        let body = self.block([x, y, 7.2], [10.4, 4.0, 13.0], steel());
        body.print = text("4.000", [0.0, 0.0], 1.6, 0.0);
        body.ink = Rgb::new(0.04, 0.04, 0.04);
        self.block([x, y, 0.8], [11.0, 4.7, 0.7], steel());
    }

    fn display(&mut self, [x, y]: [f64; 2], [w, h]: [f64; 2]) {
        self.block([x, y, 4.2], [w, h, 8.0], Skin::Digits);
    }

    fn loop_of_wire(&mut self, [x, y]: [f64; 2]) {
        let skin = || Skin::Metal {
            tint: TIN,
            rough: 0.16,
        };
        self.rod([x, y, -0.2], [x - 0.9, y, 2.6], 0.35, skin());
        self.rod([x - 0.9, y, 2.6], [x, y, 4.2], 0.35, skin());
        self.rod([x, y, 4.2], [x + 0.9, y, 2.6], 0.35, skin());
        self.rod([x + 0.9, y, 2.6], [x, y, -0.2], 0.35, skin());
    }
}
