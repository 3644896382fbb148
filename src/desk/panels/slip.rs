//! The slip as it will print: black on white, place and action in one glance.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

use eframe::egui::{
    Color32, ColorImage, Context, Frame, Image, Margin, Pos2, Rect, RichText, Shape, Stroke,
    TextureHandle, TextureOptions, Ui, pos2, vec2,
};

use crate::desk::ask::Ask;
use crate::desk::model::Bench;
use crate::desk::parts;
use crate::desk::theme::Look;
use crate::paper::{Line, Picture, PictureMark, SlipView, shown};

/// Width of the overview picture of a line, points.
const OVERVIEW_W: f32 = 150.0;
/// Side of the close-up.
const CLOSE_UP_W: f32 = 120.0;
/// Width of the column to sign.
const SIGN_W: f32 = 120.0;

/// Textures of the slip's pictures, for one version of the slip.
#[derive(Default)]
pub struct Pictures {
    of: usize,
    kept: BTreeMap<(usize, bool), TextureHandle>,
}

impl Pictures {
    fn texture(
        &mut self,
        ctx: &Context,
        key: (usize, bool),
        picture: &Picture,
    ) -> Option<&mut TextureHandle> {
        match self.kept.entry(key) {
            Entry::Occupied(kept) => Some(kept.into_mut()),
            Entry::Vacant(room) => {
                let pixels = image::load_from_memory(&picture.jpeg).ok()?.to_rgb8();
                let size = [pixels.width() as usize, pixels.height() as usize];
                let image = ColorImage::from_rgb(size, pixels.as_raw());
                Some(room.insert(ctx.load_texture("slip", image, TextureOptions::LINEAR)))
            }
        }
    }
}

pub(super) fn show(
    ui: &mut Ui,
    look: &Look,
    bench: &Bench,
    pictures: &mut Pictures,
    asks: &mut Vec<Ask>,
) {
    let Some((version, view)) = &bench.slip else {
        ui.label(if bench.slip_stopped {
            "The slip was not laid out. Go back to the table and come here again to try anew."
        } else {
            "The slip is being laid out…"
        });
        return;
    };
    if pictures.of != *version {
        *pictures = Pictures {
            of: *version,
            ..Pictures::default()
        };
    }
    ui.horizontal_wrapped(|ui| {
        if parts::button(ui, look, "Write the slip: HTML, CSV, JSON", true).clicked() {
            asks.push(Ask::Export);
        }
        parts::caption(
            ui,
            look,
            "Into the job's exports folder. Print the HTML page, or read it on a phone. What is ticked there does not come back here: say on each joint what was done, reworked (W) or accepted after a recheck (A).",
        );
    });
    if bench.session.state().log.len() != *version {
        parts::caption(
            ui,
            look,
            "Something was written down since: come back to this page for the newer slip.",
        );
    }
    ui.add_space(8.0);
    sheet(ui, |ui| paper(ui, look, view, pictures));
}

/// A white sheet whose text is black, whatever the theme.
pub(super) fn sheet(ui: &mut Ui, add: impl FnOnce(&mut Ui)) {
    Frame::new()
        .fill(Color32::WHITE)
        .inner_margin(Margin::same(28))
        .show(ui, |ui| {
            ui.visuals_mut().override_text_color = Some(Color32::BLACK);
            ui.visuals_mut().widgets.noninteractive.bg_stroke =
                Stroke::new(1.0, Color32::from_gray(120));
            add(ui);
        });
}

