//! Every key on one page, made from the table of commands.

use eframe::egui::{Label, RichText, Ui};

use crate::desk::keys::{Group, TABLE, key_name};
use crate::desk::marker::State;
use crate::desk::model::Bench;
use crate::desk::parts;
use crate::desk::theme::Look;

/// Width of the keys' column at 100 % text, points.
const KEY_W: f32 = 92.0;
/// Width of the labels' column at 100 % text, points.
const LABEL_W: f32 = 128.0;

pub(super) fn show(ui: &mut Ui, look: &Look, bench: Option<&Bench>) {
    parts::title(ui, look, "Every key", "Esc leads back");
    for group in Group::ALL {
        ui.add_space(10.0);
        ui.label(RichText::new(group.label()).font(look.strong()));
        for entry in TABLE.iter().filter(|entry| entry.group == group) {
            ui.horizontal_top(|ui| {
                let key = RichText::new(key_name(&entry.key)).font(look.strong());
                cell(ui, look.scaled(KEY_W), key);
                cell(ui, look.scaled(LABEL_W), RichText::new(entry.label));
                let tooltip = RichText::new(entry.tooltip).color(look.palette.dim);
                ui.add(Label::new(tooltip).wrap());
            });
        }
    }
    if let Some(bench) = bench {
        ui.add_space(12.0);
        ui.label(RichText::new("The eye and the hint").font(look.strong()));
        ui.label(bench.seen.eye_and_hint.words());
    }
    ui.add_space(12.0);
    ui.label(RichText::new("What the signs say").font(look.strong()));
    ui.horizontal_wrapped(|ui| {
        for state in State::ALL {
            parts::state_words(ui, look, state);
        }
    });
}

/// Text in a column of its own width.
fn cell(ui: &mut Ui, width: f32, text: RichText) {
    ui.vertical(|ui| {
        ui.set_width(width);
        ui.add(Label::new(text).wrap());
    });
}
