//! Tracks between the pins of a map: a two-layer maze router in the manner of a hand-taped
//! board of the 1980s (round corners, wide supply tracks, few vias).

use std::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap};

use crate::board::{BoardMap, LandShape, Pin};

use super::noise::value;

/// Routing grid in mm: half a pin pitch, so that one track passes between two pins.
const STEP: f64 = 1.27;
/// Clearance that a track keeps from foreign copper, in mm.
const CLEAR: f64 = 0.3;
/// Width of a signal track in mm.
const SIGNAL: f64 = 0.55;

/// A drawn track: rounded centre line in mm, width in mm, net.
#[derive(Debug, Clone)]
pub(super) struct Track {
    pub(super) points: Vec<[f64; 2]>,
    pub(super) width: f64,
    pub(super) net: usize,
    /// 0 solder side, 1 component side.
    pub(super) layer: usize,
}

/// The copper of a board beside its lands.
#[derive(Debug, Clone, Default)]
pub(super) struct Copper {
    pub(super) tracks: Vec<Track>,
    /// Plated holes that join the layers, in mm.
    pub(super) vias: Vec<[f64; 2]>,
}

/// Signed distance in mm from a land's edge; negative inside.
pub(super) fn land_distance(pin: &Pin, at: [f64; 2]) -> f64 {
    let (x, y) = ((at[0] - pin.at[0]).abs(), (at[1] - pin.at[1]).abs());
    let (w, h) = (pin.land.size[0] / 2.0, pin.land.size[1] / 2.0);
    match pin.land.shape {
        LandShape::Rect => {
            let (dx, dy) = (x - w, y - h);
            dx.max(0.0).hypot(dy.max(0.0)) + dx.max(dy).min(0.0)
        }
        LandShape::Round | LandShape::Oval => {
            let r = w.min(h);
            (x - (w - r)).max(0.0).hypot((y - (h - r)).max(0.0)) - r
        }
    }
}

struct Maze {
    columns: usize,
    rows: usize,
    /// Net + 1 that owns a node, 0 free, `BLOCKED` for all.
    owner: Vec<u32>,
}

const BLOCKED: u32 = u32::MAX;

impl Maze {
    fn index(&self, layer: usize, column: usize, row: usize) -> usize {
        (layer * self.rows + row) * self.columns + column
    }

    fn at(&self, index: usize) -> (usize, usize, usize) {
        let layer = index / (self.columns * self.rows);
        let rest = index % (self.columns * self.rows);
        (layer, rest % self.columns, rest / self.columns)
    }
}

fn millimetres(cell: usize) -> f64 {
    f64::from(u32::try_from(cell).unwrap_or(0)) * STEP
}

fn maze(map: &BoardMap, nets: &BTreeMap<&str, usize>) -> Maze {
    let size = map.outline.get(2).copied().unwrap_or([0.0, 0.0]);
    let columns = (size[0] / STEP) as usize + 1;
    let rows = (size[1] / STEP) as usize + 1;
    let mut maze = Maze {
        columns,
        rows,
        owner: vec![0; columns * rows * 2],
    };
    let mut anonymous = u32::try_from(nets.len()).unwrap_or(0) + 1;
    for pin in map.parts.iter().flat_map(|part| &part.pins) {
        let owner = match pin.net.as_deref().and_then(|net| nets.get(net)) {
            Some(net) => u32::try_from(*net).unwrap_or(0) + 1,
            None => {
                anonymous += 1;
                anonymous
            }
        };
        let reach = 3;
        let (cx, cy) = ((pin.at[0] / STEP).round(), (pin.at[1] / STEP).round());
        for row in (cy as usize).saturating_sub(reach)..=(cy as usize + reach).min(rows - 1) {
            for column in
                (cx as usize).saturating_sub(reach)..=(cx as usize + reach).min(columns - 1)
            {
                let at = [millimetres(column), millimetres(row)];
                if land_distance(pin, at) < CLEAR + SIGNAL / 2.0 {
                    for layer in 0..2 {
                        let index = maze.index(layer, column, row);
                        let now = maze.owner[index];
                        maze.owner[index] = if now == 0 || now == owner {
                            owner
                        } else {
                            BLOCKED
                        };
                    }
                }
            }
        }
    }
    block_edges(map, &mut maze, size);
    maze
}

