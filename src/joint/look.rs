//! One joint for the glass: the ring, unrolled, with the dark arc on it.

use image::{GrayImage, Luma, RgbImage};

use super::JointSpot;
use super::gate::Gate;
use super::lanes::DIRECTIONS;
use super::polar::{ANGLES, RADIAL_STEP, Ring};
use super::report::{Measured, measure};

/// The ring round one joint, unrolled, and the path that the hint followed.
#[derive(Debug, Clone)]
pub struct Look {
    /// The unrolled ring: x is the angle (0 is right of the pin, rising clockwise on the photo, 2
    /// degrees per pixel), y is the radius, innermost at the top. Dark is dark, stretched to its own range.
    pub ring: GrayImage,
    /// Glare: `true` where the unrolled ring is clipped, same layout as `ring`, row by row.
    pub unknown: Vec<bool>,
    /// Where the path runs, one point (x, y) of `ring` per direction, x rising.
    pub path: Vec<(f64, f64)>,
    /// Contrast of the path against both its sides, one per point of `path`, natural log units.
    pub depth: Vec<f64>,
    /// First point of `path` in the dark arc and how many there are (wrapping round); 0 without one.
    pub arc: (usize, usize),
    /// Photo pixels per row of `ring`.
    pub px_per_row: f64,
    /// What the quality gate measured.
    pub gate: Gate,
    /// Noise of the log luminance here.
    pub noise: f64,
}

/// Looks at one joint by itself.
///
/// # Errors
/// The sentence that says why there is no reading and what would help.
pub fn look(photo: &RgbImage, spot: &JointSpot) -> Result<Look, String> {
    let measured = measure(photo, spot).map_err(|(why, _)| why.sentence())?;
    Ok(shown(&measured))
}

fn shown(measured: &Measured) -> Look {
    let ring = &measured.ring;
    Look {
        ring: picture(ring),
        unknown: (0..ring.radii)
            .flat_map(|c| {
                (0..ANGLES).map(move |a| {
                    let clipped = ring.clipped.get(a * ring.radii + c);
                    clipped.is_some_and(|share| *share > 0.5)
                })
            })
            .collect(),
        path: measured
            .traced
            .path
            .iter()
            .enumerate()
            .map(|(k, lane)| {
                let column = (measured.lanes.radius(*lane) - ring.first) / RADIAL_STEP;
                ((k * (ANGLES / DIRECTIONS)) as f64, f64::from(column))
            })
            .collect(),
        depth: measured
            .traced
            .depth
            .iter()
            .map(|d| f64::from(*d))
            .collect(),
        arc: measured.traced.arc,
        px_per_row: f64::from(RADIAL_STEP) * measured.patch.shrink as f64,
        gate: measured.gate,
        noise: f64::from(measured.noise),
    }
}

fn picture(ring: &Ring) -> GrayImage {
    let (mut low, mut high) = (f32::INFINITY, f32::NEG_INFINITY);
    for v in &ring.log {
        low = low.min(*v);
        high = high.max(*v);
    }
    let span = (high - low).max(1e-6);
    GrayImage::from_fn(ANGLES as u32, ring.radii as u32, |x, y| {
        let v = ring.log[x as usize * ring.radii + y as usize];
        Luma([((v - low) / span * 255.0).round() as u8])
    })
}
