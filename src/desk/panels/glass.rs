//! The glass: where am I, what do I see, why does it say so, what do I press.

use std::hash::{DefaultHasher, Hash, Hasher};
use std::sync::Arc;

use eframe::egui::{self, RichText, ScrollArea, Slider, Ui};
use image::{Rgb, RgbImage};

use super::{judge, twins};
use crate::desk::ask::Ask;
use crate::desk::glass_view::{Crop, GlassView, POINTS_PER_MM, Ring};
use crate::desk::keys::Now;
use crate::desk::marker::State;
use crate::desk::model::{Bench, OnGlass, Pending, Show};
use crate::desk::parts::{self, Band, Weight};
use crate::desk::stops::{OnPhoto, Whereabouts};
use crate::desk::theme::Look;
use crate::geometry::PhotoPoint;
use crate::joint::{self, look as look_at_joint};
use crate::photo::crop;
use crate::record::{Target, Verdict};

/// Side of the enlarged joint at 100 % text, points.
const SQUARE: f32 = 240.0;
/// Its side while something is being typed.
const SQUARE_ASIDE: f32 = 118.0;
/// Highest the unrolled ring is drawn, points.
const RING_H: f32 = 64.0;
/// Most pixels along the crop's side: a texture beyond it shows no more on the glass.
const MOST_PX: u32 = 900;
/// Of a place whose scale is not known, this many radii are shown each way.
const RADII_SHOWN: f64 = 2.1;

pub(super) fn show(
    ui: &mut Ui,
    look: &Look,
    bench: &mut Bench,
    glass: &mut GlassView,
    pending: &mut Pending,
    now: &Now,
    asks: &mut Vec<Ask>,
) {
    cut_out(bench);
    ScrollArea::vertical()
        .auto_shrink([false, false])
        .show(ui, |ui| {
            let bench = &*bench;
            let Some(stop) = bench.stop() else {
                nothing_yet(ui, look, bench, pending, now, asks);
                return;
            };
            parts::title(
                ui,
                look,
                &crate::paper::shown(&stop.name),
                &crate::paper::shown(&stop.what),
            );
            if let Some(watch) = &stop.watch {
                let words = format!("Weak spot: {}.", watch.trim_end_matches('.'));
                ui.label(
                    RichText::new(crate::paper::shown(&words))
                        .font(look.small())
                        .color(look.palette.words(State::Suspect)),
                );
            }
            ui.add_space(4.0);
            // While something is being typed or named, the joint makes room for it and stays in sight.
            let busy = *pending != Pending::Nothing;
            let side = if busy {
                SQUARE_ASIDE
            } else {
                square_side(ui, look)
            };
            if ui.available_width() > side + look.scaled(170.0) {
                ui.horizontal_top(|ui| {
                    picture(ui, look, bench, glass, side);
                    ui.vertical(|ui| reading(ui, look, bench, busy));
                });
            } else {
                picture(ui, look, bench, glass, side);
                reading(ui, look, bench, busy);
            }
            if busy {
                ui.add_space(4.0);
                judge::show(ui, look, bench, pending, now, asks);
                return;
            }
            ring(ui, look, bench, glass);
            twins::row(ui, look, bench, glass, asks);
            judged(ui, look, bench);
            radius(ui, look, bench, asks);
            ui.add_space(4.0);
            judge::show(ui, look, bench, pending, now, asks);
        });
}

fn square_side(ui: &Ui, look: &Look) -> f32 {
    SQUARE
        .min(ui.available_width())
        .min((ui.ctx().content_rect().height() * 0.42).max(180.0))
        .max(look.scaled(60.0).min(180.0))
}

fn nothing_yet(
    ui: &mut Ui,
    look: &Look,
    bench: &Bench,
    pending: &mut Pending,
    now: &Now,
    asks: &mut Vec<Ask>,
) {
    let (title, words) = match (&bench.show, bench.photo_state()) {
        (_, None) if bench.session.state().photos.is_empty() => (
            "Photos first",
            "Drop the photos of this unit on the window: overviews of both sides, then close-ups of the rows that you want to judge. The originals are copied into the job and never altered.",
        ),
        (Show::Loose, _) => (
            "No joint chosen",
            "Click the middle of a joint on the photo, or press J to let the joints be found, the most suspect first. A joint comes up here enlarged, with what the hint says of it. With a board map of this model, the photo can be laid on the map instead and every joint has its name: adopt one in the list at the top, then place landmarks.",
        ),
        _ => ("No joint here", "The map has no joints on this side."),
    };
    parts::title(ui, look, title, "");
    ui.label(words);
    ui.add_space(8.0);
    judge::show(ui, look, bench, pending, now, asks);
}

