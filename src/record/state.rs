//! What the events of a job add up to. Built only by [`fold`](super::fold).

use std::collections::BTreeMap;

use crate::board::Side;

use super::event::{
    Alignment, BenchId, Check, CheckKind, Coverage, Envelope, Event, EventId, Evidence, Fault,
    JointKey, Measurement, PhotoFacts, PhotoId, Severity, Spot, Subject, Target, Unit, Verdict,
    View,
};

/// Everything a job knows at one moment.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct State {
    /// The specimen; absent until a job is started. The newest counted word on it stands.
    pub unit: Option<Unit>,
    /// Adopted maps by board name.
    pub maps: BTreeMap<String, BoardAdoption>,
    /// Imported photos by the hash of their original.
    pub photos: BTreeMap<PhotoId, PhotoState>,
    /// Every place that somebody judged.
    pub places: BTreeMap<PlaceKey, PlaceState>,
    /// Current readings by rail (and mode) or test point.
    pub measurements: BTreeMap<Subject, Vec<Current<Measurement>>>,
    /// Current checks by kind; function tests by name.
    pub checks: BTreeMap<CheckKind, Vec<Current<Check>>>,
    /// What the shop demands of coverage; absent where nobody has said: see
    /// [`DEFAULT_COVERAGE`].
    pub demand: Option<Coverage>,
    /// Remarks in order.
    pub notes: Vec<Note>,
    /// Position in `log` of the newest counted *closed up*.
    pub closed_up: Option<usize>,
    /// Position in `log` of the newest counted event after which the unit was not as it was closed
    /// up: it was opened, something was reworked, or a part was reseated.
    pub reopened: Option<usize>,
    /// Events of a newer version: kept, shown, and the gate stays shut while there are any.
    pub unknown: Vec<EventId>,
    /// Lines of journal files that could not be read, or have not arrived whole. Set by whoever
    /// read the files; the gate stays shut while there are any, for each may have held a mark.
    pub unreadable_lines: usize,
    /// Lines that do not follow from the line before them in their file: something was changed
    /// or taken away there. Set by whoever read the files; the gate stays shut.
    pub broken_links: usize,
    /// When the record was read, milliseconds since 1970, where that was told.
    pub now_ms: Option<u64>,
    /// What a person should know about the record itself.
    pub flags: Vec<Flag>,
    /// Every event once, in the order of the merged record, with whether it counts.
    pub log: Vec<Logged>,
}

/// What a shop demands where it has not said otherwise: all of the safety and supply joints
/// before first power, all joints before closing up, at any scale.
pub const DEFAULT_COVERAGE: Coverage = Coverage {
    before_power: 1.0,
    before_closing: 1.0,
    least_px_per_mm: 0.0,
};

/// One event of the merged record.
#[derive(Debug, Clone, PartialEq)]
pub struct Logged {
    /// The event as it was written.
    pub event: Envelope,
    /// The newest withdrawal in force that targets it; the event counts where this is absent.
    pub withdrawn_by: Option<EventId>,
}

impl Logged {
    /// Whether the event counts.
    #[must_use]
    pub fn counts(&self) -> bool {
        self.withdrawn_by.is_none()
    }
}

/// The map or maps in force for one board.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct BoardAdoption {
    /// Adoptions that nobody replaced, oldest first: event and SHA-256 of the map file.
    pub current: Vec<(EventId, String)>,
}

impl BoardAdoption {
    /// Whether different maps stand for the same board at once.
    #[must_use]
    pub fn contradicted(&self) -> bool {
        self.current.windows(2).any(|pair| pair[0].1 != pair[1].1)
    }

    /// Hash of the newest adopted map.
    #[must_use]
    pub fn sha256(&self) -> Option<&str> {
        self.current.last().map(|(_, sha256)| sha256.as_str())
    }
}

/// One imported photo.
#[derive(Debug, Clone, PartialEq)]
pub struct PhotoState {
    /// The event that brought it in.
    pub added: EventId,
    /// What is known of it.
    pub facts: PhotoFacts,
    /// Which board and side it shows, by the newest word on it.
    pub view: Option<View>,
    /// Alignments to that view that nobody replaced, oldest first.
    pub alignments: Vec<(EventId, Alignment)>,
}

