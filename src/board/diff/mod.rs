//! How two revisions of a map differ, in words that a person can check against the board.

mod identity;
mod moves;
#[cfg(test)]
mod tests;
mod words;

use std::collections::BTreeSet;
use std::fmt;

use super::lint::natural_key;
use super::model::{BoardMap, Part, Pin, TestPoint};
use crate::geometry::{BoardPoint, BoardVector};
use identity::strangers;
pub use identity::take_identities;
use moves::{MOVED_MM, by_key, common_shift, part_shift, point, same_body};
use words::{expected, limits, part_place, pins_of, short, words_of};

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
    diff.strangers(old, new);
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

    /// What most matters of parts that only their names join: said once for all of them.
    fn strangers(&mut self, old: &BoardMap, new: &BoardMap) {
        let pairs = strangers(old, new);
        let joints: usize = pairs.iter().map(|(part, _)| part.pins.len()).sum();
        let what = match pairs.len() {
            0 => return,
            1 => "1 part goes by its name".to_owned(),
            n => format!("{n} parts go by the same names"),
        };
        self.add_joint(
            "whole map",
            format!(
                "{what} under another identity (uid): what was said of {joints} joints does not \
                 go over to this map. An import keeps identities with --identities-of OLD.json"
            ),
        );
    }

    fn parts(&mut self, old: &BoardMap, new: &BoardMap, shift: BoardVector) {
        let before = by_key(&old.parts, |part| part.uid.as_str());
        let after = by_key(&new.parts, |part| part.uid.as_str());
        let pairs = strangers(old, new);
        let (gone, came): (BTreeSet<&str>, BTreeSet<&str>) = pairs
            .iter()
            .map(|(old, new)| (old.uid.as_str(), new.uid.as_str()))
            .unzip();
        for (_, part) in &pairs {
            let words = format!("the same name under another identity, {}", pins_of(part));
            self.add_joint(part_place(part), words);
        }
        for (uid, part) in &before {
            if !after.contains_key(uid) && !gone.contains(uid) {
                self.add_joint(part_place(part), format!("removed, with {}", pins_of(part)));
            }
        }
        for (uid, part) in &after {
            match before.get(uid) {
                None if came.contains(uid) => {}
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
                let amperes = |v: Option<f64>| v.map_or(String::new(), |v| format!("{v} A"));
                diff.value(
                    place,
                    "greatest current",
                    &amperes(a.amperes_max),
                    &amperes(b.amperes_max),
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
