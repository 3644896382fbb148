//! Parts that are switched, turned, looked at or screwed down.

use nalgebra::Rotation3;

use super::super::body::{Shape, Skin};
use super::super::font::text;
use super::super::light::{Rgb, V3};

use super::Maker;
use super::{STEEL, TIN};

impl Maker<'_> {
    pub(super) fn regulator(&mut self, [x, y]: [f64; 2]) {
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

    pub(super) fn switch(&mut self, [x, y]: [f64; 2], [w, h]: [f64; 2]) {
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

    pub(super) fn rotary(&mut self, [x, y]: [f64; 2]) {
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

    pub(super) fn fuse(&mut self, [x, y]: [f64; 2]) {
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

    pub(super) fn crystal(&mut self, [x, y]: [f64; 2]) {
        let steel = || Skin::Metal {
            tint: STEEL,
            rough: 0.2,
        };
        let body = self.block([x, y, 7.2], [10.4, 4.0, 13.0], steel());
        body.print = text("4.000", [0.0, 0.0], 1.6, 0.0);
        body.ink = Rgb::new(0.04, 0.04, 0.04);
        self.block([x, y, 0.8], [11.0, 4.7, 0.7], steel());
    }

    pub(super) fn display(&mut self, [x, y]: [f64; 2], [w, h]: [f64; 2]) {
        self.block([x, y, 4.2], [w, h, 8.0], Skin::Digits);
    }

    pub(super) fn loop_of_wire(&mut self, [x, y]: [f64; 2]) {
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
