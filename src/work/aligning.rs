//! A photo of a job aligned by itself, against another photo that is aligned already.
//!
//! In three steps, so that a window stays alive: [`Session::plan_automatic`] takes what is needed
//! out of the session, [`AutoTask::run`] does the long work anywhere, and
//! [`Action::AlignAutomatically`](super::Action::AlignAutomatically) records what it found.

use std::cmp::Ordering;
use std::path::PathBuf;

use serde::Serialize;

use crate::align::{Refusal, Trust, automatic};
use crate::board::BoardMap;
use crate::geometry::{BoardMm, Homography, PhotoPx};
use crate::photo::{self, grey};
use crate::progress::Progress;
use crate::record::{Alignment, PhotoId, PhotoState, View};

use super::error::WorkError;
use super::plan::side_word;
use super::session::Session;

/// References that are tried, though never fewer than one of each side that the photo may show:
/// each costs seconds, and what three photos of a side do not carry the
/// fourth seldom does. Common practice, no source.
const MOST_REFERENCES: usize = 3;

/// An alignment by landmarks that says nothing of its residual is taken to be this far off, px.
const UNSAID_ERROR_PX: f64 = 3.0;

/// Everything that aligning a photo by itself needs.
#[derive(Debug, Clone)]
pub struct AutoTask {
    photo: PhotoId,
    name: String,
    path: PathBuf,
    references: Vec<Reference>,
}

#[derive(Debug, Clone)]
struct Reference {
    path: PathBuf,
    name: String,
    alignment: Alignment,
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

/// Whether an alignment to one map holds for the other as well: both are of one board and have
/// their landmarks, by name, in the same places. Parts may have been added or renamed meanwhile.
#[must_use]
pub fn same_places(a: &BoardMap, b: &BoardMap) -> bool {
    let places = |map: &BoardMap| {
        let mut places: Vec<(String, [u64; 2])> = map
            .landmarks
            .iter()
            .map(|mark| (mark.name.clone(), mark.at.map(f64::to_bits)))
            .collect();
        places.sort();
        places
    };
    a.board == b.board && !a.landmarks.is_empty() && places(a) == places(b)
}

/// What was found, ready to be recorded.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FoundAlignment {
    /// The photo.
    pub photo: PhotoId,
    /// What it shows.
    pub view: View,
    /// Board millimetres to upright photo pixels, row-major, h33 = 1.
    pub photo_from_board: Homography<BoardMm, PhotoPx>,
    /// The photo that it was matched with.
    pub against: PhotoId,
    /// Name of that photo.
    pub against_name: String,
    /// Why it is believed.
    pub trust: Trust,
    /// Root mean square distance of the places that agree, px.
    pub rms_px: f64,
    /// Expected error at board level, px, that of the other photo's alignment with it.
    pub expected_error_px: f64,
}

impl Session {
    /// What aligning `photo` by itself needs: the aligned photos of what it shows (of anything,
    /// where nobody has said), or the one named by `against`. Alignments by landmarks come first,
    /// then those that show most of the board.
    ///
    /// # Errors
    /// Where there is no such photo, or none to match it with.
    pub fn plan_automatic(
        &self,
        photo: &PhotoId,
        against: Option<&PhotoId>,
    ) -> Result<AutoTask, WorkError> {
        self.plan_automatic_beside(photo, against, &[])
    }

