//! From map, unit and side to a scene: joints with their faults, bodies, stains.

use std::sync::Arc;

use crate::board::{BoardMap, LandShape, Outline, Part, PartKind, Pin, Side};

use super::atlas::{VIA_RADIUS, atlas};
use super::body::{Body, Shape, Skin};
use super::light::{Rgb, V3};
use super::noise::{Stream, seed_of};
use super::route::Copper;
use super::scenario::{PlantedFault, UnitSpec};
use super::scene::{Base, Ingredients, Scene, Stain};
use super::solder::{Crack, LandForm, Patch, Recipe, bridge_land, recipe};

/// What a scene is made from.
pub(super) struct Order<'a> {
    pub(super) map: &'a BoardMap,
    pub(super) copper: &'a Copper,
    pub(super) unit: &'a UnitSpec,
    pub(super) side: Side,
    pub(super) seed: u64,
    /// Samples per mm of the joints' fields.
    pub(super) per_mm: f64,
    pub(super) plant: bool,
}

impl Order<'_> {
    fn faults(&self) -> impl Iterator<Item = &PlantedFault> {
        let plant = self.plant;
        self.unit
            .faults
            .iter()
            .filter(move |fault| plant && fault.board() == self.map.board)
    }

    fn mirror(&self) -> f64 {
        if self.side == Side::Solder { -1.0 } else { 1.0 }
    }

    fn missing(&self, part: &str) -> bool {
        self.faults()
            .any(|fault| matches!(fault, PlantedFault::Missing { part: p, .. } if p == part))
    }

    fn pin_at(&self, joint: &str) -> Option<(&Part, &Pin)> {
        let (reference, no) = joint.split_once('.')?;
        let part = self
            .map
            .parts
            .iter()
            .find(|part| part.reference == reference)?;
        Some((part, part.pins.iter().find(|pin| pin.no == no)?))
    }
}

/// Height over the bench on which the board lies: on its parts, or on its clipped pins.
const ON_PARTS: f64 = -21.0;
/// See [`ON_PARTS`].
const ON_PINS: f64 = -4.2;

/// Builds the scene. The first patches are the map's pins in order.
pub(super) fn assemble(order: &Order<'_>) -> Scene {
    let unit_seed = seed_of(
        order.seed,
        &format!("{} {}", order.unit.code, order.map.board),
    );
    let side_seed = seed_of(
        unit_seed,
        if order.side == Side::Solder {
            "solder"
        } else {
            "parts"
        },
    );
    let mut patches = pins(order, unit_seed);
    patches.extend(vias(order, unit_seed));
    let mut bodies = Vec::new();
    let mut stains = Vec::new();
    for fault in order.faults() {
        plant(order, fault, &mut patches, &mut bodies, &mut stains);
    }
    if order.side == Side::Component {
        bodies.extend(super::parts3d::bodies(order, unit_seed));
    }
    let mirror = order.mirror();
    let screw_holes = order
        .map
        .parts
        .iter()
        .filter(|part| part.kind == PartKind::Hardware)
        .filter_map(|part| match &part.outline {
            Outline::Circle { at, .. } => Some([mirror * at[0], at[1]]),
            _ => None,
        })
        .collect();
    let mut stream = Stream::new(side_seed);
    Scene::new(Ingredients {
        mirror,
        size: order.map.outline.get(2).copied().unwrap_or([1.0, 1.0]),
        base: if order.map.board == "main" {
            Base::Green
        } else {
            Base::Brown
        },
        atlas: Arc::new(atlas(order.map, order.copper, order.side, side_seed)),
        patches,
        bodies,
        screw_holes,
        stains,
        bench: if order.side == Side::Solder {
            ON_PARTS
        } else {
            ON_PINS
        },
        bench_style: (seed_of(order.seed, order.unit.code) % 3) as u32,
        seed: side_seed as u32 & 0x00FF_FFFF,
        flux: if order.side == Side::Solder {
            stream.range(0.45, 1.0)
        } else {
            0.12
        },
    })
}

