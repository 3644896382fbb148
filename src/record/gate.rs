//! The gate: what still forbids the next power stage. One pure function, asked by the window,
//! the command line and the papers alike.

mod readings;

use std::fmt;

use crate::board::{BoardMap, Zone};

use super::address::{address, target_label};
use super::coverage::{Standing, joints, standing};
use super::event::{Check, CheckKind, Outcome, Severity, Stage, Target, Verdict};
use super::reason::Reason;
use super::state::{Current, Flag, Mark, PlaceState, State};
use super::zones::{is_near_power, tells_zones};

/// What the gate says of one stage.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct GateVerdict {
    /// The stage that was asked for.
    pub stage: Stage,
    /// Whether nothing is held against it.
    pub permitted: bool,
    /// The one step that the stage permits once nothing is held against it.
    pub permits: &'static str,
    /// Everything that is held against it and the stages before it, in the order in which the
    /// work is done.
    pub reasons: Vec<Held>,
}

/// One reason with the stage that it belongs to.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Held {
    /// The stage at which it counts first.
    pub stage: Stage,
    /// What is the matter.
    #[serde(flatten)]
    pub reason: Reason,
}

impl fmt::Display for Held {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.reason.fmt(f)
    }
}

/// Checks that are repeated on the closed unit: those that need no open lid. The stored charge
/// is measured inside and is not among them.
const REPEATED_CLOSED: [CheckKind; 5] = [
    CheckKind::Cord,
    CheckKind::Plug,
    CheckKind::EarthContinuity,
    CheckKind::FuseRating,
    CheckKind::VoltageSelector,
];

/// What still forbids `stage`, with everything that still forbids the stages before it. `maps`
/// are the adopted board maps; maps of boards that the job has not adopted are left aside.
#[must_use]
pub fn gate(state: &State, maps: &[BoardMap], stage: Stage) -> GateVerdict {
    let gate = Gate {
        state,
        all_maps: maps,
        maps: maps
            .iter()
            .filter(|map| state.maps.contains_key(&map.board))
            .collect(),
    };
    let mut reasons = Vec::new();
    for asked in Stage::ALL.into_iter().take_while(|asked| *asked <= stage) {
        let mut found = Vec::new();
        match asked {
            Stage::Cold => gate.cold(&mut found),
            Stage::Supply => gate.supply(&mut found),
            Stage::Load => gate.load(&mut found),
            Stage::Function => gate.function(&mut found),
            Stage::Closed => gate.closed(&mut found),
        }
        for reason in found {
            // What an earlier stage holds already is not said twice.
            if !reasons.iter().any(|held: &Held| held.reason == reason) {
                reasons.push(Held {
                    stage: asked,
                    reason,
                });
            }
        }
    }
    GateVerdict {
        stage,
        permitted: reasons.is_empty(),
        permits: stage.permits(),
        reasons,
    }
}

struct Gate<'a> {
    state: &'a State,
    all_maps: &'a [BoardMap],
    maps: Vec<&'a BoardMap>,
}

