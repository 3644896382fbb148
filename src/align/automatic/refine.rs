//! A fit refined on patches, coarse to fine.

use euclid::Point2D;
use image::GrayImage;

use super::view::{AtoB, View, inward, outward, overlap};
use crate::geometry::{PhotoA, PhotoB};
use crate::register::{PatchGrid, PatchHit, patch_hits, settle};

/// One round: the overlap at `pixels`, patches of the grid, Cauchy scale `width` in px.
#[derive(Debug)]
pub(super) struct Round {
    pixels: f64,
    grid: PatchGrid,
    width: f64,
}

/// Small patches: a joint seen from another side looks different a few pixels on, and large ones
/// mix the board with what stands on it.
const fn round(pixels: f64, cells: usize, reach: usize, width: f64) -> Round {
    Round {
        pixels,
        grid: PatchGrid {
            cells,
            half: 6,
            reach,
            least_contrast: 0.02,
        },
        width,
    }
}

/// A look that only has to tell whether a fit holds.
pub(super) const ROUGH: &[Round] = &[round(0.5e6, 40, 10, 1.5), round(1.0e6, 48, 7, 1.0)];

/// Coarse to fine: 2 MP at last, as more costs time and wins nothing that the lens and the parts'
/// height do not take away again.
pub(super) const FULL: &[Round] = &[round(1.0e6, 56, 8, 1.5), round(2.0e6, 64, 6, 1.0)];

/// The last of these once more, from a better start.
pub(super) const LAST: &[Round] = &[round(2.0e6, 64, 6, 1.0)];

/// Cauchy scale of the first settling of a round, px.
const FIRST_WIDTH: f64 = 3.0;

/// A patch helps when it correlates this well ...
const LEAST_SCORE: f32 = 0.55;

/// Score at which it would count nothing.
const FAINT_SCORE: f32 = 0.4;

/// ... and beats every other place by this.
const LEAST_MARGIN: f32 = 0.06;

/// Patches within this many px of the fit agree.
const AGREES_PX: f64 = 2.0;

/// Fewer usable patches settle nothing.
const LEAST_PATCHES: usize = 16;

/// A place found in both photos.
#[derive(Debug, Clone, Copy)]
struct Hit {
    cell: (usize, usize),
    from: Point2D<f64, PhotoA>,
    to: Point2D<f64, PhotoB>,
    weight: f64,
}

/// A refined fit.
#[derive(Debug, Clone)]
pub(super) struct Fine {
    /// Between the full-size photos.
    pub(super) fit: AtoB,
    /// Patches that agree in the last round.
    pub(super) agreeing: usize,
    /// Root mean square distance of these, full-size px of the photo.
    pub(super) rms: f64,
    /// How far two fits, from the patches of either colour of a chessboard, are apart where the
    /// patches agree: median, full-size px of the photo.
    pub(super) apart: f64,
    /// The places found in both photos in the last round, full-size px; not all of them agree.
    pub(super) pairs: Vec<Pair>,
    /// Full-size px of the photo for one of the last round.
    pub(super) px: f64,
}

/// A place found in both photos, full-size px.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pair {
    pub(super) from: Point2D<f64, PhotoA>,
    pub(super) to: Point2D<f64, PhotoB>,
    pub(super) weight: f64,
    /// Which colour of the chessboard it lies on.
    pub(super) light: bool,
}

/// Refines `start` by the rounds. `None` where the photos hardly overlap or too few patches are found again.
pub(super) fn refine(a: &GrayImage, b: &GrayImage, start: &AtoB, rounds: &[Round]) -> Option<Fine> {
    let mut fine = Fine {
        fit: *start,
        agreeing: 0,
        rms: f64::INFINITY,
        apart: f64::INFINITY,
        pairs: Vec::new(),
        px: 1.0,
    };
    for round in rounds {
        fine = settled(a, b, &fine.fit, round)?;
    }
    Some(fine)
}

