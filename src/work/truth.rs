//! The judged joints of a job as a labelled set that [`evaluate_folder`](super::evaluate_folder) reads:
//! photos, lists of joints and of truth, crops. Stays on this disk.

use std::collections::{BTreeMap, BTreeSet};
use std::io::Cursor;
use std::path::{Path, PathBuf};

use image::{ImageFormat, RgbImage};
use serde::Serialize;

use crate::board::label;
use crate::joint::JointSpot;
use crate::photo;
use crate::progress::Progress;
use crate::record::{
    ConfirmedBy, JointKey, KnownState, PhotoId, State, Target, known_joints, target_label,
};
use crate::store::{NewFolder, sha256_hex};

use super::error::WorkError;
use super::evaluate::PHOTO_KINDS;
use super::hints::spots_of;
use super::original::check_unaltered;
use super::plan::map_of;
use super::session::Session;

/// Version of `set.json`.
const SET_SCHEMA: u32 = 1;
/// A crop reaches this many land radii from the joint's middle: the joint and what lies round it.
const CROP_RADII: f64 = 2.0;
/// How many hex digits of a photo's hash its files are called by.
const HASH_DIGITS: usize = 16;

/// What was exported.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TruthReport {
    /// Version of this layout: 1.
    pub schema: u32,
    /// The folder that was made.
    pub folder: PathBuf,
    /// Photos in it.
    pub photos: usize,
    /// Judged joints in it.
    pub joints: usize,
    /// Those confirmed as cracked.
    pub cracked: usize,
    /// Those confirmed as not cracked.
    pub not_cracked: usize,
    /// The others: judged, and nobody confirmed it.
    pub unknown: usize,
    /// Judged joints that are not in it.
    pub left_out: Vec<LeftOut>,
}

/// A judged joint that could not be exported.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct LeftOut {
    /// The joint.
    pub joint: String,
    /// Why.
    pub reason: String,
}

/// `set.json`.
#[derive(Serialize)]
struct Set<'a> {
    schema: u32,
    note: &'static str,
    job: String,
    model: &'a str,
    maps: BTreeMap<&'a str, &'a str>,
    photos: BTreeMap<&'a str, &'a str>,
    joints: usize,
    cracked: usize,
    not_cracked: usize,
    unknown: usize,
}

const NOTE: &str = "Written by Benchglass from one job. `cracked` in the truth lists is 1 or 0 only where somebody confirmed it \
     beyond looking (`confirmed_by` says how); empty means that nobody knows. The photos are exact copies and hold whatever \
     the camera wrote into them, perhaps the time and the place. Nothing was sent anywhere; ask whoever owns the unit and the \
     photos before you pass them on.";

/// One line of a truth list.
#[derive(Serialize)]
struct Line<'a> {
    id: &'a str,
    cracked: &'static str,
    confirmed_by: &'static str,
    verdict: &'static str,
    faults: String,
    judged: String,
    at: &'a str,
    looked_at_this_photo: bool,
    hint_then: &'a str,
    board: &'a str,
    side: String,
    pin: &'a str,
    map: &'a str,
    photo: &'a str,
    crop: String,
}

/// Writes the judged joints of a job into a new folder. `said` names how joints were confirmed where the
/// record does not say it (see [`known_joints`]). Each joint stands under the photo that was looked at or, where
/// that is not known or not aligned, under the aligned photo that shows it largest among those that came in before its
/// rework (and after the rework before).
///
/// # Errors
/// Where the folder is there already, nothing could be exported, an original was altered, a file cannot be
/// read or written, or the work was stopped. Then no folder is made.
pub fn export_truth(
    session: &Session,
    said: &BTreeMap<JointKey, ConfirmedBy>,
    out: &Path,
    progress: &Progress,
) -> Result<TruthReport, WorkError> {
    if out.symlink_metadata().is_ok() {
        return Err(WorkError::refused(
            format!("{}: something is there already", out.display()),
            "name a folder that does not exist yet: a labelled set is never written over",
        ));
    }
    let known = known_joints(session.state(), said);
    let mut report = TruthReport {
        schema: 1,
        folder: out.to_owned(),
        photos: 0,
        joints: 0,
        cracked: 0,
        not_cracked: 0,
        unknown: 0,
        left_out: Vec::new(),
    };
    let by_photo = placed(session, &known, &mut report.left_out);
    if by_photo.is_empty() {
        return Err(WorkError::refused(
            "no judged joint of this job lies on an aligned photo",
            "judge joints (benchglass mark), and align a photo that shows them (benchglass align)",
        ));
    }
    progress.expect(by_photo.len() as u64);
    let folder = NewFolder::begin(out)?;
    for (photo, joints) in &by_photo {
        write_photo(session, &folder, photo, joints)?;
        for (_, joint) in joints {
            report.joints += 1;
            match joint.cracked {
                Some(true) => report.cracked += 1,
                Some(false) => report.not_cracked += 1,
                None => report.unknown += 1,
            }
        }
        report.photos += 1;
        progress.tick()?;
    }
    let set = set_of(session, &by_photo, &report)?;
    folder.write(Path::new("set.json"), set.as_bytes())?;
    folder.finish()?;
    Ok(report)
}

