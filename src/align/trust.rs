//! Whether an automatic fit may be believed.

use serde::Serialize;

use super::refusal::{Refusal, RefusalKind as Kind};
use crate::geometry::{Homography, PhotoA, PhotoB};
use crate::register::{PatchGrid, PatchHit, Plane, patch_hits};
use crate::stats::{median, wilson_95};

/// The patches of the check: other places, other size and a wider search than those the fit was
/// refined on.
const CHECK: PatchGrid = PatchGrid {
    cells: 31,
    half: 12,
    reach: 9,
    least_contrast: 0.025,
};

/// A patch agrees when the photo has it this near to where the fit puts it, px at working size.
/// By chance 5.5 % do: the disc in the square that is searched.
const AGREES_PX: f64 = 2.5;

/// A patch is clear when its best place correlates this well and beats all others by the margin:
/// what differs between the photos (parts, shadows, the table) gives no clear place.
const CLEAR_SCORE: f32 = 0.55;
const CLEAR_MARGIN: f32 = 0.06;

/// Fewer clear patches than this are no evidence.
const LEAST_CLEAR: usize = 30;

/// Least share of clear patches that agree, as the lower 95 % bound.
const LEAST_AGREEMENT: f64 = 0.6;

/// Least share of the detailed blocks of the overlap that agree: a fit may be perfect at one end
/// of a board and wrong at the other. Low, because table and
/// shadows count as detail too. Set on three real pairs, which is too few to quote a rate.
const LEAST_COVERAGE: f64 = 0.2;

/// Least number of agreeing blocks, and of rows and columns of blocks that they span.
const LEAST_BLOCKS: usize = 6;

/// Blocks per axis in which coverage is counted.
const BLOCKS: usize = 6;

/// What the check of a fit found.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Evidence {
    /// Patches compared.
    pub(super) patches: usize,
    /// Patches that the photo has in one clear place, wherever that is.
    pub(super) clear: usize,
    /// Clear patches that are where the fit puts them.
    pub(super) agreeing: usize,
    pub(super) blocks: usize,
    pub(super) blocks_agreeing: usize,
    /// Rows and columns of blocks from the first that agrees to the last; the smaller.
    pub(super) span: usize,
    pub(super) median_off: f64,
}

/// Why a fit is believed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Trust {
    /// Patches compared after the fit.
    pub patches: usize,
    /// Share of those found again that are where the fit puts them.
    pub agreement: f64,
    /// Share of the overlap's detailed blocks in which patches agree.
    pub coverage: f64,
}

pub(super) fn examine(a: &Plane, b: &Plane, fit: &Homography<PhotoA, PhotoB>) -> Evidence {
    let hits = patch_hits(a, b, fit, &CHECK);
    let clear = |h: &PatchHit<PhotoA, PhotoB>| h.score >= CLEAR_SCORE && h.margin >= CLEAR_MARGIN;
    let agrees = |h: &PatchHit<PhotoA, PhotoB>| clear(h) && h.off <= AGREES_PX;
    let mut blocks = [(0usize, 0usize); BLOCKS * BLOCKS];
    for hit in &hits {
        let index =
            |v: f64, size: usize| ((v * BLOCKS as f64 / size as f64) as usize).min(BLOCKS - 1);
        let block =
            &mut blocks[index(hit.from.y, a.height()) * BLOCKS + index(hit.from.x, a.width())];
        block.0 += 1;
        block.1 += usize::from(agrees(hit));
    }
    let is_agreeing = |(_, agree): (usize, usize)| agree >= 2;
    let agreeing: Vec<usize> = (0..blocks.len())
        .filter(|k| is_agreeing(blocks[*k]))
        .collect();
    let offs: Vec<f64> = hits.iter().filter(|h| agrees(h)).map(|h| h.off).collect();
    Evidence {
        patches: hits.len(),
        clear: hits.iter().filter(|h| clear(h)).count(),
        agreeing: offs.len(),
        blocks: blocks
            .iter()
            .filter(|(all, agree)| *all >= 4 || *agree >= 2)
            .count(),
        blocks_agreeing: agreeing.len(),
        span: span(agreeing.iter().map(|k| k % BLOCKS))
            .min(span(agreeing.iter().map(|k| k / BLOCKS))),
        median_off: median(&offs).unwrap_or(f64::INFINITY),
    }
}

fn span(values: impl Iterator<Item = usize> + Clone) -> usize {
    match (values.clone().min(), values.max()) {
        (Some(low), Some(high)) => high - low + 1,
        _ => 0,
    }
}

/// Believes the fit, or says why not.
pub(super) fn judge(evidence: &Evidence) -> Result<Trust, Refusal> {
    let share = |part: usize, whole: usize| part as f64 / whole.max(1) as f64;
    let trust = Trust {
        patches: evidence.patches,
        agreement: share(evidence.agreeing, evidence.clear),
        coverage: share(evidence.blocks_agreeing, evidence.blocks),
    };
    let sure = wilson_95(evidence.agreeing as u64, evidence.clear as u64)
        .map_or(0.0, |interval| interval.low);
    let why = if evidence.clear < LEAST_CLEAR {
        format!(
            "under the best fit the photos overlap in only {} places with detail",
            evidence.patches
        )
    } else if sure < LEAST_AGREEMENT {
        format!(
            "under the best fit only {:.0} % of the places that can be found again are where they should be",
            100.0 * trust.agreement
        )
    } else if trust.coverage < LEAST_COVERAGE
        || evidence.blocks_agreeing < LEAST_BLOCKS
        || evidence.span < BLOCKS / 2
    {
        format!(
            "the best fit holds on only {:.0} % of the overlap",
            100.0 * trust.coverage
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

pub(super) fn too_few_patches() -> Refusal {
    Refusal::new(
        Kind::NotTrusted,
        "the features suggest a fit, but too few places of the two photos look alike under it",
        "is it the same side of the same board? If it is, click four landmarks or more",
    )
}
