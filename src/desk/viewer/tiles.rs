//! Tiles as textures: made as they are needed, a few per frame, and thrown away oldest first.

use std::collections::BTreeMap;
use std::time::{Duration, Instant};

use eframe::egui::{
    Color32, ColorImage, Context, Mesh, Painter, Pos2, Rect, Shape, TextureHandle, TextureId,
    TextureOptions, pos2,
};
use image::RgbImage;

use super::transform::ScreenFromPhoto;
use super::{Pyramid, TILE};
use crate::desk::aids::Tone;

/// Texture memory for tiles, bytes. A 4K window needs some 130 MiB at the worst zoom; more
/// keeps more of the last places at hand.
pub const TEXTURE_BYTES: usize = 160 << 20;
/// Tiles made in one frame at most, and the time after which no further one is begun. More fills
/// the screen sooner, less keeps panning smooth on software rendering.
const TILES_PER_FRAME: usize = 6;
/// See [`TILES_PER_FRAME`].
const TIME_PER_FRAME: Duration = Duration::from_millis(4);
/// Pixels of its neighbours that a tile carries, so that smoothing has no seams.
const APRON: u32 = 1;

/// Level, column, row.
type Key = (usize, u32, u32);

struct Made {
    texture: TextureHandle,
    bytes: usize,
    used: u64,
}

/// The tiles of one photo that are textures now.
#[derive(Default)]
pub(super) struct Tiles {
    made: BTreeMap<Key, Made>,
    bytes: usize,
    frame: u64,
}

impl Tiles {
    /// Throws everything away: another photo, or another tone.
    pub(super) fn clear(&mut self) {
        self.made.clear();
        self.bytes = 0;
    }

    /// Texture memory held, bytes.
    #[must_use]
    pub(super) fn bytes(&self) -> usize {
        self.bytes
    }

    /// Draws what there is and makes a few that are missing. `true` while some are missing.
    pub(super) fn paint(
        &mut self,
        painter: &Painter,
        pyramid: &Pyramid,
        view: &ScreenFromPhoto,
        tone: &Tone,
    ) -> bool {
        self.frame += 1;
        let ctx = painter.ctx();
        let level = pyramid.level_for(view.points_per_px * f64::from(ctx.pixels_per_point()));
        let mut wanted = visible(pyramid, view, level);
        nearest_first(&mut wanted, view, pyramid);
        let missing = self.make(ctx, pyramid, &wanted, tone);
        if missing {
            // Coarser ones that are at hand, beneath: blurred beats absent.
            for coarse in (level + 1..pyramid.levels()).rev() {
                for key in visible(pyramid, view, coarse) {
                    self.paint_one(painter, pyramid, view, key);
                }
            }
        }
        for key in wanted {
            self.paint_one(painter, pyramid, view, key);
        }
        self.forget();
        missing
    }

    fn make(&mut self, ctx: &Context, pyramid: &Pyramid, wanted: &[Key], tone: &Tone) -> bool {
        let begun = Instant::now();
        let mut made = 0;
        for &key in wanted {
            if self.made.contains_key(&key) {
                continue;
            }
            if made == TILES_PER_FRAME || begun.elapsed() > TIME_PER_FRAME {
                return true;
            }
            let Some(picture) = pyramid
                .level(key.0)
                .map(|image| tile_picture(image, key, tone))
            else {
                continue;
            };
            let bytes = picture.pixels.len() * 4;
            let name = format!("tile {key:?}");
            let texture = ctx.load_texture(name, picture, TextureOptions::LINEAR);
            let used = self.frame;
            self.bytes += bytes;
            self.made.insert(
                key,
                Made {
                    texture,
                    bytes,
                    used,
                },
            );
            made += 1;
        }
        false
    }

    fn paint_one(
        &mut self,
        painter: &Painter,
        pyramid: &Pyramid,
        view: &ScreenFromPhoto,
        key: Key,
    ) {
        let (Some(made), Some(image)) = (self.made.get_mut(&key), pyramid.level(key.0)) else {
            return;
        };
        made.used = self.frame;
        let place = Place::of(image, key);
        let [sx, sy] = pyramid.scale(key.0);
        let [x0, y0, x1, y1] = place.tile.map(f64::from);
        let corners = view.corners([x0 / sx, y0 / sy, x1 / sx, y1 / sy]);
        painter.add(quad(made.texture.id(), corners, place.uv()));
    }

    /// Oldest first, never one of this frame.
    fn forget(&mut self) {
        while self.bytes > TEXTURE_BYTES {
            let oldest = self
                .made
                .iter()
                .filter(|(_, made)| made.used < self.frame)
                .min_by_key(|(_, made)| made.used)
                .map(|(&key, _)| key);
            let Some(gone) = oldest.and_then(|key| self.made.remove(&key)) else {
                return;
            };
            self.bytes -= gone.bytes;
        }
    }
}

