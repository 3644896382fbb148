//! A fit refined on patches, coarse to fine.

use euclid::Point2D;
use rayon::prelude::*;

use super::view::{AtoB, Both, Shown, View, inward, outward};
use crate::geometry::{PhotoA, PhotoB};
use crate::register::{Level, PatchGrid, PatchHit, Places, level, patch_hits, settle, support};

/// One round: the overlap at `pixels`, patches of the grid, Cauchy scale `width` in px.
#[derive(Debug)]
pub(super) struct Round {
    pixels: f64,
    grid: PatchGrid,
    width: f64,
    /// Whether it is asked how sure the fit is.
    last: bool,
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
        last: false,
    }
}

/// A look that tells whether a fit holds, and brings it near: features leave some fits dozens of
/// full-size pixels off at a corner. The second search reaches as far as the table or the tops of
/// tall parts lie from the board.
pub(super) const ROUGH: &[Round] = &[round(0.25e6, 36, 7, 2.0), round(0.5e6, 40, 10, 1.5)];

/// 2 MP, as more costs time and wins nothing that the parts' height does not take away again.
pub(super) const FULL: &[Round] = &[Round {
    last: true,
    ..round(2.0e6, 64, 6, 1.0)
}];

/// The same once more, from a better start.
pub(super) const LAST: &[Round] = &[round(2.0e6, 64, 6, 1.0)];

/// Cauchy scale of the first settling of a round, px.
const FIRST_WIDTH: f64 = 3.0;

/// Places lie on a level to this many px.
const LEVEL_PX: f64 = 1.5;

/// A level must hold this many blocks of the picture (a block with all its places on it counts
/// nearly 1) to be preferred to the fit through all places ...
const LEAST_LEVEL: f64 = 5.0;

/// ... and this many times what lies on that one.
const BETTER: f64 = 1.03;

/// Places farther than this from the level, px, are left out of the fit.
const NEAR_LEVEL_PX: f64 = 4.0;

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
    /// How far the fit is from what it may as well be, for nine in ten of the places that agree,
    /// full-size px of the photo; known after [`FULL`] only.
    pub(super) apart: f64,
    /// Whether another flat level holds nearly as much: which of the two is the board cannot be
    /// told; known after [`FULL`] only.
    pub(super) two_levels: bool,
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
pub(super) fn refine(a: Shown, b: Shown, start: &AtoB, rounds: &[Round]) -> Option<Fine> {
    let mut fine = Fine {
        fit: *start,
        agreeing: 0,
        rms: f64::INFINITY,
        apart: f64::INFINITY,
        two_levels: false,
        pairs: Vec::new(),
        px: 1.0,
    };
    for round in rounds {
        fine = settled(a, b, &fine.fit, round)?;
    }
    Some(fine)
}

