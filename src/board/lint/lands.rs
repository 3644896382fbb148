//! Lands and bodies: sizes that cannot be, and copper that overlaps.

use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree};

use super::{Finding, Kind, part_place, pin_place};
use crate::board::model::{BoardMap, LandShape, Outline, Part, PartKind, Pin, Side};

/// Lands nearer than this to each other's edge from inside still only touch, mm. A micrometre:
/// coordinates are written to that, so less is rounding.
const TOUCH_MM: f64 = 0.001;

/// Largest land that is believed, mm. A screw terminal's or heat sink's land is below 30.
const MAX_LAND_MM: f64 = 50.0;

/// Smallest land that is believed, mm: finer than any hand-soldered land, so more likely inches.
const MIN_LAND_MM: f64 = 0.1;

/// Largest hole of a pin that is believed, mm.
const MAX_DRILL_MM: f64 = 15.0;

/// Narrowest ring of copper round a hole that is believed, mm (IPC class 1 allows breakout in
/// places, from memory; a map drawn so is more likely a slip of the pen).
const MIN_RING_MM: f64 = 0.05;

/// Largest part body that is believed, mm.
const MAX_BODY_MM: f64 = 1_000.0;

/// Nearest pitch of a through-hole header or package that is believed, mm. The trade's pitches
/// are 2.54 and 2.00, rarely 1.27 and 1.00 (from memory); 0.1 means inches were written.
const MIN_PITCH_MM: f64 = 0.5;

/// Widest such pitch that is believed, mm: 100 means mils were written.
const MAX_PITCH_MM: f64 = 30.0;

pub(super) fn check(map: &BoardMap, findings: &mut Vec<Finding>) {
    pin_sizes(map, findings);
    doubtful_sizes(map, findings);
    bodies(map, findings);
    pitches(map, findings);
    overlaps(map, findings);
    bare_copies(map, findings);
}

/// Parts without pins (as a centroid file gives them) that stand at one place: lands cannot
/// show that one is a copy of the other.
fn bare_copies(map: &BoardMap, findings: &mut Vec<Finding>) {
    let mut kind = Kind::warning(findings, "parts at one place");
    let mut bare: Vec<(&Part, crate::geometry::BoardPoint)> = map
        .parts
        .iter()
        .filter(|part| part.pins.is_empty())
        .map(|part| (part, part.centre()))
        .collect();
    bare.sort_by(|(a, at), (b, bt)| {
        a.side
            .cmp(&b.side)
            .then(at.x.total_cmp(&bt.x))
            .then(at.y.total_cmp(&bt.y))
            .then_with(|| a.uid.cmp(&b.uid))
    });
    for pair in bare.windows(2) {
        let ((one, at), (other, bt)) = (pair[0], pair[1]);
        if one.side == other.side && (bt - at).length() <= TOUCH_MM {
            kind.add(
                part_place(other),
                format!("it stands at the place of {}", one.reference),
                "move one, or take the copy out",
            );
        }
    }
}

fn pins(map: &BoardMap) -> impl Iterator<Item = (&Part, &Pin)> {
    map.parts
        .iter()
        .flat_map(|part| part.pins.iter().map(move |pin| (part, pin)))
}

fn pin_sizes(map: &BoardMap, findings: &mut Vec<Finding>) {
    let mut kind = Kind::error(findings, "impossible sizes of lands and holes");
    for (part, pin) in pins(map) {
        let [w, h] = pin.land.size;
        if w <= 0.0 || h <= 0.0 {
            kind.add(
                pin_place(part, pin),
                format!("a land of {w} x {h} mm cannot be"),
                "give the width and height of the copper in mm, both above 0",
            );
        } else if w.max(h) > MAX_LAND_MM {
            kind.add(
                pin_place(part, pin),
                format!("a land of {w} x {h} mm is larger than any (at most {MAX_LAND_MM})"),
                "give it in mm; were mils meant?",
            );
        }
        let Some(drill) = pin.drill else { continue };
        if drill <= 0.0 || drill > MAX_DRILL_MM {
            kind.add(
                pin_place(part, pin),
                format!("a hole of {drill} mm cannot be (above 0, at most {MAX_DRILL_MM})"),
                "give the diameter in mm, or leave it out for a surface land",
            );
        } else if w > 0.0 && h > 0.0 && drill >= w.min(h) {
            kind.add(
                pin_place(part, pin),
                format!("the hole of {drill} mm leaves nothing of the land of {w} x {h} mm"),
                "a hole is narrower than its land: usually 0.8 to 1.1 in 1.6 to 1.7 mm",
            );
        }
    }
}

