//! The aligned photos that a new one can be matched with: of this job and of other units.

use std::cmp::Ordering;
use std::path::PathBuf;

use image::RgbImage;

use crate::board::BoardMap;
use crate::progress::Progress;
use crate::record::{Alignment, PhotoState, View};
use crate::store::same_model;
use crate::work::error::WorkError;
use crate::work::original::open_original;
use crate::work::session::Session;
use crate::work::weak::known_jobs;

/// References that are tried, though never fewer than one of each side that the photo may show:
/// each costs seconds, and what three photos of a side do not carry the
/// fourth seldom does. Common practice, no source.
const MOST_REFERENCES: usize = 3;

/// Two maps of a board have one frame when at least this many landmarks and pins are in both ...
const LEAST_SHARED: usize = 3;

/// ... and none of these lies farther apart than this, mm.
const SAME_PLACE_MM: f64 = 0.2;

/// Jobs in which photos of other units may be found.
#[derive(Debug, Clone, Default)]
pub(super) struct OtherJobs {
    pub(super) jobs: Vec<PathBuf>,
    model: String,
    maps: Vec<BoardMap>,
}

#[derive(Debug, Clone)]
pub(super) struct Reference {
    pub(super) path: PathBuf,
    pub(super) name: String,
    pub(super) unit: Option<String>,
    pub(super) alignment: Alignment,
}

/// An aligned photo of another unit of the model, in a job of its own.
#[derive(Debug, Clone, PartialEq)]
pub struct Elsewhere {
    /// Serial number or shop code of that unit.
    pub unit: String,
    /// Where the original is.
    pub path: PathBuf,
    /// The name it had when it came in.
    pub name: String,
    /// Its alignment, in the millimetres of that job's map: see [`same_places`].
    pub alignment: Alignment,
}

/// Whether an alignment to one map holds for the other as well: both are of one board, and what
/// both have, landmarks by name and pins by identity, lies in the same places. Parts may have been
/// added or renamed meanwhile.
#[must_use]
pub fn same_places(a: &BoardMap, b: &BoardMap) -> bool {
    let apart = |p: [f64; 2], q: [f64; 2]| (p[0] - q[0]).hypot(p[1] - q[1]);
    let landmarks = (a.landmarks.iter()).filter_map(|mark| {
        let other = b.landmarks.iter().find(|other| other.name == mark.name)?;
        Some(apart(mark.at, other.at))
    });
    let pins = (a.parts.iter().flat_map(|part| &part.pins)).filter_map(|pin| {
        let (_, other) = b.pin(&pin.uid)?;
        Some(apart(pin.at, other.at))
    });
    let shared: Vec<f64> = landmarks.chain(pins).collect();
    a.board == b.board
        && shared.len() >= LEAST_SHARED
        && shared.iter().all(|mm| *mm <= SAME_PLACE_MM)
}

impl Session {
    /// The other jobs that this bench worked on. They are read when they are needed.
    pub(super) fn other_jobs(&self) -> OtherJobs {
        let Some(unit) = &self.state().unit else {
            return OtherJobs::default();
        };
        let here = self.dir().canonicalize().ok();
        let jobs = known_jobs().unwrap_or_default();
        OtherJobs {
            jobs: (jobs.into_iter())
                .filter(|path| path.canonicalize().ok() != here)
                .collect(),
            model: unit.model.clone(),
            maps: self.maps().to_vec(),
        }
    }
}

/// The aligned photos of a job: by landmarks first, then those that show most of the board.
pub(super) fn references(session: &Session, unit: Option<&str>) -> Vec<Reference> {
    let usable = |photo: &PhotoState| {
        let alignment = photo.alignment().filter(|_| !photo.contradicted())?;
        Some(Reference {
            path: session.photo_path(&photo.facts.photo).ok()?,
            name: photo.facts.name.clone(),
            unit: unit.map(str::to_owned),
            alignment: alignment.clone(),
        })
    };
    let mut found: Vec<Reference> = (session.state().photos.values())
        .filter_map(usable)
        .collect();
    found.sort_by(likelier);
    found
}

/// Alignments by landmarks first, then those that show most of the board.
pub(super) fn likelier(p: &Reference, q: &Reference) -> Ordering {
    let (a, b) = (&p.alignment, &q.alignment);
    (a.landmarks.is_empty().cmp(&b.landmarks.is_empty()))
        .then(a.px_per_mm.total_cmp(&b.px_per_mm))
        .then(a.photo.cmp(&b.photo))
}

/// The likeliest of each side of each board, then the rest: where nobody has said what the photo
/// shows, no side is left out for the sake of a second photo of another.
pub(super) fn each_view_first(references: Vec<Reference>) -> Vec<Reference> {
    let mut views: Vec<View> = Vec::new();
    let (mut first, rest): (Vec<_>, Vec<_>) = references.into_iter().partition(|reference| {
        let view = &reference.alignment.view;
        let new = !views.contains(view);
        if new {
            views.push(view.clone());
        }
        new
    });
    let room = MOST_REFERENCES.saturating_sub(first.len());
    first.extend(rest.into_iter().take(room));
    first
}

impl OtherJobs {
    /// The first photo of each other unit that shows the view on a map of the same frame. Jobs
    /// that cannot be read are passed over: opening one says what is wrong with it.
    pub(super) fn references(&self, view: Option<&View>, progress: &Progress) -> Vec<Reference> {
        let mut found = Vec::new();
        for job in &self.jobs {
            if found.len() >= MOST_REFERENCES || progress.check().is_err() {
                break;
            }
            let Ok(session) = Session::read(job) else {
                continue;
            };
            let Some(unit) = &session.state().unit else {
                continue;
            };
            if !same_model(&unit.model, &self.model) {
                continue;
            }
            let first = references(&session, Some(&unit.code))
                .into_iter()
                .find(|r| {
                    let there = &r.alignment.view;
                    view.is_none_or(|view| view == there)
                        && self.has_frame_of(session.maps(), &there.board)
                });
            found.extend(first);
        }
        found
    }

    /// Whether millimetres of the board mean the same places on the other job's map.
    fn has_frame_of(&self, maps: &[BoardMap], board: &str) -> bool {
        let here = self.maps.iter().find(|map| map.board == board);
        let there = maps.iter().find(|map| map.board == board);
        (here.zip(there)).is_some_and(|(here, there)| same_places(here, there))
    }
}

pub(super) fn of_unit(name: &str, unit: Option<&str>) -> String {
    unit.map_or_else(|| name.to_owned(), |unit| format!("{name} of unit {unit}"))
}

impl From<&Elsewhere> for Reference {
    fn from(other: &Elsewhere) -> Self {
        Self {
            path: other.path.clone(),
            name: other.name.clone(),
            unit: Some(other.unit.clone()),
            alignment: other.alignment.clone(),
        }
    }
}

impl Reference {
    pub(super) fn open(&self) -> Result<RgbImage, WorkError> {
        open_original(&self.path, &self.alignment.photo)
    }

    pub(super) fn named(&self) -> String {
        of_unit(&self.name, self.unit.as_deref())
    }
}
