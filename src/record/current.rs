//! Readings and checks: which nobody replaced, and which no longer hold because the unit was
//! touched since.

use std::collections::BTreeMap;

use super::event::{
    Check, CheckKind, Envelope, Event, EventId, Measurement, Subject, Target, Verdict,
};
use super::state::{Current, PhotoState, Stale};

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
}

#[derive(Debug, Clone)]
struct Touch {
    position: usize,
    stale: Stale,
}

/// When something was written, by the order of the record and by its date.
struct Moment {
    position: usize,
    /// Its date, where the clock that put it into order ran ahead of that: a bench whose clock is
    /// wrong would put its readings after every rework to come.
    doubted: Option<jiff::Timestamp>,
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
            doubted: at.filter(ahead),
        }
    }

    fn is_before(&self, touch: &Touch) -> bool {
        touch.position > self.position
            || self.doubted.is_some_and(|at| {
                (touch.stale.at.parse::<jiff::Timestamp>()).is_ok_and(|touched| touched > at)
            })
    }
}

impl Touches {
    /// Collects reworks, reseatings and reopenings.
    pub(super) fn of(
        counted: &[(usize, &Envelope)],
        photos: &BTreeMap<String, PhotoState>,
    ) -> Self {
        let mut touches = Self::default();
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
        newest_after(moment, [self.everywhere.as_ref(), self.boards.get(board)])
    }

    fn of_check(&self, moment: &Moment, check: &CheckKind) -> Option<Stale> {
        let any_board = self.boards.values().max_by_key(|touch| touch.position);
        let reaching = match check {
            // The whole unit works together in a function test: any touch makes it old.
            CheckKind::Function { .. } => [self.everywhere.as_ref(), any_board],
            _ => [self.checks.as_ref(), None],
        };
        newest_after(moment, reaching)
    }
}

fn touch(position: usize, event: &Envelope, reason: String) -> Touch {
    let stale = Stale {
        event: event.id,
        at: event.at.clone(),
        reason,
    };
    Touch { position, stale }
}

fn newest_after(moment: &Moment, touches: [Option<&Touch>; 2]) -> Option<Stale> {
    touches
        .into_iter()
        .flatten()
        .filter(|touch| moment.is_before(touch))
        .max_by_key(|touch| touch.position)
        .map(|touch| touch.stale.clone())
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
