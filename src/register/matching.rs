//! Which feature of one picture is which of the other.

use rayon::prelude::*;

use super::Feature;
use super::descriptor::Descriptor;

/// A match must be nearer than this times the second nearest (Lowe 2004, section 7.1: 0.8 drops
/// nine in ten false matches and one in twenty true ones).
const RATIO: f32 = 0.82;

/// A second nearest within this many pixels is the same place seen twice, not a rival.
const SAME_PLACE_PX: f32 = 4.0;

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

/// Matches that are mutually nearest and clearly nearer than the next, surest first.
#[must_use]
pub fn match_features(a: &[Feature], b: &[Feature]) -> Vec<Match> {
    let (forth, back) = rayon::join(|| nearest(a, b), || nearest(b, a));
    let mut matches: Vec<Match> = (forth.iter().enumerate())
        .filter_map(|(i, near)| {
            let (j, ratio) = (*near)?;
            let (again, _) = back[j]?;
            (again == i).then_some(Match { a: i, b: j, ratio })
        })
        .filter(|m| m.ratio < RATIO)
        .collect();
    matches.sort_by(|p, q| p.ratio.total_cmp(&q.ratio).then(p.a.cmp(&q.a)));
    matches
}

/// For each of `from`, the nearest of `to` and how clear it is.
fn nearest(from: &[Feature], to: &[Feature]) -> Vec<Option<(usize, f32)>> {
    from.par_iter()
        .map(|feature| {
            let mut best = (usize::MAX, f32::MIN);
            let mut second = f32::MIN;
            for (j, other) in to.iter().enumerate() {
                let alike = dot(&feature.descriptor, &other.descriptor);
                if alike > best.1 {
                    if best.0 != usize::MAX && !same_place(&to[best.0], other) {
                        second = best.1;
                    }
                    best = (j, alike);
                } else if alike > second && !same_place(&to[best.0], other) {
                    second = alike;
                }
            }
            // For unit vectors the squared distance is 2 - 2 times the dot product.
            let distance = |alike: f32| (2.0 - 2.0 * alike).max(0.0).sqrt();
            (best.0 != usize::MAX && second > f32::MIN)
                .then(|| (best.0, distance(best.1) / distance(second).max(1e-6)))
        })
        .collect()
}

fn same_place(a: &Feature, b: &Feature) -> bool {
    (a.x - b.x).abs() < SAME_PLACE_PX && (a.y - b.y).abs() < SAME_PLACE_PX
}

/// Dot product in a fixed order of additions, eight lanes at a time.
fn dot(a: &Descriptor, b: &Descriptor) -> f32 {
    let mut lanes = [0.0f32; 8];
    for (x, y) in a.chunks_exact(8).zip(b.chunks_exact(8)) {
        for (lane, (x, y)) in lanes.iter_mut().zip(x.iter().zip(y)) {
            *lane += x * y;
        }
    }
    lanes.iter().sum()
}