impl PhotoState {
    /// The newest current alignment.
    #[must_use]
    pub fn alignment(&self) -> Option<&Alignment> {
        self.alignments.last().map(|(_, alignment)| alignment)
    }

    /// Whether alignments that differ stand at once.
    #[must_use]
    pub fn contradicted(&self) -> bool {
        self.alignments
            .windows(2)
            .any(|pair| pair[0].1.projection != pair[1].1.projection)
    }
}

/// A reading or check that nobody replaced.
#[derive(Debug, Clone, PartialEq)]
pub struct Current<T> {
    /// The event.
    pub event: EventId,
    /// Its position in [`State::log`].
    pub position: usize,
    /// Who.
    pub by: String,
    /// When, RFC 3339.
    pub at: String,
    /// What.
    pub what: T,
    /// Why it no longer holds, where it does not.
    pub stale: Option<Stale>,
}

/// Why a reading or check no longer holds.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Stale {
    /// The later event that touched the unit.
    pub event: EventId,
    /// When that was, RFC 3339.
    pub at: String,
    /// What happened, in words, for example `main: reworked`.
    pub reason: String,
}

/// A place in comparable form: millimetres in thousandths, pixels in hundredths.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum PlaceKey {
    /// One joint.
    Joint(JointKey),
    /// A whole part: board and part uid.
    Part(String, String),
    /// A rectangle of a board: lower and upper corner in micrometres.
    Area(View, [i64; 2], [i64; 2]),
    /// A place on a photo: centre and radius in hundredths of a pixel.
    Photo(PhotoId, [i64; 2], i64),
    /// Something of the unit in words.
    Unit(String),
}

/// What the current judgements of one place add up to.
#[derive(Debug, Clone, PartialEq)]
pub struct PlaceState {
    /// The place as its newest judgement names it.
    pub target: Target,
    /// The worst verdict among the current judgements.
    pub verdict: Verdict,
    /// Faults that stand: those of the current judgements and, where a judgement names none of
    /// its own or tells of rework, those it replaced. Each kind once, with its worst severity.
    pub faults: Vec<Fault>,
    /// Whether a fault stands that somebody told in words alone, so that nobody said how bad it is.
    pub unnamed_fault: bool,
    /// Whether current judgements differ.
    pub contradicted: bool,
    /// Whether any current judgement says that the place cannot be judged.
    pub cannot_be_judged: bool,
    /// What is in the way, where somebody said so.
    pub obstacle: String,
    /// Remarks of the current judgements, oldest first.
    pub notes: Vec<String>,
    /// Best look among the current judgements.
    pub look: Look,
    /// Where the newest current judgement that names a spot was looked at.
    pub seen_on: Option<Spot>,
    /// What the hint said then.
    pub evidence: Option<Evidence>,
    /// Who judged, oldest current judgement first, each name once.
    pub by: Vec<String>,
    /// When the newest current judgement was written, RFC 3339.
    pub at: String,
    /// The current judgements, oldest first.
    pub current: Vec<EventId>,
    /// All counted judgements of this place, oldest first: the story of this line.
    pub story: Vec<EventId>,
}

/// How closely a place was looked at.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
pub enum Look {
    /// On a photo of unknown scale, or not at all.
    #[default]
    Unknown,
    /// On a photo, px/mm.
    Photo(f64),
    /// At the board itself.
    Board,
}

impl Look {
    /// Scale in px/mm where the look was at a photo of known scale.
    #[must_use]
    pub fn px_per_mm(self) -> Option<f64> {
        match self {
            Self::Photo(scale) => Some(scale),
            Self::Unknown | Self::Board => None,
        }
    }

    /// Whether the look counts where photos need at least this scale (0 = any).
    #[must_use]
    pub fn counts(self, least_px_per_mm: f64) -> bool {
        match self {
            Self::Board => true,
            Self::Photo(scale) => scale >= least_px_per_mm,
            Self::Unknown => least_px_per_mm <= 0.0,
        }
    }
}

/// What is known of one joint.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct JointState {
    /// The worst current verdict; `None` = unseen.
    pub verdict: Option<Verdict>,
    /// Faults that stand.
    pub faults: Vec<Fault>,
    /// Whether current judgements differ.
    pub contradicted: bool,
    /// Best look among the current judgements.
    pub look: Look,
    /// Who judged.
    pub by: Vec<String>,
    /// When the newest current judgement was written, RFC 3339; empty where unseen.
    pub at: String,
    /// The current judgements: what a new one lists in `replaces`.
    pub events: Vec<EventId>,
}

