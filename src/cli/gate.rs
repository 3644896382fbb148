//! `gate` and `coverage`: what forbids the next stage, and what has not been looked at.

use std::path::Path;

use serde::Serialize;

use crate::record::{GateVerdict, Stage, demand_words};
use crate::work::{Action, CoverageRow, Session, WorkError};

use super::args::{GateArgs, StageArg};
use super::exit::Ending;
use super::{Context, out};

#[derive(Serialize)]
struct Asked {
    schema: u32,
    passed: bool,
    demand: String,
    stages: Vec<StageDoc>,
}

#[derive(Serialize)]
struct StageDoc {
    stage: Stage,
    passed: bool,
    /// The one step that it permits; nothing where it permits none.
    permits: Option<&'static str>,
    reasons: Vec<ReasonDoc>,
}

#[derive(Serialize)]
struct ReasonDoc {
    stage: Stage,
    words: String,
}

fn stage_of(stage: StageArg) -> Stage {
    match stage {
        StageArg::Cold => Stage::Cold,
        StageArg::Supply => Stage::Supply,
        StageArg::Load => Stage::Load,
        StageArg::Function => Stage::Function,
        StageArg::Closed => Stage::Closed,
    }
}

pub(super) fn gate(context: &Context, args: &GateArgs) -> Result<Ending, WorkError> {
    let changes = [
        args.demand_before_power,
        args.demand_before_closing,
        args.demand_px_per_mm,
    ];
    let session = if changes.iter().any(Option::is_some) {
        let mut session = context.open(&args.job)?;
        let mut demand = session.state().demand().clone();
        let set = |slot: &mut f64, value: Option<f64>| {
            if let Some(value) = value {
                *slot = value;
            }
        };
        set(&mut demand.before_power, args.demand_before_power);
        set(&mut demand.before_closing, args.demand_before_closing);
        set(&mut demand.least_px_per_mm, args.demand_px_per_mm);
        session.apply(Action::Demand(demand))?;
        session
    } else {
        read_aloud(&args.job)?
    };
    let stages: Vec<Stage> = match args.stage {
        Some(stage) => vec![stage_of(stage)],
        None => Stage::ALL.to_vec(),
    };
    let verdicts: Vec<GateVerdict> = stages.iter().map(|stage| session.gate(*stage)).collect();
    let passed = verdicts.iter().all(|verdict| verdict.permitted);
    let demand = demand_words(session.state(), session.maps());
    if context.json {
        out::json(&Asked {
            schema: 1,
            passed,
            demand,
            stages: verdicts.iter().map(document).collect(),
        });
    } else {
        for verdict in &verdicts {
            print_verdict(verdict);
        }
        out::line(&demand);
        out::line(CAUTION);
    }
    Ok(if passed {
        Ending::Done
    } else {
        Ending::NotPassed
    })
}

/// Opens a job to read it and says what is the matter with its files.
pub(super) fn read_aloud(job: &Path) -> Result<Session, WorkError> {
    let session = Session::read(job)?;
    for warning in session.warnings() {
        out::remark(&format!("Mind: {warning}"));
    }
    Ok(session)
}

const CAUTION: &str = "This is a record of checks and readings. It cannot prove that a unit is safe to energise.\nFollow local law and the maker's service information; mains work is for qualified people.";

fn document(verdict: &GateVerdict) -> StageDoc {
    StageDoc {
        stage: verdict.stage,
        passed: verdict.permitted,
        permits: verdict.permitted.then_some(verdict.permits),
        reasons: verdict
            .reasons
            .iter()
            .map(|reason| ReasonDoc {
                stage: reason.stage,
                words: reason.to_string(),
            })
            .collect(),
    }
}

/// One stage as text: passed and what it permits, or every reason why not.
pub(super) fn print_verdict(verdict: &GateVerdict) {
    if verdict.permitted {
        out::line(&format!(
            "{}: nothing forbids it. {}",
            capital(verdict.stage.words()),
            verdict.permits
        ));
        return;
    }
    let count = verdict.reasons.len();
    let plural = if count == 1 { "reason" } else { "reasons" };
    out::line(&format!(
        "{}: not yet, {count} {plural}",
        capital(verdict.stage.words())
    ));
    for reason in &verdict.reasons {
        out::entry(&format!("  - {reason}"));
    }
}

fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters
        .next()
        .map(|first| first.to_uppercase().chain(letters).collect())
        .unwrap_or_default()
}

#[derive(Serialize)]
struct CoverageDoc {
    schema: u32,
    rows: Vec<CoverageRow>,
}

pub(super) fn coverage(context: &Context, job: &Path) -> Result<Ending, WorkError> {
    let session = Session::read(job)?;
    let rows = session.coverage_rows();
    if context.json {
        out::json(&CoverageDoc { schema: 1, rows });
    } else {
        print_coverage(&rows);
    }
    Ok(Ending::Done)
}

/// The coverage table.
pub(super) fn print_coverage(rows: &[CoverageRow]) {
    let mut table = vec![
        [
            "where",
            "looked at",
            "not yet",
            "cannot be judged",
            "median scale",
        ]
        .map(String::from)
        .to_vec(),
    ];
    for row in rows {
        table.push(vec![
            row.place.clone(),
            format!("{} of {}", row.judged, row.total),
            row.unseen.to_string(),
            row.cannot_be_judged.to_string(),
            row.median_px_per_mm
                .map_or_else(|| "-".to_owned(), |scale| format!("{scale:.0} px/mm")),
        ]);
    }
    out::line(out::table(&table).trim_end());
}
