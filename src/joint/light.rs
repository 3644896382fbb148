//! The joint cut out of the photo, in log-linear light.

#![allow(
    clippy::needless_range_loop,
    reason = "loops of fixed length become vectors"
)]

use std::sync::LazyLock;

use image::RgbImage;

use crate::geometry::PhotoPoint;

use super::JointSpot;
use super::sample::{floor, whole};
use crate::wide::{AT_ONCE, widest};

/// Added to linear luminance before the logarithm. Smaller values find cracks in darker solder but
/// lift sensor noise there to the height of a crack (crack-hint pipeline, step 1).
pub(crate) const LOG_FLOOR: f32 = 0.02;

/// A pixel with any channel from here up is clipped: glare hides what is under it.
const CLIPPED: u8 = 250;

/// The crop reaches this many land radii from the middle: enough for the rim and its edge width.
const REACH: f64 = 1.35;

/// Joints are brought to a working radius below twice this, px, by whole-number averaging. Keeps the
/// time per joint bounded; a crack that vanishes at this size is finer than 1/40 of the land radius.
const WORKING_RADIUS: f64 = 40.0;

/// The noise is measured within this share of the land radius: the rim is no noise.
const NOISE_REACH: f32 = 0.9;

/// Steps of the table from linear luminance to its logarithm.
const LOG_STEPS: usize = 8192;

static LINEAR: LazyLock<[f32; 256]> = LazyLock::new(|| {
    std::array::from_fn(|v| {
        // IEC 61966-2-1 (sRGB) decoding.
        let s = v as f32 / 255.0;
        if s <= 0.040_45 {
            s / 12.92
        } else {
            ((s + 0.055) / 1.055).powf(2.4)
        }
    })
});

/// What red, green and blue add to the luminance, by their 8-bit value (weights of ITU-R BT.709).
static ADDED: LazyLock<[[f32; 256]; 3]> =
    LazyLock::new(|| [0.2126, 0.7152, 0.0722].map(|weight| LINEAR.map(|v| weight * v)));

static LOG: LazyLock<Box<[f32; LOG_STEPS + 1]>> = LazyLock::new(|| {
    Box::new(std::array::from_fn(|i| {
        (i as f32 / LOG_STEPS as f32 + LOG_FLOOR).ln()
    }))
});

/// A square of working pixels round one joint.
#[derive(Debug, Clone)]
pub(crate) struct Patch {
    /// Working pixels per side.
    pub(crate) side: usize,
    /// ln(linear luminance + [`LOG_FLOOR`]), row by row.
    pub(crate) log: Vec<f32>,
    /// 1 where glare clips the pixel, 0 elsewhere, row by row; empty where nothing is clipped.
    pub(crate) clipped: Vec<f32>,
    /// Whether any pixel is clipped.
    pub(crate) glare: bool,
    /// Photo pixels per working pixel.
    pub(crate) shrink: usize,
    /// Photo pixel (x, y) of the first photo pixel of the crop.
    origin: (i64, i64),
    /// Middle of the joint in working pixels.
    pub(crate) centre: (f32, f32),
    /// Land radius in working pixels.
    pub(crate) radius: f32,
}

/// Why a joint could not even be cut out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Outside {
    /// The middle is not on the photo, or the numbers are no numbers.
    Beyond,
    /// The photo's edge cuts through the joint.
    CutByEdge,
}

