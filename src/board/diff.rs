//! How two revisions of a map differ, in words that a person can check against the board.

use std::collections::BTreeMap;
use std::fmt;

use super::lint::natural_key;
use super::model::{BoardMap, Extent, Limits, Outline, Part, Pin, TestPoint};
use crate::geometry::{BoardPoint, BoardVector};

/// Moves below this are rounding, mm: a micrometre, to which coordinates are written.
const MOVED_MM: f64 = 0.001;

/// One difference between two maps.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct MapChange {
    /// Where, by the new map's names: `part J4, pin 3`.
    pub place: String,
    /// What, for example `moved by 0.42 mm`.
    pub words: String,
    /// Whether a joint came, went or moved: an old alignment or judgement may not fit.
    pub touches_joints: bool,
}

impl fmt::Display for MapChange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.place, self.words)
    }
}

/// Every difference from `old` to `new`: the whole map first, then places in order (J4 before
/// J10). Parts and pins are the same where their uid is; landmarks, rails and test points where
/// their name is. Empty where the maps say the same.
#[must_use]
pub fn map_diff(old: &BoardMap, new: &BoardMap) -> Vec<MapChange> {
    let mut diff = Diff {
        changes: Vec::new(),
    };
    let shift = diff.whole(old, new);
    let whole = diff.changes.len();
    diff.parts(old, new, shift);
    diff.landmarks(old, new, shift);
    diff.rails(old, new);
    diff.test_points(old, new);
    diff.changes[whole..].sort_by_cached_key(|change| natural_key(&change.place));
    diff.changes
}

struct Diff {
    changes: Vec<MapChange>,
}

impl Diff {
    fn add(&mut self, place: impl Into<String>, words: impl Into<String>) {
        self.changes.push(MapChange {
            place: place.into(),
            words: words.into(),
            touches_joints: false,
        });
    }

    fn add_joint(&mut self, place: impl Into<String>, words: impl Into<String>) {
        self.changes.push(MapChange {
            place: place.into(),
            words: words.into(),
            touches_joints: true,
        });
    }

    /// A change of a text or number; nothing where both are equal.
    fn value<T: PartialEq + fmt::Display>(&mut self, place: &str, what: &str, old: &T, new: &T) {
        if old != new {
            let show = |v: &T| match v.to_string() {
                empty if empty.is_empty() => "nothing".to_owned(),
                text => text,
            };
            self.add(place, format!("{what} was {}, is {}", show(old), show(new)));
        }
    }

    /// The whole map. Returns the move that every pin made alike, where there is one.
    fn whole(&mut self, old: &BoardMap, new: &BoardMap) -> BoardVector {
        let place = "whole map";
        self.value(place, "model", &old.model, &new.model);
        self.value(place, "board", &old.board, &new.board);
        self.value(place, "title", &old.title, &new.title);
        let revision = |map: &BoardMap| map.revision.clone().unwrap_or_default();
        self.value(place, "revision", &revision(old), &revision(new));
        self.value(place, "origin of the data", &old.origin, &new.origin);
        let shift = common_shift(old, new);
        if shift.length() > MOVED_MM {
            self.add_joint(
                place,
                format!(
                    "all that stayed moved by {} mm in x and {} mm in y",
                    short(shift.x),
                    short(shift.y)
                ),
            );
        }
        let moved: Vec<BoardPoint> = old.outline.iter().map(|p| point(*p) + shift).collect();
        let same = moved.len() == new.outline.len()
            && moved
                .iter()
                .zip(&new.outline)
                .all(|(a, b)| (point(*b) - *a).length() <= MOVED_MM);
        if !same {
            let size = |map: &BoardMap| {
                let bounds = map.bounds();
                format!(
                    "{} x {} mm with {} corners",
                    short(bounds.width()),
                    short(bounds.height()),
                    map.outline.len()
                )
            };
            self.add(
                "board outline",
                format!("was {}, is {}", size(old), size(new)),
            );
        }
        shift
    }

    fn parts(&mut self, old: &BoardMap, new: &BoardMap, shift: BoardVector) {
        let before = by_key(&old.parts, |part| part.uid.as_str());
        let after = by_key(&new.parts, |part| part.uid.as_str());
        for (uid, part) in &before {
            if !after.contains_key(uid) {
                self.add_joint(part_place(part), format!("removed, with {}", pins_of(part)));
            }
        }
        for (uid, part) in &after {
            match before.get(uid) {
                None => self.add_joint(part_place(part), format!("added, with {}", pins_of(part))),
                Some(earlier) => self.part(earlier, part, shift),
            }
        }
    }

