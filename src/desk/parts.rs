//! Small parts that several places use: key hints, the band pill, sentences, signs.

use eframe::egui::text::{LayoutJob, TextFormat};
use eframe::egui::{
    self, Align2, Color32, Rect, Response, Role, Sense, Stroke, StrokeKind, Ui, WidgetInfo, vec2,
};

use super::keys::{Entry, key_name};
use super::marker::{self, On, State};
use super::theme::Look;

/// How a piece of a sentence is said.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Weight {
    /// As it is.
    Plain,
    /// The numbers that carry it.
    Strong,
    /// Aside.
    Dim,
}

/// A sentence, wrapped to the width there is: `[("A dark arc runs ", Plain), ("253°", Strong)]`.
pub fn sentence(ui: &mut Ui, look: &Look, pieces: &[(&str, Weight)]) -> Response {
    let mut job = LayoutJob::default();
    for (text, weight) in pieces {
        let (font, color) = match weight {
            Weight::Plain => (look.body(), look.palette.ink),
            Weight::Strong => (look.strong(), look.palette.ink),
            Weight::Dim => (look.body(), look.palette.dim),
        };
        job.append(text, 0.0, TextFormat::simple(font, color));
    }
    ui.add(egui::Label::new(job).wrap())
}

/// A caption in small dim text, wrapped.
pub fn caption(ui: &mut Ui, look: &Look, text: &str) -> Response {
    let text = egui::RichText::new(text)
        .font(look.small())
        .color(look.palette.dim);
    ui.add(egui::Label::new(text).wrap())
}

/// The one title of a place, with what it is beside it; both wrap.
pub fn title(ui: &mut Ui, look: &Look, title: &str, what: &str) -> Response {
    let mut job = LayoutJob::default();
    job.append(
        title,
        0.0,
        TextFormat::simple(look.title(), look.palette.ink),
    );
    if !what.is_empty() {
        let mut format = TextFormat::simple(look.strong(), look.palette.dim);
        format.valign = egui::Align::BOTTOM;
        job.append(what, 8.0, format);
    }
    ui.add(egui::Label::new(job).wrap())
}

/// A key and what it does; pressing it with the pointer does the same. `true` when pressed.
pub fn key_hint(ui: &mut Ui, look: &Look, entry: &Entry, enabled: bool) -> bool {
    key_hint_with(ui, look, entry, enabled, entry.tooltip)
}

/// The same where what it does depends on what is there: `tooltip` says it.
pub fn key_hint_with(
    ui: &mut Ui,
    look: &Look,
    entry: &Entry,
    enabled: bool,
    tooltip: &str,
) -> bool {
    let key = key_name(&entry.key);
    let ink = if enabled {
        look.palette.ink
    } else {
        look.palette.dim
    };
    let cap = ui.painter().layout_no_wrap(key, look.small_strong(), ink);
    let words = ui
        .painter()
        .layout_no_wrap(entry.label.to_owned(), look.small(), ink);
    let cap_size = vec2(
        (cap.size().x + 12.0).max(cap.size().y + 6.0),
        cap.size().y + 6.0,
    );
    let size = vec2(cap_size.x + 7.0 + words.size().x, cap_size.y + 2.0);
    let sense = if enabled {
        Sense::click()
    } else {
        Sense::hover()
    };
    let (rect, response) = ui.allocate_exact_size(size, sense);
    response.widget_info(|| WidgetInfo::labeled(Role::Button, enabled, entry.label));
    if ui.is_rect_visible(rect) {
        let cap_rect = Rect::from_min_size(rect.min + vec2(0.0, 1.0), cap_size);
        key_cap(
            ui,
            look,
            cap_rect,
            response.hovered() || response.has_focus(),
        );
        let at = cap_rect.center() - cap.size() / 2.0;
        ui.painter().galley(at, cap, ink);
        let at = egui::pos2(
            cap_rect.right() + 7.0,
            cap_rect.center().y - words.size().y / 2.0,
        );
        ui.painter().galley(at, words, ink);
    }
    response.on_hover_text(tooltip).clicked()
}

fn key_cap(ui: &Ui, look: &Look, rect: Rect, hot: bool) {
    let palette = &look.palette;
    let (fill, line) = if hot {
        (palette.tile_hot, palette.ink)
    } else {
        (palette.ground, palette.outline)
    };
    // The thicker lower edge is what says "key": a second plate, shifted down.
    ui.painter()
        .rect_filled(rect.translate(vec2(0.0, 1.5)), 4.0, palette.outline);
    ui.painter()
        .rect(rect, 4.0, fill, Stroke::new(1.0, line), StrokeKind::Inside);
}

/// What a hint came to, as a pill. The band is words first; its shape and colour second.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Band {
    /// The strongest readings of the photo.
    LookHereFirst,
    /// In between.
    CannotTell,
    /// No dark line was seen: which clears nothing.
    NoLineSeen,
    /// The photo cannot carry a reading.
    NoReading,
    /// Hidden until judged, to keep count of what the eye finds alone.
    Hidden,
}

