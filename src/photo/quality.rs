//! Whether a photo can be judged: sharpness, clipping, light and noise, and the advice that
//! mends what stands in the way.

use image::RgbImage;
use rayon::prelude::*;
use serde::Serialize;

use super::sharpness::{Area, edge_width, noise_sigma};
use super::tone;
use crate::geometry::{PhotoBox, PhotoPoint};

/// A channel value from here up holds no detail any more (the project's crack-hint notes,
/// section 4, step 2).
const CLIPPED: u8 = 250;
/// Edge width in px beyond which a photo is too soft to be judged (the same, section 5).
const SOFT_EDGE_PX: f64 = 3.0;
/// Share of clipped pixels beyond which glare hides too much (the same, section 5).
const GLARE_SHARE: f64 = 0.25;
/// Mean grey level below which it is too dark: a lower one hides cracks in noise, a higher one
/// would complain of black boards. Common practice, no source.
const DARK_LEVEL: f64 = 25.0;
/// Noise sigma, in grey levels, beyond which faint lines drown. Texture counts as noise, so a
/// lower one would complain of busy boards. Common practice, no source.
const NOISY_SIGMA: f64 = 14.0;
/// Side in px from which an area without a single clear edge is worth a remark.
const EXPECT_EDGES_PX: u32 = 64;

/// How well one region of a photo can be judged.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RegionQuality {
    /// The region as `[left, top, right, bottom]` in pixels of the upright photo, edges of whole
    /// pixels inside the photo; `None` where it lies off the photo.
    pub region: Option<[f64; 4]>,
    /// Width of its edges in px from 10 % to 90 % of their rise (the sharper quarter of them);
    /// `None` where it has too few clear edges.
    pub edge_px: Option<f64>,
    /// Number of edges measured.
    pub edges: usize,
    /// Share of pixels, 0..1, that are clipped (250 or more in any channel).
    pub clipped: f64,
    /// Mean grey level, 0..255.
    pub level: f64,
    /// Noise sigma in grey levels (Immerkaer 1996); texture counts as noise.
    pub noise: Option<f64>,
    /// What stands in the way of judging and how to mend it, in sentences; `None` where nothing
    /// was found. That says nothing about what the photo shows.
    pub advice: Option<String>,
}

/// Measures regions of an upright photo (pixels; (0, 0) is the centre of the top-left pixel).
#[must_use]
pub fn quality(image: &RgbImage, regions: &[PhotoBox]) -> Vec<RegionQuality> {
    let grey = tone::grey(image);
    regions
        .par_iter()
        .map(|region| match area_of(region, image.dimensions()) {
            Some(area) => measure(image, &grey, area),
            None => off_the_photo(),
        })
        .collect()
}

/// Measures a grid of `columns` by `rows` regions that cover the photo, row by row; 1 by 1 is the
/// whole photo. More than 64 a side is taken as 64.
#[must_use]
pub fn quality_grid(image: &RgbImage, columns: u32, rows: u32) -> Vec<RegionQuality> {
    let (columns, rows) = (columns.clamp(1, 64), rows.clamp(1, 64));
    let (width, height) = (f64::from(image.width()), f64::from(image.height()));
    let at = |column: u32, row: u32| {
        PhotoPoint::new(
            f64::from(column) * width / f64::from(columns) - 0.5,
            f64::from(row) * height / f64::from(rows) - 0.5,
        )
    };
    let regions: Vec<PhotoBox> = (0..rows)
        .flat_map(|row| (0..columns).map(move |column| (column, row)))
        .map(|(column, row)| PhotoBox::new(at(column, row), at(column + 1, row + 1)))
        .collect();
    quality(image, &regions)
}

/// The pixels whose centres lie in a region.
fn area_of(region: &PhotoBox, (width, height): (u32, u32)) -> Option<Area> {
    let clip = |value: f64, length: u32| {
        let up = value.ceil(); // NaN stays NaN and fails below
        up.is_finite()
            .then(|| up.clamp(0.0, f64::from(length)) as u32)
    };
    let area = Area {
        left: clip(region.min.x, width)?,
        top: clip(region.min.y, height)?,
        right: clip(region.max.x, width)?,
        bottom: clip(region.max.y, height)?,
    };
    (area.left < area.right && area.top < area.bottom).then_some(area)
}

fn off_the_photo() -> RegionQuality {
    RegionQuality {
        region: None,
        edge_px: None,
        edges: 0,
        clipped: 0.0,
        level: 0.0,
        noise: None,
        advice: Some("Not on this photo: take one that shows this place.".to_owned()),
    }
}

fn measure(image: &RgbImage, grey: &image::GrayImage, area: Area) -> RegionQuality {
    let (edge_px, edges) = edge_width(grey, area);
    let (clipped, level) = light(image, grey, area);
    let mut found = RegionQuality {
        region: Some([
            f64::from(area.left) - 0.5,
            f64::from(area.top) - 0.5,
            f64::from(area.right) - 0.5,
            f64::from(area.bottom) - 0.5,
        ]),
        edge_px,
        edges,
        clipped,
        level,
        noise: noise_sigma(grey, area),
        advice: None,
    };
    let large = (area.right - area.left).min(area.bottom - area.top) >= EXPECT_EDGES_PX;
    found.advice = advice(&found, large);
    found
}

