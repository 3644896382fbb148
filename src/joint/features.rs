//! The few numbers that are read off the path, each of which can be shown and argued about.

use super::path::closed_path;
use super::polar::{ANGLES, Frame, Ring};
use super::valley::Valley;

/// The path may run from this share of the land radius: further in is the pin itself.
const PATH_INNER: f32 = 0.22;
/// ... to this one: further out is the land's own rim.
const PATH_OUTER: f32 = 0.85;

/// A point of the path belongs to the dark arc from this contrast up, log units (a tenth darker).
const ARC_DEPTH: f32 = 0.10;
/// Gaps up to this many angle steps are bridged (12 degrees): cracks fade in and out.
const BRIDGE: usize = 6;

/// The path and what was read off it.
#[derive(Debug, Clone)]
pub(crate) struct Traced {
    /// Column of the ring at each angle.
    pub(crate) path: Vec<usize>,
    /// Contrast on the path at each angle.
    pub(crate) depth: Vec<f32>,
    /// Mean contrast over the angles that are not hidden, log units.
    pub(crate) mean: f32,
    /// First angle and length of the dark arc in angle steps.
    pub(crate) arc: (usize, usize),
    /// Median contrast over the arc, log units; 0 without an arc.
    pub(crate) arc_depth: f32,
}

/// Finds the darkest closed path and reads it.
pub(crate) fn trace(ring: &Ring, valley: &Valley) -> Traced {
    let first = ring.column(PATH_INNER * ring.frame.radius);
    let last = ring.column(PATH_OUTER * ring.frame.radius).max(first);
    let path = closed_path(&valley.depth, valley.radii, first, last);
    let depth: Vec<f32> = path
        .iter()
        .enumerate()
        .map(|(a, c)| valley.depth[a * valley.radii + c])
        .collect();
    let (mut sum, mut known) = (0.0, 0.0_f32);
    for (angle, (value, column)) in depth.iter().zip(&path).enumerate() {
        if ring.clipped[angle * ring.radii + column] <= 0.5 {
            sum += value;
            known += 1.0;
        }
    }
    let mean = sum / known.max(1.0);
    let arc = longest_run(&depth);
    let arc_depth = median_over(&depth, arc);
    Traced {
        path,
        depth,
        mean,
        arc,
        arc_depth,
    }
}

impl Traced {
    /// Length of the dark arc, degrees.
    pub(crate) fn arc_deg(&self) -> f64 {
        self.arc.1 as f64 * 360.0 / ANGLES as f64
    }

    /// Working-pixel points of the dark arc, in order.
    pub(crate) fn arc_points(&self, ring: &Ring, frame: &Frame) -> Vec<(f32, f32)> {
        let (start, length) = self.arc;
        let end = if length >= ANGLES { length + 1 } else { length };
        (0..end)
            .map(|k| (start + k) % ANGLES)
            .map(|angle| frame.at(angle, ring.radius(self.path[angle])))
            .collect()
    }
}

/// Start and length of the longest run above [`ARC_DEPTH`] round the circle, short gaps bridged.
fn longest_run(depth: &[f32]) -> (usize, usize) {
    let n = depth.len();
    let on: Vec<bool> = depth.iter().map(|d| *d >= ARC_DEPTH).collect();
    let Some(origin) = (0..n).find(|i| (0..=BRIDGE).all(|k| !on[(i + k) % n])) else {
        return (0, n);
    };
    let (mut best, mut start, mut last_on) = ((0, 0), None, 0);
    for k in 0..n + BRIDGE + 1 {
        let i = (origin + k) % n;
        if k < n && on[i] {
            start = start.or(Some(k));
            last_on = k;
        } else if let Some(s) = start
            && k - last_on > BRIDGE
        {
            let length = last_on - s + 1;
            if length > best.1 {
                best = ((origin + s) % n, length);
            }
            start = None;
        }
    }
    best
}

fn median_over(depth: &[f32], (start, length): (usize, usize)) -> f32 {
    let mut values: Vec<f32> = (0..length)
        .map(|k| depth[(start + k) % depth.len()])
        .collect();
    values.sort_by(f32::total_cmp);
    values.get(length / 2).copied().unwrap_or(0.0)
}
