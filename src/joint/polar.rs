//! The ring round the pin, unrolled: one row per angle, one column per radius.

use std::f32::consts::TAU;
use std::sync::LazyLock;

use super::light::Patch;
use super::sample::{Grid, VECTOR};
use crate::wide::widest;

/// Angles of the unrolled ring. At the path radii of a 24 px land one step is about half a pixel;
/// more angles cost time and see nothing new.
pub(crate) const ANGLES: usize = 180;

/// Radial step, working px (crack-hint pipeline, step 3).
pub(crate) const RADIAL_STEP: f32 = 0.5;

/// The unrolling reaches from this share of the land radius ...
const INNER: f32 = 0.08;
/// ... to this one.
const OUTER: f32 = 1.15;

/// Cosine and sine of every angle, and of twice the angle.
static TURN: LazyLock<[[(f32, f32); 2]; ANGLES]> = LazyLock::new(|| {
    let turned = |angle: f32| {
        let (sin, cos) = angle.sin_cos();
        (cos, sin)
    };
    std::array::from_fn(|angle| {
        let angle = angle as f32;
        [
            turned(angle * TAU / ANGLES as f32),
            turned(2.0 * angle * TAU / ANGLES as f32),
        ]
    })
});

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

    /// How much farther out an angle's samples lie on an oval.
    fn stretch(&self, (cos, sin): (f32, f32)) -> f32 {
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
    /// 0..1: how much of the sample is clipped, same layout; empty where nothing is.
    pub(crate) clipped: Vec<f32>,
    /// Where it was unrolled from.
    pub(crate) frame: Frame,
}

impl Ring {
    /// Bilinear samples of the patch; positions beyond it take its border. `grid` is the patch's log luminance.
    pub(crate) fn unroll(patch: &Patch, grid: &Grid, frame: Frame) -> Self {
        let first = INNER * frame.radius;
        let radii = (((OUTER - INNER) * frame.radius / RADIAL_STEP) as usize).max(1) + 1;
        let sampled = |grid: &Grid| {
            let mut out = vec![0.0_f32; ANGLES * radii];
            widest(
                #[inline(always)]
                || rays(grid, frame, first, radii, &mut out),
            );
            out
        };
        let log = sampled(grid);
        let clipped = if patch.glare {
            sampled(&Grid::of(&patch.clipped, patch.side))
        } else {
            Vec::new()
        };
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

/// Samples every angle at the radii of the ring.
#[inline(always)]
fn rays(grid: &Grid, frame: Frame, first: f32, radii: usize, out: &mut [f32]) {
    let mut reach = vec![0.0_f32; radii.next_multiple_of(VECTOR)];
    let mut stretched = f32::NAN;
    for ([turn, twice], out) in TURN.iter().zip(out.chunks_exact_mut(radii)) {
        let stretch = frame.stretch(*twice);
        if stretch != stretched {
            stretched = stretch;
            for (column, reach) in reach.iter_mut().enumerate() {
                *reach = (first + column as f32 * RADIAL_STEP) * stretch;
            }
        }
        grid.along_ray(frame.centre, *turn, &reach, out);
    }
}
