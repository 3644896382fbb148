//! From events to state: one order, what counts, then what is current.

use std::collections::{BTreeMap, BTreeSet};

use super::current::{Touches, checks, measurements};
use super::event::{Envelope, Event, EventId, Verdict};
use super::places;
use super::state::{BoardAdoption, Flag, Logged, Note, PhotoState, State};

/// How far a clock may run ahead before it is flagged: a day of slack lets every time zone
/// entered by mistake pass and still catches a wrong year.
const CLOCK_SLACK_MS: u64 = 24 * 60 * 60 * 1000;

/// Adds up the events of a job. The order in which they come does not matter, nor does it
/// matter if some come twice.
#[must_use]
pub fn fold(events: impl IntoIterator<Item = Envelope>) -> State {
    fold_at(events, None)
}

/// As [`fold`], flagging clocks that run more than a day ahead of `now_ms` (milliseconds since
/// 1970) as well as those that run more than a day ahead of the event's own date.
#[must_use]
pub fn fold_at(events: impl IntoIterator<Item = Envelope>, now_ms: Option<u64>) -> State {
    let (events, clashes) = order(events);
    let log = settle(events);
    let mut flags: Vec<Flag> = clashes
        .into_iter()
        .map(|event| Flag::Clash { event })
        .collect();
    flags.extend(
        log.iter()
            .filter_map(|logged| future_clock(&logged.event, now_ms)),
    );
    let mut state = State {
        now_ms,
        flags,
        ..State::default()
    };
    // An event of a newer version may mean anything, even a withdrawal: it is listed whether or
    // not somebody withdrew it.
    state.unknown = log
        .iter()
        .filter(|logged| matches!(logged.event.what, Event::Unknown(_)))
        .map(|logged| logged.event.id)
        .collect();
    let counted: Vec<(usize, &Envelope)> = log
        .iter()
        .enumerate()
        .filter(|(_, logged)| logged.counts())
        .map(|(position, logged)| (position, &logged.event))
        .collect();
    for (position, event) in &counted {
        state.take_plain(*position, event);
    }
    state.maps = maps(&counted);
    state.photos = photos(&counted);
    state.places = places::build(&counted);
    let touches = Touches::of(&counted, &state.photos, now_ms);
    state.measurements = measurements(&counted, &touches);
    state.checks = checks(&counted, &touches);
    state.log = log;
    state
}

impl State {
    /// Takes what needs no look at other events: the newest word stands.
    fn take_plain(&mut self, position: usize, event: &Envelope) {
        match &event.what {
            Event::Started(unit) => self.unit = Some(unit.clone()),
            Event::CoverageDemanded(demand) => self.demand = Some(demand.clone()),
            Event::ClosedUp { .. } => self.closed_up = Some(position),
            Event::Reopened { .. } | Event::Reseated { .. } => self.reopened = Some(position),
            Event::Judged(judgement) if judgement.verdict == Verdict::Reworked => {
                self.reopened = Some(position);
            }
            Event::Noted { text, photo } => self.notes.push(Note {
                event: event.id,
                by: event.by.clone(),
                at: event.at.clone(),
                text: text.clone(),
                photo: photo.clone(),
            }),
            _ => {}
        }
    }
}

/// Each event once, in the order (clock, bench, seq, id). Where different events carry one id,
/// the first in that order stands and the id is returned as a clash.
fn order(events: impl IntoIterator<Item = Envelope>) -> (Vec<Envelope>, Vec<EventId>) {
    let key = |event: &Envelope| (event.clock, event.bench, event.seq, event.id);
    let mut events: Vec<Envelope> = events.into_iter().collect();
    events.sort_by(|a, b| {
        (a.id, key(a)).cmp(&(b.id, key(b))).then_with(|| {
            if a == b {
                std::cmp::Ordering::Equal
            } else {
                text(a).cmp(&text(b))
            }
        })
    });
    let mut clashes = BTreeSet::new();
    events.dedup_by(|later, first| {
        let same_id = later.id == first.id;
        if same_id && later != first {
            clashes.insert(first.id);
        }
        same_id
    });
    events.sort_by_key(key);
    (events, clashes.into_iter().collect())
}

