//! Rows of equally spaced joints, the scale that their pitch tells, and packages of two rows.

mod chain;
mod scale;

use serde::Serialize;

use chain::{Chain, chains};
use scale::scale_of_rows;

/// The pitch of through-hole parts on the common grid, mm (common practice; IEC 60097 gives 2.54 mm
/// as the nominal grid).
pub const GRID_MM: f64 = 2.54;

/// Fewest members of a row: two joints make a pair anywhere.
pub const LEAST_ROW: usize = 3;

/// Places where a member of a row is missing are named up to this many pitches in one gap.
pub(super) const LONGEST_GAP: usize = 2;

/// Equally spaced joints on a line.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Row {
    /// Names of the members, in order along the row.
    pub joints: Vec<String>,
    /// Mean distance of neighbours, px.
    pub pitch_px: f64,
    /// Direction of the row on the photo, degrees, 0 to the right, rising clockwise, -90..90.
    pub turn_deg: f64,
    /// Places inside the row where its spacing expects a member and none was found, photo px.
    pub gaps: Vec<[f64; 2]>,
    /// Indices of the members in the list of joints.
    #[serde(skip)]
    pub members: Vec<usize>,
}

/// Two parallel rows of one pitch that look like one part.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Package {
    /// Indices of its rows in the list of rows.
    pub rows: [usize; 2],
    /// Distance of the rows in units of 2.54 mm if their pitch is that: 3 is 7.62 mm, 6 is 15.24 mm.
    pub pitches_apart: u32,
    /// The same in mm, under the assumption that the pitch is 2.54 mm.
    pub rows_apart_mm: f64,
}

/// What the places of the joints tell.
#[derive(Debug, Clone)]
pub(super) struct Grid {
    /// Order in which the joints are named: rows together, from the top.
    pub(super) order: Vec<usize>,
    pub(super) rows: Vec<Row>,
    pub(super) packages: Vec<Package>,
    pub(super) px_per_mm: Option<f64>,
    pub(super) reason: String,
}

/// Finds rows, scale and packages among joints `[x, y, land radius]`, photo px.
pub(super) fn rows_of(joints: &[[f64; 3]]) -> Grid {
    let mut chains = chains(joints);
    for chain in &mut chains {
        turn_forwards(chain, joints);
    }
    let order = reading_order(joints, &chains);
    let mut rank = vec![0; joints.len()];
    for (place, &i) in order.iter().enumerate() {
        rank[i] = place;
    }
    chains.sort_by_key(|chain| rank[chain.members[0]]);
    let rows: Vec<Row> = chains.iter().map(|c| row(c, joints, &rank)).collect();
    let (px_per_mm, reason) = scale_of_rows(&rows, joints, &rank);
    let packages = packages(&rows, joints, &order);
    Grid {
        order,
        rows,
        packages,
        px_per_mm,
        reason,
    }
}

/// Left to right, or downwards where the row is steep.
fn turn_forwards(chain: &mut Chain, joints: &[[f64; 3]]) {
    let (first, last) = ends(&chain.members, joints);
    let (dx, dy) = (last[0] - first[0], last[1] - first[1]);
    if (dx.abs() >= dy.abs() && dx < 0.0) || (dx.abs() < dy.abs() && dy < 0.0) {
        chain.members.reverse();
        chain.gaps.reverse();
    }
}

fn ends(members: &[usize], joints: &[[f64; 3]]) -> ([f64; 3], [f64; 3]) {
    (joints[members[0]], joints[members[members.len() - 1]])
}

/// Rows and single joints from the top, then from the left; members of a row together.
fn reading_order(joints: &[[f64; 3]], chains: &[Chain]) -> Vec<usize> {
    let mut single = vec![true; joints.len()];
    let mut groups: Vec<Vec<usize>> = chains.iter().map(|c| c.members.clone()).collect();
    for &i in chains.iter().flat_map(|c| &c.members) {
        single[i] = false;
    }
    groups.extend((0..joints.len()).filter(|&i| single[i]).map(|i| vec![i]));
    groups.sort_by(|a, b| {
        let (a, b) = (joints[a[0]], joints[b[0]]);
        a[1].total_cmp(&b[1]).then(a[0].total_cmp(&b[0]))
    });
    groups.into_iter().flatten().collect()
}