/// Share of clipped pixels and mean grey level.
fn light(image: &RgbImage, grey: &image::GrayImage, area: Area) -> (f64, f64) {
    let (mut clipped, mut sum) = (0_u64, 0_u64);
    let span = |y: u32, channels: usize| {
        let start = y as usize * image.width() as usize;
        (start + area.left as usize) * channels..(start + area.right as usize) * channels
    };
    for y in area.top..area.bottom {
        for pixel in image.as_raw()[span(y, 3)].chunks_exact(3) {
            clipped += u64::from(pixel.iter().any(|&v| v >= CLIPPED));
        }
        sum += grey.as_raw()[span(y, 1)]
            .iter()
            .map(|&v| u64::from(v))
            .sum::<u64>();
    }
    let count = f64::from(area.right - area.left) * f64::from(area.bottom - area.top);
    (clipped as f64 / count, sum as f64 / count)
}

fn advice(found: &RegionQuality, large: bool) -> Option<String> {
    if !large {
        // Without room for an edge nothing says whether it is sharp.
        return Some(format!(
            "Too small to be measured: at least {EXPECT_EDGES_PX} px each way are needed."
        ));
    }
    let mut says = Vec::new();
    if found.clipped > GLARE_SHARE {
        says.push(format!(
            "Glare covers {:.0} %: move the lamp, or put paper in front of it.",
            found.clipped * 100.0
        ));
    }
    if found.level < DARK_LEVEL {
        says.push("Too dark: bring more light.".to_owned());
    }
    match found.edge_px {
        Some(width) if width > SOFT_EDGE_PX => says.push(format!(
            "Too soft (edges {width:.1} px wide): hold steadier, focus again or come closer."
        )),
        None if says.is_empty() => {
            says.push("No clear edge: too soft, or nothing there to focus on.".to_owned());
        }
        _ => {}
    }
    if found.noise.is_some_and(|sigma| sigma > NOISY_SIGMA) {
        says.push("Grainy: bring more light and lower the camera's sensitivity.".to_owned());
    }
    (!says.is_empty()).then(|| says.join(" "))
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;

    fn stripes(width: u32, height: u32) -> RgbImage {
        RgbImage::from_fn(width, height, |x, _| {
            if x / 12 % 2 == 0 {
                Rgb([60, 70, 60])
            } else {
                Rgb([170, 160, 150])
            }
        })
    }

    #[test]
    fn a_soft_half_is_told_from_a_sharp_half() {
        let sharp = stripes(300, 200);
        let soft = imageproc::filter::gaussian_blur_f32(&sharp, 3.0);
        let mut image = sharp;
        for y in 0..200 {
            for x in 150..300 {
                image.put_pixel(x, y, *soft.get_pixel(x, y));
            }
        }
        let halves = quality_grid(&image, 2, 1);
        assert_eq!(halves.len(), 2);
        assert!(halves[0].edge_px.unwrap() < 1.0 && halves[0].advice.is_none());
        assert!(halves[1].edge_px.unwrap() > SOFT_EDGE_PX);
        let advice = halves[1].advice.as_deref().unwrap();
        assert!(advice.starts_with("Too soft"), "{advice}");
    }

    #[test]
    fn glare_and_darkness_are_counted() {
        let mut image = stripes(100, 100);
        for y in 0..40 {
            for x in 0..100 {
                image.put_pixel(x, y, Rgb([10, 250, 10])); // one channel is enough
            }
        }
        let whole = quality_grid(&image, 1, 1).remove(0);
        assert!((whole.clipped - 0.4).abs() < 1e-12);
        assert!(whole.advice.unwrap().starts_with("Glare covers 40 %"));
        let night = RgbImage::from_pixel(100, 100, Rgb([5, 5, 5]));
        let dark = quality_grid(&night, 1, 1).remove(0);
        assert!((dark.level - 5.0).abs() < 1e-12);
        assert!(dark.advice.unwrap().starts_with("Too dark"));
    }

    #[test]
    fn regions_off_the_photo_or_not_finite_are_said() {
        let image = stripes(50, 50);
        let at = |a, b, c, d| PhotoBox::new(PhotoPoint::new(a, b), PhotoPoint::new(c, d));
        let found = quality(
            &image,
            &[
                at(60.0, 0.0, 80.0, 20.0),
                at(f64::NAN, 0.0, 20.0, 20.0),
                at(40.0, 40.0, 400.0, 400.0),
            ],
        );
        assert!(found[0].region.is_none() && found[1].region.is_none());
        assert_eq!(found[2].region, Some([39.5, 39.5, 49.5, 49.5]));
        assert!(
            found[0]
                .advice
                .as_deref()
                .unwrap()
                .contains("Not on this photo")
        );
    }

    #[test]
    fn the_grid_covers_the_photo_without_overlap() {
        let cells = quality_grid(&stripes(101, 67), 3, 4);
        let total: f64 = cells
            .iter()
            .filter_map(|cell| cell.region)
            .map(|[l, t, r, b]| (r - l) * (b - t))
            .sum();
        assert_eq!(total, 101.0 * 67.0);
    }
}
