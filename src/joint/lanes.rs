//! The ring unrolled for the measure: directions round the pin, lanes from pin to rim.
//!
//! Lanes are shares of the land radius, so that every joint gives a sheet of the same size.

use std::f32::consts::TAU;
use std::sync::LazyLock;

use super::light::Patch;
use super::polar::Frame;
use super::sample::along_ray;

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
    /// beside it. Positions beyond the patch take its border.
    pub(crate) fn unroll(patch: &Patch, frame: Frame) -> Self {
        let side = patch.side;
        let last = (side - 1) as f32 - 1e-3;
        let place = |(cos, sin): (f32, f32), reach: f32| {
            let x = (frame.centre.0 + cos * reach).clamp(0.0, last);
            let y = (frame.centre.1 + sin * reach).clamp(0.0, last);
            (x, y)
        };
        let reach: [f32; LANES] = std::array::from_fn(|lane| share_of(lane) * frame.radius);
        let mut fine = vec![0.0_f32; FINE * DIRECTIONS * LANES];
        for (turn, row) in TURN.iter().zip(fine.chunks_exact_mut(LANES)) {
            along_ray(&patch.log, side, frame.centre, *turn, &reach, row);
        }
        let angles = FINE * DIRECTIONS;
        let mut log = vec![0.0_f32; DIRECTIONS * LANES];
        for (direction, row) in log.chunks_exact_mut(LANES).enumerate() {
            let here = FINE * direction;
            let line = |angle: usize| &fine[angle * LANES..(angle + 1) * LANES];
            let (before, on, after) = (
                line((here + angles - 1) % angles),
                line(here),
                line(here + 1),
            );
            for (lane, value) in row.iter_mut().enumerate() {
                *value = 0.5 * on[lane] + 0.25 * (before[lane] + after[lane]);
            }
        }
        let clipped = if patch.clipped.iter().any(|c| *c > 0.0) {
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
