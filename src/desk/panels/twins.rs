//! The twins in a row under the joint, and what stands beside one that is on the glass.

use eframe::egui::{self, RichText, Ui, vec2};

use crate::desk::ask::Ask;
use crate::desk::glass_view::GlassView;
use crate::desk::model::Bench;
use crate::desk::parts;
use crate::desk::theme::Look;
use crate::desk::twins::Twin;

/// Side of a twin in the row at 100 % text, points: the same for all, so that sizes compare.
const SIDE: f32 = 60.0;
/// Width of a twin's caption at 100 % text, points.
const CAPTION: f32 = 92.0;

pub(super) fn row(
    ui: &mut Ui,
    look: &Look,
    bench: &Bench,
    glass: &mut GlassView,
    asks: &mut Vec<Ask>,
) {
    let twins = &bench.twins;
    if twins.expected == 0 {
        return;
    }
    ui.add_space(6.0);
    let side = look.scaled(SIDE);
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing = vec2(7.0, 6.0);
        for (index, twin) in twins.shown.iter().enumerate() {
            let on = twins.on_glass == Some(index);
            let words = format!("Twin: {}", crate::paper::shown(&twin.words()));
            if glass
                .twin(ui, look, &twin.crop, side, on, &words)
                .on_hover_text(&words)
                .clicked()
            {
                asks.push(Ask::Twin(index));
            }
            caption(ui, look, twin, side);
        }
        for _ in twins.shown.len()..twins.expected {
            let (rect, _) = ui.allocate_exact_size(vec2(side, side), egui::Sense::hover());
            ui.painter().rect_filled(rect, 2.0, look.palette.well);
            ui.add_space(look.scaled(CAPTION));
        }
    });
}

fn caption(ui: &mut Ui, look: &Look, twin: &Twin, side: f32) {
    let size = vec2(look.scaled(CAPTION), side);
    ui.allocate_ui_with_layout(size, egui::Layout::top_down(egui::Align::LEFT), |ui| {
        ui.set_min_size(size);
        ui.spacing_mut().item_spacing.y = 1.0;
        let dim = look.palette.dim;
        let whose = RichText::new(crate::paper::shown(twin.whose())).font(look.small_strong());
        ui.add(egui::Label::new(whose).truncate());
        for text in [
            twin.day.clone().unwrap_or_else(|| "no date".to_owned()),
            crate::paper::shown(&twin.photo),
        ] {
            let text = RichText::new(text).font(look.small()).color(dim);
            ui.add(egui::Label::new(text).truncate());
        }
    });
}

/// Beside a twin on the glass, in the place of the hint.
pub(super) fn beside(ui: &mut Ui, look: &Look, bench: &Bench, twin: &Twin) {
    let name = bench
        .stop()
        .map(|stop| crate::paper::shown(&stop.name))
        .unwrap_or_default();
    ui.label(RichText::new("A twin").font(look.strong()));
    ui.label(match &twin.unit {
        Some(unit) => format!("The same joint of {}.", crate::paper::shown(unit)),
        None => "The same joint on another photo of this unit.".to_owned(),
    });
    ui.add_space(2.0);
    parts::caption(ui, look, &crate::paper::shown(&twin.words()));
    ui.add_space(4.0);
    parts::caption(
        ui,
        look,
        &format!(
            "Nobody says that a twin is without fault. What you say now is still said of {name} on this unit's photo. T goes on and comes back."
        ),
    );
}