    fn part(&mut self, old: &Part, new: &Part, shift: BoardVector) {
        let place = part_place(new);
        if old.reference != new.reference {
            self.add(&place, format!("renamed from {}", old.reference));
        }
        self.value(&place, "kind", &words_of(&old.kind), &words_of(&new.kind));
        self.value(&place, "value", &old.value, &new.value);
        self.value(&place, "zone", &words_of(&old.zone), &words_of(&new.zone));
        self.watch(&place, old.watch.as_ref(), new.watch.as_ref());
        if old.side != new.side {
            let words = format!("side was {}, is {}", old.side, new.side);
            self.add_joint(&place, words);
        }
        // Pins that moved with their part are told once.
        let moved = part_shift(old, new);
        let own = moved - shift;
        if own.length() > MOVED_MM {
            self.add_joint(&place, format!("moved by {} mm", short(own.length())));
        }
        if !same_body(&old.outline, &new.outline, moved) {
            self.add(&place, "its body is drawn otherwise");
        }
        let before = by_key(&old.pins, |pin| pin.uid.as_str());
        let after = by_key(&new.pins, |pin| pin.uid.as_str());
        for (uid, pin) in &before {
            if !after.contains_key(uid) {
                self.add_joint(format!("{place}, pin {}", pin.no), "removed");
            }
        }
        for (uid, pin) in &after {
            match before.get(uid) {
                None => self.add_joint(format!("{place}, pin {}", pin.no), "added"),
                Some(earlier) => self.pin(&place, earlier, pin, moved),
            }
        }
    }

    fn pin(&mut self, part: &str, old: &Pin, new: &Pin, shift: BoardVector) {
        let place = format!("{part}, pin {}", new.no);
        if old.no != new.no {
            self.add(&place, format!("renumbered from {}", old.no));
        }
        let moved = (new.centre() - old.centre() - shift).length();
        if moved > MOVED_MM {
            self.add_joint(&place, format!("moved by {} mm", short(moved)));
        }
        let land = |pin: &Pin| {
            let [w, h] = pin.land.size;
            format!(
                "{} {} x {} mm",
                words_of(&pin.land.shape),
                short(w),
                short(h)
            )
        };
        self.value(&place, "land", &land(old), &land(new));
        let hole = |pin: &Pin| {
            pin.drill
                .map_or("none".to_owned(), |hole| format!("{} mm", short(hole)))
        };
        if old.drill.is_some() != new.drill.is_some() {
            let words = format!("hole was {}, is {}", hole(old), hole(new));
            self.add_joint(&place, words);
        } else {
            self.value(&place, "hole", &hole(old), &hole(new));
        }
        let net = |pin: &Pin| pin.net.clone().unwrap_or_default();
        self.value(&place, "net", &net(old), &net(new));
        self.watch(&place, old.watch.as_ref(), new.watch.as_ref());
    }

    fn watch(&mut self, place: &str, old: Option<&String>, new: Option<&String>) {
        match (old, new) {
            (None, Some(why)) => self.add(place, format!("is a weak spot now: {why}")),
            (Some(why), None) => self.add(place, format!("is no weak spot any more (was: {why})")),
            (Some(a), Some(b)) if a != b => {
                self.add(place, format!("weak spot: was `{a}`, is `{b}`"));
            }
            _ => {}
        }
    }

    fn landmarks(&mut self, old: &BoardMap, new: &BoardMap, shift: BoardVector) {
        self.named(
            "landmark",
            &old.landmarks,
            &new.landmarks,
            |l| &l.name,
            |diff, place, a, b| {
                let moved = (point(b.at) - point(a.at) - shift).length();
                if moved > MOVED_MM {
                    diff.add_joint(place, format!("moved by {} mm", short(moved)));
                }
                diff.value(place, "what to look for", &a.look_for, &b.look_for);
            },
        );
    }