/// A textured quad; corners and texture run top-left, top-right, bottom-right, bottom-left.
pub(super) fn quad(texture: TextureId, corners: [Pos2; 4], uv: Rect) -> Shape {
    let mut mesh = Mesh::with_texture(texture);
    let uvs = [
        uv.left_top(),
        uv.right_top(),
        uv.right_bottom(),
        uv.left_bottom(),
    ];
    for (pos, uv) in corners.into_iter().zip(uvs) {
        mesh.vertices.push(eframe::egui::epaint::Vertex {
            pos,
            uv,
            color: Color32::WHITE,
        });
    }
    mesh.indices = vec![0, 1, 2, 0, 2, 3];
    Shape::mesh(mesh)
}

/// Where a tile and its apron lie in their level: `[x0, y0, x1, y1]`, half open, pixels.
struct Place {
    tile: [u32; 4],
    apron: [u32; 4],
}

impl Place {
    fn of(level: &RgbImage, (_, x, y): Key) -> Self {
        let span = |n: u32, side: u32| {
            let (start, end) = (n * TILE, ((n + 1) * TILE).min(side));
            let (from, to) = (start.saturating_sub(APRON), (end + APRON).min(side));
            (start, end, from, to)
        };
        let (x0, x1, ax0, ax1) = span(x, level.width());
        let (y0, y1, ay0, ay1) = span(y, level.height());
        Self {
            tile: [x0, y0, x1, y1],
            apron: [ax0, ay0, ax1, ay1],
        }
    }

    /// The tile inside the texture, which also holds the apron.
    fn uv(&self) -> Rect {
        let [ax0, ay0, ax1, ay1] = self.apron.map(|v| v as f32);
        let [x0, y0, x1, y1] = self.tile.map(|v| v as f32);
        let (width, height) = (ax1 - ax0, ay1 - ay0);
        Rect::from_min_max(
            pos2((x0 - ax0) / width, (y0 - ay0) / height),
            pos2((x1 - ax0) / width, (y1 - ay0) / height),
        )
    }
}

fn tile_picture(level: &RgbImage, key: Key, tone: &Tone) -> ColorImage {
    let [x0, y0, x1, y1] = Place::of(level, key).apron;
    picture(level, [x0, y0, x1, y1], tone)
}

/// A part of a level through the viewing aids: this copy is all that they ever touch.
pub(super) fn picture(level: &RgbImage, [x0, y0, x1, y1]: [u32; 4], tone: &Tone) -> ColorImage {
    let (width, height) = level.dimensions();
    let stride = width as usize * 3;
    let raw = level.as_raw();
    let mut pixels = Vec::with_capacity(((x1 - x0) * (y1 - y0)) as usize);
    for y in y0..y1 {
        let down = (y as f32 + 0.5) / height as f32;
        let row = &raw[y as usize * stride..][x0 as usize * 3..x1 as usize * 3];
        for (x, rgb) in (x0..x1).zip(row.chunks_exact(3)) {
            let across = (x as f32 + 0.5) / width as f32;
            pixels.push(tone.pixel([rgb[0], rgb[1], rgb[2]], [across, down]));
        }
    }
    ColorImage::new([(x1 - x0) as usize, (y1 - y0) as usize], pixels)
}

/// The tiles of a level that the viewport shows, row by row.
fn visible(pyramid: &Pyramid, view: &ScreenFromPhoto, level: usize) -> Vec<Key> {
    let (columns, rows) = pyramid.tiles(level);
    let [sx, sy] = pyramid.scale(level);
    let [x0, y0, x1, y1] = view.visible_edges();
    let span = |from: f64, to: f64, scale: f64, count: u32| {
        let tile = f64::from(TILE);
        let first = (from * scale / tile).floor().max(0.0) as u32;
        let end = (to * scale / tile).ceil().max(0.0) as u32;
        first..end.min(count)
    };
    if x0 >= x1 || y0 >= y1 {
        return Vec::new();
    }
    let mut keys = Vec::new();
    for y in span(y0, y1, sy, rows) {
        for x in span(x0, x1, sx, columns) {
            keys.push((level, x, y));
        }
    }
    keys
}

