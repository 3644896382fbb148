//! Readings and checks: which nobody replaced, and which no longer hold because the unit was
//! touched since.

use std::collections::BTreeMap;

use super::event::{
    BenchId, Check, CheckKind, Envelope, Event, EventId, Measurement, Subject, Target, Verdict,
};
use super::state::{Current, PhotoState, Stale, State};

/// The newest event that touched the unit, by what it reaches.
#[derive(Debug, Default)]
pub(super) struct Touches {
    /// Touches that reach every board.
    everywhere: Option<Touch>,
    /// Touches of one board.
    boards: BTreeMap<String, Touch>,
    /// The newest touch that makes the checks of cord, plug, earth and so on stale: the unit
    /// was opened, or something of the unit that is on no board was reworked.
    checks: Option<Touch>,
    /// The time of reading, where it is known.
    now: Option<jiff::Timestamp>,
}

#[derive(Debug, Clone)]
struct Touch {
    moment: Moment,
    stale: Stale,
}

/// When something was written, by the order of the record and by its date.
#[derive(Debug, Clone, Copy)]
struct Moment {
    position: usize,
    bench: BenchId,
    at: Option<jiff::Timestamp>,
    /// Whether the clock that put it into order ran ahead of its date: a bench whose clock is
    /// wrong would put its readings after every rework to come.
    doubted: bool,
}

/// How far a clock may run ahead of its own date before the order it gives is doubted, ms.
const TRUSTED_AHEAD_MS: i64 = 120_000;

impl Moment {
    fn of(position: usize, event: &Envelope) -> Self {
        let at: Option<jiff::Timestamp> = event.at.parse().ok();
        let ahead = |at: &jiff::Timestamp| {
            let clock = i64::try_from(event.clock.ms).unwrap_or(i64::MAX);
            clock.saturating_sub(at.as_millisecond()) > TRUSTED_AHEAD_MS
        };
        Self {
            position,
            bench: event.bench,
            doubted: at.as_ref().is_some_and(ahead),
            at,
        }
    }

    /// Whether the other came later: by the order of the record, or, where that order is in doubt,
    /// by the dates. One bench's own order is never in doubt; a date that is still to come (`now`)
    /// decides nothing.
    fn is_before(&self, other: &Self, now: Option<jiff::Timestamp>) -> bool {
        let by_date = || {
            let (Some(here), Some(there)) = (self.at, other.at) else {
                return false;
            };
            there > here && now.is_none_or(|now| there <= now)
        };
        other.position > self.position || (self.doubted && self.bench != other.bench && by_date())
    }
}

fn time(now_ms: Option<u64>) -> Option<jiff::Timestamp> {
    jiff::Timestamp::from_millisecond(i64::try_from(now_ms?).ok()?).ok()
}

impl State {
    /// Whether an event of the log was written after another: as readings grow stale.
    pub(super) fn is_after(&self, position: usize, than: usize) -> bool {
        let moment = |position: usize| {
            let logged = self.log.get(position)?;
            Some(Moment::of(position, &logged.event))
        };
        match (moment(position), moment(than)) {
            (Some(here), Some(there)) => !here.is_before(&there, time(self.now_ms)),
            _ => false,
        }
    }
}

impl Touches {
    /// Collects reworks, reseatings and reopenings.
    pub(super) fn of(
        counted: &[(usize, &Envelope)],
        photos: &BTreeMap<String, PhotoState>,
        now_ms: Option<u64>,
    ) -> Self {
        let mut touches = Self {
            now: time(now_ms),
            ..Self::default()
        };
        for (position, event) in counted {
            match &event.what {
                Event::Reopened { board, reason } => {
                    let what = board.as_deref().unwrap_or("the unit");
                    let touch = touch(*position, event, format!("{what} was opened: {reason}"));
                    touches.checks = Some(touch.clone());
                    touches.reach(board.as_deref(), touch);
                }
                Event::Reseated { board, part, .. } => {
                    let touch = touch(*position, event, format!("{board}: {part} was reseated"));
                    touches.reach(Some(board), touch);
                }
                Event::Judged(judgement) if judgement.verdict == Verdict::Reworked => {
                    for target in &judgement.targets {
                        let board = board_of(target, photos);
                        let what = board.unwrap_or("the unit");
                        let touch = touch(*position, event, format!("{what} was reworked"));
                        if matches!(target, Target::Unit { .. }) {
                            touches.checks = Some(touch.clone());
                        }
                        touches.reach(board, touch);
                    }
                }
                _ => {}
            }
        }
        touches
    }