type Placed<'a> = BTreeMap<PhotoId, Vec<(JointSpot, &'a KnownState)>>;

/// Under which photo each judged joint stands.
fn placed<'a>(
    session: &Session,
    known: &'a [KnownState],
    left_out: &mut Vec<LeftOut>,
) -> Placed<'a> {
    let state = session.state();
    let came_in: BTreeMap<_, usize> = state
        .log
        .iter()
        .enumerate()
        .map(|(at, logged)| (logged.event.id, at))
        .collect();
    let shown: BTreeMap<&PhotoId, Vec<JointSpot>> = state
        .photos
        .keys()
        .filter_map(|photo| Some((photo, spots_of(session, photo).ok()?)))
        .collect();
    let mut placed: Placed<'a> = BTreeMap::new();
    for joint in known {
        let id = short_label(session, &joint.joint);
        let spot_on = |photo: &PhotoId| -> Option<&JointSpot> {
            let facts = state.photos.get(photo)?;
            let view = &facts.alignment()?.view;
            let at = *came_in.get(&facts.added)?;
            let (after, before) = joint.between;
            let in_time = after.is_none_or(|a| at > a) && before.is_none_or(|b| at < b);
            let face = view.board == joint.joint.board && view.side == joint.joint.side;
            if !in_time || !face {
                return None;
            }
            shown
                .get(photo)?
                .iter()
                .find(|spot| Some(&spot.id) == id.as_ref())
        };
        let looked_at = joint
            .seen_on
            .as_ref()
            .and_then(|photo| Some((photo, spot_on(photo)?)));
        let best = looked_at.or_else(|| {
            shown
                .keys()
                .filter_map(|photo| Some((*photo, spot_on(photo)?)))
                .max_by(|a, b| a.1.land_radius_px.total_cmp(&b.1.land_radius_px))
        });
        match best {
            Some((photo, spot)) => {
                let there = placed.entry(photo.clone()).or_default();
                // One label for a joint and photo: the times of a joint do not share photos.
                there.push((spot.clone(), joint));
            }
            None => left_out.push(LeftOut {
                joint: label_of(session, &joint.joint),
                reason: "no aligned photo that came in before its rework shows it".to_owned(),
            }),
        }
    }
    placed
}

fn label_of(session: &Session, joint: &JointKey) -> String {
    target_label(
        &Target::Joint(joint.clone()),
        session.maps(),
        session.state(),
    )
}

/// What the lists of one photo call a joint; `None` where no map of the job has it.
fn short_label(session: &Session, joint: &JointKey) -> Option<String> {
    let map = map_of(session.maps(), &joint.board).ok()?;
    label(map, &joint.pin, joint.side)
}

/// Writes one photo with its lists and crops.
fn write_photo(
    session: &Session,
    folder: &NewFolder,
    photo: &PhotoId,
    joints: &[(JointSpot, &KnownState)],
) -> Result<(), WorkError> {
    let path = session.photo_path(photo)?;
    let limits = photo::Limits::default();
    let bytes = photo::read_bytes(&path, &limits)?;
    check_unaltered(&path, photo, &sha256_hex(&bytes))?;
    let stem = stem_of(photo);
    let image = photo::open_bytes(&path, &bytes, &limits)?.image;
    let copy = format!("{stem}.{}", kind_of(&path));
    folder.write(Path::new(&copy), &bytes)?;
    drop(bytes);
    let spots = spots_of(session, photo)?;
    folder.write(
        Path::new(&format!("{stem}_joints.csv")),
        &joints_csv(&spots)?,
    )?;
    let mut lines = csv::Writer::from_writer(Vec::new());
    for (number, (spot, joint)) in joints.iter().enumerate() {
        let crop = format!("{stem}_crops/{:04}-{}.png", number + 1, plain(&spot.id));
        folder.write(Path::new(&crop), &crop_png(&image, spot)?)?;
        lines
            .serialize(line_of(session.state(), photo, spot, joint, crop))
            .map_err(not_written)?;
    }
    let truth = lines
        .into_inner()
        .map_err(|e| not_written(e.into_error().into()))?;
    folder.write(Path::new(&format!("{stem}_truth.csv")), &truth)?;
    Ok(())
}