/// The event as JSON: settles which of two events with one identity stands.
fn text(event: &Envelope) -> String {
    serde_json::to_string(event).unwrap_or_default()
}

/// Resolves withdrawals newest first: an event counts where no withdrawal in force targets it.
/// Walking backwards means that a withdrawal reaches only what sorts before it.
fn settle(events: Vec<Envelope>) -> Vec<Logged> {
    let mut withdrawn: BTreeMap<EventId, EventId> = BTreeMap::new();
    let mut log: Vec<Logged> = events
        .into_iter()
        .rev()
        .map(|event| {
            let withdrawn_by = withdrawn.get(&event.id).copied();
            if let (None, Event::Withdrawn { targets }) = (withdrawn_by, &event.what) {
                for target in targets {
                    withdrawn.entry(*target).or_insert(event.id);
                }
            }
            Logged {
                event,
                withdrawn_by,
            }
        })
        .collect();
    log.reverse();
    log
}

/// Flags a clock that runs ahead of the event's own date or of now.
fn future_clock(event: &Envelope, now_ms: Option<u64>) -> Option<Flag> {
    let own_ms = event
        .at
        .parse::<jiff::Timestamp>()
        .ok()
        .and_then(|at| u64::try_from(at.as_millisecond()).ok());
    let ahead = [own_ms, now_ms]
        .into_iter()
        .flatten()
        .map(|reference| event.clock.ms.saturating_sub(reference))
        .max()?;
    (ahead > CLOCK_SLACK_MS).then_some(Flag::FutureClock {
        event: event.id,
        days: ahead / CLOCK_SLACK_MS,
    })
}

/// Adoptions that no later one about the same board replaces.
fn maps(counted: &[(usize, &Envelope)]) -> BTreeMap<String, BoardAdoption> {
    let mut maps: BTreeMap<String, BoardAdoption> = BTreeMap::new();
    for (_, event) in counted {
        if let Event::MapAdopted {
            board,
            sha256,
            replaces,
            ..
        } = &event.what
        {
            let adoption = maps.entry(board.clone()).or_default();
            adoption.current.retain(|(id, _)| !replaces.contains(id));
            adoption.current.push((event.id, sha256.clone()));
        }
    }
    maps
}

/// Photos with the newest word on what they show and the alignments that agree with it.
fn photos(counted: &[(usize, &Envelope)]) -> BTreeMap<String, PhotoState> {
    let mut photos: BTreeMap<String, PhotoState> = BTreeMap::new();
    for (_, event) in counted {
        if let Event::PhotoAdded(facts) = &event.what {
            photos
                .entry(facts.photo.clone())
                .or_insert_with(|| PhotoState {
                    added: event.id,
                    facts: facts.clone(),
                    view: facts.view.clone(),
                    alignments: Vec::new(),
                });
        }
    }
    for (_, event) in counted {
        match &event.what {
            Event::PhotoPlaced { photo, view } => {
                if let Some(photo) = photos.get_mut(photo) {
                    photo.view = Some(view.clone());
                }
            }
            Event::Aligned(alignment) => {
                if let Some(photo) = photos.get_mut(&alignment.photo) {
                    photo
                        .alignments
                        .retain(|(id, _)| !alignment.replaces.contains(id));
                    photo.alignments.push((event.id, alignment.clone()));
                }
            }
            Event::MapAdopted {
                board, moved: true, ..
            } => {
                for photo in photos.values_mut() {
                    (photo.alignments).retain(|(_, alignment)| alignment.view.board != *board);
                }
            }
            _ => {}
        }
    }
    for photo in photos.values_mut() {
        if photo.view.is_none() {
            photo.view = photo.alignment().map(|alignment| alignment.view.clone());
        }
        let view = photo.view.clone();
        photo
            .alignments
            .retain(|(_, alignment)| Some(&alignment.view) == view.as_ref());
    }
    photos
}
