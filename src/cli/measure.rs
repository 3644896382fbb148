//! `measure`: readings, checks before power, function tests.

use crate::board::Expect;
use crate::record::{CheckKind, Outcome, Reading, ReadingMode, Subject};
use crate::work::{Action, Session, WorkError};

use super::args::{CheckArg, MeasureArgs, ModeArg, OutcomeArg};
use super::exit::Ending;
use super::{Context, mark, parse};

pub(super) fn measure(context: &Context, args: MeasureArgs) -> Result<Ending, WorkError> {
    let mut session = context.open(&args.job)?;
    let action = action(&session, args)?;
    mark::record(context, &mut session, action)
}

fn bad(reason: &str, remedy: &str) -> WorkError {
    WorkError::BadInput {
        reason: reason.to_owned(),
        remedy: remedy.to_owned(),
    }
}

fn action(session: &Session, args: MeasureArgs) -> Result<Action, WorkError> {
    let check = match (args.check, &args.function) {
        (Some(check), _) => Some(check_kind(check)),
        (None, Some(test)) => Some(CheckKind::Function { test: test.clone() }),
        (None, None) => None,
    };
    if let Some(check) = check {
        let outcome = args.outcome.ok_or_else(|| {
            bad(
                "a check without an outcome is not a check",
                "add --outcome passed, failed or not-fitted",
            )
        })?;
        let volts = (args.volts.as_ref())
            .map(|text| parse::number("--volts", text))
            .transpose()?;
        return Ok(Action::Check {
            check,
            outcome: outcome_of(outcome),
            volts,
            note: args.note,
        });
    }
    let readings = readings(&args)?;
    let subject = match (&args.rail, &args.test_point) {
        (Some(rail), _) => {
            let mode = args.mode.ok_or_else(|| {
                bad(
                    "a rail reading without the state of the supply",
                    "add --mode cold (resistance, power off), unloaded (load unplugged) or loaded",
                )
            })?;
            Subject::Rail {
                board: session.board_with(args.board.as_deref(), |map| {
                    map.rails.iter().any(|r| r.name == *rail)
                })?,
                rail: rail.clone(),
                mode: mode_of(mode),
            }
        }
        (None, Some(name)) => Subject::TestPoint {
            board: session.board_with(args.board.as_deref(), |map| {
                map.test_points.iter().any(|p| p.name == *name)
            })?,
            name: name.clone(),
        },
        (None, None) => {
            return Err(bad(
                "nothing to measure was named",
                "name one with --rail, --test-point, --check or --function",
            ));
        }
    };
    Ok(Action::Measure {
        subject,
        readings,
        settings: parse::settings(&args.settings)?,
        note: args.note,
    })
}

fn readings(args: &MeasureArgs) -> Result<Vec<Reading>, WorkError> {
    [
        ("--volts", &args.volts, Expect::VoltsDc),
        ("--mv-pp", &args.mv_pp, Expect::MillivoltsPp),
        ("--offset-volts", &args.offset_volts, Expect::OffsetVolts),
        ("--ohm", &args.ohm, Expect::Ohm),
        ("--hertz", &args.hertz, Expect::Hertz),
        ("--amperes", &args.amperes, Expect::AmperesDc),
    ]
    .into_iter()
    .filter_map(|(flag, text, quantity)| text.as_ref().map(|text| (flag, text, quantity)))
    .map(|(flag, text, quantity)| {
        let value = parse::number(flag, text)?;
        Ok(Reading { quantity, value })
    })
    .collect()
}

fn check_kind(check: CheckArg) -> CheckKind {
    match check {
        CheckArg::Cord => CheckKind::Cord,
        CheckArg::Plug => CheckKind::Plug,
        CheckArg::EarthContinuity => CheckKind::EarthContinuity,
        CheckArg::FuseRating => CheckKind::FuseRating,
        CheckArg::VoltageSelector => CheckKind::VoltageSelector,
        CheckArg::StoredCharge => CheckKind::StoredCharge,
    }
}

fn mode_of(mode: ModeArg) -> ReadingMode {
    match mode {
        ModeArg::Cold => ReadingMode::Cold,
        ModeArg::Unloaded => ReadingMode::Unloaded,
        ModeArg::Loaded => ReadingMode::Loaded,
    }
}

fn outcome_of(outcome: OutcomeArg) -> Outcome {
    match outcome {
        OutcomeArg::Passed => Outcome::Passed,
        OutcomeArg::Failed => Outcome::Failed,
        OutcomeArg::NotFitted => Outcome::NotFitted,
    }
}
