//! What the panels draw, worked out from the record after every change.

use super::marker::State;
use super::model::{Bench, Seen, Show};
use super::stages::Standing;
use super::stops::{self, Stop};
use super::strip::Tile;
use super::viewer::{Mark, PartName};
use crate::paper::gate_lines;
use crate::record::{
    CheckKind, EventId, Look, PhotoId, ReadingMode, Stage, Standing as Counted, Subject, Target,
    Verdict, describe, eye_and_hint, standing,
};
use crate::stats::median;

impl Bench {
    /// Takes the stops and everything drawn anew from the record. Stays at the same stop.
    pub fn refresh(&mut self) {
        let before = self.stop().map(|stop| stop.target.clone());
        self.stops = self.stops_now();
        self.here = match (before, self.stops.is_empty()) {
            (_, true) => None,
            (Some(target), false) => {
                let same = self.stops.iter().position(|stop| stop.target == target);
                // Where it is gone, the one that took its place in the round.
                let near = self.here.unwrap_or(0).min(self.stops.len() - 1);
                Some(same.unwrap_or(near))
            }
            (None, false) => Some(self.first_unseen().unwrap_or(0)),
        };
        if self.show == Show::Loose {
            // Spots are named by their order: a reading of other places is of none of these.
            let key = self.hint_key();
            if let Some(photo) = &self.photo
                && (self.hints.get(photo)).is_some_and(|(known, _)| key.as_ref() != Some(known))
            {
                self.hints.remove(photo);
            }
        }
        self.redraw();
    }

    fn stops_now(&self) -> Vec<Stop> {
        match &self.show {
            Show::Side(view) => self
                .session
                .maps()
                .iter()
                .find(|map| map.board == view.board)
                .map(|map| stops::of_side(map, view.side))
                .unwrap_or_default(),
            Show::Loose => self
                .photo
                .as_ref()
                .map(|photo| stops::of_photo(self.session.state(), photo, &self.clicked))
                .unwrap_or_default(),
        }
    }

    /// The first stop that nobody has looked at closely enough.
    #[must_use]
    pub fn first_unseen(&self) -> Option<usize> {
        (0..self.stops.len()).find(|&i| self.is_unseen(i))
    }

    /// Whether a stop counts as unseen: nobody has judged it, or from too far away.
    #[must_use]
    pub fn is_unseen(&self, index: usize) -> bool {
        (self.stops.get(index))
            .is_some_and(|stop| matches!(self.counted(stop), Counted::Unseen | Counted::TooCoarse))
    }

    /// How a stop counts: a joint as the gate counts it, a place that no map has by its verdict.
    fn counted(&self, stop: &Stop) -> Counted {
        let state = self.session.state();
        if let Target::Joint(joint) = &stop.target {
            return standing(state, joint);
        }
        match state.place(&stop.target) {
            None => Counted::Unseen,
            Some(place) if place.cannot_be_judged => Counted::CannotBeJudged,
            Some(place) => Counted::Judged(place.look),
        }
    }

    /// What is known of a stop. A look from too far away clears nothing, and looks like it.
    #[must_use]
    pub fn state_of(&self, index: usize) -> State {
        let Some(stop) = self.stops.get(index) else {
            return State::Unseen;
        };
        let place = self.session.state().place(&stop.target);
        let too_far = self.counted(stop) == Counted::TooCoarse;
        match place.map(|place| place.verdict) {
            Some(Verdict::NoFaultSeen | Verdict::Accepted) if too_far => State::TooFar,
            verdict => State::from(verdict),
        }
    }

    /// That a stop was looked at from too far away, and from how far; `None` where it was not.
    #[must_use]
    pub fn far_words(&self, stop: &Stop) -> Option<String> {
        if self.counted(stop) != Counted::TooCoarse {
            return None;
        }
        let state = self.session.state();
        let look = state.place(&stop.target)?.look;
        Some(far(look, state.demand().least_px_per_mm))
    }

