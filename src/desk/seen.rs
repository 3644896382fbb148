//! What the panels draw, worked out from the record after every change.

use super::marker::State;
use super::model::{Bench, Seen, Show};
use super::stages::Standing;
use super::stops::{self, Stop};
use super::strip::Tile;
use super::viewer::{Mark, PartName};
use crate::paper::gate_lines;
use crate::record::{PhotoId, Stage, Verdict, eye_and_hint};
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

    /// The first stop that nobody has judged.
    #[must_use]
    pub fn first_unseen(&self) -> Option<usize> {
        (0..self.stops.len()).find(|&i| self.state_of(i) == State::Unseen)
    }

    /// What is known of a stop.
    #[must_use]
    pub fn state_of(&self, index: usize) -> State {
        let place = self
            .stops
            .get(index)
            .and_then(|stop| self.session.state().place(&stop.target));
        State::from(place.map(|place| place.verdict))
    }

    /// Works out everything that is drawn.
    pub fn redraw(&mut self) {
        let states: Vec<State> = (0..self.stops.len()).map(|i| self.state_of(i)).collect();
        let mut seen = Seen {
            tiles: self.tiles(&states),
            stages: stage_chips(self),
            photos: self.photos_here(),
            eye_and_hint: eye_and_hint(self.session.state()),
            judged: states
                .iter()
                .filter(|state| !matches!(state, State::Unseen | State::CannotBeJudged))
                .count(),
            blocked: states
                .iter()
                .filter(|state| **state == State::CannotBeJudged)
                .count(),
            median_scale: self.median_scale(),
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

    fn median_scale(&self) -> Option<f64> {
        let scales: Vec<f64> = self
            .stops
            .iter()
            .filter_map(|stop| self.session.state().place(&stop.target))
            .filter(|place| place.verdict != Verdict::CannotBeJudged)
            .filter_map(|place| place.look.px_per_mm())
            .collect();
        median(&scales)
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

/// How each stage stands: passed ones, the next one with its reasons, later ones.
fn stage_chips(bench: &Bench) -> Vec<(Stage, Standing)> {
    let mut met = false;
    let lines = gate_lines(bench.session.state(), bench.session.maps());
    Stage::ALL
        .into_iter()
        .zip(lines)
        .map(|(stage, line)| {
            let standing = if met {
                Standing::Later
            } else if line.reasons.is_empty() {
                Standing::Done
            } else {
                met = true;
                Standing::NotYet(line.reasons.len())
            };
            (stage, standing)
        })
        .collect()
}
