//! Frame times of the overlay of a map being made: 10,000 pins over a 12 MP photo.

use std::time::Instant;

use benchglass::board::draft::{Edit, FrameBy, PartSpec};
use benchglass::board::{Land, LandShape, PartKind, Side};
use benchglass::desk::mapping::overlay::paint;
use benchglass::desk::mapping::{Making, Shown};
use benchglass::desk::theme::Look;
use benchglass::desk::viewer::ScreenFromPhoto;
use benchglass::geometry::PhotoPoint;
use eframe::egui::{self, pos2, vec2};

/// Pins along and across.
const ROW: usize = 40;
const ROWS: usize = 250;
/// Photo, px.
const SIZE: [u32; 2] = [4000, 3000];

/// 10,000 pins on a 600 x 450 mm board: 250 connectors of 40, or as many parts of one.
fn made(one_each: bool) -> Result<Making, Box<dyn std::error::Error>> {
    let mut making = Making::new("photo".to_owned(), SIZE, "bench", "main");
    let land = Land {
        shape: LandShape::Round,
        size: [1.6, 1.6],
    };
    let mut edits = vec![Edit::Frame {
        side: Side::Component,
        photo_size: SIZE,
        by: FrameBy::Length {
            from: [0.0, 0.0],
            to: [4000.0, 0.0],
            length_mm: 600.0,
        },
    }];
    for i in 0..ROWS {
        let (x, y) = (10.0 + 110.0 * (i % 5) as f64, 10.0 + 8.0 * (i / 5) as f64);
        let part = PartSpec {
            reference: None,
            kind: PartKind::Header,
            value: String::new(),
            side: Side::Component,
            land,
            drill: Some(0.8),
        };
        if one_each {
            edits.extend((0..ROW).map(|pin| Edit::OnePin {
                part: part.clone(),
                at: [x + 2.54 * pin as f64, y],
            }));
            continue;
        }
        edits.push(Edit::Row {
            part,
            first: [x, y],
            last: [x + 2.54 * (ROW - 1) as f64, y],
            count: ROW,
            first_no: 1,
            extend: None,
        });
    }
    let words = "bench".to_owned();
    let begun = Instant::now();
    making.apply(&Edit::Together { words, edits })?;
    super::say(&format!(
        "one edit of {} pins, with the linter and the index: {:.0} ms",
        ROW * ROWS,
        begun.elapsed().as_secs_f64() * 1e3
    ));
    Ok(making)
}

/// Frame times, ms, of the view code at several distances.
pub(super) fn overlay(report: impl Fn(&str, &mut [f64])) -> Result<(), Box<dyn std::error::Error>> {
    let ctx = egui::Context::default();
    let look = Look::default();
    look.apply(&ctx);
    for (what, one_each) in [("connectors of 40", false), ("parts of one pin", true)] {
        let making = made(one_each)?;
        frames(&ctx, &look, what, &making, &report);
    }
    Ok(())
}

fn frames(
    ctx: &egui::Context,
    look: &Look,
    what: &str,
    making: &Making,
    report: &impl Fn(&str, &mut [f64]),
) {
    let screen = egui::Rect::from_min_size(pos2(0.0, 0.0), vec2(1280.0, 800.0));
    let whole = ScreenFromPhoto::fit(SIZE, 0, screen);
    let middle = PhotoPoint::new(1200.0, 2000.0);
    for (name, zoom) in [
        ("whole board", 1.0),
        ("four times closer", 4.0),
        ("close", 16.0),
    ] {
        let view = whole.centred_on(middle).zoomed_at(screen.center(), zoom);
        let mut times = Vec::new();
        for frame in 0..200 {
            let shift = vec2((frame as f32 * 0.1).sin() * 3.0, 0.0);
            let view = view.panned(shift);
            let begun = Instant::now();
            let input = egui::RawInput {
                screen_rect: Some(screen),
                time: Some(f64::from(frame) / 60.0),
                ..egui::RawInput::default()
            };
            let mut output = ctx.run_ui(input, |ui| {
                let shown = making.preview(view.photo(screen.center()));
                paint(ui.painter(), look, &view, making, &shown);
                let nothing = Shown::default();
                assert_ne!(shown.radius_px, nothing.radius_px);
            });
            let drawn = ctx.tessellate(output.shapes, output.pixels_per_point);
            assert!(!drawn.is_empty());
            times.push(begun.elapsed().as_secs_f64() * 1e3);
            output.textures_delta.clear();
        }
        report(&format!("map of 10,000 pins, {what}, {name}"), &mut times);
    }
}
