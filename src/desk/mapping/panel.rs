//! The page: the photo with the map over it, and beside it what to click next, the tools, what
//! is chosen, what the linter says, and the button that keeps the map.

use eframe::egui::{
    self, Align2, CentralPanel, Frame, Key, Margin, Panel, RichText, ScrollArea, TextEdit, Ui, vec2,
};

use super::making::{Making, PITCH_FIELD, Shown};
use super::overlay;
use super::scale::ScaleBy;
use super::tools::{KINDS, Tool};
use super::{MapAsk, detail, measure};
use crate::board::draft::{Edit, PITCHES};
use crate::board::{FindingSeverity, PartKind, Side};
use crate::desk::app::Desk;
use crate::desk::ask::Ask;
use crate::desk::keys::key_name;
use crate::desk::marker::State;
use crate::desk::parts;
use crate::desk::theme::Look;
use crate::desk::typed::number;

/// Width of the panel at 100 % text, points: the photo gets the rest.
const PANEL_W: f32 = 392.0;
/// Findings that are listed; the rest are counted.
const MOST_FINDINGS: usize = 30;

/// Draws the page.
pub(in crate::desk) fn show(desk: &mut Desk, ui: &mut Ui, look: &Look, asks: &mut Vec<Ask>) {
    let width = look.scaled(PANEL_W).min(ui.available_width() * 0.5);
    if let Some(making) = desk
        .model
        .bench
        .as_mut()
        .and_then(|bench| bench.making.as_mut())
    {
        Panel::right("map")
            .resizable(false)
            .exact_size(width)
            .frame(
                Frame::new()
                    .fill(look.palette.pane)
                    .inner_margin(Margin::symmetric(14, 10)),
            )
            .show(ui, |ui| side(ui, look, making, asks));
    }
    CentralPanel::default()
        .frame(Frame::new().fill(look.palette.well))
        .show(ui, |ui| table(desk, ui, look, asks));
}

/// The photo with the map over it.
fn table(desk: &mut Desk, ui: &mut Ui, look: &Look, asks: &mut Vec<Ask>) {
    let go_to = desk
        .model
        .bench
        .as_mut()
        .and_then(|bench| bench.making.as_mut())
        .and_then(|making| making.go_to.take());
    if let Some(at) = go_to {
        desk.viewer.set_view(|view| view.centred_on(at));
    }
    let shown = desk.viewer.show(ui, look);
    let Some(bench) = &desk.model.bench else {
        return;
    };
    let Some(making) = &bench.making else { return };
    let painter = ui.painter_at(shown.response.rect);
    // Until the photo is there in full, what lies on the table is its first picture or another photo.
    let is_there = desk.viewer.is_whole();
    if let Some(view) = shown.view.as_ref().filter(|_| is_there) {
        let reach = 10.0 / view.points_per_px;
        let preview = shown.pointer.map_or_else(Shown::default, |at| {
            // The middle of what is there is looked for at the click alone: here every frame
            // counts, and found joints are enough to show where pins would fall.
            making.preview(making.meant(at, reach, None))
        });
        overlay::paint(&painter, look, view, making, &preview);
    }
    if let Some(at) = shown.clicked {
        let shift = ui.input(|input| input.modifiers.shift);
        asks.push(Ask::MapClick(at, shift));
    }
    let rect = shown.response.rect;
    parts::plate(
        ui,
        look,
        rect.left_bottom() + vec2(14.0, -12.0),
        Align2::LEFT_BOTTOM,
        making.next(),
        rect.width() - 28.0,
    );
}

fn side(ui: &mut Ui, look: &Look, making: &mut Making, asks: &mut Vec<Ask>) {
    // What ends the work stays in sight; the rest scrolls.
    Panel::bottom("keep")
        .resizable(false)
        .frame(Frame::new().inner_margin(Margin::symmetric(0, 6)))
        .show(ui, |ui| keep(ui, look, making, asks));
    ScrollArea::vertical()
        .auto_shrink([false, false])
        .show(ui, |ui| {
            parts::title(ui, look, "Make a map", &tally(making));
            ui.add_space(2.0);
            ui.label(RichText::new(making.next()).font(look.strong()));
            ui.add_space(4.0);
            tools(ui, look, making, asks);
            ui.add_space(4.0);
            if making.tool == Tool::Scale {
                scale(ui, look, making, asks);
            } else {
                options(ui, look, making, asks);
            }
            found(ui, look, making, asks);
            history(ui, look, making, asks);
            detail::chosen(ui, look, making, asks);
            findings(ui, look, making, asks);
            detail::board(ui, look, making, asks);
            measure::show(ui, look, making, asks);
        });
}

