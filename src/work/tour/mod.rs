//! The whole job once on the invented sample unit FH12-0242, as a repairer would do it: what the
//! command `tour` shows and what a test of the main job runs.
//!
//! The tour plays the person: it "clicks" landmarks where the samples' truth says they are, with
//! a seeded click error, and marks what was planted. Everything else is the real thing.

mod clicks;
mod earlier;
mod marking;
mod measuring;
mod samples;
mod script;
mod suspects;

use std::path::{Path, PathBuf};

use serde::Serialize;

use crate::joint::HintReport;
use crate::progress::Progress;
use crate::record::{GateVerdict, PhotoId, Unit};
use crate::render::UnitTruth;
use crate::store::Job;

use super::action::Action;
use super::error::WorkError;
use super::hints::hint_in_job;
use super::looked::CoverageRow;
use super::photos::add_photos;
use super::session::Session;

pub use earlier::{EarlierUnit, LearnedSpot};
pub use samples::{find_samples, render_samples};

/// The unit that the tour is about.
const UNIT: &str = "FH12-0242";

/// Who the record says did it.
const BY: &str = "tour";

/// What the tour did and found.
#[derive(Debug, Serialize)]
pub struct TourReport {
    /// Version of this structure; 1.
    pub schema: u32,
    /// Says that the sample is invented and rendered.
    pub note: String,
    /// Where the samples came from.
    pub samples: String,
    /// The job folder.
    pub job: PathBuf,
    /// Units of the model that came in before.
    pub earlier: Vec<EarlierUnit>,
    /// What their records say: the weak spots that the round begins with.
    pub weak: Vec<LearnedSpot>,
    /// Photos with their alignment.
    pub photos: Vec<TouredPhoto>,
    /// The most suspect joints, over all photos, each on the photo that shows it closest.
    pub suspects: Vec<Suspect>,
    /// How the planted cracks fared.
    pub found: Found,
    /// Coverage at the end of the look.
    pub coverage: Vec<CoverageRow>,
    /// The gate each time it was asked, in order.
    pub gate: Vec<Asked>,
    /// Papers that were written.
    pub papers: Vec<PathBuf>,
}

/// One photo of the tour.
#[derive(Debug, Clone, Serialize)]
pub struct TouredPhoto {
    /// File name.
    pub name: String,
    /// What it shows.
    pub shows: String,
    /// Landmarks placed.
    pub landmarks: usize,
    /// Residual of the alignment, px rms.
    pub rms_px: f64,
    /// Scale in the middle, px/mm.
    pub px_per_mm: f64,
    /// Joints with a reading, and without.
    pub read: usize,
    /// Joints without a reading.
    pub no_reading: usize,
}

/// One suspect joint.
#[derive(Debug, Clone, Serialize)]
pub struct Suspect {
    /// Its label.
    pub joint: String,
    /// The photo.
    pub photo: String,
    /// Rank on that photo.
    pub rank: usize,
    /// How many joints of that photo had a reading.
    pub of: usize,
    /// Band of the hint.
    pub band: String,
    /// The reason in words.
    pub reason: String,
    /// Scale, px/mm.
    pub px_per_mm: f64,
    /// Whether a crack was planted there.
    pub planted: bool,
}

/// How the hint ranked the planted cracks. Rates of so few joints mean little: see the intervals.
#[derive(Debug, Clone, Copy, Default, Serialize)]
pub struct Found {
    /// Planted cracks that some photo shows with a reading.
    pub shown: usize,
    /// Of these, how many the hint says to look at first.
    pub look_first: usize,
    /// Joints without a planted crack that have a reading.
    pub without: usize,
    /// Of these, how many the hint says to look at first all the same.
    pub look_first_without: usize,
    /// Wilson 95 % interval of the rate among planted cracks; `null` where none was read.
    pub among_planted_95: Option<[f64; 2]>,
    /// Wilson 95 % interval of the rate among the others; `null` where none was read.
    pub among_others_95: Option<[f64; 2]>,
}

/// The gate, asked once.
#[derive(Debug, Clone, Serialize)]
pub struct Asked {
    /// What had just been done.
    pub after: String,
    /// The answer.
    pub verdict: GateVerdict,
}

