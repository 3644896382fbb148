//! Small builders for parts on the 2.54 mm grid.

use crate::board::{
    Expect, Extent, Land, LandShape, Landmark, Limits, Outline, Part, PartKind, Pin, Rail, Side,
    Zone,
};

/// Grid pitch of through-hole parts in mm (standards.md section 4: header and DIP pitch).
pub(super) const PITCH: f64 = 2.54;

/// A grid position in pitches.
pub(super) type Grid = (i32, i32);

/// Millimetres of a grid coordinate, rounded to 0.01 mm so that the JSON reads well.
pub(super) fn mm(grid: i32) -> f64 {
    (f64::from(grid) * PITCH * 100.0).round() / 100.0
}

/// A land of the given shape and drill in mm.
#[derive(Clone, Copy)]
pub(super) struct Pad {
    pub(super) shape: LandShape,
    pub(super) size: [f64; 2],
    pub(super) drill: f64,
}

/// A round land.
pub(super) const fn round(diameter: f64, drill: f64) -> Pad {
    Pad {
        shape: LandShape::Round,
        size: [diameter, diameter],
        drill,
    }
}

/// An oval land.
pub(super) const fn oval(width: f64, height: f64, drill: f64) -> Pad {
    Pad {
        shape: LandShape::Oval,
        size: [width, height],
        drill,
    }
}

/// A part with no pins yet.
pub(super) fn part(reference: &str, kind: PartKind, value: &str, outline: Outline) -> Part {
    Part {
        uid: reference.to_ascii_lowercase(),
        reference: reference.to_owned(),
        kind,
        value: value.to_owned(),
        side: Side::Component,
        outline,
        pins: Vec::new(),
        zone: Zone::Load,
        watch: None,
    }
}

/// A rectangle about a point given in mm.
pub(super) fn rect(at: [f64; 2], size: [f64; 2]) -> Outline {
    Outline::Rect {
        at: at.map(round2),
        size: size.map(round2),
        turn_deg: 0.0,
    }
}

fn round2(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}

/// The middle of the pins in mm.
pub(super) fn middle(pins: &[Grid]) -> [f64; 2] {
    let (mut low, mut high) = (pins[0], pins[0]);
    for &(x, y) in pins {
        low = (low.0.min(x), low.1.min(y));
        high = (high.0.max(x), high.1.max(y));
    }
    [
        f64::midpoint(mm(low.0), mm(high.0)),
        f64::midpoint(mm(low.1), mm(high.1)),
    ]
}

impl Part {
    pub(super) fn with_pins(mut self, pad: Pad, pins: &[Grid], nets: &[&str]) -> Self {
        for (index, &(x, y)) in pins.iter().enumerate() {
            let no = index + 1;
            let shape = if no == 1 && pins.len() > 3 && pad.shape != LandShape::Oval {
                LandShape::Rect
            } else {
                pad.shape
            };
            self.pins.push(Pin {
                uid: format!("{}-{no}", self.uid),
                no: no.to_string(),
                at: [mm(x), mm(y)],
                land: Land {
                    shape,
                    size: pad.size,
                },
                drill: Some(pad.drill),
                net: nets
                    .get(index)
                    .filter(|net| !net.is_empty())
                    .map(|net| (*net).to_owned()),
                watch: None,
            });
        }
        self
    }

    pub(super) fn zone(mut self, zone: Zone) -> Self {
        self.zone = zone;
        self
    }

    pub(super) fn watch(mut self, why: &str) -> Self {
        self.watch = Some(why.to_owned());
        self
    }

    pub(super) fn watch_pin(mut self, no: usize, why: &str) -> Self {
        if let Some(pin) = self.pins.get_mut(no - 1) {
            pin.watch = Some(why.to_owned());
        }
        self
    }
}

/// A package with two rows of pins, lying along x: pin 1 at the lower left, counted
/// counter-clockwise as seen from the component side.
pub(super) fn dip(
    reference: &str,
    value: &str,
    first: Grid,
    count: i32,
    rows: i32,
    nets: &[&str],
) -> Part {
    let half = count / 2;
    let mut pins: Vec<Grid> = (0..half).map(|i| (first.0 + i, first.1)).collect();
    pins.extend((0..half).rev().map(|i| (first.0 + i, first.1 + rows)));
    let body = [mm(half), mm(rows) - if rows > 4 { 1.5 } else { 1.1 }];
    part(reference, PartKind::Ic, value, rect(middle(&pins), body)).with_pins(
        oval(1.5, 2.1, 0.8),
        &pins,
        nets,
    )
}

/// A part with two leads: resistor, diode, link, film capacitor.
pub(super) fn two_lead(
    reference: &str,
    kind: PartKind,
    value: &str,
    pins: [Grid; 2],
    body: [f64; 2],
    nets: [&str; 2],
) -> Part {
    let upright = pins[0].0 == pins[1].0;
    let size = if upright { [body[1], body[0]] } else { body };
    let pad = match kind {
        PartKind::Link => round(1.8, 0.9),
        _ => round(1.9, 0.9),
    };
    part(reference, kind, value, rect(middle(&pins), size)).with_pins(pad, &pins, &nets)
}

/// A round electrolytic; pin 1 is the positive lead.
pub(super) fn can(
    reference: &str,
    value: &str,
    pins: [Grid; 2],
    diameter: f64,
    nets: [&str; 2],
) -> Part {
    let outline = Outline::Circle {
        at: middle(&pins).map(round2),
        diameter,
    };
    part(reference, PartKind::Electrolytic, value, outline)
        .with_pins(round(2.0, 0.9), &pins, &nets)
        .zone(Zone::Supply)
}

/// A screw hole without land; `at` in mm.
pub(super) fn hole(reference: &str, at: [f64; 2]) -> Part {
    let outline = Outline::Circle { at, diameter: 6.0 };
    part(reference, PartKind::Hardware, "screw hole 3.2 mm", outline)
}

/// A landmark.
pub(super) fn landmark(name: &str, at: [f64; 2], look_for: &str) -> Landmark {
    Landmark {
        name: name.to_owned(),
        at,
        look_for: look_for.to_owned(),
    }
}

/// A rail: limits are inclusive minimum and maximum in volts.
pub(super) fn rail(
    name: &str,
    at: &str,
    unloaded: [f64; 2],
    loaded: [f64; 2],
    cold_min_ohm: f64,
    ripple_max_mv_pp: f64,
) -> Rail {
    let limits = |[min, max]: [f64; 2]| Limits { min, max };
    Rail {
        name: name.to_owned(),
        at: at.to_owned(),
        return_at: "TP1.1".to_owned(),
        unloaded: limits(unloaded),
        loaded: limits(loaded),
        cold_min_ohm: Some(cold_min_ohm),
        ripple_max_mv_pp: Some(ripple_max_mv_pp),
        amperes_max: None,
    }
}

/// One expected quantity with its nominal value and limits.
pub(super) fn expect(quantity: Expect, nominal: f64, min: f64, max: f64) -> Extent {
    Extent {
        quantity,
        nominal: Some(nominal),
        min: Some(min),
        max: Some(max),
    }
}
