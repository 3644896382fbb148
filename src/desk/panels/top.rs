//! The line along the top: which unit, which side, which photo, and where power stands.

use eframe::egui::{self, ComboBox, RichText, Ui};

use crate::desk::ask::{Ask, Choosing};
use crate::desk::keys::{Command, entry_of, key_name};
use crate::desk::model::{Bench, Page, Show};
use crate::desk::stages;
use crate::desk::theme::Look;
use crate::work::side_word;

pub(super) fn show(ui: &mut Ui, look: &Look, bench: &Bench, page: Page, asks: &mut Vec<Ask>) {
    ui.horizontal_wrapped(|ui| {
        let unit = bench.session.state().unit.as_ref().map_or("no unit", |unit| unit.code.as_str());
        let shown = crate::paper::shown(unit);
        ui.label(RichText::new(shown).font(look.strong()));
        choose_side(ui, look, bench, asks);
        if matches!(page, Page::Table | Page::Align | Page::Map) {
            photo_words(ui, look, bench, asks);
        } else if ui.button("Back to the table").clicked() {
            asks.push(Ask::Command(Command::Back));
        }
        if !bench.session.may_write() {
            let why = if bench.lent { "photos are coming in" } else { "read only" };
            ui.label(RichText::new(why).font(look.small_strong()).color(look.palette.words(crate::desk::marker::State::Suspect)))
                .on_hover_text("Another window of this bench records in this job, or photos are being brought in: nothing is recorded here meanwhile.");
        }
        // At the right end of this row where there is room, else in a row of its own.
        let width = stages::width(ui, look, &bench.seen.stages);
        let room = ui.available_size_before_wrap().x - 12.0;
        if room > width {
            ui.add_space(room - width);
        } else {
            ui.end_row();
        }
        if stages::show(ui, look, &bench.seen.stages).is_some() {
            asks.push(Ask::Page(Page::Gate));
        }
    });
}

fn choose_side(ui: &mut Ui, look: &Look, bench: &Bench, asks: &mut Vec<Ask>) {
    let words = |show: &Show| match show {
        Show::Side(view) => format!("{} board, {} side", view.board, side_word(view.side)),
        Show::Loose => "photos on no board".to_owned(),
    };
    let combo = ComboBox::from_id_salt("side")
        .selected_text(RichText::new(words(&bench.show)).font(look.body()))
        .width(look.scaled(180.0));
    let response = combo.show_ui(ui, |ui| {
        for view in bench.sides() {
            let photos = bench.session.photos_of(&view).len();
            let show = Show::Side(view);
            let label = format!("{} ({photos} photos)", words(&show));
            if ui.selectable_label(bench.show == show, label).clicked() {
                asks.push(Ask::Show(show));
            }
        }
        if ui
            .selectable_label(bench.show == Show::Loose, words(&Show::Loose))
            .clicked()
        {
            asks.push(Ask::Show(Show::Loose));
        }
        ui.separator();
        if bench.photo.is_some() && ui.button("Make a map from this photo").clicked() {
            asks.push(Ask::Page(Page::Map));
        }
        if ui.button("Adopt a board map…").clicked() {
            asks.push(Ask::Choose(Choosing::AdoptMap));
        }
        if ui.button("Add photos…").clicked() {
            asks.push(Ask::Choose(Choosing::Photos));
        }
        if ui.button("Close this job").clicked() {
            asks.push(Ask::CloseJob);
        }
    });
    response
        .response
        .on_hover_text("Board and side; maps, photos and the job itself.");
}

fn photo_words(ui: &mut Ui, look: &Look, bench: &Bench, asks: &mut Vec<Ask>) {
    let n = bench.seen.photos.len();
    if n == 0 {
        return;
    }
    let at = bench
        .photo
        .as_ref()
        .and_then(|p| bench.seen.photos.iter().position(|q| q == p));
    ui.spacing_mut().item_spacing.x = 5.0;
    for (sign, name, command, on) in [
        (
            "‹",
            "Photo before",
            Command::PreviousPhoto,
            at.is_some_and(|at| at > 0),
        ),
        (
            "›",
            "Next photo",
            Command::NextPhoto,
            at.is_some_and(|at| at + 1 < n),
        ),
    ] {
        let button = ui.add_enabled(on, egui::Button::new(sign).small());
        button.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, on, name));
        let tip = format!("{name} ({})", key_name(&entry_of(command).key));
        if button.on_hover_text(tip).clicked() {
            asks.push(Ask::Command(command));
        }
    }
    let mut words = match at {
        Some(at) => format!("photo {} of {n}", at + 1),
        None => format!("{n} photos"),
    };
    let scale = bench
        .stop_on_photo()
        .and_then(|on| on.px_per_mm)
        .or_else(|| {
            bench
                .photo_state()?
                .alignment()
                .map(|alignment| alignment.px_per_mm)
        });
    if let Some(scale) = scale {
        words += &format!(", {scale:.0} px/mm");
    }
    let mut name = bench
        .photo_state()
        .map(|photo| photo.facts.name.clone())
        .unwrap_or_default();
    let alignment = bench.photo_state().and_then(|photo| photo.alignment());
    if let Some((alignment, matched)) =
        alignment.and_then(|alignment| Some((alignment, alignment.automatic.as_ref()?)))
    {
        words += &format!(", laid by itself, trust {:.2}", matched.trust);
        name += &format!("\n{}", bench.proposal(alignment, matched));
    }
    ui.label(RichText::new(words).color(look.palette.dim))
        .on_hover_text(name);
}
