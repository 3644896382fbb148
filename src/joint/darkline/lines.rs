//! How far a line goes on: weighting by length, and the strongest lines.

use image::{GrayImage, Luma};
use imageproc::region_labelling::{Connectivity, connected_components};
use rayon::prelude::*;

use super::DarkLine;

/// Levels of the response at which its connected parts are measured.
const LEVELS: [f32; 7] = [0.15, 0.3, 0.45, 0.6, 0.8, 1.0, 1.3];
/// A part this long (diagonal of its box, working px) counts in full. Longer tells cracks from
/// pores better and loses short ones.
const FULL_LENGTH: f32 = 100.0;
/// What a speck still counts.
const SPECK: f32 = 0.25;
/// Level at which lines are listed.
const LISTED_LEVEL: f32 = 0.45;
/// Shortest line that is listed, working px.
const LISTED_LENGTH: f32 = 30.0;
/// Most lines that are listed.
const LISTED: usize = 40;

/// One connected part: box and sum.
#[derive(Debug, Clone, Copy)]
struct Part {
    left: u32,
    top: u32,
    right: u32,
    bottom: u32,
    sum: f64,
    count: u32,
}

impl Part {
    const EMPTY: Self = Self {
        left: u32::MAX,
        top: u32::MAX,
        right: 0,
        bottom: 0,
        sum: 0.0,
        count: 0,
    };

    fn length(&self) -> f32 {
        if self.count == 0 {
            return 0.0;
        }
        let (w, h) = (self.right - self.left + 1, self.bottom - self.top + 1);
        (w as f32).hypot(h as f32)
    }
}

/// Connected parts above a level: the label of each pixel (0 is none), and the parts by label.
fn parts(response: &[f32], width: usize, height: usize, level: f32) -> (Vec<u32>, Vec<Part>) {
    let above = GrayImage::from_raw(
        width as u32,
        height as u32,
        response.iter().map(|v| u8::from(*v > level)).collect(),
    )
    .unwrap_or_default();
    let labels = connected_components(&above, Connectivity::Eight, Luma([0])).into_raw();
    let count = labels.iter().copied().max().unwrap_or(0) as usize;
    let mut parts = vec![Part::EMPTY; count + 1];
    for (i, label) in labels.iter().enumerate() {
        if *label == 0 {
            continue;
        }
        let (x, y) = ((i % width) as u32, (i / width) as u32);
        let part = &mut parts[*label as usize];
        part.left = part.left.min(x);
        part.right = part.right.max(x);
        part.top = part.top.min(y);
        part.bottom = part.bottom.max(y);
        part.sum += f64::from(response[i]);
        part.count += 1;
    }
    (labels, parts)
}

/// Each layer of the response between two levels counts as much as its connected part is long.
pub(super) fn by_length(response: &[f32], width: usize, height: usize) -> Vec<f32> {
    let layers: Vec<(Vec<u32>, Vec<f32>)> = LEVELS
        .par_iter()
        .map(|level| {
            let (labels, parts) = parts(response, width, height, *level);
            let weights = parts
                .iter()
                .map(|p| SPECK + (1.0 - SPECK) * (p.length() / FULL_LENGTH).min(1.0))
                .collect();
            (labels, weights)
        })
        .collect();
    response
        .par_iter()
        .enumerate()
        .map(|(i, value)| {
            let mut sum = SPECK * value.min(LEVELS[0]);
            for (k, (labels, weights)) in layers.iter().enumerate() {
                let top = LEVELS.get(k + 1).copied().unwrap_or(f32::INFINITY);
                let layer = (value - LEVELS[k]).min(top - LEVELS[k]);
                if layer <= 0.0 {
                    break;
                }
                sum += layer * weights[labels[i] as usize];
            }
            sum
        })
        .collect()
}

/// The strongest lines in photo px.
pub(super) fn strongest(
    response: &[f32],
    width: usize,
    height: usize,
    averaged: usize,
) -> Vec<DarkLine> {
    let (_, parts) = parts(response, width, height, LISTED_LEVEL);
    let scale = averaged as f64;
    let tenth = |v: f64| (v * 10.0).round() / 10.0;
    let mut lines: Vec<DarkLine> = parts
        .iter()
        .filter(|p| p.length() >= LISTED_LENGTH)
        .map(|p| DarkLine {
            box_px: [
                f64::from(p.left) * scale,
                f64::from(p.top) * scale,
                f64::from(p.right + 1) * scale - 1.0,
                f64::from(p.bottom + 1) * scale - 1.0,
            ],
            length_px: tenth(f64::from(p.length()) * scale),
            strength: (p.sum / f64::from(p.count) * 1000.0).round() / 1000.0,
        })
        .collect();
    lines.sort_by(|a, b| {
        (b.strength * b.length_px)
            .total_cmp(&(a.strength * a.length_px))
            .then(a.box_px[1].total_cmp(&b.box_px[1]))
            .then(a.box_px[0].total_cmp(&b.box_px[0]))
    });
    lines.truncate(LISTED);
    lines
}
