//! A photo finds its place on the map by itself, matched with one that lies there already: of
//! this job, or of another unit of the model. What it finds is a proposal with its trust, and
//! says so; landmarks that a person places always stand above it.

use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::path::Path;

use eframe::egui::Context;

use super::app::Desk;
use super::background::Done;
use super::doing::told;
use super::model::{Bench, Page, Pending, Show};
use crate::align::RefusalKind;
use crate::record::{Alignment, Matched, PhotoId};
use crate::work::{Action, Elsewhere, FoundAlignment, WorkError};

/// What matching is called while it runs.
pub const MATCHING: &str = "Finding where a photo lies";

/// Why a photo did not find its place, and what to do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refused {
    /// The reason.
    pub reason: String,
    /// The remedy.
    pub remedy: String,
}

/// Photos that find their place: one at a time, since each takes two photos into memory.
#[derive(Debug, Default)]
pub struct Matching {
    /// These come next.
    waiting: VecDeque<PhotoId>,
    running: Option<PhotoId>,
    /// Found, and not recorded yet.
    found: Option<Box<FoundAlignment>>,
    refused: BTreeMap<PhotoId, Refused>,
    /// Never begun again unasked: what was taken back stays taken back.
    tried: BTreeSet<PhotoId>,
    /// The jobs of other units have been looked through.
    pub(super) others_known: bool,
}

impl Matching {
    /// Whether this photo is being matched, or will be.
    #[must_use]
    pub fn is_running(&self, photo: &PhotoId) -> bool {
        self.running.as_ref() == Some(photo) || self.waiting.contains(photo)
    }

    /// Why this photo did not find its place.
    #[must_use]
    pub fn refusal(&self, photo: &PhotoId) -> Option<&Refused> {
        self.refused.get(photo)
    }

    /// What was found of this photo and waits for a word, since landmarks are being placed on it.
    #[must_use]
    pub fn found(&self, photo: &PhotoId) -> Option<&FoundAlignment> {
        self.found.as_deref().filter(|found| found.photo == *photo)
    }

    /// Forgets those that wait.
    pub(super) fn stop_waiting(&mut self) {
        self.waiting.clear();
    }
}

impl Bench {
    /// Photos of other units that one of this job can be matched with.
    fn elsewhere(&self) -> Vec<Elsewhere> {
        let maps = self.session.maps();
        self.others
            .iter()
            .flat_map(|job| job.aligned(maps))
            .collect()
    }

    /// Whether the photo on the table lies nowhere and could be matched.
    pub(super) fn can_match(&self) -> bool {
        self.photo_state()
            .filter(|photo| photo.alignment().is_none() && !self.session.maps().is_empty())
            .is_some_and(|photo| {
                self.session
                    .plan_automatic_beside(&photo.facts.photo, None, &self.elsewhere())
                    .is_ok()
            })
    }

