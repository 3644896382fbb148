//! The sample set: which photos there are, and writing them with their truth.

use std::fs;
use std::path::{Path, PathBuf};

use crate::board::Side;
use crate::progress::Progress;

use super::camera::Camera;
use super::encode::{NOTICE, jpeg};
use super::error::RenderError;
use super::light::Light;
use super::noise::{Stream, seed_of};
use super::picture::shoot;
use super::scenario::{MODEL, maps, units};
use super::spec::{PhotoSpec, PhotoTruth, UnitTruth};
use super::workshop::Workshop;

/// One file that was made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Made {
    /// Where it lies, with the folder that was asked for.
    pub path: PathBuf,
    /// Unit code.
    pub unit: String,
    /// Board name.
    pub board: String,
    /// Side.
    pub side: Side,
    /// Upright width in px.
    pub width: u32,
    /// Upright height in px.
    pub height: u32,
    /// Size of the file in bytes.
    pub bytes: u64,
}

/// A photo of the plan: what, board, side, look-at, px/mm, size.
type Shot = (&'static str, &'static str, Side, [f64; 2], f64, [u32; 2]);

const MAIN: [f64; 2] = [90.0, 60.0];
const FRONT: [f64; 2] = [65.0, 33.0];

/// Unit FH12-0242, photographed with the large camera.
const LARGE: &[Shot] = &[
    ("overview", "main", Side::Solder, MAIN, 19.6, [4032, 3024]),
    (
        "overview",
        "main",
        Side::Component,
        MAIN,
        18.8,
        [4032, 3024],
    ),
    (
        "terminals",
        "main",
        Side::Solder,
        [64.0, 106.0],
        80.0,
        [4032, 3024],
    ),
    (
        "relays",
        "main",
        Side::Solder,
        [46.0, 88.0],
        74.0,
        [4032, 3024],
    ),
    (
        "relays-right",
        "main",
        Side::Solder,
        [128.0, 90.0],
        84.0,
        [4032, 3024],
    ),
    (
        "header",
        "main",
        Side::Solder,
        [146.0, 14.0],
        100.0,
        [4032, 3024],
    ),
    ("overview", "front", Side::Solder, FRONT, 9.6, [1440, 960]),
    (
        "overview",
        "front",
        Side::Component,
        FRONT,
        9.6,
        [1440, 960],
    ),
];

/// The other units.
const SMALL: &[Shot] = &[
    ("overview", "main", Side::Solder, MAIN, 8.8, [1800, 1350]),
    ("overview", "main", Side::Component, MAIN, 7.5, [1600, 1200]),
    ("overview", "front", Side::Solder, FRONT, 8.7, [1296, 864]),
];

/// A set for machines where the samples are not at hand: FH12-0242 only.
const REDUCED: &[Shot] = &[
    ("overview", "main", Side::Solder, MAIN, 8.6, [1760, 1320]),
    (
        "terminals",
        "main",
        Side::Solder,
        [62.0, 104.0],
        34.0,
        [1600, 1200],
    ),
    ("overview", "main", Side::Component, MAIN, 6.2, [1280, 960]),
    ("overview", "front", Side::Solder, FRONT, 7.6, [1080, 720]),
];

/// The reference unit of the reduced set.
const REDUCED_REFERENCE: &[Shot] = &[("overview", "main", Side::Solder, MAIN, 7.0, [1440, 1080])];

fn word(side: Side) -> &'static str {
    match side {
        Side::Solder => "solder",
        Side::Component => "component",
    }
}

