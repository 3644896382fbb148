//! Where two photos that fit show something else: another revision, a part that was added.

use euclid::Point2D;
use serde::Serialize;

use super::view::{AtoB, Both, View, inward};
use crate::geometry::{Homography, PhotoA};
use crate::register::{PatchGrid, Plane, patch_hits};
use crate::stats::median;

/// A search as wide as parts lean, at 1 MP; what is farther off is somewhere else.
const GRID: PatchGrid = PatchGrid {
    cells: 48,
    half: 7,
    reach: 5,
    least_contrast: 0.02,
};

/// A piece agrees when it correlates this well ...
const ALIKE_SCORE: f32 = 0.55;

/// ... this near to where the fit puts it, px at that size.
const ALIKE_PX: f64 = 3.0;

/// Pieces held less firmly than this share of the median of those that agree are grain of a table
/// or of the lacquer.
const LEAST_FIRM: f32 = 0.4;

/// Blocks along the longer edge.
const BLOCKS: usize = 12;

/// Firm pieces that a block must have in either photo.
const LEAST_IN_BLOCK: usize = 3;

/// Share of pieces that agree by chance.
const BY_CHANCE: f64 = 0.1;

/// Where fewer than this share of the pieces agree, or fewer pieces, nothing is said: the photos
/// differ all over.
const LEAST_AGREEMENT: f64 = 0.3;
const LEAST_PIECES: usize = 40;

/// A block differs when its pieces speak this much more for chance than for agreement (natural
/// logarithm) in both photos together ...
const BLOCK_SPEAKS: f64 = 1.5;

/// ... and a region, when its blocks together do by this much and it has as many blocks.
const REGION_SPEAKS: f64 = 15.0;
const REGION_BLOCKS: usize = 3;

/// A region in which both photos have detail and it is not the same: another revision, or parts
/// that were added or moved.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Differing {
    /// Left edge in the reference, full-size px.
    pub left: f64,
    /// Upper edge, px.
    pub top: f64,
    /// Right edge, px.
    pub right: f64,
    /// Lower edge, px.
    pub bottom: f64,
    /// Pieces with detail compared there, of both photos.
    pub compared: usize,
    /// Those of them that are the same in the other photo.
    pub same: usize,
}

/// A firm piece of either photo: where it is in the reference, and whether the other has it.
struct Piece {
    at: [f64; 2],
    same: bool,
}

/// What the pieces of one block say, for either photo: how many there are and how many agree.
#[derive(Debug, Clone, Copy, Default)]
struct Block {
    count: [usize; 2],
    same: [usize; 2],
}

/// The regions in which the photos differ under `fit`, largest first. `both` is what both show
/// under it, or under a fit that is near to it, at 1 MP.
pub(super) fn differs(both: &Both, fit: &AtoB) -> Vec<Differing> {
    let (a, b) = (&both.a, &both.b);
    let Ok(forth) = inward(fit, a, b) else {
        return Vec::new();
    };
    let Ok(back) = forth.inverse() else {
        return Vec::new();
    };
    let (mine, theirs) = rayon::join(
        || pieces(&a.plane, &b.plane, &forth, |at| Some([at.x, at.y])),
        || {
            pieces(&b.plane, &a.plane, &back, |at| {
                back.apply(at).map(|at| [at.x, at.y])
            })
        },
    );
    regions(a, [&mine, &theirs])
}

fn pieces<S: Send + Sync, D: Send + Sync>(
    from: &Plane,
    to: &Plane,
    fit: &Homography<S, D>,
    at: impl Fn(Point2D<f64, S>) -> Option<[f64; 2]>,
) -> Vec<Piece> {
    let hits = patch_hits(from, to, fit, &GRID);
    let same = |score: f32, off: f64| score >= ALIKE_SCORE && off <= ALIKE_PX;
    let firm: Vec<f64> = (hits.iter())
        .filter(|h| same(h.score, h.off))
        .map(|h| f64::from(h.strength))
        .collect();
    let least = LEAST_FIRM * median(&firm).unwrap_or(0.0) as f32;
    (hits.iter())
        .filter(|h| h.strength >= least)
        .filter_map(|h| {
            Some(Piece {
                at: at(h.from)?,
                same: same(h.score, h.off),
            })
        })
        .collect()
}