impl Patch {
    /// Cuts the joint out. The land itself must lie wholly on the photo; beyond it the last row or
    /// column is repeated.
    pub(crate) fn cut(photo: &RgbImage, spot: &JointSpot) -> Result<Self, Outside> {
        let (w, h) = (f64::from(photo.width()), f64::from(photo.height()));
        let (x, y, r) = (spot.centre.x, spot.centre.y, spot.land_radius_px);
        if !(x.is_finite() && y.is_finite() && r.is_finite() && r > 0.0) {
            return Err(Outside::Beyond);
        }
        if x < -0.5 || y < -0.5 || x > w - 0.5 || y > h - 0.5 {
            return Err(Outside::Beyond);
        }
        if x - r < -0.5 || y - r < -0.5 || x + r > w - 0.5 || y + r > h - 0.5 {
            return Err(Outside::CutByEdge);
        }
        let shrink = ((r / WORKING_RADIUS) as usize).max(1);
        let half = (REACH * r / shrink as f64).ceil() as i64 + 2;
        let side = (2 * half + 1) as usize;
        let step = shrink as i64;
        let origin = (
            x.round() as i64 - half * step,
            y.round() as i64 - half * step,
        );
        let middle = (shrink as f64 - 1.0) / 2.0;
        let centre = (
            ((x - origin.0 as f64 - middle) / shrink as f64) as f32,
            ((y - origin.1 as f64 - middle) / shrink as f64) as f32,
        );
        let mut patch = Self {
            side,
            log: vec![0.0; side * side],
            clipped: Vec::new(),
            glare: false,
            shrink,
            origin,
            centre,
            radius: (r / shrink as f64) as f32,
        };
        patch.fill(photo);
        Ok(patch)
    }

    fn fill(&mut self, photo: &RgbImage) {
        let ([red, green, blue], logs_of): (&[[f32; 256]; 3], &[f32; LOG_STEPS + 1]) =
            (&ADDED, &LOG);
        let (last_x, last_y) = (i64::from(photo.width()) - 1, i64::from(photo.height()) - 1);
        let row_len = photo.width() as usize * 3;
        let raw = photo.as_raw();
        let share = 1.0 / (self.shrink * self.shrink) as f32;
        let across = self.side * self.shrink;
        // Where the crop lies within the photo; beyond it the photo's border goes on.
        let first = self.origin.0.clamp(0, last_x);
        let last = (self.origin.0 + across as i64 - 1).clamp(0, last_x);
        let before = (first - self.origin.0).clamp(0, across as i64) as usize;
        let mut bordered = vec![[0_u8; 3]; across];
        let mut sums = vec![0.0_f32; self.side];
        let mut steps = vec![0_u32; self.side];
        for py in 0..self.side {
            sums.fill(0.0);
            for dy in 0..self.shrink {
                let y = (self.origin.1 + (py * self.shrink + dy) as i64).clamp(0, last_y) as usize;
                let row = &raw[y * row_len..(y + 1) * row_len];
                let (row, _) = row[first as usize * 3..(last as usize + 1) * 3].as_chunks::<3>();
                let pixels = if row.len() == across {
                    row
                } else {
                    copy_with_borders(row, before, &mut bordered);
                    &bordered
                };
                let light =
                    |[r, g, b]: &[u8; 3]| red[*r as usize] + green[*g as usize] + blue[*b as usize];
                if self.shrink == 1 {
                    for (sum, pixel) in sums.iter_mut().zip(pixels) {
                        *sum = light(pixel);
                    }
                } else {
                    for (sum, group) in sums.iter_mut().zip(pixels.chunks_exact(self.shrink)) {
                        for pixel in group {
                            *sum += light(pixel);
                        }
                    }
                }
                if brightest(pixels.as_flattened()) >= CLIPPED {
                    self.glare = true;
                    self.clipped.resize(self.side * self.side, 0.0);
                    let hits = &mut self.clipped[py * self.side..(py + 1) * self.side];
                    for (hit, group) in hits.iter_mut().zip(pixels.chunks_exact(self.shrink)) {
                        if group.iter().flatten().any(|v| *v >= CLIPPED) {
                            *hit = 1.0;
                        }
                    }
                }
            }
            let logs = &mut self.log[py * self.side..(py + 1) * self.side];
            widest(
                #[inline(always)]
                || {
                    for (step, sum) in steps.iter_mut().zip(&sums) {
                        *step = whole(floor(sum * share * LOG_STEPS as f32 + 0.5));
                    }
                },
            );
            for (log, step) in logs.iter_mut().zip(&steps) {
                *log = logs_of[(*step as usize).min(LOG_STEPS)];
            }
        }
    }

    /// A working pixel position back in upright photo pixels.
    pub(crate) fn to_photo(&self, x: f32, y: f32) -> PhotoPoint {
        let k = self.shrink as f64;
        let middle = (k - 1.0) / 2.0;
        PhotoPoint::new(
            self.origin.0 as f64 + f64::from(x) * k + middle,
            self.origin.1 as f64 + f64::from(y) * k + middle,
        )
    }

