//! One job, opened: its record folded to a state, its maps, and the one door through which
//! anything is written.

mod adopting;
mod lookup;
mod outside;
mod sitting;

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use crate::board::{BoardMap, MapFile};
use crate::record::{
    Event, EventId, GateVerdict, HistoryLine, Measurement, Stage, State, Unit,
    describe as describe_event, gate, history,
};
use crate::store::{Home, Job, JobStamp, Journal, Readout, StoreError, Wait};

use super::action::Action;
use super::error::WorkError;
use super::plan::{self, Planned, map_of};
use super::weak::remember_job;
use adopting::{stored_map, usable_map};
pub use outside::CameIn;

/// How far undo of the bench reaches.
const OF_BENCH: &str =
    "undo reaches only what this bench recorded; anything else is a new judgement";
/// How far undo of one sitting reaches.
const OF_SITTING: &str = "undo reaches only what was written down since the job was opened; anything else is a new judgement";

/// An opened job.
#[derive(Debug)]
pub struct Session {
    job: Job,
    journal: Option<Journal>,
    readout: Readout,
    state: State,
    maps: Vec<BoardMap>,
    warnings: Vec<String>,
    /// How the files looked just before they were read; `None` where they could not be looked at.
    stamp: Option<JobStamp>,
    /// What was recorded through this session: what undo of this sitting reaches.
    recorded: BTreeSet<EventId>,
}

/// What an action did.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Applied {
    /// The event that records it.
    pub event: EventId,
    /// What was recorded, in words.
    pub words: String,
    /// What to bear in mind.
    pub cautions: Vec<String>,
}

impl Session {
    /// Makes the job folder for a unit and adopts the maps. Where anything about the maps is
    /// wrong, no folder is made.
    ///
    /// # Errors
    /// Where the folder exists already or cannot be written, or a map cannot be used.
    pub fn begin(dir: &Path, unit: Unit, maps: &[PathBuf], by: &str) -> Result<Self, WorkError> {
        for (name, text) in [("unit", &unit.code), ("model", &unit.model)] {
            if text.trim().is_empty() {
                return Err(WorkError::bad(
                    format!("the {name} has no name"),
                    format!("give one with --{name}"),
                ));
            }
        }
        let maps = maps
            .iter()
            .map(|path| usable_map(path))
            .collect::<Result<Vec<_>, _>>()?;
        let job = match Job::create(dir) {
            // A start that was cut off before it said what unit it is for is taken up again.
            Err(StoreError::JobExists { .. }) => Job::open(dir)?,
            made => made?,
        };
        let exists = || StoreError::JobExists {
            path: dir.to_owned(),
        };
        let there = job.read()?;
        let broken = there.problems.iter().any(|problem| !problem.kind.is_note());
        let started = there.fold(None).unit.is_some();
        if started || broken {
            return Err(exists().into());
        }
        let mut session = Self::writing(job, by, Wait::Briefly)?;
        // Another start may have been waited for.
        if session.state.unit.is_some() {
            return Err(exists().into());
        }
        // The unit comes last: where anything went wrong before, the gate has no unit, and the
        // start can be made again.
        for (map, _) in &maps {
            let event = session.adoption(map)?;
            session.record(event)?;
        }
        session.record(Event::Started(unit))?;
        for (map, _) in &maps {
            let other = adopting::other_model(&session.state, &map.map);
            session.warnings.extend(other);
        }
        Ok(session)
    }

    /// Opens a job to record in it.
    ///
    /// # Errors
    /// Where it is no job, cannot be read, or another window of this bench is writing in it.
    pub fn open(dir: &Path, by: &str) -> Result<Self, WorkError> {
        Self::writing(Job::open(dir)?, by, Wait::Briefly)
    }

    fn writing(job: Job, by: &str, wait: Wait) -> Result<Self, WorkError> {
        let stamp = job.stamp(&[]).ok();
        let opened = Journal::open(&job, &Home::find()?, by, wait)?;
        let stamp = stamp.map(|stamp| stamp.but_for(Some(opened.journal.path())));
        let notices = opened.notices.iter().map(ToString::to_string).collect();
        remember_job(job.folder());
        Ok(Self::assemble(
            job,
            Some(opened.journal),
            opened.readout,
            notices,
            stamp,
        ))
    }

    /// Opens a job to read it.
    ///
    /// # Errors
    /// Where it is no job or cannot be read.
    pub fn read(dir: &Path) -> Result<Self, WorkError> {
        let job = Job::open(dir)?;
        let stamp = job.stamp(&[]).ok();
        let readout = job.read()?;
        Ok(Self::assemble(job, None, readout, Vec::new(), stamp))
    }

