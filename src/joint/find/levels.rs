//! The photo at one working scale: colour, slope and how busy it is.
//!
//! A joint is always looked at where its land is 8 to 11 px in radius, so that one table of numbers
//! serves joints of every size. Levels are half an octave apart.

use image::RgbImage;
use rayon::prelude::*;

/// Land radius at which a joint is looked at, px of its level: from here to half an octave more.
/// Smaller loses the highlights that tell solder from bare metal, larger costs time.
pub(super) const LEVEL_RADIUS: f64 = 8.0;
/// Most pixels of one level. It bounds the memory (24 bytes a pixel) and the time; on larger
/// photos the smallest joints are then not searched.
const MAX_LEVEL_PIXELS: f64 = 8.0e6;
/// A level narrower than this shows no joint with its surroundings.
const MIN_SIDE: u32 = 30;

/// What is kept of one pixel of a level.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Px {
    /// Luma, 0..1 (ITU-R BT.601 weights).
    pub(super) luma: f32,
    /// Red less green, -1..1.
    pub(super) red_green: f32,
    /// Mean of red and green less blue, -1..1.
    pub(super) yellow_blue: f32,
    /// Steepness of the luma, per px.
    pub(super) busy: f32,
    /// Slope of the luma to the right, per px.
    pub(super) dx: f32,
    /// Slope of the luma downwards, per px.
    pub(super) dy: f32,
}

/// One working scale of a photo.
#[derive(Debug, Clone)]
pub(super) struct Level {
    /// Level px per photo px.
    pub(super) scale: f64,
    /// Width, px.
    pub(super) width: usize,
    /// Height, px.
    pub(super) height: usize,
    /// Row by row.
    pub(super) px: Vec<Px>,
}

/// The level at which a land of this radius (photo px) is looked at.
pub(super) fn level_of(radius_px: f64) -> i32 {
    (2.0 * (radius_px / LEVEL_RADIUS).log2()).floor() as i32
}

/// Scale of a level by its number: 0 is the photo itself, each step a half octave.
pub(super) fn scale_of(level: i32) -> f64 {
    (-f64::from(level) / 2.0).exp2()
}

/// Levels of a photo that are worth a search, finest first.
pub(super) fn levels_for(size: (u32, u32), smallest_px: f64, largest_px: f64) -> Vec<i32> {
    (level_of(smallest_px)..=level_of(largest_px))
        .filter(|&level| {
            let scale = scale_of(level);
            let (w, h) = (f64::from(size.0) * scale, f64::from(size.1) * scale);
            w * h <= MAX_LEVEL_PIXELS && w.min(h) >= f64::from(MIN_SIDE)
        })
        .collect()
}

/// The level on which a land of this radius (photo px) is looked at, or the nearest there is.
pub(super) fn fitting(levels: &[Level], radius_px: f64) -> Option<usize> {
    let wanted = scale_of(level_of(radius_px));
    (0..levels.len()).min_by(|a, b| {
        let off = |i: &usize| (levels[*i].scale / wanted).ln().abs();
        off(a).total_cmp(&off(b))
    })
}

impl Level {
    /// Averages the photo down to this level and measures its slopes.
    pub(super) fn of(photo: &RgbImage, level: i32) -> Self {
        let wanted = scale_of(level).min(1.0);
        let size = |n: u32| ((f64::from(n) * wanted).round() as usize).max(1);
        let (width, height) = (size(photo.width()), size(photo.height()));
        let rgb = averaged(photo, width, height);
        let luma: Vec<f32> = rgb
            .par_iter()
            .map(|[r, g, b]| 0.299 * r + 0.587 * g + 0.114 * b)
            .collect();
        let px = (0..height)
            .into_par_iter()
            .flat_map_iter(|y| {
                let (rgb, luma) = (&rgb, &luma);
                (0..width).map(move |x| {
                    let [r, g, b] = rgb[y * width + x];
                    let (dx, dy) = slope(luma, width, height, x, y);
                    Px {
                        luma: luma[y * width + x],
                        red_green: r - g,
                        yellow_blue: 0.5 * (r + g) - b,
                        busy: dx.hypot(dy),
                        dx,
                        dy,
                    }
                })
            })
            .collect();
        Self {
            scale: width as f64 / f64::from(photo.width().max(1)),
            width,
            height,
            px,
        }
    }

    /// Level coordinates of a place of the photo.
    pub(super) fn at(&self, x: f64, y: f64) -> (f32, f32) {
        (
            ((x + 0.5) * self.scale - 0.5) as f32,
            ((y + 0.5) * self.scale - 0.5) as f32,
        )
    }

    /// Photo coordinates of a place of the level.
    pub(super) fn to_photo(&self, x: f64, y: f64) -> (f64, f64) {
        ((x + 0.5) / self.scale - 0.5, (y + 0.5) / self.scale - 0.5)
    }

