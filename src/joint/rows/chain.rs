//! Chains of equally spaced places on a line.

use rstar::RTree;
use rstar::primitives::GeomWithData;

use super::{LEAST_ROW, LONGEST_GAP};

/// Neighbours in a row are at most this many land radii apart; 5.08 mm pitch with small lands fits.
const FARTHEST: f64 = 8.0;
/// ... and at least this many: below, the lands would touch.
const NEAREST: f64 = 1.6;
/// A member may be off its expected place by this share of the pitch: lens and perspective bend
/// rows, and joints sit a little off. More joins strangers.
const OFF_PLACE: f64 = 0.17;
/// How fast the expected step follows the members seen so far.
const FOLLOW: f64 = 0.3;
/// Rows lie along the board's two directions, give or take this many degrees: chains across a
/// field of joints at any slant are no rows.
const OFF_AXIS_DEG: f64 = 9.0;
/// Members of the two ends of a step are alike in size up to this factor.
const SAME_SIZE: f64 = 1.6;

type Tree = RTree<GeomWithData<[f64; 2], usize>>;

/// Members in order, and the places between them that are empty.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Chain {
    pub(super) members: Vec<usize>,
    pub(super) gaps: Vec<[f64; 2]>,
}

/// The longest chains first, each joint in at most one.
pub(super) fn chains(joints: &[[f64; 3]]) -> Vec<Chain> {
    let tree: Tree = RTree::bulk_load(
        joints
            .iter()
            .enumerate()
            .map(|(i, j)| GeomWithData::new([j[0], j[1]], i))
            .collect(),
    );
    let mut all = Vec::new();
    for (i, here) in joints.iter().enumerate() {
        let reach = FARTHEST * here[2];
        for next in tree.locate_within_distance([here[0], here[1]], reach * reach) {
            let j = next.data;
            let step = [joints[j][0] - here[0], joints[j][1] - here[1]];
            let apart = step[0].hypot(step[1]);
            let alike = ratio(here[2], joints[j][2]) < SAME_SIZE;
            // Each pair starts one chain, in one direction.
            if i < j && apart > NEAREST * here[2].max(joints[j][2]) && alike {
                let chain = grown(joints, &tree, i, j);
                if chain.members.len() >= LEAST_ROW {
                    all.push(chain);
                }
            }
        }
    }
    let axis = main_direction(&all, joints);
    all.retain(|chain| off_axis(direction(chain, joints), axis) < OFF_AXIS_DEG);
    chosen(all, joints)
}

fn ratio(a: f64, b: f64) -> f64 {
    a.max(b) / a.min(b)
}

/// Grows a chain from a pair in both directions.
fn grown(joints: &[[f64; 3]], tree: &Tree, i: usize, j: usize) -> Chain {
    let (ahead, gaps_ahead) = walk(joints, tree, i, j);
    let (behind, gaps_behind) = walk(joints, tree, j, i);
    let mut members: Vec<usize> = behind.into_iter().rev().collect();
    members.extend([i, j]);
    members.extend(ahead);
    let mut gaps: Vec<[f64; 2]> = gaps_behind.into_iter().rev().collect();
    gaps.extend(gaps_ahead);
    Chain { members, gaps }
}