    /// Opens a job for the window: to record where nobody else on this machine does, else to read.
    ///
    /// # Errors
    /// Where it is no job or cannot be read.
    pub fn open_or_read(dir: &Path, by: &str) -> Result<Self, WorkError> {
        match Self::writing(Job::open(dir)?, by, Wait::No) {
            Err(WorkError::Store(
                error @ (StoreError::Busy { .. } | StoreError::NewerFormat { .. }),
            )) => {
                let mut session = Self::read(dir)?;
                session.warnings.push(error.to_string());
                Ok(session)
            }
            other => other,
        }
    }

    fn assemble(
        job: Job,
        journal: Option<Journal>,
        readout: Readout,
        warnings: Vec<String>,
        stamp: Option<JobStamp>,
    ) -> Self {
        let mut session = Self {
            job,
            journal,
            readout,
            state: State::default(),
            maps: Vec::new(),
            warnings,
            stamp,
            recorded: BTreeSet::new(),
        };
        session
            .warnings
            .extend(session.readout.problems.iter().map(ToString::to_string));
        session.refold();
        session.load_maps();
        session
    }

    fn refold(&mut self) {
        self.state = self.readout.fold(Some(now_ms()));
    }

    fn load_maps(&mut self) {
        self.maps.clear();
        for adoption in self.state.maps.values() {
            let Some(sha256) = adoption.sha256() else {
                continue;
            };
            // The gate says that a map is missing; the rest of the job stays usable.
            match stored_map(&self.job, sha256) {
                Ok(map) => self.maps.push(map),
                Err(error) => self.warnings.push(error.to_string()),
            }
        }
    }

    /// Reads what other benches wrote meanwhile.
    ///
    /// # Errors
    /// Where the journal cannot be read.
    pub fn refresh(&mut self) -> Result<(), WorkError> {
        // Looked at before it is read: what is written meanwhile shows as a change of its own.
        let stamp = self.stamp_now()?;
        self.readout = self.job.read()?;
        self.stamp = stamp;
        if let Some(journal) = &self.journal {
            journal.observe(self.readout.greatest);
        }
        self.warnings = self
            .readout
            .problems
            .iter()
            .map(ToString::to_string)
            .collect();
        self.refold();
        self.load_maps();
        Ok(())
    }

    /// The folded record.
    #[must_use]
    pub fn state(&self) -> &State {
        &self.state
    }

    /// The maps in force, by board name.
    #[must_use]
    pub fn maps(&self) -> &[BoardMap] {
        &self.maps
    }

    /// The job folder.
    #[must_use]
    pub fn dir(&self) -> &Path {
        self.job.folder()
    }

    /// What a person should know about the files.
    #[must_use]
    pub fn warnings(&self) -> &[String] {
        &self.warnings
    }

    /// Whether this session may write.
    #[must_use]
    pub fn may_write(&self) -> bool {
        self.journal.is_some()
    }

    /// What one stage of the gate says.
    #[must_use]
    pub fn gate(&self, stage: Stage) -> GateVerdict {
        gate(&self.state, &self.maps, stage)
    }

    /// Everything recorded, in words, oldest first.
    #[must_use]
    pub fn history(&self) -> Vec<HistoryLine> {
        history(&self.state, &self.maps)
    }

    /// An event of the record.
    #[must_use]
    pub fn event(&self, id: EventId) -> Option<&Event> {
        self.state.event(id).map(|logged| &logged.event.what)
    }

    /// Does one action and records it. Returns once it is safely on disk.
    ///
    /// # Errors
    /// Where the action makes no sense on this job, or it cannot be written; then nothing is
    /// recorded.
    pub fn apply(&mut self, action: Action) -> Result<Applied, WorkError> {
        let Planned { event, cautions } = self.plan(action)?;
        let id = self.record(event)?;
        Ok(self.applied(id, cautions))
    }

    fn applied(&self, event: EventId, cautions: Vec<String>) -> Applied {
        let words = self
            .event(event)
            .map(|what| describe_event(what, &self.maps, &self.state))
            .unwrap_or_default();
        Applied {
            event,
            words,
            cautions,
        }
    }