fn line_of<'a>(
    state: &'a State,
    photo: &'a PhotoId,
    spot: &'a JointSpot,
    joint: &'a KnownState,
    crop: String,
) -> Line<'a> {
    let faults: Vec<&str> = joint.faults.iter().map(|f| f.fault.words()).collect();
    Line {
        id: &spot.id,
        cracked: match joint.cracked {
            Some(true) => "1",
            Some(false) => "0",
            None => "",
        },
        confirmed_by: joint
            .confirmed_by
            .map_or("", |by| by.words(joint.cracked != Some(false))),
        verdict: joint.verdict.words(),
        faults: faults.join("; "),
        judged: joint.judged.to_string(),
        at: &joint.at,
        looked_at_this_photo: joint.seen_on.as_ref() == Some(photo),
        hint_then: joint.evidence.as_ref().map_or("", |e| e.band.as_str()),
        board: &joint.joint.board,
        side: joint.joint.side.to_string(),
        pin: &joint.joint.pin,
        map: state
            .maps
            .get(&joint.joint.board)
            .and_then(|adoption| adoption.sha256())
            .unwrap_or(""),
        photo,
        crop,
    }
}

/// Every joint that the photo shows: the hint compares a joint with the others of its photo.
fn joints_csv(spots: &[JointSpot]) -> Result<Vec<u8>, WorkError> {
    let mut lines = csv::Writer::from_writer(Vec::new());
    lines
        .write_record(["id", "x_px", "y_px", "land_radius_px", "px_per_mm"])
        .map_err(not_written)?;
    for spot in spots {
        let number = |v: f64| format!("{v:.3}");
        lines
            .write_record([
                spot.id.clone(),
                number(spot.centre.x),
                number(spot.centre.y),
                number(spot.land_radius_px),
                spot.px_per_mm.map(number).unwrap_or_default(),
            ])
            .map_err(not_written)?;
    }
    lines
        .into_inner()
        .map_err(|e| not_written(e.into_error().into()))
}

fn not_written(error: csv::Error) -> WorkError {
    WorkError::refused(
        format!("a list could not be written: {error}"),
        "report this: it should not happen",
    )
}

/// The joint and what lies round it, pixel for pixel.
fn crop_png(image: &RgbImage, spot: &JointSpot) -> Result<Vec<u8>, WorkError> {
    let half = (CROP_RADII * spot.land_radius_px).ceil();
    let edge = |at: f64, length: u32| at.round().clamp(0.0, f64::from(length)) as u32;
    let (left, top) = (
        edge(spot.centre.x - half, image.width()),
        edge(spot.centre.y - half, image.height()),
    );
    let (right, bottom) = (
        edge(spot.centre.x + half + 1.0, image.width()),
        edge(spot.centre.y + half + 1.0, image.height()),
    );
    let (width, height) = ((right - left).max(1), (bottom - top).max(1));
    let crop = image::imageops::crop_imm(image, left, top, width, height).to_image();
    let mut png = Cursor::new(Vec::new());
    crop.write_to(&mut png, ImageFormat::Png).map_err(|error| {
        WorkError::refused(
            format!("the crop of {} could not be written: {error}", spot.id),
            "report this: it should not happen",
        )
    })?;
    Ok(png.into_inner())
}

/// What `set.json` says.
fn set_of(
    session: &Session,
    by_photo: &Placed<'_>,
    report: &TruthReport,
) -> Result<String, WorkError> {
    let state = session.state();
    let boards: BTreeSet<&str> = by_photo
        .values()
        .flatten()
        .map(|(_, joint)| joint.joint.board.as_str())
        .collect();
    let set = Set {
        schema: SET_SCHEMA,
        note: NOTE,
        job: session.job().id().to_string(),
        model: state.unit.as_ref().map_or("", |unit| unit.model.as_str()),
        maps: boards
            .into_iter()
            .filter_map(|board| Some((board, state.maps.get(board)?.sha256()?)))
            .collect(),
        photos: by_photo
            .keys()
            .map(|photo| (stem_of(photo), photo.as_str()))
            .collect(),
        joints: report.joints,
        cracked: report.cracked,
        not_cracked: report.not_cracked,
        unknown: report.unknown,
    };
    serde_json::to_string_pretty(&set)
        .map(|text| text + "\n")
        .map_err(|error| {
            WorkError::refused(
                format!("set.json could not be written: {error}"),
                "report this: it should not happen",
            )
        })
}

fn stem_of(photo: &str) -> &str {
    photo.get(..HASH_DIGITS).unwrap_or(photo)
}

/// The ending of the copy. Photos are known by their contents, so a strange ending becomes a common one.
fn kind_of(path: &Path) -> String {
    path.extension()
        .map(|e| e.to_string_lossy().to_lowercase())
        .filter(|e| PHOTO_KINDS.contains(&e.as_str()))
        .unwrap_or_else(|| "jpg".to_owned())
}

/// A label as a file name on any system.
fn plain(label: &str) -> String {
    label
        .chars()
        .take(40)
        .map(|c| {
            if c.is_ascii_alphanumeric() || matches!(c, '.' | '-') {
                c
            } else {
                '_'
            }
        })
        .collect()
}
