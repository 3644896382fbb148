//! Papers of a job, written into its exports folder or elsewhere.

use std::cell::RefCell;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use image::RgbImage;

use crate::paper::{
    CsvFlavour, NoPhoto, SlipSource, SlipView, gate_page, gate_view, slip_csv, slip_html,
    slip_json, slip_view,
};
use crate::progress::Progress;
use crate::record::PhotoId;
use crate::render;
use crate::store::{replace_file, replace_named};

use super::error::WorkError;
use super::session::Session;

/// Photos kept open while pictures are cut; each 12 MP photo takes about 36 MB.
const PHOTOS_KEPT: usize = 4;

/// What was written.
#[derive(Debug)]
pub struct Written {
    /// Lines of the slip.
    pub lines: usize,
    /// The files.
    pub files: Vec<PathBuf>,
}

/// Computes the slip of a job.
///
/// # Errors
/// Where a picture cannot be packed. Photos that cannot be opened are said on their lines; those
/// that were altered are named at the end.
pub fn slip_of(session: &Session, progress: &Progress) -> Result<SlipView, WorkError> {
    let shelf = Shelf::new(session, progress);
    let model = session
        .state()
        .unit
        .as_ref()
        .map(|unit| unit.model.as_str());
    let view = slip_view(&SlipSource {
        state: session.state(),
        maps: session.maps(),
        bench: "",
        sample: (model == Some(render::MODEL)).then_some("Invented sample"),
        photos: &|photo| shelf.get(photo),
    })?;
    progress.check()?;
    Ok(view)
}

/// Writes the slip as HTML, CSV (one for spreadsheets, one for machines) and JSON, and the gate
/// as HTML, into `out` or the job's exports.
///
/// # Errors
/// Where a file cannot be written; earlier papers then stay as they were.
pub fn write_slip(
    session: &Session,
    out: Option<&Path>,
    progress: &Progress,
) -> Result<Written, WorkError> {
    let view = slip_of(session, progress)?;
    let folder = match out {
        Some(folder) => {
            std::fs::create_dir_all(folder).map_err(|source| WorkError::File {
                path: folder.to_path_buf(),
                source,
            })?;
            folder.to_path_buf()
        }
        None => session.job().exports_folder()?,
    };
    let stem = file_stem(&view.unit);
    let gate = gate_view(session.state(), session.maps(), view.sample.as_deref());
    let papers = [
        (format!("{stem}-slip.html"), slip_html(&view)),
        (
            format!("{stem}-slip.csv"),
            slip_csv(&view, CsvFlavour::Spreadsheet)?,
        ),
        (
            format!("{stem}-slip-raw.csv"),
            slip_csv(&view, CsvFlavour::Raw)?,
        ),
        (format!("{stem}-slip.json"), slip_json(&view)?),
        (format!("{stem}-gate.html"), gate_page(&gate)),
    ];
    let mut files = Vec::new();
    for (name, text) in papers {
        let path = folder.join(name);
        replace_file(&path, text.as_bytes())?;
        files.push(path);
    }
    Ok(Written {
        lines: view.line_count,
        files,
    })
}

/// A unit code as a file name that every system takes.
fn file_stem(unit: &str) -> String {
    let stem: String = unit
        .chars()
        .map(|c| {
            if c.is_ascii_alphanumeric() || c == '-' {
                c
            } else {
                '_'
            }
        })
        .take(60)
        .collect();
    if stem.is_empty() {
        "unit".to_owned()
    } else {
        stem
    }
}

/// An opened photo, or why there is none.
type Had = Result<Arc<RgbImage>, NoPhoto>;

/// Photos of the job, opened once each and a few kept.
struct Shelf<'a> {
    session: &'a Session,
    progress: &'a Progress,
    kept: RefCell<Vec<(PhotoId, Had)>>,
}

impl<'a> Shelf<'a> {
    fn new(session: &'a Session, progress: &'a Progress) -> Self {
        progress.expect(session.state().photos.len() as u64);
        Self {
            session,
            progress,
            kept: RefCell::new(Vec::new()),
        }
    }

    /// No photo where it cannot be opened, was altered, or the work is being stopped.
    fn get(&self, photo: &PhotoId) -> Had {
        let mut kept = self.kept.borrow_mut();
        if let Some((_, image)) = kept.iter().find(|(id, _)| id == photo) {
            return image.clone();
        }
        if self.progress.tick().is_err() {
            return Err(NoPhoto::Missing);
        }
        let image = (self.session.open_photo(photo)).map_err(|error| match error {
            WorkError::Altered { .. } => NoPhoto::Altered,
            _ => NoPhoto::Missing,
        });
        if kept.len() >= PHOTOS_KEPT {
            let _oldest = kept.remove(0);
        }
        kept.push((photo.clone(), image.clone()));
        image
    }
}

/// Writes a text file whole or not at all.
///
/// # Errors
/// Where it cannot be written, or is there and is no ordinary file.
pub fn write_text(path: &Path, text: &str) -> Result<(), WorkError> {
    Ok(replace_named(path, text.as_bytes())?)
}

/// Whether two names lead to one file.
#[must_use]
pub fn same_file(one: &Path, other: &Path) -> bool {
    matches!((one.canonicalize(), other.canonicalize()), (Ok(one), Ok(other)) if one == other)
}

/// Whether a result may be written to `target`: it is none of the files that the work reads, and
/// what stands there already, if anything, has one of these endings.
///
/// # Errors
/// [`WorkError::BadInput`] where a photo, a map or a list would be lost.
pub fn check_output(target: &Path, reads: &[&Path], endings: &[&str]) -> Result<(), WorkError> {
    let Ok(there) = target.canonicalize() else {
        return Ok(());
    };
    if reads.iter().any(|read| same_file(read, target)) {
        return Err(WorkError::bad(
            format!(
                "{} is what this is made from; it would be lost",
                target.display()
            ),
            "name another file for the result",
        ));
    }
    let ending = |path: &Path| path.extension().map(|ending| ending.to_ascii_lowercase());
    let fits = |path: &Path| {
        ending(path).is_some_and(|found| endings.iter().any(|ending| found == *ending))
    };
    if there.is_file() && !fits(&there) {
        return Err(WorkError::bad(
            format!(
                "{} is there already and is no .{} file",
                target.display(),
                endings.join(" or .")
            ),
            "name another file for the result, or move that one away",
        ));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::file_stem;

    #[test]
    fn unit_codes_become_plain_file_names() {
        assert_eq!(file_stem("FH12-0242"), "FH12-0242");
        assert_eq!(file_stem("../a b:c"), "___a_b_c");
        assert_eq!(file_stem(""), "unit");
    }
}
