//! Everything that can be held against a stage of the gate, in sentences that say what to do.

use std::fmt;

use crate::board::Expect;

use super::event::{CheckKind, JointKey, Severity, Subject, Target, Verdict};
use super::state::Stale;
use super::words;

/// How many joints a sentence names before it only counts them.
const NAMED_JOINTS: usize = 5;

/// One thing that is held against a stage. Its `Display` is one or two plain sentences: what is
/// the matter and what to do.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
#[serde(tag = "reason", rename_all = "snake_case")]
pub enum Reason {
    /// The job has no unit.
    NoUnit,
    /// No board map is adopted.
    NoMap,
    /// A map is adopted and its file is not at hand.
    MapMissing {
        /// Board name.
        board: String,
    },
    /// Different maps are adopted for one board at once.
    MapsContradict {
        /// Board name.
        board: String,
        /// How many.
        maps: usize,
    },
    /// The record holds events of a newer version.
    NewerEvents {
        /// How many.
        count: usize,
    },
    /// Lines of a journal could not be read.
    UnreadableLines {
        /// How many.
        count: usize,
    },
    /// Different events carry one identity, or lines do not follow from those before them.
    RecordAltered {
        /// How many.
        count: usize,
    },
    /// No adopted map names a rail.
    NoRails,
    /// A check was not made.
    CheckMissing {
        /// Which.
        check: CheckKind,
    },
    /// A check failed.
    CheckFailed {
        /// Which.
        check: CheckKind,
        /// Remark of the person.
        note: String,
    },
    /// A check is older than a later touch.
    CheckStale {
        /// Which.
        check: CheckKind,
        /// What happened since.
        stale: Stale,
    },
    /// Stored charge was found in order without saying what the meter showed.
    StoredChargeUnsaid,
    /// *Not fitted* was entered without saying why.
    CheckNeedsNote {
        /// Which.
        check: CheckKind,
    },
    /// A rail or test point was not measured.
    ReadingMissing {
        /// Where.
        subject: Subject,
        /// What.
        quantity: Expect,
    },
    /// A reading is outside its limits.
    ReadingOutside {
        /// Where.
        subject: Subject,
        /// What.
        quantity: Expect,
        /// The value read.
        value: f64,
        /// Smallest value in order.
        min: Option<f64>,
        /// Greatest value in order.
        max: Option<f64>,
    },
    /// The map states no tolerance, so no reading can pass.
    NoTolerance {
        /// Where.
        subject: Subject,
        /// What.
        quantity: Expect,
    },
    /// A reading is older than a later touch.
    ReadingStale {
        /// Where.
        subject: Subject,
        /// What happened since.
        stale: Stale,
    },
    /// A reading was taken with other settings than the map asks for.
    OtherSettings {
        /// Where.
        subject: Subject,
        /// The control.
        control: String,
        /// How it must stand.
        wanted: String,
        /// How it stood; absent where nobody wrote it down.
        found: Option<String>,
    },
    /// Too few joints were judged.
    CoverageShort {
        /// Board name.
        board: String,
        /// Whether only the safety and supply areas are asked for.
        before_power: bool,
        /// Joints judged.
        judged: usize,
        /// Joints asked for.
        wanted: usize,
        /// All joints that the demand is about.
        total: usize,
        /// Those that are not judged, in the order of the map.
        joints: Vec<JointKey>,
        /// What people call them.
        labels: Vec<String>,
    },
    /// Coverage is demanded and a map does not tell which joints are to be judged.
    CoverageNoData {
        /// Whether only the safety and supply areas are asked for.
        before_power: bool,
        /// The boards; none where it is said of all of them together.
        boards: Vec<String>,
    },
    /// A mark that has not been accepted.
    MarkOpen {
        /// The place.
        target: Target,
        /// What people call it.
        label: String,
        /// Its verdict.
        verdict: Verdict,
        /// Its worst severity; absent where nobody said.
        severity: Option<Severity>,
        /// Its faults in words.
        faults: Vec<String>,
        /// Whether people disagree about it.
        contradicted: bool,
    },
    /// No function test passed.
    NoFunctionTest,
    /// The unit has not been closed up.
    NotClosedUp,
    /// The unit was opened again after it was closed up.
    OpenedSinceClosing,
    /// A check was made before the unit was closed up and not again since.
    CheckBeforeClosing {
        /// Which.
        check: CheckKind,
    },
    /// A reading was taken before the unit was closed up and not again since.
    ReadingBeforeClosing {
        /// Where.
        subject: Subject,
    },
}

