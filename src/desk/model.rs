//! What the window shows, as data. Panels read it; [`doing`](super::doing) changes it.

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;

use image::RgbImage;

use super::ask::Choosing;
use super::background::HintKey;
use super::glass_view::{Crop, Ring};
use super::mapping::Making;
use super::matching::Matching;
use super::outside::Watch;
use super::pointed::Pointed;
use super::stages::Standing;
use super::start::RecentJob;
use super::stops::{OnPhoto, Stop};
use super::strip::Tile;
use super::theme::Look;
use super::twins::{OtherJob, Twins};
use super::viewer::{Mark, PartName};
use crate::align::{LandmarkFit, Refusal};
use crate::geometry::PhotoPoint;
use crate::joint::{HintReport, JointHint};
use crate::paper::SlipView;
use crate::record::{
    EyeAndHint, PhotoId, PhotoState, Severity, Spot, Stage, State, Target, Verdict, View,
};
use crate::work::Session;

/// What fills the window.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Page {
    /// No job is open.
    #[default]
    Start,
    /// The form of a new job.
    NewJob,
    /// Table and glass.
    Table,
    /// Table and landmarks.
    Align,
    /// Table and the map that is being made.
    Map,
    /// What a dropped board file leaves open.
    Import,
    /// Rails, test points and checks.
    Measure,
    /// The gate.
    Gate,
    /// The slip.
    Slip,
    /// Every key.
    Help,
}

/// What is on the table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Show {
    /// One side of a board, by its map.
    Side(View),
    /// Photos that lie on no board: places are clicked.
    Loose,
}

/// What is being typed or chosen in the glass.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Pending {
    /// Nothing.
    #[default]
    Nothing,
    /// A fault is being named.
    Fault {
        /// What was typed to find it.
        filter: String,
        /// How bad; the usual where absent.
        severity: Option<Severity>,
        /// Where the fault is.
        on: FaultOn,
    },
    /// Why it cannot be judged.
    Obstacle(String),
    /// A note on the current stop, with the verdict that waits for it.
    Note(String, Option<Verdict>),
    /// A reference to go to.
    GoTo(String),
}

/// What a fault is on.
#[derive(Debug, Clone, PartialEq)]
pub enum FaultOn {
    /// The current stop, or its row where that is chosen.
    Stop,
    /// The part of the current stop.
    Part,
    /// An area that was drawn on the table.
    Area(Target),
    /// Something of the unit, in words.
    Unit(String),
}

/// Something to tell the person; stays until it is taken away.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Message {
    /// What happened.
    pub text: String,
    /// What to do about it; empty where nothing needs doing.
    pub remedy: String,
    /// Whether something went wrong.
    pub trouble: bool,
}

/// The form of a new job.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct NewJob {
    /// Photos that wait for the job.
    pub photos: Vec<PathBuf>,
    /// Serial number or shop code.
    pub unit: String,
    /// Make and type.
    pub model: String,
    /// What the owner says.
    pub complaint: String,
    /// A board map, where there is one.
    pub maps: Vec<PathBuf>,
    /// Folder in which the job's folder is made.
    pub folder: String,
}

/// The landmarks of one photo, being placed.
#[derive(Debug, Default)]
pub struct Draft {
    /// The photo they are on.
    pub photo: PhotoId,
    /// What it shows.
    pub view: Option<View>,
    /// Placed so far.
    pub placed: Vec<(String, PhotoPoint)>,
    /// Which is placed next: a place in [`names`](Self::names). `None` where all that the photo shows
    /// are placed, until one is chosen to be placed anew.
    pub next: Option<usize>,
    /// All that can be placed: name and what to look for.
    pub names: Vec<(String, String)>,
    /// A pin's address that is being typed.
    pub pin: String,
    /// How they fit together, as of the last change; `None` with fewer than two.
    pub fit: Option<Result<LandmarkFit, Refusal>>,
    /// Landmarks that would help most, and where the fit expects them.
    pub helpful: Vec<(String, PhotoPoint)>,
}

impl Draft {
    /// The landmark that the next click places: its name and what to look for.
    #[must_use]
    pub fn next_name(&self) -> Option<&(String, String)> {
        self.names.get(self.next?)
    }
}

