//! Viewing aids: exposure and local contrast. They act on the copies that go to the screen;
//! neither the file nor the decoded photo nor any measurement ever sees them.

use eframe::egui::Color32;
use image::RgbImage;

/// Cells of the local-contrast grid along the longer side. More cells follow smaller shadows but
/// turn noise into texture; eight is the usual choice (common practice, no source).
const CELLS: usize = 8;
/// How much steeper than on average a cell may make any one level: the "contrast limit" of
/// contrast-limited equalisation (Zuiderveld 1994, from memory). Higher shows more and lies more.
const CLIP: f32 = 2.5;
/// Exposure range in stops either way: beyond three, eight-bit pictures show nothing but steps.
pub const STOPS: std::ops::RangeInclusive<f32> = -3.0..=3.0;

/// What the person has set.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Aids {
    /// Exposure in stops; 0 is as photographed.
    pub stops: f32,
    /// Local contrast on.
    pub local_contrast: bool,
}

impl Aids {
    /// Exposure brought into [`STOPS`].
    #[must_use]
    pub fn with_stops(self, stops: f32) -> Self {
        let stops = if stops.is_finite() { stops } else { 0.0 };
        Self {
            stops: stops.clamp(*STOPS.start(), *STOPS.end()),
            ..self
        }
    }

    /// In words, or nothing where the photo is shown as it is.
    #[must_use]
    pub fn words(&self) -> Option<String> {
        let mut words = Vec::new();
        if self.stops != 0.0 {
            let sign = if self.stops > 0.0 {
                "brighter"
            } else {
                "darker"
            };
            words.push(format!("shown {:.1} stops {sign}", self.stops.abs()));
        }
        if self.local_contrast {
            words.push("local contrast on".to_owned());
        }
        (!words.is_empty()).then(|| words.join(", "))
    }
}

/// The aids worked out for one photo: tables that a tile is drawn through.
#[derive(Debug, Clone)]
pub struct Tone {
    exposure: [u8; 256],
    local: Option<LocalContrast>,
}

impl Tone {
    /// Works the aids out; `small` is the photo at any small size.
    #[must_use]
    pub fn new(aids: Aids, small: Option<&RgbImage>) -> Self {
        let exposure = exposure_table(aids.stops);
        let local = small
            .filter(|small| aids.local_contrast && small.width() > 0 && small.height() > 0)
            .map(|small| LocalContrast::new(small, &exposure));
        Self { exposure, local }
    }

    /// One pixel; `at` is its place in the photo, 0..=1 across and down.
    #[must_use]
    pub fn pixel(&self, rgb: [u8; 3], at: [f32; 2]) -> Color32 {
        let [r, g, b] = rgb.map(|v| self.exposure[usize::from(v)]);
        let Some(local) = &self.local else {
            return Color32::from_rgb(r, g, b);
        };
        let before = luma([r, g, b]);
        let gain = local.level(before, at) / f32::from(before.max(1));
        let scaled = |v: u8| (f32::from(v) * gain).min(255.0) as u8;
        Color32::from_rgb(scaled(r), scaled(g), scaled(b))
    }
}

/// Exposure acts on light, not on code values: sRGB is undone, scaled and done again.
fn exposure_table(stops: f32) -> [u8; 256] {
    let gain = stops.exp2();
    std::array::from_fn(|value| {
        let c = value as f32 / 255.0;
        let light = if c <= 0.040_45 {
            c / 12.92
        } else {
            ((c + 0.055) / 1.055).powf(2.4)
        };
        let light = (light * gain).min(1.0);
        let c = if light <= 0.003_130_8 {
            light * 12.92
        } else {
            1.055 * light.powf(1.0 / 2.4) - 0.055
        };
        (c * 255.0).round() as u8
    })
}

/// Luma of an sRGB pixel with the weights of ITU-R BT.601, in integers.
fn luma([r, g, b]: [u8; 3]) -> u8 {
    ((u32::from(r) * 77 + u32::from(g) * 150 + u32::from(b) * 29) >> 8) as u8
}

/// Contrast-limited adaptive histogram equalisation: one map per cell, blended between cells.
#[derive(Debug, Clone)]
struct LocalContrast {
    columns: usize,
    rows: usize,
    maps: Vec<[f32; 256]>,
}

