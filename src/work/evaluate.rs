//! The hint against known truth, over a folder of photos.

use std::collections::BTreeMap;
use std::ffi::OsStr;
use std::path::{Path, PathBuf};

use walkdir::WalkDir;

use crate::joint::{Evaluation, KnownJoint, evaluate, hint_photo, read_joints_csv, read_truth_csv};
use crate::photo;
use crate::progress::Progress;

use super::error::WorkError;

/// Names of photos that belong to lists.
pub(super) const PHOTO_KINDS: [&str; 7] = ["jpg", "jpeg", "png", "tif", "tiff", "webp", "bmp"];
/// Most sets in one evaluation: a folder with more is a mistake (a whole disk, say).
const MAX_SETS: usize = 10_000;
/// How deep folders are searched.
const MAX_DEPTH: usize = 8;
/// Largest list that is read, bytes.
const MAX_LIST_BYTES: u64 = 32 * 1024 * 1024;

/// A photo with its joints and what is known of them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TruthSet {
    /// The photo.
    pub photo: PathBuf,
    /// Where the joints are.
    pub joints: PathBuf,
    /// Which are cracked.
    pub truth: PathBuf,
}

/// Which joints are redrawn together for the intervals.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Together {
    /// Those of one photo.
    Photo,
    /// Those of one folder directly under the one given: for several photos of one board.
    Folder,
}

/// Finds the sets in a folder: `NAME.jpg` with `NAME_joints.csv` and `NAME_truth.csv`, or `photo.jpg` with
/// `joints.csv` and `truth.csv`, in any depth. Sorted by path.
///
/// # Errors
/// Where the folder cannot be read, a truth list lacks its photo or joints, or there is no set at all.
pub fn find_truth_sets(folder: &Path) -> Result<Vec<TruthSet>, WorkError> {
    let mut files: BTreeMap<PathBuf, Vec<PathBuf>> = BTreeMap::new();
    for entry in WalkDir::new(folder).max_depth(MAX_DEPTH) {
        let entry = entry.map_err(|e| WorkError::File {
            path: e.path().unwrap_or(folder).to_path_buf(),
            source: e.into(),
        })?;
        if entry.file_type().is_file()
            && let Some(parent) = entry.path().parent()
        {
            let list = files.entry(parent.to_path_buf()).or_default();
            list.push(entry.path().to_path_buf());
        }
    }
    let mut sets = Vec::new();
    for list in files.values() {
        for truth in list {
            let Some(name) = truth.file_name().and_then(OsStr::to_str) else {
                continue;
            };
            let (stem, joints) = match name.strip_suffix("truth.csv") {
                Some("") => ("photo", "joints.csv".to_owned()),
                Some(front) if front.ends_with('_') => {
                    (front.trim_end_matches('_'), format!("{front}joints.csv"))
                }
                _ => continue,
            };
            let joints = truth.with_file_name(joints);
            let photo = list.iter().find(|p| {
                p.file_stem().and_then(OsStr::to_str) == Some(stem)
                    && p.extension().and_then(OsStr::to_str).is_some_and(|e| {
                        PHOTO_KINDS.iter().any(|kind| e.eq_ignore_ascii_case(kind))
                    })
            });
            let (Some(photo), true) = (photo, list.contains(&joints)) else {
                return Err(WorkError::BadInput {
                    reason: format!(
                        "{}: its photo `{stem}.*` or its list {} is not beside it",
                        truth.display(),
                        joints.display()
                    ),
                    remedy:
                        "put photo, joints and truth into one folder, or take the truth list away"
                            .to_owned(),
                });
            };
            sets.push(TruthSet {
                photo: photo.clone(),
                joints,
                truth: truth.clone(),
            });
            if sets.len() > MAX_SETS {
                return Err(WorkError::BadInput {
                    reason: format!("{}: more than {MAX_SETS} sets", folder.display()),
                    remedy: "name a smaller folder".to_owned(),
                });
            }
        }
    }
    if sets.is_empty() {
        return Err(WorkError::BadInput {
            reason: format!("{}: no truth list in it", folder.display()),
            remedy: "it wants NAME.jpg with NAME_joints.csv and NAME_truth.csv, or photo.jpg with joints.csv and truth.csv".to_owned(),
        });
    }
    sets.sort_by(|a, b| a.truth.cmp(&b.truth));
    Ok(sets)
}

/// Runs the hint on every set of a folder and compares it with the truth. Joints that the truth does not
/// name take part in the photo's comparison but in no figure.
///
/// # Errors
/// As [`find_truth_sets`], and where a photo or a list cannot be read, a truth list names a joint that is not
/// listed, or the work was stopped.
pub fn evaluate_folder(
    folder: &Path,
    together: Together,
    seed: u64,
    progress: &Progress,
) -> Result<Evaluation, WorkError> {
    let sets = find_truth_sets(folder)?;
    let mut known = Vec::new();
    let mut folders: Vec<PathBuf> = Vec::new();
    for (number, set) in sets.iter().enumerate() {
        let group = match together {
            Together::Photo => number,
            Together::Folder => {
                let inner = set.photo.strip_prefix(folder).unwrap_or(&set.photo);
                let top: PathBuf = inner.components().take(1).collect();
                match folders.iter().position(|f| *f == top) {
                    Some(at) => at,
                    None => {
                        folders.push(top);
                        folders.len() - 1
                    }
                }
            }
        };
        joints_of(set, group, progress, &mut known)?;
    }
    Ok(evaluate(&known, seed))
}

fn joints_of(
    set: &TruthSet,
    group: usize,
    progress: &Progress,
    known: &mut Vec<KnownJoint>,
) -> Result<(), WorkError> {
    let spots = read_joints_csv(
        &read_joint_list(&set.joints)?,
        &set.joints.display().to_string(),
    )?;
    let truth = read_truth_csv(
        &read_joint_list(&set.truth)?,
        &set.truth.display().to_string(),
    )?;
    let mut unlisted: Vec<&String> = truth
        .keys()
        .filter(|id| spots.iter().all(|s| s.id != **id))
        .collect();
    unlisted.sort();
    if let Some(id) = unlisted.first() {
        return Err(WorkError::BadInput {
            reason: format!(
                "{}: joint `{id}` is not in {}",
                set.truth.display(),
                set.joints.display()
            ),
            remedy: "list it there with its place, or take its line away".to_owned(),
        });
    }
    let opened = photo::open(&set.photo)?;
    let report = hint_photo(&opened.image, &spots, progress)?;
    for joint in report.joints {
        if let Some(cracked) = truth.get(&joint.id) {
            known.push(KnownJoint {
                group,
                px_across: joint.px_across,
                likelihood: joint.likelihood,
                band: joint.band,
                cracked: *cracked,
            });
        }
    }
    Ok(())
}

/// Reads a list of joints, or of what is true of them, unless it is too large to be one.
///
/// # Errors
/// Where the file cannot be read, or is too large.
pub fn read_joint_list(path: &Path) -> Result<Vec<u8>, WorkError> {
    let file_error = |source| WorkError::File {
        path: path.to_path_buf(),
        source,
    };
    let size = std::fs::metadata(path).map_err(file_error)?.len();
    if size > MAX_LIST_BYTES {
        return Err(WorkError::BadInput {
            reason: format!(
                "{}: {size} bytes, too large for a list of joints",
                path.display()
            ),
            remedy: "give one line per joint: id,x_px,y_px,land_radius_px".to_owned(),
        });
    }
    std::fs::read(path).map_err(file_error)
}
