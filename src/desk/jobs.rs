//! Opening and starting jobs, hints and papers: what goes to a thread and what comes back.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use eframe::egui::Context;

use super::app::Desk;
use super::ask::Choosing;
use super::background::{Done, HintKey};
use super::matching::{MATCHING, Matching};
use super::model::{Bench, Draft, NewJob, Page, Seen, Show};
use super::outside::Watch;
use super::pointed::Pointed;
use super::start::RecentJob;
use super::twins::Twins;
use crate::paper::SlipView;
use crate::progress::Progress;
use crate::record::{Unit, View};
use crate::work::{Action, Session, WorkError, Written, hint_image, slip_of, write_slip};

/// What laying out the slip is called.
const SLIP: &str = "Laying out the slip";
/// What writing the papers is called.
pub const WRITING: &str = "Writing the papers";
/// What the hint is called.
pub const HINTING: &str = "Reading the joints of this photo";
/// Of how many events a slip is that was laid out before something came in: no record has so many.
pub(super) const OUTDATED: usize = usize::MAX;
/// Jobs of before that are remembered.
const REMEMBERED: usize = 8;

impl Desk {
    /// Opens a job and puts it on the table.
    pub fn open_job(&mut self, ctx: &Context, path: &Path) {
        match Session::open_or_read(path, &self.model.by) {
            Ok(session) => self.put_on_table(ctx, session),
            Err(error) => self.trouble(&error),
        }
    }

    fn put_on_table(&mut self, ctx: &Context, session: Session) {
        self.background.stop(MATCHING);
        for warning in session.warnings().to_vec() {
            self.model.tell(warning, "", true);
        }
        self.remember(session.dir());
        let mut bench = Bench {
            session,
            show: Show::Loose,
            photo: None,
            stops: Vec::new(),
            here: None,
            clicks_as_they_are: false,
            whole_row: false,
            only_unseen: false,
            clicked: Vec::new(),
            pointed: Pointed::default(),
            hints: BTreeMap::new(),
            hinting: None,
            hint_stopped: false,
            image: None,
            draft: Draft::default(),
            drafts: BTreeMap::new(),
            glass: None,
            slip: None,
            slip_stopped: false,
            fields: BTreeMap::new(),
            stands: BTreeMap::new(),
            said: String::new(),
            seen: Seen::default(),
            others: Vec::new(),
            twins: Twins::default(),
            lent: false,
            matching: Matching::default(),
            making: None,
            watch: Watch::default(),
        };
        bench.settle();
        self.model.bench = Some(bench);
        self.look_for_other_jobs(ctx);
        self.model.chooser = None;
        self.model.new_job = NewJob::default();
        self.turn_to(ctx, Page::Table);
        self.model.page = Page::Table;
    }

    pub(super) fn close_job(&mut self, ctx: &Context) {
        self.background.stop(MATCHING);
        self.model.bench = None;
        self.opened = None;
        self.viewer = super::viewer::Viewer::default();
        self.model.page = Page::Start;
        self.look_up_recent(ctx);
    }

    /// Makes the job that the form describes and brings its photos in.
    pub(super) fn begin(&mut self, ctx: &Context) {
        let form = self.model.new_job.clone();
        let unit = Unit {
            code: form.unit.trim().to_owned(),
            model: form.model.trim().to_owned(),
            complaint: form.complaint.trim().to_owned(),
        };
        let folder = Path::new(form.folder.trim()).join(folder_name(&unit.code));
        if let Err(source) = std::fs::create_dir_all(form.folder.trim()) {
            self.trouble(&WorkError::File {
                path: folder,
                source,
            });
            return;
        }
        match Session::begin(&folder, unit, &form.maps, &self.model.by) {
            Ok(session) => {
                let photos = form.photos;
                self.put_on_table(ctx, session);
                if !photos.is_empty() {
                    self.add(ctx, photos);
                }
            }
            Err(error) => self.trouble(&error),
        }
    }

    /// Files were chosen or dropped.
    pub(super) fn chosen(&mut self, ctx: &Context, what: Choosing, paths: Vec<PathBuf>) {
        self.model.chooser = None;
        let Some(first) = paths.first().cloned() else {
            return;
        };
        match what {
            Choosing::Job => self.open_job(ctx, &first),
            Choosing::Map => self.model.new_job.maps.extend(paths),
            Choosing::AdoptMap => {
                self.keeping_words(|desk| {
                    if desk.record(Action::AdoptMap { path: first }) {
                        desk.with_bench(Bench::settle);
                    }
                });
            }
            Choosing::Photos => self.photos_came(ctx, paths),
        }
    }

