//! Pages, sizes and viewing aids.

use eframe::egui::Context;

use crate::desk::aids::Aids;
use crate::desk::app::Desk;
use crate::desk::keys::Command;
use crate::desk::model::{Bench, Page, Pending};
use crate::desk::theme::Look;
use crate::desk::viewer::ZOOM_STEP;

/// Exposure step of one key press, stops: the least that is seen at once (common practice, no
/// source).
const STOPS_STEP: f32 = 0.5;
/// Text step of one key press.
const TEXT_STEP: f32 = 0.1;
impl Desk {
    pub(super) fn look_command(&mut self, ctx: &Context, command: Command) {
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
            C::LocalContrast => self.viewer.set_aids(Aids {
                local_contrast: !aids.local_contrast,
                ..aids
            }),
            C::DarkLines => self.toggle_dark_lines(),
            C::Arc => self.glass.hide_arc = !self.glass.hide_arc,
            C::Twin => self.with_bench(|bench| bench.twins.step()),
            C::LargerText => self.restyle(ctx, self.model.look.dark, TEXT_STEP),
            C::SmallerText => self.restyle(ctx, self.model.look.dark, -TEXT_STEP),
            C::LightOrDark => self.restyle(ctx, !self.model.look.dark, 0.0),
            _ => {}
        }
    }

    pub(super) fn restyle(&mut self, ctx: &Context, dark: bool, step: f32) {
        let scale = ((self.model.look.text_scale + step) * 10.0).round() / 10.0;
        self.model.look = Look::new(dark, scale);
        self.model.look.apply(ctx);
    }

    pub(super) fn back(&mut self, ctx: &Context) {
        if self.model.chooser.take().is_some() {
            return;
        }
        if self.model.pending != Pending::Nothing {
            self.model.pending = Pending::Nothing;
            return;
        }
        self.model.importing = None;
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
    pub(in crate::desk) fn turn_to(&mut self, ctx: &Context, page: Page) {
        // A key that is pressed again on its own page leads back to the table.
        let page = if page == self.model.page && self.model.bench.is_some() {
            Page::Table
        } else {
            page
        };
        if matches!(page, Page::Gate | Page::Slip) {
            // Neither is shown of a record that is behind what lies in the folder.
            self.take_in(ctx);
        }
        self.model.page = page;
        self.put_words_away();
        match page {
            // How controls stand is said anew each time: nobody saw them stay.
            Page::Measure => self.with_bench(|bench| bench.stands.clear()),
            Page::Align => self.with_bench(Bench::begin_draft),
            Page::Map => self.begin_map(ctx),
            Page::Slip => self.compute_slip(ctx),
            Page::NewJob if self.model.new_job.folder.is_empty() => {
                self.model.new_job.folder = self.jobs_folder().display().to_string();
            }
            _ => {}
        }
    }
}
