//! The table's photo surface: a large photo that can be dragged, zoomed and turned while it is
//! still being decoded.
//!
//! Input is a [`PhotoSource`]; output is [`Shown`]: the transform of this frame, over which the
//! caller draws its marks, and what the pointer did.

mod loader;
mod overlay;
mod tiles;
mod transform;

use std::io;

use eframe::egui::{
    self, Align2, Pos2, Rect, Response, Role, Sense, TextureHandle, TextureOptions, Ui, WidgetInfo,
    pos2, vec2,
};
use image::RgbImage;

pub use crate::photo::{Pyramid, TILE};
pub use loader::{Arrival, Loading, PhotoFile, PhotoSource};
pub use overlay::{Mark, PartName, mark_at, outlined_text, paint_marks};
pub use tiles::TEXTURE_BYTES;
pub use transform::ScreenFromPhoto;

use super::aids::{Aids, Tone};
use super::parts;
use super::theme::Look;
use crate::geometry::PhotoPoint;
use tiles::Tiles;

/// One step of the zoom keys.
pub const ZOOM_STEP: f64 = 1.25;

/// A photo surface. Owns no job data: a photo, a view and textures, all of which can be had again.
#[derive(Default)]
pub struct Viewer {
    view: Option<ScreenFromPhoto>,
    /// The person has moved the view: a resized window no longer refits it.
    moved: bool,
    /// Nothing of the photo that is being opened has arrived yet.
    fresh: bool,
    /// What is on the table is the photo that was asked for last, in full.
    whole: bool,
    loading: Option<Loading>,
    pyramid: Option<Pyramid>,
    /// The whole photo, small: drawn beneath the tiles.
    under: Option<TextureHandle>,
    small: Option<RgbImage>,
    tiles: Tiles,
    aids: Aids,
    tone: Option<Tone>,
    trouble: Option<String>,
    waiting_for_tiles: bool,
    drawn_from: Option<PhotoPoint>,
}

/// What a frame came to.
#[derive(Debug)]
pub struct Shown {
    /// The surface, for menus and focus.
    pub response: Response,
    /// Where the photo lies; `None` while there is nothing to look at.
    pub view: Option<ScreenFromPhoto>,
    /// Where the person clicked.
    pub clicked: Option<PhotoPoint>,
    /// What is under the pointer.
    pub pointer: Option<PhotoPoint>,
    /// Drawn with Shift held: from where to where, and whether the button was let go.
    pub drawn: Option<(PhotoPoint, PhotoPoint, bool)>,
}

impl Viewer {
    /// Opens a photo; the one before stays until something of the new one has arrived.
    ///
    /// # Errors
    /// Where the system has no thread to give.
    pub fn open(&mut self, ctx: &egui::Context, source: impl PhotoSource) -> io::Result<()> {
        self.trouble = None;
        self.loading = Some(Loading::start(ctx, source)?);
        self.fresh = true;
        self.whole = false;
        Ok(())
    }

    /// Forgets what was begun to be drawn: another photo comes.
    pub(super) fn forget_drawing(&mut self) {
        self.drawn_from = None;
    }

    /// Stops what is being opened. What was on the table before is another photo, and goes.
    pub fn cancel(&mut self) {
        if self.loading.take().is_some() {
            self.make_room();
            self.trouble = Some("It was stopped. Choose it again to open it.".to_owned());
        }
    }

    /// The photo cannot even be begun: the one before goes all the same.
    pub(super) fn refuse(&mut self, why: String) {
        self.loading = None;
        self.fresh = true;
        self.whole = false;
        self.make_room();
        self.trouble = Some(why);
    }

    /// Whether the photo that was asked for last is on the table in full: until then places on it
    /// cannot be told.
    #[must_use]
    pub fn is_whole(&self) -> bool {
        self.whole
    }

    /// Whether a photo is still on its way, or its tiles are.
    #[must_use]
    pub fn is_busy(&self) -> bool {
        self.loading.is_some() || self.waiting_for_tiles
    }

    /// Whether a photo is being opened.
    #[must_use]
    pub fn is_opening(&self) -> bool {
        self.loading.is_some()
    }

    /// The photo, once it is decoded.
    #[must_use]
    pub fn pyramid(&self) -> Option<&Pyramid> {
        self.pyramid.as_ref()
    }