fn block_edges(map: &BoardMap, maze: &mut Maze, size: [f64; 2]) {
    for row in 0..maze.rows {
        for column in 0..maze.columns {
            let (x, y) = (millimetres(column), millimetres(row));
            let edge = x.min(y).min(size[0] - x).min(size[1] - y);
            let screw = map.parts.iter().any(|part| {
                part.reference.starts_with('H')
                    && matches!(&part.outline, crate::board::Outline::Circle { at, .. }
                        if (at[0] - x).hypot(at[1] - y) < 4.5)
            });
            if edge < 2.2 || screw {
                for layer in 0..2 {
                    let index = maze.index(layer, column, row);
                    maze.owner[index] = BLOCKED;
                }
            }
        }
    }
}

/// Cost of one step: the solder side likes to run along x, the component side along y.
fn step_cost(layer: usize, dx: i32, dy: i32) -> u32 {
    let along = if layer == 0 { dx != 0 } else { dy != 0 };
    match (dx != 0 && dy != 0, along) {
        (true, _) => 17,
        (false, true) => 10,
        (false, false) => 22,
    }
}

/// Cost of changing the side at a free place: a via.
const VIA_COST: u32 = 140;
/// Most nodes looked at for one connection, so that a hopeless one ends.
const PATIENCE: usize = 40_000;

fn search(
    maze: &Maze,
    net: u32,
    from: &[usize],
    goal: &dyn Fn(usize) -> bool,
    at_pin: &dyn Fn(usize, usize) -> bool,
) -> Option<Vec<usize>> {
    let mut best: Vec<u32> = vec![u32::MAX; maze.owner.len()];
    let mut back: Vec<u32> = vec![u32::MAX; maze.owner.len()];
    let mut heap = BinaryHeap::new();
    for &start in from {
        best[start] = 0;
        heap.push(Reverse((0u32, start)));
    }
    let mut looked = 0;
    while let Some(Reverse((cost, node))) = heap.pop() {
        if cost > best[node] {
            continue;
        }
        looked += 1;
        if looked > PATIENCE {
            return None;
        }
        if goal(node) {
            let mut path = vec![node];
            let mut here = node;
            while back[here] != u32::MAX {
                here = back[here] as usize;
                path.push(here);
            }
            return Some(path);
        }
        let (layer, column, row) = maze.at(node);
        let mut visit = |next: usize, extra: u32| {
            if (maze.owner[next] == 0 || maze.owner[next] == net) && cost + extra < best[next] {
                best[next] = cost + extra;
                back[next] = u32::try_from(node).unwrap_or(u32::MAX);
                heap.push(Reverse((cost + extra, next)));
            }
        };
        for dy in -1i32..=1 {
            for dx in -1i32..=1 {
                let (c, r) = (column as i32 + dx, row as i32 + dy);
                let outside = c < 0 || r < 0 || c >= maze.columns as i32 || r >= maze.rows as i32;
                if (dx == 0 && dy == 0) || outside {
                    continue;
                }
                let (c, r) = (c as usize, r as usize);
                if dx != 0 && dy != 0 {
                    let sides = [
                        maze.owner[maze.index(layer, c, row)],
                        maze.owner[maze.index(layer, column, r)],
                    ];
                    if sides.iter().any(|owner| *owner != 0 && *owner != net) {
                        continue;
                    }
                }
                visit(maze.index(layer, c, r), step_cost(layer, dx, dy));
            }
        }
        let other = maze.index(1 - layer, column, row);
        visit(other, if at_pin(column, row) { 0 } else { VIA_COST });
    }
    None
}

