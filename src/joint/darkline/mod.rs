//! The dark-line view: how much each place of a photo looks like part of a dark line.
//!
//! Grey against its surroundings, over how lively the surroundings are; then the second derivative
//! across a line, summed along it in both directions, at three widths; then weighted by how far
//! the line goes on. The same numbers mean the same on every photo. Hairlines in joints, tracks,
//! boards and housings show; so do scratches, edges of shadows and printed lines.

mod evened;
mod lines;
mod oriented;
mod rows;

use image::{ImageBuffer, Luma, RgbImage};
use rayon::prelude::*;
use serde::Serialize;

use crate::progress::Progress;

use super::JointError;
use super::plane::{averaged_down, enlarged_onto};
use evened::evened;
use lines::{by_length, strongest};
use oriented::oriented;
use rows::{box_twice, smoothed};

/// Response that the greatest value of the 16-bit picture stands for; stronger ones are clipped.
pub const FULL_SCALE: f32 = 3.0;
/// Most pixels that are worked on; larger photos are averaged down by a whole number first. It
/// bounds time and memory; hairlines finer than that number of px grow fainter.
const WORKING_PIXELS: f64 = 4.0e6;
/// Sigma of the finest scale in photo px: lines of about 2 to 5 px (best on thin cracks of the
/// filters tried in the project's notes, section 2a).
const FINEST: f32 = 2.0;
/// ... but never below this in working px, where the sampled derivative is no longer one.
const LEAST_SIGMA: f32 = 1.2;
/// Half lengths over which the response is summed, px of each scale's own plane; the planes are
/// averaged 1, 2 and 4 times, so lines of about 2 to 20 working px are covered.
const HALF_LENGTHS: [usize; 3] = [10, 8, 6];
/// What each scale counts: the texture of surfaces answers more at the coarse ones. Less of them loses wide cracks.
const WEIGHTS: [f32; 3] = [1.0, 0.85, 0.75];
/// How much darkness itself adds beside a line: it fills wide cracks, whose middle no derivative
/// sees, and costs a little on thin ones.
const FILL: f32 = 0.2;

/// The response of one photo.
#[derive(Debug, Clone, PartialEq)]
pub struct DarkLines {
    /// Width of the upright photo, px.
    pub width: u32,
    /// Height of the upright photo, px.
    pub height: u32,
    /// 0 and up, row by row, [`Self::working_size`]: what [`FULL_SCALE`] clips to 1 in the picture.
    pub response: Vec<f32>,
    /// Photo px per working px.
    pub averaged: usize,
    /// The strongest lines, strongest first.
    pub lines: Vec<DarkLine>,
}

/// One connected dark line.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DarkLine {
    /// Left, top, right, bottom, photo px.
    pub box_px: [f64; 4],
    /// Diagonal of its box, px.
    pub length_px: f64,
    /// Mean response over it, in units of the response.
    pub strength: f64,
}

impl DarkLines {
    /// Size of `response`: the photo's, over `averaged`, rounded up.
    #[must_use]
    pub fn working_size(&self) -> [usize; 2] {
        [self.width, self.height].map(|side| (side as usize).div_ceil(self.averaged.max(1)))
    }

    /// The response as a 16-bit grey picture of the size of the upright photo.
    #[must_use]
    pub fn picture(&self) -> ImageBuffer<Luma<u16>, Vec<u16>> {
        let [w, h] = self.working_size();
        let size = (self.width as usize, self.height as usize);
        let mut grey = vec![0_u16; size.0 * size.1];
        enlarged_onto(
            &mut grey,
            &self.response,
            (w, h),
            self.averaged,
            size,
            |out, v| {
                *out = ((v / FULL_SCALE).clamp(0.0, 1.0) * 65_535.0 + 0.5) as u16;
            },
        );
        ImageBuffer::from_raw(self.width, self.height, grey)
            .unwrap_or_else(|| ImageBuffer::new(self.width, self.height))
    }
}

