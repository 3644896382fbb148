//! How much of the boards somebody has judged, and how closely it was looked at.

use std::collections::BTreeMap;

use crate::board::{BoardMap, Part, Pin, Side, Zone};
use crate::stats::median;

use super::event::JointKey;
use super::state::{Look, PlaceKey, PlaceState, State};

/// Counts of joints. `judged + unseen + cannot_be_judged == total`.
#[derive(Debug, Clone, PartialEq, Default, serde::Serialize)]
pub struct Covered {
    /// All joints.
    pub total: usize,
    /// Judged, at a scale that counts.
    pub judged: usize,
    /// Not judged, or looked at from too far away.
    pub unseen: usize,
    /// Somebody said that something is in the way.
    pub cannot_be_judged: usize,
    /// Those of `unseen` that were judged, but below the scale that counts.
    pub too_coarse: usize,
    /// Median scale of the looks at photos that count, px/mm; absent where there was none.
    pub px_per_mm: Option<f64>,
}

impl Covered {
    /// Share of joints judged, 0..=1. `None` where there are no joints: no data, not all.
    #[must_use]
    pub fn share(&self) -> Option<f64> {
        (self.total > 0).then(|| self.judged as f64 / self.total as f64)
    }
}

/// Coverage of one part.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct PartCoverage {
    /// The part's uid.
    pub uid: String,
    /// Its reference.
    pub reference: String,
    /// Its zone.
    pub zone: Zone,
    /// Its joints, each on the side where it is soldered.
    pub covered: Covered,
}

/// Coverage of one board.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct BoardCoverage {
    /// Board name.
    pub board: String,
    /// Every joint on the side where it is soldered.
    pub all: Covered,
    /// By side. A pin in a hole is counted on its far side as well once it is judged there, so
    /// the sides may add up to more than `all`.
    pub sides: BTreeMap<Side, Covered>,
    /// By zone, each joint on the side where it is soldered.
    pub zones: BTreeMap<Zone, Covered>,
    /// By part, in the order of the map.
    pub parts: Vec<PartCoverage>,
}

/// How one joint counts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Standing {
    /// Somebody looked closely enough and said what was seen.
    Judged(Look),
    /// Judged, below the scale that the shop demands.
    TooCoarse,
    /// Somebody said that something is in the way.
    CannotBeJudged,
    /// Nobody has judged it.
    Unseen,
}

/// The joint of a pin on the side where it is soldered: behind the part (as a rule the solder
/// side) for a pin in a hole, the part's own side for a surface land.
#[must_use]
pub fn joint_of(board: &str, part: &Part, pin: &Pin) -> JointKey {
    let side = match (pin.drill.is_some(), part.side) {
        (true, Side::Component) | (false, Side::Solder) => Side::Solder,
        (true, Side::Solder) | (false, Side::Component) => Side::Component,
    };
    JointKey {
        board: board.to_owned(),
        pin: pin.uid.clone(),
        side,
    }
}

/// Every joint of a map on the side where it is soldered, with its part and pin.
pub fn joints(map: &BoardMap) -> impl Iterator<Item = (&Part, &Pin, JointKey)> {
    map.parts.iter().flat_map(move |part| {
        part.pins
            .iter()
            .map(move |pin| (part, pin, joint_of(&map.board, part, pin)))
    })
}

/// Coverage of each board. Only judgements of joints count: a look at a whole part or area is
/// not a look at its joints.
#[must_use]
pub fn coverage(state: &State, maps: &[BoardMap]) -> Vec<BoardCoverage> {
    maps.iter().map(|map| of_board(state, map)).collect()
}