fn picture(ui: &mut Ui, look: &Look, bench: &Bench, glass: &mut GlassView, side: f32) {
    let name = bench
        .stop()
        .map(|stop| stop.name.clone())
        .unwrap_or_default();
    if let Some(twin) = bench.twins.current() {
        let of = format!("twin of {name}, {}", twin.whose());
        glass.joint(ui, look, &twin.crop, side, &of);
        return;
    }
    if let Some(on) = &bench.glass {
        glass.joint(ui, look, &on.crop, side, &name);
        return;
    }
    let words = if bench.stop_on_photo().is_some() {
        "Opening the photo…"
    } else if bench.photo.is_some() {
        "The photo on the table does not show this joint. What you say of it counts as a look at the board itself."
    } else {
        "No photo of this side yet. What you say counts as a look at the board itself."
    };
    // Beside the reading a row goes on for ever: only from top to bottom are words wrapped.
    let down = egui::Layout::top_down(egui::Align::Min);
    ui.allocate_ui_with_layout(egui::vec2(side, side), down, |ui| {
        egui::Frame::new()
            .fill(look.palette.well)
            .inner_margin(16)
            .show(ui, |ui| {
                ui.set_min_size(egui::vec2(side - 32.0, side - 32.0));
                ui.set_max_width(side - 32.0);
                ui.label(RichText::new(words).color(look.palette.dim));
            });
    });
}

/// What the hint says, in sentences.
fn reading(ui: &mut Ui, look: &Look, bench: &Bench, brief: bool) {
    let Some(stop) = bench.stop() else { return };
    if let Some(twin) = bench.twins.current() {
        twins::beside(ui, look, bench, twin);
        return;
    }
    if bench.is_hidden(stop) {
        parts::band_pill(ui, look, Band::Hidden);
        ui.label("One joint in ten is judged without the hint, so that the job can tell what the eye finds alone.");
        if bench.seen.eye_and_hint.compared() > 0 {
            ui.add_space(2.0);
            parts::caption(
                ui,
                look,
                "What has been counted so far stands on the page of keys (F1).",
            );
        }
        return;
    }
    let Some((report, hint)) = bench.hint(stop) else {
        let words = match (bench.stop_on_photo(), &bench.hinting) {
            (None, _) => "The hint speaks only of joints that a photo shows.",
            (Some(_), Some(_)) if bench.hint_stopped => {
                "Reading the joints was stopped. Show another photo and this one again to read them."
            }
            (Some(_), Some(_)) => "The joints of this photo are being read…",
            _ => "The hint comes once the photo is open.",
        };
        parts::caption(ui, look, words);
        return;
    };
    let band = match hint.band {
        joint::Band::LookHereFirst => Band::LookHereFirst,
        joint::Band::CannotTell => Band::CannotTell,
        joint::Band::NoLineSeen => Band::NoLineSeen,
        joint::Band::NoReading => Band::NoReading,
    };
    parts::band_pill(ui, look, band);
    ui.add_space(2.0);
    ui.label(&hint.reason);
    if let Some(rank) = hint.rank {
        let read = report
            .joints
            .iter()
            .filter(|joint| joint.rank.is_some())
            .count();
        let words = format!("{} of {read} in this photo.", ordinal(rank));
        parts::sentence(ui, look, &[(&words, Weight::Dim)]);
    }
    if let Some(likelihood) = hint.likelihood.filter(|_| !brief) {
        // The first sentence is what must be read; the rest is one pointer's rest away.
        let calibration = report.calibration.trim();
        let first = calibration
            .split_once(". ")
            .map_or(calibration, |(first, _)| first);
        let small = format!(
            "likelihood {likelihood:.2}. {}. It never clears a joint.",
            first.trim_end_matches('.')
        );
        parts::caption(ui, look, &small).on_hover_text(calibration);
    }
}

