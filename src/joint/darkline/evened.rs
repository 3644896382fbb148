//! Grey against its surroundings, in units of how lively they are.

use super::super::plane::{averaged_down, averaged_down_of, blurred, enlarged_onto};
use image::{GrayImage, Luma};
use rayon::prelude::*;

/// The surroundings are averaged by this before their median is taken: it only has to be slow.
const COARSE: usize = 4;
/// Half width of the median window, coarse px: 40 working px. Narrower swallows wide cracks, wider
/// lets the edges of shadows through.
const MEDIAN: u32 = 10;
/// Half width of the window of the spread, working px, taken twice. Narrower follows a change of surface
/// better and lets a wide crack count as liveliness of its own surroundings.
const SPREAD: usize = 60;
/// Added to the grey level before its logarithm. A crack takes a share of the light, so that it is deeper in
/// grey levels where the surface is bright; smaller values find more in the dark and lift its noise.
const TONE_FLOOR: f32 = 60.0;
/// Steps of the table of tones for one grey level.
const TONE_STEPS: f32 = 8.0;
/// Deviations beyond this many grey levels count as this: one hole must not hush its surroundings.
const WILDEST: f32 = 64.0;
/// Added to the spread, grey levels: where a photo is smooth, its noise is not called texture.
const FLOOR: f32 = 8.0;
/// Limit of the result, spreads.
const CLIP: f32 = 4.0;

/// Grey levels on a logarithmic scale from 0 to 255.
fn toned(grey: &[f32]) -> Vec<f32> {
    let whole = 255.0 / ((255.0 + TONE_FLOOR) / TONE_FLOOR).ln();
    let table: Vec<f32> = (0..=(255.0 * TONE_STEPS) as usize)
        .map(|i| whole * ((i as f32 / TONE_STEPS + TONE_FLOOR) / TONE_FLOOR).ln())
        .collect();
    grey.par_iter()
        .map(|v| table[((v * TONE_STEPS + 0.5) as usize).min(table.len() - 1)])
        .collect()
}

/// `(tone - surroundings) / (spread + floor)`, limited to -4..4; dark is negative.
pub(super) fn evened(grey: &[f32], width: usize, height: usize) -> Vec<f32> {
    let mut off = toned(grey);
    let (small, w, h) = averaged_down(&off, width, height, COARSE);
    let picture = GrayImage::from_fn(w as u32, h as u32, |x, y| {
        Luma([small[y as usize * w + x as usize].round().clamp(0.0, 255.0) as u8])
    });
    let median = imageproc::filter::median_filter(&picture, MEDIAN, MEDIAN);
    let median: Vec<f32> = median.as_raw().iter().map(|v| f32::from(*v)).collect();
    enlarged_onto(
        &mut off,
        &median,
        (w, h),
        COARSE,
        (width, height),
        |g, around| *g -= around,
    );
    // The spread changes slowly: it is measured coarsely too.
    let (squares, w, h) = averaged_down_of(&off, width, height, COARSE, |d| {
        (d * d).min(WILDEST * WILDEST)
    });
    let spread = blurred(&squares, w, h, SPREAD / COARSE, 2);
    enlarged_onto(
        &mut off,
        &spread,
        (w, h),
        COARSE,
        (width, height),
        |d, s| {
            *d = (*d / (s.max(0.0).sqrt() + FLOOR)).clamp(-CLIP, CLIP);
        },
    );
    off
}