    /// Bilinear sample; beyond the edge the edge goes on.
    pub(super) fn sample(&self, x: f32, y: f32) -> Px {
        let x = x.clamp(0.0, (self.width - 1) as f32);
        let y = y.clamp(0.0, (self.height - 1) as f32);
        let (x0, y0) = (x as usize, y as usize);
        let (x1, y1) = ((x0 + 1).min(self.width - 1), (y0 + 1).min(self.height - 1));
        let (fx, fy) = (x - x0 as f32, y - y0 as f32);
        let (a, b) = (
            &self.px[y0 * self.width + x0],
            &self.px[y0 * self.width + x1],
        );
        let (c, d) = (
            &self.px[y1 * self.width + x0],
            &self.px[y1 * self.width + x1],
        );
        let (wa, wb) = ((1.0 - fx) * (1.0 - fy), fx * (1.0 - fy));
        let (wc, wd) = ((1.0 - fx) * fy, fx * fy);
        let mix = |f: fn(&Px) -> f32| wa * f(a) + wb * f(b) + wc * f(c) + wd * f(d);
        Px {
            luma: mix(|p| p.luma),
            red_green: mix(|p| p.red_green),
            yellow_blue: mix(|p| p.yellow_blue),
            busy: mix(|p| p.busy),
            dx: mix(|p| p.dx),
            dy: mix(|p| p.dy),
        }
    }
}

/// Sobel's slope over eight, per px; beyond the edge the edge goes on.
fn slope(luma: &[f32], width: usize, height: usize, x: usize, y: usize) -> (f32, f32) {
    let (l, r) = (x.saturating_sub(1), (x + 1).min(width - 1));
    let (u, d) = (y.saturating_sub(1), (y + 1).min(height - 1));
    let at = |x: usize, y: usize| luma[y * width + x];
    let dx = at(r, u) - at(l, u) + 2.0 * (at(r, y) - at(l, y)) + at(r, d) - at(l, d);
    let dy = at(l, d) - at(l, u) + 2.0 * (at(x, d) - at(x, u)) + at(r, d) - at(r, u);
    (dx / 8.0, dy / 8.0)
}

/// Which source pixels make one averaged pixel, and how much of each.
struct Span {
    first: usize,
    weights: Vec<f32>,
}

fn spans(from: usize, to: usize) -> Vec<Span> {
    let step = from as f64 / to as f64;
    (0..to)
        .map(|i| {
            let (low, high) = (i as f64 * step, (i + 1) as f64 * step);
            let first = (low.floor() as usize).min(from - 1);
            let last = ((high - 1e-9).floor() as usize).clamp(first, from - 1);
            let weights = (first..=last)
                .map(|j| {
                    let part = high.min((j + 1) as f64) - low.max(j as f64);
                    (part / step) as f32
                })
                .collect();
            Span { first, weights }
        })
        .collect()
}

/// Area average of the photo, channels 0..1.
fn averaged(photo: &RgbImage, width: usize, height: usize) -> Vec<[f32; 3]> {
    let (w, h) = (photo.width() as usize, photo.height() as usize);
    let (columns, rows) = (spans(w, width), spans(h, height));
    let raw = photo.as_raw();
    rows.par_iter()
        .flat_map_iter(|row| {
            // First down each column, then across: one pass over the source rows.
            let mut line = vec![0.0_f32; w * 3];
            for (k, weight) in row.weights.iter().enumerate() {
                let start = (row.first + k) * w * 3;
                for (sum, v) in line.iter_mut().zip(&raw[start..start + w * 3]) {
                    *sum += weight * f32::from(*v);
                }
            }
            columns
                .iter()
                .map(|span| {
                    let mut px = [0.0_f32; 3];
                    for (k, weight) in span.weights.iter().enumerate() {
                        let from = (span.first + k) * 3;
                        for (sum, v) in px.iter_mut().zip(&line[from..from + 3]) {
                            *sum += weight * v;
                        }
                    }
                    px.map(|v| v / 255.0)
                })
                .collect::<Vec<_>>()
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;

    #[test]
    fn averaging_keeps_the_mean_and_places_agree() {
        let photo = RgbImage::from_fn(97, 61, |x, y| Rgb([(x * 2) as u8, (y * 4) as u8, 90]));
        let level = Level::of(&photo, 3);
        let luma = |p: &Rgb<u8>| {
            (0.299 * f64::from(p[0]) + 0.587 * f64::from(p[1]) + 0.114 * f64::from(p[2])) / 255.0
        };
        let whole = photo.pixels().map(luma).sum::<f64>() / (97.0 * 61.0);
        let ours = level.px.iter().map(|p| f64::from(p.luma)).sum::<f64>() / level.px.len() as f64;
        assert!((ours - whole).abs() < 1e-5, "{ours} {whole}");
        let (x, y) = level.at(40.0, 30.0);
        let (back_x, back_y) = level.to_photo(f64::from(x), f64::from(y));
        assert!((back_x - 40.0).abs() < 1e-3 && (back_y - 30.0).abs() < 1e-3);
    }

    #[test]
    fn a_ramp_has_its_slope() {
        let photo = RgbImage::from_fn(64, 64, |x, _| Rgb([(x * 3) as u8; 3]));
        let level = Level::of(&photo, 0);
        let px = level.sample(30.3, 20.7);
        assert!((px.dx - 3.0 / 255.0).abs() < 1e-5 && px.dy.abs() < 1e-6);
        assert!((px.luma - 30.3 * 3.0 / 255.0).abs() < 1e-5);
    }
}
