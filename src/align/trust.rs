//! Whether an automatic fit may be believed.

use euclid::Point2D;
use serde::Serialize;

use super::refusal::{Refusal, RefusalKind as Kind};
use crate::geometry::{Homography, PhotoA, PhotoB};
use crate::register::{PatchGrid, PatchHit, Plane, patch_hits};
use crate::stats::{median, wilson_95};

/// How a fit is checked.
#[derive(Debug)]
pub(super) struct Check {
    /// Size of the overlap, px.
    pub(super) pixels: f64,
    pub(super) grid: PatchGrid,
}

/// The check that decides: at half the size of the last refinement, a joint that leans by its
/// height is still where the fit puts it; other places, other size and a wider search than those
/// the fit was refined on.
pub(super) const CHECK: Check = Check {
    pixels: 1.0e6,
    grid: PatchGrid {
        cells: 53,
        half: 7,
        reach: 8,
        least_contrast: 0.02,
    },
};

/// A look that only ranks fits against each other. Sixteen places are compared at a time, and a
/// reach of 7 has fifteen across.
const RANKS: PatchGrid = PatchGrid {
    cells: 36,
    half: 7,
    reach: 7,
    least_contrast: 0.02,
};

/// ... of those that were refined ...
pub(super) const RANKING: Check = Check {
    pixels: 0.5e6,
    grid: RANKS,
};

/// ... and which of many are worth that.
pub(super) const GLANCE: Check = Check {
    pixels: 0.25e6,
    grid: RANKS,
};

/// A patch agrees when the photo has it this near to where the fit puts it, px at the size of the
/// check.
const AGREES_PX: f64 = 2.0;

/// Share of clear patches that agree by chance: the disc in the square that is searched.
const BY_CHANCE: f64 = std::f64::consts::PI * AGREES_PX * AGREES_PX / (17.0 * 17.0);

/// A patch is clear when its best place correlates this well and beats all others by the margin:
/// what differs between the photos (parts, shadows, the table) gives no clear place.
const CLEAR_SCORE: f32 = 0.55;
const CLEAR_MARGIN: f32 = 0.06;

/// Blocks along the longer edge of the overlap.
const BLOCKS: usize = 8;

/// A block holds detail when it has this many clear patches, and agrees when this many agree and
/// those are more than chance explains by this many standard deviations.
const LEAST_IN_BLOCK: usize = 3;
const BEYOND_CHANCE: f64 = 3.0;

/// What the check of a fit found.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Evidence {
    /// Patches compared.
    pub(super) patches: usize,
    /// Patches that the photo has in one clear place, wherever that is.
    pub(super) clear: usize,
    /// Clear patches that are where the fit puts them.
    pub(super) agreeing: usize,
    /// The same two within the area that the agreeing blocks enclose.
    pub(super) clear_inside: usize,
    pub(super) agreeing_inside: usize,
    /// Blocks with detail within that area, and those of them that agree.
    pub(super) blocks: usize,
    pub(super) blocks_agreeing: usize,
    /// That area as a share of the overlap.
    pub(super) extent: f64,
    /// Share of the detail that both photos show which agrees: patches weighted by how firmly
    /// they are held. Joints and legends weigh many times what the grain of a table does, so that
    /// a fit of the table, on which the board was moved, does not pass for one of the board.
    pub(super) detail: f64,
    /// Median distance of the agreeing patches, px at the size of the check.
    pub(super) median_off: f64,
    /// Mean place of the agreeing patches in the reference, full-size px.
    pub(super) middle: Point2D<f64, PhotoA>,
    /// Scale from the reference to the photo there.
    pub(super) scale: f64,
}

/// Why a fit is believed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Trust {
    /// Patches compared after the fit.
    pub patches: usize,
    /// Share of those found again, within the area that the fit holds for, that are where the fit
    /// puts them.
    pub agreement: f64,
    /// Share of the detailed blocks of that area in which patches agree.
    pub coverage: f64,
    /// That area as a share of what both photos show.
    pub extent: f64,
    /// Share of all detail that both photos show which is where the fit puts it.
    pub detail: f64,
}

type Hit = PatchHit<PhotoA, PhotoB>;

fn is_clear(hit: &Hit) -> bool {
    hit.score >= CLEAR_SCORE && hit.margin >= CLEAR_MARGIN
}

