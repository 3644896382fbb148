//! Where a line of the slip is: label, part, geometry on the board, and the order of walking.

use std::collections::BTreeSet;

use crate::board::{BoardMap, Outline, Part, PartKind, Side, Zone};
use crate::geometry::{BoardBox, BoardPoint};
use crate::record::{PlaceKey, Spot, Target};

/// Height of one lane of the walk over a board in mm: about what one look takes in. Higher lanes
/// jump up and down within a lane, lower ones walk across the board more often.
pub(super) const LANE_MM: f64 = 30.0;

/// What a line is about, resolved against the map.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Site {
    /// The board's name.
    pub(super) board: Option<String>,
    /// The side that must be up.
    pub(super) side: Option<Side>,
    /// As read aloud.
    pub(super) label: String,
    /// Full addresses.
    pub(super) addresses: Vec<String>,
    /// What stands there.
    pub(super) part: String,
    /// Nets of the joints, each once.
    pub(super) nets: Vec<String>,
    /// Around everything the line is about, mm.
    pub(super) extent: Option<BoardBox>,
    /// Centres and land radii of the joints, mm.
    pub(super) lands: Vec<(BoardPoint, f64)>,
    /// Kinds of the parts.
    pub(super) kinds: BTreeSet<PartKind>,
    /// Reference of the parts, and what each is in words.
    pub(super) parts: Vec<(String, String)>,
    /// Most dangerous area that it touches.
    pub(super) zone: Zone,
    /// The place on a photo, where no map covers it.
    pub(super) spot: Option<Spot>,
}

impl Site {
    /// Middle of the place, mm.
    #[must_use]
    pub(super) fn centre(&self) -> Option<BoardPoint> {
        self.extent.map(|extent| extent.center())
    }
}

/// What stands at the places of one line. All keys are of one kind and, where they are on a
/// board, of one board and side.
#[must_use]
pub(super) fn site_of(keys: &[&PlaceKey], target: &Target, map: Option<&BoardMap>) -> Site {
    match keys.first() {
        Some(PlaceKey::Joint(first)) => joints_site(&first.board, first.side, keys, map),
        Some(PlaceKey::Part(board, part)) => part_site(board, part, map),
        Some(PlaceKey::Area(view, low, high)) => {
            let mm = |corner: [i64; 2]| {
                BoardPoint::new(corner[0] as f64 / 1000.0, corner[1] as f64 / 1000.0)
            };
            area_site(
                &view.board,
                view.side,
                BoardBox::new(mm(*low), mm(*high)),
                map,
            )
        }
        Some(PlaceKey::Photo(..)) => photo_site(target),
        Some(PlaceKey::Unit(what)) => Site {
            label: what.clone(),
            part: "of the unit".to_owned(),
            zone: Zone::Load,
            ..Site::default()
        },
        None => Site::default(),
    }
}

fn photo_site(target: &Target) -> Site {
    let Target::Photo(spot) = target else {
        return Site::default();
    };
    Site {
        label: format!("Place at {:.0}, {:.0} px", spot.at_px[0], spot.at_px[1]),
        spot: Some(spot.clone()),
        ..Site::default()
    }
}

fn joints_site(board: &str, side: Side, keys: &[&PlaceKey], map: Option<&BoardMap>) -> Site {
    let wanted: BTreeSet<&str> = keys
        .iter()
        .filter_map(|key| match key {
            PlaceKey::Joint(joint) => Some(joint.pin.as_str()),
            _ => None,
        })
        .collect();
    let mut site = Site {
        board: Some(board.to_owned()),
        side: Some(side),
        ..Site::default()
    };
    let mut labels = Vec::new();
    let mut found = BTreeSet::new();
    for part in map.map_or(&[][..], |map| &map.parts) {
        let hits: Vec<usize> = (0..part.pins.len())
            .filter(|&index| wanted.contains(part.pins[index].uid.as_str()))
            .collect();
        if hits.is_empty() {
            continue;
        }
        labels.extend(run_labels(part, &hits));
        add_part(&mut site, part);
        for pin in hits.iter().map(|&index| &part.pins[index]) {
            found.insert(pin.uid.as_str());
            site.addresses.push(address(
                board,
                &format!("{}.{}", part.reference, pin.no),
                side,
            ));
            site.lands.push((pin.centre(), pin.land_radius_mm()));
            if let Some(net) = &pin.net
                && !site.nets.contains(net)
            {
                site.nets.push(net.clone());
            }
        }
    }
    for lost in wanted.difference(&found) {
        labels.push(format!("joint {lost} (not in the map)"));
    }
    site.label = joined_label(&labels, &site);
    site.extent = around(site.lands.iter().copied());
    site
}

