//! The ring unrolled for the measure: directions round the pin, lanes from pin to rim.
//!
//! Lanes are shares of the land radius, so that every joint gives a sheet of the same size.

#![allow(
    clippy::needless_range_loop,
    reason = "loops of fixed length become vectors"
)]

use std::f32::consts::TAU;
use std::sync::LazyLock;

use super::light::Patch;
use super::polar::Frame;
use super::sample::Grid;
use crate::wide::widest;

/// Directions round the pin, 6 degrees each.
pub(crate) const DIRECTIONS: usize = 60;
/// Lanes between [`INNER`] and [`OUTER`]: half a pixel each where the land is 50 px across.
pub(crate) const LANES: usize = 48;
/// The sheet reaches from this share of the land radius ...
const INNER: f32 = 0.12;
/// ... to this one.
const OUTER: f32 = 1.06;
/// Samples per direction before averaging.
const FINE: usize = 2;

/// Cosine and sine of every sampled angle.
static TURN: LazyLock<Vec<(f32, f32)>> = LazyLock::new(|| {
    (0..FINE * DIRECTIONS)
        .map(|a| {
            let (sin, cos) = (a as f32 * TAU / (FINE * DIRECTIONS) as f32).sin_cos();
            (cos, sin)
        })
        .collect()
});

/// The unrolled ring as the measure wants it.
#[derive(Debug, Clone)]
pub(crate) struct Lanes {
    /// Log luminance, [`DIRECTIONS`] rows of [`LANES`].
    pub(crate) log: Vec<f32>,
    /// Whether glare clips the sample, same layout; empty where nothing is clipped.
    clipped: Vec<bool>,
    frame: Frame,
}

/// Radius of a lane's middle as a share of the land radius.
pub(crate) fn share_of(lane: usize) -> f32 {
    INNER + (OUTER - INNER) * (lane as f32 + 0.5) / LANES as f32
}

impl Lanes {
    /// Bilinear samples of the patch every 3 degrees; each direction is the sample on it and half of both
    /// beside it. Positions beyond the patch take its border. `grid` is the patch's log luminance.
    pub(crate) fn unroll(patch: &Patch, grid: &Grid, frame: Frame) -> Self {
        let side = patch.side;
        let last = (side - 1) as f32 - 1e-3;
        let place = |(cos, sin): (f32, f32), reach: f32| {
            let x = (frame.centre.0 + cos * reach).clamp(0.0, last);
            let y = (frame.centre.1 + sin * reach).clamp(0.0, last);
            (x, y)
        };
        let reach: [f32; LANES] = std::array::from_fn(|lane| share_of(lane) * frame.radius);
        let mut log = vec![0.0_f32; DIRECTIONS * LANES];
        widest(
            #[inline(always)]
            || sheet(grid, frame, &reach, &mut log),
        );
        let clipped = if patch.glare {
            TURN.iter()
                .step_by(FINE)
                .flat_map(|turn| reach.iter().map(move |r| (turn, *r)))
                .map(|(turn, reach)| {
                    let (x, y) = place(*turn, reach);
                    let nearest = (y + 0.5) as usize * side + (x + 0.5) as usize;
                    patch.clipped.get(nearest).is_some_and(|c| *c > 0.5)
                })
                .collect()
        } else {
            Vec::new()
        };
        Self {
            log,
            clipped,
            frame,
        }
    }

    /// A sheet of these numbers, without glare.
    #[cfg(test)]
    pub(crate) fn of(log: Vec<f32>) -> Self {
        let frame = Frame {
            centre: (0.0, 0.0),
            radius: 1.0,
            oval: (0.0, 0.0),
        };
        let clipped = Vec::new();
        Self {
            log,
            clipped,
            frame,
        }
    }

    /// Whether glare hides this place.
    pub(crate) fn hidden(&self, direction: usize, lane: usize) -> bool {
        self.clipped
            .get(direction * LANES + lane)
            .copied()
            .unwrap_or(false)
    }

    /// Log luminance along one direction.
    pub(crate) fn row(&self, direction: usize) -> &[f32] {
        &self.log[direction * LANES..(direction + 1) * LANES]
    }

    /// Radius of a lane, working px.
    pub(crate) fn radius(&self, lane: usize) -> f32 {
        share_of(lane) * self.frame.radius
    }

    /// Working-pixel position of a direction and a lane.
    pub(crate) fn at(&self, direction: usize, lane: usize) -> (f32, f32) {
        let (cos, sin) = TURN[FINE * direction];
        let reach = self.radius(lane);
        (
            self.frame.centre.0 + cos * reach,
            self.frame.centre.1 + sin * reach,
        )
    }
}

/// Samples twice as many directions as are kept, and averages them.
#[inline(always)]
fn sheet(grid: &Grid, frame: Frame, reach: &[f32; LANES], log: &mut [f32]) {
    const ANGLES: usize = FINE * DIRECTIONS;
    let mut fine = [[0.0_f32; LANES]; ANGLES];
    for (turn, row) in TURN.iter().zip(&mut fine) {
        grid.along_ray(frame.centre, *turn, reach, row);
    }
    let (rows, _) = log.as_chunks_mut::<LANES>();
    for (direction, row) in rows.iter_mut().enumerate() {
        let here = FINE * direction;
        let (before, on, after) = (
            &fine[(here + ANGLES - 1) % ANGLES],
            &fine[here],
            &fine[here + 1],
        );
        for lane in 0..LANES {
            row[lane] = 0.5 * on[lane] + 0.25 * (before[lane] + after[lane]);
        }
    }
}