    /// Has these photos find their place, but for those that lie somewhere or were tried before.
    pub(super) fn let_match<'a>(&mut self, photos: impl IntoIterator<Item = &'a PhotoId>) {
        if self.session.maps().is_empty() {
            return;
        }
        for photo in photos {
            let state = self.session.state().photos.get(photo);
            let lies = state.is_none_or(|photo| photo.alignment().is_some());
            if !lies && !self.matching.tried.contains(photo) && !self.matching.is_running(photo) {
                self.matching.waiting.push_back(photo.clone());
            }
        }
    }

    /// The name of a photo of the job, fit to be shown.
    pub(super) fn name_of(&self, photo: &PhotoId) -> String {
        let name = self
            .session
            .state()
            .photos
            .get(photo)
            .map_or_else(String::new, |photo| photo.facts.name.clone());
        crate::paper::shown(&name)
    }

    /// An alignment that a photo found by itself, in words: what it is, and how far to believe it.
    #[must_use]
    pub fn proposal(&self, alignment: &Alignment, matched: &Matched) -> String {
        let against = match self.name_of(&matched.against) {
            name if name.is_empty() => (matched.unit.as_ref()).map_or_else(
                || "a photo of another unit".to_owned(),
                |unit| format!("a photo of unit {}", crate::paper::shown(unit)),
            ),
            name => name,
        };
        format!(
            "Laid on the map by itself, matched with {against}: {}. It is a proposal: see whether the marks lie on the joints.",
            believed(
                matched.trust,
                matched.expected_error_px,
                alignment.px_per_mm
            )
        )
    }

    /// The same of what is not recorded yet.
    #[must_use]
    pub fn found_words(&self, found: &FoundAlignment) -> String {
        let trust = found.trust.agreement.min(found.trust.coverage);
        let scale = self
            .session
            .maps()
            .iter()
            .find(|map| map.board == found.view.board)
            .and_then(|map| {
                let middle = crate::align::middle_of(map);
                found.projection.scale_at(middle)
            });
        format!(
            "It found a place by itself, matched with {}: {}. What is clicked here stands above it.",
            crate::paper::shown(&found.against()),
            believed(trust, found.expected_error_px, scale.unwrap_or(f64::NAN))
        )
    }
}

/// Trust and expected error.
fn believed(trust: f64, error_px: f64, px_per_mm: f64) -> String {
    let mm = error_px / px_per_mm;
    let off = if mm.is_finite() {
        format!("{error_px:.1} px ({mm:.2} mm)")
    } else {
        format!("{error_px:.1} px")
    };
    format!("trust {trust:.2} of 1; expect joints about {off} off, tall parts more")
}

impl Desk {
    /// The person asks for it: tried again even where it was refused or taken back before.
    pub(super) fn find_place(&mut self) {
        let Some(bench) = &mut self.model.bench else {
            return;
        };
        let Some(photo) = bench.photo_state() else {
            return;
        };
        let by_landmarks = photo
            .alignment()
            .is_some_and(|alignment| alignment.automatic.is_none());
        let (id, name) = (photo.facts.photo.clone(), photo.facts.name.clone());
        if by_landmarks {
            self.model.tell(
                format!(
                    "{} was laid on the map by a person, and stays as it is.",
                    crate::paper::shown(&name)
                ),
                "Look over its landmarks (K) where it does not lie right.",
                false,
            );
            return;
        }
        if bench.matching.is_running(&id) {
            return;
        }
        match bench
            .session
            .plan_automatic_beside(&id, None, &bench.elsewhere())
        {
            Ok(_) => {
                bench.matching.refused.remove(&id);
                bench.matching.waiting.push_front(id);
            }
            Err(error) => self.trouble(&error),
        }
    }

    /// Records what was found, or begins with the next photo that waits.
    pub(super) fn match_when_ready(&mut self, ctx: &Context) {
        let Some(bench) = &mut self.model.bench else {
            return;
        };
        if bench.lent {
            return;
        }
        if let Some(found) = &bench.matching.found {
            // Nobody's clicks are taken from under their hand.
            let placing = self.model.page == Page::Align
                && bench.draft.photo == found.photo
                && !bench.draft.placed.is_empty();
            if !placing {
                self.take_match();
            }
            return;
        }
        if bench.matching.running.is_some() {
            return;
        }
        if !bench.session.may_write() {
            bench.matching.waiting.clear();
            return;
        }
        while let Some(photo) = bench.matching.waiting.pop_front() {
            let elsewhere = bench.elsewhere();
            let Ok(task) = bench
                .session
                .plan_automatic_beside(&photo, None, &elsewhere)
            else {
                if bench.matching.others_known {
                    continue;
                }
                // Another unit's photo may be found yet.
                bench.matching.waiting.push_front(photo);
                return;
            };
            bench.matching.running = Some(photo.clone());
            bench.matching.tried.insert(photo.clone());
            let dir = bench.session.dir().to_path_buf();
            self.background
                .start(ctx, MATCHING, false, move |progress| {
                    let found = task.run(progress).map(Box::new);
                    Done::Matched(dir, photo, found)
                });
            return;
        }
    }