    fn rails(&mut self, old: &BoardMap, new: &BoardMap) {
        self.named(
            "rail",
            &old.rails,
            &new.rails,
            |r| &r.name,
            |diff, place, a, b| {
                diff.value(place, "probe", &a.at, &b.at);
                diff.value(place, "return", &a.return_at, &b.return_at);
                diff.value(place, "unloaded", &limits(a.unloaded), &limits(b.unloaded));
                diff.value(place, "loaded", &limits(a.loaded), &limits(b.loaded));
                let ohm = |v: Option<f64>| v.map_or(String::new(), |v| format!("{v} ohm"));
                diff.value(
                    place,
                    "least cold resistance",
                    &ohm(a.cold_min_ohm),
                    &ohm(b.cold_min_ohm),
                );
                let mv = |v: Option<f64>| v.map_or(String::new(), |v| format!("{v} mV p-p"));
                diff.value(
                    place,
                    "greatest ripple",
                    &mv(a.ripple_max_mv_pp),
                    &mv(b.ripple_max_mv_pp),
                );
            },
        );
    }

    fn test_points(&mut self, old: &BoardMap, new: &BoardMap) {
        self.named(
            "test point",
            &old.test_points,
            &new.test_points,
            |t| &t.name,
            |diff, place, a, b| {
                diff.value(place, "probe", &a.at, &b.at);
                diff.value(place, "expected", &expected(a), &expected(b));
                let settings = |point: &TestPoint| {
                    let each = point.settings.iter().map(|(k, v)| format!("{k}={v}"));
                    each.collect::<Vec<_>>().join(" ")
                };
                diff.value(place, "settings", &settings(a), &settings(b));
            },
        );
    }

    fn named<T>(
        &mut self,
        what: &str,
        old: &[T],
        new: &[T],
        name: impl Fn(&T) -> &str,
        both: impl Fn(&mut Self, &str, &T, &T),
    ) {
        let before = by_key(old, &name);
        let after = by_key(new, &name);
        for name in before.keys().filter(|name| !after.contains_key(*name)) {
            self.add(format!("{what} {name}"), "removed");
        }
        for (name, item) in &after {
            let place = format!("{what} {name}");
            match before.get(name) {
                None => self.add(place, "added"),
                Some(earlier) => both(self, &place, earlier, item),
            }
        }
    }
}

fn by_key<'a, T>(items: &'a [T], key: impl Fn(&'a T) -> &'a str) -> BTreeMap<&'a str, &'a T> {
    let mut map = BTreeMap::new();
    for item in items {
        // The first of a repeated key: the linter names the others.
        map.entry(key(item)).or_insert(item);
    }
    map
}