impl Order<'_> {
    pub(super) fn is_missing(&self, part: &str) -> bool {
        self.missing(part)
    }

    pub(super) fn is_loose(&self, part: &str) -> bool {
        self.faults()
            .any(|fault| matches!(fault, PlantedFault::LooseSwitch { part: p, .. } if p == part))
    }

    pub(super) fn is_split(&self, part: &str) -> bool {
        self.faults()
            .any(|fault| matches!(fault, PlantedFault::CrackedHeader { part: p, .. } if p == part))
    }
}

fn land(pin: &Pin) -> LandForm {
    LandForm {
        shape: pin.land.shape,
        half: pin.land.size.map(|s| s / 2.0),
    }
}

fn pins(order: &Order<'_>, unit_seed: u64) -> Vec<Patch> {
    use rayon::prelude::*;
    let list: Vec<(&Part, &Pin)> = order
        .map
        .parts
        .iter()
        .flat_map(|part| part.pins.iter().map(move |pin| (part, pin)))
        .collect();
    list.par_iter()
        .map(|(part, pin)| {
            let seed = seed_of(unit_seed, &format!("{} {:?}", pin.uid, order.side));
            let mut recipe = recipe(part.kind, pin, seed);
            if order.missing(&part.reference) {
                emptied(&mut recipe, pin);
            } else if order.side == Side::Component {
                upper(&mut recipe, part.kind);
            } else if part.kind == PartKind::Other {
                // Test points: a loop of wire stands on the component side.
                recipe.coat = 1.0;
            }
            let joint = format!("{}.{}", part.reference, pin.no);
            if order.side == Side::Solder {
                recipe.crack = crack_of(order, &joint, seed);
                if recipe.crack.is_some() && recipe.bulge < 0.9 {
                    recipe.bulge = 1.3;
                }
            }
            let centre = [order.mirror() * pin.at[0], pin.at[1]];
            Patch::bake(centre, land(pin), recipe, order.per_mm)
        })
        .collect()
}

/// A hole that somebody emptied badly: a rim of old solder, no pin.
fn emptied(recipe: &mut Recipe, pin: &Pin) {
    recipe.pin = None;
    recipe.hole = Some(pin.drill.unwrap_or(0.8) * 0.8);
    recipe.height = 0.16;
    recipe.bulge = 0.8;
    recipe.lumps = 0.06;
    recipe.rough = 0.3;
}

/// The component side shows only what has risen through the hole.
fn upper(recipe: &mut Recipe, kind: PartKind) {
    recipe.height *= 0.28;
    recipe.lumps *= 0.6;
    recipe.coat = 0.0;
    if let Some(form) = &mut recipe.pin {
        form.tall = if matches!(kind, PartKind::Ic | PartKind::Display) {
            0.1
        } else {
            0.4
        };
        form.tip = 0.0;
    }
}

fn crack_of(order: &Order<'_>, joint: &str, seed: u64) -> Option<Crack> {
    order.faults().find_map(|fault| match fault {
        PlantedFault::Fractured {
            joint: named,
            arc_deg,
            start_deg,
            width_mm,
            darkening,
            radius_mm,
            ..
        } if named == joint => Some(Crack {
            // Mirrored with the side: the arc runs from its other end.
            start_deg: 180.0 - start_deg - arc_deg,
            arc_deg: *arc_deg,
            width: *width_mm,
            darkening: *darkening,
            radius: *radius_mm,
            seed: (seed >> 8) as u32,
            matt: seed & 1 == 0,
        }),
        _ => None,
    })
}

fn vias(order: &Order<'_>, unit_seed: u64) -> Vec<Patch> {
    order
        .copper
        .vias
        .iter()
        .enumerate()
        .map(|(index, at)| {
            let mut s = Stream::new(seed_of(unit_seed, &format!("via {index} {:?}", order.side)));
            let filled = s.chance(0.6);
            let recipe = Recipe {
                pin: None,
                offset: [0.0, 0.0],
                height: if filled { s.range(0.08, 0.2) } else { 0.05 },
                bulge: 0.7,
                lean: [s.normal() * 0.1, s.normal() * 0.1],
                coat: 0.0,
                lumps: 0.015,
                rough: s.range(0.08, 0.25),
                ring: None,
                hole: (!filled).then_some(0.55),
                crack: None,
                seed: (seed_of(unit_seed, "via") as u32).wrapping_add(index as u32 * 977),
            };
            let form = LandForm {
                shape: LandShape::Round,
                half: [VIA_RADIUS - 0.05; 2],
            };
            Patch::bake([order.mirror() * at[0], at[1]], form, recipe, order.per_mm)
        })
        .collect()
}

