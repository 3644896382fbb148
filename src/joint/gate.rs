//! Can this photo carry a reading of this joint at all? If not: why, and what would fix it.

#![allow(
    clippy::needless_range_loop,
    reason = "loops of fixed length become vectors"
)]

use serde::Serialize;

use super::light::{Outside, Patch};
use super::polar::{ANGLES, RADIAL_STEP, Ring};
use crate::wide::{AT_ONCE, extremes, widest};

/// Least land radius, photo px. Below it a crack of normal width is under two pixels and its ring has
/// no room between pin and rim (crack-hint protocol, "Abstain").
pub const MIN_RADIUS_PX: f64 = 16.0;
/// Least scale where it is known, px/mm: a tenth of a millimetre must cover two pixels (same source).
pub const MIN_PX_PER_MM: f64 = 20.0;
/// Steepest view, degrees from square, where the photo is aligned. Beyond it the far side of the fillet hides
/// behind the pin and the ring is an oval (crack-hint protocol, "Abstain").
pub const MAX_TILT_DEG: f64 = 40.0;
/// Most share of angles that glare may hide (same source).
pub const MAX_UNKNOWN: f64 = 0.25;
/// Widest edge, photo px (10 to 90 % of the rise at the sharpest edges round the joint). A wider edge
/// smears a hairline below the noise.
pub const MAX_EDGE_PX: f64 = 4.5;
/// Least contrast of the joint against its noise.
pub const MIN_SNR: f64 = 4.0;

/// What the gate measured.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Gate {
    /// Width of the sharpest edges round the joint, photo px; `null` where there is no edge to measure.
    pub edge_px: Option<f64>,
    /// Share of the angles that glare hides, 0..=1.
    pub unknown: f64,
    /// Spread of brightness over the joint against its noise.
    pub snr: f64,
}

/// Why there is no reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum NoReading {
    Outside(Outside),
    TooSmall { radius_px: f64 },
    TooCoarse { px_per_mm: f64 },
    TooSteep { tilt_deg: f64 },
    Soft { edge_px: f64 },
    Glare { unknown: f64 },
    Flat,
}

impl NoReading {
    /// The reason and the advice that fixes it, one or two sentences.
    pub(crate) fn sentence(&self) -> String {
        match self {
            Self::Outside(Outside::Beyond) => "No reading: the joint is not on this photo. Use the photo that shows it.".to_owned(),
            Self::Outside(Outside::CutByEdge) => {
                "No reading: the photo's edge cuts the joint. Take a photo with the whole joint in it.".to_owned()
            }
            Self::TooSmall { radius_px } => format!(
                "No reading: the joint is only {:.0} px across, {:.0} are needed. Go closer.",
                2.0 * radius_px,
                2.0 * MIN_RADIUS_PX
            ),
            // Rounded down: what is not enough must not read as if it were.
            Self::TooCoarse { px_per_mm } => format!(
                "No reading: {:.1} px/mm here, {MIN_PX_PER_MM:.0} are needed. Go closer.",
                (px_per_mm * 10.0).floor() / 10.0
            ),
            Self::TooSteep { tilt_deg } => format!(
                "No reading: the board is seen {tilt_deg:.0} degrees from square here, {MAX_TILT_DEG:.0} at most can be used. Hold the camera straight above the joint."
            ),
            Self::Soft { edge_px } => format!(
                "No reading: the photo is too soft here, its edges are {edge_px:.1} px wide and at most {MAX_EDGE_PX:.1} can be used. Focus on the solder, hold the camera still, save with less compression."
            ),
            Self::Glare { unknown } => format!(
                "No reading: glare hides {:.0} % of the ring round the pin. Move the lamp or soften it with a sheet of paper.",
                unknown * 100.0
            ),
            Self::Flat => "No reading: the joint hardly stands out from the noise. Give it more light, from the side.".to_owned(),
        }
    }
}

/// What can be said before the joint is cut out.
pub(crate) fn size(radius_px: f64, px_per_mm: Option<f64>) -> Result<(), NoReading> {
    if radius_px < MIN_RADIUS_PX {
        return Err(NoReading::TooSmall { radius_px });
    }
    match px_per_mm {
        Some(px_per_mm) if px_per_mm.is_finite() && px_per_mm < MIN_PX_PER_MM => {
            Err(NoReading::TooCoarse { px_per_mm })
        }
        _ => Ok(()),
    }
}

/// Whether the joint is seen squarely enough, where that is known.
pub(crate) fn view(tilt_deg: Option<f64>) -> Result<(), NoReading> {
    match tilt_deg {
        Some(tilt_deg) if tilt_deg > MAX_TILT_DEG => Err(NoReading::TooSteep { tilt_deg }),
        _ => Ok(()),
    }
}

