//! What is chosen, and the board itself: names, kinds, weak spots, edge and landmarks.

use eframe::egui::{RichText, Ui};

use super::MapAsk;
use super::making::Making;
use super::panel::{ask, field, kinds, small};
use super::tools::Tool;
use crate::board::draft::Edit;
use crate::board::{Land, LandShape, Part, Zone};
use crate::desk::ask::Ask;
use crate::desk::parts;
use crate::desk::theme::Look;
use crate::desk::typed::number;

/// The chosen parts.
pub(super) fn chosen(ui: &mut Ui, look: &Look, making: &mut Making, asks: &mut Vec<Ask>) {
    if making.chosen.is_empty() {
        return;
    }
    ui.add_space(6.0);
    ui.separator();
    let known: Vec<Part> = making
        .chosen
        .iter()
        .filter_map(|uid| making.map().part(uid))
        .cloned()
        .collect();
    let [part] = known.as_slice() else {
        let words = format!("{} parts are chosen", known.len());
        ui.label(RichText::new(words).font(look.strong()));
        if let Some(first) = known.first() {
            kinds(ui, look, "They are", first.kind, asks);
        }
        common(ui, making, asks);
        return;
    };
    one(ui, look, making, part, asks);
    common(ui, making, asks);
}

fn one(ui: &mut Ui, look: &Look, making: &mut Making, part: &Part, asks: &mut Vec<Ask>) {
    let uid = &part.uid;
    let title = format!("{}, {} joints", part.reference, part.pins.len());
    ui.label(RichText::new(crate::paper::shown(&title)).font(look.strong()));
    if let Some(text) = entry(ui, look, making, "Reference", &part.reference, 80.0) {
        asks.push(ask(Edit::Rename {
            part: uid.clone(),
            reference: text,
        }));
    }
    kinds(ui, look, "It is a", part.kind, asks);
    if let Some(value) = entry(ui, look, making, "Value or use", &part.value, 190.0) {
        asks.push(ask(Edit::Value {
            part: uid.clone(),
            value,
        }));
    }
    zones(ui, part, asks);
    let why = part.watch.as_deref().unwrap_or_default();
    if let Some(why) = entry(ui, look, making, "Weak spot: why", why, 190.0) {
        asks.push(ask(Edit::Watch {
            of: uid.clone(),
            why,
        }));
    }
    sizes(ui, look, making, part, asks);
    let pin = making
        .pin
        .clone()
        .and_then(|uid| part.pins.iter().find(|pin| pin.uid == uid).cloned());
    let Some(pin) = pin else {
        parts::caption(
            ui,
            look,
            "Click one of its pins to name it or to begin its numbers there.",
        );
        return;
    };
    ui.label(RichText::new(format!("Pin {}", crate::paper::shown(&pin.no))).font(look.strong()));
    if let Some(no) = entry(ui, look, making, "Number or name", &pin.no, 60.0) {
        asks.push(ask(Edit::RenamePin {
            pin: pin.uid.clone(),
            no,
        }));
    }
    let why = pin.watch.as_deref().unwrap_or_default();
    if let Some(why) = entry(ui, look, making, "This joint is weak: why", why, 140.0) {
        asks.push(ask(Edit::Watch {
            of: pin.uid.clone(),
            why,
        }));
    }
    ui.horizontal_wrapped(|ui| {
        if small(
            ui,
            "N",
            "this is pin 1",
            "Number the part anew from this pin on.",
        ) {
            asks.push(Ask::Map(MapAsk::Renumber));
        }
        if small(
            ui,
            "",
            "count the other way",
            "Number the part from this pin, the other way round.",
        ) {
            asks.push(ask(Edit::Renumber {
                part: uid.clone(),
                pin_1: pin.uid.clone(),
                backwards: true,
            }));
        }
    });
}

fn zones(ui: &mut Ui, part: &Part, asks: &mut Vec<Ask>) {
    ui.horizontal_wrapped(|ui| {
        ui.label("Area");
        for (zone, label) in [
            (Zone::Load, "load"),
            (Zone::Supply, "supply"),
            (Zone::Safety, "safety"),
        ] {
            let response = ui.selectable_label(part.zone == zone, label).on_hover_text(
                "Safety: mains, fuse, transformer, earth. Supply: rectifier to regulators. Both are asked for before first power.",
            );
            if response.clicked() && part.zone != zone {
                asks.push(ask(Edit::Zone {
                    parts: vec![part.uid.clone()],
                    zone,
                }));
            }
        }
    });
}

