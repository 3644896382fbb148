//! The glass: the current joint at a constant real scale, the arc that the hint speaks of, and
//! the ring unrolled with the path on it. Inputs are plain pictures and points.

use std::sync::Arc;

use eframe::egui::{
    Align2, Color32, ColorImage, Context, CornerRadius, FontId, Painter, Pos2, Rect, Response,
    Role, Sense, Shape, Stroke, StrokeKind, TextureHandle, TextureOptions, Ui, WidgetInfo, pos2,
    vec2,
};
use image::RgbImage;

use super::theme::Look;

/// One millimetre of board on the glass, points: the same for every joint of every photo, so
/// that size itself can be judged. A 1.7 mm land then fills half of a 280 point square.
pub const POINTS_PER_MM: f64 = 82.0;
/// The arc's yellow (Okabe-Ito): 12.6:1 on dark, and dark is drawn under it.
const ARC: Color32 = Color32::from_rgb(0xF0, 0xE4, 0x42);
/// Dash and gap of the arc, points: what lies beneath shows through the gaps.
const DASH: [f32; 2] = [7.0, 4.0];
/// The unrolled ring is drawn this high at most per pixel of its picture, points; more shows
/// only larger squares.
const RING_MAGNIFIED: f32 = 6.0;

/// Textures of twins that are kept: those of two joints, so that walking to and fro uploads none.
const MOST_TWINS: usize = 6;

/// The joint's surroundings, cut out of a photo.
#[derive(Debug, Clone, PartialEq)]
pub struct Crop {
    /// Identifies the pixels, so that the texture is made once: joint and photo together.
    pub key: u64,
    /// The pixels, upright.
    pub pixels: Arc<RgbImage>,
    /// The joint's centre in the crop, pixels; (0, 0) is the centre of the top-left pixel.
    pub centre: [f64; 2],
    /// Scale of the photo here; `None` where it is not known (then the crop fills the square and
    /// no scale bar is drawn).
    pub px_per_mm: Option<f64>,
    /// The arc in crop pixels, one list per unbroken piece.
    pub arc: Vec<Vec<[f64; 2]>>,
}

/// The ring round the pin, unrolled: angle across, radius downwards.
#[derive(Debug, Clone, PartialEq)]
pub struct Ring {
    /// Identifies the pixels.
    pub key: u64,
    /// The pixels; column 0 is the angle 0, clockwise in the photo from straight right.
    pub pixels: Arc<RgbImage>,
    /// The path in ring pixels, one list per unbroken piece.
    pub path: Vec<Vec<[f64; 2]>>,
}

/// Textures of what was last shown.
#[derive(Default)]
pub struct GlassView {
    crop: Option<(u64, TextureHandle)>,
    ring: Option<(u64, TextureHandle)>,
    twins: Vec<(u64, TextureHandle)>,
    /// The arc can be put away to look beneath it.
    pub hide_arc: bool,
}

impl GlassView {
    /// Draws the joint in a square of `side` points at [`POINTS_PER_MM`].
    pub fn joint(
        &mut self,
        ui: &mut Ui,
        look: &Look,
        crop: &Crop,
        side: f32,
        name: &str,
    ) -> Response {
        let (rect, response) = ui.allocate_exact_size(vec2(side, side), Sense::click());
        response.widget_info(|| WidgetInfo::labeled(Role::Image, true, crop_words(crop, name)));
        let painter = ui.painter_at(rect);
        painter.rect_filled(rect, 0.0, look.palette.well);
        let place = CropPlace::of(crop, rect);
        let texture = keep(&mut self.crop, ui.ctx(), crop.key, &crop.pixels);
        painter.image(texture.id(), place.picture(crop), whole(), Color32::WHITE);
        if !self.hide_arc {
            for piece in &crop.arc {
                let points = piece.iter().map(|&at| place.point(at)).collect();
                dashed_double(&painter, points);
            }
        }
        if crop.px_per_mm.is_some() {
            scale_bar(&painter, look, rect, POINTS_PER_MM as f32);
        }
        response
    }

    /// Draws a twin small, the whole of its cut-out; outlined while it is on the glass.
    pub fn twin(
        &mut self,
        ui: &mut Ui,
        look: &Look,
        crop: &Crop,
        side: f32,
        on: bool,
        words: &str,
    ) -> Response {
        let (rect, response) = ui.allocate_exact_size(vec2(side, side), Sense::click());
        response.widget_info(|| WidgetInfo::selected(Role::Button, true, on, words));
        if !self.twins.iter().any(|(key, _)| *key == crop.key) {
            let texture = upload(ui.ctx(), &crop.pixels);
            self.twins.push((crop.key, texture));
            if self.twins.len() > MOST_TWINS {
                drop(self.twins.remove(0));
            }
        }
        if let Some((_, texture)) = self.twins.iter().find(|(key, _)| *key == crop.key) {
            let painter = ui.painter_at(rect.expand(3.0));
            painter.image(texture.id(), rect, whole(), Color32::WHITE);
            if on || response.hovered() || response.has_focus() {
                let line = Stroke::new(2.0, look.palette.ink);
                painter.rect_stroke(rect, 1.0, line, StrokeKind::Outside);
            }
        }
        response
    }