    /// Takes in what came of matching.
    pub(super) fn matched(
        &mut self,
        dir: &Path,
        photo: PhotoId,
        found: Result<Box<FoundAlignment>, WorkError>,
    ) {
        let Some(bench) = &mut self.model.bench else {
            return;
        };
        if bench.session.dir() != dir || bench.matching.running.as_ref() != Some(&photo) {
            return;
        }
        bench.matching.running = None;
        match found {
            Ok(found) => bench.matching.found = Some(found),
            Err(error) if was_stopped(&error) => {}
            Err(error) => {
                let (reason, remedy) = told(&error);
                let name = bench.name_of(&photo);
                // The reason begins with the name as well.
                let short = reason.strip_prefix(&name).unwrap_or(&reason).trim();
                let text = format!(
                    "{name} did not find its place on the map, {}.",
                    short.trim_end_matches('.')
                );
                self.model
                    .tell(text, "Place landmarks on it (K) instead.", false);
                self.with_bench(|bench| {
                    bench
                        .matching
                        .refused
                        .insert(photo, Refused { reason, remedy });
                });
            }
        }
    }

    /// Records the place that was found, unless a person has laid the photo meanwhile.
    pub(super) fn take_match(&mut self) {
        let Some(bench) = &mut self.model.bench else {
            return;
        };
        let Some(found) = bench.matching.found.take() else {
            return;
        };
        let (photo, view) = (found.photo.clone(), found.view.clone());
        let laid = bench
            .session
            .state()
            .photos
            .get(&photo)
            .and_then(|photo| photo.alignment())
            .is_some_and(|alignment| alignment.automatic.is_none());
        if laid {
            return;
        }
        let (trust, error) = (
            found.trust.agreement.min(found.trust.coverage),
            found.expected_error_px,
        );
        let against = crate::paper::shown(&found.against());
        if self.write_down(Action::AlignAutomatically(found)).is_none() {
            return;
        }
        let Some(bench) = &mut self.model.bench else {
            return;
        };
        let scale = bench
            .session
            .state()
            .photos
            .get(&photo)
            .and_then(|photo| photo.alignment())
            .map_or(f64::NAN, |alignment| alignment.px_per_mm);
        let text = format!(
            "{} was laid on the map by itself, matched with {against}: {}.",
            bench.name_of(&photo),
            believed(trust, error, scale)
        );
        let on_table = bench.photo.as_ref() == Some(&photo);
        let untouched = bench.show != Show::Loose || bench.stops.is_empty();
        // What is being said is said of the joint that it was begun on.
        let speaking = self.model.pending != Pending::Nothing;
        if on_table && !speaking && (untouched || self.model.page == Page::Align) {
            bench.lay_on_table(view, photo);
            if self.model.page == Page::Align {
                self.model.page = Page::Table;
            }
        } else {
            bench.redraw();
        }
        self.model.tell(
            text,
            "It is a proposal: see whether the marks lie on the joints. Ctrl Z takes it back.",
            false,
        );
    }
}

fn was_stopped(error: &WorkError) -> bool {
    match error {
        WorkError::Cancelled(_) => true,
        WorkError::Align(refusal) => refusal.kind == RefusalKind::Cancelled,
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn trust_and_error_are_said_in_pixels_and_millimetres() {
        let words = believed(0.834, 2.04, 24.0);
        assert_eq!(
            words,
            "trust 0.83 of 1; expect joints about 2.0 px (0.09 mm) off, tall parts more"
        );
        assert!(!believed(0.9, 1.0, f64::NAN).contains("mm"));
        for word in ["ok", "good", "sound", "safe"] {
            assert!(!words.split(' ').any(|w| w == word));
        }
    }
}