impl fmt::Display for Reason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::CheckMissing { .. }
            | Self::CheckFailed { .. }
            | Self::CheckStale { .. }
            | Self::CheckNeedsNote { .. }
            | Self::StoredChargeUnsaid
            | Self::NoFunctionTest
            | Self::CheckBeforeClosing { .. } => self.check_sentence(f),
            Self::ReadingMissing { .. }
            | Self::ReadingOutside { .. }
            | Self::NoTolerance { .. }
            | Self::ReadingStale { .. }
            | Self::OtherSettings { .. }
            | Self::ReadingBeforeClosing { .. } => self.reading_sentence(f),
            Self::CoverageShort { .. } | Self::CoverageNoData { .. } | Self::MarkOpen { .. } => {
                self.place_sentence(f)
            }
            _ => self.record_sentence(f),
        }
    }
}

impl Reason {
    /// The place that a mark is about, for a jump to it.
    #[must_use]
    pub fn target(&self) -> Option<Target> {
        match self {
            Self::MarkOpen { target, .. } => Some(target.clone()),
            Self::CoverageShort { joints, .. } => joints.first().cloned().map(Target::Joint),
            _ => None,
        }
    }

    fn record_sentence(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoUnit => write!(f, "The job names no unit. Start it with the unit's code."),
            Self::NoMap => write!(
                f,
                "No board map is adopted, so nobody can say what was not looked at. Adopt a map."
            ),
            Self::MapMissing { board } => write!(
                f,
                "The map of board {board} is adopted and its file is not at hand. Wait for the \
                 folder to finish syncing, or bring the file back into maps/."
            ),
            Self::MapsContradict { board, maps } => write!(
                f,
                "{maps} different maps are adopted for board {board}. Adopt the right one again."
            ),
            Self::NewerEvents { count } => write!(
                f,
                "The record holds {count} event(s) that this version does not know. Open the job \
                 with the newer version."
            ),
            Self::UnreadableLines { count } => write!(
                f,
                "{count} line(s) of the journal cannot be read or have not arrived whole, and each \
                 may hold a mark. Wait until the folder has synced, or open the job at the bench \
                 that wrote it; else verify the job and bring the journal back from a copy."
            ),
            Self::RecordAltered { count } => {
                if *count == 1 {
                    write!(
                        f,
                        "An entry of the record exists in two different forms or does not follow"
                    )?;
                } else {
                    write!(
                        f,
                        "{count} entries of the record exist in two different forms or do not follow"
                    )?;
                }
                write!(
                    f,
                    " from the entry before: a journal file was altered. Verify the job and bring \
                     the journal back from a copy."
                )
            }
            Self::NoRails => write!(
                f,
                "No adopted map names a supply rail, so there is nothing to measure the supply \
                 by. Add the rails and their limits to the map."
            ),
            Self::NotClosedUp => write!(
                f,
                "Nobody has recorded that the unit was closed up. Close it up and say so."
            ),
            Self::OpenedSinceClosing => write!(
                f,
                "The unit was opened again after it was closed up, or something on it was reworked \
                 or reseated. Close it up and repeat the closing checks."
            ),
            _ => Ok(()),
        }
    }

    fn check_sentence(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::CheckMissing { check } => {
                write!(
                    f,
                    "Not checked: {}. Check it and record the outcome.",
                    check.words()
                )
            }
            Self::CheckFailed { check, note } => {
                write!(f, "Failed: {}", check.words())?;
                if !note.is_empty() {
                    write!(f, " ({note})")?;
                }
                write!(f, ". Put it right and check again.")
            }
            Self::CheckStale { check, stale } => write!(
                f,
                "Out of date: {}; {} on {}. Check it again.",
                check.words(),
                stale.reason,
                stale.at
            ),
            Self::CheckNeedsNote { check } => write!(
                f,
                "Recorded as not fitted without saying why: {}. Record it again with a note.",
                check.words()
            ),
            Self::StoredChargeUnsaid => write!(
                f,
                "Stored charge is recorded as passed without what the meter showed. Measure it and \
                 record the volts."
            ),
            Self::NoFunctionTest => {
                write!(
                    f,
                    "No function test has passed. Try the unit and record what was tried."
                )
            }
            Self::CheckBeforeClosing { check } => write!(
                f,
                "Not repeated since the unit was closed up: {}. Check it again, closed.",
                check.words()
            ),
            _ => Ok(()),
        }
    }

    fn reading_sentence(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::ReadingMissing { subject, quantity } => {
                let (name, unit) = words::quantity(*quantity);
                write!(
                    f,
                    "Not measured: {subject}, {name} in {unit}. Measure and record it."
                )
            }
            Self::ReadingOutside {
                subject,
                quantity,
                value,
                min,
                max,
            } => {
                let (name, unit) = words::quantity(*quantity);
                write!(
                    f,
                    "Outside its limits: {subject}, {name} {value} {unit}; in order "
                )?;
                match (min, max) {
                    (Some(min), Some(max)) => write!(f, "from {min} to {max} {unit}")?,
                    (Some(min), None) => write!(f, "from {min} {unit} up")?,
                    (None, Some(max)) => write!(f, "up to {max} {unit}")?,
                    (None, None) => write!(f, "is not stated")?,
                }
                write!(f, ". Find the cause, mend it and measure again.")
            }
            Self::NoTolerance { subject, quantity } => write!(
                f,
                "The map states no tolerance for {subject}, {}: a reading is kept but cannot \
                 count. State limits in the map and adopt it.",
                words::quantity(*quantity).0
            ),
            Self::ReadingStale { subject, stale } => write!(
                f,
                "Out of date: {subject}; {} on {}. Measure again.",
                stale.reason, stale.at
            ),
            Self::OtherSettings {
                subject,
                control,
                wanted,
                found,
            } => {
                write!(f, "The reading at {subject} does not count: ")?;
                match found {
                    Some(found) => write!(f, "`{control}` stood at `{found}`, not `{wanted}`")?,
                    None => write!(f, "nobody wrote down that `{control}` stood at `{wanted}`")?,
                }
                write!(f, ". Set `{control}` to `{wanted}` and measure again.")
            }
            Self::ReadingBeforeClosing { subject } => write!(
                f,
                "Not repeated since the unit was closed up: {subject}. Measure again."
            ),
            _ => Ok(()),
        }
    }

    fn place_sentence(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::CoverageShort {
                board,
                before_power,
                judged,
                wanted,
                total,
                labels,
                ..
            } => {
                let area = if *before_power {
                    "safety and supply joints"
                } else {
                    "joints"
                };
                write!(
                    f,
                    "Board {board}: {judged} of {total} {area} judged, {wanted} asked for. Look at "
                )?;
                write!(f, "{}", labels[..labels.len().min(NAMED_JOINTS)].join(", "))?;
                match labels.len().saturating_sub(NAMED_JOINTS) {
                    0 => write!(f, "."),
                    more => write!(f, " and {more} more."),
                }
            }
            Self::CoverageNoData {
                before_power,
                boards,
            } => no_data_sentence(f, *before_power, boards),
            _ => self.mark_sentence(f),
        }
    }

    fn mark_sentence(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::MarkOpen {
                label,
                verdict,
                severity,
                faults,
                contradicted,
                ..
            } => {
                write!(f, "{label}: {}", verdict.words())?;
                if !faults.is_empty() {
                    write!(f, ", {}", faults.join(", "))?;
                }
                match severity {
                    Some(severity) => write!(f, " ({})", severity.words())?,
                    None => write!(f, " (nobody said how bad)")?,
                }
                if *contradicted {
                    return write!(f, "; judgements differ. Look again and settle it.");
                }
                match verdict {
                    Verdict::Reworked => write!(f, ". Recheck the rework and accept it."),
                    Verdict::Suspect => write!(f, ". Look again: mend it, or judge it anew."),
                    Verdict::CannotBeJudged => write!(f, ". Clear the way and look again."),
                    _ => write!(f, ". Mend it, recheck it and accept it."),
                }
            }
            _ => Ok(()),
        }
    }
}

fn no_data_sentence(
    f: &mut fmt::Formatter<'_>,
    before_power: bool,
    boards: &[String],
) -> fmt::Result {
    match boards {
        [] => write!(f, "No adopted map says")?,
        [board] => write!(f, "The map of board {board} does not say")?,
        several => write!(f, "The maps of boards {} do not say", several.join(", "))?,
    }
    if before_power {
        write!(
            f,
            " which joints belong to the safety and supply areas, so there is no data on whether \
             they were looked at. Add parts and pins to the map and mark the zones of the parts."
        )
    } else {
        write!(
            f,
            " which joints there are, so there is no data on whether they were looked at. Add \
             parts and pins to the map."
        )
    }
}
