//! The map being made, drawn over the photo: what is in sight alone, found through an index, and
//! as dots where the pins would be too small to be told apart.

use std::collections::HashSet;

use eframe::egui::{Align2, Color32, Mesh, Painter, Rect, Shape, Stroke, StrokeKind, vec2};
use rstar::primitives::GeomWithData;
use rstar::{AABB, RTree};

use super::making::{Making, Shown, Spot};
use super::tools::Tool;
use crate::board::draft::Sketch;
use crate::desk::marker::here_on_photo;
use crate::desk::theme::Look;
use crate::desk::viewer::{ScreenFromPhoto, outlined_text};
use crate::geometry::{BoardPoint, PhotoBox, PhotoPoint};

/// Lands smaller than this on the screen are dots, points.
const RINGS_FROM: f64 = 3.0;
/// Pin numbers from this radius on, points: below it they would cover their land.
const NUMBERS_FROM: f64 = 8.0;
/// More pins in sight than this are dots, whatever their size: more rings than can be looked at.
const MOST_RINGS: usize = 600;
/// Far out, parts with at least this many pins are one rectangle: a row of dots says no more.
const BOXED_FROM: usize = 3;
/// Most pin numbers and most names at once: text is what costs.
const MOST_NUMBERS: usize = 150;
const MOST_NAMES: usize = 150;
/// A found joint that nobody has taken over.
const FAINT: Color32 = Color32::from_rgba_premultiplied(176, 172, 160, 190);
/// What the next click would make: the yellow of the palette of Okabe and Ito.
const GHOST: Color32 = Color32::from_rgb(0xf0, 0xe4, 0x42);

/// A pin on the photo.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PinMark {
    /// Its middle.
    pub at: PhotoPoint,
    /// Radius of its land, px.
    pub radius_px: f64,
    /// Which part of the map.
    pub part: usize,
    /// Which of its pins.
    pub pin: usize,
    /// It is pin 1 of several.
    pub first: bool,
}

/// Where the pins of a map lie on its photo. Built after every edit; asked in every frame.
#[derive(Default)]
pub struct Index {
    pins: Vec<PinMark>,
    tree: RTree<GeomWithData<[f64; 2], usize>>,
    /// Of parts with several pins: which, and the least rectangle round them, px.
    boxes: Vec<(usize, PhotoBox)>,
    /// The pins of the other parts.
    few: Vec<usize>,
    /// Where each part's name stands, and its place among the parts.
    tops: Vec<(PhotoPoint, usize)>,
    names: RTree<GeomWithData<[f64; 2], usize>>,
    edge: Vec<PhotoPoint>,
    marks: Vec<(PhotoPoint, String)>,
    largest_px: f64,
}

impl Index {
    /// Of a map with its photo; empty without one.
    #[must_use]
    pub fn of(sketch: &Sketch) -> Self {
        let Some(frame) = &sketch.frame else {
            return Self::default();
        };
        let mut pins = Vec::new();
        let mut tops = Vec::new();
        let (mut boxes, mut few) = (Vec::new(), Vec::new());
        for (i, part) in sketch.map.parts.iter().enumerate() {
            let begun = pins.len();
            let mut top: Option<PhotoPoint> = None;
            for (j, pin) in part.pins.iter().enumerate() {
                let (Some(at), Some(scale)) =
                    (frame.photo(pin.centre()), frame.px_per_mm(pin.centre()))
                else {
                    continue;
                };
                let radius_px = pin.land_radius_mm() * scale;
                if top.is_none_or(|top| at.y < top.y) {
                    top = Some(PhotoPoint::new(at.x + radius_px, at.y - radius_px));
                }
                pins.push(PinMark {
                    at,
                    radius_px,
                    part: i,
                    pin: j,
                    first: pin.no == "1" && part.pins.len() > 1,
                });
            }
            tops.extend(top.map(|top| (top, i)));
            let own = begun..pins.len();
            if own.len() >= BOXED_FROM {
                let places = pins[own].iter().map(|pin: &PinMark| pin.at);
                boxes.push((i, PhotoBox::from_points(places)));
            } else {
                few.extend(own);
            }
        }
        let photo = |at: &[f64; 2]| frame.photo(BoardPoint::new(at[0], at[1]));
        let marks = &sketch.map.landmarks;
        Self {
            tree: RTree::bulk_load(
                pins.iter()
                    .enumerate()
                    .map(|(i, pin)| GeomWithData::new([pin.at.x, pin.at.y], i))
                    .collect(),
            ),
            names: RTree::bulk_load(
                tops.iter()
                    .enumerate()
                    .map(|(i, (top, _))| GeomWithData::new([top.x, top.y], i))
                    .collect(),
            ),
            tops,
            boxes,
            few,
            edge: if sketch.outlined {
                sketch.map.outline.iter().filter_map(photo).collect()
            } else {
                Vec::new()
            },
            marks: marks
                .iter()
                .filter_map(|mark| Some((photo(&mark.at)?, mark.name.clone())))
                .collect(),
            largest_px: pins.iter().map(|pin| pin.radius_px).fold(0.0, f64::max),
            pins,
        }
    }

