//! Placing landmarks: the draft of an alignment, fitted anew with every click.

use super::app::Desk;
use super::model::{Bench, Draft, Page, Show};
use crate::align::{LandmarkFit, Refusal, from_landmarks, two_more_here};
use crate::board::{BoardMap, Place, resolve};
use crate::geometry::PhotoPoint;
use crate::record::{PhotoId, View};
use crate::work::{Action, with_pins};

/// The map with the pins that serve as landmarks, the size of the photo, and how they fit.
type Fitted = (BoardMap, (u32, u32), Result<LandmarkFit, Refusal>);

/// What to look for where a pin serves as a landmark.
const PIN: &str = "middle of the land";

impl Bench {
    /// Begins with what the photo on the table has already.
    pub(super) fn begin_draft(&mut self) {
        let Some(photo) = self.photo_state() else {
            self.put_draft_aside();
            return;
        };
        let (id, name) = (photo.facts.photo.clone(), photo.view.clone());
        if self.draft.photo == id && !self.draft.placed.is_empty() {
            return;
        }
        // Clicks on another photo wait until that one is on the table again.
        self.put_draft_aside();
        if let Some(kept) = self.drafts.remove(&id).filter(|kept| kept.view == name) {
            self.draft = kept;
            self.renew_draft();
            return;
        }
        let Some(photo) = self.photo_state() else {
            return;
        };
        let placed = photo
            .alignment()
            .map(|alignment| {
                alignment
                    .landmarks
                    .iter()
                    .map(|mark| {
                        (
                            mark.name.clone(),
                            PhotoPoint::new(mark.at_px[0], mark.at_px[1]),
                        )
                    })
                    .collect()
            })
            .unwrap_or_default();
        self.draft = Draft {
            photo: photo.facts.photo.clone(),
            view: photo.view.clone(),
            placed,
            ..Draft::default()
        };
        self.name_landmarks();
        self.refit();
        self.go_to_next_open();
    }

    /// Takes names and fit from the map anew, which may be another by now. Clicks stay, and so do
    /// pins that were asked for and what is next.
    pub(super) fn renew_draft(&mut self) {
        let next = self.draft.next_name().map(|(name, _)| name.clone());
        let pins: Vec<_> = (self.draft.names.iter())
            .filter(|(_, look_for)| look_for == PIN)
            .cloned()
            .collect();
        self.name_landmarks();
        for pin in pins {
            if !self.draft.names.iter().any(|(name, _)| *name == pin.0) {
                self.draft.names.push(pin);
            }
        }
        self.refit();
        let names = &self.draft.names;
        self.draft.next = next.and_then(|next| names.iter().position(|(name, _)| *name == next));
        if self.draft.next.is_none() {
            self.go_to_next_open();
        }
    }

    /// Keeps the clicks that were not laid on the map yet, by their photo.
    fn put_draft_aside(&mut self) {
        let before = std::mem::take(&mut self.draft);
        if !before.placed.is_empty() {
            self.drafts.insert(before.photo.clone(), before);
        }
    }

    /// The landmarks of the map that the draft's view has.
    pub(super) fn name_landmarks(&mut self) {
        let view = self.draft.view.clone();
        let map = view.and_then(|view| {
            self.session
                .maps()
                .iter()
                .find(|map| map.board == view.board)
        });
        let mut names: Vec<(String, String)> = map
            .map(|map| {
                map.landmarks
                    .iter()
                    .map(|mark| (mark.name.clone(), mark.look_for.clone()))
                    .collect()
            })
            .unwrap_or_default();
        for (name, _) in &self.draft.placed {
            if !names
                .iter()
                .any(|(known, _)| known.eq_ignore_ascii_case(name))
            {
                names.push((name.clone(), PIN.to_owned()));
            }
        }
        self.draft.names = names;
    }

    /// Places the landmark that is next, and goes on.
    pub(super) fn place_landmark(&mut self, at: PhotoPoint) {
        let Some((name, _)) = self.draft.next_name().cloned() else {
            return;
        };
        self.draft.placed.retain(|(placed, _)| *placed != name);
        self.draft.placed.push((name, at));
        self.refit();
        self.go_to_next_open();
    }

    /// Takes a landmark away again, and makes it the next one.
    pub(super) fn unplace(&mut self, name: &str) {
        self.draft.placed.retain(|(placed, _)| placed != name);
        if let Some(index) = self.draft.names.iter().position(|(known, _)| known == name) {
            self.draft.next = Some(index);
        }
        self.refit();
    }

    fn go_to_next_open(&mut self) {
        let open = |name: &str| !self.draft.placed.iter().any(|(placed, _)| placed == name);
        // Where the fit stands, the one that helps most is next: not one that the photo ends before.
        if let Some((helpful, _)) = self.draft.helpful.first()
            && let Some(next) = self
                .draft
                .names
                .iter()
                .position(|(name, _)| name == helpful)
        {
            self.draft.next = Some(next);
            return;
        }
        if matches!(self.draft.fit, Some(Ok(_))) {
            self.draft.next = None;
            return;
        }
        let n = self.draft.names.len();
        let from = self.draft.next.unwrap_or(0);
        self.draft.next = (0..n)
            .map(|i| (from + i) % n)
            .find(|&i| open(&self.draft.names[i].0));
    }