/// The joint on the glass, cut out once.
pub struct OnGlass {
    /// What it was cut for.
    pub key: String,
    /// The joint enlarged.
    pub crop: Crop,
    /// The ring unrolled, or why there is none.
    pub ring: Result<Ring, String>,
}

/// An open job and where the person is in it.
pub struct Bench {
    /// The job.
    pub session: Session,
    /// What is on the table.
    pub show: Show,
    /// The photo on the table.
    pub photo: Option<PhotoId>,
    /// The round.
    pub stops: Vec<Stop>,
    /// Where in the round.
    pub here: Option<usize>,
    /// Landmarks stay where they are clicked, instead of moving to the middle of a hole.
    pub clicks_as_they_are: bool,
    /// The next judgement is for the whole row.
    pub whole_row: bool,
    /// Walk through unseen stops only.
    pub only_unseen: bool,
    /// Places that were clicked or found and not judged yet.
    pub clicked: Vec<Spot>,
    /// What of them a person pointed out.
    pub pointed: Pointed,
    /// Hints by photo.
    pub hints: BTreeMap<PhotoId, (HintKey, Arc<HintReport>)>,
    /// The hint that is being worked out.
    pub hinting: Option<HintKey>,
    /// It was stopped, and is not begun again by itself.
    pub hint_stopped: bool,
    /// The decoded photo on the table.
    pub image: Option<(PhotoId, Arc<RgbImage>)>,
    /// Landmarks being placed.
    pub draft: Draft,
    /// Those on other photos that were begun and not laid on the map yet.
    pub drafts: BTreeMap<PhotoId, Draft>,
    /// What is on the glass.
    pub glass: Option<OnGlass>,
    /// The slip as last computed, with how many events there were.
    pub slip: Option<(usize, Box<SlipView>)>,
    /// Laying it out was stopped or failed.
    pub slip_stopped: bool,
    /// What is typed into the pages of readings and of the gate, by field.
    pub fields: BTreeMap<String, String>,
    /// How the controls stand, as it was ticked on the page of readings since it was turned to:
    /// board and control with the position.
    pub stands: BTreeMap<(String, String), String>,
    /// What was last recorded, in words.
    pub said: String,
    /// Worked out anew after every change.
    pub seen: Seen,
    /// Other jobs of this model: where twins come from.
    pub others: Vec<OtherJob>,
    /// The current joint on other photos.
    pub twins: Twins,
    /// Photos are being brought in: the record is lent out.
    pub lent: bool,
    /// Photos that find their place on the map by themselves.
    pub matching: Matching,
    /// A board map that is being made on a photo.
    pub making: Option<Box<Making>>,
    /// When the job's folder was last looked at for what others write.
    pub watch: Watch,
}

/// What the panels draw, worked out anew after every change and not in every frame.
#[derive(Default)]
pub struct Seen {
    /// The strip.
    pub tiles: Vec<Tile>,
    /// The stops that the photo on the table shows: marks with the stop's index.
    pub marks: Vec<Mark>,
    /// For each mark, its stop.
    pub stop_of_mark: Vec<usize>,
    /// Names of parts on the photo.
    pub names: Vec<PartName>,
    /// The stages of the gate.
    pub stages: Vec<(Stage, Standing)>,
    /// Stops that somebody looked at closely enough, as the gate counts them.
    pub judged: usize,
    /// Stops that cannot be judged.
    pub blocked: usize,
    /// Stops that were judged from too far away: they count as unseen.
    pub too_far: usize,
    /// Median scale of the looks that count, px/mm.
    pub median_scale: Option<f64>,
    /// What undo would take back, in words.
    pub would_undo: Option<String>,
    /// What redo would bring back, in words.
    pub would_redo: Option<String>,
    /// What the eye marked before it saw the hint.
    pub eye_and_hint: EyeAndHint,
    /// The photo on the table lies nowhere yet, and there are photos to match it with.
    pub can_match: bool,
    /// Photos that can be chosen here, the closest look at the current stop first.
    pub photos: Vec<PhotoId>,
}

