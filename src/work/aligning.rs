//! A photo of a job aligned by itself, against another photo that is aligned already.
//!
//! In three steps, so that a window stays alive: [`Session::plan_automatic`] takes what is needed
//! out of the session, [`AutoTask::run`] does the long work anywhere, and
//! [`Action::AlignAutomatically`](super::Action::AlignAutomatically) records what it found.

mod carried;
mod differing;
mod references;

use std::path::PathBuf;

use euclid::Point2D;
use image::RgbImage;
use serde::Serialize;

use crate::align::{Differing, Known, OnBoard, Refusal, RefusalKind, Trust, automatic_with};
use crate::geometry::{PhotoA, Projection};
use crate::photo::grey;
use crate::progress::Progress;
use crate::record::{PhotoId, View};

use super::error::WorkError;
use super::matching::both_grey;
use super::original::open_original;
use super::plan::side_word;
use super::session::Session;
use carried::carried;
pub use differing::differs_words;
use differing::{Outlined, board_of, on_board};
pub use references::{Elsewhere, same_places};
use references::{OtherJobs, Reference, each_view_first, likelier, of_unit, references};

/// An alignment by landmarks that says nothing of its residual is taken to be this far off, px.
const UNSAID_ERROR_PX: f64 = 3.0;

/// Photos of other faces that are tried where nothing fits, to say which face it is instead.
const MOST_OTHER_FACES: usize = 2;

/// Everything that aligning a photo by itself needs.
#[derive(Debug, Clone)]
pub struct AutoTask {
    photo: PhotoId,
    name: String,
    path: PathBuf,
    size: [u32; 2],
    view: Option<View>,
    references: Vec<Reference>,
    other_faces: Vec<Reference>,
    elsewhere: OtherJobs,
    /// The boards' names and edges, mm.
    outlines: Vec<Outlined>,
}

/// What was found, ready to be recorded.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FoundAlignment {
    /// The photo.
    pub photo: PhotoId,
    /// What it shows.
    pub view: View,
    /// Board millimetres to upright photo pixels.
    #[serde(flatten)]
    pub projection: Projection,
    /// The photo that it was matched with.
    pub against: PhotoId,
    /// Name of that photo.
    pub against_name: String,
    /// The unit that it shows, where that is another one of the model.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub against_unit: Option<String>,
    /// Why it is believed.
    pub trust: Trust,
    /// Root mean square distance of the places that agree, px.
    pub rms_px: f64,
    /// Expected error at board level, px, that of the other photo's alignment with it.
    pub expected_error_px: f64,
    /// Where the two photos show something else, px of the other photo: parts that were added, or
    /// another revision.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub differs: Vec<Differing>,
}

impl Session {
    /// What aligning `photo` by itself needs: the aligned photos of what it shows (of anything,
    /// where nobody has said), or the one named by `against`. Alignments by landmarks come first,
    /// then those that show most of the board. Where none is named, photos of other units of the
    /// model that this bench worked on follow those of this job.
    ///
    /// # Errors
    /// Where there is no such photo, or none to match it with.
    pub fn plan_automatic(
        &self,
        photo: &PhotoId,
        against: Option<&PhotoId>,
    ) -> Result<AutoTask, WorkError> {
        self.check_no_landmarks(photo, against)?;
        self.planned(photo, against, &[], self.other_jobs())
    }

    /// Whether a match may stand in place of what is there: not of landmarks, unless the photo to
    /// match with is named.
    ///
    /// # Errors
    /// [`WorkError::Refused`] where it may not.
    pub fn check_no_landmarks(
        &self,
        photo: &PhotoId,
        against: Option<&PhotoId>,
    ) -> Result<(), WorkError> {
        let laid = (self.state().photos.get(photo)).filter(|photo| {
            photo
                .alignment()
                .is_some_and(|there| there.automatic.is_none())
        });
        if let (Some(photo), None) = (laid, against) {
            return Err(WorkError::refused(
                format!(
                    "{} was laid on the map by landmarks, which stand above what it finds by itself",
                    photo.facts.name
                ),
                "place its landmarks anew with --place, take them back with undo, or name the photo to match it with: --against",
            ));
        }
        Ok(())
    }

