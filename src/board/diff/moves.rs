//! How far parts and pins moved between two maps.

use std::collections::BTreeMap;

use crate::board::model::{BoardMap, Outline, Part};
use crate::geometry::{BoardPoint, BoardVector};

/// Moves below this are rounding, mm: a micrometre, to which coordinates are written.
pub(super) const MOVED_MM: f64 = 0.001;

pub(super) fn by_key<'a, T>(
    items: &'a [T],
    key: impl Fn(&'a T) -> &'a str,
) -> BTreeMap<&'a str, &'a T> {
    let mut map = BTreeMap::new();
    for item in items {
        // The first of a repeated key: the linter names the others.
        map.entry(key(item)).or_insert(item);
    }
    map
}

/// The move that at least nine tenths of the pins with the same uid made alike: a new origin.
/// Zero where there is none.
pub(super) fn common_shift(old: &BoardMap, new: &BoardMap) -> BoardVector {
    const SHARE: f64 = 0.9;
    let places = |map: &BoardMap| -> BTreeMap<String, BoardPoint> {
        map.parts
            .iter()
            .flat_map(|part| part.pins.iter())
            .map(|pin| (pin.uid.clone(), pin.centre()))
            .collect()
    };
    let (before, after) = (places(old), places(new));
    let moves: Vec<BoardVector> = before
        .iter()
        .filter_map(|(uid, at)| after.get(uid).map(|now| *now - *at))
        .collect();
    let Some(shift) = middle(&moves) else {
        return BoardVector::zero();
    };
    let alike = moves
        .iter()
        .filter(|m| (**m - shift).length() <= MOVED_MM)
        .count();
    if moves.len() >= 2 && alike as f64 >= SHARE * moves.len() as f64 {
        shift
    } else {
        BoardVector::zero()
    }
}

/// How a part moved: as most of its pins, or as its body where it has none.
pub(super) fn part_shift(old: &Part, new: &Part) -> BoardVector {
    let after = by_key(&new.pins, |pin| pin.uid.as_str());
    let moves: Vec<BoardVector> = old
        .pins
        .iter()
        .filter_map(|pin| {
            after
                .get(pin.uid.as_str())
                .map(|now| now.centre() - pin.centre())
        })
        .collect();
    middle(&moves).unwrap_or_else(|| new.outline.centre() - old.outline.centre())
}

/// The median of moves, axis by axis.
pub(super) fn middle(moves: &[BoardVector]) -> Option<BoardVector> {
    let axis = |of: fn(&BoardVector) -> f64| {
        let mut values: Vec<f64> = moves.iter().map(of).collect();
        values.sort_by(f64::total_cmp);
        values.get(values.len().saturating_sub(1) / 2).copied()
    };
    Some(BoardVector::new(axis(|m| m.x)?, axis(|m| m.y)?))
}

pub(super) fn same_body(old: &Outline, new: &Outline, moved: BoardVector) -> bool {
    let (a, b) = (old.corners(), new.corners());
    std::mem::discriminant(old) == std::mem::discriminant(new)
        && a.len() == b.len()
        && a.iter()
            .zip(&b)
            .all(|(a, b)| (*b - (*a + moved)).length() <= MOVED_MM)
}

pub(super) fn point(at: [f64; 2]) -> BoardPoint {
    BoardPoint::new(at[0], at[1])
}