    /// The pin that a click falls on: the nearest within its land or `reach_px`.
    #[must_use]
    pub fn pin_at(&self, at: PhotoPoint, reach_px: f64) -> Option<PinMark> {
        if !(at.x.is_finite() && at.y.is_finite()) {
            return None;
        }
        let (nearest, square) = self
            .tree
            .nearest_neighbor_iter_with_distance_2([at.x, at.y])
            .next()?;
        let mark = self.pins[nearest.data];
        (square.sqrt() <= mark.radius_px.max(reach_px)).then_some(mark)
    }

    fn visible<'a>(
        tree: &'a RTree<GeomWithData<[f64; 2], usize>>,
        view: &ScreenFromPhoto,
        margin_px: f64,
    ) -> impl Iterator<Item = usize> + 'a {
        let [x0, y0, x1, y1] = view.visible_edges();
        let area = AABB::from_corners(
            [x0 - margin_px, y0 - margin_px],
            [x1 + margin_px, y1 + margin_px],
        );
        tree.locate_in_envelope(area).map(|point| point.data)
    }
}

/// Draws everything over the photo.
pub fn paint(
    painter: &Painter,
    look: &Look,
    view: &ScreenFromPhoto,
    making: &Making,
    preview: &Shown,
) {
    let index = &making.index;
    edge(painter, view, &index.edge, true);
    spots(painter, view, &making.found);
    pins(painter, look, view, making);
    for (at, name) in &index.marks {
        cross(painter, look, view, *at, name);
    }
    ghosts(painter, look, view, preview);
    if making.tool == Tool::Edge {
        edge(painter, view, &making.clicks, false);
    }
    for (i, at) in making.clicks.iter().enumerate() {
        cross(painter, look, view, *at, &(i + 1).to_string());
    }
}

/// Found joints, faint, where they are large enough to be seen; dots further out.
fn spots(painter: &Painter, view: &ScreenFromPhoto, spots: &[Spot]) {
    let room = view.viewport.expand(20.0);
    for spot in spots {
        let at = view.point(spot.at);
        if room.contains(at) {
            let radius = (spot.radius_px * view.points_per_px).max(2.0) as f32;
            for (width, colour) in [(2.2, Color32::from_black_alpha(120)), (1.0, FAINT)] {
                painter.circle_stroke(at, radius, Stroke::new(width, colour));
            }
        }
    }
}

fn pins(painter: &Painter, look: &Look, view: &ScreenFromPhoto, making: &Making) {
    let index = &making.index;
    let parts = &making.map().parts;
    // A whole board can be chosen at once.
    let chosen: HashSet<&str> = making.chosen.iter().map(String::as_str).collect();
    let is_chosen = |part: usize| chosen.contains(parts[part].uid.as_str());
    let large = index.largest_px * view.points_per_px >= RINGS_FROM;
    let mut seen: Vec<usize> = if large {
        Index::visible(&index.tree, view, index.largest_px).collect()
    } else {
        boxes(painter, view, index, &is_chosen);
        index.few.clone()
    };
    seen.sort_unstable();
    let rings = large && seen.len() <= MOST_RINGS;
    let mut dots = Mesh::default();
    let mut numbers = 0;
    for &i in &seen {
        let mark = index.pins[i];
        let at = view.point(mark.at);
        if !rings {
            if !view.viewport.contains(at) {
                continue;
            }
            let chosen = is_chosen(mark.part);
            let (half, colour) = if chosen {
                (2.5, GHOST)
            } else {
                (1.5, Color32::WHITE)
            };
            dots.add_colored_rect(
                Rect::from_center_size(at, vec2(half, half) * 2.0 + vec2(1.6, 1.6)),
                Color32::BLACK,
            );
            dots.add_colored_rect(Rect::from_center_size(at, vec2(half, half) * 2.0), colour);
            continue;
        }
        let radius = (mark.radius_px * view.points_per_px) as f32;
        let chosen = is_chosen(mark.part);
        let colour = if chosen { GHOST } else { Color32::WHITE };
        for (width, colour) in [(3.0, Color32::BLACK), (1.3, colour)] {
            ring(painter, at, radius, mark.first, Stroke::new(width, colour));
        }
        let pin = &parts[mark.part].pins[mark.pin];
        if chosen && making.pin.as_ref() == Some(&pin.uid) {
            painter.extend(here_on_photo(at, radius + 4.0));
        }
        if f64::from(radius) >= NUMBERS_FROM && numbers < MOST_NUMBERS {
            numbers += 1;
            number(painter, look, at, radius, &pin.no);
        }
    }
    painter.add(Shape::mesh(dots));
    if rings {
        let names = Index::visible(&index.names, view, 0.0);
        let mut named: Vec<usize> = names.collect();
        named.sort_unstable();
        named.truncate(MOST_NAMES);
        for i in named {
            let (top, part) = index.tops[i];
            let name = &parts[part].reference;
            outlined_text(painter, view.point(top), name, look.small_strong());
        }
    }
}

