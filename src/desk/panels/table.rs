//! The table: the photo with what is known drawn over it.

use std::f32::consts::TAU;

use eframe::egui::{
    Align2, Color32, Painter, Role, Sense, Shape, Stroke, Ui, Vec2, WidgetInfo, vec2,
};

use crate::desk::app::Desk;
use crate::desk::ask::Ask;
use crate::desk::marker::here_on_photo;
use crate::desk::model::{Bench, Show};
use crate::desk::parts;
use crate::desk::theme::Look;
use crate::desk::viewer::{ScreenFromPhoto, Shown, outlined_text, paint_marks};
use crate::geometry::PhotoPoint;

pub(super) fn show(ui: &mut Ui, look: &Look, desk: &mut Desk, aligning: bool, asks: &mut Vec<Ask>) {
    bring_into_view(desk);
    let shown = desk.viewer.show(ui, look);
    let Some(bench) = &desk.model.bench else {
        return;
    };
    let painter = ui.painter_at(shown.response.rect);
    // Until the photo is there in full, what lies on the table is its first picture or another
    // photo: marks would lie beside their joints.
    let is_there = desk.viewer.is_whole() && desk.opened == bench.photo;
    if let Some(view) = shown.view.as_ref().filter(|_| is_there) {
        desk.dark.paint(&painter, view, bench.photo.as_ref());
        if aligning {
            helpful(&painter, look, view, bench);
            landmarks(&painter, look, view, bench);
        } else {
            joints(&painter, look, view, bench);
        }
        drawing(&painter, view, bench, &shown, asks);
    }
    if let Some(at) = shown.clicked {
        asks.push(Ask::Clicked(at));
    }
    let words = [desk.dark.words(), &hint_for(bench, aligning)].join(" ");
    let words = words.trim();
    if !words.is_empty() {
        let rect = shown.response.rect;
        let plate = parts::plate(
            ui,
            look,
            rect.left_bottom() + vec2(14.0, -12.0),
            Align2::LEFT_BOTTOM,
            words,
            rect.width() - 28.0,
        );
        // Painted, so a screen reader would not know of it.
        ui.interact(plate, ui.scope_id().with("what to do next"), Sense::hover())
            .widget_info(|| WidgetInfo::labeled(Role::Label, true, words));
    }
}

/// Moves the photo where the current stop would be out of sight.
fn bring_into_view(desk: &mut Desk) {
    let Some(bench) = &desk.model.bench else {
        return;
    };
    let (Some(view), Some(on)) = (desk.viewer.view(), bench.stop_on_photo()) else {
        return;
    };
    let here = (bench.photo.clone(), bench.here);
    if desk.shown_for == here || desk.viewer.is_opening() {
        return;
    }
    desk.shown_for = here;
    let room = view
        .viewport
        .shrink(view.viewport.width().min(view.viewport.height()) * 0.06);
    if !room.contains(view.point(on.at)) {
        desk.viewer.set_view(|view| view.centred_on(on.at));
    }
}

fn joints(painter: &Painter, look: &Look, view: &ScreenFromPhoto, bench: &Bench) {
    let here = bench.here.and_then(|here| {
        bench
            .seen
            .stop_of_mark
            .iter()
            .position(|&stop| stop == here)
    });
    if bench.whole_row {
        for &stop in &bench.chosen() {
            let Some(mark) = bench.seen.stop_of_mark.iter().position(|&s| s == stop) else {
                continue;
            };
            let mark = bench.seen.marks[mark];
            let radius = ((mark.radius_px * view.points_per_px) as f32 * 1.35).max(11.0);
            painter.extend(here_on_photo(view.point(mark.at), radius));
        }
    }
    if bench.show == Show::Loose {
        for mark in &bench.seen.marks {
            rim(painter, view, mark.at, mark.radius_px);
        }
    }
    paint_marks(
        painter,
        look,
        view,
        &bench.seen.marks,
        here,
        &bench.seen.names,
    );
}

/// The rim of a clicked land, thin, so that it can be fitted to what the photo shows.
fn rim(painter: &Painter, view: &ScreenFromPhoto, at: PhotoPoint, radius_px: f64) {
    let radius = (radius_px * view.points_per_px) as f32;
    for (width, colour) in [(2.6, Color32::BLACK), (1.0, Color32::WHITE)] {
        painter.circle_stroke(view.point(at), radius, Stroke::new(width, colour));
    }
}

