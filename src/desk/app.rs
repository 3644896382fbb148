//! The window: reads the model, draws it, and carries out what was asked.

use std::path::PathBuf;
use std::sync::{Arc, Mutex};

use eframe::egui::{self, Context, Ui};

use super::ask::Ask;
use super::background::Background;
use super::darkline::DarkView;
use super::glass_view::GlassView;
use super::keys::{self, Now};
use super::model::{Model, NewJob, Page, Pending};
use super::panels;
use super::strip::Strip;
use super::theme::Look;
use super::twins::Decoded;
use super::viewer::{PhotoFile, Viewer};
use crate::record::PhotoId;
use crate::store::Home;
use crate::work::WorkError;

/// Size of the window at first, points.
const SIZE: [f32; 2] = [1280.0, 800.0];
/// Smaller windows would clip the glass.
const LEAST: [f32; 2] = [720.0, 480.0];

/// The window.
pub struct Desk {
    /// What is shown.
    pub model: Model,
    pub(super) background: Background,
    pub(super) viewer: Viewer,
    pub(super) glass: GlassView,
    pub(super) dark: DarkView,
    pub(super) strip: Strip,
    /// Photos decoded for twins.
    pub(super) decoded: Arc<Mutex<Decoded>>,
    pub(super) opened: Option<PhotoId>,
    pub(super) pictures: panels::slip::Pictures,
    /// The photo and stop that the table was last moved for.
    pub(super) shown_for: (Option<PhotoId>, Option<usize>),
    asked: Vec<Ask>,
    dropping: bool,
}

/// Opens the window, with a job where one is named.
///
/// # Errors
/// Where no window can be opened.
pub fn open(job: Option<PathBuf>) -> Result<(), WorkError> {
    let start = move |cc: &eframe::CreationContext<'_>| {
        let mut desk = Desk::new(&cc.egui_ctx, &by());
        if let Some(job) = &job {
            desk.open_job(&cc.egui_ctx, job);
        }
        let app: Box<dyn eframe::App> = Box::new(desk);
        Ok(app)
    };
    eframe::run_native("benchglass", native_options(), Box::new(start)).map_err(|error| WorkError::Refused {
        reason: format!("the window cannot be opened: {}", last_words(&error.to_string())),
        remedy: "a display and OpenGL are needed; without them every step has a command: benchglass --help".to_owned(),
    })
}

/// How the window is opened and drawn.
#[must_use]
pub fn native_options() -> eframe::NativeOptions {
    eframe::NativeOptions {
        viewport: egui::ViewportBuilder::default()
            .with_title("Benchglass")
            .with_inner_size(SIZE)
            .with_min_inner_size(LEAST)
            .with_drag_and_drop(true),
        // Dithering smooths gradients, of which there are none here. It is computed for every
        // pixel, which software drawing pays for, and alters what the photo shows by a level.
        dithering: false,
        ..Default::default()
    }
}

/// What the windowing library says, without the place in its own source that it says it from.
fn last_words(error: &str) -> &str {
    error
        .rsplit(": ")
        .next()
        .unwrap_or(error)
        .trim_end_matches('.')
}

/// Who the record says did it: as the command line has it.
fn by() -> String {
    ["BENCHGLASS_BY", "USER", "USERNAME"]
        .iter()
        .filter_map(|name| std::env::var(name).ok())
        .find(|name| !name.trim().is_empty())
        .unwrap_or_else(|| "somebody".to_owned())
}

impl Desk {
    /// A window's insides, with no job open.
    #[must_use]
    pub fn new(ctx: &Context, by: &str) -> Self {
        let look = Look::default();
        look.apply(ctx);
        // Ctrl with plus and minus is the text's size, not the whole window's.
        ctx.options_mut(|options| options.zoom_with_keyboard = false);
        let mut desk = Self {
            model: Model {
                by: by.to_owned(),
                look,
                page: Page::Start,
                bench: None,
                new_job: NewJob::default(),
                recent: Vec::new(),
                messages: Vec::new(),
                pending: Pending::Nothing,
                chooser: None,
                importing: None,
                home: Home::find().ok().map(|home| home.folder().to_path_buf()),
            },
            background: Background::default(),
            viewer: Viewer::default(),
            glass: GlassView::default(),
            dark: DarkView::default(),
            strip: Strip::default(),
            decoded: Arc::default(),
            opened: None,
            pictures: panels::slip::Pictures::default(),
            shown_for: (None, None),
            asked: Vec::new(),
            dropping: false,
        };
        desk.look_up_recent(ctx);
        desk
    }

    /// Whether anything is still under way.
    #[must_use]
    pub fn is_busy(&self) -> bool {
        self.background.is_busy() || self.viewer.is_busy()
    }