fn agrees(hit: &Hit) -> bool {
    is_clear(hit) && hit.off <= AGREES_PX
}

pub(super) fn examine(
    a: &Plane,
    b: &Plane,
    fit: &Homography<PhotoA, PhotoB>,
    grid: &PatchGrid,
) -> Evidence {
    let hits = patch_hits(a, b, fit, grid);
    let size = a.width().max(a.height()) as f64 / BLOCKS as f64;
    let block = |hit: &Hit| {
        let index = |v: f64| ((v / size) as usize).min(BLOCKS - 1);
        index(hit.from.y) * BLOCKS + index(hit.from.x)
    };
    let mut blocks = [(0usize, 0usize); BLOCKS * BLOCKS];
    for hit in hits.iter().filter(|h| is_clear(h)) {
        let counts = &mut blocks[block(hit)];
        counts.0 += 1;
        counts.1 += usize::from(agrees(hit));
    }
    let block_agrees = |k: usize| {
        let (clear, agree) = blocks[k];
        let expected = BY_CHANCE * clear as f64;
        agree >= LEAST_IN_BLOCK && agree as f64 > expected + BEYOND_CHANCE * expected.sqrt()
    };
    let corners: Vec<[f64; 2]> = (hits.iter())
        .filter(|h| agrees(h) && block_agrees(block(h)))
        .map(|h| [h.from.x, h.from.y])
        .collect();
    let hull = hull(corners);
    let inside: Vec<&Hit> = (hits.iter())
        .filter(|h| is_clear(h) && is_inside(&hull, h.from))
        .collect();
    let mut detailed = [0usize; BLOCKS * BLOCKS];
    for hit in &inside {
        detailed[block(hit)] += 1;
    }
    let detailed: Vec<usize> = (0..detailed.len())
        .filter(|k| detailed[*k] >= LEAST_IN_BLOCK)
        .collect();
    let offs: Vec<f64> = (inside.iter())
        .filter(|h| agrees(h))
        .map(|h| h.off)
        .collect();
    Evidence {
        patches: hits.len(),
        clear: hits.iter().filter(|h| is_clear(h)).count(),
        agreeing: hits.iter().filter(|h| agrees(h)).count(),
        clear_inside: inside.len(),
        agreeing_inside: offs.len(),
        blocks: detailed.len(),
        blocks_agreeing: detailed.iter().filter(|k| block_agrees(**k)).count(),
        extent: area(&hull) / (a.width() * a.height()) as f64,
        detail: detail(&hits),
        median_off: median(&offs).unwrap_or(f64::INFINITY),
        middle: middle_of(&inside, a),
        scale: 1.0,
    }
}

fn detail(hits: &[Hit]) -> f64 {
    let weight = |h: &Hit| f64::from(h.strength.max(0.0));
    let all: f64 = hits.iter().map(weight).sum();
    let agreeing: f64 = (hits.iter()).filter(|h| agrees(h)).map(weight).sum();
    agreeing / all.max(1e-12)
}

/// The mean place of the agreeing, or the middle of the picture.
fn middle_of(inside: &[&Hit], a: &Plane) -> Point2D<f64, PhotoA> {
    let agreeing: Vec<_> = (inside.iter()).filter(|h| agrees(h)).collect();
    if agreeing.is_empty() {
        return Point2D::new(a.width() as f64 / 2.0, a.height() as f64 / 2.0);
    }
    let sum = (agreeing.iter()).fold([0.0, 0.0], |s, h| [s[0] + h.from.x, s[1] + h.from.y]);
    let n = agreeing.len() as f64;
    Point2D::new(sum[0] / n, sum[1] / n)
}

/// The convex hull, counter-clockwise in a frame with y up (Andrew's monotone chain).
fn hull(mut points: Vec<[f64; 2]>) -> Vec<[f64; 2]> {
    points.sort_by(|p, q| p[0].total_cmp(&q[0]).then(p[1].total_cmp(&q[1])));
    points.dedup();
    if points.len() < 3 {
        return Vec::new();
    }
    let half = |points: &mut dyn Iterator<Item = &[f64; 2]>| {
        let mut chain: Vec<[f64; 2]> = Vec::new();
        for point in points {
            while chain.len() >= 2
                && turn(chain[chain.len() - 2], chain[chain.len() - 1], *point) <= 0.0
            {
                chain.pop();
            }
            chain.push(*point);
        }
        chain.pop();
        chain
    };
    let mut lower = half(&mut points.iter());
    lower.extend(half(&mut points.iter().rev()));
    lower
}