fn sizes(ui: &mut Ui, look: &Look, making: &mut Making, part: &Part, asks: &mut Vec<Ask>) {
    let Some(first) = part.pins.first() else {
        return;
    };
    let (land, hole) = (
        format!("{}", first.land.size[0]),
        first.drill.map(|d| d.to_string()).unwrap_or_default(),
    );
    let mut typed: Option<(String, String)> = None;
    ui.horizontal_wrapped(|ui| {
        if let Some(text) = entry(ui, look, making, "Its lands, mm", &land, 52.0) {
            typed = Some((text, hole.clone()));
        }
        if let Some(text) = entry(ui, look, making, "holes, mm", &hole, 52.0) {
            typed = Some((land.clone(), text));
        }
    });
    if let Some((land, hole)) = typed {
        let size = number(&land).unwrap_or(f64::NAN);
        let drill = (!hole.trim().is_empty()).then(|| number(&hole).unwrap_or(f64::NAN));
        asks.push(ask(Edit::Lands {
            parts: vec![part.uid.clone()],
            land: Land {
                shape: LandShape::Round,
                size: [size, size],
            },
            drill,
        }));
    }
}

fn common(ui: &mut Ui, making: &Making, asks: &mut Vec<Ask>) {
    ui.horizontal_wrapped(|ui| {
        let words =
            if making.pin.is_some() && making.chosen.len() == 1 && making.tool == Tool::Choose {
                "delete this pin"
            } else {
                "delete"
            };
        if small(
            ui,
            "Del",
            words,
            "Take away what is chosen. Undo brings it back.",
        ) {
            asks.push(Ask::Map(MapAsk::Delete));
        }
        if making.pin.is_some() && small(ui, "", "delete the part", "Take the whole part away.") {
            asks.push(ask(Edit::Delete {
                parts: making.chosen.clone(),
                pins: Vec::new(),
            }));
        }
    });
}

/// A field that shows what is; what was typed, once Enter is pressed or the field is left.
pub(super) fn entry(
    ui: &mut Ui,
    look: &Look,
    making: &mut Making,
    label: &str,
    now: &str,
    width: f32,
) -> Option<String> {
    let text = making
        .fields
        .entry(label.to_owned())
        .or_insert_with(|| now.to_owned());
    ui.horizontal(|ui| {
        let name = ui.label(label);
        let edit = ui
            .add(eframe::egui::TextEdit::singleline(text).desired_width(look.scaled(width)))
            .labelled_by(name.id);
        (edit.lost_focus() && text.trim() != now).then(|| text.clone())
    })
    .inner
}

/// The board: what it is called, its edge, its landmarks.
pub(super) fn board(ui: &mut Ui, look: &Look, making: &mut Making, asks: &mut Vec<Ask>) {
    ui.add_space(6.0);
    ui.separator();
    ui.label(RichText::new("The board").font(look.strong()));
    let map = making.map();
    let (model, name, title) = (map.model.clone(), map.board.clone(), map.title.clone());
    let (revision, origin) = (map.revision.clone(), map.origin.clone());
    let mut next = (
        model.clone(),
        name.clone(),
        revision.clone().unwrap_or_default(),
    );
    for (label, text, width) in [
        ("Model", &mut next.0, 190.0),
        ("Board's short name", &mut next.1, 110.0),
        ("Revision printed on it", &mut next.2, 90.0),
    ] {
        if let Some(typed) = entry(ui, look, making, label, &text.clone(), width) {
            *text = typed;
        }
    }
    if next != (model, name, revision.unwrap_or_default()) {
        asks.push(ask(Edit::Describe {
            model: next.0,
            board: next.1,
            title,
            revision: Some(next.2).filter(|r| !r.trim().is_empty()),
            origin,
        }));
    }
    let edge = if making.draft.now().outlined {
        "Its edge is drawn."
    } else {
        "Its edge is not drawn: a rectangle round the joints will do, or draw it (E)."
    };
    parts::caption(ui, look, edge);
    let names: Vec<String> = making
        .map()
        .landmarks
        .iter()
        .map(|mark| mark.name.clone())
        .collect();
    if names.is_empty() {
        parts::caption(
            ui,
            look,
            "Landmarks are chosen when the map is kept: corners and outermost pins. Add your own with L.",
        );
    }
    for name in names {
        ui.horizontal_wrapped(|ui| {
            ui.label(crate::paper::shown(&name));
            if ui.small_button("Take away").clicked() {
                asks.push(ask(Edit::DropLandmark { name: name.clone() }));
            }
        });
    }
}

/// Used by the rails and test points.
pub(super) fn typed(
    ui: &mut Ui,
    look: &Look,
    making: &mut Making,
    key: &str,
    label: &str,
    width: f32,
) {
    let mut text = making.fields.get(key).cloned().unwrap_or_default();
    field(ui, look, label, &mut text, width);
    making.fields.insert(key.to_owned(), text);
}