fn paper(ui: &mut Ui, look: &Look, view: &SlipView, pictures: &mut Pictures) {
    ui.label(RichText::new(format!("Rework slip: {}", shown(&view.unit))).font(look.title()));
    let lines = if view.line_count == 1 {
        "1 line".to_owned()
    } else {
        format!("{} lines", view.line_count)
    };
    let of: Vec<String> = std::iter::once(shown(&view.model))
        .chain(view.boards.iter().cloned())
        .collect();
    let mut under = format!("{}. {lines}.", of.join(", "));
    if let Some(sample) = &view.sample {
        under += &format!(" {sample}.");
    }
    ui.label(RichText::new(under).font(look.small()));
    ui.add_space(6.0);
    Frame::new()
        .stroke(Stroke::new(2.0, Color32::BLACK))
        .inner_margin(Margin::same(8))
        .show(ui, |ui| {
            for caution in &view.cautions {
                ui.horizontal_wrapped(|ui| {
                    ui.label(
                        RichText::new(format!("{}.", caution.title)).font(look.small_strong()),
                    );
                    ui.label(RichText::new(&caution.text).font(look.small()));
                });
            }
            for hazard in &view.hazards {
                ui.label(RichText::new(shown(hazard)).font(look.small_strong()));
            }
        });
    if view.line_count == 0 {
        ui.add_space(10.0);
        ui.label("Nothing is marked for rework. That says only that nobody has marked anything.");
    }
    for section in &view.sections {
        ui.add_space(10.0);
        ui.label(RichText::new(shown(&section.heading)).font(look.strong()));
        rule(ui, 1.6);
        for line in &section.lines {
            one(ui, look, line, pictures);
            rule(ui, 0.6);
        }
    }
    foot(ui, look, view);
}

fn rule(ui: &mut Ui, width: f32) {
    let (rect, _) = ui.allocate_exact_size(
        vec2(ui.available_width(), 6.0),
        eframe::egui::Sense::hover(),
    );
    ui.painter().hline(
        rect.x_range(),
        rect.center().y,
        Stroke::new(width, Color32::BLACK),
    );
}

fn one(ui: &mut Ui, look: &Look, line: &Line, pictures: &mut Pictures) {
    ui.horizontal_top(|ui| {
        ui.label(RichText::new(line.number.to_string()).font(look.title()));
        let wide = ui.available_width() > look.scaled(520.0);
        ui.vertical(|ui| {
            ui.set_width(OVERVIEW_W);
            for (close, shown_picture, width) in [
                (false, &line.overview, OVERVIEW_W),
                (true, &line.close_up, CLOSE_UP_W),
            ] {
                if let Some(found) = shown_picture {
                    picture(ui, found, width, (line.number, close), pictures);
                }
            }
        });
        let room = if wide {
            ui.available_width() - SIGN_W - 20.0
        } else {
            ui.available_width()
        };
        ui.vertical(|ui| {
            ui.set_width(room.max(120.0));
            words(ui, look, line);
        });
        if wide {
            ui.vertical(|ui| sign(ui, look, line));
        }
    });
}

fn words(ui: &mut Ui, look: &Look, line: &Line) {
    ui.horizontal_wrapped(|ui| {
        ui.label(RichText::new(shown(&line.place)).font(look.strong()));
        ui.label(shown(&line.part));
    });
    for fault in &line.faults {
        ui.label(RichText::new(format!("{}.", fault.term)).font(look.strong()));
    }
    if line.faults.is_empty() {
        ui.label(&line.verdict);
    }
    for said in &line.evidence {
        ui.label(shown(said));
    }
    if !line.note.is_empty() {
        ui.label(format!("“{}”", shown(&line.note)));
    }
    for action in &line.actions {
        ui.label(format!("→ {}", shown(action)));
    }
    let severity = line
        .severity
        .map_or(crate::paper::NOT_DECIDED, |severity| severity.words());
    ui.label(RichText::new(format!("{severity}.")).font(look.small_strong()));
    for caution in &line.cautions {
        ui.label(RichText::new(shown(caution)).font(look.small_strong()));
    }
    if let Some(disagreement) = &line.disagreement {
        ui.label(shown(disagreement));
    }
    ui.label(RichText::new(shown(&line.whereabouts)).font(look.small()));
}