    fn plan(&self, action: Action) -> Result<Planned, WorkError> {
        let (state, maps) = (&self.state, self.maps.as_slice());
        Ok(match action {
            Action::AdoptMap { path } => {
                let (map, mut cautions) = usable_map(&path)?;
                cautions.extend(adopting::left_behind(state, &map.map));
                cautions.extend(adopting::to_align_again(state, maps, &map));
                cautions.extend(adopting::other_model(state, &map.map));
                Planned {
                    event: self.adoption(&map)?,
                    cautions,
                }
            }
            Action::LayUnder {
                photo,
                view,
                photo_from_board,
            } => plan::laid_under(state, maps, &photo, view, photo_from_board)?,
            Action::PlacePhoto { photo, view } => {
                map_of(maps, &view.board)?;
                Event::PhotoPlaced { photo, view }.into()
            }
            Action::Align {
                photo,
                view,
                placed,
            } => plan::alignment(state, maps, &photo, view, &placed)?,
            Action::AlignAutomatically(found) => plan::matched(state, maps, *found)?,
            Action::Judge(wish) => plan::judgement(state, maps, wish)?,
            Action::Measure {
                subject,
                readings,
                settings,
                note,
            } => plan::measurement(
                state,
                maps,
                Measurement {
                    subject,
                    readings,
                    settings,
                    note,
                    replaces: Vec::new(),
                },
            )?,
            Action::Check {
                check,
                outcome,
                volts,
                note,
            } => plan::check(state, check, outcome, volts, note)?,
            Action::Reopen { board, reason } => {
                if let Some(board) = &board {
                    map_of(maps, board)?;
                }
                Event::Reopened { board, reason }.into()
            }
            Action::Reseat { board, part, note } => plan::reseat(maps, board, &part, note)?,
            Action::CloseUp { note } => Event::ClosedUp { note }.into(),
            Action::Demand(demand) => plan::demand(demand)?,
            Action::Note { text, photo } => plan::note(text, photo)?,
            Action::Undo => self.withdraw(
                self.undoable(),
                "nothing of yours is left to undo",
                OF_BENCH,
            )?,
            Action::Redo => {
                self.withdraw(self.redoable(), "nothing was undone just now", OF_BENCH)?
            }
            Action::UndoHere => {
                let none = "nothing that was written down since the job was opened is left to undo";
                self.withdraw(self.undoable_here(), none, OF_SITTING)?
            }
            Action::RedoHere => {
                let none = "nothing was undone just now in this sitting";
                self.withdraw(self.redoable_here(), none, OF_SITTING)?
            }
        })
    }

    fn withdraw(
        &self,
        target: Option<EventId>,
        none: &str,
        reach: &str,
    ) -> Result<Planned, WorkError> {
        let target = target.ok_or_else(|| WorkError::refused(none, reach))?;
        Ok(Event::Withdrawn {
            targets: vec![target],
        }
        .into())
    }

    /// What undo would take back.
    #[must_use]
    pub fn undoable(&self) -> Option<EventId> {
        let bench = self.journal.as_ref()?.bench();
        self.state.undoable(bench).map(|event| event.id)
    }

    /// What redo would bring back.
    #[must_use]
    pub fn redoable(&self) -> Option<EventId> {
        let bench = self.journal.as_ref()?.bench();
        self.state.redoable(bench).map(|event| event.id)
    }

    /// Stores a map file; the event that adopts it.
    fn adoption(&self, file: &MapFile) -> Result<Event, WorkError> {
        self.job.store_map(file.text.as_bytes())?;
        let replaces = self
            .state
            .maps
            .get(&file.map.board)
            .map(|adoption| adoption.current.iter().map(|(id, _)| *id).collect())
            .unwrap_or_default();
        Ok(Event::MapAdopted {
            board: file.map.board.clone(),
            sha256: file.sha256.clone(),
            moved: adopting::moved(&self.state, &self.maps, file),
            replaces,
        })
    }

    /// Writes one event and folds it in. Returns once it is safely on disk.
    pub(super) fn record(&mut self, event: Event) -> Result<EventId, WorkError> {
        let journal = self.journal.as_ref().ok_or_else(|| {
            WorkError::refused(
                format!("{} is open to read only", self.job.folder().display()),
                "close the other window that is recording in it",
            )
        })?;
        let envelope = journal.append(event)?;
        let id = envelope.id;
        self.recorded.insert(id);
        let maps_change = matches!(
            envelope.what,
            Event::MapAdopted { .. } | Event::Withdrawn { .. }
        );
        self.readout.events.push(envelope);
        self.refold();
        if maps_change {
            self.load_maps();
        }
        Ok(id)
    }

    /// Copies an original into the job; its file name under `photos/`.
    pub(super) fn import_photo(&self, bytes: &[u8], name: &str) -> Result<String, WorkError> {
        Ok(self.job.import_photo(bytes, name)?.file)
    }

    /// The job on disk, for what lies beside the journal (exports, cache).
    #[must_use]
    pub fn job(&self) -> &Job {
        &self.job
    }
}

fn now_ms() -> u64 {
    std::time::SystemTime::now()
        .duration_since(std::time::UNIX_EPOCH)
        .map_or(0, |since| {
            u64::try_from(since.as_millis()).unwrap_or(u64::MAX)
        })
}
