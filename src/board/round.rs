//! The walking order of a round: weak spots first, then part by part across the board.

use super::joints::Joint;
use super::model::{BoardMap, Part, Side};

/// Height of one row of the walk, mm. About the height of what fits under a bench magnifier at
/// once: less makes the eye hop, more makes it sweep up and down within a row.
const ROW_MM: f64 = 20.0;

/// Every joint of `side` in walking order.
///
/// Weak spots come first: the joints that are noted themselves (`watch` of the pin), then those of
/// parts that are (`watch` of the part). Within each of the three groups the walk goes part by
/// part in rows of 20 mm, top to bottom as the side is seen, snake-wise (left to right, then
/// back), and through the pins of one part in electrical order.
/// Pins in holes are listed on both sides; [`Joint::is_soldered_side`] tells where they are
/// soldered.
#[must_use]
pub fn round_order(map: &BoardMap, side: Side) -> Vec<Joint<'_>> {
    let parts = walk(map, side);
    let mut joints: Vec<Joint<'_>> = parts
        .into_iter()
        .flat_map(|part| {
            part.pins
                .iter()
                .filter(move |pin| pin.has_joint_on(part.side, side))
                .map(move |pin| Joint { part, pin, side })
        })
        .collect();
    // Stable: the walk holds within each group.
    joints.sort_by_key(|joint| (joint.pin.watch.is_none(), joint.part.watch.is_none()));
    joints
}

/// The parts in walking order.
fn walk(map: &BoardMap, side: Side) -> Vec<&Part> {
    let at = |part: &Part| {
        let centre = part.centre();
        match side {
            Side::Component => (centre.x, centre.y),
            // Turned over about its upright axis: what was on the right is now on the left.
            Side::Solder => (-centre.x, centre.y),
        }
    };
    let top = map
        .parts
        .iter()
        .map(|part| at(part).1)
        .fold(f64::NEG_INFINITY, f64::max);
    let mut keyed: Vec<(i64, f64, usize)> = map
        .parts
        .iter()
        .enumerate()
        .map(|(i, part)| {
            let (x, y) = at(part);
            let row = ((top - y) / ROW_MM).floor() as i64;
            (row, if row % 2 == 0 { x } else { -x }, i)
        })
        .collect();
    keyed.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)).then(a.2.cmp(&b.2)));
    keyed.into_iter().map(|(_, _, i)| &map.parts[i]).collect()
}