fn ordinal(rank: usize) -> String {
    let ending = match (rank % 100, rank % 10) {
        (11..=13, _) => "th",
        (_, 1) => "st",
        (_, 2) => "nd",
        (_, 3) => "rd",
        _ => "th",
    };
    format!("{rank}{ending}")
}

fn ring(ui: &mut Ui, look: &Look, bench: &Bench, glass: &mut GlassView) {
    let hidden = bench.stop().is_some_and(|stop| bench.is_hidden(stop));
    match bench.glass.as_ref().map(|on| &on.ring) {
        Some(Ok(ring)) if !hidden => {
            ui.add_space(4.0);
            glass.ring(ui, look, ring, look.scaled(RING_H));
        }
        _ => {}
    }
}

/// What is known of it, who said so and when.
fn judged(ui: &mut Ui, look: &Look, bench: &Bench) {
    let Some(stop) = bench.stop() else { return };
    let state = bench
        .here
        .map_or(State::Unseen, |here| bench.state_of(here));
    let far = bench.far_words(stop);
    ui.horizontal_wrapped(|ui| {
        match &far {
            Some(far) if state == State::TooFar => parts::state_said(ui, look, state, far),
            _ => parts::state_words(ui, look, state),
        };
        let Some(place) = bench.session.state().place(&stop.target) else {
            parts::caption(ui, look, "Nobody has judged it yet.");
            return;
        };
        let faults: Vec<String> = place
            .faults
            .iter()
            .map(|fault| match place.verdict {
                // Mended and rechecked: how bad it was no longer holds anything up.
                Verdict::Accepted => format!("was: {}", fault.fault.words()),
                _ => format!("{}, {}", fault.fault.words(), fault.severity.words()),
            })
            .collect();
        let mut words = faults.join("; ");
        if state == State::TooFar {
            words = format!("{} {words}", place.verdict.words());
        }
        if place.contradicted {
            words += " (people disagree: the worst counts)";
        }
        if !place.obstacle.is_empty() {
            words += &format!(" in the way: {}", place.obstacle);
        }
        for note in &place.notes {
            words += &format!(" “{note}”");
        }
        words += &format!("  by {}", place.by.join(", "));
        match (&far, place.look.px_per_mm()) {
            // Its sign says so.
            (Some(_), _) if state == State::TooFar => {}
            (Some(far), _) => words += &format!(", {far}"),
            (None, Some(scale)) => words += &format!(", at {scale:.0} px/mm"),
            (None, None) => {}
        }
        parts::caption(ui, look, &crate::paper::shown(words.trim()));
    });
    if !bench.said.is_empty() {
        parts::caption(
            ui,
            look,
            &format!("Last written down: {}", crate::paper::shown(&bench.said)),
        );
    }
}

/// The size of a clicked place, while nobody has judged it.
fn radius(ui: &mut Ui, look: &Look, bench: &Bench, asks: &mut Vec<Ask>) {
    let Some(stop) = bench.stop() else { return };
    let (Target::Photo(spot), Whereabouts::Photo(..)) = (&stop.target, stop.place) else {
        return;
    };
    if !bench.clicked.contains(spot) {
        return;
    }
    ui.horizontal_wrapped(|ui| {
        let name = ui.label("Radius of the land");
        let mut value = spot.radius_px;
        let most = (spot.radius_px * 2.0).max(120.0);
        let slider = ui
            .add(
                // Decimals given to the slider would round the value itself as soon as it is shown.
                Slider::new(&mut value, 4.0..=most)
                    .suffix(" px")
                    .custom_formatter(|px, _| format!("{px:.0}")),
            )
            .labelled_by(name.id);
        if slider.changed() {
            asks.push(Ask::Radius(value));
        }
        if parts::button(ui, look, "Forget this place", false).clicked() {
            asks.push(Ask::Forget);
        }
    });
}

