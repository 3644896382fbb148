//! The ring round the pin, unrolled: one row per angle, one column per radius.

use std::f32::consts::TAU;

use super::light::Patch;
use super::sample::along_ray;

/// Angles of the unrolled ring. At the path radii of a 24 px land one step is about half a pixel;
/// more angles cost time and see nothing new.
pub(crate) const ANGLES: usize = 180;

/// Radial step, working px (crack-hint pipeline, step 3).
pub(crate) const RADIAL_STEP: f32 = 0.5;

/// The unrolling reaches from this share of the land radius ...
const INNER: f32 = 0.08;
/// ... to this one.
const OUTER: f32 = 1.15;

/// Where the ring is unrolled from: an ellipse's middle and shape, working px.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Frame {
    /// Middle.
    pub(crate) centre: (f32, f32),
    /// Land radius.
    pub(crate) radius: f32,
    /// Radius factor is 1 + c cos 2a + s sin 2a.
    pub(crate) oval: (f32, f32),
}

impl Frame {
    pub(crate) fn of(patch: &Patch) -> Self {
        Self {
            centre: patch.centre,
            radius: patch.radius,
            oval: (0.0, 0.0),
        }
    }

    /// Unit direction of an angle index (0 is right, rising clockwise on screen as y points down).
    pub(crate) fn direction(angle: usize) -> (f32, f32) {
        let (sin, cos) = (angle as f32 * TAU / ANGLES as f32).sin_cos();
        (cos, sin)
    }

    fn stretch(&self, angle: usize) -> f32 {
        let (sin, cos) = (2.0 * angle as f32 * TAU / ANGLES as f32).sin_cos();
        1.0 + self.oval.0 * cos + self.oval.1 * sin
    }
}

/// The unrolled ring.
#[derive(Debug, Clone)]
pub(crate) struct Ring {
    /// Columns: radii from [`Ring::first`] by [`RADIAL_STEP`].
    pub(crate) radii: usize,
    /// Radius of column 0, working px.
    pub(crate) first: f32,
    /// Log luminance, [`ANGLES`] rows of `radii` columns.
    pub(crate) log: Vec<f32>,
    /// 0..1: how much of the sample is clipped.
    pub(crate) clipped: Vec<f32>,
    /// Where it was unrolled from.
    pub(crate) frame: Frame,
}

impl Ring {
    /// Bilinear samples of the patch; positions beyond it take its border.
    pub(crate) fn unroll(patch: &Patch, frame: Frame) -> Self {
        let first = INNER * frame.radius;
        let radii = (((OUTER - INNER) * frame.radius / RADIAL_STEP) as usize).max(1) + 1;
        let glare = patch.clipped.iter().any(|c| *c > 0.0);
        let mut log = vec![0.0_f32; ANGLES * radii];
        let mut clipped = vec![0.0_f32; ANGLES * radii];
        let mut reach = vec![0.0_f32; radii];
        for angle in 0..ANGLES {
            let step = Frame::direction(angle);
            let stretch = frame.stretch(angle);
            for (column, reach) in reach.iter_mut().enumerate() {
                *reach = (first + column as f32 * RADIAL_STEP) * stretch;
            }
            let row = angle * radii..(angle + 1) * radii;
            let sample = |plane: &[f32], out: &mut [f32]| {
                along_ray(plane, patch.side, frame.centre, step, &reach, out);
            };
            sample(&patch.log, &mut log[row.clone()]);
            if glare {
                sample(&patch.clipped, &mut clipped[row]);
            }
        }
        Self {
            radii,
            first,
            log,
            clipped,
            frame,
        }
    }

    /// Column nearest to a radius, within the ring.
    pub(crate) fn column(&self, radius: f32) -> usize {
        let c = ((radius - self.first) / RADIAL_STEP).round().max(0.0) as usize;
        c.min(self.radii - 1)
    }
}
