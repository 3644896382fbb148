//! What the imports that know pins read: pads, parts, and sightings of one pin joined.

use std::collections::BTreeMap;

use super::options::Question;
use crate::board::model::{Land, Outline, Side};

/// Two sightings of one pin nearer than this are the same place, mm. Ten micrometres is far
/// above the rounding of any format (0.0001 in = 2.5 micrometres) and far below any pitch.
const SAME_MM: f64 = 0.01;

/// What a file says of a pad's hole.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::board) enum Drill {
    /// A surface land.
    Surface,
    /// A hole of this diameter, mm.
    Of(f64),
    /// A hole; its diameter is not stated.
    Unstated,
    /// Nothing: asked where nothing else tells.
    NotSaid,
}

/// One sighting of a pin's pad.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::board) struct Pad {
    /// Reference of the part.
    pub(in crate::board) reference: String,
    /// Pin number or name.
    pub(in crate::board) no: String,
    /// Centre, mm, as seen from the component side.
    pub(in crate::board) at: [f64; 2],
    /// Its land, where a size is stated.
    pub(in crate::board) land: Option<Land>,
    /// Its hole.
    pub(in crate::board) drill: Drill,
    /// The outer sides on which it was seen: component, solder.
    pub(in crate::board) sides: [bool; 2],
    /// The side on which the part stands, where the pad itself tells.
    pub(in crate::board) stands_on: Option<Side>,
    /// Its net.
    pub(in crate::board) net: Option<String>,
    /// Where it is in the file, for messages: `line 12`.
    pub(in crate::board) place: String,
}

/// What a file says of a part beside its pads.
#[derive(Debug, Clone, Default, PartialEq)]
pub(in crate::board) struct Body {
    /// The side it stands on.
    pub(in crate::board) side: Option<Side>,
    /// Its outline.
    pub(in crate::board) outline: Option<Outline>,
    /// Value and package, in words.
    pub(in crate::board) value: String,
    /// Whether its pins are in holes, where that is said of the whole part.
    pub(in crate::board) through_hole: Option<bool>,
}

/// Everything that was read from the files of one board.
#[derive(Debug, Default)]
pub(in crate::board) struct Sources {
    /// Pads in the order of the file.
    pub(in crate::board) pads: Vec<Pad>,
    /// What is said of parts, by reference.
    pub(in crate::board) bodies: BTreeMap<String, Body>,
    /// Holes that belong to no pin: they become landmarks.
    pub(in crate::board) holes: Vec<([f64; 2], String)>,
    /// The board's edge, where it is given.
    pub(in crate::board) outline: Option<Vec<[f64; 2]>>,
    /// The origin of the data, in words.
    pub(in crate::board) origin: String,
    /// Questions that arose while reading.
    pub(in crate::board) questions: Vec<Question>,
    /// What was read.
    pub(in crate::board) read: Vec<String>,
    /// What was left out.
    pub(in crate::board) left_out: Vec<String>,
    /// What was assumed.
    pub(in crate::board) assumed: Vec<String>,
}

/// Joins sightings of one pin at one place: on both sides it is in a hole, unless both say that
/// they are surface lands.
pub(super) fn merged(pads: Vec<Pad>, through_hole: Option<bool>) -> Vec<Pad> {
    let mut kept: Vec<Pad> = Vec::with_capacity(pads.len());
    let mut by_number: BTreeMap<String, Vec<usize>> = BTreeMap::new();
    for pad in pads {
        let slots = by_number.entry(pad.no.to_lowercase()).or_default();
        let same = slots
            .iter()
            .copied()
            .take(MAX_COMPARED)
            .find(|&i| is_same(&kept[i], &pad));
        match same {
            Some(i) => join(&mut kept[i], pad),
            None => {
                slots.push(kept.len());
                kept.push(pad);
            }
        }
    }
    for pad in &mut kept {
        if pad.drill == Drill::NotSaid {
            pad.drill = match (pad.sides, through_hole) {
                ([true, true], _) | (_, Some(true)) => Drill::Unstated,
                (_, Some(false)) => Drill::Surface,
                (_, None) => Drill::NotSaid,
            };
        }
    }
    kept
}

/// Places of one pin number that a further one is compared with: more would let a file with
/// thousands of them take the square of the time.
const MAX_COMPARED: usize = 64;

fn is_same(a: &Pad, b: &Pad) -> bool {
    let near = (0..2).all(|i| (a.at[i] - b.at[i]).abs() <= SAME_MM);
    let both_surface = a.drill == Drill::Surface && b.drill == Drill::Surface;
    near && !(both_surface && a.sides != b.sides)
}

fn join(kept: &mut Pad, other: Pad) {
    // The solder side's land is the one whose joint is looked at.
    if kept.land.is_none() || (other.sides[1] && !kept.sides[1] && other.land.is_some()) {
        kept.land = other.land;
    }
    kept.sides = [0, 1].map(|i| kept.sides[i] || other.sides[i]);
    kept.drill = match (kept.drill, other.drill) {
        (Drill::Of(hole), _) | (_, Drill::Of(hole)) => Drill::Of(hole),
        (Drill::Unstated, _) | (_, Drill::Unstated) => Drill::Unstated,
        (Drill::NotSaid, drill) | (drill, Drill::NotSaid) => drill,
        (Drill::Surface, Drill::Surface) => Drill::Surface,
    };
    kept.stands_on = kept.stands_on.or(other.stands_on);
    if kept.net.is_none() {
        kept.net = other.net;
    }
}
