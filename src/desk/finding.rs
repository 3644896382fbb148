//! The joints of a photo that no map covers, found by themselves or by their likeness to some that
//! were pointed out: they become places of its round, the most suspect first. What is found is a
//! proposal: whoever looks says whether it is a joint.

use std::sync::Arc;

use eframe::egui::Context;

use super::app::Desk;
use super::background::Done;
use super::model::{Bench, Pending, Show};
use super::pointed::tenth;
use crate::geometry::PhotoPoint;
use crate::joint::{JointError, JointSpot, LARGEST_PX, LEAST_EXAMPLES, SMALLEST_PX};
use crate::record::{PhotoId, Spot, Target, Verdict};
use crate::work::{RankedJoints, WorkError, ranked_joints};

/// What looking for joints is called while it runs.
const FINDING: &str = "Looking for joints on this photo";

/// A found joint this near to a place of the round is that place: share of the greater radius.
const SAME: f64 = 1.0;

/// Why no joints are looked for.
const ON_MAP: &str = "This photo lies on the map: its joints are those of the map.";

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
        if bench.lies_on_map() {
            self.model.tell(ON_MAP, "", false);
            return;
        }
        let opened =
            (bench.image.as_ref()).filter(|(photo, _)| bench.photo.as_ref() == Some(photo));
        let Some((photo, image)) = opened else {
            self.model.tell(
                "The photo is not open yet, so its joints cannot be looked for.",
                "Wait until it is on the table, then ask again.",
                false,
            );
            return;
        };
        let (photo, image) = (photo.clone(), Arc::clone(image));
        let (like, unlike) = match bench.examples(&photo) {
            Ok(examples) => (examples, joints_at(bench.pointed.none(&photo))),
            Err((text, remedy)) => {
                self.model.tell(text, remedy, false);
                return;
            }
        };
        self.background.start(ctx, FINDING, false, move |progress| {
            let ranked = ranked_joints(&image, &like, &unlike, progress);
            Done::Joints(photo, ranked)
        });
    }

    /// Joints were found, the most suspect first.
    pub(super) fn found_joints(&mut self, photo: &PhotoId, found: Result<RankedJoints, WorkError>) {
        let ranked = match found {
            Ok(ranked) => ranked,
            // Asked for: nothing to say.
            Err(WorkError::Cancelled(_) | WorkError::Joint(JointError::Cancelled)) => return,
            Err(error) => {
                self.trouble(&error);
                return;
            }
        };
        let found = &ranked.spots;
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
        if bench.lies_on_map() {
            // It was laid there meanwhile.
            self.model.tell(ON_MAP, "", false);
            return;
        }
        if ranked.doubtful {
            self.model.tell(
                "Nothing was put into the round.",
                ranked.caution.unwrap_or_default(),
                true,
            );
            return;
        }
        let current = bench.stop().map(|stop| stop.target.clone());
        bench.show = Show::Loose;
        let replaced = if ranked.examples > 0 && !found.is_empty() {
            bench.take_out_found(photo)
        } else {
            0
        };
        bench.refresh();
        let new = bench.new_among(found, photo);
        let (count, before) = (new.len(), bench.stops.len());
        bench.pointed.find(photo, new.iter().map(|spot| spot.at_px));
        bench.clicked.extend(new);
        bench.refresh();
        // The names of the places are others now.
        bench.hints.remove(photo);
        let stays = bench
            .stops
            .iter()
            .position(|stop| Some(&stop.target) == current.as_ref());
        let first = (before < bench.stops.len()).then_some(before);
        // What is being said is said of the place that it was begun on.
        let speaking = !matches!(self.model.pending, Pending::Nothing);
        bench.here = if speaking { stays } else { first.or(stays) };
        bench.redraw();
        if speaking && stays.is_none() {
            self.model.pending = Pending::Nothing;
        }
        let Some(bench) = &self.model.bench else {
            return;
        };
        let by_hand = bench.pointed.by_hand(photo);
        let text = said(found.len(), count, replaced, ranked.examples);
        let remedy = next(&ranked, by_hand);
        let matters = found.is_empty() || ranked.caution.is_some();
        self.model.tell(text, remedy, matters);
    }
}

/// What came of looking for joints: how many in all, how many of them new to the round, how many
/// that were found before they replace, and by how many examples.
fn said(all: usize, new: usize, replaced: usize, examples: usize) -> String {
    let like = match examples {
        0 => String::new(),
        some => format!(" like the {some} that were pointed out"),
    };
    let instead = match replaced {
        0 => String::new(),
        some => format!(", instead of {some} that were found before and not judged"),
    };
    match (all, new) {
        (0, _) => format!("No joint{like} was found on this photo."),
        (all, 0) => format!("{all} joints{like} found; all of them are in the round already."),
        (_, new) => format!(
            "{new} joints{like} found{instead}, the most suspect first. See whether each is one; what is not judged is not kept."
        ),
    }
}