    /// Where the photo lies, as of the last frame.
    #[must_use]
    pub fn view(&self) -> Option<ScreenFromPhoto> {
        self.view
    }

    /// Why the last photo could not be opened.
    #[must_use]
    pub fn trouble(&self) -> Option<&str> {
        self.trouble.as_deref()
    }

    /// Texture memory held by tiles, bytes.
    #[must_use]
    pub fn texture_bytes(&self) -> usize {
        self.tiles.bytes()
    }

    /// Changes the view, if there is one; the window no longer refits it then.
    pub fn set_view(&mut self, change: impl FnOnce(ScreenFromPhoto) -> ScreenFromPhoto) {
        self.view = self.view.map(change);
        self.moved = true;
    }

    /// The whole photo again.
    pub fn fit(&mut self) {
        self.moved = false;
    }

    /// Larger or smaller about the middle.
    pub fn zoom(&mut self, factor: f64) {
        self.set_view(|view| view.zoomed_at(view.viewport.center(), factor));
    }

    /// Turns by quarters clockwise; a fitted photo is fitted again.
    pub fn turn(&mut self, quarters: i8) {
        self.view = self.view.map(|view| view.turned(quarters));
    }

    /// The viewing aids.
    #[must_use]
    pub fn aids(&self) -> Aids {
        self.aids
    }

    /// Sets the viewing aids; the photo itself is never altered.
    pub fn set_aids(&mut self, aids: Aids) {
        if self.aids != aids {
            self.aids = aids;
            self.retone();
        }
    }

    fn retone(&mut self) {
        self.tone = None;
        self.under = None;
        self.tiles.clear();
    }

    /// Draws the surface in all the room that is left.
    pub fn show(&mut self, ui: &mut Ui, look: &Look) -> Shown {
        let (rect, response) = ui.allocate_exact_size(ui.available_size(), Sense::click_and_drag());
        let painter = ui.painter_at(rect);
        self.take_arrivals();
        self.place(rect);
        let clicked = self.gestures(ui, &response).filter(|_| self.whole);
        // Whatever lies beneath the photo is drawn for nothing, and in software that is dear.
        if !self.covers(rect) {
            painter.rect_filled(rect, 0.0, look.palette.well);
        }
        self.paint(&painter);
        response.widget_info(|| WidgetInfo::labeled(Role::Image, true, self.words()));
        self.messages(ui, look, rect);
        let pointer = response.hover_pos();
        let drawn = self.drawing(ui, &response);
        let to_photo = |at: Option<Pos2>| Some(self.view?.photo(at?));
        Shown {
            clicked: to_photo(clicked),
            pointer: to_photo(pointer),
            view: self.view,
            drawn,
            response,
        }
    }

    /// A drag with Shift held draws instead of moving the photo.
    fn drawing(&mut self, ui: &Ui, response: &Response) -> Option<(PhotoPoint, PhotoPoint, bool)> {
        let view = self.view.filter(|_| self.whole)?;
        let held = ui.input(|i| i.modifiers.shift);
        if response.drag_started() && held {
            self.drawn_from = ui
                .input(|i| i.pointer.press_origin())
                .map(|at| view.photo(at));
        }
        let from = self.drawn_from?;
        let over = response.drag_stopped();
        if over || !response.dragged() {
            self.drawn_from = None;
        }
        let to = view.photo(response.interact_pointer_pos()?);
        Some((from, to, over))
    }

    fn take_arrivals(&mut self) {
        let Some(loading) = &self.loading else {
            return;
        };
        let arrivals = loading.poll();
        let mut over = false;
        for arrival in arrivals {
            match arrival {
                Arrival::First(first) => {
                    self.make_room();
                    self.small = Some(first);
                }
                Arrival::Whole(pyramid) => {
                    over = true;
                    self.take_photo(pyramid);
                }
                Arrival::Failed(why) => {
                    over = true;
                    // The photo of before must not pass for this one.
                    self.make_room();
                    self.trouble = Some(why);
                }
            }
        }
        if over {
            self.loading = None;
        }
    }

    /// Puts the photo of before away, once, when the new one has something to show.
    fn make_room(&mut self) {
        if self.fresh {
            self.fresh = false;
            self.moved = false;
            self.view = None;
            self.pyramid = None;
            self.small = None;
            self.retone();
        }
    }

