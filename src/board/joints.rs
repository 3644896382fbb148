//! Joints of a map: which sides a pin has one on, what they are called, where they are, and in
//! which order a person walks through them.

use std::collections::BTreeMap;

use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree};

use super::address::Address;
use super::model::{BoardMap, Outline, Part, Pin, Side};
use super::polygon;
use crate::geometry::{BoardBox, BoardPoint};

impl Pin {
    /// Whether the pin has a joint on `side`, its part standing on `part_side`: a pin in a hole
    /// has one on both sides, a surface land on the part's side alone.
    #[must_use]
    pub fn has_joint_on(&self, part_side: Side, side: Side) -> bool {
        self.drill.is_some() || side == part_side
    }

    /// The side that is meant where none is said: behind the part for a pin in a hole (the
    /// solder side, as a rule), the part's own side for a surface land.
    #[must_use]
    pub fn soldered_side(&self, part_side: Side) -> Side {
        if self.drill.is_some() {
            part_side.opposite()
        } else {
            part_side
        }
    }
}

impl BoardMap {
    /// The part with this uid.
    #[must_use]
    pub fn part(&self, uid: &str) -> Option<&Part> {
        self.parts.iter().find(|part| part.uid == uid)
    }

    /// The part with this reference, without regard to case.
    #[must_use]
    pub fn part_by_reference(&self, reference: &str) -> Option<&Part> {
        let reference = reference.to_lowercase();
        self.parts
            .iter()
            .find(|part| part.reference.to_lowercase() == reference)
    }

    /// Every joint of `side`, in the map's order. Pins in holes are on both sides; see
    /// [`Joint::is_soldered_side`].
    pub fn joints(&self, side: Side) -> impl Iterator<Item = Joint<'_>> {
        self.parts.iter().flat_map(move |part| {
            part.pins
                .iter()
                .filter(move |pin| pin.has_joint_on(part.side, side))
                .map(move |pin| Joint { part, pin, side })
        })
    }

    /// The pin with this uid, and its part.
    #[must_use]
    pub fn pin(&self, uid: &str) -> Option<(&Part, &Pin)> {
        self.parts
            .iter()
            .flat_map(|part| part.pins.iter().map(move |pin| (part, pin)))
            .find(|(_, pin)| pin.uid == uid)
    }
}

/// What people call a joint: `J4.3`, with the side where it is not the one that is meant when
/// none is said (`J4.3/component`). `None` where no pin has this uid. Looks through the whole
/// map; with many joints at hand use [`Joint::label`].
#[must_use]
pub fn label(map: &BoardMap, pin_uid: &str, side: Side) -> Option<String> {
    let (part, pin) = map.pin(pin_uid)?;
    Some(Joint { part, pin, side }.label())
}

/// The whole address of a joint: `main:J4.3/solder`. `None` where no pin has this uid.
#[must_use]
pub fn full_address(map: &BoardMap, pin_uid: &str, side: Side) -> Option<String> {
    let (part, pin) = map.pin(pin_uid)?;
    let address = Address {
        board: Some(map.board.clone()),
        part: part.reference.clone(),
        pin: Some(pin.no.clone()),
        side: Some(side),
    };
    Some(address.to_string())
}

/// One joint of a map.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Joint<'a> {
    /// Its part.
    pub part: &'a Part,
    /// Its pin.
    pub pin: &'a Pin,
    /// The side.
    pub side: Side,
}

impl Joint<'_> {
    /// What people call it: `J4.3`, or `J4.3/component` where the side needs saying.
    #[must_use]
    pub fn label(&self) -> String {
        let address = Address {
            board: None,
            part: self.part.reference.clone(),
            pin: Some(self.pin.no.clone()),
            side: Some(self.side).filter(|_| !self.is_soldered_side()),
        };
        address.to_string()
    }

    /// Centre of its land, board mm.
    #[must_use]
    pub fn centre(&self) -> BoardPoint {
        self.pin.centre()
    }

    /// Whether the map calls it, or its part, a weak spot.
    #[must_use]
    pub fn is_watched(&self) -> bool {
        self.pin.watch.is_some() || self.part.watch.is_some()
    }

    /// Whether this is the side that is meant where none is said.
    #[must_use]
    pub fn is_soldered_side(&self) -> bool {
        self.side == self.pin.soldered_side(self.part.side)
    }
}

/// A joint by its places in `parts` and `pins`.
type Slot = (u32, u32);

type Points = RTree<GeomWithData<[f64; 2], Slot>>;

/// Finds joints by place or uid in time that grows with the logarithm of their number. Built
/// once per map; borrows it.
#[derive(Debug)]
pub struct MapIndex<'a> {
    map: &'a BoardMap,
    component: Points,
    solder: Points,
    bodies: RTree<GeomWithData<Rectangle<[f64; 2]>, usize>>,
    by_uid: BTreeMap<&'a str, Slot>,
}

