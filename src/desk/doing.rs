//! Carrying out what was asked: the one place that changes the model and writes to the record.

use eframe::egui::Context;

use super::app::Desk;
use super::ask::{Ask, Choosing};
use super::chooser::Chooser;
use super::keys::Command;
use super::marker::State;
use super::model::{Bench, FaultOn, Page, Pending, Show};
use super::viewer::{ZOOM_STEP, mark_at};
use crate::geometry::PhotoPoint;
use crate::record::{Fault, FaultKind, Spot, Target, Verdict, View};
use crate::work::{Action, Wish, WorkError, evidence, usual_severity};

/// Exposure step of one key press, stops: the least that is seen at once (common practice, no
/// source).
const STOPS_STEP: f32 = 0.5;
/// Text step of one key press.
const TEXT_STEP: f32 = 0.1;
/// Radius of a clicked place before anybody drew one, as a share of the photo's longer side:
/// a land of 2 mm where the photo shows 110 mm of board. A guess that is seen on the table at
/// once and drawn anew where it is wrong.
const RADIUS_SHARE: f64 = 1.0 / 110.0;
/// Never less than this, px: below it the hint says that the joint is too small to read.
const LEAST_RADIUS_PX: f64 = 18.0;

impl Desk {
    /// Carries out one wish.
    pub(super) fn carry_out(&mut self, ctx: &Context, ask: Ask) {
        match ask {
            Ask::Command(command) => self.command(ctx, command),
            Ask::Map(ask) => self.map(ctx, ask),
            Ask::MapClick(at, shift) => self.map_clicked(at, shift),
            Ask::Page(page) => self.turn_to(ctx, page),
            Ask::GoTo(index) => self.go_to(index),
            Ask::GoToTyped(text) => self.go_to_typed(&text),
            Ask::Show(show) => self.show_side(show),
            Ask::Photo(photo) => self.with_bench(|bench| {
                bench.photo = Some(photo);
                bench.refresh();
            }),
            Ask::StepPhoto(step) => self.step_photo(step),
            Ask::Clicked(at) => self.clicked(at),
            Ask::Drawn(from, to) => self.drawn(from, to),
            Ask::Radius(radius) => self.with_bench(|bench| bench.set_radius(radius)),
            Ask::Fault(kind) => self.name_fault(kind),
            Ask::Severity(severity) => {
                if let Pending::Fault {
                    severity: chosen, ..
                } = &mut self.model.pending
                {
                    *chosen = severity;
                }
            }
            Ask::Entered => self.entered(),
            Ask::PutAway => {
                self.model.pending = Pending::Nothing;
                self.model.chooser = None;
            }
            Ask::Record(action) => {
                self.record(*action);
            }
            Ask::Landmark(index) => self.with_bench(|bench| bench.draft.next = index),
            Ask::Unplace(name) => self.with_bench(|bench| bench.unplace(&name)),
            Ask::PinAsLandmark(pin) => self.pin_as_landmark(&pin),
            Ask::Place(view) => self.place_photo(view),
            Ask::AcceptAlignment => self.accept_alignment(),
            Ask::Export => self.export(ctx),
            Ask::Tour => self.tour(ctx),
            Ask::Open(path) => self.open_job(ctx, &path),
            Ask::CloseJob => self.close_job(ctx),
            Ask::Choose(what) => {
                let from = self.start_folder();
                self.model.chooser = Some((what, Chooser::at(&from, what)));
            }
            Ask::Chosen(what, paths) => self.chosen(ctx, what, paths),
            Ask::Begin => self.begin(ctx),
            Ask::Stop(label) => self.background.stop(&label),
            Ask::Dismiss(index) => {
                if index < self.model.messages.len() {
                    self.model.messages.remove(index);
                }
            }
            Ask::Forget => self.with_bench(Bench::forget),
        }
    }

    pub(super) fn with_bench(&mut self, change: impl FnOnce(&mut Bench)) {
        if let Some(bench) = &mut self.model.bench {
            change(bench);
        }
    }

