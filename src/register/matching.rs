//! Which feature of one picture is which of the other.

use rayon::prelude::*;

use super::Feature;
use super::descriptor::{UNIT, alike};

/// A match must be nearer than this times the second nearest. Lowe (2004, section 7.1) takes 0.8;
/// boards repeat themselves, and on real pairs 0.9 keeps a third more true matches; the false ones
/// are sorted out by their scales and directions.
const RATIO: f32 = 0.9;

/// A second nearest within this many pixels is the same place seen twice, not a rival.
const SAME_PLACE_PX: f32 = 4.0;

/// Features compared at a time: their descriptors stay in the cache.
const BLOCK: usize = 64;

/// A pair of features that look alike.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Match {
    /// Index into the features of the first picture.
    pub a: usize,
    /// Index into the features of the second picture.
    pub b: usize,
    /// Distance to the nearest as a share of that to the second nearest: small is sure.
    pub ratio: f32,
}

/// The nearest so far and the next that is elsewhere.
#[derive(Debug, Clone, Copy)]
struct Best {
    index: usize,
    alike: i32,
    second: i32,
}

const NONE: Best = Best {
    index: usize::MAX,
    alike: i32::MIN,
    second: i32::MIN,
};

/// Matches that are mutually nearest and clearly nearer than the next, surest first.
#[must_use]
pub fn match_features(a: &[Feature], b: &[Feature]) -> Vec<Match> {
    // One pass over all pairs: the nearest in b of each of a, and back.
    type Part = (Vec<Best>, Vec<(i32, usize)>);
    let parts: Vec<Part> = (a.par_chunks(8 * BLOCK).enumerate())
        .map(|(part, some)| {
            let mut forth = vec![NONE; some.len()];
            let mut back = vec![(i32::MIN, usize::MAX); b.len()];
            for (block, others) in b.chunks(BLOCK).enumerate() {
                for (i, feature) in some.iter().enumerate() {
                    for (k, other) in others.iter().enumerate() {
                        let likeness = alike(&feature.descriptor, &other.descriptor);
                        let j = block * BLOCK + k;
                        if likeness > back[j].0 {
                            back[j] = (likeness, part * 8 * BLOCK + i);
                        }
                        if likeness > forth[i].second {
                            better(&mut forth[i], b, j, likeness);
                        }
                    }
                }
            }
            (forth, back)
        })
        .collect();
    let mut back = vec![(i32::MIN, usize::MAX); b.len()];
    for (_, part) in &parts {
        for (best, here) in back.iter_mut().zip(part) {
            if here.0 > best.0 {
                *best = *here;
            }
        }
    }
    let forth = parts.iter().flat_map(|(forth, _)| forth);
    let mut matches: Vec<Match> = (forth.enumerate())
        .filter(|(i, best)| best.index != usize::MAX && back[best.index].1 == *i)
        .filter(|(_, best)| best.second > i32::MIN)
        .map(|(i, best)| Match {
            a: i,
            b: best.index,
            ratio: distance(best.alike) / distance(best.second).max(1e-6),
        })
        .filter(|m| m.ratio < RATIO)
        .collect();
    matches.sort_by(|p, q| p.ratio.total_cmp(&q.ratio).then(p.a.cmp(&q.a)));
    matches
}

fn better(best: &mut Best, b: &[Feature], j: usize, likeness: i32) {
    let elsewhere = best.index != usize::MAX && !same_place(&b[best.index], &b[j]);
    if likeness > best.alike {
        if elsewhere {
            best.second = best.alike;
        }
        (best.index, best.alike) = (j, likeness);
    } else if elsewhere {
        best.second = likeness;
    }
}

/// For vectors of length 1 the squared distance is 2 - 2 times the cosine.
fn distance(alike: i32) -> f32 {
    (2.0 - 2.0 * alike as f32 / (UNIT * UNIT)).max(0.0).sqrt()
}

fn same_place(a: &Feature, b: &Feature) -> bool {
    (a.x - b.x).abs() < SAME_PLACE_PX && (a.y - b.y).abs() < SAME_PLACE_PX
}