fn drawing(
    painter: &Painter,
    view: &ScreenFromPhoto,
    bench: &Bench,
    shown: &Shown,
    asks: &mut Vec<Ask>,
) {
    let Some((from, to, over)) = shown.drawn else {
        return;
    };
    if over {
        asks.push(Ask::Drawn(from, to));
    }
    let aligned = bench
        .photo_state()
        .is_some_and(|photo| photo.alignment().is_some());
    if aligned && matches!(bench.show, Show::Side(_)) {
        let rect = eframe::egui::Rect::from_two_pos(view.point(from), view.point(to));
        for (width, colour) in [(4.0, Color32::BLACK), (1.6, Color32::WHITE)] {
            painter.rect_stroke(
                rect,
                0.0,
                Stroke::new(width, colour),
                eframe::egui::StrokeKind::Middle,
            );
        }
    } else {
        rim(painter, view, from, (to - from).length());
    }
}

/// Placed landmarks as crosses with their names; a bad click in a thick ring.
fn landmarks(painter: &Painter, look: &Look, view: &ScreenFromPhoto, bench: &Bench) {
    let bad = match &bench.draft.fit {
        Some(Ok(fit)) => fit.suspect_click.as_ref().map(|click| click.name.clone()),
        _ => None,
    };
    for (name, at) in &bench.draft.placed {
        let centre = view.point(*at);
        for (width, colour) in [(4.2, Color32::BLACK), (1.6, Color32::WHITE)] {
            let stroke = Stroke::new(width, colour);
            painter.line_segment([centre - vec2(9.0, 0.0), centre + vec2(9.0, 0.0)], stroke);
            painter.line_segment([centre - vec2(0.0, 9.0), centre + vec2(0.0, 9.0)], stroke);
        }
        if bad.as_ref() == Some(name) {
            painter.extend(here_on_photo(centre, 16.0));
        }
        outlined_text(
            painter,
            centre + vec2(11.0, -5.0),
            name,
            look.small_strong(),
        );
    }
}

/// Landmarks that would help most, as broken rings where the fit expects them.
fn helpful(painter: &Painter, look: &Look, view: &ScreenFromPhoto, bench: &Bench) {
    for (name, at) in &bench.draft.helpful {
        let centre = view.point(*at);
        let ring: Vec<_> = (0..=48)
            .map(|i| centre + 15.0 * Vec2::angled(i as f32 * TAU / 48.0))
            .collect();
        for (width, colour) in [(4.2, Color32::BLACK), (1.8, Color32::WHITE)] {
            let stroke = Stroke::new(width, colour);
            painter.extend(Shape::dashed_line(&ring, stroke, 6.0, 5.0));
        }
        outlined_text(
            painter,
            centre + vec2(18.0, -5.0),
            &format!("{name}?"),
            look.small_strong(),
        );
    }
}

/// What to do next, where that is not plain.
fn hint_for(bench: &Bench, aligning: bool) -> String {
    let Some(photo) = bench.photo_state() else {
        return if bench.session.state().photos.is_empty() {
            "No photos in this job yet: drop them on this window."
        } else {
            "No photo of this side yet. Drop one here, or choose another side at the top."
        }
        .to_owned();
    };
    if aligning {
        let what = if bench.draft.view.is_none() {
            "Say first which board and side it shows."
        } else if bench.draft.next.is_some() || bench.draft.placed.is_empty() {
            "Click the landmark that is marked next."
        } else {
            "To move a landmark, choose it in the list and click where it is."
        };
        return format!("{what} The wheel zooms at the pointer, dragging moves.");
    }
    let of_the_map = if photo.alignment().is_some() || bench.session.maps().is_empty() {
        ""
    } else if bench.matching.is_running(&photo.facts.photo) {
        "This photo is being matched with those that lie on the map; it can be stopped below."
    } else if bench.matching.refusal(&photo.facts.photo).is_some() {
        "This photo did not find its place by itself: K says why and asks for landmarks."
    } else if bench.seen.can_match {
        "This photo does not lie on the map yet: let it find its place (Shift K), or place landmarks on it (K)."
    } else {
        "This photo does not lie on the map yet: place landmarks on it (K)."
    };
    match &bench.show {
        Show::Loose if bench.stops.is_empty() => format!(
            "Click the middle of a joint to judge it. Hold Shift and drag from its middle to its rim to say how large it is. {of_the_map}"
        )
        .trim_end()
        .to_owned(),
        _ => of_the_map.to_owned(),
    }
}