    /// Works out everything that is drawn.
    pub fn redraw(&mut self) {
        let states: Vec<State> = (0..self.stops.len()).map(|i| self.state_of(i)).collect();
        let counted: Vec<Counted> = self.stops.iter().map(|stop| self.counted(stop)).collect();
        let count = |fits: fn(&Counted) -> bool| counted.iter().filter(|one| fits(one)).count();
        let scales: Vec<f64> = (counted.iter())
            .filter_map(|counted| match counted {
                Counted::Judged(look) => look.px_per_mm(),
                _ => None,
            })
            .collect();
        let mut seen = Seen {
            tiles: self.tiles(&states),
            stages: stage_chips(self),
            photos: self.photos_here(),
            eye_and_hint: eye_and_hint(self.session.state()),
            judged: count(|one| matches!(one, Counted::Judged(_))),
            blocked: count(|one| *one == Counted::CannotBeJudged),
            too_far: count(|one| *one == Counted::TooCoarse),
            median_scale: median(&scales),
            would_undo: self.words_of_event(self.session.undoable_here()),
            would_redo: self.words_of_event(self.session.returning_here()),
            can_match: self.can_match(),
            ..Seen::default()
        };
        if let Some(photo) = self.photo_state() {
            for (i, stop) in self.stops.iter().enumerate() {
                let Some(on) = stop.on(photo) else { continue };
                let starts =
                    !stop.part.is_empty() && !seen.names.iter().any(|name| name.name == stop.part);
                if starts {
                    let up = crate::geometry::PhotoVector::new(-on.radius_px, -on.radius_px * 3.4);
                    seen.names.push(PartName {
                        at: on.at + up,
                        name: stop.part.clone(),
                    });
                }
                seen.marks.push(Mark {
                    at: on.at,
                    radius_px: on.radius_px,
                    state: states[i],
                });
                seen.stop_of_mark.push(i);
            }
        }
        self.seen = seen;
    }

    fn words_of_event(&self, id: Option<EventId>) -> Option<String> {
        let event = self.session.event(id?)?;
        let words = describe(event, self.session.maps(), self.session.state());
        Some(crate::paper::shown(words.trim_end_matches('.')))
    }

    fn tiles(&self, states: &[State]) -> Vec<Tile> {
        let mut before = "";
        self.stops
            .iter()
            .zip(states)
            .map(|(stop, state)| {
                let starts_part = before != stop.part;
                before = &stop.part;
                let hint = (!self.is_hidden(stop))
                    .then(|| self.best_hint(stop))
                    .flatten();
                Tile {
                    name: stop.name.clone(),
                    state: *state,
                    far: self.far_words(stop),
                    hint,
                    starts_part,
                }
            })
            .collect()
    }

    /// The greatest likelihood that the hint gave a stop on any photo looked at so far.
    fn best_hint(&self, stop: &Stop) -> Option<f32> {
        self.hints
            .iter()
            .filter(|(photo, _)| {
                matches!(self.show, Show::Side(_)) || self.photo.as_ref() == Some(photo)
            })
            .filter_map(|(_, (_, report))| report.joints.iter().find(|hint| hint.id == stop.name))
            .filter_map(|hint| hint.likelihood)
            .reduce(f64::max)
            .map(|likelihood| likelihood as f32)
    }

    /// Photos that can be chosen: of a side, those that show the current stop first, the closest
    /// look before the others; of loose ones, all by name.
    fn photos_here(&self) -> Vec<PhotoId> {
        let state = self.session.state();
        match &self.show {
            Show::Side(view) => {
                let mut photos: Vec<_> = state.photos_of(&view.board, view.side).collect();
                photos.sort_by(|a, b| a.facts.name.cmp(&b.facts.name));
                let scale = |photo: &crate::record::PhotoState| {
                    self.stop()
                        .and_then(|stop| stop.on(photo)?.px_per_mm)
                        .unwrap_or(0.0)
                };
                photos.sort_by(|a, b| {
                    scale(b)
                        .total_cmp(&scale(a))
                        .then(a.alignments.is_empty().cmp(&b.alignments.is_empty()))
                });
                photos
                    .into_iter()
                    .map(|photo| photo.facts.photo.clone())
                    .collect()
            }
            Show::Loose => {
                let mut photos: Vec<_> = state
                    .photos
                    .values()
                    .filter(|photo| photo.alignment().is_none())
                    .collect();
                photos.sort_by(|a, b| a.facts.name.cmp(&b.facts.name));
                photos
                    .into_iter()
                    .map(|photo| photo.facts.photo.clone())
                    .collect()
            }
        }
    }

