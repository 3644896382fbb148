//! The few numbers that are read off the path, each of which can be shown and argued about.

use super::path::closed_path;
use super::polar::Ring;
use super::valley::{DIRECTIONS, PER_DIRECTION, Valley};

/// The path may run from this share of the land radius: further in is the pin itself.
const PATH_INNER: f32 = 0.22;
/// ... to this one: further out is the land's own rim.
const PATH_OUTER: f32 = 0.85;

/// A point of the path belongs to the dark arc from this contrast up, in units of the joint's texture.
const ARC_LINE: f32 = 0.10;
/// Gaps up to this many directions are bridged (12 degrees): cracks fade in and out.
const BRIDGE: usize = 2;

/// The path and what was read off it.
#[derive(Debug, Clone)]
pub(crate) struct Traced {
    /// Column of the ring in each direction.
    pub(crate) path: Vec<usize>,
    /// Contrast on the path in each direction, natural log units.
    pub(crate) depth: Vec<f32>,
    /// Mean contrast on the path, in units of the joint's texture: the one feature behind the hint.
    pub(crate) line: f32,
    /// First direction and length of the dark arc.
    pub(crate) arc: (usize, usize),
    /// Median contrast over the arc, log units; 0 without an arc.
    pub(crate) arc_depth: f32,
}

/// First and last column of the ring where the path may run.
fn bounds(ring: &Ring) -> (usize, usize) {
    let first = ring.column_from(PATH_INNER * ring.frame.radius);
    (
        first,
        ring.column(PATH_OUTER * ring.frame.radius).max(first),
    )
}

/// Finds the darkest closed path and reads it.
pub(crate) fn trace(ring: &Ring, valley: &Valley) -> Traced {
    let n = valley.radii;
    let (first, last) = bounds(ring);
    let path = closed_path(&valley.line, n, first, last);
    let on_path: Vec<f32> = path
        .iter()
        .enumerate()
        .map(|(k, c)| valley.line[k * n + c])
        .collect();
    let line = on_path.iter().sum::<f32>() / DIRECTIONS as f32;
    let arc = longest_run(&on_path);
    let depth: Vec<f32> = on_path.iter().map(|v| v * valley.unit).collect();
    let arc_depth = median_over(&depth, arc);
    Traced {
        path,
        depth,
        line,
        arc,
        arc_depth,
    }
}

impl Traced {
    /// Length of the dark arc, degrees.
    pub(crate) fn arc_deg(&self) -> f64 {
        self.arc.1 as f64 * 360.0 / DIRECTIONS as f64
    }

    /// Working-pixel points of the dark arc, in order; a full turn ends where it began.
    pub(crate) fn arc_points(&self, ring: &Ring) -> Vec<(f32, f32)> {
        let (start, length) = self.arc;
        let end = if length >= DIRECTIONS {
            length + 1
        } else {
            length
        };
        (0..end)
            .map(|k| (start + k) % DIRECTIONS)
            .map(|k| {
                ring.frame.at(
                    k * PER_DIRECTION + PER_DIRECTION / 2,
                    ring.radius(self.path[k]),
                )
            })
            .collect()
    }
}

/// Start and length of the longest run above [`ARC_LINE`] round the circle, short gaps bridged.
fn longest_run(depth: &[f32]) -> (usize, usize) {
    let n = depth.len();
    let on: Vec<bool> = depth.iter().map(|d| *d >= ARC_LINE).collect();
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
