//! What others wrote into the job's folder since it was read: other benches through a synced
//! folder, or the window that this one reads beside.

use std::collections::BTreeSet;
use std::path::PathBuf;

use super::super::error::WorkError;
use super::Session;
use crate::record::EventId;
use crate::store::{JobStamp, Journal};

/// What a look at the folder brought in.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct CameIn {
    /// Entries that were not there before, in the order of the record.
    pub events: Vec<EventId>,
    /// How many entries that were there before are gone.
    pub gone: usize,
    /// Whether other maps are in force than before, or one that was awaited is here.
    pub maps: bool,
    /// What a person should know about the files that was not so before.
    pub warnings: Vec<String>,
}

impl CameIn {
    /// Whether there is nothing to tell: a conflict copy, for example, brings nothing new.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}

impl Session {
    /// Reads the job anew where its files say that others have written since it was read; what
    /// came of it. What this session writes itself makes no difference.
    ///
    /// # Errors
    /// Where the folder cannot be looked at, or the journal cannot be read. Then everything is as
    /// it was.
    pub fn take_in(&mut self) -> Result<Option<CameIn>, WorkError> {
        if self.stamp_now()? == self.stamp {
            return Ok(None);
        }
        let before: BTreeSet<EventId> = self.state.log.iter().map(|l| l.event.id).collect();
        let (maps, warned) = (self.maps.clone(), self.warnings.clone());
        self.refresh()?;
        let now: BTreeSet<EventId> = self.state.log.iter().map(|l| l.event.id).collect();
        let events: Vec<EventId> = (self.state.log.iter())
            .map(|logged| logged.event.id)
            .filter(|id| !before.contains(id))
            .collect();
        // A line that is still arriving is normal while a folder is syncing.
        let notes: Vec<String> = (self.readout.problems.iter())
            .filter(|problem| problem.kind.is_note())
            .map(ToString::to_string)
            .collect();
        let warnings = (self.warnings.iter())
            .filter(|warning| !warned.contains(warning) && !notes.contains(warning))
            .cloned()
            .collect();
        Ok(Some(CameIn {
            events,
            gone: before.difference(&now).count(),
            maps: self.maps != maps,
            warnings,
        }))
    }

    /// How the files look now: the journals of others, and the maps that are in force and not at
    /// hand. `None` where the job had no journal when it was opened either.
    pub(super) fn stamp_now(&self) -> Result<Option<JobStamp>, WorkError> {
        let own = self.journal.as_ref().map(Journal::path);
        match self.job.stamp(&self.awaited_maps()) {
            Ok(stamp) => Ok(Some(stamp.but_for(own))),
            // It was copied without its empty folders.
            Err(_) if self.stamp.is_none() => Ok(None),
            Err(error) => Err(error.into()),
        }
    }

    /// Where maps are to arrive that the record has adopted: a synced folder may bring the word
    /// before the file.
    fn awaited_maps(&self) -> Vec<PathBuf> {
        (self.state.maps.iter())
            .filter(|(board, _)| self.maps.iter().all(|map| map.board != **board))
            .filter_map(|(_, adoption)| self.job.map_path(adoption.sha256()?).ok())
            .collect()
    }
}