fn doubtful_sizes(map: &BoardMap, findings: &mut Vec<Finding>) {
    let mut kind = Kind::warning(findings, "doubtful sizes of lands and holes");
    for (part, pin) in pins(map) {
        let [w, h] = pin.land.size;
        let least = w.min(h);
        if least > 0.0 && least < MIN_LAND_MM {
            kind.add(
                pin_place(part, pin),
                format!("a land of {w} x {h} mm is very small"),
                "give it in mm; were inches meant?",
            );
        }
        if pin.land.shape == LandShape::Round && (w - h).abs() > TOUCH_MM {
            kind.add(
                pin_place(part, pin),
                format!("a round land of {w} x {h} mm is not round"),
                "write the diameter twice, or make it oval",
            );
        }
        if let Some(drill) = pin.drill
            && drill > 0.0
            && drill < least
            && (least - drill) / 2.0 < MIN_RING_MM
        {
            kind.add(
                pin_place(part, pin),
                format!("the hole of {drill} mm leaves a ring under {MIN_RING_MM} mm of the land"),
                "check both diameters",
            );
        }
    }
}

fn bodies(map: &BoardMap, findings: &mut Vec<Finding>) {
    let mut kind = Kind::error(findings, "impossible bodies");
    for part in &map.parts {
        let size = match &part.outline {
            Outline::Rect { size, .. } => *size,
            Outline::Circle { diameter, .. } => [*diameter; 2],
            Outline::Polygon { points } if points.len() < 3 => {
                kind.add(
                    part_place(part),
                    format!("a body of {} corners encloses nothing", points.len()),
                    "give at least three corners",
                );
                continue;
            }
            Outline::Polygon { .. } => {
                let bounds = part.outline.bounds();
                [bounds.width(), bounds.height()]
            }
        };
        if size[0] <= 0.0 || size[1] <= 0.0 || size[0].max(size[1]) > MAX_BODY_MM {
            kind.add(
                part_place(part),
                format!("a body of {} x {} mm cannot be", size[0], size[1]),
                format!("give it in mm, above 0 and at most {MAX_BODY_MM}"),
            );
        }
    }
}

fn pitches(map: &BoardMap, findings: &mut Vec<Finding>) {
    let mut kind = Kind::warning(findings, "pitches");
    for part in &map.parts {
        let regular = matches!(part.kind, PartKind::Header | PartKind::Ic);
        if !regular || part.pins.iter().any(|pin| pin.drill.is_none()) {
            continue;
        }
        let mut steps: Vec<f64> = part
            .pins
            .windows(2)
            .map(|pair| (pair[1].centre() - pair[0].centre()).length())
            .collect();
        steps.sort_by(f64::total_cmp);
        let Some(&pitch) = steps.get(steps.len() / 2) else {
            continue;
        };
        if !(MIN_PITCH_MM..=MAX_PITCH_MM).contains(&pitch) {
            kind.add(
                part_place(part),
                format!("its pins stand {pitch:.3} mm apart; 2.54 is usual"),
                "write coordinates in mm: 0.1 in = 100 mil = 2.54 mm",
            );
        }
    }
}

/// A land as a box of half extents `half` round `at`, its corners rounded by `round` mm.
#[derive(Debug, Clone, Copy)]
struct Copper {
    at: [f64; 2],
    half: [f64; 2],
    round: f64,
}

