//! The window as it is drawn, by the renderer that ships, beside kept pictures.
//!
//! ```text
//! cargo test --features snapshots --test snapshots
//! BENCHGLASS_REGENERATE=1 cargo test --features snapshots --test snapshots   # after a wanted change
//! ```
//! It opens a real window on a display of its own (`xvfb-run`) and draws in software, so that the
//! pictures are the same on every machine. Pictures that differ are left in `target/snapshots`.

/// A small job: a drawn photo and an invented map.
#[path = "../desk/drawn.rs"]
#[allow(dead_code, reason = "the tests of the window use the rest of it")]
mod drawn;
#[path = "../../docs/screens/drive.rs"]
#[allow(dead_code, reason = "the pictures of the documents use the rest of it")]
mod drive;

use std::collections::VecDeque;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::{Arc, Mutex};

use anyhow::{Context as _, Result, bail, ensure};
use drive::Act;
use eframe::egui::{Key, Modifiers};
use image::{Rgb, RgbImage};

/// Set in the process that has a display of its own: the folder it may write to.
const INSIDE: &str = "BENCHGLASS_SNAPSHOT_FOLDER";
/// Pictures are compared in squares of this side, px: about one letter. Smaller ones take every
/// edge that another version of the software renderer puts elsewhere for a change, larger ones
/// let a word go by.
const SQUARE: u32 = 16;
/// Mean difference of a square, levels of 255, from which it counts as changed. The kept pictures
/// have 256 colours, which alone comes to 2 or 3; a letter that is gone comes to 20 and more.
const CHANGED: f64 = 9.0;

fn main() -> Result<()> {
    if let Some(folder) = std::env::var_os(INSIDE) {
        return inside(Path::new(&folder));
    }
    let folder = tempfile::tempdir()?;
    let status = Command::new("xvfb-run")
        .args(["-a", "-s", "-screen 0 1280x800x24"])
        .arg(std::env::current_exe()?)
        .env(INSIDE, folder.path())
        .env("BENCHGLASS_HOME", folder.path().join("home"))
        .env("LIBGL_ALWAYS_SOFTWARE", "1")
        .status()
        .context("xvfb-run is needed, of the package xvfb")?;
    ensure!(status.success(), "the pictures are not as they were kept");
    Ok(())
}

fn inside(folder: &Path) -> Result<()> {
    let job = drawn::job(folder, true);
    let plain = |key| Act::Press(Modifiers::NONE, key);
    let larger = Act::Press(Modifiers::COMMAND, Key::Plus);
    let mut acts = vec![
        Act::Shoot("start"),
        Act::Open(job),
        plain(Key::N),
        plain(Key::S),
        plain(Key::ArrowLeft),
        Act::Shoot("table"),
        plain(Key::K),
        Act::Shoot("landmarks"),
        plain(Key::Escape),
        plain(Key::G),
        Act::Shoot("gate"),
        plain(Key::Escape),
        plain(Key::F2),
        Act::Shoot("table-light"),
    ];
    acts.extend(std::iter::repeat_n(larger, 10));
    acts.extend([plain(Key::F1), Act::Shoot("keys-large")]);
    let taken = Arc::new(Mutex::new(Vec::new()));
    let keep = Arc::clone(&taken);
    let keep = move |name: &str, picture: RgbImage| {
        if let Ok(mut taken) = keep.lock() {
            taken.push((name.to_owned(), picture));
        }
        Ok(())
    };
    drive::run(folder.join("home"), VecDeque::from(acts), Box::new(keep))?;
    let taken = std::mem::take(&mut *taken.lock().map_err(|_| anyhow::anyhow!("lost"))?);
    ensure!(taken.len() == 6, "{} pictures were taken", taken.len());
    let mut bad = Vec::new();
    for (name, picture) in &taken {
        bad.extend(compare(name, picture)?);
    }
    if !bad.is_empty() {
        bail!("{}", bad.join("\n"));
    }
    // The measure itself: a word of the size of a caption that is gone is seen.
    let (_, table) = &taken[1];
    let mut without = table.clone();
    let ground = *table.get_pixel(4, 4);
    for (x, y) in (16..110).flat_map(|x| (10..32).map(move |y| (x, y))) {
        without.put_pixel(x, y, ground);
    }
    ensure!(
        !changed(table, &without).is_empty(),
        "the unit's code was wiped out and nobody noticed"
    );
    Ok(())
}

fn kept(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/snapshots")
        .join(format!("{name}.png"))
}

/// What is wrong with a picture; nothing where it is as it was.
fn compare(name: &str, picture: &RgbImage) -> Result<Option<String>> {
    let path = kept(name);
    if std::env::var("BENCHGLASS_REGENERATE").is_ok_and(|value| value == "1") {
        picture.save(&path)?;
        return Ok(None);
    }
    let known = image::open(&path)
        .with_context(|| {
            format!(
                "{}: set BENCHGLASS_REGENERATE=1 to write it",
                path.display()
            )
        })?
        .to_rgb8();
    if known.dimensions() != picture.dimensions() {
        return Ok(Some(format!("{name}: another size")));
    }
    let squares = changed(&known, picture);
    let Some((x, y, by)) = squares.first() else {
        return Ok(None);
    };
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("target/snapshots");
    std::fs::create_dir_all(&folder)?;
    let now = folder.join(format!("{name}.png"));
    picture.save(&now)?;
    Ok(Some(format!(
        "{name}: {} squares differ, the first at {x}, {y} by {by:.0} levels; it is now {}: look at both, then set BENCHGLASS_REGENERATE=1",
        squares.len(),
        now.display()
    )))
}

/// Squares whose mean difference is above [`CHANGED`]: left, top, mean.
fn changed(a: &RgbImage, b: &RgbImage) -> Vec<(u32, u32, f64)> {
    let (width, height) = a.dimensions();
    let mut found = Vec::new();
    for top in (0..height).step_by(SQUARE as usize) {
        for left in (0..width).step_by(SQUARE as usize) {
            let (right, bottom) = ((left + SQUARE).min(width), (top + SQUARE).min(height));
            let sum: u64 = (top..bottom)
                .flat_map(|y| (left..right).map(move |x| (x, y)))
                .map(|(x, y)| difference(a.get_pixel(x, y), b.get_pixel(x, y)))
                .sum();
            let mean = sum as f64 / (3 * (right - left) * (bottom - top)) as f64;
            if mean > CHANGED {
                found.push((left, top, mean));
            }
        }
    }
    found
}

fn difference(a: &Rgb<u8>, b: &Rgb<u8>) -> u64 {
    (0..3).map(|i| u64::from(a.0[i].abs_diff(b.0[i]))).sum()
}