impl<'a> MapIndex<'a> {
    /// Builds the index.
    #[must_use]
    pub fn new(map: &'a BoardMap) -> Self {
        let tree = |side| {
            let points = slots(map)
                .filter(|(part, pin, _)| pin.has_joint_on(part.side, side))
                .map(|(_, pin, slot)| GeomWithData::new(pin.at, slot))
                .collect();
            RTree::bulk_load(points)
        };
        let body = |(i, part): (usize, &Part)| {
            let bounds = part.outline.bounds();
            let (min, max) = (bounds.min.to_array(), bounds.max.to_array());
            GeomWithData::new(Rectangle::from_corners(min, max), i)
        };
        let mut by_uid = BTreeMap::new();
        for (_, pin, slot) in slots(map) {
            by_uid.entry(pin.uid.as_str()).or_insert(slot);
        }
        Self {
            map,
            component: tree(Side::Component),
            solder: tree(Side::Solder),
            bodies: RTree::bulk_load(map.parts.iter().enumerate().map(body).collect()),
            by_uid,
        }
    }

    /// The map that it indexes.
    #[must_use]
    pub fn map(&self) -> &'a BoardMap {
        self.map
    }

    /// The part and pin with this pin uid; the first where the map repeats it.
    #[must_use]
    pub fn pin(&self, uid: &str) -> Option<(&'a Part, &'a Pin)> {
        let &(part, pin) = self.by_uid.get(uid)?;
        let part = &self.map.parts[part as usize];
        Some((part, &part.pins[pin as usize]))
    }

    /// The joint on `side` whose centre is nearest to `point` (board mm), if it is at most
    /// `within_mm` away; the first of the map among equally near ones.
    #[must_use]
    pub fn nearest_joint(
        &self,
        point: BoardPoint,
        side: Side,
        within_mm: f64,
    ) -> Option<Joint<'a>> {
        let at = finite(point)?;
        let tree = self.tree(side);
        let (nearest, square) = tree.nearest_neighbor_iter_with_distance_2(at).next()?;
        let slot = tree
            .nearest_neighbor_iter_with_distance_2(at)
            .take_while(|(_, other)| *other <= square)
            .take(MAX_TIED)
            .map(|(point, _)| point.data)
            .min()
            .unwrap_or(nearest.data);
        (square <= within_mm * within_mm).then(|| self.joint(slot, side))
    }

    /// The joints on `side` whose centres lie in `area` (board mm), in the map's order.
    #[must_use]
    pub fn joints_in(&self, area: BoardBox, side: Side) -> Vec<Joint<'a>> {
        let (Some(min), Some(max)) = (finite(area.min), finite(area.max)) else {
            return Vec::new();
        };
        let mut slots: Vec<Slot> = self
            .tree(side)
            .locate_in_envelope(AABB::from_corners(min, max))
            .map(|point| point.data)
            .collect();
        slots.sort_unstable();
        slots
            .into_iter()
            .map(|slot| self.joint(slot, side))
            .collect()
    }

    /// The part on `side` whose body covers `point` (board mm); the smallest where several do.
    #[must_use]
    pub fn part_at(&self, point: BoardPoint, side: Side) -> Option<&'a Part> {
        let at = finite(point)?;
        self.bodies
            .locate_all_at_point(at)
            .map(|body| &self.map.parts[body.data])
            .filter(|part| part.side == side && covers(&part.outline, point))
            .min_by(|a, b| {
                let area = |part: &Part| part.outline.bounds().area();
                area(a).total_cmp(&area(b)).then_with(|| a.uid.cmp(&b.uid))
            })
    }

    fn tree(&self, side: Side) -> &Points {
        match side {
            Side::Component => &self.component,
            Side::Solder => &self.solder,
        }
    }

    fn joint(&self, (part, pin): Slot, side: Side) -> Joint<'a> {
        let part = &self.map.parts[part as usize];
        Joint {
            part,
            pin: &part.pins[pin as usize],
            side,
        }
    }
}

fn covers(outline: &Outline, point: BoardPoint) -> bool {
    if let Outline::Circle { diameter, .. } = outline {
        return (point - outline.centre()).length() <= diameter / 2.0;
    }
    let corners: Vec<[f64; 2]> = outline.corners().iter().map(|c| c.to_array()).collect();
    polygon::contains(&corners, point, 0.0)
}

/// How many joints at the very same distance are weighed against each other, so that a map
/// with thousands of pins on one spot cannot make a click slow.
const MAX_TIED: usize = 16;

fn finite(point: BoardPoint) -> Option<[f64; 2]> {
    (point.x.is_finite() && point.y.is_finite()).then_some([point.x, point.y])
}

fn slots(map: &BoardMap) -> impl Iterator<Item = (&Part, &Pin, Slot)> {
    map.parts.iter().zip(0u32..).flat_map(|(part, i)| {
        part.pins
            .iter()
            .zip(0u32..)
            .map(move |(pin, j)| (part, pin, (i, j)))
    })
}
