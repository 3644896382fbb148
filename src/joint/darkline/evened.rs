//! Grey against its surroundings, in units of how lively they are.

use image::{GrayImage, Luma};
use rayon::prelude::*;

use super::super::plane::{averaged_down, blurred, enlarged};

/// The surroundings are averaged by this before their median is taken: it only has to be slow.
const COARSE: usize = 4;
/// Half width of the median window, coarse px: 40 working px. Narrower swallows wide cracks, wider
/// lets the edges of shadows through.
const MEDIAN: u32 = 10;
/// Half width of the window of the spread, working px, taken twice.
const SPREAD: usize = 80;
/// Deviations beyond this many grey levels count as this: one hole must not hush its surroundings.
const WILDEST: f32 = 64.0;
/// Added to the spread, grey levels: where a photo is smooth, its noise is not called texture.
const FLOOR: f32 = 8.0;
/// Limit of the result, spreads.
const CLIP: f32 = 4.0;

/// `(grey - surroundings) / (spread + floor)`, limited to -4..4; dark is negative.
pub(super) fn evened(grey: &[f32], width: usize, height: usize) -> Vec<f32> {
    let (small, w, h) = averaged_down(grey, width, height, COARSE);
    let picture = GrayImage::from_fn(w as u32, h as u32, |x, y| {
        Luma([small[y as usize * w + x as usize].round().clamp(0.0, 255.0) as u8])
    });
    let median = imageproc::filter::median_filter(&picture, MEDIAN, MEDIAN);
    let median: Vec<f32> = median.as_raw().iter().map(|v| f32::from(*v)).collect();
    let around = enlarged(&median, (w, h), COARSE, (width, height));
    let off: Vec<f32> = grey.par_iter().zip(&around).map(|(g, a)| g - a).collect();
    // The spread changes slowly: it is measured coarsely too.
    let squares: Vec<f32> = off
        .par_iter()
        .map(|d| (d * d).min(WILDEST * WILDEST))
        .collect();
    let (squares, w, h) = averaged_down(&squares, width, height, COARSE);
    let spread = blurred(&squares, w, h, SPREAD / COARSE, 2);
    let spread = enlarged(&spread, (w, h), COARSE, (width, height));
    off.par_iter()
        .zip(&spread)
        .map(|(d, s)| (d / (s.max(0.0).sqrt() + FLOOR)).clamp(-CLIP, CLIP))
        .collect()
}