    /// The same with photos of other units that are known already, instead of those in the jobs
    /// of this bench: for a window, which looks through them once.
    ///
    /// # Errors
    /// As [`plan_automatic`](Self::plan_automatic).
    pub fn plan_automatic_beside(
        &self,
        photo: &PhotoId,
        against: Option<&PhotoId>,
        elsewhere: &[Elsewhere],
    ) -> Result<AutoTask, WorkError> {
        let task = self.planned(photo, against, elsewhere, OtherJobs::default())?;
        if task.references.is_empty() {
            return Err(nothing_aligned(task.view.as_ref()));
        }
        Ok(task)
    }

    fn planned(
        &self,
        photo: &PhotoId,
        against: Option<&PhotoId>,
        elsewhere: &[Elsewhere],
        jobs: OtherJobs,
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
        let shows = |view: &View| wanted.view.as_ref().is_none_or(|wanted| wanted == view);
        let mut beside: Vec<Reference> = (elsewhere.iter()).map(Reference::from).collect();
        beside.sort_by(likelier);
        let known = references(self, None).into_iter().chain(beside);
        let (same, other): (Vec<Reference>, Vec<Reference>) = known
            .filter(|reference| reference.alignment.photo != *photo)
            // One that was itself matched with this photo would only say the same again.
            .filter(|reference| {
                let by_itself = reference.alignment.automatic.as_ref();
                by_itself.is_none_or(|matched| matched.against != *photo)
            })
            .partition(|reference| shows(&reference.alignment.view));
        let (references, jobs) = match against {
            Some(id) => {
                let name = &of(id)?.facts.name;
                let named = same.into_iter().find(|r| r.alignment.photo == *id);
                let named = named.ok_or_else(|| {
                    WorkError::refused(
                        format!("{} cannot be matched with {name}: it is the same photo, not aligned, aligned in two ways, or shows something else", wanted.facts.name),
                        "align that photo by landmarks first, or name another",
                    )
                })?;
                (vec![named], OtherJobs::default())
            }
            None => (same, jobs),
        };
        // Another face that fits is worth saying even where nothing could be aligned.
        if references.is_empty() && jobs.jobs.is_empty() && other.is_empty() {
            return Err(nothing_aligned(wanted.view.as_ref()));
        }
        Ok(AutoTask {
            photo: photo.clone(),
            name: wanted.facts.name.clone(),
            path: self.photo_path(photo)?,
            size: wanted.facts.size,
            view: wanted.view.clone(),
            references: each_view_first(references),
            other_faces: other.into_iter().take(MOST_OTHER_FACES).collect(),
            elsewhere: jobs,
            outlines: (self.maps().iter())
                .map(|map| (map.board.clone(), map.outline.clone()))
                .collect(),
        })
    }
}

fn nothing_aligned(view: Option<&View>) -> WorkError {
    let what = view.map_or_else(
        || "of this job".to_owned(),
        |view| format!("of {}, {} side,", view.board, side_word(view.side)),
    );
    WorkError::refused(
        format!("no other photo {what} is aligned yet, here or for another unit of the model"),
        "align one by landmarks: benchglass align JOB --photo P --place NAME=X,Y ...; the others can follow by themselves",
    )
}

impl AutoTask {
    /// Matches the photo with each reference in turn until one fit can be believed. Takes seconds;
    /// writes nothing.
    ///
    /// # Errors
    /// Where a photo cannot be opened or was altered, the work was stopped, or no fit can be
    /// believed: then the reason of the first reference, which is the likeliest, or the face that
    /// fits instead.
    pub fn run(&self, progress: &Progress) -> Result<FoundAlignment, WorkError> {
        let (photo, mut likeliest) = match self.references.first() {
            Some(reference) => {
                let [photo, reference] = both_grey(|| self.open(), || reference.open());
                (photo?, Some(reference?))
            }
            None => (grey(&self.open()?), None),
        };
        let mut first: Option<WorkError> = None;
        for reference in &self.references {
            let opened = likeliest.take();
            match self.try_one(reference, opened, &photo, progress)? {
                Ok(found) => return Ok(found),
                Err(refusal) => {
                    first.get_or_insert(refusal);
                }
            }
        }
        let others = self.elsewhere.references(self.view.as_ref(), progress);
        let others = others.into_iter().filter(|reference| {
            let by_itself = reference.alignment.automatic.as_ref();
            by_itself.is_none_or(|matched| matched.against != self.photo)
        });
        for reference in others {
            match self.try_one(&reference, None, &photo, progress)? {
                Ok(found) => return Ok(found),
                Err(refusal) => {
                    first.get_or_insert(refusal);
                }
            }
        }
        for reference in &self.other_faces {
            if self.try_one(reference, None, &photo, progress)?.is_ok() {
                return Err(self.other_face(reference));
            }
        }
        Err(first.unwrap_or_else(|| nothing_aligned(self.view.as_ref())))
    }

