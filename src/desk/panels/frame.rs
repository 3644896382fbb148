//! What goes where.

use eframe::egui::{self, CentralPanel, Frame, Margin, Panel, ScrollArea, Ui};

use super::{
    align, bottom, gate, glass, help, import, measure, messages, new_job, slip, table, top,
};
use crate::desk::app::Desk;
use crate::desk::ask::{Ask, Choosing};
use crate::desk::background::UnderWay;
use crate::desk::keys::Now;
use crate::desk::mapping;
use crate::desk::model::Page;
use crate::desk::start::{self, Start};
use crate::desk::theme::Look;

/// Share of the window's width that the glass gets.
const GLASS_SHARE: f32 = 0.43;
/// Height of the round strip at 100 % text, points: its line of words and two rows of tiles.
const STRIP_H: f32 = 124.0;
/// Above and below what is in the round strip, points.
const STRIP_EDGE: i8 = 8;
/// Widest column of a page of text, points; longer lines tire the eye.
const PAGE_W: f32 = 860.0;

/// Draws the whole window.
pub(in crate::desk) fn frame(
    desk: &mut Desk,
    ui: &mut Ui,
    now: &Now,
    under_way: &[UnderWay],
    asks: &mut Vec<Ask>,
) {
    let look = desk.model.look;
    if let Some(bench) = &desk.model.bench {
        plain(Panel::top("top"), look.palette.ground, [16, 7])
            .show(ui, |ui| top::show(ui, &look, bench, desk.model.page, asks));
    }
    if !desk.model.messages.is_empty() || !under_way.is_empty() {
        plain(Panel::bottom("messages"), look.palette.tile, [16, 6]).show(ui, |ui| {
            messages::show(ui, &look, &desk.model.messages, under_way, asks)
        });
    }
    if desk.model.chooser.is_some() {
        choosing(desk, ui, &look, asks);
        return;
    }
    match desk.model.page {
        Page::Start => start_page(desk, ui, &look, asks),
        Page::NewJob => page(ui, &look, |ui| {
            new_job::show(ui, &look, &mut desk.model.new_job, asks)
        }),
        Page::Table | Page::Align => places(desk, ui, &look, now, asks),
        Page::Map => mapping::panel(desk, ui, &look, asks),
        Page::Import => {
            if let Some(importing) = &mut desk.model.importing {
                page(ui, &look, |ui| import::show(ui, &look, importing, asks));
            }
        }
        Page::Measure => page(ui, &look, |ui| {
            if let Some(bench) = &mut desk.model.bench {
                measure::show(ui, &look, bench, asks);
            }
        }),
        Page::Gate => page(ui, &look, |ui| {
            if let Some(bench) = &mut desk.model.bench {
                gate::show(ui, &look, bench, asks);
            }
        }),
        Page::Slip => {
            let pictures = &mut desk.pictures;
            if let Some(bench) = &desk.model.bench {
                page(ui, &look, |ui| slip::show(ui, &look, bench, pictures, asks));
            }
        }
        Page::Help => page(ui, &look, |ui| {
            help::show(ui, &look, desk.model.bench.as_ref())
        }),
    }
}

fn plain(panel: Panel, fill: egui::Color32, margin: [i8; 2]) -> Panel {
    panel.resizable(false).frame(
        Frame::new()
            .fill(fill)
            .inner_margin(Margin::symmetric(margin[0], margin[1])),
    )
}

fn choosing(desk: &mut Desk, ui: &mut Ui, look: &Look, asks: &mut Vec<Ask>) {
    CentralPanel::default()
        .frame(
            Frame::new()
                .fill(look.palette.pane)
                .inner_margin(Margin::same(24)),
        )
        .show(ui, |ui| {
            if let Some((what, chooser)) = &mut desk.model.chooser {
                asks.extend(chooser.show(ui, look, *what));
            }
        });
}

fn start_page(desk: &mut Desk, ui: &mut Ui, look: &Look, asks: &mut Vec<Ask>) {
    let recent: Vec<_> = desk
        .model
        .recent
        .iter()
        .map(|(_, job)| job.clone())
        .collect();
    let dropping = desk.dropping();
    let pressed = CentralPanel::default()
        .frame(Frame::new().fill(look.palette.ground))
        .show(ui, |ui| start::show(ui, look, &recent, dropping))
        .inner;
    asks.extend(pressed.and_then(|pressed| {
        match pressed {
            Start::AddPhotos => Some(Ask::Choose(Choosing::Photos)),
            Start::Tour => Some(Ask::Tour),
            Start::OpenJob => Some(Ask::Choose(Choosing::Job)),
            Start::NewJob => Some(Ask::Page(Page::NewJob)),
            Start::Recent(i) => desk
                .model
                .recent
                .get(i)
                .map(|(path, _)| Ask::Open(path.clone())),
        }
    }));
}

/// A page of text in the middle, scrolling.
fn page(ui: &mut Ui, look: &Look, add: impl FnOnce(&mut Ui)) {
    CentralPanel::default()
        .frame(
            Frame::new()
                .fill(look.palette.pane)
                .inner_margin(Margin::same(20)),
        )
        .show(ui, |ui| {
            ScrollArea::vertical()
                .auto_shrink([false, false])
                .show(ui, |ui| {
                    let width = look.scaled(PAGE_W).min(ui.available_width() - 16.0);
                    let side = ((ui.available_width() - width) / 2.0).max(0.0);
                    ui.horizontal(|ui| {
                        ui.add_space(side);
                        ui.vertical(|ui| {
                            ui.set_width(width);
                            add(ui);
                        });
                    });
                });
        });
}

/// Table, glass (or landmarks) and strip.
fn places(desk: &mut Desk, ui: &mut Ui, look: &Look, now: &Now, asks: &mut Vec<Ask>) {
    let aligning = desk.model.page == Page::Align;
    if !aligning && let Some(bench) = &desk.model.bench {
        let height = (look.scaled(STRIP_H)).min(ui.available_height() * 0.3);
        // The line above the strip is a point of it.
        let inner = height - 2.0 * f32::from(STRIP_EDGE) - 1.0;
        plain(Panel::bottom("strip"), look.palette.strip, [16, STRIP_EDGE]).show(ui, |ui| {
            bottom::show(ui, look, bench, &mut desk.strip, inner, asks)
        });
    }
    let width = (ui.available_width() * GLASS_SHARE).max(340.0);
    let pending = &mut desk.model.pending;
    if let Some(bench) = &mut desk.model.bench {
        plain(Panel::right("glass"), look.palette.pane, [16, 12])
            .exact_size(width)
            .show(ui, |ui| {
                if aligning {
                    align::show(ui, look, bench, asks);
                } else {
                    glass::show(ui, look, bench, &mut desk.glass, pending, now, asks);
                }
            });
    }
    // The table fills itself where no photo lies.
    CentralPanel::default()
        .frame(Frame::new())
        .show(ui, |ui| table::show(ui, look, desk, aligning, asks));
}
