//! The quiet bar at the foot: what is under way, and what a person should know. It stays until
//! it is taken away.

use eframe::egui::{ProgressBar, RichText, Ui};

use crate::desk::ask::Ask;
use crate::desk::background::UnderWay;
use crate::desk::marker::State;
use crate::desk::model::Message;
use crate::desk::theme::Look;

pub(super) fn show(
    ui: &mut Ui,
    look: &Look,
    messages: &[Message],
    under_way: &[UnderWay],
    asks: &mut Vec<Ask>,
) {
    for work in under_way {
        ui.horizontal_wrapped(|ui| {
            let words = match work.total {
                0 => work.label.clone(),
                total => format!("{}: {} of {total}", work.label, work.done.min(total)),
            };
            ui.label(words);
            let share = if work.total == 0 {
                0.0
            } else {
                work.done as f32 / work.total as f32
            };
            ui.add(
                ProgressBar::new(share)
                    .desired_width(look.scaled(160.0))
                    .desired_height(8.0)
                    .fill(look.palette.bar),
            );
            if ui.button("Stop").clicked() {
                asks.push(Ask::Stop(work.label.clone()));
            }
        });
    }
    for (index, message) in messages.iter().enumerate() {
        ui.horizontal_wrapped(|ui| {
            if ui
                .button("Noted")
                .on_hover_text("Take this message away.")
                .clicked()
            {
                asks.push(Ask::Dismiss(index));
            }
            let colour = if message.trouble {
                look.palette.words(State::Faulty)
            } else {
                look.palette.ink
            };
            ui.label(RichText::new(&message.text).color(colour));
            if !message.remedy.is_empty() {
                ui.label(RichText::new(&message.remedy).color(look.palette.ink));
            }
        });
    }
}