/// Routes what can be routed; the rest stays open (the samples' nets are for looks and labels).
pub(super) fn route(map: &BoardMap) -> Copper {
    let mut nets: BTreeMap<&str, usize> = BTreeMap::new();
    for pin in map.parts.iter().flat_map(|part| &part.pins) {
        if let Some(net) = pin.net.as_deref() {
            let next = nets.len();
            nets.entry(net).or_insert(next);
        }
    }
    let mut maze = maze(map, &nets);
    let mut members: BTreeMap<usize, Vec<(usize, usize)>> = BTreeMap::new();
    for pin in map.parts.iter().flat_map(|part| &part.pins) {
        if let Some(net) = pin.net.as_deref().and_then(|net| nets.get(net)) {
            let node = (
                (pin.at[0] / STEP).round() as usize,
                (pin.at[1] / STEP).round() as usize,
            );
            members.entry(*net).or_default().push(node);
        }
    }
    let mut order: Vec<usize> = members.keys().copied().collect();
    order.sort_by_key(|net| (members[net].len(), *net));
    let mut copper = Copper::default();
    for net in order {
        connect(&mut maze, net, &members[&net], &mut copper);
    }
    let names: BTreeMap<usize, &str> = nets.iter().map(|(name, net)| (*net, *name)).collect();
    widen(map, &nets, &names, &mut copper);
    for track in &mut copper.tracks {
        track.points = rounded(&track.points);
    }
    copper
}

fn connect(maze: &mut Maze, net: usize, pins: &[(usize, usize)], copper: &mut Copper) {
    let owner = u32::try_from(net).unwrap_or(0) + 1;
    let mut waiting: Vec<(usize, usize)> = pins[1..].to_vec();
    let mut reached: Vec<usize> = (0..2)
        .map(|layer| maze.index(layer, pins[0].0, pins[0].1))
        .collect();
    while !waiting.is_empty() {
        let goal = |node: usize| {
            let (_, column, row) = maze.at(node);
            waiting.contains(&(column, row))
        };
        let at_pin = |column: usize, row: usize| pins.contains(&(column, row));
        let Some(path) = search(maze, owner, &reached, &goal, &at_pin) else {
            return;
        };
        let (_, column, row) = maze.at(path[0]);
        waiting.retain(|pin| *pin != (column, row));
        lay(maze, &path, net, pins, copper);
        for &node in &path {
            maze.owner[node] = owner;
            reached.push(node);
        }
    }
}

fn lay(maze: &Maze, path: &[usize], net: usize, pins: &[(usize, usize)], copper: &mut Copper) {
    let mut run: Vec<[f64; 2]> = Vec::new();
    let mut layer_now = usize::MAX;
    let mut flush = |run: &mut Vec<[f64; 2]>, layer: usize| {
        if run.len() > 1 {
            copper.tracks.push(Track {
                points: std::mem::take(run),
                width: SIGNAL,
                net,
                layer,
            });
        }
        run.clear();
    };
    let mut vias = Vec::new();
    for &node in path {
        let (layer, column, row) = maze.at(node);
        let at = [millimetres(column), millimetres(row)];
        if layer != layer_now {
            if layer_now != usize::MAX {
                flush(&mut run, layer_now);
                if !pins.contains(&(column, row)) {
                    vias.push(at);
                }
            }
            layer_now = layer;
        }
        run.push(at);
    }
    flush(&mut run, layer_now);
    copper.vias.extend(vias);
}

/// The width a net would like, in mm.
fn wanted(name: &str) -> f64 {
    match name {
        "GND" | "VALVE_COM" | "VRAW_P" | "VRAW_N" | "AC_A" | "AC_B" | "AC_F" => 2.4,
        "+12V" | "-12V" | "+5V" => 1.6,
        _ if name.starts_with("ZONE") => 1.5,
        _ if name.starts_with("DRV") => 0.8,
        _ => SIGNAL,
    }
}