impl Gate<'_> {
    fn cold(&self, found: &mut Vec<Reason>) {
        self.record(found);
        for check in CheckKind::BEFORE_POWER {
            self.check(&check, found);
        }
        self.stored_charge(found);
        self.rails_named(found);
        self.cold_rails(found);
        self.coverage(self.state.demand().before_power, true, found);
        self.marks(found, |mark| {
            // Unknown is not OK: a fault of which nobody said how bad it is blocks, and so does a
            // doubt about a place that power may reach.
            mark.place.unnamed_fault
                || match mark.severity {
                    Some(severity) => severity == Severity::BlocksPower,
                    None => self.near_power(mark.place),
                }
        });
        self.not_judged(found);
    }

    fn near_power(&self, place: &PlaceState) -> bool {
        is_near_power(self.all_maps, &place.target)
    }

    fn supply(&self, found: &mut Vec<Reason>) {
        self.unloaded_rails(found);
    }

    fn load(&self, found: &mut Vec<Reason>) {
        self.loaded_rails(found);
    }

    fn function(&self, found: &mut Vec<Reason>) {
        self.test_points(found);
        let mut passed = false;
        for (kind, checks) in self.function_tests() {
            self.judge_check(kind, checks, found);
            passed |= standing_checks(checks)
                .any(|check| check.stale.is_none() && check.what.outcome == Outcome::Passed);
        }
        if !passed {
            found.push(Reason::NoFunctionTest);
        }
    }

    fn closed(&self, found: &mut Vec<Reason>) {
        self.coverage(self.state.demand().before_closing, false, found);
        self.marks(found, |mark| {
            mark.place.contradicted
                || mark.place.unnamed_fault
                || mark.severity >= Some(Severity::FixNow)
                || mark.place.verdict == Verdict::Reworked
                || mark.severity.is_none()
        });
        let Some(closed_up) = self.state.closed_up else {
            found.push(Reason::NotClosedUp);
            return;
        };
        let touched_since = |position| !self.state.is_after(closed_up, position);
        if self.state.reopened.is_some_and(touched_since) {
            found.push(Reason::OpenedSinceClosing);
        }
        let made_again = |checks: &[Current<Check>]| {
            standing_checks(checks).all(|check| self.state.is_after(check.position, closed_up))
        };
        for check in REPEATED_CLOSED {
            // A check that was never made is held by the cold stage already.
            if self
                .state
                .checks
                .get(&check)
                .is_some_and(|checks| !made_again(checks))
            {
                found.push(Reason::CheckBeforeClosing { check });
            }
        }
        for (check, checks) in self.function_tests() {
            if !made_again(checks) {
                found.push(Reason::CheckBeforeClosing {
                    check: check.clone(),
                });
            }
        }
        self.rails_before(closed_up, found);
    }

    /// Without a rail nothing is measured before first power, nor after it.
    fn rails_named(&self, found: &mut Vec<Reason>) {
        if self.maps.iter().all(|map| map.rails.is_empty()) {
            found.push(Reason::NoRails);
        }
    }

    /// What the meter showed belongs to the check of stored charge: it is measured, not computed.
    fn stored_charge(&self, found: &mut Vec<Reason>) {
        let checks = self.state.checks.get(&CheckKind::StoredCharge);
        let unsaid = |check: &Current<Check>| {
            check.stale.is_none()
                && check.what.outcome == Outcome::Passed
                && check.what.volts.is_none()
        };
        if checks.is_some_and(|checks| checks.iter().any(unsaid)) {
            found.push(Reason::StoredChargeUnsaid);
        }
    }

    /// Pieces and parts that power may reach and of which somebody said that they cannot be
    /// judged. Joints are asked for by the coverage.
    fn not_judged(&self, found: &mut Vec<Reason>) {
        for place in self.state.places.values() {
            let counts = matches!(place.target, Target::Unit { .. } | Target::Part { .. });
            if counts && place.cannot_be_judged && !place.is_mark() && self.near_power(place) {
                found.push(self.open(place, place.severity()));
            }
        }
    }

    /// What is the matter with the record itself.
    fn record(&self, found: &mut Vec<Reason>) {
        let state = self.state;
        if state.unit.is_none() {
            found.push(Reason::NoUnit);
        }
        if state.maps.is_empty() {
            found.push(Reason::NoMap);
        }
        for (board, adoption) in &state.maps {
            if adoption.contradicted() {
                let maps = adoption.current.len();
                found.push(Reason::MapsContradict {
                    board: board.clone(),
                    maps,
                });
            }
            if !self.maps.iter().any(|map| map.board == *board) {
                found.push(Reason::MapMissing {
                    board: board.clone(),
                });
            }
        }
        if !state.unknown.is_empty() {
            found.push(Reason::NewerEvents {
                count: state.unknown.len(),
            });
        }
        if state.unreadable_lines > 0 {
            found.push(Reason::UnreadableLines {
                count: state.unreadable_lines,
            });
        }
        let clashes = state
            .flags
            .iter()
            .filter(|flag| matches!(flag, Flag::Clash { .. }))
            .count();
        let altered = clashes + state.broken_links;
        if altered > 0 {
            found.push(Reason::RecordAltered { count: altered });
        }
    }

    fn check(&self, check: &CheckKind, found: &mut Vec<Reason>) {
        match self.state.checks.get(check) {
            Some(checks) if !checks.is_empty() => self.judge_check(check, checks, found),
            _ => found.push(Reason::CheckMissing {
                check: check.clone(),
            }),
        }
    }

    /// Every current outcome has to be in order: where two people differ, the worst counts.
    fn judge_check(&self, kind: &CheckKind, checks: &[Current<Check>], found: &mut Vec<Reason>) {
        let mut reasons = Vec::new();
        for check in standing_checks(checks) {
            let reason = match (&check.stale, check.what.outcome) {
                (Some(stale), _) => Reason::CheckStale {
                    check: kind.clone(),
                    stale: stale.clone(),
                },
                (None, Outcome::Failed) => Reason::CheckFailed {
                    check: kind.clone(),
                    note: check.what.note.clone(),
                },
                (None, Outcome::NotFitted) if check.what.note.trim().is_empty() => {
                    Reason::CheckNeedsNote {
                        check: kind.clone(),
                    }
                }
                (None, Outcome::NotFitted | Outcome::Passed) => continue,
            };
            if !reasons.contains(&reason) {
                reasons.push(reason);
            }
        }
        found.append(&mut reasons);
    }

    fn function_tests(&self) -> impl Iterator<Item = (&CheckKind, &[Current<Check>])> {
        self.state
            .checks
            .iter()
            .filter(|(kind, _)| matches!(kind, CheckKind::Function { .. }))
            .map(|(kind, checks)| (kind, checks.as_slice()))
    }

    fn coverage(&self, share: f64, before_power: bool, found: &mut Vec<Reason>) {
        // A demand that is not a number is no demand anyone made: take all of it.
        let share = if share.is_nan() {
            1.0
        } else {
            share.clamp(0.0, 1.0)
        };
        if share == 0.0 {
            return;
        }
        let no_data = |map: &&&BoardMap| {
            let no_joints = joints(map).next().is_none();
            no_joints || (before_power && !tells_zones(map))
        };
        let boards: Vec<String> = (self.maps.iter().filter(no_data))
            .map(|map| map.board.clone())
            .collect();
        let mut any = false;
        for map in &self.maps {
            let asked: Vec<_> = joints(map)
                .filter(|(part, _, _)| !before_power || part.zone != Zone::Load)
                .collect();
            any |= !asked.is_empty();
            let total = asked.len();
            let missing: Vec<_> = asked
                .into_iter()
                .filter(|(_, _, joint)| !matches!(standing(self.state, joint), Standing::Judged(_)))
                .collect();
            let judged = total - missing.len();
            let wanted = joints_wanted(share, total);
            if judged < wanted {
                found.push(Reason::CoverageShort {
                    board: map.board.clone(),
                    before_power,
                    judged,
                    wanted,
                    total,
                    labels: missing
                        .iter()
                        .map(|(part, pin, joint)| address(part, pin, joint))
                        .collect(),
                    joints: missing.into_iter().map(|(_, _, joint)| joint).collect(),
                });
            }
        }
        if !boards.is_empty() || (!any && !self.maps.is_empty()) {
            found.push(Reason::CoverageNoData {
                before_power,
                boards,
            });
        }
    }

    /// Marks that `holds` picks and nobody has accepted.
    fn marks(&self, found: &mut Vec<Reason>, holds: impl Fn(&Mark<'_>) -> bool) {
        for mark in self.state.marks() {
            if mark.place.is_accepted() || !holds(&mark) {
                continue;
            }
            found.push(self.open(mark.place, mark.severity));
        }
    }

    fn open(&self, place: &PlaceState, severity: Option<Severity>) -> Reason {
        Reason::MarkOpen {
            target: place.target.clone(),
            label: target_label(&place.target, self.all_maps, self.state),
            verdict: place.verdict,
            // Beside a fault that has one stands another of which nobody said how bad it is.
            severity: severity.filter(|_| !place.unnamed_fault),
            faults: (place.faults.iter())
                .map(|fault| fault.fault.words().to_owned())
                .collect(),
            contradicted: place.contradicted,
        }
    }
}

/// The checks that have a say: those that still hold, or, where none does, the stale ones.
fn standing_checks(checks: &[Current<Check>]) -> impl Iterator<Item = &Current<Check>> {
    let any_fresh = checks.iter().any(|check| check.stale.is_none());
    checks
        .iter()
        .filter(move |check| check.stale.is_none() || !any_fresh)
}

/// How many of `total` joints a share asks for: rounded up, so that no share below one lets a
/// joint through that it does not cover; forgiving the noise of a binary fraction.
fn joints_wanted(share: f64, total: usize) -> usize {
    const NOISE: f64 = 1e-9;
    ((share * total as f64) - NOISE).ceil().max(0.0) as usize
}
