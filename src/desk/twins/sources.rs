//! Which photos show a twin: the other aligned photos of this job, and those of other jobs of
//! the same model.

use std::hash::{DefaultHasher, Hash, Hasher};
use std::path::{Path, PathBuf};

use super::MOST;
use super::cut::Frame;
use crate::board::BoardMap;
use crate::desk::model::Bench;
use crate::desk::stops::Whereabouts;
use crate::geometry::{BoardPoint, Projection};
use crate::progress::Progress;
use crate::record::{JointKey, PhotoId, PhotoState, Target};
use crate::work::{Elsewhere, Session, same_places};

/// A photo below this scale shows nothing of a joint that could be compared, px/mm: a land of
/// 1.7 mm would be ten pixels across (design choice).
const LEAST_PX_PER_MM: f64 = 6.0;

/// One photo that shows the joint.
#[derive(Debug, Clone, PartialEq)]
pub struct Source {
    /// Where the original is.
    pub path: PathBuf,
    /// The photo.
    pub photo: PhotoId,
    /// The name it had when it came in.
    pub name: String,
    /// The unit, where it is another one.
    pub unit: Option<String>,
    /// When it was taken, as the camera wrote it.
    pub taken: Option<String>,
    /// Its alignment.
    pub projection: Projection,
    /// The joint's middle on that unit's map.
    pub at: BoardPoint,
    /// Scale there, px/mm.
    pub px_per_mm: f64,
}

impl Source {
    /// The day of `taken`.
    pub(super) fn day(&self) -> Option<String> {
        self.taken.as_ref()?.get(..10).map(str::to_owned)
    }

    /// Tells this cut-out's pixels from any other's.
    pub(super) fn number(&self, frame: &Frame) -> u64 {
        let mut hasher = DefaultHasher::new();
        self.path.hash(&mut hasher);
        frame.place().hash(&mut hasher);
        self.at.x.to_bits().hash(&mut hasher);
        self.at.y.to_bits().hash(&mut hasher);
        let Projection {
            photo_from_board,
            lens,
        } = &self.projection;
        for value in photo_from_board.rows().as_flattened() {
            value.to_bits().hash(&mut hasher);
        }
        lens.map(|lens| lens.k().to_bits()).hash(&mut hasher);
        hasher.finish()
    }
}

/// What is kept of another job of the same model.
#[derive(Debug, Clone)]
pub struct OtherJob {
    unit: String,
    maps: Vec<BoardMap>,
    photos: Vec<(PathBuf, PhotoState)>,
}

impl OtherJob {
    /// Its aligned photos of boards whose maps have the same landmarks in the same places.
    pub(in crate::desk) fn aligned(&self, ours: &[BoardMap]) -> Vec<Elsewhere> {
        self.photos
            .iter()
            .filter(|(_, photo)| !photo.contradicted())
            .filter_map(|(path, photo)| {
                let alignment = photo.alignment()?.clone();
                let board = &alignment.view.board;
                let theirs = self.maps.iter().find(|map| map.board == *board)?;
                let held = same_places(theirs, ours.iter().find(|map| map.board == *board)?);
                held.then(|| Elsewhere {
                    unit: self.unit.clone(),
                    path: path.clone(),
                    name: photo.facts.name.clone(),
                    alignment,
                })
            })
            .collect()
    }
}

/// Reads the jobs at `paths` that are of the same model as the one at `here`. Jobs that cannot
/// be read are left out: opening one says what is wrong with it.
#[must_use]
pub fn other_jobs(paths: &[PathBuf], here: &Path, progress: &Progress) -> Vec<OtherJob> {
    let same = |path: &Path| match (path.canonicalize(), here.canonicalize()) {
        (Ok(a), Ok(b)) => a == b,
        _ => path == here,
    };
    let model = |session: &Session| {
        let unit = session.state().unit.as_ref()?;
        Some(unit.model.trim().to_lowercase())
    };
    let Some(wanted) = Session::read(here).ok().as_ref().and_then(model) else {
        return Vec::new();
    };
    let mut jobs = Vec::new();
    for path in paths.iter().filter(|path| !same(path)) {
        if progress.check().is_err() {
            break;
        }
        let Ok(session) = Session::read(path) else {
            continue;
        };
        if model(&session).as_ref() != Some(&wanted) {
            continue;
        }
        let state = session.state();
        let photos = state
            .photos
            .values()
            .filter(|photo| photo.alignment().is_some())
            .filter_map(|photo| Some((session.photo_path(&photo.facts.photo).ok()?, photo.clone())))
            .collect();
        jobs.push(OtherJob {
            unit: state
                .unit
                .as_ref()
                .map(|unit| unit.code.clone())
                .unwrap_or_default(),
            maps: session.maps().to_vec(),
            photos,
        });
    }
    jobs
}

/// The photos that show the current joint besides the one on the table: closest looks of this
/// unit first, then the closest of each other unit, in all at most [`MOST`].
pub(super) fn of(bench: &Bench) -> Vec<Source> {
    let Some(stop) = bench.stop() else {
        return Vec::new();
    };
    let (Target::Joint(joint), Whereabouts::Board(at, _)) = (&stop.target, stop.place) else {
        return Vec::new();
    };
    let state = bench.session.state();
    let own = state
        .photos
        .values()
        .filter(|photo| Some(&photo.facts.photo) != bench.photo.as_ref())
        .filter_map(|photo| {
            let path = bench.session.photo_path(&photo.facts.photo).ok()?;
            source(photo, path, None, joint, at)
        });
    let own = closest_first(own.collect());
    let others: Vec<Source> = bench
        .others
        .iter()
        .filter_map(|job| closest_first(of_job(job, joint)).into_iter().next())
        .collect();
    // One place is kept for another unit where there is one.
    let room = if others.is_empty() { MOST } else { MOST - 1 };
    own.into_iter()
        .take(room)
        .chain(others)
        .take(MOST)
        .collect()
}

fn of_job(job: &OtherJob, joint: &JointKey) -> Vec<Source> {
    let pin = job
        .maps
        .iter()
        .find(|map| map.board == joint.board)
        .and_then(|map| map.pin(&joint.pin));
    let Some((_, pin)) = pin else {
        return Vec::new();
    };
    let at = BoardPoint::new(pin.at[0], pin.at[1]);
    job.photos
        .iter()
        .filter_map(|(path, photo)| source(photo, path.clone(), Some(job.unit.clone()), joint, at))
        .collect()
}

fn source(
    photo: &PhotoState,
    path: PathBuf,
    unit: Option<String>,
    joint: &JointKey,
    at: BoardPoint,
) -> Option<Source> {
    let alignment = photo.alignment()?;
    if alignment.view.board != joint.board || alignment.view.side != joint.side {
        return None;
    }
    let transform = &alignment.projection;
    let centre = transform.apply(at)?;
    let [width, height] = photo.facts.size.map(f64::from);
    let inside = (0.0..width).contains(&centre.x) && (0.0..height).contains(&centre.y);
    let px_per_mm = transform
        .scale_at(at)
        .filter(|scale| *scale >= LEAST_PX_PER_MM)?;
    inside.then(|| Source {
        path,
        photo: photo.facts.photo.clone(),
        name: photo.facts.name.clone(),
        unit,
        taken: photo.facts.taken.clone(),
        projection: *transform,
        at,
        px_per_mm,
    })
}

fn closest_first(mut sources: Vec<Source>) -> Vec<Source> {
    sources.sort_by(|a, b| {
        b.px_per_mm
            .total_cmp(&a.px_per_mm)
            .then(a.name.cmp(&b.name))
    });
    sources
}