    /// Noise of the log luminance on the joint, by Immerkaer's 3x3 measure (J. Immerkaer, "Fast noise
    /// variance estimation", 1996): sqrt(pi/2) / (6 n) times the sum of |I * N|, N = [1 -2 1; -2 4 -2;
    /// 1 -2 1], over the n pixels within [`NOISE_REACH`] of the middle. It blinds itself to straight edges,
    /// but fine texture counts as noise: on solder it is an upper bound.
    pub(crate) fn noise(&self) -> f32 {
        let w = self.side;
        let reach = (NOISE_REACH * self.radius).powi(2);
        let (mut sum, mut count) = (0.0_f64, 0.0_f64);
        for y in 1..w - 1 {
            let (above, here, below) = (
                &self.log[(y - 1) * w..y * w],
                &self.log[y * w..(y + 1) * w],
                &self.log[(y + 1) * w..(y + 2) * w],
            );
            let dy = (y as f32 - self.centre.1).powi(2);
            let within = |x: usize| dy + (x as f32 - self.centre.0).powi(2) <= reach;
            // The row crosses the joint in one stretch, whose middle is the joint's.
            let middle = (self.centre.0.round().max(1.0) as usize).min(w - 2);
            if !within(middle) {
                continue;
            }
            let half = (reach - dy).max(0.0).sqrt();
            let mut from = ((self.centre.0 - half).max(1.0) as usize).clamp(1, middle);
            let mut to = ((self.centre.0 + half) as usize + 1).clamp(middle, w - 2);
            while !within(from) {
                from += 1;
            }
            while !within(to) {
                to -= 1;
            }
            let stretch = from - 1..to + 2;
            sum += widest(
                #[inline(always)]
                || {
                    roughness(
                        &above[stretch.clone()],
                        &here[stretch.clone()],
                        &below[stretch],
                    )
                },
            );
            count += (to + 1 - from) as f64;
        }
        if count == 0.0 {
            0.0
        } else {
            (std::f64::consts::FRAC_PI_2.sqrt() * sum / (6.0 * count)) as f32
        }
    }
}

/// Fills a row of pixels: `before` times the first of the photo's, then the photo's, then its last.
fn copy_with_borders(row: &[[u8; 3]], before: usize, to: &mut [[u8; 3]]) {
    let (left, rest) = to.split_at_mut(before);
    let (inside, right) = rest.split_at_mut(row.len().min(rest.len()));
    inside.copy_from_slice(&row[..inside.len()]);
    if let (Some(first), Some(last)) = (row.first(), row.last()) {
        left.fill(*first);
        right.fill(*last);
    }
}

/// The greatest value.
fn brightest(values: &[u8]) -> u8 {
    widest(
        #[inline(always)]
        || values.iter().fold(0, |most, v| most.max(*v)),
    )
}

/// Sum of |I * N| along a stretch of three rows, one shorter at both ends.
#[inline(always)]
fn roughness(above: &[f32], here: &[f32], below: &[f32]) -> f64 {
    const SEEN: usize = AT_ONCE + 2;
    let second = |row: &[f32; 3]| row[0] - 2.0 * row[1] + row[2];
    let one = |a: &[f32; 3], h: &[f32; 3], b: &[f32; 3]| {
        f64::from((second(a) - 2.0 * second(h) + second(b)).abs())
    };
    let mut sums = [0.0_f64; AT_ONCE];
    let mut at = 0;
    while let (Some(a), Some(h), Some(b)) = (
        above[at..].first_chunk::<SEEN>(),
        here[at..].first_chunk::<SEEN>(),
        below[at..].first_chunk::<SEEN>(),
    ) {
        for k in 0..AT_ONCE {
            let three = |row: &[f32; SEEN]| [row[k], row[k + 1], row[k + 2]];
            sums[k] += one(&three(a), &three(h), &three(b));
        }
        at += AT_ONCE;
    }
    let rest = (above[at..].array_windows().zip(here[at..].array_windows()))
        .zip(below[at..].array_windows());
    for (k, ((a, h), b)) in rest.enumerate() {
        sums[k] += one(a, h, b);
    }
    sums.iter().sum()
}