impl Copper {
    fn of(pin: &Pin) -> Self {
        let [w, h] = pin.land.size.map(|v| v.max(0.0) / 2.0);
        let round = match pin.land.shape {
            LandShape::Rect => 0.0,
            LandShape::Round | LandShape::Oval => w.min(h),
        };
        Self {
            at: pin.at,
            half: [w - round, h - round],
            round,
        }
    }

    fn envelope(&self) -> AABB<[f64; 2]> {
        let reach = self.half.map(|v| v + self.round);
        AABB::from_corners(
            [self.at[0] - reach[0], self.at[1] - reach[1]],
            [self.at[0] + reach[0], self.at[1] + reach[1]],
        )
    }

    /// Gap between two lands in mm; negative is how deep they overlap.
    fn gap(&self, other: &Self) -> f64 {
        let apart = |i: usize| (self.at[i] - other.at[i]).abs() - self.half[i] - other.half[i];
        let (x, y) = (apart(0), apart(1));
        let boxes = if x <= 0.0 && y <= 0.0 {
            x.max(y)
        } else {
            x.max(0.0).hypot(y.max(0.0))
        };
        boxes - self.round - other.round
    }
}

fn overlaps(map: &BoardMap, findings: &mut Vec<Finding>) {
    let mut kind = Kind::error(findings, "overlapping lands");
    let all: Vec<(&Part, &Pin, Copper)> = pins(map)
        .map(|(part, pin)| (part, pin, Copper::of(pin)))
        .collect();
    let mut told = std::collections::BTreeSet::new();
    for side in [Side::Component, Side::Solder] {
        let here = |i: &usize| all[*i].1.has_joint_on(all[*i].0.side, side);
        let tree = RTree::bulk_load(
            (0..all.len())
                .filter(here)
                .map(|i| GeomWithData::new(Rectangle::from_aabb(all[i].2.envelope()), i))
                .collect(),
        );
        for i in (0..all.len()).filter(here) {
            if kind.is_full() {
                return;
            }
            let (part, pin, copper) = &all[i];
            let mut under: Vec<usize> = tree
                .locate_in_envelope_intersecting(copper.envelope())
                .map(|found| found.data)
                .filter(|&j| j > i && copper.gap(&all[j].2) < -TOUCH_MM)
                .take(super::MAX_PER_KIND)
                .collect();
            under.sort_unstable();
            for j in under {
                if !told.insert((i, j)) {
                    continue;
                }
                let (other_part, other, other_copper) = &all[j];
                kind.add(
                    pin_place(other_part, other),
                    format!(
                        "its land overlaps that of {} by {:.3} mm",
                        pin_place(part, pin),
                        -copper.gap(other_copper)
                    ),
                    "move one, make one smaller, or take the copy out",
                );
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Copper;

    fn copper(at: [f64; 2], half: [f64; 2], round: f64) -> Copper {
        Copper { at, half, round }
    }

    #[test]
    fn gaps_of_each_pair_of_shapes() {
        let rect = |x, y| copper([x, y], [1.0, 1.0], 0.0);
        let round = |x, y| copper([x, y], [0.0, 0.0], 1.0);
        let oval = |x, y| copper([x, y], [1.0, 0.0], 1.0);
        let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-12, "{a} {b}");
        near(rect(0.0, 0.0).gap(&rect(2.0, 0.0)), 0.0);
        near(rect(0.0, 0.0).gap(&rect(1.5, 0.0)), -0.5);
        near(round(0.0, 0.0).gap(&round(3.0, 4.0)), 3.0);
        near(round(0.0, 0.0).gap(&round(0.0, 0.0)), -2.0);
        near(rect(0.0, 0.0).gap(&round(3.0, 0.0)), 1.0);
        // Corner to corner: the rounded one keeps clear where two rectangles would touch.
        near(rect(0.0, 0.0).gap(&round(2.0, 2.0)), 2f64.sqrt() - 1.0);
        near(oval(0.0, 0.0).gap(&oval(4.5, 0.0)), 0.5);
        near(oval(0.0, 0.0).gap(&oval(0.0, 2.0)), 0.0);
    }
}
