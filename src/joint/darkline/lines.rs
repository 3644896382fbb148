//! How far a line goes on: weighting by length, and the strongest lines.

use rayon::prelude::*;

use super::DarkLine;

/// Levels of the response at which its connected parts are measured.
const LEVELS: [f32; 7] = [0.15, 0.3, 0.45, 0.6, 0.8, 1.0, 1.3];
/// A part this long (diagonal of its box, working px) counts in full. Longer tells cracks from
/// pores better and loses short ones.
const FULL_LENGTH: f32 = 100.0;
/// What a speck still counts.
const SPECK: f32 = 0.25;
/// Level at which lines are listed.
const LISTED_LEVEL: f32 = 0.45;
/// Shortest line that is listed, working px.
const LISTED_LENGTH: f32 = 30.0;
/// Most lines that are listed.
const LISTED: usize = 40;

/// One connected part: box and sum.
#[derive(Debug, Clone, Copy)]
struct Part {
    left: u32,
    top: u32,
    right: u32,
    bottom: u32,
    sum: f64,
    count: u32,
}

impl Part {
    fn length(&self) -> f32 {
        let (w, h) = (self.right - self.left + 1, self.bottom - self.top + 1);
        (w as f32).hypot(h as f32)
    }

    fn take(&mut self, other: Self) {
        self.left = self.left.min(other.left);
        self.top = self.top.min(other.top);
        self.right = self.right.max(other.right);
        self.bottom = self.bottom.max(other.bottom);
        self.sum += other.sum;
        self.count += other.count;
    }
}

/// A stretch of one row above a level: first column, one behind the last, and its part.
#[derive(Debug, Clone, Copy)]
struct Run {
    from: u32,
    to: u32,
    part: u32,
}

/// The connected parts above one level, as runs.
struct Parts {
    runs: Vec<Run>,
    /// Where the runs of each row begin; one more than rows.
    rows: Vec<usize>,
    parts: Vec<Part>,
}

/// Connected parts (eight neighbours) above a level. One pass over the rows; runs that touch those of the
/// row before are joined.
fn parts(response: &[f32], width: usize, level: f32) -> Parts {
    let mut runs: Vec<Run> = Vec::new();
    let mut rows = vec![0];
    let mut parent: Vec<u32> = Vec::new();
    let mut parts: Vec<Part> = Vec::new();
    for (y, row) in response.chunks_exact(width).enumerate() {
        let (before, here) = (rows[rows.len().saturating_sub(2)], runs.len());
        let mut at = before;
        let mut x = 0;
        while let Some(from) = row[x..].iter().position(|v| *v > level) {
            let from = x + from;
            let to = row[from..]
                .iter()
                .position(|v| *v <= level)
                .map_or(width, |n| from + n);
            let name = parent.len() as u32;
            parent.push(name);
            parts.push(Part {
                left: from as u32,
                top: y as u32,
                right: to as u32 - 1,
                bottom: y as u32,
                sum: row[from..to].iter().map(|v| f64::from(*v)).sum(),
                count: (to - from) as u32,
            });
            while at < here && (runs[at].to as usize) < from {
                at += 1;
            }
            let mut touching = at;
            while touching < here && runs[touching].from as usize <= to {
                join(&mut parent, runs[touching].part, name);
                touching += 1;
            }
            runs.push(Run {
                from: from as u32,
                to: to as u32,
                part: name,
            });
            x = to;
        }
        rows.push(runs.len());
    }
    for run in &mut runs {
        run.part = root(&mut parent, run.part);
    }
    for name in 0..parts.len() {
        let root = root(&mut parent, name as u32) as usize;
        if root != name {
            let other = parts[name];
            parts[root].take(other);
        }
    }
    for (name, part) in parts.iter_mut().enumerate() {
        if parent[name] != name as u32 {
            part.count = 0;
        }
    }
    Parts { runs, rows, parts }
}

/// The oldest run of a part; the way there is made shorter.
fn root(parent: &mut [u32], mut name: u32) -> u32 {
    while parent[name as usize] != name {
        parent[name as usize] = parent[parent[name as usize] as usize];
        name = parent[name as usize];
    }
    name
}

fn join(parent: &mut [u32], a: u32, b: u32) {
    let (a, b) = (root(parent, a), root(parent, b));
    parent[a.max(b) as usize] = a.min(b);
}

/// Each layer of the response between two levels counts as much as its connected part is long.
pub(super) fn by_length(response: &[f32], width: usize) -> Vec<f32> {
    let layers: Vec<(Parts, Vec<f32>)> = LEVELS
        .par_iter()
        .map(|level| {
            let found = parts(response, width, *level);
            let weights = found
                .parts
                .iter()
                .map(|p| SPECK + (1.0 - SPECK) * (p.length() / FULL_LENGTH).min(1.0))
                .collect();
            (found, weights)
        })
        .collect();
    let mut out = vec![0.0_f32; response.len()];
    out.par_chunks_mut(width)
        .zip(response.par_chunks(width))
        .enumerate()
        .for_each(|(y, (out, row))| {
            for (o, v) in out.iter_mut().zip(row) {
                *o = SPECK * v.min(LEVELS[0]);
            }
            for (k, (found, weights)) in layers.iter().enumerate() {
                let level = LEVELS[k];
                let most = LEVELS.get(k + 1).map_or(f32::INFINITY, |top| top - level);
                for run in &found.runs[found.rows[y]..found.rows[y + 1]] {
                    let weight = weights[run.part as usize];
                    let span = run.from as usize..run.to as usize;
                    for (o, v) in out[span.clone()].iter_mut().zip(&row[span]) {
                        *o += (v - level).min(most) * weight;
                    }
                }
            }
        });
    out
}

/// The strongest lines in photo px.
pub(super) fn strongest(response: &[f32], width: usize, averaged: usize) -> Vec<DarkLine> {
    let found = parts(response, width, LISTED_LEVEL);
    let scale = averaged as f64;
    let tenth = |v: f64| (v * 10.0).round() / 10.0;
    let mut lines: Vec<DarkLine> = found
        .parts
        .iter()
        .filter(|p| p.count > 0 && p.length() >= LISTED_LENGTH)
        .map(|p| DarkLine {
            box_px: [
                f64::from(p.left) * scale,
                f64::from(p.top) * scale,
                f64::from(p.right + 1) * scale - 1.0,
                f64::from(p.bottom + 1) * scale - 1.0,
            ],
            length_px: tenth(f64::from(p.length()) * scale),
            strength: (p.sum / f64::from(p.count) * 1000.0).round() / 1000.0,
        })
        .collect();
    lines.sort_by(|a, b| {
        (b.strength * b.length_px)
            .total_cmp(&(a.strength * a.length_px))
            .then(a.box_px[1].total_cmp(&b.box_px[1]))
            .then(a.box_px[0].total_cmp(&b.box_px[0]))
    });
    lines.truncate(LISTED);
    lines
}
