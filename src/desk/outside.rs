//! What others write into the job's folder while it is open here: looked for about once a second,
//! taken in and told. The person stays where they are, with what they have typed.

use std::collections::BTreeSet;
use std::time::{Duration, Instant};

use eframe::egui::Context;

use super::app::Desk;
use super::doing::told;
use super::jobs::OUTDATED;
use super::model::{Bench, Page, Show};
use super::stages::Standing;
use crate::paper::shown;
use crate::record::{EventId, Logged, describe};
use crate::work::CameIn;

/// How often the folder is looked at: soon enough that a mark that holds power back is seen before
/// a hand is at the switch, seldom enough that a slow disk is not kept busy (design choice).
const EVERY: Duration = Duration::from_secs(1);
/// So many of the entries that came in are told in words, the newest of them.
const NAMED: usize = 3;

/// When the folder was last looked at, and what was the matter with it then.
#[derive(Debug, Default)]
pub struct Watch {
    last: Option<Instant>,
    trouble: Option<String>,
}

impl Watch {
    fn is_due(&self) -> bool {
        self.last.is_none_or(|last| last.elapsed() >= EVERY)
    }
}

impl Desk {
    /// Looks about once a second whether others have written, whether or not anybody touches the
    /// window.
    pub(super) fn watch_folder(&mut self, ctx: &Context) {
        let Some(bench) = &self.model.bench else {
            return;
        };
        ctx.request_repaint_after(EVERY);
        if bench.watch.is_due() {
            self.take_in(ctx);
        }
    }

    /// Takes in what others have written, where the files say that they have.
    pub(super) fn take_in(&mut self, ctx: &Context) {
        let Some(bench) = &mut self.model.bench else {
            return;
        };
        if bench.lent {
            // The record is with the thread that brings photos in: looked at once it is back.
            return;
        }
        bench.watch.last = Some(Instant::now());
        match bench.session.take_in() {
            Ok(came) => {
                if bench.watch.trouble.take().is_some() {
                    let text = "The job's folder can be read again.";
                    self.model.tell(text, "", false);
                }
                if let Some(came) = came {
                    self.came_in(ctx, &came);
                }
            }
            Err(error) => {
                let (text, remedy) = told(&error);
                // Told once, and not every second.
                if bench.watch.trouble.as_ref() != Some(&text) {
                    bench.watch.trouble = Some(text.clone());
                    self.model.tell(text, remedy, true);
                }
            }
        }
    }

    fn came_in(&mut self, ctx: &Context, came: &CameIn) {
        let Some(bench) = &self.model.bench else {
            return;
        };
        let here = bench.stop().map(|stop| stop.target.clone());
        let open_before = bench.open_stages();
        self.keeping_words(|desk| desk.with_bench(|bench| bench.settle_again(came)));
        if came.maps && self.model.page == Page::Align {
            self.with_bench(Bench::renew_draft);
        }
        if self.model.page == Page::Slip {
            self.compute_slip(ctx);
        }
        for warning in &came.warnings {
            self.model.tell(shown(warning), "", true);
        }
        if came.gone > 0 {
            let (entries, are) = counted(came.gone);
            self.model.tell(
                format!("{entries} {are} gone from the job's folder."),
                "A journal file was taken away or replaced: let the folder finish syncing, or bring the file back from a copy.",
                true,
            );
        }
        let Some(bench) = &self.model.bench else {
            return;
        };
        if came.events.is_empty() {
            if came.maps {
                let text = "A board map that this job waited for is here.";
                self.model.tell(text, "", false);
            }
            return;
        }
        let mut text = format!("{}.", bench.who_wrote(&came.events));
        if let Some(stop) = bench.stop()
            && here.as_ref() == Some(&stop.target)
            && (bench.said_of_stop().iter()).any(|id| came.events.contains(id))
        {
            text += &format!(" It is about {} too, where you are.", shown(&stop.name));
        }
        let shut = bench.open_stages() < open_before;
        if shut {
            text += " A stage of the gate that stood open is shut now: see the gate (G).";
        }
        let words = bench.words_of(&came.events);
        self.model.tell(text, words, shut);
    }
}