    fn command(&mut self, ctx: &Context, command: Command) {
        use Command as C;
        match command {
            C::Next => self.walk(1),
            C::Previous => self.walk(-1),
            C::NextUnseen => self.next_unseen(),
            C::OnlyUnseen => self.with_bench(|bench| bench.only_unseen = !bench.only_unseen),
            C::GoTo => self.model.pending = Pending::GoTo(String::new()),
            C::NoFaultSeen => self.no_fault_seen(),
            C::Suspect => self.judge(Verdict::Suspect, Vec::new(), "", ""),
            C::Fault => self.ask_fault(FaultOn::Stop),
            C::MarkPart => self.ask_fault(FaultOn::Part),
            C::MarkUnit => self.ask_fault(FaultOn::Unit(String::new())),
            C::CannotBeJudged => self.model.pending = Pending::Obstacle(String::new()),
            C::Reworked => self.judge(Verdict::Reworked, Vec::new(), "", ""),
            C::Accept => self.judge(Verdict::Accepted, Vec::new(), "", ""),
            C::WholeRow => self.with_bench(|bench| bench.whole_row = !bench.whole_row),
            C::Note => self.model.pending = Pending::Note(String::new(), None),
            C::Undo => self.take_back(),
            C::Redo => self.say_again(),
            C::NextPhoto => self.step_photo(1),
            C::PreviousPhoto => self.step_photo(-1),
            C::AddPhotos => self.carry_out(ctx, Ask::Choose(Choosing::Photos)),
            C::Landmarks => self.turn_to(ctx, Page::Align),
            C::MakeMap => self.turn_to(ctx, Page::Map),
            C::Measure => self.turn_to(ctx, Page::Measure),
            C::Gate => self.turn_to(ctx, Page::Gate),
            C::Slip => self.turn_to(ctx, Page::Slip),
            C::Help => self.turn_to(ctx, Page::Help),
            C::Back => self.back(ctx),
            look => self.look_command(ctx, look),
        }
    }

    fn look_command(&mut self, ctx: &Context, command: Command) {
        use Command as C;
        let aids = self.viewer.aids();
        match command {
            C::ZoomIn => self.viewer.zoom(ZOOM_STEP),
            C::ZoomOut => self.viewer.zoom(1.0 / ZOOM_STEP),
            C::Fit => self.viewer.fit(),
            C::TurnLeft => self.viewer.turn(-1),
            C::TurnRight => self.viewer.turn(1),
            C::Brighter => self
                .viewer
                .set_aids(aids.with_stops(aids.stops + STOPS_STEP)),
            C::Darker => self
                .viewer
                .set_aids(aids.with_stops(aids.stops - STOPS_STEP)),
            C::LocalContrast => self.viewer.set_aids(super::aids::Aids {
                local_contrast: !aids.local_contrast,
                ..aids
            }),
            C::Arc => self.glass.hide_arc = !self.glass.hide_arc,
            C::LargerText => self.restyle(ctx, self.model.look.dark, TEXT_STEP),
            C::SmallerText => self.restyle(ctx, self.model.look.dark, -TEXT_STEP),
            C::LightOrDark => self.restyle(ctx, !self.model.look.dark, 0.0),
            _ => {}
        }
    }

    fn restyle(&mut self, ctx: &Context, dark: bool, step: f32) {
        let scale = ((self.model.look.text_scale + step) * 10.0).round() / 10.0;
        self.model.look = super::theme::Look::new(dark, scale);
        self.model.look.apply(ctx);
    }

    fn back(&mut self, ctx: &Context) {
        if self.model.chooser.take().is_some() {
            return;
        }
        if self.model.pending != Pending::Nothing {
            self.model.pending = Pending::Nothing;
            return;
        }
        let making = self.model.bench.as_mut().and_then(|b| b.making.as_mut());
        if self.model.page == Page::Map && making.is_some_and(|making| making.put_away()) {
            return;
        }
        self.with_bench(|bench| bench.whole_row = false);
        let home = if self.model.bench.is_some() {
            Page::Table
        } else {
            Page::Start
        };
        self.turn_to(ctx, home);
    }

    /// Shows a page and prepares what it needs.
    pub(super) fn turn_to(&mut self, ctx: &Context, page: Page) {
        // A key that is pressed again on its own page leads back to the table.
        let page = if page == self.model.page && self.model.bench.is_some() {
            Page::Table
        } else {
            page
        };
        self.model.page = page;
        self.model.pending = Pending::Nothing;
        match page {
            Page::Align => self.with_bench(Bench::begin_draft),
            Page::Map => self.begin_map(ctx),
            Page::Slip => self.compute_slip(ctx),
            Page::NewJob if self.model.new_job.folder.is_empty() => {
                self.model.new_job.folder = self.jobs_folder().display().to_string();
            }
            _ => {}
        }
    }

    // Walking.

    fn go_to(&mut self, index: usize) {
        self.model.pending = Pending::Nothing;
        self.with_bench(|bench| {
            if index < bench.stops.len() {
                bench.here = Some(index);
                bench.follow();
                bench.redraw();
            }
        });
    }