    /// Fits what is placed.
    fn refit(&mut self) {
        let fitted = self.fit();
        self.draft.helpful = fitted
            .as_ref()
            .and_then(|(map, size, fit)| Some((map, size, fit.as_ref().ok()?)))
            .map(|(map, size, fit)| {
                two_more_here(map, fit, &self.draft.placed, *size)
                    .into_iter()
                    .map(|more| (more.name, PhotoPoint::new(more.near_px[0], more.near_px[1])))
                    .collect()
            })
            .unwrap_or_default();
        self.draft.fit = fitted.map(|(_, _, fit)| fit);
    }

    /// Shows a photo that has just been laid on its map, at the first stop that it shows.
    pub(super) fn lay_on_table(&mut self, view: View, photo: PhotoId) {
        self.put_draft_aside();
        self.drafts.remove(&photo);
        self.show = Show::Side(view);
        self.photo = Some(photo);
        self.here = None;
        self.refresh();
        let shown = self.photo_state().and_then(|photo| {
            (0..self.stops.len()).find(|&i| self.stops[i].on(photo).is_some() && self.is_unseen(i))
        });
        self.here = shown.or(self.here);
        self.follow();
        self.redraw();
    }

    fn fit(&self) -> Option<Fitted> {
        if self.draft.placed.len() < 2 {
            return None;
        }
        let view = self.draft.view.as_ref()?;
        let map = self
            .session
            .maps()
            .iter()
            .find(|map| map.board == view.board)?;
        let map = with_pins(map, view.side, &self.draft.placed);
        let size = self
            .session
            .state()
            .photos
            .get(&self.draft.photo)?
            .facts
            .size;
        let size = (size[0], size[1]);
        let fit = from_landmarks(&map, view.side, &self.draft.placed, size);
        Some((map, size, fit))
    }
}

impl Desk {
    /// The landmarks page speaks of the photo on the table.
    pub(super) fn draft_follows(&mut self) {
        if self.model.page == Page::Align {
            self.with_bench(|bench| {
                if bench.photo.as_ref() != Some(&bench.draft.photo) {
                    bench.begin_draft();
                }
            });
        }
    }

    pub(super) fn place_photo(&mut self, view: View) {
        let Some(photo) = self
            .model
            .bench
            .as_ref()
            .and_then(|bench| bench.photo.clone())
        else {
            return;
        };
        if self.record(Action::PlacePhoto {
            photo,
            view: view.clone(),
        }) {
            self.with_bench(|bench| {
                if bench.draft.view.as_ref() != Some(&view) {
                    bench.draft.placed.clear();
                }
                bench.draft.view = Some(view);
                bench.draft.next = Some(0);
                bench.name_landmarks();
                bench.refit();
            });
        }
    }

    pub(super) fn pin_as_landmark(&mut self, pin: &str) {
        let name = pin.trim().to_uppercase();
        let Some(bench) = &mut self.model.bench else {
            return;
        };
        let Some(view) = bench.draft.view.clone() else {
            return;
        };
        let map = bench
            .session
            .maps()
            .iter()
            .find(|map| map.board == view.board);
        let known = map.is_some_and(|map| {
            matches!(
                resolve(std::slice::from_ref(map), &name),
                Ok(Place::Joint { .. })
            )
        });
        if !known {
            self.model.tell(
                format!("There is no pin {name} on this board's map."),
                "Type a pin's address, such as J4.3.",
                true,
            );
            return;
        }
        if !bench
            .draft
            .names
            .iter()
            .any(|(name_known, _)| *name_known == name)
        {
            bench.draft.names.push((name.clone(), PIN.to_owned()));
        }
        bench.draft.next = bench.draft.names.iter().position(|(n, _)| *n == name);
        bench.draft.pin.clear();
    }

    pub(super) fn accept_alignment(&mut self) {
        let Some(bench) = &self.model.bench else {
            return;
        };
        let Some(view) = bench.draft.view.clone() else {
            return;
        };
        let photo = bench.draft.photo.clone();
        let placed = bench.draft.placed.clone();
        if self.record(Action::Align {
            photo: photo.clone(),
            view: view.clone(),
            placed,
        }) {
            self.with_bench(|bench| {
                bench.lay_on_table(view.clone(), photo);
                // What waited for a photo to be matched with can go on now.
                let waiting: Vec<_> = bench
                    .session
                    .state()
                    .photos
                    .values()
                    .filter(|other| other.view.as_ref().is_none_or(|shows| *shows == view))
                    .map(|other| other.facts.photo.clone())
                    .collect();
                bench.let_match(&waiting);
            });
            self.model.page = Page::Table;
        }
    }
}
