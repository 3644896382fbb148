//! Units of the model that came in before this one, and what their records say of it: the weak
//! spots that its round begins with. Invented like the rest; each earlier unit is the scenario's
//! own, looked at whole, with what was planted in it found.

use std::path::{Path, PathBuf};

use serde::Serialize;

use crate::board::{BoardMap, MapFile, MapIndex, Side, round_order};
use crate::progress::Progress;
use crate::record::{FaultKind, Target, Unit, Verdict, WeakPlace, weak_label, write_watch_notes};
use crate::render::{MODEL, UnitSpec, units};

use super::super::action::{Action, Wish};
use super::super::error::WorkError;
use super::super::papers::write_text;
use super::super::session::Session;
use super::super::weak::weak_report;
use super::marking::{key_of, mark_planted};
use super::{BY, UNIT};

/// A unit of the model that came in before.
#[derive(Debug, Clone, Serialize)]
pub struct EarlierUnit {
    /// Its code.
    pub unit: String,
    /// Its owner's complaint.
    pub complaint: String,
    /// Its job folder.
    pub job: PathBuf,
    /// Places on which a fault was found.
    pub found: usize,
}

/// A place on which earlier units were faulty.
#[derive(Debug, Clone, Serialize)]
pub struct LearnedSpot {
    /// The place: `main:K3.3`, `main:W2`.
    pub place: String,
    /// Units on which somebody looked at it.
    pub looked_at: usize,
    /// Units on which it was faulty or suspect.
    pub found: usize,
    /// Wilson 95 % interval of the share.
    pub interval_95: [f64; 2],
    /// The same in words, as the map's note says it.
    pub words: String,
    /// Its place in the round of the solder side, from 1; absent for a whole part.
    pub round: Option<usize>,
}

/// Makes the jobs of the earlier units in `out`.
pub(super) fn record_earlier(
    out: &Path,
    maps: &[PathBuf],
    progress: &Progress,
) -> Result<Vec<EarlierUnit>, WorkError> {
    let mut earlier = Vec::new();
    for spec in units().into_iter().filter(|spec| spec.code != UNIT) {
        progress.check()?;
        earlier.push(record_one(out, maps, &spec)?);
    }
    Ok(earlier)
}

fn record_one(out: &Path, maps: &[PathBuf], spec: &UnitSpec) -> Result<EarlierUnit, WorkError> {
    let job = super::clear_place(&out.join("earlier-units"), spec.code)?;
    let unit = Unit {
        code: spec.code.to_owned(),
        model: MODEL.to_owned(),
        complaint: spec.complaint.to_owned(),
    };
    let mut session = Session::begin(&job, unit, maps, BY)?;
    let marked = mark_planted(&mut session, &spec.faults, &Vec::new())?;
    look_at_all(&mut session, &marked)?;
    Ok(EarlierUnit {
        unit: spec.code.to_owned(),
        complaint: spec.complaint.to_owned(),
        job,
        found: marked.len(),
    })
}

/// A look at every other joint, on the board itself: one gesture a board.
fn look_at_all(session: &mut Session, marked: &[(Target, FaultKind)]) -> Result<(), WorkError> {
    let boards: Vec<Vec<Target>> = session
        .maps()
        .iter()
        .map(|map| {
            map.joints(Side::Solder)
                .map(|joint| Target::Joint(key_of(&map.board, joint.pin)))
                .filter(|target| marked.iter().all(|(known, _)| known != target))
                .collect()
        })
        .collect();
    for targets in boards {
        session.apply(Action::Judge(Wish::new(targets, Verdict::NoFaultSeen)))?;
    }
    Ok(())
}

/// The maps with what the earlier units say written into them as weak spots, in `out`; and what
/// that is, the surest first.
pub(super) fn learn(
    out: &Path,
    maps: &[PathBuf],
    earlier: &[EarlierUnit],
    progress: &Progress,
) -> Result<(Vec<PathBuf>, Vec<LearnedSpot>), WorkError> {
    let jobs: Vec<PathBuf> = earlier.iter().map(|unit| unit.job.clone()).collect();
    let folder = out.join("maps-with-weak-spots");
    std::fs::create_dir_all(&folder).map_err(|source| WorkError::File {
        path: folder.clone(),
        source,
    })?;
    let (mut written, mut learned) = (Vec::new(), Vec::new());
    for path in maps {
        let map = BoardMap::load(path)?;
        for (mut map, spots) in weak_report(MODEL, Some(map), &jobs, None, progress)?.boards {
            write_watch_notes(&mut map, &spots);
            let index = MapIndex::new(&map);
            let round = round_order(&map, Side::Solder);
            learned.extend(spots.iter().filter_map(|spot| {
                let label = weak_label(&index, &spot.place)?;
                let round = match &spot.place {
                    WeakPlace::Joint(joint) => round
                        .iter()
                        .position(|one| one.pin.uid == joint.pin && one.side == joint.side)
                        .map(|at| at + 1),
                    WeakPlace::Part(..) => None,
                };
                Some(LearnedSpot {
                    place: format!("{}:{label}", map.board),
                    looked_at: spot.looked_at,
                    found: spot.found(),
                    interval_95: [spot.interval.low, spot.interval.high],
                    words: spot.words(),
                    round,
                })
            }));
            let target = folder.join(format!("{}.json", map.board));
            write_text(&target, &MapFile::of(map).text)?;
            written.push(target);
        }
    }
    Ok((written, learned))
}