    /// Draws the ring over all the width there is; its height follows the picture and the room.
    pub fn ring(&mut self, ui: &mut Ui, look: &Look, ring: &Ring, most_height: f32) -> Response {
        let head = look.small().size + 10.0;
        let rows = ring.pixels.height().max(1) as f32;
        let body = (rows * RING_MAGNIFIED).min(most_height - head).max(16.0);
        let size = vec2(ui.available_width(), head + body + 6.0);
        let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
        response.widget_info(|| {
            WidgetInfo::labeled(Role::Image, true, "The ring round the pin, unrolled")
        });
        let painter = ui.painter_at(rect);
        painter.rect_filled(rect, CornerRadius::same(2), look.palette.well);
        ring_heading(&painter, look, rect);
        let picture = Rect::from_min_max(
            rect.left_top() + vec2(0.0, head),
            rect.right_bottom() - vec2(0.0, 6.0),
        );
        let texture = keep(&mut self.ring, ui.ctx(), ring.key, &ring.pixels);
        painter.image(texture.id(), picture, whole(), Color32::WHITE);
        if !self.hide_arc {
            for piece in &ring.path {
                let points = piece.iter().map(|&at| in_ring(ring, picture, at)).collect();
                dashed_double(&painter, points);
            }
        }
        response
    }
}

fn ring_heading(painter: &Painter, look: &Look, rect: Rect) {
    let at = rect.left_top() + vec2(8.0, 5.0);
    let dim = look.palette.dim;
    let words = painter.text(
        at,
        Align2::LEFT_TOP,
        "the ring, unrolled",
        look.small(),
        dim,
    );
    let right = painter.layout_no_wrap("pin above, land below".to_owned(), look.small(), dim);
    let left = rect.right() - 8.0 - right.size().x;
    if left > words.right() + 16.0 {
        painter.galley(pos2(left, at.y), right, dim);
    }
}

/// Where a crop lies in its square.
#[derive(Debug, Clone, Copy)]
struct CropPlace {
    middle: Pos2,
    centre: [f64; 2],
    points_per_px: f64,
}

impl CropPlace {
    fn of(crop: &Crop, rect: Rect) -> Self {
        let (w, h) = (
            f64::from(crop.pixels.width()),
            f64::from(crop.pixels.height()),
        );
        let filling = f64::from(rect.width()) / w.min(h).max(1.0);
        let scale = crop
            .px_per_mm
            .filter(|scale| scale.is_finite() && *scale > 0.0)
            .map_or(filling, |px_per_mm| POINTS_PER_MM / px_per_mm);
        Self {
            middle: rect.center(),
            centre: crop.centre,
            points_per_px: scale,
        }
    }

    /// A place of the crop on the screen; the crop's (0, 0) is a pixel's centre.
    fn point(&self, at: [f64; 2]) -> Pos2 {
        let along = |i: usize| ((at[i] - self.centre[i]) * self.points_per_px) as f32;
        self.middle + vec2(along(0), along(1))
    }

    fn picture(&self, crop: &Crop) -> Rect {
        let (w, h) = (
            f64::from(crop.pixels.width()),
            f64::from(crop.pixels.height()),
        );
        Rect::from_min_max(self.point([-0.5, -0.5]), self.point([w - 0.5, h - 0.5]))
    }
}

fn in_ring(ring: &Ring, picture: Rect, at: [f64; 2]) -> Pos2 {
    let share = |value: f64, side: u32| ((value + 0.5) / f64::from(side.max(1))) as f32;
    let (w, h) = ring.pixels.dimensions();
    picture.min
        + vec2(
            share(at[0], w) * picture.width(),
            share(at[1], h) * picture.height(),
        )
}

fn whole() -> Rect {
    Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0))
}

fn keep<'a>(
    kept: &'a mut Option<(u64, TextureHandle)>,
    ctx: &Context,
    key: u64,
    pixels: &RgbImage,
) -> &'a TextureHandle {
    if kept.as_ref().is_none_or(|(of, _)| *of != key) {
        *kept = None;
    }
    &kept.get_or_insert_with(|| (key, upload(ctx, pixels))).1
}

fn upload(ctx: &Context, pixels: &RgbImage) -> TextureHandle {
    let size = [pixels.width() as usize, pixels.height() as usize];
    let picture = ColorImage::from_rgb(size, pixels.as_raw());
    ctx.load_texture("glass", picture, TextureOptions::LINEAR)
}