    fn reach(&mut self, board: Option<&str>, touch: Touch) {
        match board {
            Some(board) => {
                self.boards.insert(board.to_owned(), touch);
            }
            None => self.everywhere = Some(touch),
        }
    }

    fn of_board(&self, moment: &Moment, board: &str) -> Option<Stale> {
        self.newest_after(moment, [self.everywhere.as_ref(), self.boards.get(board)])
    }

    fn of_check(&self, moment: &Moment, check: &CheckKind) -> Option<Stale> {
        let any_board = self
            .boards
            .values()
            .max_by_key(|touch| touch.moment.position);
        let reaching = match check {
            // The whole unit works together in a function test: any touch makes it old.
            CheckKind::Function { .. } => [self.everywhere.as_ref(), any_board],
            _ => [self.checks.as_ref(), None],
        };
        self.newest_after(moment, reaching)
    }

    fn newest_after(&self, moment: &Moment, touches: [Option<&Touch>; 2]) -> Option<Stale> {
        touches
            .into_iter()
            .flatten()
            .filter(|touch| moment.is_before(&touch.moment, self.now))
            .max_by_key(|touch| touch.moment.position)
            .map(|touch| touch.stale.clone())
    }
}

fn touch(position: usize, event: &Envelope, reason: String) -> Touch {
    let stale = Stale {
        event: event.id,
        at: event.at.clone(),
        reason,
    };
    Touch {
        moment: Moment::of(position, event),
        stale,
    }
}

/// The board that a target belongs to; `None` where it may be any.
fn board_of<'a>(target: &'a Target, photos: &'a BTreeMap<String, PhotoState>) -> Option<&'a str> {
    match target {
        Target::Joint(joint) => Some(&joint.board),
        Target::Part { board, .. } => Some(board),
        Target::Area { view, .. } => Some(&view.board),
        Target::Photo(spot) => photos
            .get(&spot.photo)
            .and_then(|photo| photo.view.as_ref())
            .map(|view| view.board.as_str()),
        Target::Unit { .. } => None,
    }
}

/// Current readings by subject.
pub(super) fn measurements(
    counted: &[(usize, &Envelope)],
    touches: &Touches,
) -> BTreeMap<Subject, Vec<Current<Measurement>>> {
    let mut current = BTreeMap::new();
    for (position, event) in counted {
        if let Event::Measured(measurement) = &event.what {
            let moment = Moment::of(*position, event);
            let stale = touches.of_board(&moment, board_of_subject(&measurement.subject));
            let entry = entry(*position, event, measurement.clone(), stale);
            let subject = measurement.subject.clone();
            replace(&mut current, subject, &measurement.replaces, entry);
        }
    }
    current
}

/// Current checks by kind.
pub(super) fn checks(
    counted: &[(usize, &Envelope)],
    touches: &Touches,
) -> BTreeMap<CheckKind, Vec<Current<Check>>> {
    let mut current = BTreeMap::new();
    for (position, event) in counted {
        if let Event::Checked(check) = &event.what {
            let stale = touches.of_check(&Moment::of(*position, event), &check.check);
            let entry = entry(*position, event, check.clone(), stale);
            replace(&mut current, check.check.clone(), &check.replaces, entry);
        }
    }
    current
}

fn board_of_subject(subject: &Subject) -> &str {
    match subject {
        Subject::Rail { board, .. } | Subject::TestPoint { board, .. } => board,
    }
}

fn entry<T>(position: usize, event: &Envelope, what: T, stale: Option<Stale>) -> Current<T> {
    Current {
        event: event.id,
        position,
        by: event.by.clone(),
        at: event.at.clone(),
        what,
        stale,
    }
}

fn replace<K: Ord, T>(
    current: &mut BTreeMap<K, Vec<Current<T>>>,
    key: K,
    replaces: &[EventId],
    entry: Current<T>,
) {
    let entries = current.entry(key).or_default();
    entries.retain(|earlier| !replaces.contains(&earlier.event));
    entries.push(entry);
}