fn tally(making: &Making) -> String {
    let parts = making.map().parts.len();
    let pins: usize = making.map().parts.iter().map(|part| part.pins.len()).sum();
    match (parts, pins) {
        (0, _) => String::new(),
        (1, _) => format!("1 part, {pins} joints"),
        _ => format!("{parts} parts, {pins} joints"),
    }
}

fn tools(ui: &mut Ui, look: &Look, making: &Making, asks: &mut Vec<Ask>) {
    let ready = making.draft.frame().is_some();
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing = vec2(4.0, 3.0);
        for tool in Tool::ALL {
            let enabled = ready || tool == Tool::Scale;
            let words = format!("{}  {}", tool.key().name(), tool.label());
            let text = RichText::new(words).font(look.small());
            let button = egui::Button::new(text).selected(making.tool == tool);
            let response = ui.add_enabled(enabled, button);
            response.widget_info(|| {
                egui::WidgetInfo::labeled(egui::Role::Button, enabled, tool.label())
            });
            if response.on_hover_text(tool.tooltip()).clicked() {
                asks.push(Ask::Map(MapAsk::Tool(tool)));
            }
        }
    });
}

/// Where the scale comes from.
fn scale(ui: &mut Ui, look: &Look, making: &mut Making, asks: &mut Vec<Ask>) {
    ui.horizontal_wrapped(|ui| {
        ui.label("Photo of the");
        for (side, label) in [
            (Side::Solder, "solder side"),
            (Side::Component, "component side"),
        ] {
            if pick(ui, look, making.side == side, label) {
                asks.push(Ask::Map(MapAsk::Side(side)));
            }
        }
    });
    ui.horizontal_wrapped(|ui| {
        ui.label("Known are");
        for by in ScaleBy::ALL {
            if pick(ui, look, making.by == by, by.label()) {
                asks.push(Ask::Map(MapAsk::Scale(by)));
            }
        }
    });
    let full = making.tool.clicks(making.by);
    if making.by == ScaleBy::Pins {
        pitch(ui, look, making);
    }
    let names: &[&str] = match making.by {
        ScaleBy::Pins => &["Pins in that row"],
        ScaleBy::Length => &["Length, mm"],
        ScaleBy::Board | ScaleBy::Rectangle => {
            &["First to second corner, mm", "Second to third, mm"]
        }
    };
    let mut entered = false;
    let mut blank: Option<(usize, egui::Response)> = None;
    for (i, (name, text)) in names.iter().zip(&mut making.lengths).enumerate() {
        let edit = text_field(ui, look, name, text, 90.0);
        entered |= left_by_enter(ui, &edit);
        if text.trim().is_empty() {
            blank = blank.or(Some((i, edit)));
        }
    }
    let clicked = making.clicks.len() >= full;
    let ready = clicked && blank.is_none();
    // Hands go to the keys once the last place is clicked. The number of pins is typed without
    // a field, for it may be counted; a length has decimals and needs one.
    if !clicked {
        making.keys_in = None;
    } else if let Some((i, edit)) = blank
        && making.by != ScaleBy::Pins
        && (entered || making.keys_in.is_none())
    {
        making.keys_in = Some(i);
        edit.request_focus();
    }
    ui.horizontal_wrapped(|ui| {
        let button = ui
            .add_enabled_ui(ready, |ui| parts::button(ui, look, "Set the scale", true))
            .inner;
        if button.clicked() || (entered && ready) {
            asks.push(Ask::Map(MapAsk::Enter));
        }
        let row = making.rows.iter().map(Vec::len).max().unwrap_or(0);
        if row >= 3 {
            let words = format!("Use a found row of {row}");
            let tip = "Its pins are taken to stand at the pitch that is set above.";
            if parts::button(ui, look, &words, false)
                .on_hover_text(tip)
                .clicked()
            {
                asks.push(Ask::Map(MapAsk::FoundScale));
            }
        }
    });
}

/// One of several, in small text; whether it was pressed.
pub(super) fn pick(ui: &mut Ui, look: &Look, on: bool, label: &str) -> bool {
    let text = RichText::new(label).font(look.small());
    ui.selectable_label(on, text).clicked()
}

/// Pitches from this to that are believed, mm.
const PITCH_MM: std::ops::RangeInclusive<f64> = 0.3..=50.0;