/// Runs the tour: makes `out/FH12-0242` from the samples and writes the papers.
///
/// # Errors
/// Where `out` holds something else already, the samples cannot be used, or a file cannot be
/// written.
pub fn run_tour(
    out: &Path,
    samples: Option<&Path>,
    progress: &Progress,
) -> Result<TourReport, WorkError> {
    let job = clear_place(out, UNIT)?;
    let found = find_samples(samples, out, progress)?;
    let truth = samples::truth_of(&found.dir, UNIT)?;
    let unit = Unit {
        code: truth.unit.clone(),
        model: truth.model.clone(),
        complaint: truth.complaint.clone(),
    };
    let maps = samples::maps_in(&found.dir)?;
    let earlier = earlier::record_earlier(out, &maps, progress)?;
    let (maps, weak) = earlier::learn(out, &maps, &earlier, progress)?;
    let mut session = Session::begin(&job, unit, &maps, BY)?;
    let photos = bring_in(&mut session, &found.dir, &truth, progress)?;
    let hints = hint_all(&session, &photos, progress)?;

    let mut report = TourReport {
        schema: 1,
        note: "The Fernhollow FH-12 is invented; every picture of it is rendered, none is a photograph.".to_owned(),
        samples: found.said,
        job,
        earlier,
        weak,
        photos: Vec::new(),
        suspects: Vec::new(),
        found: Found::default(),
        coverage: Vec::new(),
        gate: Vec::new(),
        papers: Vec::new(),
    };
    report.photos = toured(&session, &photos, &hints);
    let planted = suspects::planted_cracks(&truth);
    (report.suspects, report.found) = suspects::suspects(&session, &hints, &planted);
    script::play(&mut session, &truth, &hints, &mut report, progress)?;
    Ok(report)
}

/// Photos with their hints, in the order of the truth.
type Hints = Vec<(PhotoId, HintReport)>;

/// Where the job of a unit goes in `out`.
fn clear_place(out: &Path, unit: &str) -> Result<PathBuf, WorkError> {
    let job = out.join(unit);
    if job.join("job.json").exists() {
        // An earlier tour is our own making and may go; what a person recorded stays.
        if !is_a_tours(&job) {
            return Err(WorkError::refused(
                format!(
                    "{} is a job that somebody recorded in, and is not replaced",
                    job.display()
                ),
                "give another folder with --out, or move that job elsewhere",
            ));
        }
        std::fs::remove_dir_all(&job).map_err(|source| WorkError::File {
            path: job.clone(),
            source,
        })?;
    }
    Ok(job)
}

/// Whether nobody but the tour wrote in the job, as far as every line of it can be read.
fn is_a_tours(job: &Path) -> bool {
    let Ok(there) = Job::open(job).and_then(|job| job.read()) else {
        return false;
    };
    let readable = (there.problems.iter()).all(|problem| problem.kind.is_note());
    readable && there.events.iter().all(|event| event.by == BY)
}

/// The tour's job in `out`, where somebody recorded in it: it is not made anew then.
#[must_use]
pub fn recorded_tour(out: &Path) -> Option<PathBuf> {
    let job = out.join(UNIT);
    (job.join("job.json").is_file() && !is_a_tours(&job)).then_some(job)
}

fn bring_in(
    session: &mut Session,
    dir: &Path,
    truth: &UnitTruth,
    progress: &Progress,
) -> Result<Vec<PhotoId>, WorkError> {
    let mut photos = Vec::new();
    for shot in &truth.photos {
        let path = dir.join(&shot.file);
        let view = crate::record::View {
            board: shot.board.clone(),
            side: shot.side,
        };
        let report = add_photos(session, &[path], Some(&view), progress)?;
        if let Some((_, reason, remedy)) = report.refused.into_iter().next() {
            return Err(WorkError::bad(reason, remedy));
        }
        let Some(facts) = report.added.into_iter().next() else {
            continue;
        };
        let map = super::plan::map_of(session.maps(), &shot.board)?;
        let placed = clicks::placed(map, shot);
        session.apply(Action::Align {
            photo: facts.photo.clone(),
            view,
            placed,
        })?;
        photos.push(facts.photo);
    }
    Ok(photos)
}

fn hint_all(
    session: &Session,
    photos: &[PhotoId],
    progress: &Progress,
) -> Result<Hints, WorkError> {
    let mut hints = Vec::new();
    for photo in photos {
        let shows_solder = session
            .state()
            .photos
            .get(photo)
            .and_then(|p| p.view.as_ref())
            .is_some_and(|view| view.side == crate::board::Side::Solder);
        if shows_solder {
            hints.push((photo.clone(), hint_in_job(session, photo, progress)?));
        }
    }
    Ok(hints)
}

fn toured(session: &Session, photos: &[PhotoId], hints: &Hints) -> Vec<TouredPhoto> {
    photos
        .iter()
        .filter_map(|photo| session.state().photos.get(photo))
        .filter_map(|photo| {
            let alignment = photo.alignment()?;
            let joints = hints
                .iter()
                .find(|(id, _)| *id == photo.facts.photo)
                .map(|(_, report)| report.joints.as_slice())
                .unwrap_or_default();
            let read = joints.iter().filter(|joint| joint.rank.is_some()).count();
            Some(TouredPhoto {
                name: photo.facts.name.clone(),
                shows: format!(
                    "{}, {} side",
                    alignment.view.board,
                    super::plan::side_word(alignment.view.side)
                ),
                landmarks: alignment.landmarks.len(),
                rms_px: alignment.rms_px.unwrap_or(0.0),
                px_per_mm: alignment.px_per_mm,
                read,
                no_reading: joints.len() - read,
            })
        })
        .collect()
}