    fn walk(&mut self, step: i32) {
        let Some(bench) = &self.model.bench else {
            return;
        };
        let Some(here) = bench.here else { return };
        let n = bench.stops.len();
        let mut at = here;
        for _ in 0..n {
            let forward = step > 0;
            if (forward && at + 1 >= n) || (!forward && at == 0) {
                break;
            }
            at = if forward { at + 1 } else { at - 1 };
            if !bench.only_unseen || bench.state_of(at) == State::Unseen {
                self.go_to(at);
                return;
            }
        }
    }

    fn next_unseen(&mut self) {
        let Some(bench) = &self.model.bench else {
            return;
        };
        let n = bench.stops.len();
        let from = bench.here.map_or(0, |here| here + 1);
        let found = (0..n)
            .map(|i| (from + i) % n.max(1))
            .find(|&i| bench.state_of(i) == State::Unseen);
        match found {
            Some(index) => self.go_to(index),
            None => self.model.tell("Nothing here is unseen.", "", false),
        }
    }

    fn go_to_typed(&mut self, text: &str) {
        let wanted = text.trim();
        let Some(bench) = &self.model.bench else {
            return;
        };
        let found = bench
            .stops
            .iter()
            .position(|stop| stop.name.eq_ignore_ascii_case(wanted))
            .or_else(|| {
                bench
                    .stops
                    .iter()
                    .position(|stop| stop.part.eq_ignore_ascii_case(wanted))
            });
        if let Some(index) = found {
            self.go_to(index);
            return;
        }
        // On another side or board of this job.
        let elsewhere = bench
            .session
            .targets(wanted)
            .ok()
            .and_then(|targets| targets.into_iter().next());
        if let Some(Target::Joint(key)) = elsewhere {
            self.show_side(Show::Side(View {
                board: key.board.clone(),
                side: key.side,
            }));
            let target = Target::Joint(key);
            let index = self
                .model
                .bench
                .as_ref()
                .and_then(|bench| bench.stops.iter().position(|stop| stop.target == target));
            if let Some(index) = index {
                self.go_to(index);
                return;
            }
        }
        self.model.pending = Pending::Nothing;
        self.model.tell(
            format!("There is no {wanted} on the maps of this job."),
            "Type a reference as it is printed on the board, such as J4.3 or U7.",
            true,
        );
    }

    fn show_side(&mut self, show: Show) {
        self.with_bench(|bench| {
            bench.show = show;
            bench.here = None;
            bench.whole_row = false;
            if bench.show == Show::Loose {
                bench.follow();
            }
            bench.refresh();
            bench.follow();
            bench.redraw();
        });
    }

    fn step_photo(&mut self, step: i32) {
        self.with_bench(|bench| {
            let n = bench.seen.photos.len();
            let at = bench
                .photo
                .as_ref()
                .and_then(|p| bench.seen.photos.iter().position(|q| q == p));
            let to = match at {
                Some(at) if step < 0 => at.checked_sub(1),
                Some(at) => Some(at + 1).filter(|to| *to < n),
                None => (n > 0).then_some(0),
            };
            if let Some(to) = to {
                bench.photo = Some(bench.seen.photos[to].clone());
                bench.refresh();
            }
        });
    }

    // The table.

    fn clicked(&mut self, at: PhotoPoint) {
        if self.model.page == Page::Align {
            self.with_bench(|bench| bench.place_landmark(at));
            return;
        }
        let (Some(bench), Some(view)) = (&self.model.bench, self.viewer.view()) else {
            return;
        };
        if let Some(mark) = mark_at(&view, &bench.seen.marks, at) {
            let stop = bench.seen.stop_of_mark[mark];
            self.go_to(stop);
        } else if bench.show == Show::Loose {
            let radius = bench.usual_radius();
            self.add_spot(at, radius);
        }
    }

    fn drawn(&mut self, from: PhotoPoint, to: PhotoPoint) {
        let Some(bench) = &self.model.bench else {
            return;
        };
        let aligned = bench
            .photo_state()
            .and_then(|photo| photo.alignment())
            .cloned();
        if let (Show::Side(view), Some(alignment)) = (&bench.show, aligned) {
            let Ok(board) = alignment.photo_from_board.inverse() else {
                return;
            };
            let (Some(a), Some(b)) = (board.apply(from), board.apply(to)) else {
                return;
            };
            let area = Target::Area {
                view: view.clone(),
                from: [a.x, a.y],
                to: [b.x, b.y],
            };
            self.ask_fault(FaultOn::Area(area));
        } else {
            self.add_spot(from, (to - from).length().max(3.0));
        }
    }

