//! The few numbers that are read off the path, each of which can be shown and argued about.

use super::along::{Along, along};
use super::dark::{FIRST, darkness};
use super::lanes::{DIRECTIONS, LANES, Lanes};
use super::path::{PATHS, closed_paths};

/// Lanes to each side against which the depth of a line is measured: 1.4 px where the land is 48 px across.
const SIDES: usize = 3;
/// A direction belongs to the dark arc where the path is darker than both sides by this, natural log units (a
/// tenth of the light): less is the solder's own shading ...
const ARC_DEPTH: f32 = 0.10;
/// ... and where the measure gives these log odds or more: below them it looks like a reflection.
const ARC_FROM: f32 = -2.0;
/// How far the drawn line may lie from the path of the fitted measures, lanes.
const CORRIDOR: usize = 3;
/// Most that one direction counts in moving it, log units, and the price of a lane's step.
const MOST_GAIN: f32 = 0.4;
/// See [`MOST_GAIN`].
const STEP_PRICE: f32 = 0.02;
/// Where no dark arc can be shown, the log odds count no more than this: a hint that cannot point at anything does
/// not put a joint first. It changed no area under the curve on the four boards by .001 (`docs/hint.md`).
const NO_ARC: f32 = -2.0;
/// An arc of fewer directions than this (30 degrees) is none: the grain of smooth solder makes such.
const SHORT_ARC: usize = DIRECTIONS / 12;
/// An arc of this many directions (90 degrees) ...
const LONG_ARC: usize = DIRECTIONS / 4;
/// ... never counts for less than this, just above a joint where nothing can be shown.
const PLAIN_ARC: f32 = -1.9;
/// Log odds beyond these say no more: how far the fitted measure goes above them follows no rule, and no joint without
/// a crack came to them on boards that the fit did not know (5.8 at most). From here on the deeper arc comes first.
const SURE: f32 = 6.0;
/// Gaps up to this many directions are bridged (12 degrees): cracks fade in and out.
const BRIDGE: usize = 2;

/// The path and what was read off it.
#[derive(Debug, Clone)]
pub(crate) struct Traced {
    /// Lane of the ring in each direction.
    pub(crate) path: Vec<usize>,
    /// Contrast on the path against the darker of both sides in each direction, natural log units.
    pub(crate) depth: Vec<f32>,
    /// Log odds that the path is a crack, before it is compared with the other joints of the photo.
    pub(crate) line: f32,
    /// First direction and length of the dark arc.
    pub(crate) arc: (usize, usize),
    /// Median contrast over the arc, log units; 0 without an arc.
    pub(crate) arc_depth: f32,
}

/// Finds the best closed paths, reads each, and keeps the one that looks most like a crack.
pub(crate) fn trace(lanes: &Lanes) -> Traced {
    let map = darkness(lanes);
    let paths: [Vec<usize>; PATHS] = closed_paths(&map);
    let [first, second] = paths.map(|columns| {
        let along = along(lanes, &map, &columns);
        (columns, along)
    });
    let kept = read(lanes, &first.0, &first.1);
    // Below the sure ones the rule on arcs never lifts a path above the greater of these two, so the second need not
    // be read out.
    if second.1.whole <= SURE && kept.line >= second.1.whole.max(PLAIN_ARC) {
        return kept;
    }
    let other = read(lanes, &second.0, &second.1);
    if other.line > kept.line { other } else { kept }
}

/// What can be shown along one path, and what it counts for.
fn read(lanes: &Lanes, columns: &[usize], along: &Along) -> Traced {
    let rough: Vec<usize> = columns.iter().map(|c| FIRST + c).collect();
    let path = onto_the_line(lanes, &rough);
    let depth: Vec<f32> = (path.iter().enumerate())
        .map(|(direction, lane)| two_sided(lanes, direction, *lane))
        .collect();
    let on: Vec<bool> = (path.iter().enumerate())
        .map(|(direction, lane)| {
            // Under glare nothing is known: neither a line nor its absence.
            depth[direction] >= ARC_DEPTH
                && along.here[direction] >= ARC_FROM
                && !lanes.hidden(direction, *lane)
        })
        .collect();
    let arc = longest_run(&on);
    let arc_depth = median_over(&depth, arc);
    Traced {
        path,
        depth,
        line: by_depth(pointed_at(along.whole, arc.1), arc_depth),
        arc,
        arc_depth,
    }
}

