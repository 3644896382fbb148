//! The tile pyramid: a photo at full size, half size, quarter size and so on, cut into tiles.

use std::sync::Arc;

use image::RgbImage;
use image::imageops::crop_imm;

use super::outgoing::shrink;
use crate::geometry::PhotoPoint;

/// Side of a tile in pixels. Smaller tiles mean more draw calls, larger ones longer stalls when
/// one is uploaded: 256 x 256 RGBA is 256 KiB.
pub const TILE: u32 = 256;
/// The smallest level has no side beyond this: it is shown while tiles are on their way.
const SMALLEST_LEVEL: u32 = 512;

/// A photo at halving sizes. Clones share the pixels.
///
/// **Coordinates.** In every level (0, 0) is the centre of its top-left pixel, and every level
/// covers the photo from edge to edge. With photo size `W` and level size `w` (`W` halved `level`
/// times, rounded up each time), `x_level = (x_photo + 0.5) * w / W - 0.5`, and the same downwards:
/// see [`to_level`](Self::to_level) and [`to_photo`](Self::to_photo). A tile `(x, y)` of a level
/// begins at pixel `(x * TILE, y * TILE)`; tiles at the right and bottom edge are smaller.
#[derive(Debug, Clone)]
pub struct Pyramid {
    levels: Arc<[Arc<RgbImage>]>,
}

impl Pyramid {
    /// Builds all levels; level 0 is the picture itself, shared and not copied.
    ///
    /// All at once, because the smaller levels together take a third of the time and memory of
    /// the first halving, and the smallest is what is shown first.
    #[must_use]
    pub fn new(image: impl Into<Arc<RgbImage>>) -> Self {
        let mut levels = vec![image.into()];
        while let Some(last) = levels.last()
            && last.width().max(last.height()) > SMALLEST_LEVEL
        {
            let half = |side: u32| side.div_ceil(2).max(1);
            let next = shrink(last, half(last.width()), half(last.height()));
            levels.push(Arc::new(next));
        }
        Self {
            levels: levels.into(),
        }
    }

    /// The whole photo, upright.
    #[must_use]
    pub fn image(&self) -> &Arc<RgbImage> {
        &self.levels[0]
    }

    /// Number of levels, at least 1.
    #[must_use]
    pub fn levels(&self) -> usize {
        self.levels.len()
    }

    /// The whole picture of a level; level 0 is the photo. `None` beyond the last.
    #[must_use]
    pub fn level(&self, level: usize) -> Option<&Arc<RgbImage>> {
        self.levels.get(level)
    }

    /// The level to draw at a zoom of `screen_px_per_photo_px`: the smallest that need not be
    /// enlarged, so that nothing is lost and nothing is drawn in vain.
    #[must_use]
    pub fn level_for(&self, screen_px_per_photo_px: f64) -> usize {
        let mut level = 0;
        let mut scale = 0.5;
        while level + 1 < self.levels.len() && scale >= screen_px_per_photo_px {
            level += 1;
            scale *= 0.5;
        }
        level
    }

    /// Columns and rows of tiles of a level; (0, 0) beyond the last.
    #[must_use]
    pub fn tiles(&self, level: usize) -> (u32, u32) {
        self.level(level).map_or((0, 0), |image| {
            (image.width().div_ceil(TILE), image.height().div_ceil(TILE))
        })
    }

    /// One tile, at most [`TILE`] pixels a side; `None` where there is none.
    #[must_use]
    pub fn tile(&self, level: usize, x: u32, y: u32) -> Option<RgbImage> {
        let image = self.level(level)?;
        let (columns, rows) = self.tiles(level);
        if x >= columns || y >= rows {
            return None;
        }
        let (left, top) = (x * TILE, y * TILE);
        let (width, height) = (
            TILE.min(image.width() - left),
            TILE.min(image.height() - top),
        );
        Some(crop_imm(&**image, left, top, width, height).to_image())
    }

