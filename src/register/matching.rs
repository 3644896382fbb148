//! Which feature of one picture is which of the other.

use rayon::prelude::*;

use super::Feature;
use super::descriptor::{LENGTH, UNIT, alike};
use crate::wide::{Simd, WithSimd, with_widest};

/// A match must be nearer than this times the second nearest. Lowe (2004, section 7.1) takes 0.8;
/// boards repeat themselves, and on real pairs 0.9 keeps a third more true matches; the false ones
/// are sorted out by their scales and directions.
const RATIO: f32 = 0.9;

/// A second nearest within this many pixels is the same place seen twice, not a rival.
const SAME_PLACE_PX: f32 = 4.0;

/// Features that one thread compares with all others: their descriptors stay in the cache.
const PART: usize = 512;

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
    alike: f32,
    second: f32,
}

const NONE: Best = Best {
    index: usize::MAX,
    alike: -1.0,
    second: -1.0,
};

/// Features of the second picture that are compared at once ...
const LANES: usize = 16;

/// ... with as many of the first: eight sums hide the time that one takes.
const ROWS: usize = 8;

/// Descriptors side by side, a number of each in turn; what is left of the last ones is 0. All
/// sums of their products stay below 2^24, so that fractions hold them without rounding: they
/// multiply and add several times faster than whole numbers.
type Lanes = [[f32; LANES]; LENGTH];

fn side_by_side(some: &[Feature]) -> Lanes {
    let number = |i: usize, k: usize| some.get(k).map_or(0, |f| f.descriptor[i]);
    std::array::from_fn(|i| std::array::from_fn(|k| f32::from(number(i, k))))
}

/// How alike each of the descriptors is to each of the lanes.
#[inline(always)]
fn likenesses<S: Simd>(
    simd: S,
    rows: &[[f32; ROWS]; LENGTH],
    lanes: &Lanes,
) -> [[f32; LANES]; ROWS] {
    let mut out = [[0.0f32; LANES]; ROWS];
    for vector in 0..LANES / S::F32_LANES {
        let mut sums = [simd.splat_f32s(0.0); ROWS];
        for (row, lane) in rows.iter().zip(lanes) {
            let lane = S::as_simd_f32s(lane).0[vector];
            for r in 0..ROWS {
                // In one step where the processor has it, which gives the same: nothing is rounded.
                sums[r] = simd.mul_add_e_f32s(simd.splat_f32s(row[r]), lane, sums[r]);
            }
        }
        for (out, sum) in out.iter_mut().zip(sums) {
            S::as_mut_simd_f32s(out).0[vector] = sum;
        }
    }
    out
}

/// For as many features as are compared at once, how alike the two nearest of the other picture
/// are, and which; wherever those lie.
#[derive(Debug, Clone, Copy)]
struct Two {
    alike: [[f32; LANES]; 2],
    index: [[u32; LANES]; 2],
}

impl Two {
    const NONE: Self = Self {
        alike: [[-1.0; LANES]; 2],
        index: [[u32::MAX; LANES]; 2],
    };

    /// Another feature of the other picture, and how alike it is to each.
    #[inline(always)]
    fn take(&mut self, alike: &[f32; LANES], index: &[u32; LANES]) {
        let ([best, second], [first, next]) = (&mut self.alike, &mut self.index);
        for k in 0..LANES {
            let (nearer, nearest) = (alike[k] > second[k], alike[k] > best[k]);
            let (other, number) = if nearer {
                (alike[k], index[k])
            } else {
                (second[k], next[k])
            };
            (second[k], next[k]) = if nearest {
                (best[k], first[k])
            } else {
                (other, number)
            };
            (best[k], first[k]) = if nearest {
                (alike[k], index[k])
            } else {
                (best[k], first[k])
            };
        }
    }
}

