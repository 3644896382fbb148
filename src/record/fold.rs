//! From events to state.

use super::event::Envelope;
use super::state::State;

/// Adds up the events of a job. The order in which they come does not matter, nor does it
/// matter if some come twice.
#[must_use]
pub fn fold(events: impl IntoIterator<Item = Envelope>) -> State {
    fold_at(events, None)
}

/// As [`fold`], flagging clocks that run more than a day ahead of `now_ms` (milliseconds since
/// 1970) as well.
#[must_use]
pub fn fold_at(events: impl IntoIterator<Item = Envelope>, now_ms: Option<u64>) -> State {
    let _ = (events.into_iter().count(), now_ms);
    State::default()
}