    /// The same with photos of other units, which are tried after those of this job.
    ///
    /// # Errors
    /// As [`plan_automatic`](Self::plan_automatic).
    pub fn plan_automatic_beside(
        &self,
        photo: &PhotoId,
        against: Option<&PhotoId>,
        elsewhere: &[Elsewhere],
    ) -> Result<AutoTask, WorkError> {
        let photos = &self.state().photos;
        let of = |id: &PhotoId| {
            photos.get(id).ok_or_else(|| {
                WorkError::bad(
                    format!("no photo {id} in this job"),
                    "add it first: benchglass add JOB PHOTO",
                )
            })
        };
        let wanted = of(photo)?;
        let shows = |alignment: &Alignment| {
            let view = wanted.view.as_ref();
            view.is_none_or(|view| *view == alignment.view) && alignment.photo != *photo
        };
        let usable = |other: &PhotoState| {
            let alignment = other.alignment().filter(|_| !other.contradicted())?;
            shows(alignment).then(|| alignment.clone())
        };
        let mut found: Vec<(&PhotoState, Alignment)> = match against {
            Some(id) => {
                let other = of(id)?;
                let alignment = usable(other).ok_or_else(|| {
                    WorkError::refused(
                        format!("{} cannot be matched with {}: it is the same photo, not aligned, aligned in two ways, or shows something else", wanted.facts.name, other.facts.name),
                        "align that photo by landmarks first, or name another",
                    )
                })?;
                vec![(other, alignment)]
            }
            None => photos
                .values()
                .filter_map(|p| Some((p, usable(p)?)))
                .collect(),
        };
        let others: Vec<&Elsewhere> = match against {
            Some(_) => Vec::new(),
            None => (elsewhere.iter().filter(|other| shows(&other.alignment))).collect(),
        };
        if found.is_empty() && others.is_empty() {
            let what = wanted.view.as_ref().map_or_else(
                || "of this job".to_owned(),
                |view| format!("of {}, {} side,", view.board, side_word(view.side)),
            );
            return Err(WorkError::refused(
                format!("no other photo {what} is aligned yet"),
                "align one by landmarks: benchglass align JOB --photo P --place NAME=X,Y ...; the others can follow by themselves",
            ));
        }
        found.sort_by(|(p, a), (q, b)| likelier(a, b).then(p.facts.photo.cmp(&q.facts.photo)));
        let mut references = (found.into_iter())
            .map(|(other, alignment)| {
                Ok(Reference {
                    path: self.photo_path(&other.facts.photo)?,
                    name: other.facts.name.clone(),
                    alignment,
                })
            })
            .collect::<Result<Vec<_>, WorkError>>()?;
        let mut others = others;
        others.sort_by(|a, b| likelier(&a.alignment, &b.alignment).then(a.path.cmp(&b.path)));
        references.extend(others.into_iter().map(|other| Reference {
            path: other.path.clone(),
            name: format!("{} of unit {}", other.name, other.unit),
            alignment: other.alignment.clone(),
        }));
        let references = each_view_first(references);
        Ok(AutoTask {
            photo: photo.clone(),
            name: wanted.facts.name.clone(),
            path: self.photo_path(photo)?,
            references,
        })
    }
}

/// The likeliest of each side of each board, then the rest: where nobody has said what the photo
/// shows, no side is left out for the sake of a second photo of another.
fn each_view_first(references: Vec<Reference>) -> Vec<Reference> {
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

/// Alignments by landmarks first, then those that show most of the board.
fn likelier(a: &Alignment, b: &Alignment) -> Ordering {
    let by_match = |alignment: &Alignment| alignment.landmarks.is_empty();
    (by_match(a).cmp(&by_match(b))).then(a.px_per_mm.total_cmp(&b.px_per_mm))
}

impl AutoTask {
    /// Matches the photo with each reference in turn until one fit can be believed. Takes seconds;
    /// writes nothing.
    ///
    /// # Errors
    /// Where a photo cannot be opened, the work was stopped, or no fit can be believed: then the
    /// reason of the first reference, which is the likeliest.
    pub fn run(&self, progress: &Progress) -> Result<FoundAlignment, WorkError> {
        let photo = grey(&photo::open(&self.path)?.image);
        let mut first: Option<Refusal> = None;
        for reference in &self.references {
            progress.check()?;
            let other = grey(&photo::open(&reference.path)?.image);
            match automatic(&other, &photo, progress) {
                Ok(found) => return self.found(reference, &found),
                Err(refusal) => {
                    progress.check()?;
                    first.get_or_insert(refusal);
                }
            }
        }
        Err(first.map_or_else(
            || WorkError::refused("no photo to match it with", "align one by landmarks"),
            |refusal| {
                WorkError::Align(Refusal {
                    reason: format!("{} against {}: {}", self.name, self.tried(), refusal.reason),
                    ..refusal
                })
            },
        ))
    }

    /// What it was matched with, in words.
    fn tried(&self) -> String {
        let first = self.references.first().map_or("", |first| &first.name);
        match self.references.len() {
            0 | 1 => first.to_owned(),
            n => format!("{first} (and {} more)", n - 1),
        }
    }

    fn found(
        &self,
        reference: &Reference,
        found: &crate::align::AutoAlignment,
    ) -> Result<FoundAlignment, WorkError> {
        let broken = |_| {
            WorkError::refused(
                format!("the alignment of {} carries no further", reference.name),
                "align this photo by landmarks",
            )
        };
        let photo_from_photo: Homography<PhotoPx, PhotoPx> =
            Homography::from_rows(found.homography.rows()).map_err(broken)?;
        let there = &reference.alignment;
        let photo_from_board = (there.photo_from_board.then(&photo_from_photo)).map_err(broken)?;
        let before = there.automatic.as_ref().map_or_else(
            || {
                there
                    .rms_px
                    .filter(|rms| *rms > 0.0)
                    .unwrap_or(UNSAID_ERROR_PX)
            },
            |automatic| automatic.expected_error_px,
        );
        Ok(FoundAlignment {
            photo: self.photo.clone(),
            view: there.view.clone(),
            photo_from_board,
            against: there.photo.clone(),
            against_name: reference.name.clone(),
            trust: found.trust,
            rms_px: found.rms_px,
            expected_error_px: found.expected_error_px.hypot(before * found.scale),
        })
    }
}
