//! What a first-time user sees: one invitation, and the jobs of before.

use eframe::egui::{self, Align2, Rect, Role, Sense, Stroke, Ui, WidgetInfo, pos2, vec2};

use super::parts;
use super::theme::Look;

/// Width of the column that holds everything; longer lines tire the eye.
const COLUMN: f32 = 560.0;
/// Jobs of before that are listed.
const RECENT: usize = 5;

/// A job of before.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RecentJob {
    /// The unit, such as `FH12-0242`.
    pub unit: String,
    /// Where it stands, such as `128 of 214 looked at, 2 reasons before power`.
    pub standing: String,
    /// Its folder, as shown to people.
    pub folder: String,
}

/// What was pressed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Start {
    /// Choose photos.
    AddPhotos,
    /// Open the tour.
    Tour,
    /// Open a job's folder.
    OpenJob,
    /// Fill in the form of a new job.
    NewJob,
    /// Open a job of before, by its place in the list.
    Recent(usize),
}

/// Draws the start. `dropping` while files hang over the window.
pub fn show(ui: &mut Ui, look: &Look, recent: &[RecentJob], dropping: bool) -> Option<Start> {
    let mut pressed = None;
    egui::ScrollArea::vertical()
        .auto_shrink([false, false])
        .show(ui, |ui| {
            let width = look.scaled(COLUMN).min(ui.available_width() - 32.0);
            let side = ((ui.available_width() - width) / 2.0).max(0.0);
            ui.add_space((ui.available_height() * 0.12).min(96.0));
            ui.horizontal(|ui| {
                ui.add_space(side);
                ui.vertical(|ui| {
                    ui.set_width(width);
                    pressed = column(ui, look, recent, dropping);
                });
            });
        });
    pressed
}

fn column(ui: &mut Ui, look: &Look, recent: &[RecentJob], dropping: bool) -> Option<Start> {
    let mut pressed = None;
    parts::title(ui, look, "What is on the bench?", "");
    ui.add_space(10.0);
    if invitation(ui, look, dropping) {
        pressed = Some(Start::AddPhotos);
    }
    ui.add_space(12.0);
    ui.horizontal_wrapped(|ui| {
        if parts::button(ui, look, "Open the tour", false).clicked() {
            pressed = Some(Start::Tour);
        }
        if parts::button(ui, look, "Start a job", false).clicked() {
            pressed = Some(Start::NewJob);
        }
        if parts::button(ui, look, "Open a job", false).clicked() {
            pressed = Some(Start::OpenJob);
        }
    });
    parts::caption(
        ui,
        look,
        "The tour is an invented board with known faults: nothing is at stake. Its job takes about a minute to make.",
    );
    if !recent.is_empty() {
        ui.add_space(18.0);
        parts::sentence(ui, look, &[("Jobs of before", parts::Weight::Strong)]);
        for (i, job) in recent.iter().take(RECENT).enumerate() {
            if recent_row(ui, look, job) {
                pressed = Some(Start::Recent(i));
            }
        }
    }
    ui.add_space(18.0);
    parts::caption(
        ui,
        look,
        "Unplug it and measure stored charge before you touch or photograph it. \
         Your photos are copied into the job and never altered.",
    );
    ui.add_space(16.0);
    pressed
}

/// The place to drop photos, which is a button too.
fn invitation(ui: &mut Ui, look: &Look, dropping: bool) -> bool {
    let palette = &look.palette;
    let width = ui.available_width();
    let inner = width - 48.0;
    let layout =
        |text: &str, font, colour| ui.painter().layout(text.to_owned(), font, colour, inner);
    let lead = if dropping {
        "Let go: they start a new job"
    } else {
        "Drop photos of the board here"
    };
    let lead = layout(lead, look.title(), palette.ink);
    let more = layout(
        "or press to choose them. No map is needed: click the joints that you want to judge, \
         and the hint speaks of each at once.",
        look.body(),
        palette.dim,
    );
    let height = lead.size().y + more.size().y + 76.0;
    let (rect, response) = ui.allocate_exact_size(vec2(width, height), Sense::click());
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, "Drop or choose photos"));
    let hot = dropping || response.hovered() || response.has_focus();
    let (fill, line) = if hot {
        (palette.tile, palette.ink)
    } else {
        (palette.pane, palette.outline)
    };
    ui.painter().rect_filled(rect, 6.0, fill);
    dashed_box(ui, rect.shrink(1.0), Stroke::new(1.5, line));
    let top = pos2(rect.left() + 24.0, rect.top() + 34.0);
    ui.painter().galley(top, lead.clone(), palette.ink);
    let below = top + vec2(0.0, lead.size().y + 8.0);
    ui.painter().galley(below, more, palette.dim);
    response.clicked()
}

fn dashed_box(ui: &Ui, rect: Rect, stroke: Stroke) {
    let path = [
        rect.left_top(),
        rect.right_top(),
        rect.right_bottom(),
        rect.left_bottom(),
        rect.left_top(),
    ];
    ui.painter()
        .extend(egui::Shape::dashed_line(&path, stroke, 7.0, 5.0));
}

fn recent_row(ui: &mut Ui, look: &Look, job: &RecentJob) -> bool {
    let palette = &look.palette;
    let width = ui.available_width();
    let unit = ui
        .painter()
        .layout(job.unit.clone(), look.strong(), palette.ink, width - 20.0);
    let rest = format!("{}  ·  {}", job.standing, job.folder);
    let rest = ui
        .painter()
        .layout(rest, look.small(), palette.dim, width - 20.0);
    let size = vec2(width, unit.size().y + rest.size().y + 14.0);
    let (rect, response) = ui.allocate_exact_size(size, Sense::click());
    let words = format!("{}, {}", job.unit, job.standing);
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, words.as_str()));
    let hot = response.hovered() || response.has_focus();
    let fill = if hot { palette.tile } else { palette.pane };
    ui.painter().rect_filled(rect, 3.0, fill);
    let at = Align2::LEFT_TOP.anchor_size(rect.min + vec2(10.0, 6.0), unit.size());
    let below = at.left_bottom() + vec2(0.0, 2.0);
    ui.painter().galley(at.min, unit, palette.ink);
    ui.painter().galley(below, rest, palette.dim);
    response.clicked()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::desk::theme;
    use egui_kittest::kittest::Queryable as _;

    #[test]
    fn every_way_to_begin_is_found_by_name() {
        let recent = vec![RecentJob {
            unit: "FH12-0242".to_owned(),
            standing: "128 of 214 looked at".to_owned(),
            folder: "bench/fh12-0242".to_owned(),
        }];
        let mut start = theme::harness().build_ui_state(
            move |ui, pressed: &mut Vec<Start>| {
                pressed.extend(show(ui, &Look::default(), &recent, false));
            },
            Vec::new(),
        );
        for label in [
            "Drop or choose photos",
            "Open the tour",
            "Open a job",
            "FH12-0242, 128 of 214 looked at",
        ] {
            start.run();
            start.get_by_label(label).click();
        }
        start.run();
        assert_eq!(
            *start.state(),
            [
                Start::AddPhotos,
                Start::Tour,
                Start::OpenJob,
                Start::Recent(0)
            ]
        );
    }
}