    fn add_spot(&mut self, at: PhotoPoint, radius_px: f64) {
        self.with_bench(|bench| {
            let Some(photo) = bench.photo.clone() else {
                return;
            };
            let round = |value: f64| (value * 10.0).round() / 10.0;
            let spot = Spot {
                photo,
                at_px: [round(at.x), round(at.y)],
                radius_px: round(radius_px),
            };
            if bench.session.check_spot(&spot).is_err() {
                return;
            }
            bench.clicked.push(spot);
            bench.show = Show::Loose;
            bench.refresh();
            bench.here = bench.stops.len().checked_sub(1);
            bench.redraw();
        });
    }

    // Saying what was seen.

    fn no_fault_seen(&mut self) {
        let on_slip = self.model.bench.as_ref().is_some_and(|bench| {
            bench.chosen().iter().any(|&i| {
                let place = bench.session.state().place(&bench.stops[i].target);
                place.is_some_and(|place| place.is_mark() && !place.is_accepted())
            })
        });
        if on_slip {
            self.model.pending = Pending::Note(String::new(), Some(Verdict::NoFaultSeen));
        } else {
            self.judge(Verdict::NoFaultSeen, Vec::new(), "", "");
        }
    }

    fn ask_fault(&mut self, on: FaultOn) {
        self.model.pending = Pending::Fault {
            filter: String::new(),
            severity: None,
            on,
        };
    }

    fn name_fault(&mut self, kind: FaultKind) {
        let Pending::Fault { severity, on, .. } = std::mem::take(&mut self.model.pending) else {
            return;
        };
        let Some(bench) = &self.model.bench else {
            return;
        };
        let targets: Vec<Target> = match &on {
            FaultOn::Stop => bench
                .chosen()
                .iter()
                .map(|&i| bench.stops[i].target.clone())
                .collect(),
            FaultOn::Part => bench
                .stop()
                .and_then(|stop| stop.part_target.clone())
                .into_iter()
                .collect(),
            FaultOn::Area(target) => vec![target.clone()],
            FaultOn::Unit(what) => vec![Target::Unit {
                what: what.trim().to_owned(),
            }],
        };
        let severity =
            severity.unwrap_or_else(|| usual_severity(bench.session.maps(), &targets, kind));
        let fault = Fault {
            fault: kind,
            severity,
            action: String::new(),
        };
        match on {
            FaultOn::Stop => self.judge(Verdict::Faulty, vec![fault], "", ""),
            FaultOn::Unit(what) if what.trim().is_empty() => {
                self.model.tell(
                    "What the fault is on has no name.",
                    "Type it: mains cord, plug, case.",
                    true,
                );
            }
            _ => {
                let mut wish = Wish::new(targets, Verdict::Faulty);
                wish.faults = vec![fault];
                if matches!(on, FaultOn::Part) && bench.stop_on_photo().is_some() {
                    wish.photo = bench.photo.clone();
                }
                self.record(Action::Judge(wish));
            }
        }
    }

    fn entered(&mut self) {
        match std::mem::take(&mut self.model.pending) {
            Pending::Obstacle(text) => self.judge(Verdict::CannotBeJudged, Vec::new(), &text, ""),
            Pending::Note(text, Some(verdict)) => self.judge(verdict, Vec::new(), "", &text),
            Pending::Note(text, None) => {
                let Some(bench) = &self.model.bench else {
                    return;
                };
                let name = bench
                    .stop()
                    .map(|stop| format!("{}: ", stop.name))
                    .unwrap_or_default();
                let photo = bench.photo.clone();
                if text.trim().is_empty() {
                    return;
                }
                self.record(Action::Note {
                    text: format!("{name}{}", text.trim()),
                    photo,
                });
            }
            Pending::GoTo(text) => self.go_to_typed(&text),
            other => self.model.pending = other,
        }
    }

    /// Records a verdict on the chosen stops and goes on to the next.
    fn judge(&mut self, verdict: Verdict, faults: Vec<Fault>, obstacle: &str, note: &str) {
        let Some(bench) = &self.model.bench else {
            return;
        };
        let chosen = bench.chosen();
        let Some(&last) = chosen.last() else { return };
        let mut wish = Wish::new(
            chosen
                .iter()
                .map(|&i| bench.stops[i].target.clone())
                .collect(),
            verdict,
        );
        wish.faults = faults;
        wish.obstacle = obstacle.trim().to_owned();
        wish.note = note.trim().to_owned();
        if bench.stop_on_photo().is_some() {
            wish.photo = bench.photo.clone();
        }
        if let [only] = chosen.as_slice() {
            let stop = &bench.stops[*only];
            wish.evidence = bench
                .hint(stop)
                .map(|(report, hint)| evidence(report, hint));
            if let Target::Photo(spot) = &stop.target {
                wish.spot = Some(spot.clone());
            }
        }
        if self.record(Action::Judge(wish)) {
            self.with_bench(|bench| {
                bench.whole_row = false;
                bench.clicked.retain(|spot| {
                    bench
                        .session
                        .state()
                        .place(&Target::Photo(spot.clone()))
                        .is_none()
                });
                bench.here = Some(last.min(bench.stops.len().saturating_sub(1)));
            });
            self.walk(1);
        }
    }