/// The usual pitches, and a field for another one.
fn pitch(ui: &mut Ui, look: &Look, making: &mut Making) {
    let mut text = making
        .fields
        .get(PITCH_FIELD)
        .cloned()
        .unwrap_or_else(|| making.pitch_mm.to_string());
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = look.scaled(2.0);
        field(ui, look, "Pitch, mm", &mut text, 51.0);
        for pitch in [PITCHES[0], 2.0, PITCHES[1], 3.96, 5.08] {
            let on = (making.pitch_mm - pitch).abs() < 1e-9;
            let words = RichText::new(pitch.to_string()).font(look.small());
            let response = ui.selectable_label(on, words);
            response.widget_info(|| {
                let label = format!("{pitch} mm");
                egui::WidgetInfo::selected(egui::Role::Button, true, on, label)
            });
            if response.clicked() {
                text = pitch.to_string();
            }
        }
    });
    if let Some(typed) = number(&text).filter(|mm| PITCH_MM.contains(mm)) {
        making.pitch_mm = typed;
    }
    making.fields.insert(PITCH_FIELD.to_owned(), text);
}

/// How many pins, how large, of what kind.
fn options(ui: &mut Ui, look: &Look, making: &mut Making, asks: &mut Vec<Ask>) {
    if !making.tool.makes() {
        return;
    }
    if making.tool.counts() {
        let mut count = making.count.clone();
        let entered = field(
            ui,
            look,
            match (making.tool, making.clicks.len()) {
                (Tool::Grid, 0 | 1) => "Columns (blank: counted by the pitch)",
                (Tool::Grid, _) => "Rows (blank: counted by the pitch)",
                _ => "Pins (blank: counted by the pitch)",
            },
            &mut count,
            60.0,
        );
        if count != making.count {
            asks.push(Ask::Map(MapAsk::Count(count)));
        }
        if entered {
            asks.push(Ask::Map(MapAsk::Enter));
        }
        pitch(ui, look, making);
    }
    ui.horizontal_wrapped(|ui| {
        field(ui, look, "Land, mm", &mut making.land, 52.0);
        field(ui, look, "Hole, mm", &mut making.hole, 52.0);
    });
    let kind = making.kind.unwrap_or_else(|| making.tool.kind());
    if making.chosen.is_empty() || !making.clicks.is_empty() {
        kinds(ui, look, "The next one is a", kind, asks);
    }
}

/// Kinds as a list that drops down; each has a key too.
pub(super) fn kinds(ui: &mut Ui, look: &Look, label: &str, now: PartKind, asks: &mut Vec<Ask>) {
    ui.horizontal_wrapped(|ui| {
        let name = ui.label(label);
        let combo = egui::ComboBox::from_id_salt(label)
            .selected_text(now.words())
            .width(look.scaled(150.0))
            .height(look.scaled(420.0))
            .show_ui(ui, |ui| {
                for (kind, key) in KINDS {
                    let words = format!("{}   (Shift {})", kind.words(), key.name());
                    if ui.selectable_label(kind == now, words).clicked() {
                        asks.push(Ask::Map(MapAsk::Kind(kind)));
                    }
                }
            });
        combo.response.labelled_by(name.id);
    });
}

/// A field with its name; whether Enter was pressed in it.
pub(super) fn field(ui: &mut Ui, look: &Look, label: &str, text: &mut String, width: f32) -> bool {
    let edit = text_field(ui, look, label, text, width);
    left_by_enter(ui, &edit)
}

fn left_by_enter(ui: &Ui, edit: &egui::Response) -> bool {
    edit.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter))
}

fn text_field(
    ui: &mut Ui,
    look: &Look,
    label: &str,
    text: &mut String,
    width: f32,
) -> egui::Response {
    ui.horizontal(|ui| {
        let name = ui.label(label);
        ui.add(TextEdit::singleline(text).desired_width(look.scaled(width)))
            .labelled_by(name.id)
    })
    .inner
}

/// What was found on the photo, and what to do with it.
fn found(ui: &mut Ui, look: &Look, making: &Making, asks: &mut Vec<Ask>) {
    ui.horizontal_wrapped(|ui| {
        if making.found.is_empty() {
            if small(ui, "F", "find joints", "Look for joints on the photo.") {
                asks.push(Ask::Map(MapAsk::Find));
            }
        } else if making.draft.frame().is_some() {
            let words = format!("take over {} found joints", making.found.len());
            let tip = "Found joints become parts: two facing rows a package, a row one part, each other joint one of its own. Tools take them over.";
            if small(ui, "U", &words, tip) {
                asks.push(Ask::Map(MapAsk::Accept));
            }
        }
        if making.map().parts.len() > 2 {
            let words = format!("onto the {} mm grid", making.pitch_mm);
            let tip = "Where most pins stand on a grid, put them onto it; this takes a wrong scale and the camera's tilt out as well.";
            if small(ui, "K", &words, tip) {
                asks.push(Ask::Map(MapAsk::Grid(making.pitch_mm)));
            }
        }
    });
    if !making.said.is_empty() {
        parts::caption(ui, look, making.said.trim());
    }
}