fn regions(view: &View, photos: [&[Piece]; 2]) -> Vec<Differing> {
    let edge = view.plane.width().max(view.plane.height()) as f64 / BLOCKS as f64;
    let mut blocks = [Block::default(); BLOCKS * BLOCKS];
    let (mut all, mut same) = (0, 0);
    for (photo, pieces) in photos.iter().enumerate() {
        for piece in *pieces {
            let index = |v: f64| ((v / edge).max(0.0) as usize).min(BLOCKS - 1);
            let block = &mut blocks[index(piece.at[1]) * BLOCKS + index(piece.at[0])];
            block.count[photo] += 1;
            block.same[photo] += usize::from(piece.same);
            all += 1;
            same += usize::from(piece.same);
        }
    }
    let agreement = same as f64 / f64::max(all as f64, 1.0);
    if all < LEAST_PIECES || agreement < LEAST_AGREEMENT {
        return Vec::new();
    }
    let speaks: Vec<f64> = blocks
        .iter()
        .map(|block| speaks(block, agreement))
        .collect();
    let mut regions: Vec<Differing> = (components(&speaks).iter())
        .filter(|region| {
            let sum: f64 = region.iter().map(|k| speaks[*k]).sum();
            region.len() >= REGION_BLOCKS && sum >= REGION_SPEAKS
        })
        .map(|region| named(view, &blocks, region, edge))
        .collect();
    regions.sort_by_key(|region| std::cmp::Reverse(region.compared - region.same));
    regions
}

/// How much more a block's pieces speak for chance than for agreement; 0 where either photo has no
/// detail there.
fn speaks(block: &Block, agreement: f64) -> f64 {
    if block.count.iter().any(|count| *count < LEAST_IN_BLOCK) {
        return 0.0;
    }
    let (count, same): (usize, usize) = (block.count.iter().sum(), block.same.iter().sum());
    let (same, other) = (same as f64, (count - same) as f64);
    same * (BY_CHANCE / agreement).ln() + other * ((1.0 - BY_CHANCE) / (1.0 - agreement)).ln()
}

/// Blocks that differ, in groups that hang together.
fn components(speaks: &[f64]) -> Vec<Vec<usize>> {
    let mut open: Vec<bool> = speaks.iter().map(|s| *s >= BLOCK_SPEAKS).collect();
    let mut groups = Vec::new();
    for first in 0..open.len() {
        if !open[first] {
            continue;
        }
        open[first] = false;
        let mut group = vec![first];
        let mut next = 0;
        while let Some(k) = group.get(next).copied() {
            next += 1;
            let (row, column) = (k / BLOCKS, k % BLOCKS);
            let near = [
                (row > 0).then(|| k - BLOCKS),
                (row + 1 < BLOCKS).then(|| k + BLOCKS),
                (column > 0).then(|| k - 1),
                (column + 1 < BLOCKS).then(|| k + 1),
            ];
            for neighbour in near.into_iter().flatten() {
                if open[neighbour] {
                    open[neighbour] = false;
                    group.push(neighbour);
                }
            }
        }
        groups.push(group);
    }
    groups
}

fn named(view: &View, blocks: &[Block], region: &[usize], edge: f64) -> Differing {
    let rows = region.iter().map(|k| k / BLOCKS);
    let columns = region.iter().map(|k| k % BLOCKS);
    let low = |along: &mut dyn Iterator<Item = usize>| along.min().unwrap_or(0) as f64 * edge;
    let high =
        |along: &mut dyn Iterator<Item = usize>| (along.max().unwrap_or(0) + 1) as f64 * edge;
    let inside = |x: f64, y: f64| {
        let size = [view.plane.width() as f64, view.plane.height() as f64];
        view.outward::<PhotoA>(Point2D::new(x.min(size[0]), y.min(size[1])))
    };
    let first = inside(low(&mut columns.clone()), low(&mut rows.clone()));
    let last = inside(high(&mut columns.clone()), high(&mut rows.clone()));
    let sum = |of: &dyn Fn(&Block) -> [usize; 2]| {
        (region.iter())
            .map(|k| of(&blocks[*k]).iter().sum::<usize>())
            .sum()
    };
    Differing {
        left: first.x,
        top: first.y,
        right: last.x,
        bottom: last.y,
        compared: sum(&|block| block.count),
        same: sum(&|block| block.same),
    }
}
