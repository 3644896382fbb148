//! The joints of a photo that no map covers, found by themselves or by their likeness to some that
//! were pointed out: they become places of its round, the most suspect first. What is found is a
//! proposal: whoever looks says whether it is a joint.

use std::sync::Arc;

use eframe::egui::Context;

use super::app::Desk;
use super::background::Done;
use super::model::{Bench, Show};
use crate::geometry::PhotoPoint;
use crate::joint::{JointError, JointSpot, LARGEST_PX, LEAST_EXAMPLES, SMALLEST_PX};
use crate::record::{PhotoId, Spot, Target};
use crate::work::{RankedJoints, WorkError, ranked_joints};

/// What looking for joints is called while it runs.
const FINDING: &str = "Looking for joints on this photo";

/// A found joint this near to a place of the round is that place: share of the greater radius.
const SAME: f64 = 1.0;

impl Desk {
    /// Looks for joints on the photo on the table, off the window's thread.
    pub(super) fn find_joints(&mut self, ctx: &Context) {
        if self
            .background
            .under_way()
            .iter()
            .any(|task| task.label == FINDING)
        {
            return;
        }
        let Some(bench) = &self.model.bench else {
            return;
        };
        if bench
            .photo_state()
            .is_some_and(|photo| photo.alignment().is_some())
        {
            self.model.tell(
                "This photo lies on the map: its joints are those of the map.",
                "",
                false,
            );
            return;
        }
        let Some((photo, image)) = &bench.image else {
            self.model.tell(
                "The photo is not open yet, so its joints cannot be looked for.",
                "Wait until it is on the table, then ask again.",
                false,
            );
            return;
        };
        let (photo, image) = (photo.clone(), Arc::clone(image));
        let (like, unlike) = (bench.examples(), joints_at(&bench.no_joints, &photo));
        let guessed = (like.iter())
            .filter(|spot| bench.guesses.is_open(&photo, spot.centre.into()))
            .count();
        if like.len() >= LEAST_EXAMPLES && 2 * guessed > like.len() {
            self.model.tell(
                "How large the clicked joints are is only guessed, so others like them cannot be looked for.",
                "Fit the rim of one of them, with Radius of the land or by holding Shift and dragging from a middle to its rim: the others follow. Then press J again.",
                false,
            );
            return;
        }
        self.background.start(ctx, FINDING, false, move |progress| {
            let ranked = ranked_joints(&image, &like, &unlike, progress);
            Done::Joints(photo, ranked)
        });
    }

    /// Joints were found, the most suspect first.
    pub(super) fn found_joints(&mut self, photo: &PhotoId, found: Result<RankedJoints, WorkError>) {
        let RankedJoints {
            spots: found,
            examples,
            caution,
        } = match found {
            Ok(found) => found,
            // Asked for: nothing to say.
            Err(WorkError::Cancelled(_) | WorkError::Joint(JointError::Cancelled)) => return,
            Err(error) => {
                self.trouble(&error);
                return;
            }
        };
        let Some(bench) = &mut self.model.bench else {
            return;
        };
        if bench.photo.as_ref() != Some(photo) {
            let name = bench.name_of(photo);
            self.model.tell(
                format!(
                    "{} joints were found on {name}, which is not on the table now.",
                    found.len()
                ),
                "Put it on the table and press J again to walk them.",
                false,
            );
            return;
        }
        bench.show = Show::Loose;
        if examples > 0 {
            // What an earlier search found and nobody confirmed is looked for anew.
            let (clicked, before) = (&mut bench.clicked, &mut bench.found);
            clicked.retain(|spot| spot.photo != *photo || !before.contains(spot));
            before.retain(|spot| spot.photo != *photo);
        }
        bench.refresh();
        let known: Vec<(PhotoPoint, f64)> = (bench.stops.iter())
            .filter_map(|stop| match &stop.target {
                Target::Photo(spot) => Some((PhotoPoint::from(spot.at_px), spot.radius_px)),
                _ => None,
            })
            .collect();
        let is_new = |joint: &&JointSpot| {
            known.iter().all(|(at, radius)| {
                (joint.centre - *at).length() > SAME * radius.max(joint.land_radius_px)
            })
        };
        let round = |value: f64| (value * 10.0).round() / 10.0;
        let new: Vec<Spot> = (found.iter().filter(is_new))
            .map(|joint| Spot {
                photo: photo.clone(),
                at_px: [round(joint.centre.x), round(joint.centre.y)],
                radius_px: round(joint.land_radius_px),
            })
            .collect();
        let (count, before) = (new.len(), bench.stops.len());
        bench.found.extend(new.iter().cloned());
        bench.clicked.extend(new);
        bench.refresh();
        bench.here = (before < bench.stops.len())
            .then_some(before)
            .or(bench.here);
        bench.redraw();
        let text = said(found.len(), count, examples);
        let remedy = match (&caution, examples) {
            _ if found.is_empty() => {
                "Take the solder side from nearer, straight down; or click about eight joints, see that the rims fit, and press J again: it then looks for others like them."
            }
            (Some(caution), _) => caution,
            (None, 0) => {
                "Joints missing, or many that are none? Click about eight joints, see that the rims fit, and press J again: it then looks for others like them."
            }
            (None, _) => {
                "Forget what is none, click what is missing, and press J again: it learns from both."
            }
        };
        self.model
            .tell(text, remedy, found.is_empty() || caution.is_some());
    }
}

/// What came of looking for joints: how many in all, how many of them new to the round, and by how
/// many examples.
fn said(all: usize, new: usize, examples: usize) -> String {
    let like = match examples {
        0 => String::new(),
        some => format!(" like the {some} that were pointed out"),
    };
    match (all, new) {
        (0, _) => format!("No joint{like} was found on this photo."),
        (all, 0) => format!("{all} joints{like} found; all of them are in the round already."),
        (_, new) => format!(
            "{new} joints{like} found, the most suspect first. See whether each is one; what is not judged is not kept."
        ),
    }
}

/// The places on this photo, as the hint takes them.
fn joints_at(spots: &[Spot], photo: &PhotoId) -> Vec<JointSpot> {
    (spots.iter())
        .filter(|spot| spot.photo == *photo)
        .enumerate()
        .map(|(k, spot)| JointSpot {
            id: format!("spot {}", k + 1),
            centre: PhotoPoint::from(spot.at_px),
            land_radius_px: spot.radius_px,
            pin_radius_px: None,
            px_per_mm: None,
            tilt_deg: None,
        })
        .collect()
}

impl Bench {
    /// The places of the photo on the table that somebody pointed out: clicked, or judged.
    fn examples(&self) -> Vec<JointSpot> {
        let Some(photo) = &self.photo else {
            return Vec::new();
        };
        let spots: Vec<Spot> = (self.stops.iter())
            .filter_map(|stop| match &stop.target {
                Target::Photo(spot) => Some(spot.clone()),
                _ => None,
            })
            .filter(|spot| !(self.clicked.contains(spot) && self.found.contains(spot)))
            .collect();
        let usable = SMALLEST_PX..=LARGEST_PX;
        let mut spots = joints_at(&spots, photo);
        spots.retain(|spot| usable.contains(&spot.land_radius_px));
        spots
    }
}
