//! Walking the round: to the next joint, to a typed one, to another side or photo.

use crate::desk::app::Desk;
use crate::desk::model::{Bench, Pending, Show};
use crate::record::{PhotoId, Target, View};

impl Desk {
    pub(super) fn go_to(&mut self, index: usize) {
        self.put_words_away();
        self.with_bench(|bench| {
            if index < bench.stops.len() {
                bench.here = Some(index);
                bench.twins.on_glass = None;
                bench.follow();
                bench.redraw();
            }
        });
    }

    pub(super) fn walk(&mut self, step: i32) {
        let Some(bench) = &self.model.bench else {
            return;
        };
        let Some(here) = bench.here else { return };
        let n = bench.stops.len();
        let mut at = here;
        for _ in 0..n {
            let forward = step > 0;
            if (forward && at + 1 >= n) || (!forward && at == 0) {
                break;
            }
            at = if forward { at + 1 } else { at - 1 };
            if !bench.only_unseen || bench.is_unseen(at) {
                self.go_to(at);
                return;
            }
        }
        if step > 0 && n > 0 {
            let unseen = (0..n).filter(|&i| bench.is_unseen(i)).count();
            let (text, remedy) = match unseen {
                0 => (
                    "This is the end of the round; nothing in it is unseen.".to_owned(),
                    "The gate (G) says what is still missing.",
                ),
                some => (
                    format!(
                        "This is the end of the round; {some} in it are unseen{}.",
                        too_far_of(bench)
                    ),
                    "U leads to the next one.",
                ),
            };
            self.model.tell(text, remedy, false);
        }
    }

    pub(super) fn next_unseen(&mut self) {
        let Some(bench) = &self.model.bench else {
            return;
        };
        let n = bench.stops.len();
        let from = bench.here.map_or(0, |here| here + 1);
        let found = (0..n)
            .map(|i| (from + i) % n.max(1))
            .find(|&i| bench.is_unseen(i));
        let text = match bench.seen.blocked {
            0 => "Nothing here is unseen.".to_owned(),
            some => format!("Nothing here is unseen; {some} cannot be judged."),
        };
        match found {
            Some(index) => self.go_to(index),
            None => self.model.tell(text, "", false),
        }
    }

    /// To the unseen joint that the hint ranks first on this photo. Hints that stay hidden until
    /// the joint was judged lead nowhere: where they led would tell.
    pub(super) fn next_by_hint(&mut self) {
        let Some(bench) = &self.model.bench else {
            return;
        };
        let first = (bench.stops.iter().enumerate())
            .filter(|(index, stop)| {
                bench.here != Some(*index) && bench.is_unseen(*index) && !bench.is_hidden(stop)
            })
            .filter_map(|(index, stop)| Some((bench.hint(stop)?.1.rank?, index)))
            .min();
        let read = (bench.photo.as_ref()).is_some_and(|photo| bench.hints.contains_key(photo));
        match first {
            Some((_, index)) => self.go_to(index),
            None if !read => self.model.tell(
                "The joints of this photo are not read yet.",
                "Wait until they are, or go on with U.",
                false,
            ),
            None => self.model.tell(
                "No other joint of this photo is unseen and has a hint that is shown.",
                "U leads to the next unseen joint of the round.",
                false,
            ),
        }
    }

    pub(super) fn go_to_typed(&mut self, text: &str) {
        let wanted = text.trim();
        let Some(bench) = &self.model.bench else {
            return;
        };
        let found = bench
            .stops
            .iter()
            .position(|stop| stop.name.eq_ignore_ascii_case(wanted))
            .or_else(|| {
                bench
                    .stops
                    .iter()
                    .position(|stop| stop.part.eq_ignore_ascii_case(wanted))
            });
        if let Some(index) = found {
            self.go_to(index);
            return;
        }
        // On another side or board of this job.
        let elsewhere = bench
            .session
            .targets(wanted)
            .ok()
            .and_then(|targets| targets.into_iter().next());
        if let Some(Target::Joint(key)) = elsewhere {
            self.show_side(Show::Side(View {
                board: key.board.clone(),
                side: key.side,
            }));
            let target = Target::Joint(key);
            let index = self
                .model
                .bench
                .as_ref()
                .and_then(|bench| bench.stops.iter().position(|stop| stop.target == target));
            if let Some(index) = index {
                self.go_to(index);
                return;
            }
        }
        self.model.pending = Pending::Nothing;
        self.model.tell(
            format!("There is no {wanted} on the maps of this job."),
            "Type a reference as it is printed on the board, such as J4.3 or U7.",
            true,
        );
    }

    /// Whatever is being said belongs to the place that it was begun on. What was typed is shown
    /// once more, so that it can be typed again where it belongs.
    pub(in crate::desk) fn put_words_away(&mut self) {
        let typed = match std::mem::take(&mut self.model.pending) {
            Pending::Obstacle(text) | Pending::Note(text, _) => text,
            Pending::Fault { .. } | Pending::GoTo(_) | Pending::Nothing => return,
        };
        if !typed.trim().is_empty() {
            self.model.tell(
                format!("Not written down: “{}”.", crate::paper::shown(typed.trim())),
                "Go back to the joint that it is about, and type it again there.",
                false,
            );
        }
    }

    /// Puts a photo on the table; one that could not be opened is tried again.
    pub(super) fn show_photo(&mut self, photo: PhotoId) {
        self.put_words_away();
        if self.viewer.trouble().is_some() {
            self.opened = None;
        }
        self.with_bench(|bench| {
            let another = bench.photo.as_ref() != Some(&photo);
            bench.photo = Some(photo);
            if another && bench.hint_stopped {
                bench.hinting = None;
                bench.hint_stopped = false;
            }
            if another && bench.show == Show::Loose {
                // Another photo has other places: the round begins at its first unseen one.
                bench.here = None;
            }
            bench.refresh();
        });
    }

    pub(super) fn show_side(&mut self, show: Show) {
        self.put_words_away();
        self.with_bench(|bench| {
            bench.show = show;
            bench.here = None;
            bench.whole_row = false;
            if bench.show == Show::Loose {
                bench.follow();
            }
            bench.refresh();
            bench.follow();
            bench.redraw();
        });
    }

    pub(super) fn step_photo(&mut self, step: i32) {
        let Some(bench) = &self.model.bench else {
            return;
        };
        let photos = &bench.seen.photos;
        let at = (bench.photo.as_ref()).and_then(|p| photos.iter().position(|q| q == p));
        let to = match at {
            Some(at) if step < 0 => at.checked_sub(1),
            Some(at) => Some(at + 1),
            None => Some(0),
        };
        if let Some(photo) = to.and_then(|to| photos.get(to)).cloned() {
            self.show_photo(photo);
        }
    }
}

/// How many of the unseen joints were looked at, from too far away.
fn too_far_of(bench: &Bench) -> String {
    match bench.seen.too_far {
        0 => String::new(),
        some => format!(", {some} of them looked at from too far away"),
    }
}