    /// Photos were dropped or chosen; a dropped job folder is opened, a dropped map taken as one.
    pub fn photos_came(&mut self, ctx: &Context, paths: Vec<PathBuf>) {
        if let Some(job) = paths.iter().find(|path| path.join("job.json").is_file()) {
            let job = job.clone();
            self.open_job(ctx, &job);
            return;
        }
        let paths = self.take_board_files(ctx, paths);
        if paths.is_empty() {
            return;
        }
        let is_map = |path: &PathBuf| path.extension().is_some_and(|ending| ending == "json");
        let (maps, photos): (Vec<_>, Vec<_>) = paths.into_iter().partition(is_map);
        if self.model.bench.is_some() {
            for path in maps {
                self.chosen(ctx, Choosing::AdoptMap, vec![path]);
            }
            if !photos.is_empty() {
                self.add(ctx, photos);
            }
            return;
        }
        self.model.new_job.maps.extend(maps);
        self.model.new_job.photos.extend(photos);
        self.turn_to(ctx, Page::NewJob);
    }

    /// Changes something; what is being said of another joint than before is put away.
    pub(super) fn keeping_words(&mut self, change: impl FnOnce(&mut Self)) {
        let target = |desk: &Self| {
            let stop = desk.model.bench.as_ref()?.stop()?;
            Some(stop.target.clone())
        };
        let before = target(self);
        change(self);
        if target(self) != before {
            self.put_words_away();
        }
    }

    /// Works the slip out, off the window's thread, from its own reading of the record.
    pub(super) fn compute_slip(&mut self, ctx: &Context) {
        let Some(bench) = &self.model.bench else {
            return;
        };
        let now = bench.session.state().log.len();
        if bench.slip.as_ref().is_some_and(|(then, _)| *then == now) {
            return;
        }
        let dir = bench.session.dir().to_path_buf();
        self.background.stop(SLIP);
        self.with_bench(|bench| bench.slip_stopped = false);
        self.background.start(ctx, SLIP, false, move |progress| {
            // What it says is of the record as it is read here, whatever is written meanwhile.
            let slip = Session::read(&dir).and_then(|session| {
                Ok((
                    session.state().log.len(),
                    Box::new(slip_of(&session, progress)?),
                ))
            });
            Done::Slip(dir, slip)
        });
    }

    pub(super) fn export(&mut self, ctx: &Context) {
        let Some(bench) = &self.model.bench else {
            return;
        };
        let dir = bench.session.dir().to_path_buf();
        self.background.start(ctx, WRITING, false, move |progress| {
            Done::Written(
                Session::read(&dir).and_then(|session| write_slip(&session, None, progress)),
            )
        });
    }

    /// Starts the hint of the photo on the table where it is decoded and not read yet.
    pub(super) fn hint_when_ready(&mut self, ctx: &Context) {
        let Some(bench) = &mut self.model.bench else {
            return;
        };
        let (Some(key), Some((photo, image))) = (bench.hint_key(), &bench.image) else {
            return;
        };
        let known = bench
            .hints
            .get(photo)
            .is_some_and(|(known, _)| *known == key);
        if *photo != key.photo || known || bench.hinting.as_ref() == Some(&key) {
            return;
        }
        let Some(state) = bench.photo_state() else {
            return;
        };
        let spots: Vec<_> = bench
            .stops
            .iter()
            .filter_map(|stop| stop.joint_spot(state))
            .collect();
        if spots.is_empty() {
            return;
        }
        let image = Arc::clone(image);
        bench.hinting = Some(key.clone());
        bench.hint_stopped = false;
        self.background
            .start(ctx, HINTING, false, move |progress: &Progress| {
                Done::Hint(key, hint_image(&image, &spots, progress))
            });
    }