fn order(unit: &str, shot: &Shot, seed: u64, number: usize) -> PhotoSpec {
    let (what, board, side, look_at, px_per_mm, size) = *shot;
    let mut s = Stream::new(seed_of(
        seed,
        &format!("{unit} {board} {what} {side:?} camera"),
    ));
    let close = px_per_mm > 25.0;
    let day = 3 + number / 9;
    let tilt = s.range(2.0, if close { 11.0 } else { 7.5 });
    // A close-up from further away with a longer lens, so that pins do not lean too much.
    let focal = if close {
        s.range(2.2, 2.8)
    } else {
        s.range(0.95, 1.2)
    };
    PhotoSpec {
        unit: unit.to_owned(),
        board: board.to_owned(),
        side,
        what: what.to_owned(),
        size,
        camera: Camera {
            look_at: [
                look_at[0] + s.range(-1.5, 1.5),
                look_at[1] + s.range(-1.5, 1.5),
            ],
            px_per_mm,
            tilt_deg: tilt,
            lean_deg: s.range(0.0, 360.0),
            turn_deg: s.range(-4.0, 4.0),
            focal,
            k1: s.range(-0.03, 0.015),
            k2: s.range(-0.004, 0.006),
        },
        light: Light::bench((seed_of(seed, unit) as usize + number) % 6)
            .turned(s.range(-25.0, 25.0)),
        seed,
        plant: true,
        quality: if size[0] > 3000 {
            83
        } else {
            86 + (number % 4) as u8
        },
        orientation: [1, 6, 1, 8, 3, 1, 6, 1][number % 8],
        taken: format!(
            "2026:03:{day:02} {:02}:{:02}:{:02}",
            9 + number % 9,
            (number * 17) % 60,
            (number * 29) % 60
        ),
    }
}

/// The photos of the full set.
#[must_use]
pub fn sample_plan(seed: u64) -> Vec<PhotoSpec> {
    let mut plan = Vec::new();
    for unit in units() {
        let shots = if unit.code == "FH12-0242" {
            LARGE
        } else {
            SMALL
        };
        for shot in shots {
            plan.push(order(unit.code, shot, seed, plan.len()));
        }
    }
    plan
}

/// The photos of the reduced set: unit FH12-0242 small, and the reference's solder side.
#[must_use]
pub fn reduced_plan(seed: u64) -> Vec<PhotoSpec> {
    let mut plan: Vec<PhotoSpec> = Vec::new();
    for shot in REDUCED {
        plan.push(order("FH12-0242", shot, seed, plan.len()));
    }
    for shot in REDUCED_REFERENCE {
        plan.push(order("FH12-0455", shot, seed, plan.len()));
    }
    plan
}

/// Renders the full sample set into `dir`: `photos/`, `truth/`, `maps/`, `README.md`.
///
/// The same seed gives the same bytes, whatever the number of threads.
///
/// # Errors
/// [`RenderError`] where a file cannot be written or the work is stopped.
pub fn render_sample_set(
    dir: &Path,
    seed: u64,
    progress: &Progress,
) -> Result<Vec<Made>, RenderError> {
    render_plan(dir, seed, &sample_plan(seed), progress)
}

/// Renders the reduced set in the same layout; for `tour` where the samples are not at hand.
///
/// # Errors
/// As [`render_sample_set`].
pub fn render_reduced_set(
    dir: &Path,
    seed: u64,
    progress: &Progress,
) -> Result<Vec<Made>, RenderError> {
    render_plan(dir, seed, &reduced_plan(seed), progress)
}

/// Renders any plan in the layout of the sample set; the photos of a unit stand together in it.
///
/// # Errors
/// As [`render_sample_set`].
pub fn render_plan(
    dir: &Path,
    seed: u64,
    plan: &[PhotoSpec],
    progress: &Progress,
) -> Result<Vec<Made>, RenderError> {
    progress.expect(plan.len() as u64);
    for map in maps() {
        let path = dir.join("maps").join(format!("{}.json", map.board));
        let text = serde_json::to_vec_pretty(&map).map_err(|error| encode_error(&path, &error))?;
        write(&path, &text)?;
    }
    let workshop = Workshop::new();
    let mut made = Vec::new();
    let mut truths: Vec<PhotoTruth> = Vec::new();
    for (index, spec) in plan.iter().enumerate() {
        progress.check()?;
        let (file, truth) = one(&workshop, dir, spec)?;
        made.push(file);
        truths.push(truth);
        // The truth of a unit is written as soon as its last photo is there.
        if plan
            .get(index + 1)
            .is_none_or(|next| next.unit != spec.unit)
        {
            write_truth(dir, &spec.unit, std::mem::take(&mut truths))?;
        }
        progress.tick()?;
    }
    write(&dir.join("README.md"), readme(&made, dir, seed).as_bytes())?;
    Ok(made)
}