/// The nearest in `b` of each of `some`, and back; `some` are numbered from `first` on. `lanes` are
/// the descriptors of `b`.
#[inline(always)]
fn nearest<S: Simd>(
    simd: S,
    some: &[Feature],
    b: &[Feature],
    lanes: &[Lanes],
    first: usize,
) -> (Vec<Best>, Vec<Two>) {
    let mut forth = vec![NONE; some.len()];
    let mut back = vec![Two::NONE; lanes.len()];
    let rows: Vec<[[f32; ROWS]; LENGTH]> = (some.chunks(ROWS))
        .map(|some| {
            let number = |i: usize, r: usize| some.get(r).map_or(0, |f| f.descriptor[i]);
            std::array::from_fn(|i| std::array::from_fn(|r| f32::from(number(i, r))))
        })
        .collect();
    for (block, (lanes, back)) in lanes.iter().zip(&mut back).enumerate() {
        let start = block * LANES;
        let count = LANES.min(b.len() - start);
        for (group, (rows, bests)) in rows.iter().zip(forth.chunks_mut(ROWS)).enumerate() {
            let alike = likenesses(simd, rows, lanes);
            for (r, (best, alike)) in bests.iter_mut().zip(&alike).enumerate() {
                back.take(alike, &[(first + group * ROWS + r) as u32; LANES]);
                // Seldom: all are looked at together before each on its own.
                let nearer = (alike.iter()).fold(false, |any, alike| any | (*alike > best.second));
                if nearer {
                    for (k, likeness) in alike.iter().enumerate().take(count) {
                        if *likeness > best.second {
                            better(best, b, start + k, *likeness);
                        }
                    }
                }
            }
        }
    }
    (forth, back)
}

struct Nearest<'a> {
    some: &'a [Feature],
    b: &'a [Feature],
    lanes: &'a [Lanes],
    first: usize,
}

impl WithSimd for Nearest<'_> {
    type Output = (Vec<Best>, Vec<Two>);

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> Self::Output {
        nearest(simd, self.some, self.b, self.lanes, self.first)
    }
}

/// Matches that are mutually nearest and, seen from either of the two, clearly nearer than the
/// next; surest first. Which picture is the first makes no difference.
#[must_use]
pub fn match_features(a: &[Feature], b: &[Feature]) -> Vec<Match> {
    // One pass over all pairs: the nearest in b of each of a, and back.
    let lanes: Vec<Lanes> = b.par_chunks(LANES).map(side_by_side).collect();
    let parts: Vec<(Vec<Best>, Vec<Two>)> = (a.par_chunks(PART).enumerate())
        .map(|(part, some)| {
            with_widest(Nearest {
                some,
                b,
                lanes: &lanes,
                first: part * PART,
            })
        })
        .collect();
    let mut back = vec![Two::NONE; lanes.len()];
    for (_, part) in &parts {
        for (all, here) in back.iter_mut().zip(part) {
            for (alike, index) in here.alike.iter().zip(&here.index) {
                all.take(alike, index);
            }
        }
    }
    let forth: Vec<&Best> = parts.iter().flat_map(|(forth, _)| forth).collect();
    let mut matches: Vec<Match> = (forth.into_par_iter().enumerate())
        .filter_map(|(i, best)| {
            let j = best.index;
            let (block, k) = (back.get(j / LANES)?, j % LANES);
            if block.index[0][k] as usize != i {
                return None;
            }
            let next = block.index[1][k] as usize;
            let second = if next < a.len() && same_place(&a[i], &a[next]) {
                second_elsewhere(a, i, &b[j])
            } else {
                block.alike[1][k]
            };
            let least = |second: f32| {
                (second >= 0.0).then(|| distance(best.alike) / distance(second).max(1e-6))
            };
            let ratio =
                (least(best.second).into_iter().chain(least(second))).min_by(f32::total_cmp)?;
            (ratio < RATIO).then_some(Match { a: i, b: j, ratio })
        })
        .collect();
    matches.sort_by(|p, q| p.ratio.total_cmp(&q.ratio).then(p.a.cmp(&q.a)));
    matches
}

