//! The form of a new job. Only the unit and its model are asked for; the rest can wait.

use eframe::egui::{TextEdit, Ui};

use crate::desk::ask::{Ask, Choosing};
use crate::desk::keys::Command;
use crate::desk::model::NewJob;
use crate::desk::parts;
use crate::desk::theme::Look;

pub(super) fn show(ui: &mut Ui, look: &Look, form: &mut NewJob, asks: &mut Vec<Ask>) {
    parts::title(ui, look, "Which unit is it?", "");
    let n = form.photos.len();
    match n {
        0 => parts::caption(
            ui,
            look,
            "Photos can be dropped on the window now or later.",
        ),
        1 => parts::caption(ui, look, "One photo or folder waits to be brought in."),
        _ => parts::caption(
            ui,
            look,
            &format!("{n} photos or folders wait to be brought in."),
        ),
    };
    ui.add_space(10.0);
    field(
        ui,
        look,
        "Unit",
        "its serial number, or your shop's code",
        &mut form.unit,
    );
    field(
        ui,
        look,
        "Model",
        "make and type, as on the plate",
        &mut form.model,
    );
    field(
        ui,
        look,
        "Complaint",
        "what the owner says is wrong; may stay empty",
        &mut form.complaint,
    );
    field(
        ui,
        look,
        "Folder",
        "a folder named after the unit is made in it",
        &mut form.folder,
    );
    ui.add_space(6.0);
    maps(ui, look, form, asks);
    ui.add_space(14.0);
    ui.horizontal_wrapped(|ui| {
        let ready = !form.unit.trim().is_empty()
            && !form.model.trim().is_empty()
            && !form.folder.trim().is_empty();
        if ui
            .add_enabled_ui(ready, |ui| parts::button(ui, look, "Start this job", true))
            .inner
            .clicked()
        {
            asks.push(Ask::Begin);
        }
        if !ready {
            let missing: Vec<&str> = [
                ("unit", &form.unit),
                ("model", &form.model),
                ("folder", &form.folder),
            ]
            .into_iter()
            .filter(|(_, text)| text.trim().is_empty())
            .map(|(name, _)| name)
            .collect();
            parts::caption(
                ui,
                look,
                &format!("Still to fill in: {}.", missing.join(", ")),
            );
        }
        if parts::button(ui, look, "Add photos…", false).clicked() {
            asks.push(Ask::Choose(Choosing::Photos));
        }
        if parts::button(ui, look, "Back", false).clicked() {
            asks.push(Ask::Command(Command::Back));
        }
    });
    ui.add_space(14.0);
    parts::caption(
        ui,
        look,
        "Unplug the unit and measure stored charge before you touch or photograph it. Your photos are copied into the job and never altered.",
    );
}

fn field(ui: &mut Ui, look: &Look, label: &str, example: &str, text: &mut String) {
    let name = ui.label(label);
    ui.add(
        TextEdit::singleline(text)
            .hint_text(example)
            .desired_width(look.scaled(520.0).min(ui.available_width() - 8.0)),
    )
    .labelled_by(name.id);
    ui.add_space(4.0);
}

fn maps(ui: &mut Ui, look: &Look, form: &mut NewJob, asks: &mut Vec<Ask>) {
    ui.label("Board map");
    parts::caption(
        ui,
        look,
        "None is needed. With the map of this model every joint has its name, and coverage is counted.",
    );
    let mut away = None;
    for (index, map) in form.maps.iter().enumerate() {
        ui.horizontal_wrapped(|ui| {
            ui.label(map.display().to_string());
            if ui.small_button("Leave it out").clicked() {
                away = Some(index);
            }
        });
    }
    if let Some(index) = away {
        form.maps.remove(index);
    }
    if parts::button(ui, look, "Choose a board map…", false).clicked() {
        asks.push(Ask::Choose(Choosing::Map));
    }
}