/// The move that at least nine tenths of the pins with the same uid made alike: a new origin.
/// Zero where there is none.
fn common_shift(old: &BoardMap, new: &BoardMap) -> BoardVector {
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
fn part_shift(old: &Part, new: &Part) -> BoardVector {
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
fn middle(moves: &[BoardVector]) -> Option<BoardVector> {
    let axis = |of: fn(&BoardVector) -> f64| {
        let mut values: Vec<f64> = moves.iter().map(of).collect();
        values.sort_by(f64::total_cmp);
        values.get(values.len().saturating_sub(1) / 2).copied()
    };
    Some(BoardVector::new(axis(|m| m.x)?, axis(|m| m.y)?))
}

fn same_body(old: &Outline, new: &Outline, moved: BoardVector) -> bool {
    let (a, b) = (old.corners(), new.corners());
    std::mem::discriminant(old) == std::mem::discriminant(new)
        && a.len() == b.len()
        && a.iter()
            .zip(&b)
            .all(|(a, b)| (*b - (*a + moved)).length() <= MOVED_MM)
}

fn point(at: [f64; 2]) -> BoardPoint {
    BoardPoint::new(at[0], at[1])
}

fn part_place(part: &Part) -> String {
    format!("part {}", part.reference)
}

fn pins_of(part: &Part) -> String {
    match part.pins.len() {
        0 => "no pins".to_owned(),
        1 => "1 pin".to_owned(),
        n => format!("{n} pins"),
    }
}

fn limits(limits: Limits) -> String {
    format!("{} to {} V", limits.min, limits.max)
}

fn expected(point: &TestPoint) -> String {
    let bound = |v: Option<f64>| v.map_or("open".to_owned(), |v| v.to_string());
    let each = point.expect.iter().map(|extent: &Extent| {
        let nominal = extent
            .nominal
            .map_or(String::new(), |v| format!(" (nominal {v})"));
        format!(
            "{} {} to {}{nominal}",
            words_of(&extent.quantity),
            bound(extent.min),
            bound(extent.max)
        )
    });
    each.collect::<Vec<_>>().join(", ")
}

/// The word by which the map's file names a value, for example `volts_dc`.
fn words_of(value: &impl serde::Serialize) -> String {
    match serde_json::to_value(value) {
        Ok(serde_json::Value::String(word)) => word.replace('_', " "),
        _ => String::new(),
    }
}

/// At most three decimals, no trailing zeros.
fn short(value: f64) -> String {
    let text = format!("{value:.3}");
    let trimmed = text.trim_end_matches('0').trim_end_matches('.');
    if trimmed == "-0" { "0" } else { trimmed }.to_owned()
}

#[cfg(test)]
mod tests {
    use super::map_diff;
    use crate::board::model::Side;
    use crate::board::testing::sample;

    fn told(change: impl FnOnce(&mut crate::board::BoardMap)) -> Vec<String> {
        let old = sample();
        let mut new = old.clone();
        change(&mut new);
        map_diff(&old, &new)
            .iter()
            .map(ToString::to_string)
            .collect()
    }

    #[test]
    fn the_same_map_has_no_changes() {
        assert!(told(|_| ()).is_empty());
    }

    #[test]
    fn each_kind_of_change_is_one_line() {
        assert_eq!(
            told(|map| map.parts[1].reference = "C7".into()),
            ["part C7: renamed from C1"]
        );
        assert_eq!(
            told(|map| map.parts[0].pins[2].at[1] += 0.3),
            ["part J1, pin 3: moved by 0.3 mm"]
        );
        assert_eq!(
            told(|map| map.parts[0].pins[2].no = "3a".into()),
            ["part J1, pin 3a: renumbered from 3"]
        );
        assert_eq!(
            told(|map| map.rails[0].loaded.min = 4.8),
            ["rail +5 V: loaded was 4.75 to 5.25 V, is 4.8 to 5.25 V"]
        );
        assert_eq!(
            told(|map| map.parts[2].pins[0].watch = Some("cracks".into())),
            ["part R1, pin 1: is a weak spot now: cracks"]
        );
        assert_eq!(
            told(|map| {
                map.parts.remove(1);
            }),
            ["part C1: removed, with 2 pins"]
        );
        assert_eq!(
            told(|map| map.parts[2].side = Side::Solder),
            ["part R1: side was component, is solder"]
        );
        assert_eq!(
            told(|map| map.test_points[0].expect[0].max = Some(2.3)),
            [
                "test point TP1: expected was volts dc 1.7 to 2.2 (nominal 1.9), is volts dc 1.7 to 2.3 (nominal 1.9)"
            ]
        );
        assert_eq!(
            told(|map| map.outline[2] = [82.0, 50.0]),
            ["board outline: was 80 x 50 mm with 4 corners, is 82 x 50 mm with 4 corners"]
        );
    }

    #[test]
    fn a_part_that_moves_with_its_pins_is_told_once() {
        let lines = told(|map| {
            let part = &mut map.parts[2];
            for pin in &mut part.pins {
                pin.at[0] += 2.54;
            }
            if let crate::board::Outline::Rect { at, .. } = &mut part.outline {
                at[0] += 2.54;
            }
        });
        assert_eq!(lines, ["part R1: moved by 2.54 mm"]);
    }

    #[test]
    fn a_new_origin_is_told_once() {
        let lines = told(|map| {
            let shift = |at: &mut [f64; 2]| {
                at[0] += 100.0;
                at[1] -= 10.0;
            };
            map.outline.iter_mut().for_each(shift);
            map.landmarks.iter_mut().for_each(|l| shift(&mut l.at));
            for part in &mut map.parts {
                part.pins.iter_mut().for_each(|pin| shift(&mut pin.at));
                match &mut part.outline {
                    crate::board::Outline::Rect { at, .. }
                    | crate::board::Outline::Circle { at, .. } => shift(at),
                    crate::board::Outline::Polygon { points } => points.iter_mut().for_each(shift),
                }
            }
        });
        assert_eq!(
            lines,
            ["whole map: all that stayed moved by 100 mm in x and -10 mm in y"]
        );
    }
}