    /// Where the photo lies on the screen.
    #[must_use]
    pub fn photo_view(&self) -> Option<super::viewer::ScreenFromPhoto> {
        self.viewer.view()
    }

    /// What happens without drawing: carries out what was asked, takes in what has ended.
    pub fn step(&mut self, ctx: &Context) {
        self.take_drops(ctx);
        self.take_done(ctx);
        for ask in std::mem::take(&mut self.asked) {
            self.carry_out(ctx, ask);
            ctx.request_repaint();
        }
        self.watch_folder(ctx);
        self.open_photo(ctx);
        self.take_image();
        self.draft_follows();
        self.hint_when_ready(ctx);
        self.match_when_ready(ctx);
        self.step_map(ctx);
        self.step_dark_lines(ctx);
        self.twins_when_ready(ctx);
        if !self.background.under_way().is_empty() {
            // The counters of long work move without waking the window.
            ctx.request_repaint_after(std::time::Duration::from_millis(200));
        }
    }

    fn take_drops(&mut self, ctx: &Context) {
        let (paths, dropping) = ctx.input(|input| {
            let paths: Vec<PathBuf> = input
                .raw
                .dropped_files
                .iter()
                .map(|file| file.path().to_path_buf())
                .collect();
            (paths, !input.raw.hovered_files.is_empty())
        });
        self.dropping = dropping;
        if !paths.is_empty() {
            self.photos_came(ctx, paths);
        }
    }

    /// Opens the photo that is to be on the table.
    fn open_photo(&mut self, ctx: &Context) {
        let Some(bench) = &self.model.bench else {
            return;
        };
        if bench.photo == self.opened {
            return;
        }
        self.viewer.forget_drawing();
        self.opened = bench.photo.clone();
        let Some(photo) = &bench.photo else {
            self.viewer = Viewer::default();
            return;
        };
        let opened = match bench.session.photo_path(photo) {
            Ok(path) => self
                .viewer
                .open(ctx, PhotoFile::new(path, photo.clone()))
                .map_err(|error| error.to_string()),
            Err(error) => Err(error.to_string()),
        };
        if let Err(why) = opened {
            self.viewer.refuse(why.clone());
            self.model.tell(why, "", true);
        }
    }

    /// Hands the decoded photo to whoever reads its pixels.
    fn take_image(&mut self) {
        let Some(bench) = &mut self.model.bench else {
            return;
        };
        if !self.viewer.is_whole() {
            return;
        }
        let (Some(photo), Some(pyramid)) = (&self.opened, self.viewer.pyramid()) else {
            return;
        };
        if bench.image.as_ref().is_none_or(|(of, _)| of != photo) {
            bench.image = Some((photo.clone(), Arc::clone(pyramid.image())));
            bench.glass = None;
        }
    }

    fn now(&self) -> Now {
        let bench = self.model.bench.as_ref();
        Now {
            job: bench.is_some(),
            photo: bench.is_some_and(|bench| bench.photo.is_some()),
            table: self.model.page == Page::Table,
            on_photo: matches!(self.model.page, Page::Table | Page::Align | Page::Map),
            joint: self.model.page == Page::Table
                && bench.is_some_and(|bench| bench.here.is_some()),
            can_undo: bench.is_some_and(|bench| bench.session.undoable_here().is_some()),
            can_redo: bench.is_some_and(|bench| bench.session.redoable_here().is_some()),
        }
    }

    /// Draws everything and remembers what was asked.
    pub fn draw(&mut self, ui: &mut Ui) {
        let now = self.now();
        let mut asks: Vec<Ask> = Vec::new();
        // Letters name faults while the list of faults is open, and are typed where files are chosen.
        let choosing = self.model.chooser.is_some();
        let making = self.model.page == Page::Map && !choosing;
        let naming = making || choosing || matches!(self.model.pending, Pending::Fault { .. });
        for command in keys::pressed(ui, &now, naming) {
            asks.push(Ask::Command(command));
        }
        if making && let Some(making) = self.model.bench.as_ref().and_then(|b| b.making.as_ref()) {
            asks.extend(super::mapping::keys(ui, making));
        }
        let under_way = self.background.under_way();
        panels::frame(self, ui, &now, &under_way, &mut asks);
        if !asks.is_empty() {
            ui.ctx().request_repaint();
        }
        self.asked.extend(asks);
    }

    /// Whether files hang over the window.
    pub(super) fn dropping(&self) -> bool {
        self.dropping
    }
}

impl eframe::App for Desk {
    fn logic(&mut self, ctx: &Context, _frame: &mut eframe::Frame) {
        self.step(ctx);
    }

    fn ui(&mut self, ui: &mut Ui, _frame: &mut eframe::Frame) {
        self.draw(ui);
    }
}