fn of_board(state: &State, map: &BoardMap) -> BoardCoverage {
    let mut all = Tally::default();
    let mut sides = BTreeMap::from([
        (Side::Component, Tally::default()),
        (Side::Solder, Tally::default()),
    ]);
    let mut zones: BTreeMap<Zone, Tally> = BTreeMap::new();
    let mut parts = Vec::new();
    for part in &map.parts {
        let mut tally = Tally::default();
        for pin in &part.pins {
            let joint = joint_of(&map.board, part, pin);
            let standing = standing(state, &joint);
            tally.add(standing);
            all.add(standing);
            zones.entry(part.zone).or_default().add(standing);
            sides.entry(joint.side).or_default().add(standing);
            if let Some((far, standing)) = far_side(state, pin, joint) {
                sides.entry(far).or_default().add(standing);
            }
        }
        parts.push(PartCoverage {
            uid: part.uid.clone(),
            reference: part.reference.clone(),
            zone: part.zone,
            covered: tally.done(),
        });
    }
    BoardCoverage {
        board: map.board.clone(),
        all: all.done(),
        sides: sides
            .into_iter()
            .map(|(side, tally)| (side, tally.done()))
            .collect(),
        zones: zones
            .into_iter()
            .map(|(zone, tally)| (zone, tally.done()))
            .collect(),
        parts,
    }
}

/// What the shop demands of coverage and how far it is met, in one sentence or two: a demand that
/// was lowered has to show beside what the gate says.
#[must_use]
pub fn demand_words(state: &State, maps: &[BoardMap]) -> String {
    let demand = state.demand();
    let (mut near, mut all) = ([0; 2], [0; 2]);
    for map in maps
        .iter()
        .filter(|map| state.maps.contains_key(&map.board))
    {
        for (part, _, joint) in joints(map) {
            let judged = usize::from(matches!(standing(state, &joint), Standing::Judged(_)));
            if part.zone != Zone::Load {
                near = [near[0] + judged, near[1] + 1];
            }
            all = [all[0] + judged, all[1] + 1];
        }
    }
    let scale = if demand.least_px_per_mm > 0.0 {
        format!(
            " A look at a photo counts from {} px/mm on.",
            demand.least_px_per_mm
        )
    } else {
        String::new()
    };
    format!(
        "The shop asks for {} % of the safety and supply joints before first power ({} of {} looked \
         at) and {} % of all joints before closing up ({} of {}).{scale}",
        percent(demand.before_power),
        near[0],
        near[1],
        percent(demand.before_closing),
        all[0],
        all[1]
    )
}

/// To a tenth, without a needless one.
fn percent(share: f64) -> f64 {
    (share * 1000.0).round() / 10.0
}

/// The far side of a pin in a hole, where somebody judged it.
fn far_side(state: &State, pin: &Pin, mut joint: JointKey) -> Option<(Side, Standing)> {
    pin.drill?;
    joint.side = match joint.side {
        Side::Component => Side::Solder,
        Side::Solder => Side::Component,
    };
    match standing(state, &joint) {
        Standing::Unseen => None,
        standing => Some((joint.side, standing)),
    }
}

/// How a joint counts under the shop's demand.
#[must_use]
pub fn standing(state: &State, joint: &JointKey) -> Standing {
    let least = state.demand().least_px_per_mm;
    let least = if least.is_nan() { f64::INFINITY } else { least };
    state
        .places
        .get(&PlaceKey::Joint(joint.clone()))
        .map_or(Standing::Unseen, |place| of_place(place, least))
}

fn of_place(place: &PlaceState, least_px_per_mm: f64) -> Standing {
    if place.cannot_be_judged {
        Standing::CannotBeJudged
    } else if place.look.counts(least_px_per_mm) {
        Standing::Judged(place.look)
    } else {
        Standing::TooCoarse
    }
}

#[derive(Default)]
struct Tally {
    covered: Covered,
    scales: Vec<f64>,
}

impl Tally {
    fn add(&mut self, standing: Standing) {
        self.covered.total += 1;
        match standing {
            Standing::Judged(look) => {
                self.covered.judged += 1;
                self.scales.extend(look.px_per_mm());
            }
            Standing::TooCoarse => {
                self.covered.unseen += 1;
                self.covered.too_coarse += 1;
            }
            Standing::CannotBeJudged => self.covered.cannot_be_judged += 1,
            Standing::Unseen => self.covered.unseen += 1,
        }
    }

    fn done(mut self) -> Covered {
        self.covered.px_per_mm = median(&self.scales);
        self.covered
    }
}
