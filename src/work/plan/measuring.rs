//! From a reading, a check or a remark to the event that records it.

use super::super::error::WorkError;
use super::{Planned, map_of};
use crate::board::{BoardMap, Expect};
use crate::record::{
    Check, CheckKind, Coverage, Current, Event, Measurement, Outcome, PhotoId, Reading,
    ReadingMode, Stage, State, Subject, gate,
};

/// Checks a measurement against the map: the subject must be there.
pub(in crate::work) fn measurement(
    state: &State,
    maps: &[BoardMap],
    measurement: Measurement,
) -> Result<Planned, WorkError> {
    let known: Vec<&str> = match &measurement.subject {
        Subject::Rail { board, .. } => map_of(maps, board)?
            .rails
            .iter()
            .map(|rail| rail.name.as_str())
            .collect(),
        Subject::TestPoint { board, .. } => map_of(maps, board)?
            .test_points
            .iter()
            .map(|point| point.name.as_str())
            .collect(),
    };
    let (name, what) = match &measurement.subject {
        Subject::Rail { rail, .. } => (rail, "rail"),
        Subject::TestPoint { name, .. } => (name, "test point"),
    };
    if !known.contains(&name.as_str()) {
        return Err(WorkError::bad(
            format!("the map has no {what} `{name}`"),
            if known.is_empty() {
                format!("add the {what} to the map and adopt it again")
            } else {
                format!("use one of: {}", known.join(", "))
            },
        ));
    }
    if measurement.readings.is_empty() {
        return Err(WorkError::bad(
            format!("no value for {name}: blank is not measured"),
            "give a value, for example --volts 12.02, --ohm 1800 or --mv-pp 48",
        ));
    }
    if let Some(bad) = measurement.readings.iter().find(|r| !r.value.is_finite()) {
        return Err(WorkError::bad(
            format!("{name}: {} is not a number that a meter shows", bad.value),
            "write down the figure on the meter",
        ));
    }
    for reading in &measurement.readings {
        if let Some(why) = cannot_be(&measurement.subject, reading) {
            return Err(WorkError::bad(
                format!("{name}: {why}"),
                "write down the figure on the meter, with the meter set for it",
            ));
        }
    }
    // What was read of another quantity stands beside it: volts and ripple are read one after the other.
    let anew = |earlier: &Current<Measurement>| {
        let read = |quantity| measurement.readings.iter().any(|r| r.quantity == quantity);
        earlier.stale.is_some() || earlier.what.readings.iter().any(|r| read(r.quantity))
    };
    let replaces = state
        .measurements
        .get(&measurement.subject)
        .map(|current| {
            (current.iter().filter(|m| anew(m)))
                .map(|m| m.event)
                .collect()
        })
        .unwrap_or_default();
    // Resistance is read with the power off.
    let powered = measurement
        .readings
        .iter()
        .any(|r| r.quantity != Expect::Ohm);
    let cautions = powered
        .then(|| powered_early(state, maps, &measurement.subject))
        .flatten();
    Ok(Planned {
        event: Event::Measured(Measurement {
            replaces,
            ..measurement
        }),
        cautions: cautions.into_iter().collect(),
    })
}

/// A powered reading while the record still forbids that power: it is kept, and said.
fn powered_early(state: &State, maps: &[BoardMap], subject: &Subject) -> Option<String> {
    let before = match subject {
        Subject::Rail { mode, .. } => match mode {
            ReadingMode::Cold => return None,
            ReadingMode::Unloaded => Stage::Cold,
            ReadingMode::Loaded => Stage::Supply,
        },
        Subject::TestPoint { .. } => Stage::Load,
    };
    let verdict = gate(state, maps, before);
    let first = verdict.reasons.first()?;
    let more = match verdict.reasons.len() - 1 {
        0 => String::new(),
        more => format!(" And {more} more."),
    };
    Some(format!(
        "this was read with power on while the gate still held \"{}\" shut: {first}{more}",
        before.words()
    ))
}

/// Why no meter shows this there.
fn cannot_be(subject: &Subject, reading: &Reading) -> Option<String> {
    /// No bench has more of anything, in any of the units.
    const MOST: f64 = 1e9;
    let value = reading.value;
    if value.abs() > MOST {
        return Some(format!("{value:e} is beyond what a meter shows"));
    }
    let never_below = match reading.quantity {
        Expect::MillivoltsPp => Some("a peak-to-peak voltage"),
        Expect::Hertz => Some("a frequency"),
        Expect::Ohm => Some("a resistance"),
        Expect::VoltsDc | Expect::OffsetVolts | Expect::AmperesDc => None,
    };
    if let Some(what) = never_below.filter(|_| value < 0.0) {
        return Some(format!("{what} of {value} is below nothing"));
    }
    let powered = matches!(
        subject,
        Subject::Rail {
            mode: ReadingMode::Unloaded | ReadingMode::Loaded,
            ..
        }
    );
    (powered && reading.quantity == Expect::Ohm)
        .then(|| "resistance is measured with the power off, as a cold reading".to_owned())
}