/// Everything the window shows.
pub struct Model {
    /// Who the record says did it.
    pub by: String,
    /// Colours and sizes.
    pub look: Look,
    /// What fills the window.
    pub page: Page,
    /// The open job.
    pub bench: Option<Bench>,
    /// The form of a new job.
    pub new_job: NewJob,
    /// Jobs of before.
    pub recent: Vec<(PathBuf, RecentJob)>,
    /// What to tell.
    pub messages: Vec<Message>,
    /// What is being typed.
    pub pending: Pending,
    /// Files are being chosen.
    pub chooser: Option<(Choosing, super::chooser::Chooser)>,
    /// A map that is made from dropped files, while something is asked.
    pub importing: Option<super::importing::Importing>,
    /// Where user data lie; recent jobs and the tour go there.
    pub home: Option<PathBuf>,
}

impl Model {
    /// Adds a message. The same one is not said twice in a row.
    pub fn tell(&mut self, text: impl Into<String>, remedy: impl Into<String>, trouble: bool) {
        let message = Message {
            text: text.into(),
            remedy: remedy.into(),
            trouble,
        };
        if self.messages.last() != Some(&message) {
            self.messages.push(message);
        }
        /// More would cover what they speak of.
        const MOST: usize = 4;
        /// Refusals stand until they are taken away, up to this many.
        const MOST_TROUBLES: usize = 8;
        while self.messages.len() > MOST {
            let said = (self.messages.iter()).position(|message| !message.trouble);
            let oldest = match said {
                // What was just said is heard at least.
                Some(at) if at + 1 < self.messages.len() => at,
                _ if self.messages.len() > MOST_TROUBLES => 0,
                _ => break,
            };
            self.messages.remove(oldest);
        }
    }
}

impl Bench {
    /// The photo on the table.
    #[must_use]
    pub fn photo_state(&self) -> Option<&PhotoState> {
        self.session.state().photos.get(self.photo.as_ref()?)
    }

    /// The current stop.
    #[must_use]
    pub fn stop(&self) -> Option<&Stop> {
        self.stops.get(self.here?)
    }

    /// Where the photo on the table shows the current stop.
    #[must_use]
    pub fn stop_on_photo(&self) -> Option<OnPhoto> {
        self.stop()?.on(self.photo_state()?)
    }

    /// The stops that a judgement is about now.
    #[must_use]
    pub fn chosen(&self) -> Vec<usize> {
        let (Some(here), Some(stop)) = (self.here, self.stop()) else {
            return Vec::new();
        };
        if !self.whole_row || stop.part.is_empty() {
            return vec![here];
        }
        let photo = self.photo_state();
        let on_photo = self.stop_on_photo().is_some();
        (0..self.stops.len())
            .filter(|&i| self.stops[i].part == stop.part)
            .filter(|&i| !on_photo || photo.is_some_and(|photo| self.stops[i].on(photo).is_some()))
            .collect()
    }

    /// The hint of a stop on the photo on the table, where it is worked out.
    #[must_use]
    pub fn hint(&self, stop: &Stop) -> Option<(&HintReport, &JointHint)> {
        let (_, report) = self.hints.get(self.photo.as_ref()?)?;
        let hint = report.joints.iter().find(|hint| hint.id == stop.name)?;
        Some((report, hint))
    }

    /// Whether the hint of a stop is to be hidden for now.
    #[must_use]
    pub fn is_hidden(&self, stop: &Stop) -> bool {
        stop.is_blind() && self.session.state().place(&stop.target).is_none()
    }

    /// Where the joints of a photo are thought to be that lies on a map: another word after every
    /// new alignment and every new map.
    pub(super) fn places_on(state: &State, photo: &PhotoState) -> Option<String> {
        let (id, alignment) = photo.alignments.last()?;
        let map = state.maps.get(&alignment.view.board);
        let map = map.and_then(|map| map.sha256()).unwrap_or_default();
        Some(format!("{id} {map}"))
    }

    /// What the hint on this photo depends on.
    #[must_use]
    pub fn hint_key(&self) -> Option<HintKey> {
        let photo = self.photo_state()?;
        let places = match self.show {
            Show::Side(_) => Self::places_on(self.session.state(), photo)?,
            Show::Loose => self
                .stops
                .iter()
                .map(|stop| format!("{:?};", stop.place))
                .collect(),
        };
        (!places.is_empty()).then(|| HintKey {
            photo: photo.facts.photo.clone(),
            places,
        })
    }
}
