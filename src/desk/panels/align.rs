//! Laying a photo on the map: which board and side, which landmark next, how they fit together.

use eframe::egui::{self, Key, RichText, ScrollArea, TextEdit, Ui};

use crate::desk::ask::{Ask, Choosing};
use crate::desk::keys::Command;
use crate::desk::marker::State;
use crate::desk::model::{Bench, Draft};
use crate::desk::parts::{self, Weight};
use crate::desk::theme::Look;
use crate::work::side_word;

pub(super) fn show(ui: &mut Ui, look: &Look, bench: &mut Bench, asks: &mut Vec<Ask>) {
    ScrollArea::vertical().auto_shrink([false, false]).show(ui, |ui| {
        let name = bench.photo_state().map(|photo| photo.facts.name.clone()).unwrap_or_default();
        parts::title(ui, look, "Where does this photo lie?", &crate::paper::shown(&name));
        ui.add_space(4.0);
        if bench.session.maps().is_empty() {
            ui.label("This job has no board map yet, so there is nothing to lay the photo on. Joints can be judged on the photo as it is.");
            if parts::button(ui, look, "Make a map from this photo", true).clicked() {
                asks.push(Ask::Command(Command::MakeMap));
            }
            if parts::button(ui, look, "Adopt a board map…", false).clicked() {
                asks.push(Ask::Choose(Choosing::AdoptMap));
            }
            back(ui, look, asks);
            return;
        }
        by_itself(ui, look, bench, asks);
        which_side(ui, look, bench, asks);
        if bench.draft.view.is_none() {
            back(ui, look, asks);
            return;
        }
        ui.add_space(6.0);
        next(ui, look, &bench.draft);
        fit(ui, look, &bench.draft, asks);
        ui.add_space(6.0);
        let mut moved = !bench.clicks_as_they_are;
        if ui.checkbox(&mut moved, "Move a click to the middle of the hole or land there").changed() {
            bench.clicks_as_they_are = !moved;
        }
        list(ui, look, &bench.draft, asks);
        pin(ui, bench, asks);
        back(ui, look, asks);
    });
}

fn back(ui: &mut Ui, look: &Look, asks: &mut Vec<Ask>) {
    ui.add_space(6.0);
    if parts::button(ui, look, "Back to the table", false).clicked() {
        asks.push(Ask::Command(Command::Back));
    }
}

/// What the photo found by itself, or why it did not.
fn by_itself(ui: &mut Ui, look: &Look, bench: &Bench, asks: &mut Vec<Ask>) {
    let Some(photo) = bench.photo_state() else {
        return;
    };
    let id = &photo.facts.photo;
    if bench.matching.is_running(id) {
        ui.label("It is being matched with photos that lie on the map already. Landmarks can be placed meanwhile.");
    } else if let Some(found) = bench.matching.found(id) {
        ui.label(bench.found_words(found));
        if parts::button(ui, look, "Take the place that it found", false).clicked() {
            asks.push(Ask::TakeMatch);
        }
    } else if let Some(refused) = bench.matching.refusal(id) {
        let words = format!(
            "It did not find its place by itself: {}.",
            refused.reason.trim_end_matches('.')
        );
        ui.label(RichText::new(words).color(look.palette.words(State::Suspect)));
        let remedy = refused.remedy.trim_end_matches('.');
        if !remedy.is_empty() {
            ui.label(format!("What to do: {remedy}."));
        }
    } else if let Some((alignment, matched)) = photo
        .alignment()
        .and_then(|alignment| Some((alignment, alignment.automatic.as_ref()?)))
    {
        ui.label(bench.proposal(alignment, matched));
        ui.label("Landmarks that are placed here take its stead.");
    } else if bench.seen.can_match {
        ui.label("Other photos lie on the map already: this one can be matched with them.");
        if parts::button(ui, look, "Let it find its place", true).clicked() {
            asks.push(Ask::Command(Command::FindPlace));
        }
    } else {
        return;
    }
    ui.add_space(8.0);
}

fn which_side(ui: &mut Ui, look: &Look, bench: &Bench, asks: &mut Vec<Ask>) {
    ui.label(RichText::new("It shows").color(look.palette.dim));
    ui.horizontal_wrapped(|ui| {
        for view in bench.sides() {
            let on = bench.draft.view.as_ref() == Some(&view);
            let label = format!("{} board, {} side", view.board, side_word(view.side));
            if ui.selectable_label(on, label).clicked() && !on {
                asks.push(Ask::Place(view));
            }
        }
    });
}

fn next(ui: &mut Ui, look: &Look, draft: &Draft) {
    let Some((name, look_for)) = draft.next_name() else {
        let open =
            |(name, _): &(String, String)| !(draft.placed.iter()).any(|(placed, _)| placed == name);
        ui.label(if draft.names.iter().any(open) {
            "Every landmark that this photo shows is placed."
        } else {
            "Every landmark of the map is placed."
        });
        return;
    };
    let rest = if look_for.is_empty() {
        ".".to_owned()
    } else {
        format!(": {look_for}.")
    };
    parts::sentence(
        ui,
        look,
        &[
            ("Click ", Weight::Plain),
            (name, Weight::Strong),
            (&rest, Weight::Plain),
        ],
    );
}