impl LocalContrast {
    fn new(small: &RgbImage, exposure: &[u8; 256]) -> Self {
        let (width, height) = (small.width() as usize, small.height() as usize);
        let longest = width.max(height);
        let cells = |side: usize| (side * CELLS).div_ceil(longest).clamp(1, side);
        let (columns, rows) = (cells(width), cells(height));
        let mut counts = vec![[0_u32; 256]; columns * rows];
        for (x, y, pixel) in small.enumerate_pixels() {
            let cell = (y as usize * rows / height) * columns + x as usize * columns / width;
            let level = luma(pixel.0.map(|v| exposure[usize::from(v)]));
            counts[cell][usize::from(level)] += 1;
        }
        let maps = counts.iter().map(equalised).collect();
        Self {
            columns,
            rows,
            maps,
        }
    }

    /// Where a level goes at a place of the photo, blended between the four nearest cells.
    fn level(&self, level: u8, at: [f32; 2]) -> f32 {
        let along = |share: f32, cells: usize| {
            let place = (share * cells as f32 - 0.5).clamp(0.0, (cells - 1) as f32);
            let first = place as usize;
            (first, (first + 1).min(cells - 1), place - first as f32)
        };
        let (x0, x1, fx) = along(at[0], self.columns);
        let (y0, y1, fy) = along(at[1], self.rows);
        let map = |x: usize, y: usize| self.maps[y * self.columns + x][usize::from(level)];
        let top = map(x0, y0) * (1.0 - fx) + map(x1, y0) * fx;
        let bottom = map(x0, y1) * (1.0 - fx) + map(x1, y1) * fx;
        top * (1.0 - fy) + bottom * fy
    }
}

/// The map of one cell: its cumulative histogram after clipping, 0..=255.
fn equalised(counts: &[u32; 256]) -> [f32; 256] {
    let total: u32 = counts.iter().sum();
    let mean = total.max(1) as f32 / 256.0;
    let limit = mean * CLIP;
    let clipped: Vec<f32> = counts.iter().map(|&n| (n as f32).min(limit)).collect();
    // What was cut off is spread evenly, so that an even cell keeps its levels as they are.
    let spare = (total as f32 - clipped.iter().sum::<f32>()).max(0.0) / 256.0;
    let whole = clipped.iter().sum::<f32>() + spare * 256.0;
    let mut map = [0.0; 256];
    let mut sum = 0.0;
    for (to, n) in map.iter_mut().zip(clipped) {
        sum += n + spare;
        *to = if whole > 0.0 {
            sum / whole * 255.0
        } else {
            0.0
        };
    }
    map
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;

    #[test]
    fn without_aids_every_pixel_is_as_photographed() {
        let tone = Tone::new(Aids::default(), None);
        for v in 0..=255 {
            let pixel = tone.pixel([v, 255 - v, 7], [0.5, 0.5]);
            assert_eq!(pixel, Color32::from_rgb(v, 255 - v, 7));
        }
    }

    /// IEC 61966-2-1 (sRGB): code 188 is 0.50289 of full light, so one stop more clips it and
    /// one stop less brings 255 to 0.5, which is code 188 (187.5).
    #[test]
    fn one_stop_is_a_factor_of_two_in_light() {
        let up = exposure_table(1.0);
        let down = exposure_table(-1.0);
        assert_eq!(up[188], 255);
        assert_eq!(down[255], 188);
        // 0.2158605 (128) doubled is 0.431721, which is code 176 (175.6).
        assert_eq!(up[128], 176);
        assert!(up.windows(2).all(|w| w[0] <= w[1]));
    }

    #[test]
    fn local_contrast_spreads_a_flat_dark_cell_and_keeps_order() {
        let small = RgbImage::from_fn(160, 120, |x, y| {
            let base = if x < 80 { 20 } else { 180 };
            let v = base + ((x * 7 + y * 13) % 12) as u8;
            Rgb([v, v, v])
        });
        let aids = Aids {
            stops: 0.0,
            local_contrast: true,
        };
        let tone = Tone::new(aids, Some(&small));
        let at = [0.2, 0.5];
        let levels: Vec<u8> = (0..=255).map(|v| tone.pixel([v; 3], at).r()).collect();
        assert!(levels.windows(2).all(|w| w[0] <= w[1]), "order is kept");
        assert!(
            levels[31] - levels[20] > 20,
            "11 levels became {}",
            levels[31] - levels[20]
        );
        assert_eq!(
            Tone::new(aids, None).pixel([9; 3], at),
            Color32::from_rgb(9, 9, 9)
        );
    }

    #[test]
    fn settings_are_brought_into_range_and_said() {
        assert_eq!(Aids::default().with_stops(99.0).stops, 3.0);
        assert_eq!(Aids::default().with_stops(f32::NAN).stops, 0.0);
        assert_eq!(Aids::default().words(), None);
        let aids = Aids {
            stops: -1.0,
            local_contrast: true,
        };
        assert_eq!(
            aids.words().unwrap(),
            "shown 1.0 stops darker, local contrast on"
        );
    }
}
