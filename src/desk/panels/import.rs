//! What a dropped board file leaves open.

use eframe::egui::{RichText, TextEdit, Ui};

use crate::desk::ask::Ask;
use crate::desk::importing::Importing;
use crate::desk::keys::Command;
use crate::desk::parts;
use crate::desk::theme::Look;

pub(super) fn show(ui: &mut Ui, look: &Look, importing: &mut Importing, asks: &mut Vec<Ask>) {
    let names: Vec<String> = importing
        .files
        .iter()
        .filter_map(|file| Some(file.file_name()?.to_string_lossy().into_owned()))
        .collect();
    parts::title(
        ui,
        look,
        "A map from a file",
        &crate::paper::shown(&names.join(", ")),
    );
    parts::caption(
        ui,
        look,
        "The file leaves this open. Nothing is guessed: a wrong unit would put every joint in the wrong place.",
    );
    for (question, answer) in &mut importing.questions {
        ui.add_space(10.0);
        ui.label(RichText::new(&question.text).font(look.strong()));
        if question.choices.is_empty() {
            let edit = ui.add(TextEdit::singleline(answer).desired_width(look.scaled(160.0)));
            let name = question.text.clone();
            edit.widget_info(|| {
                eframe::egui::WidgetInfo::labeled(
                    eframe::egui::Role::TextInput,
                    true,
                    name.as_str(),
                )
            });
        }
        ui.horizontal_wrapped(|ui| {
            for (word, meaning) in &question.choices {
                if ui.selectable_label(answer == word, *meaning).clicked() {
                    *answer = (*word).to_owned();
                }
            }
        });
    }
    ui.add_space(14.0);
    ui.horizontal_wrapped(|ui| {
        let ready = importing
            .questions
            .iter()
            .all(|(_, answer)| !answer.trim().is_empty());
        if ui
            .add_enabled_ui(ready, |ui| parts::button(ui, look, "Make the map", true))
            .inner
            .clicked()
        {
            asks.push(Ask::Import);
        }
        if parts::button(ui, look, "Back", false).clicked() {
            asks.push(Ask::Command(Command::Back));
        }
    });
}
