//! What undo and redo of one sitting reach: what was recorded through this session since it was
//! opened. What stands from before, or from somebody else, is changed by a new judgement only.

use super::Session;
use crate::record::{Event, EventId, Logged};

impl Session {
    /// What undo of this sitting would take back: the newest thing recorded through this session
    /// that counts. The start of the job is not undone.
    #[must_use]
    pub fn undoable_here(&self) -> Option<EventId> {
        self.of_this_sitting()
            .find(|logged| logged.counts() && can_be_undone(&logged.event.what))
            .map(|logged| logged.event.id)
    }

    /// The undo of this sitting that redo would take back: the newest in force, with nothing
    /// recorded since.
    #[must_use]
    pub fn redoable_here(&self) -> Option<EventId> {
        self.of_this_sitting()
            .take_while(|logged| matches!(logged.event.what, Event::Withdrawn { .. }))
            .find(|logged| logged.counts() && !self.is_redo(&logged.event.what))
            .map(|logged| logged.event.id)
    }

    /// What redo of this sitting would bring back.
    #[must_use]
    pub fn returning_here(&self) -> Option<EventId> {
        match self.event(self.redoable_here()?)? {
            Event::Withdrawn { targets } => targets.first().copied(),
            _ => None,
        }
    }

    /// What was recorded through this session, newest first.
    fn of_this_sitting(&self) -> impl Iterator<Item = &Logged> {
        (self.state.log.iter().rev())
            .filter(|logged| self.recorded.contains(&logged.event.id))
            // All of it is near the end: the rest of a long record is not gone through.
            .take(self.recorded.len())
    }

    fn is_redo(&self, what: &Event) -> bool {
        let Event::Withdrawn { targets } = what else {
            return false;
        };
        (targets.iter().filter_map(|id| self.event(*id)))
            .any(|target| matches!(target, Event::Withdrawn { .. }))
    }
}

/// The same as for undo of a whole bench, which the record decides.
fn can_be_undone(what: &Event) -> bool {
    !matches!(
        what,
        Event::Withdrawn { .. } | Event::Started(_) | Event::Unknown(_)
    )
}