    /// Takes in what has ended.
    pub(super) fn take_done(&mut self, ctx: &Context) {
        for done in self.background.poll() {
            match done {
                Done::Tour(Ok(report)) => self.tour_made(ctx, &report.job),
                Done::Added(session, report) => self.added(*session, report),
                Done::Hint(key, report) => self.hinted(key, report),
                Done::Found(photo, found) => self.found_for_map(photo, found),
                Done::DarkLines(photo, picture) => self.dark_lines_came(ctx, photo, picture),
                Done::Joints(photo, found) => self.found_joints(&photo, found),
                Done::Slip(dir, slip) => self.slip_came(&dir, slip),
                Done::Written(Ok(written)) => self.tell_written(&written),
                Done::Recent(recent) => self.model.recent = recent,
                Done::Others(dir, others) => self.with_bench(|bench| {
                    if bench.session.dir() == dir {
                        bench.others = others;
                        bench.matching.others_known = true;
                        bench.redraw();
                    }
                }),
                Done::Matched(dir, photo, found) => self.matched(&dir, photo, found),
                Done::Twins(key, twins) => self.twins_came(&key, twins),
                Done::Lost(what) => self.lost(what),
                Done::Tour(Err(error)) | Done::Written(Err(error)) => {
                    self.trouble(&error);
                }
            }
        }
    }

    fn slip_came(&mut self, dir: &Path, slip: Result<(usize, Box<SlipView>), WorkError>) {
        let Some(bench) = &mut self.model.bench else {
            return;
        };
        if bench.session.dir() != dir {
            return;
        }
        match slip {
            Ok(slip) => {
                bench.slip = Some(slip);
                // Another job's pictures may have the same number.
                self.pictures = super::panels::slip::Pictures::default();
            }
            Err(WorkError::Cancelled(_)) => {
                // A newer one may be under way instead.
                let making = self.background.under_way();
                bench.slip_stopped = making.iter().all(|task| task.label != SLIP);
            }
            Err(error) => {
                bench.slip_stopped = true;
                self.trouble(&error);
            }
        }
    }

    fn hinted(&mut self, key: HintKey, report: Result<crate::joint::HintReport, WorkError>) {
        let Some(bench) = &mut self.model.bench else {
            return;
        };
        if bench.hinting.as_ref() == Some(&key) {
            bench.hinting = None;
        }
        // Spots are named by their order: a reading of other places is of none of these.
        let elsewhere = bench.show == Show::Loose
            && bench.photo.as_ref() == Some(&key.photo)
            && bench.hint_key().as_ref() != Some(&key);
        if elsewhere && report.is_ok() {
            return;
        }
        match report {
            Ok(report) => {
                bench
                    .hints
                    .insert(key.photo.clone(), (key, Arc::new(report)));
                bench.glass = None;
                bench.redraw();
            }
            Err(
                WorkError::Cancelled(_) | WorkError::Joint(crate::joint::JointError::Cancelled),
            ) => {
                // Asked for: not begun again by itself until the places change. A newer one may be
                // under way.
                if bench.hinting.is_none() {
                    bench.hinting = Some(key);
                    bench.hint_stopped = true;
                }
            }
            Err(error) => self.trouble(&error),
        }
    }

    fn tell_written(&mut self, written: &Written) {
        let folder = written.files.first().and_then(|file| file.parent());
        let names: Vec<String> = written
            .files
            .iter()
            .filter_map(|file| Some(file.file_name()?.to_string_lossy().into_owned()))
            .collect();
        let text = format!(
            "The slip with {} line{} is written: {}.",
            written.lines,
            if written.lines == 1 { "" } else { "s" },
            names.join(", ")
        );
        let place = folder
            .map(|folder| format!("In {}", folder.display()))
            .unwrap_or_default();
        self.model.tell(text, place, false);
    }

    /// A worker ended without its result: whatever it had borrowed is opened anew.
    fn lost(&mut self, what: String) {
        self.model.tell(what, "Try it again.", true);
        let Some(bench) = &mut self.model.bench else {
            return;
        };
        if bench.lent {
            let dir = bench.session.dir().to_path_buf();
            match Session::open_or_read(&dir, &self.model.by) {
                Ok(session) => {
                    bench.session = session;
                    bench.lent = false;
                    bench.settle();
                }
                Err(error) => self.trouble(&error),
            }
        }
    }

    // Jobs of before.