/// One line of the rework list: a place with a fault or a verdict that asks for something.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark<'a> {
    /// The key of the place.
    pub key: &'a PlaceKey,
    /// Everything known of it: target, verdict, faults, spot, evidence, events.
    pub place: &'a PlaceState,
    /// Worst severity of its faults; absent where no fault is named.
    pub severity: Option<Severity>,
}

/// A remark.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Note {
    /// The event.
    pub event: EventId,
    /// Who.
    pub by: String,
    /// When, RFC 3339.
    pub at: String,
    /// The remark.
    pub text: String,
    /// The photo it belongs to.
    pub photo: Option<PhotoId>,
}

/// Something a person should know about the record itself.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
#[serde(tag = "flag", rename_all = "snake_case")]
pub enum Flag {
    /// The clock of the event runs more than a day ahead of its date or of now.
    FutureClock {
        /// The event.
        event: EventId,
        /// By how many whole days.
        days: u64,
    },
    /// Two different events carry one identity: a journal file was altered.
    Clash {
        /// The identity.
        event: EventId,
    },
}

impl State {
    /// What is known of one joint; unseen where nobody judged it.
    #[must_use]
    pub fn joint(&self, key: &JointKey) -> JointState {
        self.places
            .get(&PlaceKey::Joint(key.clone()))
            .map(|place| JointState {
                verdict: Some(place.verdict),
                faults: place.faults.clone(),
                contradicted: place.contradicted,
                look: place.look,
                by: place.by.clone(),
                at: place.at.clone(),
                events: place.current.clone(),
            })
            .unwrap_or_default()
    }

    /// What is known of any place.
    #[must_use]
    pub fn place(&self, target: &Target) -> Option<&PlaceState> {
        self.places.get(&PlaceKey::of(target))
    }

    /// Current judgements of these places: what a new judgement of them lists in `replaces`.
    #[must_use]
    pub fn judgements_of(&self, targets: &[Target]) -> Vec<EventId> {
        let mut ids: Vec<EventId> = targets
            .iter()
            .filter_map(|target| self.place(target))
            .flat_map(|place| place.current.iter().copied())
            .collect();
        ids.sort_unstable();
        ids.dedup();
        ids
    }