pub(super) fn small(ui: &mut Ui, key: &str, words: &str, tip: &str) -> bool {
    let text = if key.is_empty() {
        words.to_owned()
    } else {
        format!("{key}  {words}")
    };
    let response = ui.button(RichText::new(text).small());
    response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, true, words));
    response.on_hover_text(tip).clicked()
}

/// Undo and redo, in words.
fn history(ui: &mut Ui, look: &Look, making: &Making, asks: &mut Vec<Ask>) {
    ui.horizontal_wrapped(|ui| {
        let ctrl = |key, shift: bool| {
            let mut modifiers = egui::Modifiers::COMMAND;
            modifiers.shift = shift;
            key_name(&egui::KeyboardShortcut::new(modifiers, key))
        };
        let undo = making
            .draft
            .undoable()
            .map(|words| (words, "Undo", MapAsk::Undo, ctrl(Key::Z, false)));
        let redo = making
            .draft
            .redoable()
            .map(|words| (words, "Redo", MapAsk::Redo, ctrl(Key::Z, true)));
        for (words, lead, ask, key) in undo.into_iter().chain(redo) {
            let label = format!("{lead}: {words}");
            let button = egui::Button::new(RichText::new(&label).font(look.small())).truncate();
            let response = ui.add(button);
            response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, true, &label));
            if response.on_hover_text(key).clicked() {
                asks.push(Ask::Map(ask));
            }
        }
    });
}

/// What the linter says; a click goes there.
fn findings(ui: &mut Ui, look: &Look, making: &Making, asks: &mut Vec<Ask>) {
    // An empty map is no mistake: it is only being begun. Landmarks are chosen at the end.
    if making.map().parts.is_empty() {
        return;
    }
    let listed: Vec<_> = making
        .findings
        .iter()
        .enumerate()
        .filter(|(_, finding)| finding.place != "landmarks")
        .collect();
    if listed.is_empty() {
        return;
    }
    ui.add_space(6.0);
    ui.label(RichText::new("To mend").font(look.strong()));
    for (index, finding) in listed.iter().take(MOST_FINDINGS) {
        let state = match finding.severity {
            FindingSeverity::Error => State::Faulty,
            FindingSeverity::Warning => State::Suspect,
        };
        let place = crate::paper::shown(&finding.place);
        let text = format!("{} {place}: {}", finding.severity, finding.reason);
        let label = RichText::new(text)
            .font(look.small())
            .color(look.palette.words(state));
        let response = ui.add(egui::Button::new(label).wrap().frame(false));
        if response
            .on_hover_text(format!("{}.", finding.remedy))
            .clicked()
        {
            asks.push(Ask::Map(MapAsk::Jump(*index)));
        }
    }
    if listed.len() > MOST_FINDINGS {
        let more = listed.len() - MOST_FINDINGS;
        parts::caption(ui, look, &format!("and {more} more"));
    }
}

fn keep(ui: &mut Ui, look: &Look, making: &Making, asks: &mut Vec<Ask>) {
    let ready = !making.map().parts.is_empty();
    ui.horizontal_wrapped(|ui| {
        let tip = "Writes the map, adopts it in this job and lays this photo on it. The edge and landmarks that nobody drew are chosen for you.";
        let button = ui
            .add_enabled_ui(ready, |ui| parts::button(ui, look, "Keep this map", true))
            .inner;
        if button.on_hover_text(tip).clicked() {
            asks.push(Ask::Map(MapAsk::Keep));
        }
        if parts::button(ui, look, "Back to the table", false).clicked() {
            asks.push(Ask::Page(crate::desk::model::Page::Table));
        }
    });
    if !ready {
        parts::caption(
            ui,
            look,
            "A map can be kept once it has a part. What you do is written down as you go.",
        );
    }
}

/// The chosen part's edit, asked for.
pub(super) fn ask(edit: Edit) -> Ask {
    Ask::Map(MapAsk::Edit(Box::new(edit)))
}