/// `J4.3 to R2.1` for two joints of two parts (a bridge); everything else is listed.
fn joined_label(labels: &[String], site: &Site) -> String {
    if labels.len() == 2 && site.lands.len() == 2 && site.parts.len() == 2 {
        labels.join(" to ")
    } else {
        labels.join(", ")
    }
}

/// Runs of neighbouring pins as `J4.1 to J4.16`.
fn run_labels(part: &Part, hits: &[usize]) -> Vec<String> {
    let name = |index: usize| format!("{}.{}", part.reference, part.pins[index].no);
    hits.chunk_by(|a, b| a + 1 == *b)
        .map(|run| match run {
            [only] => name(*only),
            [first, .., last] => format!("{} to {}", name(*first), name(*last)),
            [] => String::new(),
        })
        .collect()
}

fn part_site(board: &str, uid: &str, map: Option<&BoardMap>) -> Site {
    let mut site = Site {
        board: Some(board.to_owned()),
        ..Site::default()
    };
    let Some(part) = map.and_then(|map| map.parts.iter().find(|part| part.uid == uid)) else {
        site.label = format!("part {uid} (not in the map)");
        return site;
    };
    add_part(&mut site, part);
    site.side = Some(part.side);
    site.label.clone_from(&part.reference);
    site.addresses = vec![format!("{board}:{}", part.reference)];
    site.extent = box_of(&outline_points(&part.outline));
    site
}

fn area_site(board: &str, side: Side, area: BoardBox, map: Option<&BoardMap>) -> Site {
    let mut site = Site {
        board: Some(board.to_owned()),
        side: Some(side),
        extent: Some(area),
        ..Site::default()
    };
    let inside: Vec<&Part> = map
        .map_or(&[][..], |map| &map.parts)
        .iter()
        .filter(|part| {
            box_of(&outline_points(&part.outline)).is_some_and(|body| body.intersects(&area))
                || part.pins.iter().any(|pin| area.contains(pin.centre()))
        })
        .collect();
    let references: Vec<&str> = inside.iter().map(|part| part.reference.as_str()).collect();
    for part in &inside {
        site.zone = worse(site.zone, part.zone);
    }
    site.label = format!(
        "Area {:.0} by {:.0} mm",
        area.width().ceil(),
        area.height().ceil()
    );
    site.part = match references.as_slice() {
        [] => String::new(),
        few if few.len() <= 4 => format!("at {}", super::words::listed(few)),
        many => format!(
            "at {} and {} more parts",
            many[..3].join(", "),
            many.len() - 3
        ),
    };
    site
}

fn add_part(site: &mut Site, part: &Part) {
    site.zone = worse(site.zone, part.zone);
    site.kinds.insert(part.kind);
    let text = part.described();
    site.parts.push((part.reference.clone(), text.clone()));
    site.part = match (site.parts.len(), site.part.is_empty()) {
        (1, _) | (_, true) => text,
        _ => format!("{}; {text}", site.part),
    };
}

fn worse(a: Zone, b: Zone) -> Zone {
    // Safety comes first in the order of zones.
    a.min(b)
}

/// `main:J4.3/solder`.
#[must_use]
pub(super) fn address(board: &str, place: &str, side: Side) -> String {
    let side = match side {
        Side::Component => "component",
        Side::Solder => "solder",
    };
    format!("{board}:{place}/{side}")
}