fn turn(a: [f64; 2], b: [f64; 2], c: [f64; 2]) -> f64 {
    (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
}

fn edges(hull: &[[f64; 2]]) -> impl Iterator<Item = ([f64; 2], [f64; 2])> {
    (0..hull.len()).map(|i| (hull[i], hull[(i + 1) % hull.len()]))
}

fn area(hull: &[[f64; 2]]) -> f64 {
    edges(hull)
        .map(|(a, b)| a[0] * b[1] - a[1] * b[0])
        .sum::<f64>()
        / 2.0
}

fn is_inside(hull: &[[f64; 2]], point: Point2D<f64, PhotoA>) -> bool {
    hull.len() >= 3 && edges(hull).all(|(a, b)| turn(a, b, [point.x, point.y]) >= 0.0)
}

/// Fewer clear patches that agree are no evidence.
const LEAST_AGREEING: usize = 30;

/// Least share of the clear patches inside that agree, as the lower 95 % bound.
const LEAST_AGREEMENT: f64 = 0.15;

/// Least share of detailed blocks inside that agree.
const LEAST_COVERAGE: f64 = 0.5;

/// Least share of the detail that agrees. Set by hand on three real pairs (0.22 to 0.68 for the
/// true fits; up to 0.16 for a wrong one), which is too few to quote a rate.
const LEAST_DETAIL: f64 = 0.2;

/// Least number of blocks that agree.
const LEAST_BLOCKS: usize = 6;

/// Least share of the overlap that the agreeing blocks enclose.
const LEAST_EXTENT: f64 = 0.3;

/// ... or this share, where within it as large a share of the detailed blocks and of the clear
/// patches (its lower 95 % bound) agrees: a wrong fit that holds by chance or on rows that look
/// alike leaves much inside that does not. Close-ups show wide plain places beside few parts.
const LEAST_EXTENT_IF_SURE: f64 = 0.2;
const SURE_COVERAGE: f64 = 0.8;
const SURE_AGREEMENT: f64 = 0.6;

/// Believes the fit, or says why not.
pub(super) fn judge(evidence: &Evidence) -> Result<Trust, Refusal> {
    let share = |part: usize, whole: usize| part as f64 / whole.max(1) as f64;
    let trust = Trust {
        patches: evidence.patches,
        agreement: share(evidence.agreeing_inside, evidence.clear_inside),
        coverage: share(evidence.blocks_agreeing, evidence.blocks),
        extent: evidence.extent,
        detail: evidence.detail,
    };
    let sure = wilson_95(
        evidence.agreeing_inside as u64,
        evidence.clear_inside as u64,
    )
    .map_or(0.0, |interval| interval.low);
    let least_extent = if trust.coverage >= SURE_COVERAGE && sure >= SURE_AGREEMENT {
        LEAST_EXTENT_IF_SURE
    } else {
        LEAST_EXTENT
    };
    let why = if evidence.detail < LEAST_DETAIL {
        format!(
            "under the best fit only {:.0} % of the detail of the photos is where it should be: it may be the table that fits",
            100.0 * evidence.detail
        )
    } else if evidence.agreeing_inside < LEAST_AGREEING {
        format!(
            "under the best fit only {} places of the two photos look alike",
            evidence.agreeing_inside
        )
    } else if sure < LEAST_AGREEMENT {
        format!(
            "under the best fit only {:.0} % of the places that can be found again are where they should be",
            100.0 * trust.agreement
        )
    } else if trust.coverage < LEAST_COVERAGE
        || evidence.blocks_agreeing < LEAST_BLOCKS
        || trust.extent < least_extent
    {
        format!(
            "the best fit holds on only {:.0} % of what both photos show",
            100.0 * trust.coverage * trust.extent
        )
    } else {
        return Ok(trust);
    };
    Err(Refusal::new(
        Kind::NotTrusted,
        why,
        "is it the same side and revision of the same board, and not mirrored? If it is, click four landmarks or more",
    ))
}