impl Band {
    /// Its words.
    #[must_use]
    pub fn label(self) -> &'static str {
        match self {
            Self::LookHereFirst => "look here first",
            Self::CannotTell => "cannot tell",
            Self::NoLineSeen => "no line seen",
            Self::NoReading => "no reading",
            Self::Hidden => "hint hidden until you judge",
        }
    }

    fn colour(self, look: &Look) -> Color32 {
        match self {
            Self::LookHereFirst => look.palette.words(State::Suspect),
            _ => look.palette.dim,
        }
    }
}

/// Draws the pill of a band.
pub fn band_pill(ui: &mut Ui, look: &Look, band: Band) -> Response {
    let colour = band.colour(look);
    let text = ui
        .painter()
        .layout_no_wrap(band.label().to_owned(), look.strong(), colour);
    let size = text.size() + vec2(22.0, 8.0);
    let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, band.label()));
    ui.painter()
        .rect_stroke(rect, 3.0, Stroke::new(1.0, colour), StrokeKind::Inside);
    ui.painter()
        .galley(rect.center() - text.size() / 2.0, text, colour);
    response
}

/// A state's marker with its words beside it, for legends and headings.
pub fn state_words(ui: &mut Ui, look: &Look, state: State) -> Response {
    state_said(ui, look, state, state.label())
}

/// The same in words that say more than the state's own.
pub fn state_said(ui: &mut Ui, look: &Look, state: State, words: &str) -> Response {
    let colour = look.palette.words(state);
    let radius = look.scaled(6.0);
    let room = (ui.available_width() - radius * 2.0 - 8.0).max(look.scaled(60.0));
    let text = ui
        .painter()
        .layout(words.to_owned(), look.small(), colour, room);
    let size = vec2(
        radius * 2.0 + 8.0 + text.size().x,
        text.size().y.max(radius * 2.4),
    );
    let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, words));
    let centre = egui::pos2(rect.left() + radius, rect.center().y);
    ui.painter().extend(marker::shapes(
        state,
        centre,
        radius,
        On::Pane,
        &look.palette,
    ));
    let at = egui::pos2(
        rect.left() + radius * 2.0 + 8.0,
        rect.center().y - text.size().y / 2.0,
    );
    ui.painter().galley(at, text, colour);
    response
}

/// Text on a photograph: on a plate of its own, so that it reads on any board.
pub fn plate(ui: &Ui, look: &Look, at: egui::Pos2, anchor: Align2, text: &str, width: f32) -> Rect {
    let galley = ui.painter().layout(
        text.to_owned(),
        look.small(),
        look.palette.ink,
        (width - 20.0).max(60.0),
    );
    let rect = anchor.anchor_size(at, galley.size() + vec2(20.0, 12.0));
    ui.painter().rect_filled(rect, 4.0, look.palette.ground);
    ui.painter()
        .galley(rect.min + vec2(10.0, 6.0), galley, look.palette.ink);
    rect
}

/// A button that looks pressable in both themes; `main` for the one thing to do next.
pub fn button(ui: &mut Ui, look: &Look, label: &str, main: bool) -> Response {
    ui.add(pressable(look, label, main))
}

/// The same, pressable only where there is something to press it for. It goes on in the next row
/// where this one has no room for it.
pub fn button_if(ui: &mut Ui, look: &Look, label: &str, enabled: bool) -> Response {
    ui.add_enabled(enabled, pressable(look, label, false))
}

fn pressable<'a>(look: &Look, label: &str, main: bool) -> egui::Button<'a> {
    let font = if main { look.strong() } else { look.body() };
    let (ink, fill) = if main {
        (look.palette.ground, look.palette.ink)
    } else {
        (look.palette.ink, look.palette.tile)
    };
    egui::Button::new(egui::RichText::new(label).font(font).color(ink))
        .fill(fill)
        .min_size(vec2(0.0, look.scaled(34.0)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::desk::keys::{Command, entry_of};
    use crate::desk::theme;
    use egui_kittest::kittest::Queryable as _;

    #[test]
    fn hints_are_buttons_by_name_and_report_a_press_only_when_enabled() {
        for enabled in [true, false] {
            let mut presses = theme::harness().build_ui_state(
                move |ui, presses: &mut u32| {
                    let look = Look::default();
                    if key_hint(ui, &look, entry_of(Command::Suspect), enabled) {
                        *presses += 1;
                    }
                    band_pill(ui, &look, Band::LookHereFirst);
                },
                0,
            );
            presses.run();
            presses.get_by_label("look here first");
            presses.get_by_label("suspect").click();
            presses.run();
            assert_eq!(*presses.state(), u32::from(enabled));
        }
    }

    #[test]
    fn no_band_says_that_a_joint_is_fine() {
        for band in [
            Band::LookHereFirst,
            Band::CannotTell,
            Band::NoLineSeen,
            Band::NoReading,
            Band::Hidden,
        ] {
            for word in ["ok", "good", "sound", "safe", "pass"] {
                assert!(!band.label().split(' ').any(|w| w == word));
            }
        }
    }
}