/// Members beyond `to`, walking from `from` over `to`.
fn walk(joints: &[[f64; 3]], tree: &Tree, from: usize, to: usize) -> (Vec<usize>, Vec<[f64; 2]>) {
    let (mut at, mut step) = (
        [joints[to][0], joints[to][1]],
        [
            joints[to][0] - joints[from][0],
            joints[to][1] - joints[from][1],
        ],
    );
    let (mut members, mut gaps) = (Vec::new(), Vec::new());
    let mut seen = vec![from, to];
    'next: loop {
        for skipped in 0..=LONGEST_GAP {
            // A pair alone does not carry over a gap.
            if skipped > 0 && members.is_empty() {
                return (members, gaps);
            }
            let many = (skipped + 1) as f64;
            let expected = [at[0] + many * step[0], at[1] + many * step[1]];
            let off = OFF_PLACE * step[0].hypot(step[1]);
            let hit = tree
                .nearest_neighbor(expected)
                .filter(|n| {
                    let p = n.geom();
                    (p[0] - expected[0]).hypot(p[1] - expected[1]) < off
                        && ratio(joints[n.data][2], joints[to][2]) < SAME_SIZE
                })
                .map(|n| n.data);
            let Some(hit) = hit else { continue };
            if seen.contains(&hit) {
                return (members, gaps);
            }
            let moved = [
                (joints[hit][0] - at[0]) / many,
                (joints[hit][1] - at[1]) / many,
            ];
            for k in 1..=skipped {
                gaps.push([at[0] + k as f64 * moved[0], at[1] + k as f64 * moved[1]]);
            }
            step = [
                step[0] + FOLLOW * (moved[0] - step[0]),
                step[1] + FOLLOW * (moved[1] - step[1]),
            ];
            at = [joints[hit][0], joints[hit][1]];
            members.push(hit);
            seen.push(hit);
            continue 'next;
        }
        return (members, gaps);
    }
}

/// Direction of a chain, degrees 0..90: rows along and across count as one.
fn direction(chain: &Chain, joints: &[[f64; 3]]) -> f64 {
    let (a, b) = (
        joints[chain.members[0]],
        joints[chain.members[chain.members.len() - 1]],
    );
    (b[1] - a[1])
        .atan2(b[0] - a[0])
        .to_degrees()
        .rem_euclid(90.0)
}

fn off_axis(direction: f64, axis: f64) -> f64 {
    let off = (direction - axis).rem_euclid(90.0);
    off.min(90.0 - off)
}

/// The direction that most members of chains agree on, degrees 0..90.
fn main_direction(all: &[Chain], joints: &[[f64; 3]]) -> f64 {
    // Long, narrow chains tell most; a field of joints has many short slanted ones.
    let weight = |c: &Chain| ((c.members.len() - 1) as f64).powi(3) / pitch(c, joints);
    let directions: Vec<(f64, f64)> = all
        .iter()
        .map(|c| (direction(c, joints), weight(c)))
        .collect();
    let support = |axis: f64| -> f64 {
        directions
            .iter()
            .map(|(d, w)| w * (1.0 - off_axis(*d, axis) / 4.0).max(0.0))
            .sum()
    };
    (0..90)
        .map(|k| (f64::from(k), support(f64::from(k))))
        .fold((0.0, f64::NEG_INFINITY), |best, (axis, s)| {
            if s > best.1 { (axis, s) } else { best }
        })
        .0
}

fn pitch(chain: &Chain, joints: &[[f64; 3]]) -> f64 {
    let (a, b) = (
        joints[chain.members[0]],
        joints[chain.members[chain.members.len() - 1]],
    );
    (b[0] - a[0]).hypot(b[1] - a[1]) / (chain.members.len() - 1 + chain.gaps.len()) as f64
}

/// Picks chains: most members first, then the smallest pitch; what is left of the others when their
/// members are gone is dropped.
fn chosen(mut all: Vec<Chain>, joints: &[[f64; 3]]) -> Vec<Chain> {
    // A gap costs a member: 2.54 mm pitch with every other joint missing is 5.08 mm pitch.
    let worth = |c: &Chain| c.members.len() as f64 - 1.5 * c.gaps.len() as f64;
    all.retain(|c| worth(c) >= LEAST_ROW as f64 - 0.5);
    all.sort_by(|a, b| {
        worth(b)
            .total_cmp(&worth(a))
            .then(pitch(a, joints).total_cmp(&pitch(b, joints)))
            .then(a.members.cmp(&b.members))
    });
    let mut taken = vec![false; joints.len()];
    let mut kept = Vec::new();
    for chain in all {
        if chain.members.iter().any(|&i| taken[i]) {
            continue;
        }
        for &i in &chain.members {
            taken[i] = true;
        }
        kept.push(chain);
    }
    kept
}
