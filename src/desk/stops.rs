//! The stops of a round: joints of a map, or places that somebody clicked on a photo without one.

use std::collections::BTreeSet;

use crate::board::{BoardMap, Side, round_order};
use crate::geometry::{BoardPoint, PhotoPoint};
use crate::joint::JointSpot;
use crate::record::{JointKey, PhotoState, PlaceKey, Spot, State, Target, is_unhinted};

/// One stop.
#[derive(Debug, Clone, PartialEq)]
pub struct Stop {
    /// What people call it: `J4.3`, `spot 2`.
    pub name: String,
    /// What it is, in words: `terminal block, pin 3 of 16, net ZONE 2`.
    pub what: String,
    /// Its part's reference; empty for a spot.
    pub part: String,
    /// What a judgement of it is about.
    pub target: Target,
    /// The whole part, where there is one.
    pub part_target: Option<Target>,
    /// Why the map calls it a weak spot.
    pub watch: Option<String>,
    /// Where it is.
    pub place: Whereabouts,
}

/// Where a stop is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Whereabouts {
    /// On the board: centre and radius of the land, mm.
    Board(BoardPoint, f64),
    /// On the one photo it was clicked on: centre and radius, px.
    Photo(PhotoPoint, f64),
}

/// A stop as one photo shows it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OnPhoto {
    /// Centre, upright photo pixels.
    pub at: PhotoPoint,
    /// Radius of the land, px.
    pub radius_px: f64,
    /// Scale there, px/mm, where it is known.
    pub px_per_mm: Option<f64>,
}

impl Stop {
    /// Where a photo shows it; `None` where it does not.
    #[must_use]
    pub fn on(&self, photo: &PhotoState) -> Option<OnPhoto> {
        match self.place {
            Whereabouts::Photo(at, radius_px) => Some(OnPhoto {
                at,
                radius_px,
                px_per_mm: None,
            }),
            Whereabouts::Board(at, radius_mm) => {
                let alignment = photo.alignment()?;
                // A photo of the other face, or of another board, shows something else there.
                if let Target::Joint(key) = &self.target
                    && (alignment.view.board != key.board || alignment.view.side != key.side)
                {
                    return None;
                }
                let transform = &alignment.projection;
                let centre = transform.apply(at)?;
                let scale = transform.scale_at(at)?;
                let [width, height] = photo.facts.size.map(f64::from);
                let inside = centre.x >= 0.0
                    && centre.y >= 0.0
                    && centre.x <= width - 1.0
                    && centre.y <= height - 1.0;
                inside.then_some(OnPhoto {
                    at: centre,
                    radius_px: radius_mm * scale,
                    px_per_mm: Some(scale),
                })
            }
        }
    }

    /// As the hint wants it.
    #[must_use]
    pub fn joint_spot(&self, photo: &PhotoState) -> Option<JointSpot> {
        let on = self.on(photo)?;
        let tilt_deg = match self.place {
            Whereabouts::Board(at, _) => photo
                .alignment()
                .and_then(|alignment| alignment.projection.tilt_deg_at(at)),
            Whereabouts::Photo(..) => None,
        };
        Some(JointSpot {
            id: self.name.clone(),
            centre: on.at,
            land_radius_px: on.radius_px,
            pin_radius_px: None,
            px_per_mm: on.px_per_mm,
            tilt_deg,
        })
    }

    /// Whether the hint stays hidden until somebody has judged the stop.
    #[must_use]
    pub fn is_blind(&self) -> bool {
        matches!(&self.target, Target::Joint(key) if is_unhinted(key))
    }
}

/// The joints of one side in walking order: those soldered there, or, where none is, all that
/// show.
#[must_use]
pub fn of_side(map: &BoardMap, side: Side) -> Vec<Stop> {
    let all = round_order(map, side);
    let soldered = all.iter().any(|joint| joint.is_soldered_side());
    all.into_iter()
        .filter(|joint| joint.is_soldered_side() || !soldered)
        .map(|joint| {
            let pins = joint.part.pins.len();
            let mut what = joint.part.described();
            if pins > 1 {
                what += &format!(", pin {} of {pins}", joint.pin.no);
            }
            if let Some(net) = &joint.pin.net {
                what += &format!(", net {net}");
            }
            Stop {
                name: joint.label(),
                what,
                part: joint.part.reference.clone(),
                target: Target::Joint(JointKey {
                    board: map.board.clone(),
                    pin: joint.pin.uid.clone(),
                    side,
                }),
                part_target: Some(Target::Part {
                    board: map.board.clone(),
                    part: joint.part.uid.clone(),
                }),
                watch: joint.pin.watch.clone().or_else(|| joint.part.watch.clone()),
                place: Whereabouts::Board(joint.centre(), joint.pin.land_radius_mm()),
            }
        })
        .collect()
}

/// The places of one photo that no map covers: judged ones first, then those only clicked.
#[must_use]
pub fn of_photo(state: &State, photo: &str, clicked: &[Spot]) -> Vec<Stop> {
    let judged = state
        .places
        .iter()
        .filter_map(|(key, place)| match (key, &place.target) {
            (PlaceKey::Photo(id, ..), Target::Photo(spot)) if id == photo => {
                Some((place.at.clone(), spot))
            }
            _ => None,
        });
    let mut judged: Vec<_> = judged.collect();
    judged.sort_by(|a, b| a.0.cmp(&b.0));
    let open = clicked.iter().filter(|spot| spot.photo == photo);
    let mut stops: Vec<Stop> = Vec::new();
    let mut known: BTreeSet<PlaceKey> = BTreeSet::new();
    for spot in judged.into_iter().map(|(_, spot)| spot).chain(open) {
        let target = Target::Photo(spot.clone());
        if !known.insert(PlaceKey::of(&target)) {
            continue;
        }
        stops.push(Stop {
            name: format!("spot {}", stops.len() + 1),
            what: "a place on this photo, on no map".to_owned(),
            part: String::new(),
            target,
            part_target: None,
            watch: None,
            place: Whereabouts::Photo(
                PhotoPoint::new(spot.at_px[0], spot.at_px[1]),
                spot.radius_px,
            ),
        });
    }
    stops
}