fn settled(a: Shown, b: Shown, start: &AtoB, round: &Round) -> Option<Fine> {
    let Both { a, b } = Both::under(a, b, start, round.pixels)?;
    let fit = inward(start, &a, &b).ok()?;
    let hits = both_ways(&a, &b, &fit, &round.grid)?;
    if hits.len() < LEAST_PATCHES {
        return None;
    }
    let fit = on_one_level(&hits, &fit, round.width)?;
    let close: Vec<(&Hit, f64)> = (hits.iter())
        .filter_map(|h| Some((h, miss(&fit, h)?)))
        .filter(|(_, off)| *off < AGREES_PX)
        .collect();
    if close.len() < LEAST_PATCHES {
        return None;
    }
    let colour = |h: &Hit| (h.cell.0 / 2 + h.cell.1 / 2).is_multiple_of(2);
    let second = (round.last).then(|| second_level(&hits, &fit)).flatten();
    let apart = if round.last {
        unsure(&hits, &close, &fit, round.width, second.as_ref()).unwrap_or(f64::INFINITY)
    } else {
        0.0
    };
    let squares: f64 = close.iter().map(|(_, off)| off * off).sum();
    Some(Fine {
        agreeing: close.len(),
        rms: (squares / close.len() as f64).sqrt() / b.scale(),
        apart: apart / b.scale(),
        two_levels: second
            .is_some_and(|(level, share)| share >= AS_GOOD_LEVEL && level.support >= LEAST_SECOND),
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

/// The fit through all places, or that of one level where more of the board lies on it: slid from
/// the start, a fit can come to rest between the board, the tops of its parts and the table.
fn on_one_level(hits: &[Hit], start: &AtoB, width: f64) -> Option<AtoB> {
    let slid = through(hits, start, width, |_| true)?;
    let (from, to, weight) = columns(hits);
    let places = Places {
        from: &from,
        to: &to,
        weight: &weight,
    };
    let Some(best) = level(&places, &slid, LEVEL_PX) else {
        return Some(slid);
    };
    if best.support < LEAST_LEVEL || best.support < BETTER * support(&places, &slid, LEVEL_PX) {
        return Some(slid);
    }
    let near = |h: &&Hit| miss(&best.fit, h).is_some_and(|off| off < NEAR_LEVEL_PX);
    let (from, to, weight) = columns(hits.iter().filter(near));
    settle(&from, &to, Some(&weight), &best.fit, width).or(Some(slid))
}

/// Groups of blocks that are left out in turn to see how much the fit hangs on each.
const GROUPS: usize = 5;

/// Blocks along the longer edge that are left out or kept as a whole.
const BLOCKS: f64 = 8.0;

/// A second level counts from this share of the first one's support on.
const RIVAL_LEVEL: f64 = 0.35;

/// From this share on it is as good as the first, where it holds as many blocks as this: of 47
/// close-ups cut from photos, the three that were fitted to the tops of tall parts had 0.45 and more
/// and 5 to 9 blocks, and all right ones but one less than 0.1.
const AS_GOOD_LEVEL: f64 = 0.43;
const LEAST_SECOND: f64 = 4.0;

/// How far nine in ten of the agreeing places may lie from where the fit puts them: the spread of
/// the fits that leave out a part of the blocks (Tukey's jackknife: neighbouring places err alike,
/// and halves drawn from all over would not show it), and the distance to another level that holds
/// nearly as much, by that share.
fn unsure(
    hits: &[Hit],
    close: &[(&Hit, f64)],
    fit: &AtoB,
    width: f64,
    second: Option<&(Level<PhotoA, PhotoB>, f64)>,
) -> Option<f64> {
    let far = hits
        .iter()
        .map(|h| h.from.x.max(h.from.y))
        .fold(1.0, f64::max);
    let group = |h: &Hit| {
        let block = |v: f64| (v * BLOCKS / far).max(0.0) as usize;
        (block(h.from.x) + 2 * block(h.from.y)) % GROUPS
    };
    let without: Vec<AtoB> = (0..GROUPS)
        .into_par_iter()
        .map(|left_out| through(hits, fit, width, |h| group(h) != left_out))
        .collect::<Option<_>>()?;
    let mut unsure: Vec<f64> = (close.iter())
        .filter_map(|(h, _)| {
            let at = fit.apply(h.from)?;
            let mut squares = 0.0;
            for other in &without {
                squares += (other.apply(h.from)? - at).square_length();
            }
            let share = (GROUPS - 1) as f64 / GROUPS as f64;
            let other = match second {
                Some((level, share)) => share * (level.fit.apply(h.from)? - at).length(),
                None => 0.0,
            };
            Some((share * squares).sqrt().hypot(other))
        })
        .collect();
    unsure.sort_by(f64::total_cmp);
    unsure.get(unsure.len() * 9 / 10).copied()
}

/// Another level on what does not lie on the fit's, where it holds enough to compete, and its share
/// of the fit's support.
fn second_level(hits: &[Hit], fit: &AtoB) -> Option<(Level<PhotoA, PhotoB>, f64)> {
    let off = |h: &&Hit| miss(fit, h).is_some_and(|off| off > 2.0 * LEVEL_PX);
    let held = |(from, to, weight): &Columns, fit: &AtoB| {
        let places = Places { from, to, weight };
        support(&places, fit, LEVEL_PX)
    };
    let rest = columns(hits.iter().filter(off));
    let places = Places {
        from: &rest.0,
        to: &rest.1,
        weight: &rest.2,
    };
    let other = level(&places, fit, LEVEL_PX)?;
    let share = other.support / held(&columns(hits), fit).max(1e-9);
    (share >= RIVAL_LEVEL).then_some((other, share.min(1.0)))
}

fn miss(fit: &AtoB, hit: &Hit) -> Option<f64> {
    Some((fit.apply(hit.from)? - hit.to).length())
}

type Columns = (
    Vec<Point2D<f64, PhotoA>>,
    Vec<Point2D<f64, PhotoB>>,
    Vec<f64>,
);

fn columns<'a>(hits: impl IntoIterator<Item = &'a Hit>) -> Columns {
    let (mut from, mut to, mut weight) = Columns::default();
    for hit in hits {
        from.push(hit.from);
        to.push(hit.to);
        weight.push(hit.weight);
    }
    (from, to, weight)
}

fn through(hits: &[Hit], start: &AtoB, width: f64, keep: impl Fn(&Hit) -> bool) -> Option<AtoB> {
    let (from, to, prior) = columns(hits.iter().filter(|h| keep(h)));
    let rough = settle(&from, &to, Some(&prior), start, FIRST_WIDTH)?;
    settle(&from, &to, Some(&prior), &rough, width)
}

/// What a hit counts. Legends and lands come back almost the same; a solder dome under another
/// lamp resembles itself a little to the side of where it is. Of the powers 0, 1, 2 and 4 the
/// second did best on three real pairs.
fn sure(score: f32) -> f64 {
    f64::from((score - FAINT_SCORE) / (1.0 - FAINT_SCORE)).powi(2)
}