/// What to do next.
fn next(ranked: &RankedJoints, by_hand: usize) -> String {
    match (&ranked.caution, ranked.examples) {
        (Some(caution), _) => caution.clone(),
        (None, 0) => {
            let so_far = match by_hand {
                0 => String::new(),
                some => format!(" ({some} so far, {LEAST_EXAMPLES} at least)"),
            };
            let before = if ranked.spots.is_empty() {
                "Take the solder side from nearer, straight down; or click"
            } else {
                "Joints missing, or many that are none? Click"
            };
            format!(
                "{before} about eight joints{so_far}, see that the rims fit, and press J again: it then looks for others like them."
            )
        }
        (None, _) if ranked.spots.is_empty() => {
            "See that each click lies in the middle of a joint and its rim fits.".to_owned()
        }
        (None, _) => {
            "Forget what is none, click what is missing, and press J again: it learns from both."
                .to_owned()
        }
    }
}

/// The places as the hint takes them.
fn joints_at(spots: &[Spot]) -> Vec<JointSpot> {
    (spots.iter().enumerate())
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
    /// Whether the photo on the table lies on a map.
    fn lies_on_map(&self) -> bool {
        let photo = self.photo_state();
        photo.is_some_and(|photo| photo.alignment().is_some())
    }

    /// The joints of the photo on the table that were pointed out, clicked or judged; none where too
    /// few were clicked to search by them. What to tell where they cannot be used.
    fn examples(&self, photo: &PhotoId) -> Result<Vec<JointSpot>, (String, &'static str)> {
        if self.pointed.by_hand(photo) < LEAST_EXAMPLES {
            return Ok(Vec::new());
        }
        let shown = self.pointed.shown_size(photo);
        let spots: Vec<Spot> = (self.stops.iter())
            .filter_map(|stop| match &stop.target {
                Target::Photo(spot) => self.example(&stop.target, spot),
                _ => None,
            })
            .collect();
        let all = spots.len();
        let guessed = spots.iter().filter(|spot| self.pointed.is_guessed(spot));
        if shown.is_none() && 2 * guessed.count() > all {
            return Err((
                "How large the clicked joints are is only guessed, so others like them cannot be looked for."
                    .to_owned(),
                "Fit the rim of one of them, with Radius of the land or by holding Shift and dragging from its middle to its rim: the others follow. Then press J again.",
            ));
        }
        let sizes = SMALLEST_PX..=LARGEST_PX;
        let mut examples = joints_at(&spots);
        examples.retain(|spot| sizes.contains(&spot.land_radius_px));
        if examples.len() < LEAST_EXAMPLES {
            return Err((
                format!(
                    "{} of the {all} joints that were pointed out can teach, {LEAST_EXAMPLES} are needed: lands of {SMALLEST_PX:.0} to {LARGEST_PX:.0} px in radius that somebody could judge.",
                    examples.len()
                ),
                "See that the rims fit; where they do, take the photo from nearer, or from farther.",
            ));
        }
        Ok(examples)
    }

    /// What a place of the round teaches, where it was clicked or judged, and could be.
    fn example(&self, target: &Target, spot: &Spot) -> Option<Spot> {
        let Some(judged) = self.session.state().place(target) else {
            return (!self.pointed.is_found(spot)).then(|| spot.clone());
        };
        let shown = self.pointed.shown_size(&spot.photo);
        // It was judged before a size was shown that it would have taken.
        let size = shown.filter(|_| self.pointed.is_guessed(spot));
        (judged.verdict != Verdict::CannotBeJudged).then(|| Spot {
            radius_px: size.unwrap_or(spot.radius_px),
            ..spot.clone()
        })
    }

    /// Takes out what an earlier search found on the photo and nobody judged: how many.
    fn take_out_found(&mut self, photo: &PhotoId) -> usize {
        let before = self.clicked.len();
        let (clicked, pointed) = (&mut self.clicked, &mut self.pointed);
        clicked.retain(|spot| spot.photo != *photo || !pointed.is_found(spot));
        pointed.find_anew(photo);
        before - clicked.len()
    }

    /// Those of the found joints that are not in the round, and that nobody called none.
    fn new_among(&self, found: &[JointSpot], photo: &PhotoId) -> Vec<Spot> {
        let known: Vec<(PhotoPoint, f64)> = (self.stops.iter())
            .filter_map(|stop| match &stop.target {
                Target::Photo(spot) => Some((PhotoPoint::from(spot.at_px), spot.radius_px)),
                _ => None,
            })
            .collect();
        let is_new = |joint: &&JointSpot| {
            known.iter().all(|(at, radius)| {
                (joint.centre - *at).length() > SAME * radius.max(joint.land_radius_px)
            }) && !self.pointed.is_none(photo, joint.centre.into())
        };
        (found.iter().filter(is_new))
            .map(|joint| Spot {
                photo: photo.clone(),
                at_px: [tenth(joint.centre.x), tenth(joint.centre.y)],
                radius_px: tenth(joint.land_radius_px),
            })
            .collect()
    }
}
