//! Pictures of the members of a row, brought to one size, and what lies between neighbours.

use image::RgbImage;

use super::FoundJoint;

/// Side of a member's picture, px; odd, so that there is a middle.
const SIDE: usize = 25;
/// How much of the surroundings is in the picture, land radii from the middle.
const REACH: f64 = 1.3;
/// Shifts that are tried to lay a picture over the median, picture px: found middles scatter.
const SHIFT: i32 = 2;

/// One member: luma against its own middle, over the spread of luma.
#[derive(Debug, Clone)]
pub(super) struct Patch {
    values: Vec<f32>,
}

impl Patch {
    /// Cuts a member out, turned with its row, averaged to the picture's size, in units of 64 grey levels.
    pub(super) fn cut(photo: &RgbImage, x: f64, y: f64, radius: f64, turn_deg: f64) -> Self {
        let (s, c) = turn_deg.to_radians().sin_cos();
        let step = 2.0 * REACH * radius / (SIDE - 1) as f64;
        let half = (SIDE / 2) as f64;
        let values = (0..SIDE * SIDE)
            .map(|i| {
                let (u, v) = ((i % SIDE) as f64 - half, (i / SIDE) as f64 - half);
                // Four samples a picture px: enough against moire, cheap.
                let mut sum = 0.0;
                for (a, b) in [(-0.25, -0.25), (0.25, -0.25), (-0.25, 0.25), (0.25, 0.25)] {
                    let (p, q) = ((u + a) * step, (v + b) * step);
                    sum += luma(&colour(photo, x + c * p - s * q, y + s * p + c * q));
                }
                (sum / 4.0 / 64.0) as f32
            })
            .collect();
        Self { values }
    }

    /// Mean absolute difference over the land, best of small shifts.
    pub(super) fn difference(&self, usual: &Self) -> f64 {
        let inner = (SIDE / 2) as i32 - SHIFT;
        let mut best = f64::INFINITY;
        for dy in -SHIFT..=SHIFT {
            for dx in -SHIFT..=SHIFT {
                let (mut sum, mut count) = (0.0, 0);
                for v in -inner..=inner {
                    for u in -inner..=inner {
                        if u * u + v * v > inner * inner {
                            continue;
                        }
                        let at = |a: i32, b: i32| {
                            let half = (SIDE / 2) as i32;
                            (b + half) as usize * SIDE + (a + half) as usize
                        };
                        let d = self.values[at(u + dx, v + dy)] - usual.values[at(u, v)];
                        sum += f64::from(d.abs());
                        count += 1;
                    }
                }
                best = best.min(sum / f64::from(count));
            }
        }
        best
    }
}

/// Pixel by pixel the median of the members.
pub(super) fn median_patch(patches: &[Patch]) -> Patch {
    let values = (0..SIDE * SIDE)
        .map(|i| {
            let mut column: Vec<f32> = patches.iter().map(|p| p.values[i]).collect();
            column.sort_by(f32::total_cmp);
            column.get(column.len() / 2).copied().unwrap_or(0.0)
        })
        .collect();
    Patch { values }
}

/// For each pair of neighbours how far the way between them is like solder and unlike the usual
/// gap, 0..1: the least along the way, so that one gap anywhere breaks it.
pub(super) fn bridge_share(photo: &RgbImage, pairs: &[(&FoundJoint, &FoundJoint)]) -> Vec<f64> {
    let gaps: Vec<Vec<[f64; 3]>> = pairs.iter().map(|(a, b)| way(photo, a, b)).collect();
    let all: Vec<[f64; 3]> = gaps.iter().flatten().copied().collect();
    let board = median_colour(&all);
    let solder: Vec<[f64; 3]> = pairs
        .iter()
        .flat_map(|(a, b)| [a, b])
        .flat_map(|j| {
            [(0.0, 0.0), (0.5, 0.0), (-0.5, 0.0), (0.0, 0.5), (0.0, -0.5)].map(|(u, v)| {
                colour(
                    photo,
                    j.x_px + u * j.land_radius_px,
                    j.y_px + v * j.land_radius_px,
                )
            })
        })
        .collect();
    let solder = median_colour(&solder);
    let apart = distance(&solder, &board).max(12.0);
    gaps.iter()
        .map(|gap| {
            gap.iter()
                .map(|c| (distance(c, &board) / apart).min(1.0))
                .fold(1.0, f64::min)
        })
        .collect()
}

/// Colours along the way from rim to rim: at each step the one farthest from dull across the way
/// would hide a thin bridge, so the mean over a narrow band is taken.
fn way(photo: &RgbImage, a: &FoundJoint, b: &FoundJoint) -> Vec<[f64; 3]> {
    let (dx, dy) = (b.x_px - a.x_px, b.y_px - a.y_px);
    let apart = dx.hypot(dy).max(1e-6);
    let (ux, uy) = (dx / apart, dy / apart);
    // A little inside the rims counts as gap: found radii are not exact.
    let (from, to) = (1.05 * a.land_radius_px, apart - 1.05 * b.land_radius_px);
    let (from, to) = if to - from < 0.1 * apart {
        (0.45 * apart, 0.55 * apart)
    } else {
        (from, to)
    };
    const STEPS: usize = 7;
    (0..STEPS)
        .map(|k| {
            let t = from + (to - from) * k as f64 / (STEPS - 1) as f64;
            let mut sum = [0.0; 3];
            for across in [-0.2, -0.1, 0.0, 0.1, 0.2] {
                let w = across * a.land_radius_px;
                let c = colour(photo, a.x_px + t * ux - w * uy, a.y_px + t * uy + w * ux);
                for (s, v) in sum.iter_mut().zip(c) {
                    *s += v / 5.0;
                }
            }
            sum
        })
        .collect()
}

fn median_colour(colours: &[[f64; 3]]) -> [f64; 3] {
    std::array::from_fn(|k| {
        let channel: Vec<f64> = colours.iter().map(|c| c[k]).collect();
        crate::stats::median(&channel).unwrap_or(0.0)
    })
}

fn distance(a: &[f64; 3], b: &[f64; 3]) -> f64 {
    a.iter()
        .zip(b)
        .map(|(x, y)| (x - y).powi(2))
        .sum::<f64>()
        .sqrt()
}

fn luma(c: &[f64; 3]) -> f64 {
    0.299 * c[0] + 0.587 * c[1] + 0.114 * c[2]
}

/// Bilinear colour, 0..255; beyond the edge the edge goes on.
fn colour(photo: &RgbImage, x: f64, y: f64) -> [f64; 3] {
    let (w, h) = photo.dimensions();
    if w == 0 || h == 0 {
        return [0.0; 3];
    }
    let x = x.clamp(0.0, f64::from(w - 1));
    let y = y.clamp(0.0, f64::from(h - 1));
    let (x0, y0) = (x as u32, y as u32);
    let (x1, y1) = ((x0 + 1).min(w - 1), (y0 + 1).min(h - 1));
    let (fx, fy) = (x - f64::from(x0), y - f64::from(y0));
    std::array::from_fn(|k| {
        let at = |x: u32, y: u32| f64::from(photo.get_pixel(x, y)[k]);
        (at(x0, y0) * (1.0 - fx) + at(x1, y0) * fx) * (1.0 - fy)
            + (at(x0, y1) * (1.0 - fx) + at(x1, y1) * fx) * fy
    })
}