/// A dashed line of two strokes, dark under yellow. The dark one is dashed too, a little longer,
/// so that the gaps stay free.
fn dashed_double(painter: &Painter, points: Vec<Pos2>) {
    if points.len() < 2 {
        return;
    }
    let [dash, gap] = DASH;
    let under = Stroke::new(4.5, Color32::from_black_alpha(230));
    painter.extend(Shape::dashed_line(&points, under, dash, gap));
    painter.extend(Shape::dashed_line(
        &points,
        Stroke::new(2.2, ARC),
        dash,
        gap,
    ));
}

/// One millimetre, double stroked, in the lower left corner.
fn scale_bar(painter: &Painter, look: &Look, rect: Rect, length: f32) {
    // A bar cut short would tell another length.
    if length > rect.width() - 36.0 {
        return;
    }
    let left = rect.left_bottom() + vec2(18.0, -18.0);
    let right = left + vec2(length, 0.0);
    let ticks = [
        [left, right],
        [left - vec2(0.0, 4.0), left + vec2(0.0, 4.0)],
        [right - vec2(0.0, 4.0), right + vec2(0.0, 4.0)],
    ];
    for (width, colour) in [(3.6, Color32::BLACK), (1.4, Color32::WHITE)] {
        for tick in ticks {
            painter.line_segment(tick, Stroke::new(width, colour));
        }
    }
    let font: FontId = look.small_strong();
    let words = painter.layout_no_wrap("1 mm".to_owned(), font.clone(), Color32::WHITE);
    let at = pos2(left.x + (length - words.size().x) / 2.0, left.y - 6.0);
    super::viewer::outlined_text(painter, at, "1 mm", font);
}

fn crop_words(crop: &Crop, name: &str) -> String {
    match crop.px_per_mm {
        Some(scale) => {
            format!("{name} on the glass, photographed at {scale:.0} pixels per millimetre")
        }
        None => format!("{name} on the glass, scale not known"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::desk::theme;
    use egui_kittest::kittest::Queryable as _;

    fn crop(side: u32, px_per_mm: Option<f64>) -> Crop {
        let middle = f64::from(side - 1) / 2.0;
        Crop {
            key: 1,
            pixels: Arc::new(RgbImage::new(side, side)),
            centre: [middle, middle],
            px_per_mm,
            arc: vec![vec![[middle, middle], [middle + 5.0, middle]]],
        }
    }

    /// The same millimetre is the same length on the glass whatever the photo's scale.
    #[test]
    fn a_millimetre_is_always_as_long() {
        let rect = Rect::from_min_size(pos2(0.0, 0.0), vec2(300.0, 300.0));
        for scale in [11.0, 41.0, 120.0] {
            let crop = crop(200, Some(scale));
            let place = CropPlace::of(&crop, rect);
            let a = place.point(crop.centre);
            let b = place.point([crop.centre[0] + scale, crop.centre[1]]);
            assert_eq!(a, rect.center());
            assert!((f64::from(b.x - a.x) - POINTS_PER_MM).abs() < 1e-3);
        }
        // Not known, or nonsense: the crop fills its square.
        for scale in [None, Some(0.0), Some(f64::NAN)] {
            let crop = crop(200, scale);
            let picture = CropPlace::of(&crop, rect).picture(&crop);
            assert!((picture.width() - 300.0).abs() < 1e-3, "{scale:?}");
        }
    }

    #[test]
    fn the_ring_puts_pixel_centres_where_they_are() {
        let ring = Ring {
            key: 0,
            pixels: Arc::new(RgbImage::new(4, 2)),
            path: Vec::new(),
        };
        let picture = Rect::from_min_size(pos2(10.0, 20.0), vec2(400.0, 40.0));
        assert_eq!(in_ring(&ring, picture, [0.0, 0.0]), pos2(60.0, 30.0));
        assert_eq!(in_ring(&ring, picture, [3.5, 1.5]), pos2(410.0, 60.0));
    }

    #[test]
    fn joint_and_ring_are_found_by_their_words() {
        let glass = theme::harness().build_ui_state(
            |ui, glass: &mut GlassView| {
                let look = Look::default();
                glass.joint(ui, &look, &crop(64, Some(41.2)), 300.0, "J4.3");
                let ring = Ring {
                    key: 2,
                    pixels: Arc::new(RgbImage::new(256, 12)),
                    path: vec![vec![[10.0, 3.0], [80.0, 4.0]]],
                };
                glass.ring(ui, &look, &ring, 80.0);
            },
            GlassView::default(),
        );
        glass.get_by_label("J4.3 on the glass, photographed at 41 pixels per millimetre");
        glass.get_by_label("The ring round the pin, unrolled");
    }
}