fn plant(
    order: &Order<'_>,
    fault: &PlantedFault,
    patches: &mut Vec<Patch>,
    bodies: &mut Vec<Body>,
    stains: &mut Vec<Stain>,
) {
    let mirror = order.mirror();
    let place = |joint: &str| {
        order
            .pin_at(joint)
            .map(|(_, pin)| [mirror * pin.at[0], pin.at[1]])
    };
    match fault {
        PlantedFault::Bridge { joint, other, .. } if order.side == Side::Solder => {
            if let (Some(a), Some(b)) = (place(joint), place(other)) {
                patches.push(bridge(a, b, order));
                stains.push(flux_stain(a, 3.0, 0.9));
            }
        }
        PlantedFault::PriorRepair { joint, other, .. } if order.side == Side::Solder => {
            if let (Some(a), Some(b)) = (place(joint), place(other)) {
                wire(a, b, bodies);
                stains.push(flux_stain(a, 5.0, 1.0));
                stains.push(flux_stain(b, 4.2, 1.0));
            }
        }
        PlantedFault::Leaking { part, .. } => {
            let at = order
                .map
                .parts
                .iter()
                .find(|p| p.reference == *part)
                .and_then(|p| match &p.outline {
                    Outline::Circle { at, .. } => Some(*at),
                    _ => None,
                });
            if let Some(at) = at {
                stains.push(Stain {
                    at: [mirror * at[0] + 2.0, at[1] - 2.0],
                    radius: 9.5,
                    strength: 0.9,
                    crust: true,
                });
            }
        }
        PlantedFault::Missing { part, .. } if order.side == Side::Solder => {
            for pin in order
                .map
                .parts
                .iter()
                .filter(|p| p.reference == *part)
                .flat_map(|p| &p.pins)
            {
                stains.push(flux_stain([mirror * pin.at[0], pin.at[1]], 2.6, 0.8));
            }
        }
        _ => {}
    }
}

fn flux_stain(at: [f64; 2], radius: f64, strength: f64) -> Stain {
    Stain {
        at,
        radius,
        strength,
        crust: false,
    }
}

fn bridge(a: [f64; 2], b: [f64; 2], order: &Order<'_>) -> Patch {
    let (form, middle, _) = bridge_land(a, b);
    let recipe = Recipe {
        pin: None,
        offset: [0.0, 0.0],
        height: 0.5,
        bulge: 0.45,
        lean: [0.05, 0.1],
        coat: 0.0,
        lumps: 0.03,
        rough: 0.1,
        ring: None,
        hole: None,
        crack: None,
        seed: 4242,
    };
    Patch::bake(middle, form, recipe, order.per_mm)
}

/// An insulated wire laid over the solder side, its bare ends in two joints.
fn wire(a: [f64; 2], b: [f64; 2], bodies: &mut Vec<Body>) {
    let colour = Rgb::new(0.03, 0.07, 0.32);
    let bow = [(b[1] - a[1]) * 0.25 + 2.5, (a[0] - b[0]) * 0.25 - 3.5];
    let point = |t: f64| {
        let lift = 4.0 * t * (1.0 - t);
        V3::new(
            a[0] + (b[0] - a[0]) * t + bow[0] * lift,
            a[1] + (b[1] - a[1]) * t + bow[1] * lift,
            0.95 + 0.5 * lift,
        )
    };
    let count = 14;
    for i in 0..count {
        let (t0, t1) = (
            f64::from(i) / f64::from(count),
            f64::from(i + 1) / f64::from(count),
        );
        let bare = i == 0 || i == count - 1;
        let skin = if bare {
            Skin::Metal {
                tint: Rgb::new(0.72, 0.66, 0.58),
                rough: 0.2,
            }
        } else {
            Skin::Plastic { colour, rough: 0.3 }
        };
        let shape = Shape::Rod {
            a: point(t0),
            b: point(t1),
            radius: if bare { 0.26 } else { 0.62 },
        };
        bodies.push(Body::new(shape, skin, 9));
    }
}
