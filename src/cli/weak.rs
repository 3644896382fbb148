//! `weak`: what was found on earlier units of a model, place by place.

use serde::Serialize;

use crate::board::{BoardMap, MapIndex, Side};
use crate::record::{WeakPlace, WeakSpot, weak_label, write_watch_notes};
use crate::work::{WeakReport, WorkError, known_jobs, same_file, weak_report, write_map};

use super::args::WeakArgs;
use super::exit::Ending;
use super::{Context, out};

#[derive(Serialize)]
struct Document {
    schema: u32,
    model: String,
    units: Vec<String>,
    jobs: Vec<String>,
    passed_over: Vec<Passed>,
    boards: Vec<Board>,
    written: Option<String>,
    notes_changed: Option<usize>,
}

#[derive(Serialize)]
struct Passed {
    job: String,
    reason: String,
}

#[derive(Serialize)]
struct Board {
    board: String,
    spots: Vec<Spot>,
}

#[derive(Serialize)]
struct Spot {
    place: String,
    joint: bool,
    uid: String,
    side: Option<Side>,
    looked_at: usize,
    faulty: usize,
    suspect: usize,
    low: f64,
    high: f64,
    faults: Vec<Found>,
}

#[derive(Serialize)]
struct Found {
    fault: &'static str,
    units: usize,
}

pub(super) fn weak(context: &Context, args: &WeakArgs) -> Result<Ending, WorkError> {
    let map = args.map.as_deref().map(BoardMap::load).transpose()?;
    let model = match (&args.model, &map) {
        (Some(model), _) => model.clone(),
        (None, Some(map)) => map.model.clone(),
        (None, None) => {
            return Err(WorkError::BadInput {
                reason: "no model is named".to_owned(),
                remedy: "say it with --model, or name a map of it with --map".to_owned(),
            });
        }
    };
    let jobs = if args.jobs.is_empty() {
        known_jobs()?
    } else {
        args.jobs.clone()
    };
    let mut report = out::with_progress("reading jobs", |progress| {
        weak_report(&model, map, &jobs, None, progress)
    })?;
    if let Some(board) = &args.board {
        report
            .boards
            .retain(|(map, _)| map.board.eq_ignore_ascii_case(board));
    }
    let changed = write(&report, args)?;
    if context.json {
        out::json(&document(&report, args, changed));
    } else {
        tell(&report, args, changed);
    }
    Ok(Ending::Done)
}

/// Writes the map with its notes, where that is asked for.
fn write(report: &WeakReport, args: &WeakArgs) -> Result<Option<usize>, WorkError> {
    let Some(target) = &args.write else {
        return Ok(None);
    };
    let [(map, spots)] = report.boards.as_slice() else {
        return Err(WorkError::BadInput {
            reason: format!("{} boards could be written", report.boards.len()),
            remedy: "say which with --board, or name its map with --map".to_owned(),
        });
    };
    let mut map = map.clone();
    let changed = write_watch_notes(&mut map, spots);
    // The map that `--map` names is gone on with; any other file stays, a job's own among them.
    let own = args
        .map
        .as_deref()
        .is_some_and(|map| same_file(map, target));
    write_map(target, &map.to_json(), args.replace || own)?;
    Ok(Some(changed))
}

fn document(report: &WeakReport, args: &WeakArgs, changed: Option<usize>) -> Document {
    let spot = |index: &MapIndex<'_>, spot: &WeakSpot| {
        let (joint, uid, side) = match &spot.place {
            WeakPlace::Joint(joint) => (true, joint.pin.clone(), Some(joint.side)),
            WeakPlace::Part(_, part) => (false, part.clone(), None),
        };
        Spot {
            place: weak_label(index, &spot.place).unwrap_or_default(),
            joint,
            uid,
            side,
            looked_at: spot.looked_at,
            faulty: spot.faulty,
            suspect: spot.suspect,
            low: spot.interval.low,
            high: spot.interval.high,
            faults: spot
                .faults
                .iter()
                .map(|(fault, units)| Found {
                    fault: fault.words(),
                    units: *units,
                })
                .collect(),
        }
    };
    Document {
        schema: 1,
        model: report.model.clone(),
        units: report.units.clone(),
        jobs: report
            .counted
            .iter()
            .map(|p| p.display().to_string())
            .collect(),
        passed_over: report
            .passed_over
            .iter()
            .map(|(job, reason)| Passed {
                job: job.display().to_string(),
                reason: reason.clone(),
            })
            .collect(),
        boards: report
            .boards
            .iter()
            .map(|(map, spots)| {
                let index = MapIndex::new(map);
                Board {
                    board: map.board.clone(),
                    spots: spots.iter().map(|s| spot(&index, s)).collect(),
                }
            })
            .collect(),
        written: args.write.as_ref().map(|path| path.display().to_string()),
        notes_changed: changed,
    }
}

fn tell(report: &WeakReport, args: &WeakArgs, changed: Option<usize>) {
    out::entry(&format!(
        "{}: {} in {} ({})",
        report.model,
        out::many(report.units.len(), "unit"),
        out::many(report.counted.len(), "job"),
        report.units.join(", ")
    ));
    for (job, reason) in &report.passed_over {
        out::remark(&format!("passed over {}: {reason}", job.display()));
    }
    for (map, spots) in &report.boards {
        out::entry(&format!("{}:", map.board));
        if spots.is_empty() {
            out::line("  Nothing was found on these units so far.");
        }
        let index = MapIndex::new(map);
        for spot in spots {
            let label = weak_label(&index, &spot.place).unwrap_or_default();
            out::entry(&format!("  {label}  {}", spot.words()));
        }
    }
    if let (Some(path), Some(changed)) = (&args.write, changed) {
        out::entry(&format!(
            "{}: {changed} notes changed. Look at it, then: benchglass map keep {}",
            path.display(),
            path.display()
        ));
    }
}