    fn take_photo(&mut self, pyramid: Pyramid) {
        self.make_room();
        let size = [pyramid.image().width(), pyramid.image().height()];
        let small = pyramid.level(pyramid.levels() - 1);
        self.small = small.map(|small| (**small).clone());
        self.pyramid = Some(pyramid);
        self.whole = true;
        self.view = self.view.map(|view| view.for_size(size));
        self.retone();
    }

    fn place(&mut self, viewport: Rect) {
        let size = match (&self.pyramid, &self.small) {
            (Some(pyramid), _) => [pyramid.image().width(), pyramid.image().height()],
            (None, Some(small)) => [small.width(), small.height()],
            (None, None) => return,
        };
        let view = match self.view {
            Some(view) if self.moved && view.size == size => ScreenFromPhoto { viewport, ..view },
            Some(view) => ScreenFromPhoto::fit(size, view.turns, viewport),
            None => ScreenFromPhoto::fit(size, 0, viewport),
        };
        self.view = Some(view);
    }

    /// Drag moves, wheel and pinch zoom at the pointer. Returns where a plain click fell.
    fn gestures(&mut self, ui: &Ui, response: &Response) -> Option<Pos2> {
        let view = self.view?;
        let mut moved = view;
        if response.dragged() && self.drawn_from.is_none() && !ui.input(|i| i.modifiers.shift) {
            moved = moved.panned(response.drag_delta());
        }
        if let Some(at) = response.hover_pos() {
            let (scroll, pinch) = ui.input(|i| (i.smooth_scroll_delta().y, i.zoom_delta()));
            // With Ctrl held the wheel is reported as a pinch; without, as a scroll.
            let factor = transform::zoom_of_scroll(scroll) * f64::from(pinch);
            if factor != 1.0 {
                moved = moved.zoomed_at(at, factor);
            }
        }
        if moved != view {
            self.view = Some(moved);
            self.moved = true;
        }
        response
            .clicked()
            .then(|| response.interact_pointer_pos())
            .flatten()
    }

    /// Whether the photo leaves nothing of the surface free.
    fn covers(&self, rect: Rect) -> bool {
        self.small.is_some()
            && self.view.is_some_and(|view| {
                let [w, h] = view.size.map(f64::from);
                let corners = view.corners([0.0, 0.0, w, h]);
                Rect::from_points(&corners).contains_rect(rect)
            })
    }

    fn paint(&mut self, painter: &egui::Painter) {
        self.waiting_for_tiles = false;
        let (Some(view), Some(small)) = (self.view, &self.small) else {
            return;
        };
        let aids = self.aids;
        let tone = self
            .tone
            .get_or_insert_with(|| Tone::new(aids, Some(small)));
        let under = self.under.get_or_insert_with(|| {
            let whole = tiles::picture(small, [0, 0, small.width(), small.height()], tone);
            painter
                .ctx()
                .load_texture("photo, small", whole, TextureOptions::LINEAR)
        });
        let [w, h] = view.size.map(f64::from);
        let all = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
        let under = tiles::quad(under.id(), view.corners([0.0, 0.0, w, h]), all);
        let beneath = painter.add(egui::Shape::Noop);
        if let Some(pyramid) = &self.pyramid {
            self.waiting_for_tiles = self.tiles.paint(painter, pyramid, &view, tone);
        }
        // Only where tiles are missing is anything to be seen of it.
        if self.pyramid.is_none() || self.waiting_for_tiles {
            painter.set(beneath, under);
        }
        if self.waiting_for_tiles {
            painter.ctx().request_repaint();
        }
    }

    /// What a screen reader says.
    fn words(&self) -> String {
        let Some(view) = self.view else {
            return "No photo on the table".to_owned();
        };
        let [w, h] = view.size;
        let percent = view.points_per_px * 100.0;
        let mut words = if self.pyramid.is_some() {
            format!("Photo, {w} by {h} pixels, shown at {percent:.0} percent")
        } else {
            "First picture of the photo".to_owned()
        };
        if view.turns > 0 {
            words += &format!(", turned by {} degrees", u32::from(view.turns) * 90);
        }
        if let Some(aids) = self.aids.words() {
            words += &format!(", {aids}");
        }
        words
    }