/// Direct volts above which stored charge is not gone: the limit of energy source class 1 in
/// IEC 62368-1 (from memory).
const MOST_STORED_V: f64 = 60.0;

/// What the meter showed goes with stored charge, and with nothing else.
fn check_volts(check: &CheckKind, outcome: Outcome, volts: Option<f64>) -> Result<(), WorkError> {
    let bad = |reason: String, remedy: &str| Err(WorkError::bad(reason, remedy));
    match (check, volts) {
        (CheckKind::StoredCharge, None) if outcome == Outcome::Passed => bad(
            "stored charge in order, but not what the meter showed".to_owned(),
            "measure it and give the volts (--volts 0.3): time or a switch off prove nothing",
        ),
        (CheckKind::StoredCharge, Some(volts)) if !volts.is_finite() || volts.abs() > 1e6 => bad(
            format!("{volts} is not a number that a meter shows"),
            "write down the figure on the meter, in volts",
        ),
        (CheckKind::StoredCharge, Some(volts))
            if outcome == Outcome::Passed && volts.abs() > MOST_STORED_V =>
        {
            bad(
                format!("{volts} V is stored charge"),
                "discharge it through a suitably rated resistor with insulated probes, never a bare short, and measure again",
            )
        }
        (CheckKind::StoredCharge, _) | (_, None) => Ok(()),
        (_, Some(_)) => bad(
            format!("{} is not measured in volts", check.words()),
            "leave --volts out, or say it with --note",
        ),
    }
}

/// Checks a check: *not fitted* wants a word, a function test a name, stored charge a figure.
pub(in crate::work) fn check(
    state: &State,
    check: CheckKind,
    outcome: Outcome,
    volts: Option<f64>,
    note: String,
) -> Result<Planned, WorkError> {
    check_volts(&check, outcome, volts)?;
    if outcome == Outcome::NotFitted && note.trim().is_empty() {
        return Err(WorkError::bad(
            "not fitted, but not why",
            "say it with --note, for example \"double insulated, no earth\"",
        ));
    }
    if matches!(&check, CheckKind::Function { test } if test.trim().is_empty()) {
        return Err(WorkError::bad(
            "a function test needs a name",
            "say what you tried, for example --function \"all twelve zones switch\"",
        ));
    }
    let replaces = state
        .checks
        .get(&check)
        .map(|current| current.iter().map(|c| c.event).collect())
        .unwrap_or_default();
    Ok(Event::Checked(Check {
        check,
        outcome,
        volts,
        note,
        replaces,
    })
    .into())
}

/// A part was unplugged and plugged again: it must be on the map.
pub(in crate::work) fn reseat(
    maps: &[BoardMap],
    board: String,
    part: &str,
    note: String,
) -> Result<Planned, WorkError> {
    let map = map_of(maps, &board)?;
    let found = map.part_by_reference(part).ok_or_else(|| {
        WorkError::bad(
            format!("{board} has no part {part}"),
            "use the reference that the map has",
        )
    })?;
    Ok(Event::Reseated {
        board,
        part: found.reference.clone(),
        note,
    }
    .into())
}

/// What coverage the shop demands: shares are shares.
pub(in crate::work) fn demand(demand: Coverage) -> Result<Planned, WorkError> {
    for (what, share) in [
        ("before power", demand.before_power),
        ("before closing", demand.before_closing),
    ] {
        if !(0.0..=1.0).contains(&share) {
            return Err(WorkError::bad(
                format!("a share of {share} {what}"),
                "give a share from 0 to 1, for example 0.8",
            ));
        }
    }
    if !(0.0..=1000.0).contains(&demand.least_px_per_mm) {
        return Err(WorkError::bad(
            format!("a least scale of {} px/mm", demand.least_px_per_mm),
            "give a scale from 0 (any) to 1000 px/mm",
        ));
    }
    Ok(Event::CoverageDemanded(demand).into())
}

/// A remark: it must say something.
pub(in crate::work) fn note(text: String, photo: Option<PhotoId>) -> Result<Planned, WorkError> {
    if text.trim().is_empty() {
        return Err(WorkError::bad(
            "an empty remark",
            "write what you want to keep",
        ));
    }
    Ok(Event::Noted { text, photo }.into())
}
