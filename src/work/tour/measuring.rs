//! What the tour's repairer measures and checks.

use std::collections::BTreeMap;

use crate::board::{Expect, Limits};
use crate::record::{CheckKind, Outcome, Reading, ReadingMode, Subject};

use super::super::action::Action;
use super::super::error::WorkError;
use super::super::session::Session;

/// The checks before power, and the resistance of every rail to its return.
pub(super) fn cold_checks(session: &mut Session) -> Result<(), WorkError> {
    checks(session)?;
    rails(session, ReadingMode::Cold)
}

pub(super) fn checks(session: &mut Session) -> Result<(), WorkError> {
    for check in CheckKind::BEFORE_POWER {
        let (outcome, volts, note) = match check {
            CheckKind::VoltageSelector => (
                Outcome::NotFitted,
                None,
                "24 V AC transformer outside the case",
            ),
            CheckKind::StoredCharge => (
                Outcome::Passed,
                Some(0.3),
                "across the reservoirs after ten minutes, meter proved before and after",
            ),
            _ => (Outcome::Passed, None, ""),
        };
        session.apply(Action::Check {
            check,
            outcome,
            volts,
            note: note.to_owned(),
        })?;
    }
    Ok(())
}

/// Readings that a healthy rail gives: a little inside its limits.
pub(super) fn rails(session: &mut Session, mode: ReadingMode) -> Result<(), WorkError> {
    let rails: Vec<_> = session
        .maps()
        .iter()
        .flat_map(|map| {
            map.rails
                .iter()
                .map(|rail| (map.board.clone(), rail.clone()))
        })
        .collect();
    for (board, rail) in rails {
        let mut readings = Vec::new();
        let mut add = |quantity, value| readings.push(Reading { quantity, value });
        match mode {
            ReadingMode::Cold => {
                let Some(least) = rail.cold_min_ohm else {
                    continue;
                };
                add(Expect::Ohm, (least * 8.0).round());
            }
            ReadingMode::Unloaded => add(Expect::VoltsDc, within(rail.unloaded)),
            ReadingMode::Loaded => {
                add(Expect::VoltsDc, within(rail.loaded));
                if let Some(most) = rail.ripple_max_mv_pp {
                    add(Expect::MillivoltsPp, (most * 0.4).round());
                }
            }
        }
        session.apply(Action::Measure {
            subject: Subject::Rail {
                board,
                rail: rail.name,
                mode,
            },
            readings,
            settings: BTreeMap::new(),
            note: String::new(),
        })?;
    }
    Ok(())
}

fn within(limits: Limits) -> f64 {
    let value = limits.min + 0.55 * (limits.max - limits.min);
    (value * 100.0).round() / 100.0
}

pub(super) fn function(
    session: &mut Session,
    outcome: Outcome,
    note: &str,
) -> Result<(), WorkError> {
    let points: Vec<_> = session
        .maps()
        .iter()
        .flat_map(|map| {
            map.test_points
                .iter()
                .map(|point| (map.board.clone(), point.clone()))
        })
        .collect();
    for (board, point) in points {
        let readings = point
            .expect
            .iter()
            .filter_map(|expect| {
                let (min, max) = (expect.min?, expect.max?);
                Some(Reading {
                    quantity: expect.quantity,
                    value: within(Limits { min, max }),
                })
            })
            .collect();
        session.apply(Action::Measure {
            subject: Subject::TestPoint {
                board,
                name: point.name,
            },
            readings,
            settings: point.settings,
            note: String::new(),
        })?;
    }
    session.apply(Action::Check {
        check: CheckKind::Function {
            test: "all twelve zones switch in turn".to_owned(),
        },
        outcome,
        volts: None,
        note: note.to_owned(),
    })?;
    Ok(())
}