    /// Puts the closest photo of the current stop on the table where the one there does not
    /// show it.
    pub fn follow(&mut self) {
        self.seen.photos = self.photos_here();
        if matches!(self.show, Show::Side(_))
            && self.here.is_some()
            && self.stop_on_photo().is_some()
        {
            return;
        }
        if self.show == Show::Loose
            && self
                .photo
                .as_ref()
                .is_some_and(|p| self.seen.photos.contains(p))
        {
            return;
        }
        let first = self.seen.photos.first().cloned();
        let shows = |bench: &Self, id: &PhotoId| {
            bench
                .session
                .state()
                .photos
                .get(id)
                .zip(bench.stop())
                .is_some_and(|(p, s)| s.on(p).is_some())
        };
        let keep = self
            .photo
            .as_ref()
            .is_some_and(|p| self.seen.photos.contains(p));
        if first.as_ref().is_some_and(|id| shows(self, id)) || !keep {
            self.photo = first;
            if self.show == Show::Loose {
                self.refresh();
            }
        }
    }
}

/// A look from too far away, in words.
fn far(look: Look, least_px_per_mm: f64) -> String {
    /// What a fit leaves of a scale that is a whole number, px/mm.
    const DUST: f64 = 1e-6;
    match look.px_per_mm() {
        // Rounded down: one that falls short never reads as if it were enough.
        Some(scale) => format!(
            "looked at from too far away ({} of {least_px_per_mm} px/mm)",
            ((scale + DUST) * 10.0).floor() / 10.0
        ),
        None => {
            format!("looked at on a photo of unknown scale ({least_px_per_mm} px/mm asked)")
        }
    }
}

/// How each stage stands: those whose step was taken, the one that is open, the next one with its
/// reasons, later ones.
fn stage_chips(bench: &Bench) -> Vec<(Stage, Standing)> {
    let mut met = false;
    let lines = gate_lines(bench.session.state(), bench.session.maps());
    Stage::ALL
        .into_iter()
        .zip(lines)
        .map(|(stage, line)| {
            let standing = if met {
                Standing::Later
            } else if line.reasons.is_empty() && bench.step_was_taken(stage) {
                Standing::Done
            } else if line.reasons.is_empty() {
                Standing::Open
            } else {
                met = true;
                Standing::NotYet(line.reasons.len())
            };
            (stage, standing)
        })
        .collect()
}

impl Bench {
    /// Whether the one step that a stage permits was taken and still holds: something was read or
    /// tried that takes it. Nothing against power is not power on.
    fn step_was_taken(&self, stage: Stage) -> bool {
        let state = self.session.state();
        let read = |fits: fn(&Subject) -> bool| {
            (state.measurements.iter())
                .filter(|(subject, _)| fits(subject))
                .any(|(_, readings)| readings.iter().any(|reading| reading.stale.is_none()))
        };
        let tried = || {
            (state.checks.iter())
                .filter(|(kind, _)| matches!(kind, CheckKind::Function { .. }))
                .any(|(_, checks)| checks.iter().any(|check| check.stale.is_none()))
        };
        match stage {
            Stage::Cold => read(|subject| is_rail(subject, ReadingMode::Unloaded)),
            Stage::Supply => read(|subject| is_rail(subject, ReadingMode::Loaded)),
            Stage::Load => read(|subject| matches!(subject, Subject::TestPoint { .. })) || tried(),
            Stage::Function => state.closed_up > state.reopened,
            // Nothing comes after it here: it was closed up and tried again since.
            Stage::Closed => true,
        }
    }
}

fn is_rail(subject: &Subject, wanted: ReadingMode) -> bool {
    matches!(subject, Subject::Rail { mode, .. } if *mode == wanted)
}