fn sign(ui: &mut Ui, look: &Look, line: &Line) {
    for (what, signed) in [("done", &line.done), ("rechecked", &line.rechecked)] {
        ui.horizontal(|ui| {
            let (rect, _) = ui.allocate_exact_size(vec2(14.0, 14.0), eframe::egui::Sense::hover());
            ui.painter().rect_stroke(
                rect,
                0.0,
                Stroke::new(1.4, Color32::BLACK),
                eframe::egui::StrokeKind::Inside,
            );
            if signed.is_some() {
                let stroke = Stroke::new(1.6, Color32::BLACK);
                ui.painter()
                    .line_segment([rect.left_top(), rect.right_bottom()], stroke);
                ui.painter()
                    .line_segment([rect.right_top(), rect.left_bottom()], stroke);
            }
            ui.label(RichText::new(what).font(look.small()));
        });
        let who = signed
            .as_ref()
            .map_or(String::new(), |signed| shown(&signed.by));
        ui.label(RichText::new(format!("by {who}")).font(look.small()));
        rule(ui, 0.6);
    }
}

fn picture(
    ui: &mut Ui,
    picture: &Picture,
    width: f32,
    key: (usize, bool),
    pictures: &mut Pictures,
) {
    let [w, h] = picture.size.map(|side| side.max(1) as f32);
    let size = vec2(width, width * h / w);
    let rect = if picture.jpeg.is_empty() {
        let (rect, _) = ui.allocate_exact_size(size, eframe::egui::Sense::hover());
        ui.painter().rect_stroke(
            rect,
            0.0,
            Stroke::new(1.0, Color32::BLACK),
            eframe::egui::StrokeKind::Inside,
        );
        rect
    } else {
        let Some(texture) = pictures.texture(ui.ctx(), key, picture) else {
            return;
        };
        ui.add(Image::from_texture((texture.id(), size)).alt_text(&picture.alt))
            .rect
    };
    let place = |at: &[f64; 2]| -> Pos2 {
        pos2(
            rect.left() + (at[0] as f32 + 0.5) / w * rect.width(),
            rect.top() + (at[1] as f32 + 0.5) / h * rect.height(),
        )
    };
    let painter = ui.painter_at(rect);
    for outline in &picture.outlines {
        let points = outline.iter().map(place).collect();
        painter.add(Shape::closed_line(points, Stroke::new(0.8, Color32::BLACK)));
    }
    for mark in &picture.marks {
        for (width, colour) in [(4.4, Color32::BLACK), (2.0, Color32::WHITE)] {
            let stroke = Stroke::new(width, colour);
            match mark {
                PictureMark::Ring { at, radius } => {
                    let radius = (*radius as f32 / w * rect.width()).max(6.0);
                    painter.circle_stroke(place(at), radius, stroke);
                }
                PictureMark::Frame { from, to } => {
                    let frame = Rect::from_two_pos(place(from), place(to));
                    painter.rect_stroke(frame, 0.0, stroke, eframe::egui::StrokeKind::Middle);
                }
                PictureMark::Arc { points } => {
                    painter.line(points.iter().map(place).collect(), stroke);
                }
            }
        }
    }
}

fn foot(ui: &mut Ui, look: &Look, view: &SlipView) {
    ui.add_space(8.0);
    let mut said: Vec<String> = Vec::new();
    if !view.materials.is_empty() {
        said.push(format!("Materials: {}.", view.materials.join(", ")));
    }
    said.extend(view.coverage.iter().cloned());
    said.extend(
        view.cannot_judge
            .iter()
            .map(|o| format!("{} cannot be judged: {}.", o.place, o.obstacle)),
    );
    said.extend(view.accepted.iter().cloned());
    said.extend(
        view.eye_and_hint
            .iter()
            .map(|counted| format!("The eye and the hint: {}", counted.words)),
    );
    said.extend(view.silent.iter().cloned());
    for words in said {
        ui.label(RichText::new(shown(&words)).font(look.small()));
    }
}