    fn open(&self) -> Result<RgbImage, WorkError> {
        open_original(&self.path, &self.photo)
    }

    /// The fit or the refusal; an error where the work cannot go on. `opened` is the reference's
    /// photo where it is at hand.
    fn try_one(
        &self,
        reference: &Reference,
        opened: Option<image::GrayImage>,
        photo: &image::GrayImage,
        progress: &Progress,
    ) -> Result<Result<FoundAlignment, WorkError>, WorkError> {
        progress.check()?;
        let other = match opened {
            Some(opened) => opened,
            None => grey(&reference.open()?),
        };
        let there = &reference.alignment;
        let board = board_of(&self.outlines, there);
        let board =
            (board.as_ref()).map(|board| move |at: Point2D<f64, PhotoA>| board(at.cast_unit()));
        let known = Known {
            photo: &other,
            lens: there.projection.lens.as_ref(),
            on_board: board.as_ref().map(|board| board as OnBoard),
        };
        match automatic_with(&known, photo, progress) {
            Ok(found) => self.found(reference, &found).map(Ok),
            Err(refusal) => {
                progress.check()?;
                Ok(Err(WorkError::Align(Refusal {
                    reason: format!(
                        "{} against {}: {}",
                        self.name,
                        reference.named(),
                        refusal.reason
                    ),
                    ..refusal
                })))
            }
        }
    }

    fn other_face(&self, reference: &Reference) -> WorkError {
        let face = |view: &View| format!("{}, {} side", view.board, side_word(view.side));
        let said = self.view.as_ref().map(face).unwrap_or_default();
        let view = &reference.alignment.view;
        WorkError::Align(Refusal {
            kind: RefusalKind::WrongSide,
            reason: format!(
                "{} is said to show {said}, but it fits {}, which shows {}",
                self.name,
                reference.named(),
                face(view)
            ),
            remedy: format!(
                "if it does, say so: benchglass align JOB --photo P --board {} --side {}; if not, click four landmarks or more",
                view.board,
                side_word(view.side)
            ),
        })
    }

    fn found(
        &self,
        reference: &Reference,
        found: &crate::align::AutoAlignment,
    ) -> Result<FoundAlignment, WorkError> {
        let broken = || {
            WorkError::refused(
                format!("the alignment of {} carries no further", reference.name),
                "align this photo by landmarks",
            )
        };
        let there = &reference.alignment;
        let lies = carried(&there.projection, found, self.size).ok_or_else(broken)?;
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
            projection: lies.projection,
            against: there.photo.clone(),
            against_name: reference.name.clone(),
            against_unit: reference.unit.clone(),
            trust: found.trust,
            rms_px: lies.rms_px,
            expected_error_px: lies.error_px.hypot(before * found.scale),
            differs: (found.differs.iter())
                .filter(|region| on_board(&self.outlines, there, region))
                .copied()
                .collect(),
        })
    }
}

impl FoundAlignment {
    /// The photo that it was matched with, in words.
    #[must_use]
    pub fn against(&self) -> String {
        of_unit(&self.against_name, self.against_unit.as_deref())
    }

    /// What to compare before the map is trusted there; `None` where the photos show the same.
    #[must_use]
    pub fn differs_words(&self) -> Option<String> {
        differs_words(&self.differs, &self.against())
    }
}
