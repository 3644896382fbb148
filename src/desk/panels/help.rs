//! Every key on one page, made from the table of commands.

use eframe::egui::{Grid, RichText, Ui};

use crate::desk::keys::{Group, TABLE, key_name};
use crate::desk::marker::State;
use crate::desk::model::Bench;
use crate::desk::parts;
use crate::desk::theme::Look;

pub(super) fn show(ui: &mut Ui, look: &Look, bench: Option<&Bench>) {
    parts::title(ui, look, "Every key", "Esc leads back");
    for group in Group::ALL {
        ui.add_space(10.0);
        ui.label(RichText::new(group.label()).font(look.strong()));
        Grid::new(group.label())
            .num_columns(3)
            .spacing([14.0, 5.0])
            .min_col_width(look.scaled(70.0))
            .show(ui, |ui| {
                for entry in TABLE.iter().filter(|entry| entry.group == group) {
                    ui.label(RichText::new(key_name(&entry.key)).font(look.strong()));
                    ui.label(entry.label);
                    ui.label(RichText::new(entry.tooltip).color(look.palette.dim));
                    ui.end_row();
                }
            });
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
