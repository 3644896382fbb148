//! Weak spots over jobs on disk, and which jobs this bench knows of.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use crate::board::BoardMap;
use crate::progress::{Cancelled, Progress};
use crate::record::{State, WeakSpot, weak_spots};
use crate::store::{Home, same_model};

use super::error::WorkError;
use super::papers::write_text;
use super::session::Session;

/// How many jobs a bench remembers; a shop's jobs of some years.
const REMEMBERED: usize = 2_000;

/// Most jobs that are read at once.
const MAX_JOBS: usize = 5_000;

/// Weak spots of the boards of one model.
#[derive(Debug)]
pub struct WeakReport {
    /// The model.
    pub model: String,
    /// Each board's map with its weak spots, the surest first.
    pub boards: Vec<(BoardMap, Vec<WeakSpot>)>,
    /// The units that were counted, by code.
    pub units: Vec<String>,
    /// Jobs that were counted.
    pub counted: Vec<PathBuf>,
    /// Jobs that were passed over, each with the reason.
    pub passed_over: Vec<(PathBuf, String)>,
}

/// Gathers weak spots of a model from jobs. `map` names the board to look at; without it, every
/// board that the jobs have a map of, by the map of the job that comes last. A job that is being
/// looked at itself may be left out with `except` (its folder).
///
/// # Errors
/// Where no job is of this model, or the work was cancelled. A job that cannot be read is passed
/// over and named.
pub fn weak_report(
    model: &str,
    map: Option<BoardMap>,
    jobs: &[PathBuf],
    except: Option<&Path>,
    progress: &Progress,
) -> Result<WeakReport, WorkError> {
    if jobs.len() > MAX_JOBS {
        return Err(WorkError::bad(
            format!("{} jobs are more than are read at once", jobs.len()),
            format!("name at most {MAX_JOBS}"),
        ));
    }
    let mut report = WeakReport {
        model: model.to_owned(),
        boards: Vec::new(),
        units: Vec::new(),
        counted: Vec::new(),
        passed_over: Vec::new(),
    };
    let states = read(&mut report, jobs, except, progress)?;
    if report.counted.is_empty() {
        return Err(WorkError::refused(
            format!("none of {} jobs is of the model {model}", jobs.len()),
            "name job folders of that model; the model is what --model said when the job began",
        ));
    }
    let mut maps: Vec<BoardMap> = Vec::new();
    match map {
        Some(map) => maps.push(map),
        None => {
            for (_, _, own) in &states {
                for map in own {
                    maps.retain(|earlier| !earlier.board.eq_ignore_ascii_case(&map.board));
                    maps.push(map.clone());
                }
            }
            maps.sort_by(|a, b| a.board.cmp(&b.board));
        }
    }
    let units: Vec<(&str, &State)> = states
        .iter()
        .map(|(code, state, _)| (code.as_str(), state))
        .collect();
    report.boards = maps
        .into_iter()
        .map(|map| {
            let spots = weak_spots(&map, &units);
            (map, spots)
        })
        .collect();
    Ok(report)
}

/// Where a bench keeps the list of its jobs, in user data.
const OWN_LIST: &str = "known-jobs.json";

type Read = Vec<(String, State, Vec<BoardMap>)>;

fn read(
    report: &mut WeakReport,
    jobs: &[PathBuf],
    except: Option<&Path>,
    progress: &Progress,
) -> Result<Read, Cancelled> {
    let whole = |path: &Path| std::fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf());
    let except = except.map(whole);
    let mut seen: BTreeSet<PathBuf> = except.into_iter().collect();
    let mut states = Vec::new();
    for job in jobs {
        progress.check()?;
        if !seen.insert(whole(job)) {
            continue;
        }
        let session = match Session::read(job) {
            Ok(session) => session,
            Err(error) => {
                report.passed_over.push((job.clone(), error.to_string()));
                continue;
            }
        };
        let Some(unit) = session.state().unit.clone() else {
            report
                .passed_over
                .push((job.clone(), "no unit is named in it".to_owned()));
            continue;
        };
        if !same_model(&unit.model, &report.model) {
            let reason = format!("it is of the model {}", unit.model);
            report.passed_over.push((job.clone(), reason));
            continue;
        }
        report.counted.push(job.clone());
        if !report
            .units
            .iter()
            .any(|code| code.trim().eq_ignore_ascii_case(unit.code.trim()))
        {
            report.units.push(unit.code.clone());
        }
        states.push((unit.code, session.state().clone(), session.maps().to_vec()));
    }
    Ok(states)
}

/// The jobs that this bench worked on, newest first, as far as they are still there.
///
/// # Errors
/// Where there is no folder for user data.
pub fn known_jobs() -> Result<Vec<PathBuf>, WorkError> {
    let home = Home::find()?;
    let mut paths = listed(&home, OWN_LIST);
    // The window's list of shortcuts may know jobs from before this list was kept.
    for path in listed(&home, "recent.json") {
        if !paths.contains(&path) {
            paths.push(path);
        }
    }
    Ok(paths
        .into_iter()
        .filter(|path| path.join("job.json").is_file())
        .collect())
}

/// Puts a job at the head of the jobs that this bench knows. Forgetting one is no loss worth an
/// error: whatever goes wrong here is passed over.
pub fn remember_job(dir: &Path) {
    let Ok(home) = Home::find() else { return };
    let dir = std::path::absolute(dir).unwrap_or_else(|_| dir.to_path_buf());
    let mut paths = listed(&home, OWN_LIST);
    if paths.first() == Some(&dir) {
        return;
    }
    paths.retain(|path| *path != dir);
    paths.insert(0, dir);
    paths.truncate(REMEMBERED);
    if let Ok(text) = serde_json::to_string(&paths) {
        let _forgotten = std::fs::create_dir_all(home.folder());
        let _forgotten = write_text(&home.folder().join(OWN_LIST), &text);
    }
}

fn listed(home: &Home, list: &str) -> Vec<PathBuf> {
    std::fs::read(home.folder().join(list))
        .ok()
        .and_then(|bytes| serde_json::from_slice(&bytes).ok())
        .unwrap_or_default()
}