/// Measures the dark-line response of an upright photo. The result does not depend on the number of
/// threads.
///
/// # Errors
/// [`JointError::Cancelled`] where the work was stopped through `progress`.
pub fn dark_lines(photo: &RgbImage, progress: &Progress) -> Result<DarkLines, JointError> {
    progress.expect(6);
    let (width, height) = (photo.width() as usize, photo.height() as usize);
    let averaged = ((width * height) as f64 / WORKING_PIXELS)
        .sqrt()
        .ceil()
        .max(1.0) as usize;
    if width == 0 || height == 0 {
        return Ok(DarkLines {
            width: photo.width(),
            height: photo.height(),
            response: Vec::new(),
            averaged,
            lines: Vec::new(),
        });
    }
    let (grey, w, h) = grey_averaged(photo, averaged);
    progress.tick()?;
    let even = evened(&grey, w, h);
    progress.tick()?;
    let sigma = (FINEST / averaged as f32).max(LEAST_SIGMA);
    let mut response = Vec::new();
    for (k, (half_length, weight)) in HALF_LENGTHS.into_iter().zip(WEIGHTS).enumerate() {
        let by = 1 << k;
        let (plane, pw, ph) = averaged_down(&even, w, h, by);
        let found = oriented(&plane, pw, ph, sigma, half_length);
        if by == 1 {
            response = found;
        } else {
            enlarged_onto(&mut response, &found, (pw, ph), by, (w, h), |r, v| {
                *r = r.max(weight * v);
            });
        }
        progress.tick()?;
    }
    let weighted = by_length(&response, w);
    let lines = strongest(&weighted, w, averaged);
    let filled = filled(&weighted, &even, w, h);
    progress.tick()?;

    Ok(DarkLines {
        width: photo.width(),
        height: photo.height(),
        response: filled,
        averaged,
        lines,
    })
}

/// Luma of the photo (ITU-R BT.601 weights), averaged down by a whole number.
fn grey_averaged(photo: &RgbImage, by: usize) -> (Vec<f32>, usize, usize) {
    let (width, height) = (photo.width() as usize, photo.height() as usize);
    let (w, h) = (width.div_ceil(by), height.div_ceil(by));
    let raw = photo.as_raw();
    let mut out = vec![0.0_f32; w * h];
    out.par_chunks_mut(w).enumerate().for_each(|(y, out)| {
        let rows = y * by..((y + 1) * by).min(height);
        // Whole numbers: exact, and quick.
        let mut sums = vec![0_u32; w];
        for row in rows.clone() {
            let row = &raw[row * width * 3..(row + 1) * width * 3];
            for (sum, pixels) in sums.iter_mut().zip(row.chunks(3 * by)) {
                for p in pixels.chunks_exact(3) {
                    *sum += 299 * u32::from(p[0]) + 587 * u32::from(p[1]) + 114 * u32::from(p[2]);
                }
            }
        }
        for (x, (out, sum)) in out.iter_mut().zip(sums).enumerate() {
            let columns = by.min(width - x * by);
            *out = sum as f32 / (1000 * rows.len() * columns) as f32;
        }
    });
    (out, w, h)
}

/// Adds darkness where a line is near.
fn filled(response: &[f32], even: &[f32], width: usize, height: usize) -> Vec<f32> {
    /// Half width of the neighbourhood of a line, working px.
    const NEAR: usize = 3;
    /// A response of a quarter nearby opens the fill wholly.
    const OPENS: f32 = 4.0;
    /// Darkness beyond this many local spreads adds no more.
    const DARKEST: f32 = 2.0;
    let near = smoothed(response, width, height, &box_twice(NEAR));
    let smooth = smoothed(even, width, height, &box_twice(1));
    response
        .par_iter()
        .zip(near.par_iter().zip(&smooth))
        .map(|(r, (near, even))| r + FILL * (-even).clamp(0.0, DARKEST) * (OPENS * near).min(1.0))
        .collect()
}

#[cfg(test)]
mod tests;