/// Parts from far out: the rectangle round their pins.
fn boxes(
    painter: &Painter,
    view: &ScreenFromPhoto,
    index: &Index,
    is_chosen: &impl Fn(usize) -> bool,
) {
    for (part, around) in &index.boxes {
        let rect = Rect::from_two_pos(view.point(around.min), view.point(around.max)).expand(1.5);
        if !rect.intersects(view.viewport) {
            continue;
        }
        let colour = if is_chosen(*part) {
            GHOST
        } else {
            Color32::WHITE
        };
        for (width, colour) in [(2.6, Color32::BLACK), (1.2, colour)] {
            painter.rect_stroke(rect, 0.0, Stroke::new(width, colour), StrokeKind::Middle);
        }
    }
}

/// A land: round, and square for pin 1.
fn ring(painter: &Painter, at: eframe::egui::Pos2, radius: f32, first: bool, stroke: Stroke) {
    if first {
        let square = Rect::from_center_size(at, vec2(radius, radius) * 2.0);
        painter.rect_stroke(square, 0.0, stroke, StrokeKind::Middle);
    } else {
        painter.circle_stroke(at, radius, stroke);
    }
}

/// A pin's number, small, at the lower edge of its land, so that the joint stays free.
fn number(painter: &Painter, look: &Look, at: eframe::egui::Pos2, radius: f32, no: &str) {
    let at = at + vec2(0.0, radius * 1.05);
    let font = look.small();
    let galley = painter.layout_no_wrap(no.to_owned(), font.clone(), Color32::WHITE);
    let rect = Align2::CENTER_TOP.anchor_size(at, galley.size());
    painter.rect_filled(
        rect.expand2(vec2(2.0, -1.0)),
        2.0,
        Color32::from_black_alpha(170),
    );
    painter.galley(rect.min, galley, Color32::WHITE);
}

fn ghosts(painter: &Painter, look: &Look, view: &ScreenFromPhoto, preview: &Shown) {
    let radius = (preview.radius_px * view.points_per_px).max(2.5) as f32;
    let room = view.viewport.expand(40.0);
    for (i, (at, no)) in preview.ghosts.iter().enumerate() {
        let at = view.point(*at);
        if !room.contains(at) {
            continue;
        }
        let first = no == "1" && preview.ghosts.len() > 1;
        for (width, colour) in [(3.2, Color32::BLACK), (1.4, GHOST)] {
            ring(painter, at, radius, first, Stroke::new(width, colour));
        }
        let ends = i == 0 || i + 1 == preview.ghosts.len();
        if f64::from(radius) >= NUMBERS_FROM || ends {
            number(painter, look, at, radius, no);
        }
    }
}

fn edge(painter: &Painter, view: &ScreenFromPhoto, corners: &[PhotoPoint], closed: bool) {
    let mut points: Vec<_> = corners.iter().map(|corner| view.point(*corner)).collect();
    if closed {
        points.extend(points.first().copied());
    }
    if points.len() < 2 {
        return;
    }
    for (width, colour) in [(3.0, Color32::BLACK), (1.2, Color32::WHITE)] {
        painter.add(Shape::line(points.clone(), Stroke::new(width, colour)));
    }
}

fn cross(painter: &Painter, look: &Look, view: &ScreenFromPhoto, at: PhotoPoint, name: &str) {
    let centre = view.point(at);
    if !view.viewport.expand(40.0).contains(centre) {
        return;
    }
    for (width, colour) in [(4.2, Color32::BLACK), (1.6, Color32::WHITE)] {
        let stroke = Stroke::new(width, colour);
        painter.line_segment([centre - vec2(7.0, 0.0), centre + vec2(7.0, 0.0)], stroke);
        painter.line_segment([centre - vec2(0.0, 7.0), centre + vec2(0.0, 7.0)], stroke);
    }
    outlined_text(painter, centre + vec2(9.0, -4.0), name, look.small_strong());
}