/// How alike the nearest to `to` is of those of `a` that lie elsewhere than the one numbered
/// `nearest`.
fn second_elsewhere(a: &[Feature], nearest: usize, to: &Feature) -> f32 {
    (a.iter())
        .filter(|other| !same_place(&a[nearest], other))
        .map(|other| alike(&other.descriptor, &to.descriptor) as f32)
        .fold(-1.0, f32::max)
}

fn better(best: &mut Best, b: &[Feature], j: usize, likeness: f32) {
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
fn distance(alike: f32) -> f32 {
    (2.0 - 2.0 * alike / (UNIT * UNIT)).max(0.0).sqrt()
}

fn same_place(a: &Feature, b: &Feature) -> bool {
    (a.x - b.x).abs() < SAME_PLACE_PX && (a.y - b.y).abs() < SAME_PLACE_PX
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// A feature whose descriptor has the length of a real one, near enough.
    fn feature(x: f32, seed: u64) -> Feature {
        let mut state = seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1;
        let mut next = || {
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            (state % 180) as i16
        };
        Feature {
            x,
            y: 0.0,
            scale: 2.0,
            angle: 0.0,
            response: 0.1,
            descriptor: std::array::from_fn(|_| next()),
        }
    }

    /// The matches by comparing every pair on its own.
    fn plain(a: &[Feature], b: &[Feature]) -> Vec<Match> {
        let score = |i: usize, j: usize| alike(&a[i].descriptor, &b[j].descriptor) as f32;
        let first_best = |scores: &mut dyn Iterator<Item = f32>| {
            let mut best = (0, f32::MIN);
            for (k, score) in scores.enumerate() {
                if score > best.1 {
                    best = (k, score);
                }
            }
            best.0
        };
        let mut matches = Vec::new();
        for i in 0..a.len() {
            let j = first_best(&mut (0..b.len()).map(|j| score(i, j)));
            let back = first_best(&mut (0..a.len()).map(|i| score(i, j)));
            let seconds = [
                (0..b.len())
                    .filter(|k| !same_place(&b[*k], &b[j]))
                    .map(|k| score(i, k))
                    .fold(-1.0, f32::max),
                (0..a.len())
                    .filter(|k| !same_place(&a[*k], &a[i]))
                    .map(|k| score(k, j))
                    .fold(-1.0, f32::max),
            ];
            let ratio = (seconds.into_iter().filter(|second| *second >= 0.0))
                .map(|second| distance(score(i, j)) / distance(second).max(1e-6))
                .min_by(f32::total_cmp);
            if back == i
                && let Some(ratio) = ratio
                && ratio < RATIO
            {
                matches.push(Match { a: i, b: j, ratio });
            }
        }
        matches.sort_by(|p, q| p.ratio.total_cmp(&q.ratio).then(p.a.cmp(&q.a)));
        matches
    }

    proptest! {
        // Numbers of features about the 4 and 16 that are compared at a time.
        #[test]
        fn many_at_a_time_give_what_one_by_one_gives(
            seeds in prop::collection::vec(0u64..1_000_000, 1..40),
            first in 0usize..40,
            count in 1usize..40,
        ) {
            let b: Vec<Feature> = (seeds.iter().enumerate())
                .map(|(k, seed)| feature(10.0 * k as f32, *seed))
                .collect();
            // Some of the same, a little changed, and some others.
            let a: Vec<Feature> = (0..count)
                .map(|k| {
                    let mut same = feature(10.0 * k as f32, seeds[(first + k) % seeds.len()]);
                    same.descriptor[k] += 9;
                    if k % 5 == 4 { feature(0.0, 2_000_000 + k as u64) } else { same }
                })
                .collect();
            let matches = match_features(&a, &b);
            prop_assert_eq!(&matches, &plain(&a, &b));
            let mut back: Vec<Match> = (match_features(&b, &a).iter())
                .map(|m| Match { a: m.b, b: m.a, ratio: m.ratio })
                .collect();
            back.sort_by(|p, q| p.ratio.total_cmp(&q.ratio).then(p.a.cmp(&q.a)));
            prop_assert_eq!(matches, back);
        }
    }
}
