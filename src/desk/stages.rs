//! The stages of the gate along the top: where power stands and what is next.

use eframe::egui::{Align2, Color32, Rect, Role, Sense, Stroke, StrokeKind, Ui, WidgetInfo, vec2};

use super::marker::State;
use super::theme::Look;
use crate::record::Stage;

/// How far a stage is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// Its step was taken and still holds.
    Done,
    /// Nothing speaks against it, and its step is not taken yet.
    Open,
    /// It is the next one, and this many reasons speak against it.
    NotYet(usize),
    /// An earlier one comes first.
    Later,
}

/// A stage's words.
#[must_use]
pub fn stage_name(stage: Stage) -> &'static str {
    match stage {
        Stage::Cold => "cold",
        Stage::Supply => "supply alone",
        Stage::Load => "load",
        Stage::Function => "function",
        Stage::Closed => "closed up",
    }
}

/// What a chip says.
#[must_use]
pub fn chip_words(stage: Stage, standing: Standing) -> String {
    let name = stage_name(stage);
    match standing {
        Standing::Done => format!("{name}: done"),
        Standing::Open => format!("{name}: open"),
        Standing::NotYet(1) => format!("{name}: 1 reason not yet"),
        Standing::NotYet(n) => format!("{name}: {n} reasons not yet"),
        Standing::Later => name.to_owned(),
    }
}

/// How wide the bar is in one row.
#[must_use]
pub fn width(ui: &Ui, look: &Look, stages: &[(Stage, Standing)]) -> f32 {
    stages
        .iter()
        .map(|&(stage, standing)| {
            let words = match standing {
                Standing::Done => stage_name(stage).to_owned(),
                _ => chip_words(stage, standing),
            };
            let text = ui
                .painter()
                .layout_no_wrap(words, look.small(), Color32::WHITE);
            let tick = if standing == Standing::Done {
                look.scaled(14.0)
            } else {
                0.0
            };
            text.size().x + 24.0 + tick
        })
        .sum()
}

/// Draws the bar and returns the stage that was pressed. Where there is not room for all of it,
/// as at large text, it goes on in a second row: no stage is ever cut.
pub fn show(ui: &mut Ui, look: &Look, stages: &[(Stage, Standing)]) -> Option<Stage> {
    let mut pressed = None;
    let font = look.small();
    let measure = |ui: &Ui, text: &str| {
        ui.painter()
            .layout_no_wrap(text.to_owned(), font.clone(), Color32::WHITE)
            .size()
    };
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing = vec2(0.0, 3.0);
        let words: Vec<String> = stages
            .iter()
            .map(|&(stage, standing)| match standing {
                // A done stage is told by its fill and its tick: the words are for screen readers.
                Standing::Done => stage_name(stage).to_owned(),
                _ => chip_words(stage, standing),
            })
            .collect();
        for (&(stage, standing), words) in stages.iter().zip(words) {
            let tick = if standing == Standing::Done {
                look.scaled(14.0)
            } else {
                0.0
            };
            let size = measure(ui, &words) + vec2(24.0 + tick, 10.0);
            let (rect, response) = ui.allocate_exact_size(size, Sense::click());
            response.widget_info(|| {
                WidgetInfo::labeled(Role::Button, true, chip_words(stage, standing))
            });
            let hot = response.hovered() || response.has_focus();
            chip(ui, look, rect, standing, &words, tick, hot);
            if response
                .on_hover_text("Show what this stage asks for.")
                .clicked()
            {
                pressed = Some(stage);
            }
        }
    });
    pressed
}

fn chip(ui: &Ui, look: &Look, rect: Rect, standing: Standing, words: &str, tick: f32, hot: bool) {
    let palette = &look.palette;
    let (fill, line, ink) = match standing {
        Standing::Done => (palette.stage_done, palette.edge, palette.ink),
        Standing::Open => (palette.tile, palette.ink, palette.ink),
        Standing::NotYet(_) => (palette.stage_now, palette.fill(State::Suspect), palette.ink),
        Standing::Later => (palette.ground, palette.edge, palette.dim),
    };
    let line = if hot { palette.ink } else { line };
    // Neighbours share an edge: each chip reaches one point into the one before it.
    let rect = Rect::from_min_max(rect.min - vec2(1.0, 0.0), rect.max);
    ui.painter()
        .rect(rect, 0.0, fill, Stroke::new(1.0, line), StrokeKind::Inside);
    if standing == Standing::Done {
        let centre = rect.left_center() + vec2(13.0 + tick / 2.0 - 3.0, 0.0);
        let r = tick * 0.36;
        let path = [
            centre + vec2(-r, 0.0),
            centre + vec2(-r * 0.25, r * 0.75),
            centre + vec2(r, -r * 0.8),
        ];
        ui.painter()
            .line(path.to_vec(), Stroke::new(1.6, palette.ink));
    }
    let at = rect.left_center() + vec2(13.0 + tick, 0.0);
    ui.painter()
        .text(at, Align2::LEFT_CENTER, words, look.small(), ink);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::desk::theme;
    use egui_kittest::kittest::Queryable as _;

    #[test]
    fn a_stage_is_found_by_its_words_and_opens() {
        let stages = [
            (Stage::Cold, Standing::Done),
            (Stage::Supply, Standing::NotYet(2)),
            (Stage::Load, Standing::Later),
            (Stage::Function, Standing::Later),
            (Stage::Closed, Standing::Later),
        ];
        let mut bar = theme::harness()
            .with_size(vec2(400.0, 300.0))
            .build_ui_state(
                move |ui, pressed: &mut Option<Stage>| {
                    ui.vertical(|ui| {
                        if let Some(stage) = show(ui, &Look::default(), &stages) {
                            *pressed = Some(stage);
                        }
                    });
                },
                None,
            );
        bar.run();
        bar.get_by_label("cold: done");
        bar.get_by_label("closed up");
        bar.get_by_label("supply alone: 2 reasons not yet").click();
        bar.run();
        assert_eq!(*bar.state(), Some(Stage::Supply));
        assert_eq!(
            chip_words(Stage::Load, Standing::NotYet(1)),
            "load: 1 reason not yet"
        );
        assert_eq!(chip_words(Stage::Cold, Standing::Open), "cold: open");
    }
}