/// The log odds of a path, held to what can be shown: no arc counts for little, a third of a turn for something.
fn pointed_at(whole: f32, arc: usize) -> f32 {
    match arc {
        0..SHORT_ARC => whole.min(NO_ARC),
        LONG_ARC.. => whole.max(PLAIN_ARC),
        _ => whole,
    }
}

/// Log odds that are sure anyway, by the depth of the arc.
fn by_depth(line: f32, arc_depth: f32) -> f32 {
    if line > SURE { SURE + arc_depth } else { line }
}

/// How much darker a place is than the darker of both its sides, natural log units.
fn two_sided(lanes: &Lanes, direction: usize, lane: usize) -> f32 {
    let row = lanes.row(direction);
    let inner = row[lane.saturating_sub(SIDES)];
    let outer = row[(lane + SIDES).min(LANES - 1)];
    inner.min(outer) - row[lane]
}

/// The fitted measures see a neighbourhood and run smoothly past small wobbles; this moves the path onto the
/// darkest line within [`CORRIDOR`] lanes of it, one lane per direction at most.
fn onto_the_line(lanes: &Lanes, rough: &[usize]) -> Vec<usize> {
    const STATES: usize = 2 * CORRIDOR + 1;
    let n = rough.len();
    let lane = |at: usize, state: usize| {
        (rough[at % n] + state)
            .saturating_sub(CORRIDOR)
            .min(LANES - 1)
    };
    let places: Vec<[(usize, f32); STATES]> = (0..n)
        .map(|at| {
            std::array::from_fn(|state| {
                let lane = lane(at, state);
                let gain = two_sided(lanes, at, lane).clamp(-MOST_GAIN, MOST_GAIN);
                (lane, gain)
            })
        })
        .collect();
    // Twice round, so that the second turn does not know where the first began.
    let mut best: [f32; STATES] = places[0].map(|(_, gain)| gain);
    let mut from = vec![[0_usize; STATES]; 2 * n];
    for (at, came_from) in from.iter_mut().enumerate().skip(1) {
        let before = best;
        let (here, there) = (&places[at % n], &places[(at - 1) % n]);
        for (state, (lane, gain)) in here.iter().enumerate() {
            let (mut came, mut most) = (CORRIDOR, f32::NEG_INFINITY);
            // Only lanes one step away can be where the line comes from.
            let same = (state + here[0].0).saturating_sub(there[0].0);
            for b in same.saturating_sub(1)..(same + 2).min(STATES) {
                let step = lane.abs_diff(there[b].0);
                let reached = before[b] - STEP_PRICE * step as f32;
                if step <= 1 && reached >= most {
                    (came, most) = (b, reached);
                }
            }
            came_from[state] = came;
            best[state] = most + gain;
        }
    }
    let mut state = (0..STATES)
        .max_by(|a, b| best[*a].total_cmp(&best[*b]))
        .unwrap_or(CORRIDOR);
    let mut path = rough.to_vec();
    for at in (1..2 * n).rev() {
        // Read the middle turn: from half of the first to half of the second.
        if (n / 2..n + n / 2).contains(&at) {
            path[at % n] = lane(at, state);
        }
        state = from[at][state];
    }
    path
}

impl Traced {
    /// Length of the dark arc, degrees.
    pub(crate) fn arc_deg(&self) -> f64 {
        self.arc.1 as f64 * 360.0 / DIRECTIONS as f64
    }

    /// Working-pixel points of the dark arc, in order; a full turn ends where it began.
    pub(crate) fn arc_points(&self, lanes: &Lanes) -> Vec<(f32, f32)> {
        let (start, length) = self.arc;
        let end = if length >= DIRECTIONS {
            length + 1
        } else {
            length
        };
        (0..end)
            .map(|k| (start + k) % DIRECTIONS)
            .map(|k| lanes.at(k, self.path[k]))
            .collect()
    }
}

/// Start and length of the longest run round the circle, short gaps bridged.
fn longest_run(on: &[bool]) -> (usize, usize) {
    let n = on.len();
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