fn row(chain: &Chain, joints: &[[f64; 3]], rank: &[usize]) -> Row {
    let (first, last) = ends(&chain.members, joints);
    let (dx, dy) = (last[0] - first[0], last[1] - first[1]);
    let steps = chain.members.len() - 1 + chain.gaps.len();
    let turn = dy.atan2(dx).to_degrees();
    let turn = if turn > 90.0 {
        turn - 180.0
    } else if turn <= -90.0 {
        turn + 180.0
    } else {
        turn
    };
    let tenth = |v: f64| (v * 10.0).round() / 10.0;
    Row {
        joints: chain
            .members
            .iter()
            .map(|&i| format!("F{}", rank[i] + 1))
            .collect(),
        pitch_px: (dx.hypot(dy) / steps as f64 * 100.0).round() / 100.0,
        turn_deg: tenth(turn),
        gaps: chain.gaps.iter().map(|g| g.map(tenth)).collect(),
        members: chain.members.iter().map(|&i| rank[i]).collect(),
    }
}

/// Rows of a package have pitches this alike, relative.
const SAME_PITCH: f64 = 0.06;
/// ... and directions this alike, degrees.
const SAME_TURN_DEG: f64 = 4.0;
/// How far the distance of two rows may be off a whole number of pitches, pitches.
const OFF_GRID: f64 = 0.3;
/// Distances of the rows of a package, in pitches: 7.62, 10.16, 15.24 mm (the trade's widths).
const WIDTHS: [u32; 3] = [3, 4, 6];
/// Share of the longer row that must face the other.
const FACING: f64 = 0.6;

fn packages(rows: &[Row], joints: &[[f64; 3]], order: &[usize]) -> Vec<Package> {
    let mut found: Vec<(f64, Package)> = Vec::new();
    for a in 0..rows.len() {
        for b in a + 1..rows.len() {
            if let Some((misfit, pitches_apart)) = facing(&rows[a], &rows[b], joints, order) {
                found.push((
                    misfit,
                    Package {
                        rows: [a, b],
                        pitches_apart,
                        rows_apart_mm: f64::from(pitches_apart) * GRID_MM,
                    },
                ));
            }
        }
    }
    // Each row belongs to one package: the nearer fit first.
    found.sort_by(|x, y| x.0.total_cmp(&y.0).then(x.1.rows.cmp(&y.1.rows)));
    let mut taken = vec![false; rows.len()];
    let mut kept = Vec::new();
    for (_, package) in found {
        let [a, b] = package.rows;
        if !taken[a] && !taken[b] {
            (taken[a], taken[b]) = (true, true);
            kept.push(package);
        }
    }
    kept.sort_by_key(|p| p.rows);
    kept
}

/// How well two rows face each other like the sides of a package.
fn facing(a: &Row, b: &Row, joints: &[[f64; 3]], order: &[usize]) -> Option<(f64, u32)> {
    let pitch = 0.5 * (a.pitch_px + b.pitch_px);
    let turn = (a.turn_deg - b.turn_deg).abs();
    if (a.pitch_px / b.pitch_px - 1.0).abs() > SAME_PITCH || turn.min(180.0 - turn) > SAME_TURN_DEG
    {
        return None;
    }
    let at = |row: &Row, k: usize| joints[order[row.members[k]]];
    let (first, last) = (at(a, 0), at(a, a.members.len() - 1));
    let length = (last[0] - first[0]).hypot(last[1] - first[1]);
    let along = [(last[0] - first[0]) / length, (last[1] - first[1]) / length];
    let places: Vec<(f64, f64)> = (0..b.members.len())
        .map(|k| {
            let p = at(b, k);
            let (dx, dy) = (p[0] - first[0], p[1] - first[1]);
            (
                (dx * along[0] + dy * along[1]) / pitch,
                (dy * along[0] - dx * along[1]) / pitch,
            )
        })
        .collect();
    let apart = places.iter().map(|p| p.1).sum::<f64>() / places.len() as f64;
    let width = *WIDTHS.iter().min_by(|x, y| {
        let off = |w: u32| (apart.abs() - f64::from(w)).abs();
        off(**x).total_cmp(&off(**y))
    })?;
    let off_width = (apart.abs() - f64::from(width)).abs();
    let off_step = places
        .iter()
        .map(|p| (p.0 - p.0.round()).abs())
        .sum::<f64>()
        / places.len() as f64;
    let span = length / pitch;
    let facing = places
        .iter()
        .filter(|p| p.0 > -0.5 && p.0 < span + 0.5)
        .count();
    let longer = a.members.len().max(b.members.len());
    let ok = off_width < OFF_GRID && off_step < OFF_GRID && facing as f64 >= FACING * longer as f64;
    ok.then_some((off_width + off_step + f64::from(width) * 0.01, width))
}

#[cfg(test)]
mod tests;
