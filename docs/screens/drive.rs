//! Drives the real window with key and pointer events, and takes pictures of it.

use std::collections::VecDeque;
use std::path::PathBuf;
use std::sync::mpsc::{Receiver, Sender};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use anyhow::{Context as _, Result, ensure};
use benchglass::desk::model::Page;
use benchglass::desk::{Desk, native_options};
use benchglass::geometry::PhotoPoint;
use eframe::egui::{
    self, Event, Key, Modifiers, PointerButton, RawInput, ScreenshotCallback, ViewportCommand,
};
use image::RgbImage;

/// Frames without anything under way before a picture is taken: tooltips and scrolling settle.
const STILL: usize = 12;
/// Longest wait for one picture.
const LONGEST: Duration = Duration::from_secs(180);

/// One thing done at the window.
#[derive(Clone)]
pub(crate) enum Act {
    Press(Modifiers, Key),
    Write(&'static str),
    Click(PhotoPoint),
    Open(PathBuf),
    ForgetJobs,
    Close,
    Drop(PathBuf),
    Shoot(&'static str),
}

/// What becomes of a picture, by its name.
pub(crate) type Keep = Box<dyn FnMut(&str, RgbImage) -> Result<()>>;

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
    keep: Keep,
    outcome: Arc<Mutex<Result<()>>>,
}

/// Opens the window with its user data in `home`, does what `acts` say and closes it.
pub(crate) fn run(home: PathBuf, acts: VecDeque<Act>, keep: Keep) -> Result<()> {
    let outcome = Arc::new(Mutex::new(Ok(())));
    let mut options = native_options();
    options.viewport = egui::ViewportBuilder::default()
        .with_inner_size([1280.0, 800.0])
        .with_position([0.0, 0.0])
        .with_decorations(false);
    let told = Arc::clone(&outcome);
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
            keep,
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
                (self.keep)(name, picture(&shot)?)?;
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

fn picture(shot: &egui::ColorImage) -> Result<RgbImage> {
    let [w, h] = shot.size;
    let pixels = shot.pixels.iter().flat_map(|p| [p.r(), p.g(), p.b()]);
    RgbImage::from_raw(w as u32, h as u32, pixels.collect())
        .context("the picture has another size than it says")
}