/// Widens supply and valve tracks as far as their neighbours permit.
fn widen(
    map: &BoardMap,
    nets: &BTreeMap<&str, usize>,
    names: &BTreeMap<usize, &str>,
    copper: &mut Copper,
) {
    let lines: Vec<(usize, usize, Vec<[f64; 2]>)> = copper
        .tracks
        .iter()
        .map(|track| (track.net, track.layer, track.points.clone()))
        .collect();
    let vias = copper.vias.clone();
    for track in &mut copper.tracks {
        let want = wanted(names.get(&track.net).copied().unwrap_or(""));
        if want <= SIGNAL {
            continue;
        }
        let mut room = want / 2.0;
        for at in &track.points {
            for pin in map.parts.iter().flat_map(|part| &part.pins) {
                if pin.net.as_deref().and_then(|net| nets.get(net)) != Some(&track.net) {
                    room = room.min(land_distance(pin, *at) - CLEAR);
                }
            }
            for (net, layer, points) in &lines {
                if *net != track.net && *layer == track.layer {
                    for other in points {
                        let gap = (at[0] - other[0]).hypot(at[1] - other[1]);
                        room = room.min(gap - SIGNAL / 2.0 - CLEAR);
                    }
                }
            }
            for via in &vias {
                let gap = (at[0] - via[0]).hypot(at[1] - via[1]);
                if gap > 0.1 {
                    room = room.min(gap - 0.95);
                }
            }
        }
        track.width = (room * 2.0).clamp(SIGNAL, want);
    }
}

/// Rounds the corners and lets the line wander a little, as tape laid by hand does.
fn rounded(points: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let corners = corners(points);
    let mut out = vec![corners[0]];
    for window in corners.windows(3) {
        let [a, b, c] = [window[0], window[1], window[2]];
        let cut = |p: [f64; 2]| {
            let length = (p[0] - b[0]).hypot(p[1] - b[1]);
            let t = (1.4 / length).min(0.5);
            [b[0] + (p[0] - b[0]) * t, b[1] + (p[1] - b[1]) * t]
        };
        let (start, end) = (cut(a), cut(c));
        for step in 0..=6 {
            let t = f64::from(step) / 6.0;
            let s = 1.0 - t;
            out.push([
                s * s * start[0] + 2.0 * s * t * b[0] + t * t * end[0],
                s * s * start[1] + 2.0 * s * t * b[1] + t * t * end[1],
            ]);
        }
    }
    if let Some(last) = corners.last() {
        out.push(*last);
    }
    let last = out.len() - 1;
    for (index, point) in out.iter_mut().enumerate() {
        if index != 0 && index != last {
            let [x, y] = *point;
            point[0] += (value(x * 0.21, y * 0.21, 71) - 0.5) * 0.16;
            point[1] += (value(x * 0.21, y * 0.21, 72) - 0.5) * 0.16;
        }
    }
    out
}

/// Drops the points in the middle of straight runs.
fn corners(points: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let mut out = vec![points[0]];
    for window in points.windows(3) {
        let [a, b, c] = [window[0], window[1], window[2]];
        let cross = (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0]);
        if cross.abs() > 1e-6 {
            out.push(b);
        }
    }
    if points.len() > 1 {
        out.push(points[points.len() - 1]);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn most_nets_are_joined_and_tracks_keep_clear_of_foreign_lands() {
        let map = &crate::render::maps()[0];
        let copper = route(map);
        assert!(copper.tracks.len() > 150, "{}", copper.tracks.len());
        let mut names: BTreeMap<&str, usize> = BTreeMap::new();
        for pin in map.parts.iter().flat_map(|part| &part.pins) {
            if let Some(net) = pin.net.as_deref() {
                let next = names.len();
                names.entry(net).or_insert(next);
            }
        }
        for track in &copper.tracks {
            for pin in map.parts.iter().flat_map(|part| &part.pins) {
                if pin.net.as_deref().and_then(|net| names.get(net)) == Some(&track.net) {
                    continue;
                }
                for at in &track.points {
                    let gap = land_distance(pin, *at) - track.width / 2.0;
                    assert!(gap > 0.05, "{} {gap}", pin.uid);
                }
            }
        }
    }
}
