//! Parts with rows of pins: packages, relays, terminals, headers.

use super::super::body::{Shape, Skin};
use super::super::font::text;
use super::super::light::Rgb;

use super::Maker;
use super::TIN;

impl Maker<'_> {
    pub(super) fn package(&mut self, [x, y]: [f64; 2], [w, h]: [f64; 2]) {
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

    pub(super) fn relay(&mut self, [x, y]: [f64; 2], [w, h]: [f64; 2]) {
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

    pub(super) fn terminal(&mut self, [x, y]: [f64; 2], [w, h]: [f64; 2]) {
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

    pub(super) fn header(&mut self, [x, y]: [f64; 2], [w, h]: [f64; 2]) {
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
}
