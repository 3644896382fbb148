//! The dark-line view: how much each place of a photo looks like part of a dark line.
//!
//! Grey against its surroundings, over how lively the surroundings are; then the second derivative
//! across a line, summed along it in both directions, at three widths; then weighted by how far
//! the line goes on. The same numbers mean the same on every photo. Hairlines in joints, tracks,
//! boards and housings show; so do scratches, edges of shadows and printed lines.

mod evened;
mod lines;
mod oriented;

use image::{ImageBuffer, Luma, RgbImage};
use rayon::prelude::*;
use serde::Serialize;

use crate::progress::Progress;

use super::JointError;
use super::plane::{averaged_down, blurred, enlarged};
use evened::evened;
use lines::{by_length, strongest};
use oriented::oriented;

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
    /// 0 and up, row by row: what [`FULL_SCALE`] clips to 1 in the picture.
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
    /// The response as a 16-bit grey picture of the size of the upright photo.
    #[must_use]
    pub fn picture(&self) -> ImageBuffer<Luma<u16>, Vec<u16>> {
        let grey = self
            .response
            .par_iter()
            .map(|v| ((v / FULL_SCALE).clamp(0.0, 1.0) * 65_535.0).round() as u16)
            .collect();
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
    let grey: Vec<f32> = photo
        .as_raw()
        .par_chunks_exact(3)
        .map(|p| 0.299 * f32::from(p[0]) + 0.587 * f32::from(p[1]) + 0.114 * f32::from(p[2]))
        .collect();
    if grey.is_empty() {
        return Ok(DarkLines {
            width: photo.width(),
            height: photo.height(),
            response: grey,
            averaged,
            lines: Vec::new(),
        });
    }
    let (grey, w, h) = averaged_down(&grey, width, height, averaged);
    progress.tick()?;
    let even = evened(&grey, w, h);
    progress.tick()?;
    let sigma = (FINEST / averaged as f32).max(LEAST_SIGMA);
    let mut response = vec![0.0_f32; w * h];
    for (k, half_length) in HALF_LENGTHS.into_iter().enumerate() {
        let by = 1 << k;
        let (plane, pw, ph) = averaged_down(&even, w, h, by);
        let found = oriented(&plane, pw, ph, sigma, half_length);
        let found = if by == 1 {
            found
        } else {
            enlarged(&found, (pw, ph), by, (w, h))
        };
        response
            .par_iter_mut()
            .zip(found)
            .for_each(|(r, v)| *r = r.max(v));
        progress.tick()?;
    }
    let weighted = by_length(&response, w, h);
    let lines = strongest(&weighted, w, h, averaged);
    let filled = filled(&weighted, &even, w, h);
    progress.tick()?;
    let response = if averaged == 1 {
        filled
    } else {
        enlarged(&filled, (w, h), averaged, (width, height))
    };
    Ok(DarkLines {
        width: photo.width(),
        height: photo.height(),
        response,
        averaged,
        lines,
    })
}

/// Adds darkness where a line is near.
fn filled(response: &[f32], even: &[f32], width: usize, height: usize) -> Vec<f32> {
    /// Half width of the neighbourhood of a line, working px.
    const NEAR: usize = 3;
    /// A response of a quarter nearby opens the fill wholly.
    const OPENS: f32 = 4.0;
    /// Darkness beyond this many local spreads adds no more.
    const DARKEST: f32 = 2.0;
    let near = blurred(response, width, height, NEAR, 2);
    let smooth = blurred(even, width, height, 1, 2);
    response
        .par_iter()
        .zip(near.par_iter().zip(&smooth))
        .map(|(r, (near, even))| r + FILL * (-even).clamp(0.0, DARKEST) * (OPENS * near).min(1.0))
        .collect()
}

#[cfg(test)]
mod tests;