    fn messages(&mut self, ui: &mut Ui, look: &Look, rect: Rect) {
        let at = rect.right_top() + vec2(-14.0, 12.0);
        let width = rect.width() - 28.0;
        if let Some(trouble) = &self.trouble {
            let words = format!("This photo could not be opened. {trouble}");
            parts::plate(ui, look, at, Align2::RIGHT_TOP, &words, width);
            return;
        }
        let Some(loading) = &self.loading else {
            if let Some(words) = self.aids.words() {
                parts::plate(ui, look, at, Align2::RIGHT_TOP, &words, width);
            }
            return;
        };
        let (done, total) = loading.counts();
        let words = format!(
            "Opening {}: step {} of {total}",
            loading.name(),
            (done + 1).min(total)
        );
        let plate = parts::plate(
            ui,
            look,
            at,
            Align2::RIGHT_TOP,
            &words,
            width - look.scaled(80.0),
        );
        let button = Rect::from_min_size(
            pos2(plate.right() - look.scaled(64.0), plate.bottom() + 4.0),
            vec2(look.scaled(64.0), look.scaled(28.0)),
        );
        let stop = egui::Button::new(egui::RichText::new("Stop").font(look.small()));
        if ui.put(button, stop).clicked() {
            self.cancel();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::desk::theme;
    use egui_kittest::Harness;
    use egui_kittest::kittest::Queryable as _;
    use image::Rgb;
    use std::time::{Duration, Instant};

    struct Made(u32, u32, bool);

    impl PhotoSource for Made {
        fn name(&self) -> String {
            "made.png".to_owned()
        }
        fn first(&self) -> Result<RgbImage, String> {
            Ok(RgbImage::new(self.0 / 8, self.1 / 8))
        }
        fn whole(&self) -> Result<RgbImage, String> {
            if self.2 {
                return Err("made.png is cut short. Copy it from the camera again.".to_owned());
            }
            Ok(RgbImage::from_fn(self.0, self.1, |x, y| {
                Rgb([(x % 200) as u8, (y % 200) as u8, 80])
            }))
        }
    }

    struct Table {
        viewer: Viewer,
        clicked: Option<PhotoPoint>,
    }

    fn table(broken: bool) -> Harness<'static, Table> {
        let state = Table {
            viewer: Viewer::default(),
            clicked: None,
        };
        let mut harness = theme::harness()
            .with_size(vec2(730.0, 632.0))
            .with_max_steps(400)
            .build_ui_state(
                |ui, table: &mut Table| {
                    let shown = table.viewer.show(ui, &Look::default());
                    table.clicked = shown.clicked.or(table.clicked);
                },
                state,
            );
        harness.step();
        harness.get_by_label("No photo on the table");
        let ctx = harness.ctx.clone();
        let source = Made(1600, 1200, broken);
        harness.state_mut().viewer.open(&ctx, source).unwrap();
        let end = Instant::now() + Duration::from_secs(30);
        while harness.state().viewer.is_busy() && Instant::now() < end {
            harness.step();
            std::thread::sleep(Duration::from_millis(2));
        }
        harness.step();
        harness
    }

    #[test]
    fn a_photo_is_opened_zoomed_turned_and_clicked() {
        let mut table = table(false);
        table.get_by_label_contains("Photo, 1600 by 1200 pixels");
        let view = table.state().viewer.view().unwrap();
        let wanted = PhotoPoint::new(400.0, 300.0);
        let at = view.point(wanted);
        table.hover_at(at);
        table.event(egui::Event::PointerButton {
            pos: at,
            button: egui::PointerButton::Primary,
            pressed: true,
            modifiers: egui::Modifiers::NONE,
        });
        table.event(egui::Event::PointerButton {
            pos: at,
            button: egui::PointerButton::Primary,
            pressed: false,
            modifiers: egui::Modifiers::NONE,
        });
        table.run_ok();
        let clicked = table.state().clicked.unwrap();
        assert!((clicked - wanted).length() < 0.5, "{clicked:?}");

        table.state_mut().viewer.turn(1);
        table.run_ok();
        table.get_by_label_contains("turned by 90 degrees");
        table.state_mut().viewer.zoom(4.0);
        table.run_ok();
        let zoomed = table.state().viewer.view().unwrap();
        assert!(zoomed.points_per_px > 1.0);
        table.state_mut().viewer.fit();
        table.run_ok();
        assert!(table.state().viewer.view().unwrap().points_per_px < 0.6);
    }

    #[test]
    fn aids_are_said_and_leave_the_photo_alone() {
        let mut table = table(false);
        let before = table.state().viewer.pyramid().unwrap().image().clone();
        let aids = Aids {
            local_contrast: true,
            ..Aids::default()
        };
        table.state_mut().viewer.set_aids(aids.with_stops(1.0));
        table.run_ok();
        table.get_by_label_contains("shown 1.0 stops brighter, local contrast on");
        let after = table.state().viewer.pyramid().unwrap().image().clone();
        assert_eq!(before, after);
    }

    /// A photo whose first picture is there at once, and which is decoded when it is told to be.
    struct Slow(std::sync::Arc<std::sync::atomic::AtomicBool>);

    impl PhotoSource for Slow {
        fn name(&self) -> String {
            "slow.png".to_owned()
        }
        fn first(&self) -> Result<RgbImage, String> {
            Ok(RgbImage::new(200, 150))
        }
        fn whole(&self) -> Result<RgbImage, String> {
            while !self.0.load(std::sync::atomic::Ordering::SeqCst) {
                std::thread::sleep(Duration::from_millis(1));
            }
            Ok(RgbImage::new(1600, 1200))
        }
    }

    fn click(table: &mut Harness<'static, Table>, at: Pos2) {
        table.hover_at(at);
        for pressed in [true, false] {
            table.event(egui::Event::PointerButton {
                pos: at,
                button: egui::PointerButton::Primary,
                pressed,
                modifiers: egui::Modifiers::NONE,
            });
        }
        table.run_steps(3);
    }

    #[test]
    fn no_place_is_taken_before_the_photo_is_there_in_full() {
        let mut table = table(false);
        let told = std::sync::Arc::new(std::sync::atomic::AtomicBool::new(false));
        let ctx = table.ctx.clone();
        let slow = Slow(std::sync::Arc::clone(&told));
        table.state_mut().viewer.open(&ctx, slow).unwrap();
        // Over the photo of before, and over the first picture of the new one.
        click(&mut table, pos2(300.0, 300.0));
        let end = Instant::now() + Duration::from_secs(30);
        while table
            .state()
            .viewer
            .view()
            .is_none_or(|view| view.size != [200, 150])
        {
            assert!(Instant::now() < end, "the first picture never came");
            table.step();
        }
        click(&mut table, pos2(300.0, 300.0));
        assert_eq!(table.state().clicked, None);
        told.store(true, std::sync::atomic::Ordering::SeqCst);
        while !table.state().viewer.is_whole() {
            assert!(Instant::now() < end, "the photo never came");
            table.step();
        }
        table.run_steps(2);
        let wanted = PhotoPoint::new(400.0, 300.0);
        let at = table.state().viewer.view().unwrap().point(wanted);
        click(&mut table, at);
        assert!((table.state().clicked.unwrap() - wanted).length() < 1.0);
    }

    #[test]
    fn the_photo_of_before_does_not_pass_for_one_that_cannot_be_opened() {
        for stop in [false, true] {
            let mut table = table(false);
            let ctx = table.ctx.clone();
            let broken = Made(1600, 1200, true);
            table.state_mut().viewer.open(&ctx, broken).unwrap();
            if stop {
                table.state_mut().viewer.cancel();
            }
            let end = Instant::now() + Duration::from_secs(30);
            while table.state().viewer.is_opening() && Instant::now() < end {
                table.step();
            }
            table.run_steps(2);
            assert!(table.state().viewer.trouble().is_some());
            assert!(table.state().viewer.pyramid().is_none(), "stopped: {stop}");
            assert!(!table.state().viewer.is_whole());
        }
    }

    #[test]
    fn a_photo_that_cannot_be_opened_says_why() {
        let table = table(true);
        let trouble = table.state().viewer.trouble().unwrap();
        assert!(trouble.contains("Copy it from the camera again"));
        assert!(!table.state().viewer.is_busy());
    }
}