/// Measures and judges one unrolled ring.
pub(crate) fn measure(patch: &Patch, ring: &Ring, noise: f32) -> Gate {
    let (width, spread) = widest(
        #[inline(always)]
        || (edge_width(ring), spread(ring)),
    );
    Gate {
        edge_px: width.map(|w| f64::from(w) * patch.shrink as f64),
        unknown: unknown_share(ring),
        snr: f64::from(spread / noise.max(1e-4)),
    }
}

impl Gate {
    pub(crate) fn judge(&self) -> Result<(), NoReading> {
        if self.unknown > MAX_UNKNOWN {
            return Err(NoReading::Glare {
                unknown: self.unknown,
            });
        }
        match self.edge_px {
            Some(edge_px) if edge_px > MAX_EDGE_PX => return Err(NoReading::Soft { edge_px }),
            _ => {}
        }
        if self.snr < MIN_SNR {
            return Err(NoReading::Flat);
        }
        Ok(())
    }
}

/// Least rise of an edge that can be measured, log units.
const EDGE_RISE: f32 = 0.35;

/// Of the edges found, this share is sharper than the width reported: the sharpest edges tell what the
/// lens did, the others may be soft by themselves.
const EDGE_SHARE: f32 = 0.25;

/// Width of the sharper edges along the radii, working px: at each angle the steepest place, and the
/// length over which its rise would run at that slope.
#[inline(always)]
fn edge_width(ring: &Ring) -> Option<f32> {
    let n = ring.radii;
    let reach = (6.0 / RADIAL_STEP) as usize;
    let mut widths: Vec<f32> = Vec::with_capacity(ANGLES);
    let mut slopes = vec![0.0_f32; n.saturating_sub(2)];
    for (angle, line) in ring.log.chunks_exact(n).enumerate() {
        for (slope, ends) in slopes.iter_mut().zip(line.array_windows::<3>()) {
            *slope = (ends[2] - ends[0]).abs();
        }
        let clipped = ring.clipped.iter().skip(angle * n + 1);
        for (slope, clipped) in slopes.iter_mut().zip(clipped) {
            if *clipped >= 0.5 {
                *slope = 0.0;
            }
        }
        let (_, steepest) = extremes(&slopes);
        if steepest.is_nan() || steepest <= 0.0 {
            continue;
        }
        let at = 1 + first_of(&slopes, steepest);
        let (lo, hi) = (at.saturating_sub(reach), (at + reach).min(n - 1));
        let (least, most) = extremes(&line[lo..=hi]);
        let rise = most - least;
        if rise > EDGE_RISE {
            // 10 to 90 % is 0.8 of the rise; the slope spans two steps.
            widths.push(0.8 * rise / (steepest / (2.0 * RADIAL_STEP)));
        }
    }
    if widths.len() < ANGLES / 8 {
        return None;
    }
    let at = (widths.len() as f32 * EDGE_SHARE) as usize;
    let (_, width, _) = widths.select_nth_unstable_by(at, f32::total_cmp);
    Some(*width)
}

/// Where a value stands for the first time.
#[inline(always)]
fn first_of(values: &[f32], sought: f32) -> usize {
    let (groups, rest) = values.as_chunks::<AT_ONCE>();
    let group = groups
        .iter()
        .position(|g| g.iter().fold(false, |found, v| found | (*v == sought)));
    let from = AT_ONCE * group.unwrap_or(groups.len());
    let within = group.map_or(rest, |k| &groups[k]);
    from + within.iter().position(|v| *v == sought).unwrap_or(0)
}

/// Share of angles where glare covers more than half of the way from pin to rim.
fn unknown_share(ring: &Ring) -> f64 {
    if ring.clipped.is_empty() {
        return 0.0;
    }
    let (a, b) = (
        ring.column(0.3 * ring.frame.radius),
        ring.column(0.85 * ring.frame.radius),
    );
    let n = ring.radii;
    let hidden = (0..ANGLES)
        .filter(|angle| {
            let line = &ring.clipped[angle * n + a..=angle * n + b];
            line.iter().sum::<f32>() > 0.5 * line.len() as f32
        })
        .count();
    hidden as f64 / ANGLES as f64
}

/// Standard deviation of the log luminance from pin to rim.
#[inline(always)]
fn spread(ring: &Ring) -> f32 {
    let last = ring.column(0.9 * ring.frame.radius);
    let (mut sums, mut squares) = ([0.0_f64; AT_ONCE], [0.0_f64; AT_ONCE]);
    for line in ring.log.chunks_exact(ring.radii) {
        let (groups, rest) = line[..=last].as_chunks::<AT_ONCE>();
        for group in groups {
            for k in 0..AT_ONCE {
                let v = f64::from(group[k]);
                sums[k] += v;
                squares[k] += v * v;
            }
        }
        for (k, v) in rest.iter().enumerate() {
            let v = f64::from(*v);
            sums[k] += v;
            squares[k] += v * v;
        }
    }
    let count = (ANGLES * (last + 1)) as f64;
    let mean = sums.iter().sum::<f64>() / count;
    let square = squares.iter().sum::<f64>() / count;
    (square - mean * mean).max(0.0).sqrt() as f32
}
