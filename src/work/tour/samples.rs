//! Where the sample boards are, or making them where they are not at hand.

use std::path::{Path, PathBuf};

use crate::progress::Progress;
use crate::render::{Made, UnitTruth, render_reduced_set, render_sample_set};

use super::super::error::WorkError;

/// Seed of the samples that are kept with the project.
const SEED: u64 = 12;

/// A folder of samples.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Samples {
    /// The folder.
    pub dir: PathBuf,
    /// Where it came from, in words.
    pub said: String,
}

/// The samples: the folder named; else `sample-boards` here, or beside or above the program;
/// else a small set rendered into `out`.
///
/// # Errors
/// Where a named folder holds no samples, or none can be rendered.
pub fn find_samples(
    named: Option<&Path>,
    out: &Path,
    progress: &Progress,
) -> Result<Samples, WorkError> {
    if let Some(dir) = named {
        return if is_samples(dir) {
            Ok(Samples {
                dir: dir.to_path_buf(),
                said: format!("sample boards in {}", dir.display()),
            })
        } else {
            Err(WorkError::bad(
                format!("{}: no sample boards here", dir.display()),
                "name a folder with maps/, photos/ and truth/, or make one: benchglass samples --out DIR",
            ))
        };
    }
    let beside = std::env::current_exe().ok();
    let above = beside
        .iter()
        .flat_map(|program| program.ancestors().skip(1).take(4));
    let near = std::iter::once(Path::new("."))
        .chain(above)
        .map(|folder| folder.join("sample-boards"))
        .find(|dir| is_samples(dir));
    if let Some(dir) = near {
        let said = format!("sample boards in {}", dir.display());
        return Ok(Samples { dir, said });
    }
    let dir = out.join("sample-boards");
    if !is_samples(&dir) {
        render_reduced_set(&dir, SEED, progress)?;
    }
    Ok(Samples {
        said: format!(
            "a small set of sample boards, rendered into {}",
            dir.display()
        ),
        dir,
    })
}

fn is_samples(dir: &Path) -> bool {
    dir.join("truth").is_dir() && dir.join("maps").is_dir()
}

/// Renders the whole sample set.
///
/// # Errors
/// Where a file cannot be written or the work was stopped.
pub fn render_samples(dir: &Path, seed: u64, progress: &Progress) -> Result<Vec<Made>, WorkError> {
    Ok(render_sample_set(dir, seed, progress)?)
}

/// The truth about one unit.
pub(super) fn truth_of(dir: &Path, unit: &str) -> Result<UnitTruth, WorkError> {
    let path = dir.join("truth").join(format!("{unit}.json"));
    let bytes = std::fs::read(&path).map_err(|source| WorkError::File {
        path: path.clone(),
        source,
    })?;
    serde_json::from_slice(&bytes).map_err(|error| {
        WorkError::bad(
            format!("{}: {error}", path.display()),
            "make the samples again: benchglass samples --out DIR",
        )
    })
}

/// The board maps of the samples, by file name.
pub(super) fn maps_in(dir: &Path) -> Result<Vec<PathBuf>, WorkError> {
    let folder = dir.join("maps");
    let failed = |source| WorkError::File {
        path: folder.clone(),
        source,
    };
    let mut maps: Vec<PathBuf> = std::fs::read_dir(&folder)
        .map_err(failed)?
        .filter_map(Result::ok)
        .map(|entry| entry.path())
        .filter(|path| path.extension().is_some_and(|e| e == "json"))
        .collect();
    maps.sort();
    Ok(maps)
}
