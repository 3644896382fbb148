//! Parts that hang on their leads.

use super::super::body::{Shape, Skin};
use super::super::font::text;
use super::super::light::{Rgb, V3};

use super::Maker;
use super::TIN;

impl Maker<'_> {
    pub(super) fn electrolytic(&mut self, [x, y]: [f64; 2], diameter: f64) {
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
    pub(super) fn leads(
        &mut self,
        reach: f64,
        lift: f64,
        radius: f64,
    ) -> Option<([f64; 3], [f64; 3])> {
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

    pub(super) fn resistor(&mut self) {
        let lift = self.stream.range(1.15, 1.5);
        let Some((a, b)) = self.leads(3.0, lift, 0.3) else {
            return;
        };
        let colours = super::super::bands::bands(&self.part.value);
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

    pub(super) fn diode(&mut self) {
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

    pub(super) fn bridge(&mut self, [x, y]: [f64; 2], diameter: f64) {
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

    pub(super) fn lamp(&mut self, [x, y]: [f64; 2]) {
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

    pub(super) fn disc(&mut self, [x, y]: [f64; 2]) {
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

    pub(super) fn link(&mut self) {
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
}