/// Corners of an outline in mm; a circle as 24 points.
#[must_use]
pub(super) fn outline_points(outline: &Outline) -> Vec<BoardPoint> {
    match outline {
        Outline::Rect { at, size, turn_deg } => {
            let (sin, cos) = turn_deg.to_radians().sin_cos();
            [(-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5)]
                .map(|(u, v)| {
                    let (x, y) = (u * size[0], v * size[1]);
                    BoardPoint::new(at[0] + x * cos - y * sin, at[1] + x * sin + y * cos)
                })
                .to_vec()
        }
        Outline::Circle { at, diameter } => (0..24)
            .map(|i| {
                let (sin, cos) = (f64::from(i) * std::f64::consts::TAU / 24.0).sin_cos();
                BoardPoint::new(at[0] + diameter / 2.0 * cos, at[1] + diameter / 2.0 * sin)
            })
            .collect(),
        Outline::Polygon { points } => points.iter().map(|&[x, y]| BoardPoint::new(x, y)).collect(),
    }
}

/// The box around points; none where there are none.
#[must_use]
pub(super) fn box_of(points: &[BoardPoint]) -> Option<BoardBox> {
    (!points.is_empty()).then(|| BoardBox::from_points(points))
}

fn around(lands: impl Iterator<Item = (BoardPoint, f64)>) -> Option<BoardBox> {
    let corners: Vec<BoardPoint> = lands
        .flat_map(|(at, r)| {
            [
                BoardPoint::new(at.x - r, at.y - r),
                BoardPoint::new(at.x + r, at.y + r),
            ]
        })
        .collect();
    box_of(&corners)
}

/// The board as it lies before the reader with one side up: mm from its left and top edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Lie {
    /// Around the board's outline, mm.
    pub(super) extent: BoardBox,
    /// The side that is up.
    pub(super) side: Side,
}

impl Lie {
    /// mm to the right and down from the board's upper left corner as it lies.
    #[must_use]
    pub(super) fn seen(&self, at: BoardPoint) -> [f64; 2] {
        let across = match self.side {
            Side::Component => at.x - self.extent.min.x,
            Side::Solder => self.extent.max.x - at.x,
        };
        [across, self.extent.max.y - at.y]
    }

    /// The place in words, for a reader with a ruler: from the nearer edges.
    #[must_use]
    pub(super) fn whereabouts(&self, at: BoardPoint) -> String {
        let [left, top] = self.seen(at);
        let right = self.extent.width() - left;
        let bottom = self.extent.height() - top;
        let near = |a: f64, a_name: &str, b: f64, b_name: &str| {
            if a <= b {
                format!("{a:.0} mm from the {a_name}")
            } else {
                format!("{b:.0} mm from the {b_name}")
            }
        };
        format!(
            "{}, {}",
            near(left, "left", right, "right"),
            near(top, "top", bottom, "bottom")
        )
    }

    /// Sort key of the walk: lanes from the top down, to and fro.
    #[must_use]
    pub(super) fn walk(&self, at: BoardPoint) -> (i64, i64) {
        let [left, top] = self.seen(at);
        let lane = (top / LANE_MM).floor() as i64;
        let along = (left * 1000.0).round() as i64;
        (lane, if lane % 2 == 0 { along } else { -along })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lie(side: Side) -> Lie {
        Lie {
            extent: BoardBox::new(BoardPoint::new(0.0, 0.0), BoardPoint::new(160.0, 100.0)),
            side,
        }
    }

    #[test]
    fn the_solder_side_is_seen_mirrored() {
        let at = BoardPoint::new(30.0, 80.0);
        assert_eq!(lie(Side::Component).seen(at), [30.0, 20.0]);
        assert_eq!(lie(Side::Solder).seen(at), [130.0, 20.0]);
        assert_eq!(
            lie(Side::Solder).whereabouts(at),
            "30 mm from the right, 20 mm from the top"
        );
    }

    #[test]
    fn the_walk_goes_to_and_fro() {
        let lie = lie(Side::Component);
        let mut places = [
            (10.0, 90.0, "a"),
            (150.0, 85.0, "b"),
            (150.0, 60.0, "c"),
            (10.0, 50.0, "d"),
            (10.0, 20.0, "e"),
        ];
        places.reverse();
        places.sort_by_key(|&(x, y, _)| lie.walk(BoardPoint::new(x, y)));
        assert_eq!(places.map(|p| p.2), ["a", "b", "c", "d", "e"]);
    }
}