fn list(ui: &mut Ui, look: &Look, draft: &Draft, asks: &mut Vec<Ask>) {
    let fitted = match &draft.fit {
        Some(Ok(fit)) => Some(fit),
        _ => None,
    };
    for (index, (name, look_for)) in draft.names.iter().enumerate() {
        let placed = draft.placed.iter().any(|(known, _)| known == name);
        let residual = fitted.and_then(|fit| {
            fit.per_landmark
                .iter()
                .find(|r| r.name.eq_ignore_ascii_case(name))
        });
        ui.horizontal_wrapped(|ui| {
            let sign = if placed {
                "+"
            } else if draft.next == Some(index) {
                "→"
            } else {
                "   "
            };
            let label = RichText::new(format!("{sign} {name}")).font(look.strong());
            let row = ui.selectable_label(draft.next == Some(index), label);
            row.widget_info(|| {
                egui::WidgetInfo::labeled(egui::Role::Button, true, format!("Landmark {name}"))
            });
            if row.clicked() {
                asks.push(Ask::Landmark(index));
            }
            if placed {
                let words = match residual {
                    Some(r) => match (r.left_out_px, r.left_out_mm) {
                        (Some(px), Some(mm)) => {
                            format!("{px:.1} px ({mm:.2} mm) from where the others put it")
                        }
                        _ => format!("{:.1} px off the fit", r.residual_px),
                    },
                    None => "placed".to_owned(),
                };
                parts::caption(ui, look, &words);
                if ui
                    .small_button("Lift")
                    .on_hover_text("Take this landmark away again.")
                    .clicked()
                {
                    asks.push(Ask::Unplace(name.clone()));
                }
            } else {
                parts::caption(ui, look, look_for);
            }
        });
    }
}

fn pin(ui: &mut Ui, bench: &mut Bench, asks: &mut Vec<Ask>) {
    ui.horizontal_wrapped(|ui| {
        let name = ui.label("A pin as landmark:");
        let field = ui
            .add(
                TextEdit::singleline(&mut bench.draft.pin)
                    .hint_text("J4.3")
                    .desired_width(90.0),
            )
            .labelled_by(name.id);
        let entered = field.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
        if (ui.button("Add").clicked() || entered) && !bench.draft.pin.trim().is_empty() {
            asks.push(Ask::PinAsLandmark(bench.draft.pin.clone()));
        }
    });
}

/// With a capital and a full stop.
fn as_sentence(text: &str) -> String {
    let text = text.trim();
    let mut letters = text.chars();
    let mut out: String = match letters.next() {
        Some(first) => first.to_uppercase().chain(letters).collect(),
        None => return String::new(),
    };
    if !out.ends_with(['.', '?', '!', ':']) {
        out.push('.');
    }
    out
}

/// How the landmarks fit together, as it stands.
fn fit(ui: &mut Ui, look: &Look, draft: &Draft, asks: &mut Vec<Ask>) {
    match &draft.fit {
        None => {
            let more = 4_usize.saturating_sub(draft.placed.len());
            ui.label(format!("Place {more} more, as far apart as the photo allows. From five on, a bad click can be told."));
        }
        Some(Err(refusal)) => {
            let colour = look.palette.words(State::Faulty);
            ui.label(
                RichText::new(format!(
                    "This cannot be right: {}.",
                    refusal.reason.trim_end_matches('.')
                ))
                .color(colour),
            );
            ui.label(format!(
                "What to do: {}.",
                refusal.remedy.trim_end_matches('.')
            ));
        }
        Some(Ok(fit)) => {
            let scale = fit.px_per_mm.centre.max(1e-9);
            let rms = format!("{:.1} px ({:.2} mm)", fit.rms_px, fit.rms_px / scale);
            let expected = format!(
                "{:.1} px ({:.2} mm)",
                fit.expected_error_px,
                fit.expected_error_px / scale
            );
            let n = draft.placed.len().to_string();
            parts::sentence(
                ui,
                look,
                &[
                    (&n, Weight::Strong),
                    (" landmarks, on average ", Weight::Plain),
                    (&rms, Weight::Strong),
                    (
                        " off the fit. Elsewhere on the board expect ",
                        Weight::Plain,
                    ),
                    (&expected, Weight::Strong),
                    (".", Weight::Plain),
                ],
            );
            if let Some(click) = &fit.suspect_click {
                let colour = look.palette.words(State::Suspect);
                ui.label(RichText::new(&click.words).color(colour));
            }
            let said = fit.suspect_click.as_ref().map(|click| &click.words);
            for caution in fit.cautions.iter().filter(|caution| Some(*caution) != said) {
                parts::caption(ui, look, &as_sentence(caution));
            }
            let names: Vec<String> = draft
                .helpful
                .iter()
                .map(|(name, _)| crate::paper::shown(name))
                .collect();
            if !names.is_empty() {
                let words = format!(
                    "What would help most: {}, ringed on the photo.",
                    names.join(" and ")
                );
                parts::caption(ui, look, &words);
            }
            ui.add_space(4.0);
            if parts::button(ui, look, "Lay the photo on the map", true).clicked() {
                asks.push(Ask::AcceptAlignment);
            }
        }
    }
}