impl Bench {
    /// Takes everything that was worked out from the record anew, and stays where the person is.
    fn settle_again(&mut self, came: &CameIn) {
        if came.events.is_empty() && came.gone == 0 && !came.maps {
            // The files only look different; a line that could not be read may be whole now.
            self.redraw();
            return;
        }
        self.refresh();
        self.forget_old_hints();
        let state = self.session.state();
        let is_here = |photo| state.photos.contains_key(photo);
        let photo_is_here = self.photo.as_ref().is_some_and(is_here);
        let no_board = match &self.show {
            Show::Side(view) => self.session.maps().iter().all(|m| m.board != view.board),
            Show::Loose => false,
        };
        if no_board || (self.show == Show::Loose && self.photo.is_none()) {
            // There was nothing to stay at.
            self.settle();
        } else if !photo_is_here {
            self.follow();
        }
        if let Some((then, _)) = &mut self.slip {
            *then = OUTDATED;
        }
        self.redraw();
    }

    /// Hints of photos that lie elsewhere on the map by now, or on another map.
    pub(super) fn forget_old_hints(&mut self) {
        let state = self.session.state();
        self.hints.retain(|photo, (key, _)| {
            let photo = state.photos.get(photo);
            let places = photo.and_then(|photo| Self::places_on(state, photo));
            match places {
                Some(places) => places == key.places,
                // It lies nowhere: what was read at clicked places stays, what a map gave does not.
                None => key.places.contains(';'),
            }
        });
    }

    /// The judgements of the current stop that stand.
    fn said_of_stop(&self) -> Vec<EventId> {
        let place = (self.stop()).and_then(|stop| self.session.state().place(&stop.target));
        place.map_or_else(Vec::new, |place| place.current.clone())
    }

    /// How many stages have nothing held against them.
    fn open_stages(&self) -> usize {
        let open = |standing| matches!(standing, Standing::Done | Standing::Open);
        (self.seen.stages.iter())
            .filter(|(_, standing)| open(*standing))
            .count()
    }

    /// These entries, in the order of the record.
    fn logged(&self, events: &[EventId]) -> Vec<&Logged> {
        let wanted: BTreeSet<&EventId> = events.iter().collect();
        let log = self.session.state().log.iter();
        log.filter(|logged| wanted.contains(&logged.event.id))
            .collect()
    }

    /// How many entries came in, from where and by whom.
    fn who_wrote(&self, events: &[EventId]) -> String {
        let (entries, _) = counted(events.len());
        let logged = self.logged(events);
        let benches: BTreeSet<_> = logged.iter().map(|l| l.event.bench).collect();
        let from = match (self.session.may_write(), benches.len()) {
            // Whoever only reads cannot tell which of them is its own.
            (false, _) => "another bench or window".to_owned(),
            (true, 0 | 1) => "another bench".to_owned(),
            (true, several) => format!("{several} other benches"),
        };
        let by: BTreeSet<_> = logged.iter().map(|l| shown(&l.event.by)).collect();
        let by: Vec<String> = by.into_iter().take(NAMED).collect();
        format!("{entries} came in from {from}, by {}", by.join(", "))
    }

    /// The newest of these entries in words, oldest of them first.
    fn words_of(&self, events: &[EventId]) -> String {
        let (maps, state) = (self.session.maps(), self.session.state());
        let more = events.len().saturating_sub(NAMED);
        let said: Vec<String> = (self.logged(&events[more..]).into_iter())
            .map(|logged| describe(&logged.event.what, maps, state))
            .map(|words| format!("{}.", shown(words.trim_end_matches('.'))))
            .collect();
        match more {
            0 => said.join(" "),
            more => format!("{} {more} more before.", said.join(" ")),
        }
    }
}

fn counted(entries: usize) -> (String, &'static str) {
    match entries {
        1 => ("1 entry".to_owned(), "is"),
        n => (format!("{n} entries"), "are"),
    }
}
