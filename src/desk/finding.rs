//! The joints of a photo that no map covers, found by themselves: they become places of its round,
//! the most suspect first. What is found is a proposal: whoever looks says whether it is a joint.

use std::sync::Arc;

use eframe::egui::Context;

use super::app::Desk;
use super::background::Done;
use super::model::Show;
use crate::geometry::PhotoPoint;
use crate::joint::{JointError, JointSpot};
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
        self.background.start(ctx, FINDING, false, move |progress| {
            Done::Joints(photo, ranked_joints(&image, progress))
        });
    }

    /// Joints were found, the most suspect first.
    pub(super) fn found_joints(&mut self, photo: &PhotoId, found: Result<RankedJoints, WorkError>) {
        let RankedJoints {
            spots: found,
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
        bench.clicked.extend(new);
        bench.refresh();
        bench.here = (before < bench.stops.len())
            .then_some(before)
            .or(bench.here);
        bench.redraw();
        let text = match (found.len(), count) {
            (0, _) => "No joint was found on this photo.".to_owned(),
            (all, 0) => format!("{all} joints found; all of them are in the round already."),
            (_, new) => format!(
                "{new} joints found, the most suspect first. See whether each is one; what is not judged is not kept."
            ),
        };
        let remedy = if found.is_empty() {
            "Take the solder side from nearer, straight down; or click the joints."
        } else {
            caution.as_deref().unwrap_or_default()
        };
        self.model
            .tell(text, remedy, found.is_empty() || caution.is_some());
    }
}
