//! The round: one line of words, then the strip.

use eframe::egui::{RichText, Ui};

use crate::desk::ask::Ask;
use crate::desk::keys::{Command, entry_of};
use crate::desk::model::{Bench, Show};
use crate::desk::parts;
use crate::desk::strip::Strip;
use crate::desk::theme::Look;
use crate::work::side_word;

/// The words take what they need, the tiles what is left of `height`, though never less than one row.
pub(super) fn show(
    ui: &mut Ui,
    look: &Look,
    bench: &Bench,
    strip: &mut Strip,
    height: f32,
    asks: &mut Vec<Ask>,
) {
    let top = ui.cursor().top();
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing.x = 14.0;
        ui.label(
            RichText::new(words(bench))
                .font(look.small())
                .color(look.palette.dim),
        );
        for command in [
            Command::Measure,
            Command::Gate,
            Command::Slip,
            if bench.session.maps().is_empty() {
                Command::MakeMap
            } else {
                Command::Landmarks
            },
            Command::FindPlace,
            Command::FindJoints,
            Command::Help,
        ] {
            let of_use = match command {
                Command::FindPlace => bench.seen.can_match,
                Command::FindJoints => bench.show == Show::Loose && bench.photo.is_some(),
                _ => true,
            };
            if !of_use {
                continue;
            }
            if parts::key_hint(ui, look, entry_of(command), true) {
                asks.push(Ask::Command(command));
            }
        }
    });
    ui.add_space(3.0);
    if bench.stops.is_empty() {
        parts::caption(ui, look, nothing_here(bench));
        ui.add_space((height - (ui.cursor().top() - top)).max(0.0));
        return;
    }
    let left = height - (ui.cursor().top() - top);
    if let Some(index) = strip.show(ui, look, &bench.seen.tiles, bench.here, left) {
        asks.push(Ask::GoTo(index));
    }
}

fn words(bench: &Bench) -> String {
    let n = bench.stops.len();
    let place = match &bench.show {
        Show::Side(view) => format!("The round: {} side, weak spots first", side_word(view.side)),
        Show::Loose => "Places on this photo".to_owned(),
    };
    let mut words = format!("{place}. {} of {n} looked at", bench.seen.judged);
    if let Some(scale) = bench.seen.median_scale {
        words += &format!(", median {scale:.0} px/mm");
    }
    if bench.seen.too_far > 0 {
        let least = bench.session.state().demand().least_px_per_mm;
        words += &format!(
            ", {} from too far away ({least} px/mm asked)",
            bench.seen.too_far
        );
    }
    if bench.seen.blocked > 0 {
        words += &format!(", {} cannot be judged", bench.seen.blocked);
    }
    if bench.only_unseen {
        words += "; walking unseen ones only";
    }
    words
}

fn nothing_here(bench: &Bench) -> &'static str {
    match bench.show {
        Show::Side(_) => "The map has no joints on this side.",
        Show::Loose if bench.photo.is_none() => "Drop photos of the board on the window to begin.",
        Show::Loose => "Click a joint on the photo to begin, or let them be found.",
    }
}