    /// Every place with a fault, or with a verdict that asks for something, in the order of keys
    /// (board, then pin). Suspect, faulty and reworked places are here, accepted ones where they
    /// had faults, and contradicted ones.
    #[must_use]
    pub fn marks(&self) -> Vec<Mark<'_>> {
        self.places
            .iter()
            .filter(|(_, place)| place.is_mark())
            .map(|(key, place)| Mark {
                key,
                place,
                severity: place.severity(),
            })
            .collect()
    }

    /// What the shop demands of coverage.
    #[must_use]
    pub fn demand(&self) -> &Coverage {
        self.demand.as_ref().unwrap_or(&DEFAULT_COVERAGE)
    }

    /// Current alignment ids of a photo: what a new alignment lists in `replaces`.
    #[must_use]
    pub fn alignments_of(&self, photo: &str) -> Vec<EventId> {
        self.photos
            .get(photo)
            .map(|photo| photo.alignments.iter().map(|(id, _)| *id).collect())
            .unwrap_or_default()
    }

    /// Photos of one side of a board, by hash.
    pub fn photos_of<'a>(
        &'a self,
        board: &'a str,
        side: Side,
    ) -> impl Iterator<Item = &'a PhotoState> {
        self.photos.values().filter(move |photo| {
            photo
                .view
                .as_ref()
                .is_some_and(|view| view.board == board && view.side == side)
        })
    }

    /// An event of the record by its identity.
    #[must_use]
    pub fn event(&self, id: EventId) -> Option<&Logged> {
        self.log.iter().find(|logged| logged.event.id == id)
    }

    /// The verdict of a judgement; `None` where the event is none.
    #[must_use]
    pub fn verdict_of(&self, id: EventId) -> Option<Verdict> {
        match &self.event(id)?.event.what {
            Event::Judged(judgement) => Some(judgement.verdict),
            _ => None,
        }
    }

    /// Whether a photo came into the job before the newest rework of a place, and so does not
    /// show it.
    #[must_use]
    pub fn came_in_before_rework(&self, target: &Target, photo: &PhotoId) -> bool {
        let position = |id: EventId| self.log.iter().position(|logged| logged.event.id == id);
        let reworked = (self.place(target))
            .and_then(|place| {
                let mut story = place.story.iter().rev();
                story.find(|id| self.verdict_of(**id) == Some(Verdict::Reworked))
            })
            .and_then(|id| position(*id));
        let added = (self.photos.get(photo)).and_then(|photo| position(photo.added));
        reworked.is_some() && added < reworked
    }

    /// The newest event of this bench that counts and can be undone: what *undo* withdraws.
    /// The start of the job and events of a newer version are not undone.
    #[must_use]
    pub fn undoable(&self, bench: BenchId) -> Option<&Envelope> {
        self.log
            .iter()
            .rev()
            .find(|logged| {
                logged.event.bench == bench && logged.counts() && can_undo(&logged.event)
            })
            .map(|logged| &logged.event)
    }

    /// The newest undo of this bench that is in force with nothing done since: what *redo*
    /// withdraws.
    #[must_use]
    pub fn redoable(&self, bench: BenchId) -> Option<&Envelope> {
        self.log
            .iter()
            .rev()
            .filter(|logged| logged.event.bench == bench)
            .take_while(|logged| matches!(logged.event.what, Event::Withdrawn { .. }))
            .find(|logged| logged.counts() && !self.is_redo(&logged.event))
            .map(|logged| &logged.event)
    }

    fn is_redo(&self, event: &Envelope) -> bool {
        let Event::Withdrawn { targets } = &event.what else {
            return false;
        };
        targets
            .iter()
            .filter_map(|id| self.event(*id))
            .any(|logged| matches!(logged.event.what, Event::Withdrawn { .. }))
    }
}

fn can_undo(event: &Envelope) -> bool {
    !matches!(
        event.what,
        Event::Withdrawn { .. } | Event::Started(_) | Event::Unknown(_)
    )
}

impl PlaceState {
    /// Worst severity of the faults that stand.
    #[must_use]
    pub fn severity(&self) -> Option<Severity> {
        self.faults.iter().map(|fault| fault.severity).max()
    }

    /// Whether this place is a line of the rework list.
    #[must_use]
    pub fn is_mark(&self) -> bool {
        !self.faults.is_empty()
            || self.unnamed_fault
            || self.contradicted
            || matches!(
                self.verdict,
                Verdict::Suspect | Verdict::Faulty | Verdict::Reworked
            )
    }

    /// Whether everything about the place was accepted and nobody says otherwise.
    #[must_use]
    pub fn is_accepted(&self) -> bool {
        self.verdict == Verdict::Accepted && !self.contradicted
    }
}

/// Micrometres per millimetre: two areas closer than this are the same place.
const AREA_STEPS_PER_MM: f64 = 1000.0;
/// Steps per pixel: two spots of a photo closer than this are the same place.
const SPOT_STEPS_PER_PX: f64 = 100.0;

impl PlaceKey {
    /// The key of a target. Corners of an area may be given in any order.
    #[must_use]
    pub fn of(target: &Target) -> Self {
        match target {
            Target::Joint(joint) => Self::Joint(joint.clone()),
            Target::Part { board, part } => Self::Part(board.clone(), part.clone()),
            Target::Area { view, from, to } => {
                let steps = |a: f64| (a * AREA_STEPS_PER_MM).round() as i64;
                let low = [0, 1].map(|axis| steps(from[axis].min(to[axis])));
                let high = [0, 1].map(|axis| steps(from[axis].max(to[axis])));
                Self::Area(view.clone(), low, high)
            }
            Target::Photo(spot) => {
                let steps = |a: f64| (a * SPOT_STEPS_PER_PX).round() as i64;
                Self::Photo(
                    spot.photo.clone(),
                    spot.at_px.map(steps),
                    steps(spot.radius_px),
                )
            }
            Target::Unit { what } => Self::Unit(what.trim().to_owned()),
        }
    }
}
