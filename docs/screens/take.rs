//! Takes the pictures of the documents from the real window, with real key and pointer events.
//!
//! ```text
//! benchglass tour
//! LIBGL_ALWAYS_SOFTWARE=1 xvfb-run -a -s "-screen 0 1280x800x24" \
//!     cargo run --example pictures -- benchglass-tour/JOB docs/screens
//! ```
//! The job is copied to a temporary folder first: nothing is written to the one that is named.
#![expect(clippy::print_stdout, reason = "a tool says what it wrote")]

use std::collections::VecDeque;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender};
use std::time::{Duration, Instant};

use anyhow::{Context as _, Result, bail, ensure};
use benchglass::desk::Desk;
use benchglass::desk::model::Page;
use benchglass::geometry::PhotoPoint;
use benchglass::record::{Unit, Verdict};
use benchglass::work::Session;
use eframe::egui::{
    self, Event, Key, Modifiers, PointerButton, RawInput, ScreenshotCallback, ViewportCommand,
};
use image::{RgbImage, codecs::png};

/// Frames without anything under way before a picture is taken: tooltips and scrolling settle.
const STILL: usize = 12;
/// Longest wait for one picture.
const LONGEST: Duration = Duration::from_secs(180);

/// One thing done at the window.
#[derive(Clone)]
enum Act {
    Press(Modifiers, Key),
    Write(&'static str),
    Click(PhotoPoint),
    Open(PathBuf),
    ForgetJobs,
    Close,
    Drop(PathBuf),
    Shoot(&'static str),
}

type Shots = (
    Sender<Arc<egui::ColorImage>>,
    Receiver<Arc<egui::ColorImage>>,
);

struct Pictures {
    desk: Desk,
    acts: VecDeque<Act>,
    events: VecDeque<Event>,
    still: usize,
    shooting: Option<&'static str>,
    since: Instant,
    shot: Shots,
    out: PathBuf,
    outcome: Arc<std::sync::Mutex<Result<()>>>,
}

impl eframe::App for Pictures {
    fn raw_input_hook(&mut self, _ctx: &egui::Context, input: &mut RawInput) {
        // The pointer of whoever runs this stays out of the pictures.
        input.events.clear();
        input.events.extend(self.events.pop_front());
    }

    fn logic(&mut self, ctx: &egui::Context, frame: &mut eframe::Frame) {
        eframe::App::logic(&mut self.desk, ctx, frame);
    }

    fn ui(&mut self, ui: &mut egui::Ui, frame: &mut eframe::Frame) {
        eframe::App::ui(&mut self.desk, ui, frame);
        let ctx = ui.ctx().clone();
        if let Err(error) = self.go_on(&ctx) {
            if let Ok(mut outcome) = self.outcome.lock() {
                *outcome = Err(error);
            }
            ctx.send_viewport_cmd(ViewportCommand::Close);
        }
        ctx.request_repaint();
    }
}

impl Pictures {
    fn go_on(&mut self, ctx: &egui::Context) -> Result<()> {
        ensure!(
            self.since.elapsed() < LONGEST,
            "the window never came to rest"
        );
        if let Some(name) = self.shooting {
            if let Ok(shot) = self.shot.1.try_recv() {
                save(&self.out.join(name), &shot)?;
                self.shooting = None;
                self.since = Instant::now();
            }
            return Ok(());
        }
        let busy = self.desk.is_busy() || !self.events.is_empty();
        self.still = if busy { 0 } else { self.still + 1 };
        if self.still < STILL {
            return Ok(());
        }
        self.still = 0;
        match self.acts.pop_front() {
            Some(act) => self.act(ctx, act),
            None => ctx.send_viewport_cmd(ViewportCommand::Close),
        }
        Ok(())
    }

    fn act(&mut self, ctx: &egui::Context, act: Act) {
        match act {
            Act::Press(modifiers, key) => {
                for pressed in [true, false] {
                    self.events.push_back(Event::Key {
                        key,
                        physical_key: None,
                        pressed,
                        repeat: false,
                        modifiers,
                    });
                }
            }
            Act::Write(text) => self.events.push_back(Event::Text(text.to_owned())),
            Act::Click(at) => {
                if let Some(view) = self.desk.photo_view() {
                    let pos = view.point(at);
                    self.events.push_back(Event::PointerMoved(pos));
                    for pressed in [true, false] {
                        self.events.push_back(Event::PointerButton {
                            pos,
                            button: PointerButton::Primary,
                            pressed,
                            modifiers: Modifiers::NONE,
                        });
                    }
                    self.events.push_back(Event::PointerGone);
                }
            }
            Act::Open(job) => self.desk.open_job(ctx, &job),
            Act::ForgetJobs => self.desk.model.recent.clear(),
            Act::Close => {
                self.desk.model.bench = None;
                self.desk.model.page = Page::Start;
            }
            Act::Drop(photo) => {
                // No folder of whoever runs this is in the pictures.
                "bench/jobs".clone_into(&mut self.desk.model.new_job.folder);
                self.desk.photos_came(ctx, vec![photo]);
            }
            Act::Shoot(name) => {
                self.shooting = Some(name);
                let send = self.shot.0.clone();
                let callback = ScreenshotCallback::new(move |image| {
                    // Nobody waits any more where the window was closed.
                    let _ = send.send(image);
                });
                ctx.send_viewport_cmd(ViewportCommand::Screenshot(callback));
            }
        }
    }
}

fn save(path: &Path, shot: &egui::ColorImage) -> Result<()> {
    let [w, h] = shot.size;
    let pixels = shot.pixels.iter().flat_map(|p| [p.r(), p.g(), p.b()]);
    let picture = RgbImage::from_raw(w as u32, h as u32, pixels.collect())
        .context("the picture has another size than it says")?;
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

    let outcome = Arc::new(std::sync::Mutex::new(Ok(())));
    let options = eframe::NativeOptions {
        viewport: egui::ViewportBuilder::default()
            .with_inner_size([1280.0, 800.0])
            .with_position([0.0, 0.0])
            .with_decorations(false),
        ..eframe::NativeOptions::default()
    };
    let acts = walk(&here, &loose, &spots);
    let (told, home) = (Arc::clone(&outcome), folder.path().join("home"));
    let start = move |cc: &eframe::CreationContext<'_>| {
        let mut desk = Desk::new(&cc.egui_ctx, "tour");
        desk.model.home = Some(home);
        let app: Box<dyn eframe::App> = Box::new(Pictures {
            desk,
            acts,
            events: VecDeque::new(),
            still: 0,
            shooting: None,
            since: Instant::now(),
            shot: std::sync::mpsc::channel(),
            out,
            outcome: told,
        });
        Ok(app)
    };
    eframe::run_native("benchglass pictures", options, Box::new(start))
        .map_err(|error| anyhow::anyhow!("the window cannot be opened: {error}"))?;
    Arc::into_inner(outcome)
        .and_then(|outcome| outcome.into_inner().ok())
        .unwrap_or(Ok(()))
}
