//! Takes the pictures of the documents from the real window, with real key and pointer events.
//!
//! ```text
//! benchglass tour
//! LIBGL_ALWAYS_SOFTWARE=1 xvfb-run -a -s "-screen 0 1280x800x24" \
//!     cargo run --example pictures -- benchglass-tour/JOB docs/screens
//! ```
//! The job is copied to a temporary folder first: nothing is written to the one that is named.
#![expect(clippy::print_stdout, reason = "a tool says what it wrote")]

mod drive;

use std::collections::VecDeque;
use std::path::{Path, PathBuf};

use anyhow::{Context as _, Result, bail};
use benchglass::geometry::PhotoPoint;
use benchglass::record::{Unit, Verdict};
use benchglass::work::Session;
use drive::Act;
use eframe::egui::{Key, Modifiers};
use image::{RgbImage, codecs::png};

fn save(path: &Path, picture: &RgbImage) -> Result<()> {
    let file = std::io::BufWriter::new(
        std::fs::File::create(path).with_context(|| format!("cannot write {}", path.display()))?,
    );
    let encoder = png::PngEncoder::new_with_quality(
        file,
        png::CompressionType::Best,
        png::FilterType::Adaptive,
    );
    picture.write_with_encoder(encoder)?;
    println!("{}", path.display());
    Ok(())
}

/// The walk through every view.
fn walk(job: &Path, loose: &Path, spots: &[PhotoPoint]) -> VecDeque<Act> {
    let plain = |key| Act::Press(Modifiers::NONE, key);
    let larger = Act::Press(Modifiers::COMMAND, Key::Plus);
    let smaller = Act::Press(Modifiers::COMMAND, Key::Minus);
    let mut acts = vec![
        // No job of whoever runs this is in the pictures.
        Act::ForgetJobs,
        Act::Shoot("start.png"),
        Act::Open(job.to_path_buf()),
        // A joint whose hint speaks, on a photo that is not the only one.
        plain(Key::Slash),
        Act::Write("J4.2"),
        plain(Key::Enter),
        Act::Shoot("walk.png"),
        plain(Key::T),
        Act::Shoot("twin.png"),
        plain(Key::Slash),
        Act::Write("J4.2"),
        plain(Key::Enter),
        plain(Key::F2),
        Act::Shoot("walk-light.png"),
        plain(Key::F2),
        plain(Key::F),
        Act::Shoot("fault.png"),
        plain(Key::Escape),
        plain(Key::K),
        Act::Shoot("landmarks.png"),
        plain(Key::Escape),
        plain(Key::V),
        Act::Shoot("readings.png"),
        plain(Key::Escape),
        plain(Key::G),
        Act::Shoot("gate.png"),
        plain(Key::Escape),
        plain(Key::I),
        Act::Shoot("slip.png"),
        plain(Key::Escape),
        plain(Key::F1),
        Act::Shoot("keys.png"),
        plain(Key::Escape),
    ];
    acts.extend(std::iter::repeat_n(larger, 10));
    acts.push(Act::Shoot("large-text.png"));
    acts.extend(std::iter::repeat_n(smaller, 10));
    acts.extend([
        Act::Close,
        Act::Drop(loose.to_path_buf()),
        Act::Shoot("new-job.png"),
        Act::Close,
        Act::Open(loose.with_extension("job")),
    ]);
    acts.extend(spots.iter().map(|at| Act::Click(*at)));
    acts.push(Act::Shoot("loose.png"));
    acts.into()
}

/// A photo of the job that lies on its map, and the middles of some of its marked joints.
fn a_photo(job: &Path) -> Result<(PathBuf, Vec<PhotoPoint>)> {
    let session = Session::read(job)?;
    let state = session.state();
    for place in state.places.values() {
        let seen = place
            .seen_on
            .as_ref()
            .filter(|_| place.verdict == Verdict::Faulty && place.look.px_per_mm() > Some(20.0));
        let Some(first) = seen else { continue };
        let spots: Vec<PhotoPoint> = state
            .places
            .values()
            .filter_map(|place| place.seen_on.as_ref())
            .filter(|spot| spot.photo == first.photo)
            .map(|spot| PhotoPoint::new(spot.at_px[0], spot.at_px[1]))
            .take(5)
            .collect();
        return Ok((session.photo_path(&first.photo)?, spots));
    }
    bail!("{} has no joint that was called faulty", job.display())
}

fn copy(from: &Path, to: &Path) -> Result<()> {
    for entry in walkdir::WalkDir::new(from) {
        let entry = entry?;
        let there = to.join(entry.path().strip_prefix(from)?);
        if entry.file_type().is_dir() {
            std::fs::create_dir_all(&there)?;
        } else {
            std::fs::copy(entry.path(), &there)?;
        }
    }
    Ok(())
}

/// Takes the copy back to where it stood before the first rework: a slip with lines on it, a
/// gate with reasons.
fn before_rework(job: &Path) -> Result<()> {
    for entry in std::fs::read_dir(job.join("journal"))? {
        let path = entry?.path();
        let text = std::fs::read_to_string(&path)?;
        let kept: String = text
            .split_inclusive('\n')
            .take_while(|line| !line.contains("\"verdict\":\"reworked\""))
            .collect();
        std::fs::write(&path, kept)?;
    }
    Ok(())
}

fn main() -> Result<()> {
    let mut args = std::env::args_os().skip(1).map(PathBuf::from);
    let (Some(job), Some(out)) = (args.next(), args.next()) else {
        bail!("usage: pictures JOB FOLDER");
    };
    std::fs::create_dir_all(&out)?;
    let folder = tempfile::tempdir()?;
    let here = folder.path().join("FH12-0242");
    copy(&job, &here)?;
    before_rework(&here)?;
    let (photo, spots) = a_photo(&here)?;
    let loose = folder.path().join("IMG_0412.jpg");
    std::fs::copy(photo, &loose)?;
    let unit = Unit {
        code: "FH12-0388".to_owned(),
        model: "Fernhollow FH-12".to_owned(),
        complaint: "quits when the door is shut".to_owned(),
    };
    let mut session = Session::begin(&loose.with_extension("job"), unit, &[], "tour")?;
    let progress = benchglass::progress::Progress::new();
    benchglass::work::add_photos(&mut session, std::slice::from_ref(&loose), None, &progress)?;
    drop(session);

    let acts = walk(&here, &loose, &spots);
    let keep = move |name: &str, picture: RgbImage| save(&out.join(name), &picture);
    drive::run(folder.path().join("home"), acts, Box::new(keep))
}