    /// From pixels of the photo to pixels of a level.
    #[must_use]
    pub fn to_level(&self, level: usize, at: PhotoPoint) -> [f64; 2] {
        let [x, y] = self.scale(level);
        [(at.x + 0.5) * x - 0.5, (at.y + 0.5) * y - 0.5]
    }

    /// From pixels of a level to pixels of the photo.
    #[must_use]
    pub fn to_photo(&self, level: usize, at: [f64; 2]) -> PhotoPoint {
        let [x, y] = self.scale(level);
        PhotoPoint::new((at[0] + 0.5) / x - 0.5, (at[1] + 0.5) / y - 0.5)
    }

    /// Level pixels per photo pixel across and down; 1 for a level that does not exist.
    #[must_use]
    pub fn scale(&self, level: usize) -> [f64; 2] {
        let Some(image) = self.level(level) else {
            return [1.0, 1.0];
        };
        let ratio = |part: u32, whole: u32| f64::from(part) / f64::from(whole.max(1));
        [
            ratio(image.width(), self.image().width()),
            ratio(image.height(), self.image().height()),
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;

    fn ramp(width: u32, height: u32) -> RgbImage {
        RgbImage::from_fn(width, height, |x, y| {
            Rgb([(x * 255 / width) as u8, (y * 255 / height) as u8, 60])
        })
    }

    #[test]
    fn levels_halve_until_small() {
        let pyramid = Pyramid::new(ramp(2001, 900));
        let sizes: Vec<_> = (0..pyramid.levels())
            .filter_map(|l| pyramid.level(l).map(|i| i.dimensions()))
            .collect();
        assert_eq!(sizes, [(2001, 900), (1001, 450), (501, 225)]);
        assert_eq!(Pyramid::new(ramp(1, 1)).levels(), 1);
    }

    #[test]
    fn tiles_put_together_are_the_level() {
        let pyramid = Pyramid::new(ramp(700, 530));
        for level in 0..pyramid.levels() {
            let whole = pyramid.level(level).unwrap();
            let (columns, rows) = pyramid.tiles(level);
            for y in 0..rows {
                for x in 0..columns {
                    let tile = pyramid.tile(level, x, y).unwrap();
                    assert!(tile.width() <= TILE && tile.height() <= TILE);
                    for (tx, ty, pixel) in tile.enumerate_pixels() {
                        assert_eq!(pixel, whole.get_pixel(x * TILE + tx, y * TILE + ty));
                    }
                }
            }
            assert!(pyramid.tile(level, columns, 0).is_none());
        }
        assert!(pyramid.tile(9, 0, 0).is_none());
    }

    #[test]
    fn a_place_keeps_its_colour_on_every_level() {
        let image = ramp(1999, 1501);
        let pyramid = Pyramid::new(image.clone());
        for (x, y) in [(400.0, 300.0), (1500.0, 1200.0)] {
            let truth = image.get_pixel(x as u32, y as u32).0;
            for level in 0..pyramid.levels() {
                let at = pyramid.to_level(level, PhotoPoint::new(x, y));
                let seen = pyramid
                    .level(level)
                    .unwrap()
                    .get_pixel(at[0].round() as u32, at[1].round() as u32)
                    .0;
                assert!(truth.iter().zip(seen).all(|(a, b)| a.abs_diff(b) <= 2));
                let back = pyramid.to_photo(level, at);
                assert!((back.x - x).abs() < 1e-9 && (back.y - y).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn the_level_for_a_zoom_is_never_enlarged_without_need() {
        let pyramid = Pyramid::new(RgbImage::new(4000, 3000));
        assert_eq!(pyramid.levels(), 4);
        for (zoom, level) in [
            (3.0, 0),
            (1.0, 0),
            (0.51, 0),
            (0.5, 1),
            (0.25, 2),
            (0.01, 3),
        ] {
            assert_eq!(pyramid.level_for(zoom), level, "zoom {zoom}");
        }
        assert_eq!(pyramid.level_for(f64::NAN), 0);
    }
}