/// The eye is in the middle.
fn nearest_first(keys: &mut [Key], view: &ScreenFromPhoto, pyramid: &Pyramid) {
    let Some(&(level, _, _)) = keys.first() else {
        return;
    };
    let [sx, sy] = pyramid.scale(level);
    let middle = [(view.centre.x + 0.5) * sx, (view.centre.y + 0.5) * sy];
    let far = |&(_, x, y): &Key| {
        let off = |n: u32, m: f64| (f64::from(n) + 0.5) * f64::from(TILE) - m;
        let (dx, dy) = (off(x, middle[0]), off(y, middle[1]));
        dx * dx + dy * dy
    };
    keys.sort_by(|a, b| far(a).total_cmp(&far(b)));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::desk::aids::Aids;
    use eframe::egui::{RawInput, vec2};
    use image::Rgb;

    fn pyramid(w: u32, h: u32) -> Pyramid {
        Pyramid::new(RgbImage::from_fn(w, h, |x, y| {
            Rgb([(x % 251) as u8, (y % 241) as u8, 90])
        }))
    }

    fn viewport() -> Rect {
        Rect::from_min_size(pos2(0.0, 0.0), vec2(730.0, 632.0))
    }

    #[test]
    fn visible_tiles_cover_the_viewport_and_no_more() {
        let pyramid = pyramid(2000, 1500);
        let whole = ScreenFromPhoto::fit([2000, 1500], 0, viewport());
        assert_eq!(visible(&pyramid, &whole, 0).len(), 8 * 6);
        let mut close = whole;
        close.points_per_px = 1.0;
        // 730 x 632 pixels around (999.5, 749.5): columns 2..=5, rows 1..=4.
        let keys = visible(&pyramid, &close, 0);
        assert_eq!(keys.first(), Some(&(0, 2, 1)));
        assert_eq!(keys.last(), Some(&(0, 5, 4)));
        assert_eq!(keys.len(), 16);
    }

    #[test]
    fn a_tile_carries_its_neighbours_pixels_and_shows_only_its_own() {
        let level = RgbImage::new(600, 300);
        let inner = Place::of(&level, (0, 1, 0));
        assert_eq!(inner.tile, [256, 0, 512, 256]);
        assert_eq!(inner.apron, [255, 0, 513, 257]);
        let uv = inner.uv();
        assert!((uv.min.x - 1.0 / 258.0).abs() < 1e-6 && uv.min.y == 0.0);
        let last = Place::of(&level, (0, 2, 1));
        assert_eq!(last.tile, [512, 256, 600, 300]);
        assert_eq!(last.apron, [511, 255, 600, 300]);
    }

    #[test]
    fn tiles_arrive_a_few_per_frame_and_memory_stays_bounded() {
        let pyramid = pyramid(3000, 2200);
        let tone = Tone::new(Aids::default(), None);
        let ctx = Context::default();
        let mut tiles = Tiles::default();
        let mut frames = 0;
        let mut view = ScreenFromPhoto::fit([3000, 2200], 0, viewport());
        view.points_per_px = 0.51;
        loop {
            let mut missing = false;
            let before = tiles.made.len();
            let mut output = ctx.run_ui(RawInput::default(), |ui| {
                missing = tiles.paint(ui.painter(), &pyramid, &view, &tone);
            });
            output.textures_delta.clear();
            // egui may lay out a frame twice.
            assert!(tiles.made.len() - before <= 2 * TILES_PER_FRAME);
            frames += 1;
            if !missing {
                break;
            }
            assert!(frames < 500, "never done");
        }
        assert_eq!(tiles.made.len(), visible(&pyramid, &view, 0).len());
        assert!(tiles.bytes() <= TEXTURE_BYTES && tiles.bytes() > 0);
        assert_eq!(
            tiles.bytes(),
            tiles.made.values().map(|m| m.bytes).sum::<usize>()
        );
    }

    #[test]
    fn oldest_tiles_go_first_and_never_those_on_screen() {
        let ctx = Context::default();
        let mut tiles = Tiles::default();
        for (i, used) in [3_u64, 1, 2, 9].into_iter().enumerate() {
            let picture = ColorImage::filled([4, 4], Color32::WHITE);
            let made = Made {
                texture: ctx.load_texture("t", picture, TextureOptions::LINEAR),
                bytes: TEXTURE_BYTES / 2,
                used,
            };
            tiles.bytes += made.bytes;
            tiles.made.insert((0, i as u32, 0), made);
        }
        tiles.frame = 9;
        tiles.forget();
        let left: Vec<_> = tiles.made.keys().copied().collect();
        assert_eq!(left, [(0, 0, 0), (0, 3, 0)]);
        tiles.made.values_mut().for_each(|made| {
            made.used = 9;
            made.bytes = TEXTURE_BYTES;
        });
        tiles.bytes = 2 * TEXTURE_BYTES;
        tiles.forget();
        assert_eq!(tiles.made.len(), 2, "both are on screen");
    }

    #[test]
    fn the_aids_never_touch_the_photo() {
        let image = RgbImage::from_fn(64, 64, |x, y| Rgb([x as u8, y as u8, 10]));
        let before = image.clone();
        let aids = Aids {
            stops: 2.0,
            local_contrast: true,
        };
        let shown = picture(&image, [0, 0, 64, 64], &Tone::new(aids, Some(&image)));
        assert_eq!(image, before);
        assert!(shown.pixels[65].r() > before.get_pixel(1, 1)[0]);
    }
}