/// Cuts the current joint out of the decoded photo, once for each joint, photo and hint.
fn cut_out(bench: &mut Bench) {
    let Some((key, on)) = wanted(bench) else {
        bench.glass = None;
        return;
    };
    if bench.glass.as_ref().is_some_and(|glass| glass.key == key) {
        return;
    }
    let Some((_, image)) = &bench.image else {
        return;
    };
    let image = Arc::clone(image);
    let arc = bench
        .stop()
        .filter(|stop| !bench.is_hidden(stop))
        .and_then(|stop| bench.hint(stop))
        .map(|(_, hint)| hint.arc.clone())
        .unwrap_or_default();
    let mut hasher = DefaultHasher::new();
    key.hash(&mut hasher);
    let number = hasher.finish();
    let ring = bench
        .stop()
        .zip(bench.photo_state())
        .and_then(|(stop, photo)| stop.joint_spot(photo))
        .map_or_else(|| Err(String::new()), |spot| look_at_joint(&image, &spot))
        .map(|seen| unrolled(&seen, number));
    bench.glass = Some(OnGlass {
        key,
        crop: enlarged(&image, on, &arc, number),
        ring,
    });
}

fn wanted(bench: &Bench) -> Option<(String, OnPhoto)> {
    let on = bench.stop_on_photo()?;
    let (of, _) = bench.image.as_ref()?;
    let photo = bench.photo.as_ref().filter(|photo| *photo == of)?;
    let stop = bench.stop()?;
    let hinted = bench.hint(stop).is_some() && !bench.is_hidden(stop);
    Some((format!("{photo} {} {:?} {hinted}", stop.name, on), on))
}

fn enlarged(image: &RgbImage, on: OnPhoto, arc: &[[f64; 2]], key: u64) -> Crop {
    // A little more than the square shows, so that its corners are filled at any size.
    let half = match on.px_per_mm {
        Some(scale) => f64::from(SQUARE) / POINTS_PER_MM / 2.0 * scale * 1.02,
        None => on.radius_px * RADII_SHOWN,
    };
    let side = ((2.0 * half).round() as u32).clamp(8, MOST_PX);
    let per_px = f64::from(side) / (2.0 * half);
    let middle = (f64::from(side) - 1.0) / 2.0;
    let to_crop = |at: &[f64; 2]| {
        let offset = PhotoPoint::new(at[0], at[1]) - on.at;
        [middle + offset.x * per_px, middle + offset.y * per_px]
    };
    Crop {
        key,
        pixels: Arc::new(crop(image, on.at, half, side)),
        centre: [middle, middle],
        px_per_mm: on.px_per_mm.map(|scale| scale * per_px),
        arc: pieces(arc.iter().map(to_crop), on.radius_px * per_px * 0.6),
    }
}

fn unrolled(seen: &joint::Look, key: u64) -> Ring {
    let pixels = RgbImage::from_fn(seen.ring.width(), seen.ring.height(), |x, y| {
        let value = seen.ring.get_pixel(x, y).0[0];
        // Where the photo is clipped there is nothing to read: shown in a flat warm grey.
        let clipped = seen
            .unknown
            .get((y * seen.ring.width() + x) as usize)
            .copied()
            .unwrap_or(false);
        if clipped {
            Rgb([190, 150, 120])
        } else {
            Rgb([value; 3])
        }
    });
    let (first, count) = seen.arc;
    let n = seen.path.len().max(1);
    let arc = (0..count)
        .filter_map(|i| seen.path.get((first + i) % n))
        .map(|&(x, y)| [x, y]);
    Ring {
        key,
        pixels: Arc::new(pixels),
        path: pieces(arc, f64::from(seen.ring.width()) / 4.0),
    }
}

/// Splits a line wherever it jumps, as where it wraps round.
fn pieces(points: impl Iterator<Item = [f64; 2]>, jump: f64) -> Vec<Vec<[f64; 2]>> {
    let mut pieces: Vec<Vec<[f64; 2]>> = Vec::new();
    for point in points {
        match pieces.last_mut() {
            Some(piece)
                if piece
                    .last()
                    .is_some_and(|last| (last[0] - point[0]).hypot(last[1] - point[1]) <= jump) =>
            {
                piece.push(point);
            }
            _ => pieces.push(vec![point]),
        }
    }
    pieces
}