fn write_truth(dir: &Path, code: &str, photos: Vec<PhotoTruth>) -> Result<(), RenderError> {
    let Some(unit) = units().into_iter().find(|unit| unit.code == code) else {
        return Ok(());
    };
    let path = dir.join("truth").join(format!("{code}.json"));
    let truth = UnitTruth {
        note: format!("{NOTICE}. Model, unit and faults are invented."),
        unit: unit.code.to_owned(),
        model: MODEL.to_owned(),
        complaint: unit.complaint.to_owned(),
        planted: unit.faults,
        photos,
    };
    let text = serde_json::to_vec(&truth).map_err(|error| encode_error(&path, &error))?;
    write(&path, &text)
}

fn encode_error(path: &Path, error: &serde_json::Error) -> RenderError {
    RenderError::Encode {
        path: path.to_owned(),
        reason: error.to_string(),
    }
}

fn one(
    workshop: &Workshop,
    dir: &Path,
    spec: &PhotoSpec,
) -> Result<(Made, PhotoTruth), RenderError> {
    let scene = workshop.scene(spec)?;
    let (map, _) = workshop.board(&spec.board)?;
    let rendered = shoot(map, &scene, spec)?;
    let name = format!("{}-{}-{}.jpg", spec.board, word(spec.side), spec.what);
    let path = dir.join("photos").join(&spec.unit).join(&name);
    let bytes = jpeg(&rendered.image, spec).map_err(|reason| RenderError::Encode {
        path: path.clone(),
        reason,
    })?;
    write(&path, &bytes)?;
    let mut truth = rendered.truth;
    truth.file = format!("photos/{}/{name}", spec.unit);
    let made = Made {
        path,
        unit: spec.unit.clone(),
        board: spec.board.clone(),
        side: spec.side,
        width: spec.size[0],
        height: spec.size[1],
        bytes: bytes.len() as u64,
    };
    Ok((made, truth))
}

/// Writes a file whole: beside it first, then renamed.
fn write(path: &Path, bytes: &[u8]) -> Result<(), RenderError> {
    let fail = |source| RenderError::Write {
        path: path.to_owned(),
        source,
    };
    if let Some(parent) = path.parent() {
        fs::create_dir_all(parent).map_err(fail)?;
    }
    let beside = path.with_extension("part");
    fs::write(&beside, bytes).map_err(fail)?;
    fs::rename(&beside, path).map_err(fail)
}

fn readme(made: &[Made], dir: &Path, seed: u64) -> String {
    let mut text = format!(
        "# Sample boards\n\n\
         Everything here is **rendered and invented**: the *{MODEL}*, its two boards, the four \
         units and their faults exist only in this project, and no file here is a photograph. \
         Every picture says so in its metadata (`ImageDescription`: \"{NOTICE}\").\n\n\
         Make the set again, byte for byte:\n\n\
         ```\nbenchglass samples --out sample-boards --seed {seed}\n```\n\n\
         ## What is what\n\n\
         - `maps/main.json`, `maps/front.json`: the board maps.\n\
         - `photos/<unit>/<board>-<side>-<what>.jpg`: the pictures. Some are stored turned, with \
         the EXIF orientation that turns them upright.\n\
         - `truth/<unit>.json`: what was planted, and for each picture the transform from board \
         millimetres to upright pixels, the distortion, and each joint's place, radii, fault \
         and crack line.\n\n\
         ## Units\n\n| unit | complaint | planted faults |\n|---|---|---|\n"
    );
    for unit in units() {
        let count = unit.faults.len();
        text.push_str(&format!(
            "| {} | {} | {count} |\n",
            unit.code, unit.complaint
        ));
    }
    text.push_str("\n## Pictures\n\n| file | upright size | kB |\n|---|---|---|\n");
    for file in made {
        let shown = file.path.strip_prefix(dir).unwrap_or(&file.path);
        let parts: Vec<String> = shown
            .components()
            .map(|part| part.as_os_str().to_string_lossy().into_owned())
            .collect();
        text.push_str(&format!(
            "| `{}` | {} x {} | {} |\n",
            parts.join("/"),
            file.width,
            file.height,
            file.bytes / 1000
        ));
    }
    text
}
