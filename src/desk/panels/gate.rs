//! The gate as it will print: five stages, each with what it permits and what still forbids it.

use eframe::egui::{CollapsingHeader, RichText, TextEdit, Ui};

use super::slip::sheet;
use super::{demand, touched};
use crate::desk::ask::Ask;
use crate::desk::marker::State;
use crate::desk::model::Bench;
use crate::desk::theme::Look;
use crate::paper::{GateView, gate_view, shown};
use crate::render::MODEL;

pub(super) fn show(ui: &mut Ui, look: &Look, bench: &mut Bench, asks: &mut Vec<Ask>) {
    if bench.lent {
        let words = "Photos are coming in. This is the record as it was when they began to: look again once they are there.";
        ui.label(
            RichText::new(words)
                .font(look.strong())
                .color(look.palette.words(State::Faulty)),
        );
    }
    touched::closed(ui, look, bench, asks);
    // Seldom said, and long: folded away, so that what the gate says comes first.
    CollapsingHeader::new(MORE).show(ui, |ui| {
        touched::show(ui, look, bench, asks);
        ui.add_space(6.0);
        demand::show(ui, look, bench, asks);
    });
    ui.add_space(8.0);
    let state = bench.session.state();
    let sample = state
        .unit
        .as_ref()
        .filter(|unit| unit.model == MODEL)
        .map(|_| "Invented sample");
    let view = gate_view(state, bench.session.maps(), sample);
    sheet(ui, |ui| paper(ui, look, &view));
}

/// What folds out what is seldom said.
const MORE: &str = "It was opened, a part was reseated, or the shop demands something else";

fn paper(ui: &mut Ui, look: &Look, view: &GateView) {
    let title = format!("Gate: {}", shown(&view.unit));
    ui.label(RichText::new(title).font(look.title()));
    let mut under = shown(&view.model);
    if let Some(sample) = &view.sample {
        under += &format!(". {sample}.");
    }
    ui.label(under);
    ui.add_space(8.0);
    let mut met = false;
    for (number, stage) in view.stages.iter().enumerate() {
        ui.separator();
        let standing = match (stage.open, met) {
            (true, _) => "nothing is held against it",
            (false, false) => "not yet",
            (false, true) => "after the stage before it",
        };
        met |= !stage.open;
        ui.horizontal_wrapped(|ui| {
            ui.label(RichText::new(format!("{}  {}", number + 1, stage.stage)).font(look.strong()));
            ui.label(RichText::new(standing).font(look.small_strong()));
        });
        ui.label(RichText::new(stage.permits.clone()).font(look.small()));
        for reason in &stage.reasons {
            ui.label(format!("•  {}", shown(reason)));
        }
        ui.add_space(4.0);
    }
    ui.separator();
    ui.label(RichText::new(shown(&view.demand)).font(look.small()));
    ui.add_space(4.0);
    if !view.hazards.is_empty() {
        ui.label(RichText::new("Dangerous on this unit").font(look.strong()));
        for hazard in &view.hazards {
            ui.label(shown(hazard));
        }
    }
    for caution in &view.cautions {
        ui.horizontal_wrapped(|ui| {
            ui.label(RichText::new(format!("{}.", caution.title)).font(look.small_strong()));
            ui.label(RichText::new(&caution.text).font(look.small()));
        });
    }
    let limits = "The gate shows what was recorded. It cannot prove that a board may be energised: local law, site rules and the maker's service information govern, and mains work is for qualified people.";
    ui.add_space(6.0);
    ui.label(RichText::new(limits).font(look.small()));
}

/// Kept out of the way of the form: a field that is read back from the bench's fields.
pub(super) fn one_line(
    ui: &mut Ui,
    label: &str,
    text: &mut String,
    width: f32,
) -> eframe::egui::Response {
    let name = ui.label(label);
    ui.add(TextEdit::singleline(text).desired_width(width))
        .labelled_by(name.id)
}