    /// The one door to the record. Whether it was recorded.
    pub(super) fn record(&mut self, action: Action) -> bool {
        let Some(bench) = &mut self.model.bench else {
            return false;
        };
        if bench.lent {
            self.model.tell(
                "Photos are being brought in; nothing else is recorded meanwhile.",
                "Wait until they are in, or stop it.",
                false,
            );
            return false;
        }
        match bench.session.apply(action) {
            Ok(applied) => {
                bench.said = applied.words;
                bench.refresh();
                for caution in applied.cautions {
                    self.model.tell(caution, "", false);
                }
                true
            }
            Err(error) => {
                self.trouble(&error);
                false
            }
        }
    }

    /// Tells of an error and its remedy, in the window's own words for what to do.
    pub(super) fn trouble(&mut self, error: &WorkError) {
        let remedy = in_the_window(error.remedy());
        let mut text = error.to_string();
        if let Some(short) = text.strip_suffix(&error.remedy()) {
            text = short.trim_end_matches([' ', ';', '.']).to_owned() + ".";
        }
        self.model.tell(text, remedy, true);
    }

    fn take_back(&mut self) {
        self.withdraw(Action::Undo, "Undone");
    }

    fn say_again(&mut self) {
        self.withdraw(Action::Redo, "Redone");
    }

    fn withdraw(&mut self, action: Action, lead: &str) {
        let words = self.model.bench.as_ref().and_then(|bench| {
            let session = &bench.session;
            let id = match action {
                Action::Undo => session.undoable()?,
                _ => match session.event(session.redoable()?)? {
                    crate::record::Event::Withdrawn { targets } => *targets.first()?,
                    _ => return None,
                },
            };
            let event = session.event(id)?;
            Some(crate::record::describe(event, session.maps()))
        });
        if self.record(action) {
            let words = words.unwrap_or_default();
            self.with_bench(|bench| bench.said = format!("{lead}: {words}"));
        }
    }
}

/// The remedies that speak of the command line, said for the window.
fn in_the_window(remedy: String) -> String {
    for (sign, said) in [
        ("benchglass align", "Place landmarks on it (K)."),
        (
            "map adopt",
            "Adopt a board map: it is in the list of boards at the top.",
        ),
        (
            "benchglass map check",
            "Mend the map; its errors are listed by: benchglass map check.",
        ),
        ("benchglass add", "Drop photos on the window."),
        ("--fault", "Name the fault (F)."),
        ("--note", "Write why in a note."),
        ("--obstacle", "Say what is in the way."),
        (
            "--unit",
            "Give the unit's serial number or your shop's code.",
        ),
        ("--model", "Give make and type, as on the plate."),
        ("--volts", "Type the figure on the meter."),
        ("--function", "Say what you tried."),
    ] {
        if remedy.contains(sign) {
            return said.to_owned();
        }
    }
    remedy
}

impl Bench {
    /// The radius that the next clicked place gets: that of the one before.
    #[must_use]
    pub fn usual_radius(&self) -> f64 {
        let before = self.clicked.last().map(|spot| spot.radius_px).or_else(|| {
            self.stops.iter().rev().find_map(|stop| match &stop.target {
                Target::Photo(spot) => Some(spot.radius_px),
                _ => None,
            })
        });
        let size = self
            .photo_state()
            .map_or([4000, 3000], |photo| photo.facts.size);
        before.unwrap_or_else(|| {
            (f64::from(size[0].max(size[1])) * RADIUS_SHARE).max(LEAST_RADIUS_PX)
        })
    }

    fn set_radius(&mut self, radius: f64) {
        let Some(Target::Photo(current)) = self.stop().map(|stop| stop.target.clone()) else {
            return;
        };
        let here = self.here;
        if let Some(spot) = self.clicked.iter_mut().find(|spot| **spot == current) {
            spot.radius_px = (radius * 10.0).round() / 10.0;
        }
        self.refresh();
        self.here = here;
        self.redraw();
    }

    fn forget(&mut self) {
        if let Some(Target::Photo(current)) = self.stop().map(|stop| stop.target.clone()) {
            self.clicked.retain(|spot| *spot != current);
            self.refresh();
        }
    }
}
