//! Bringing photos into a job: every one is opened whole first, so that a photo that is cut
//! short is refused while it can still be copied again from the camera.

use std::path::{Path, PathBuf};

use crate::photo::{self, Facts, Limits, PhotoError};
use crate::progress::Progress;
use crate::record::{Event, PhotoFacts, View};

use super::error::WorkError;
use super::session::Session;

/// What came of adding photos.
#[derive(Debug, Default)]
pub struct AddReport {
    /// Photos that are now in the job.
    pub added: Vec<PhotoFacts>,
    /// Photos whose original was in the job already.
    pub duplicates: Vec<PathBuf>,
    /// Photos that could not be used: file, reason, remedy.
    pub refused: Vec<(PathBuf, String, String)>,
    /// Other files met on the way: file, reason, remedy.
    pub passed_over: Vec<(PathBuf, String, String)>,
}

/// Walks the paths and adds every photo. One that is refused does not keep the others out.
///
/// # Errors
/// Where the job cannot be written, or the work was stopped; what was added stays.
pub fn add_photos(
    session: &mut Session,
    paths: &[PathBuf],
    view: Option<&View>,
    progress: &Progress,
) -> Result<AddReport, WorkError> {
    let found = photo::find_photos(paths);
    let mut report = AddReport::default();
    for (path, reason) in found.passed_over {
        let (reason, remedy) = split_remedy(&format!("{}: {reason}", path.display()));
        let named = paths.contains(&path);
        let entry = (path, reason, remedy);
        if named {
            report.refused.push(entry);
        } else {
            report.passed_over.push(entry);
        }
    }
    progress.expect(found.photos.len() as u64);
    for path in found.photos {
        add_one(session, &path, view, &mut report)?;
        progress.tick()?;
    }
    Ok(report)
}

fn add_one(
    session: &mut Session,
    path: &Path,
    view: Option<&View>,
    report: &mut AddReport,
) -> Result<(), WorkError> {
    let (bytes, facts) = match whole(path) {
        Ok(photo) => photo,
        Err(error) => {
            let remedy = error.remedy().to_owned();
            report
                .refused
                .push((path.to_path_buf(), error.to_string(), remedy));
            return Ok(());
        }
    };
    if session.state().photos.contains_key(&facts.sha256) {
        report.duplicates.push(path.to_path_buf());
        return Ok(());
    }
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let file = session.import_photo(&bytes, &name)?;
    let event = photo_facts(path, file, &facts, view);
    session.record(Event::PhotoAdded(event.clone()))?;
    report.added.push(event);
    Ok(())
}

/// The bytes of a photo that opens to its last pixel.
fn whole(path: &Path) -> Result<(Vec<u8>, Facts), PhotoError> {
    let limits = Limits::default();
    let bytes = photo::read_bytes(path, &limits)?;
    let opened = photo::open_bytes(path, &bytes, &limits)?;
    Ok((bytes, opened.facts))
}

fn photo_facts(path: &Path, file: String, facts: &Facts, view: Option<&View>) -> PhotoFacts {
    PhotoFacts {
        photo: facts.sha256.clone(),
        file,
        name: path
            .file_name()
            .map(|name| name.to_string_lossy().into_owned())
            .unwrap_or_default(),
        size: facts.upright,
        taken: facts.taken.clone(),
        taken_offset: facts.taken_offset.clone(),
        camera: facts.camera.clone(),
        focal_mm: facts.focal_mm,
        orientation: Some(u16::from(facts.orientation)),
        view: view.cloned(),
    }
}

fn split_remedy(reason: &str) -> (String, String) {
    match reason.rsplit_once("; ") {
        Some((reason, remedy)) => (reason.to_owned(), remedy.to_owned()),
        None => (reason.to_owned(), String::new()),
    }
}