    pub(super) fn remember(&mut self, dir: &Path) {
        let Some(home) = &self.model.home else { return };
        let dir = std::path::absolute(dir).unwrap_or_else(|_| dir.to_path_buf());
        let mut paths = recent_paths(home);
        paths.retain(|path| *path != dir);
        paths.insert(0, dir);
        paths.truncate(REMEMBERED);
        if let Ok(text) = serde_json::to_string(&paths) {
            // Forgetting a list of shortcuts is no loss worth a message.
            let _ = std::fs::create_dir_all(home);
            let _ = crate::work::write_text(&home.join("recent.json"), &text);
        }
    }

    /// Reads where the jobs of before stand.
    pub(super) fn look_up_recent(&mut self, ctx: &Context) {
        let Some(home) = self.model.home.clone() else {
            return;
        };
        self.background
            .start(ctx, "Looking up jobs of before", true, move |_| {
                let jobs = recent_paths(&home)
                    .into_iter()
                    .filter(|path| path.join("job.json").is_file())
                    .filter_map(|path| Some((path.clone(), standing(&path)?)))
                    .collect();
                Done::Recent(jobs)
            });
    }

    /// Where choosing files begins.
    pub(super) fn start_folder(&self) -> PathBuf {
        std::env::current_dir().unwrap_or_else(|_| PathBuf::from("/"))
    }

    /// Where new jobs go unless the person says otherwise.
    pub(super) fn jobs_folder(&self) -> PathBuf {
        let documents = directories::UserDirs::new().and_then(|dirs| {
            dirs.document_dir()
                .map(Path::to_path_buf)
                .or(Some(dirs.home_dir().to_path_buf()))
        });
        documents
            .unwrap_or_else(|| self.start_folder())
            .join("benchglass-jobs")
    }
}

pub(super) fn recent_paths(home: &Path) -> Vec<PathBuf> {
    std::fs::read(home.join("recent.json"))
        .ok()
        .and_then(|bytes| serde_json::from_slice(&bytes).ok())
        .unwrap_or_default()
}

fn standing(path: &Path) -> Option<RecentJob> {
    let session = Session::read(path).ok()?;
    let unit = session.state().unit.as_ref()?.code.clone();
    let rows = session.coverage_rows();
    let (judged, total) = rows
        .iter()
        .filter(|row| row.side.is_some())
        .fold((0, 0), |(judged, total), row| {
            (judged + row.judged, total + row.total)
        });
    let standing = if total > 0 {
        format!("{judged} of {total} joints looked at")
    } else {
        format!("{} photos, no board map", session.state().photos.len())
    };
    Some(RecentJob {
        unit,
        standing,
        folder: path.display().to_string(),
    })
}

/// A unit's code as a folder name that every system takes.
pub(super) fn folder_name(unit: &str) -> String {
    let name: String = unit
        .trim()
        .chars()
        .map(|c| {
            if c.is_alphanumeric() || c == '-' {
                c
            } else {
                '_'
            }
        })
        .take(60)
        .collect();
    if name.is_empty() {
        "unit".to_owned()
    } else {
        name
    }
}

impl Bench {
    /// Chooses what to show: the side where most photos are aligned, else loose photos. Stays
    /// where the person is if that still makes sense.
    pub(super) fn settle(&mut self) {
        self.forget_old_hints();
        self.refresh();
        let aligned = |view: &View, session: &Session| {
            session
                .state()
                .photos_of(&view.board, view.side)
                .filter(|photo| photo.alignment().is_some())
                .count()
        };
        let here_fits = match &self.show {
            Show::Side(view) => aligned(view, &self.session) > 0,
            Show::Loose => self.photo.is_some(),
        };
        if !here_fits {
            let best = self
                .sides()
                .into_iter()
                .map(|view| (aligned(&view, &self.session), view))
                .rev()
                .max_by_key(|(n, _)| *n);
            self.show = match best {
                Some((n, view)) if n > 0 => Show::Side(view),
                Some((_, view)) if self.session.state().photos.is_empty() => Show::Side(view),
                _ => Show::Loose,
            };
            self.here = None;
        }
        self.refresh();
        self.follow();
        self.refresh();
    }

    /// Every side of every board, the solder side first.
    #[must_use]
    pub fn sides(&self) -> Vec<View> {
        use crate::board::Side;
        self.session
            .maps()
            .iter()
            .flat_map(|map| {
                [Side::Solder, Side::Component].map(|side| View {
                    board: map.board.clone(),
                    side,
                })
            })
            .collect()
    }
}
