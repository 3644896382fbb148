//! Bodies of the parts on the component side.

mod fitted;
mod leaded;
mod rows;

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
}