fn settled(a: &GrayImage, b: &GrayImage, start: &AtoB, round: &Round) -> Option<Fine> {
    let (a, b) = overlap(a, b, start, round.pixels)?.ok()?;
    let fit = inward(start, &a, &b).ok()?;
    let hits = both_ways(&a, &b, &fit, &round.grid)?;
    if hits.len() < LEAST_PATCHES {
        return None;
    }
    let fit = through(&hits, &fit, round.width, |_| true)?;
    let miss = |h: &Hit| Some((fit.apply(h.from)? - h.to).length());
    let close: Vec<(&Hit, f64)> = (hits.iter())
        .filter_map(|h| Some((h, miss(h)?)))
        .filter(|(_, off)| *off < AGREES_PX)
        .collect();
    if close.len() < LEAST_PATCHES {
        return None;
    }
    let colour = |h: &Hit| (h.cell.0 / 2 + h.cell.1 / 2).is_multiple_of(2);
    let light = through(&hits, &fit, round.width, colour);
    let dark = through(&hits, &fit, round.width, |h| !colour(h));
    let apart = light.zip(dark).and_then(|(light, dark)| {
        let apart: Vec<f64> = (close.iter())
            .filter_map(|(h, _)| Some((light.apply(h.from)? - dark.apply(h.from)?).length()))
            .collect();
        crate::stats::median(&apart)
    });
    let squares: f64 = close.iter().map(|(_, off)| off * off).sum();
    Some(Fine {
        agreeing: close.len(),
        rms: (squares / close.len() as f64).sqrt() / b.scale(),
        apart: apart.unwrap_or(f64::INFINITY) / b.scale(),
        fit: outward(&fit, &a, &b).ok()?,
        pairs: (hits.iter())
            .map(|h| Pair {
                from: a.outward(h.from),
                to: b.outward(h.to),
                weight: h.weight,
                light: colour(h),
            })
            .collect(),
        px: 1.0 / b.scale(),
    })
}

/// Clear patches of either photo found in the other: what one shows well may be dull in the other,
/// and the answer does not depend on which of the two is the reference.
fn both_ways(a: &View, b: &View, fit: &AtoB, grid: &PatchGrid) -> Option<Vec<Hit>> {
    let back = fit.inverse().ok()?;
    let (forth, back) = rayon::join(
        || patch_hits(&a.plane, &b.plane, fit, grid),
        || patch_hits(&b.plane, &a.plane, &back, grid),
    );
    fn clear<S, D>(h: &PatchHit<S, D>) -> bool {
        h.score >= LEAST_SCORE && h.margin >= LEAST_MARGIN
    }
    let forth = (forth.iter().filter(|h| clear(h))).map(|h| Hit {
        cell: h.cell,
        from: h.from,
        to: h.to,
        weight: sure(h.score),
    });
    let back = (back.iter().filter(|h| clear(h))).map(|h| Hit {
        cell: h.cell,
        from: h.to,
        to: h.from,
        weight: sure(h.score),
    });
    Some(forth.chain(back).collect())
}

fn through(hits: &[Hit], start: &AtoB, width: f64, keep: impl Fn(&Hit) -> bool) -> Option<AtoB> {
    let kept: Vec<&Hit> = hits.iter().filter(|h| keep(h)).collect();
    let from: Vec<_> = kept.iter().map(|h| h.from).collect();
    let to: Vec<_> = kept.iter().map(|h| h.to).collect();
    let prior: Vec<f64> = kept.iter().map(|h| h.weight).collect();
    let rough = settle(&from, &to, Some(&prior), start, FIRST_WIDTH)?;
    settle(&from, &to, Some(&prior), &rough, width)
}

/// What a hit counts. Legends and lands come back almost the same; a solder dome under another
/// lamp resembles itself a little to the side of where it is. Of the powers 0, 1, 2 and 4 the
/// second did best on three real pairs.
fn sure(score: f32) -> f64 {
    f64::from((score - FAINT_SCORE) / (1.0 - FAINT_SCORE)).powi(2)
}
