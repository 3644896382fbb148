//! Places worth a closer look: the middles of round things, and bright blobs.

use rayon::prelude::*;

use super::super::plane::blurred;
use super::levels::Level;

/// Radius of the round things that one level looks for, px of the level: the middle of its half octave.
const SEED_RADIUS: f64 = 9.5;
/// Most places kept per level and cue. More cost time, fewer lose joints of a crowded board.
const MOST: usize = 2500;
/// A slope below this part of full range per px casts no vote: noise.
const LEAST_SLOPE: f32 = 0.02;
/// A slope above this votes no louder: one specular edge must not shout down a whole rim.
const LOUDEST: f32 = 0.1;
/// Radii at which a slope votes for a middle.
const VOTE_RADII: [f32; 3] = [8.0, 9.5, 11.0];
/// Weight of a vote for a dark round thing against one for a bright one: solder on a pale board is darker.
const DARK_SHARE: f32 = 0.7;
/// A place must be the greatest within this many px.
const APART: usize = 5;
/// Rows that one band of votes covers; fixed, so that the sums do not depend on the threads.
const BAND: usize = 128;
/// Farthest a vote reaches.
const REACH: usize = 12;

/// Middles (level px) of one level.
fn seeds(level: &Level) -> Vec<(f32, f32)> {
    let round = blurred(&votes(level), level.width, level.height, 2, 2);
    let luma: Vec<f32> = level.px.iter().map(|p| p.luma).collect();
    // Three box blurs each: a Gaussian of about 0.55 and 1.1 radii.
    let near = blurred(&luma, level.width, level.height, 5, 3);
    let far = blurred(&luma, level.width, level.height, 10, 3);
    let bright: Vec<f32> = near.iter().zip(&far).map(|(a, b)| a - b).collect();
    let most = MOST.min((level.width * level.height) / 180 + 20);
    let mut found = peaks(&round, level.width, level.height, most);
    found.extend(peaks(&bright, level.width, level.height, most));
    found
}

/// Radii at which each middle is looked at, as shares of [`SEED_RADIUS`].
const RADII: [f64; 2] = [0.9, 1.1];

/// The same in the photo, (x, y, r), each at two radii.
pub(super) fn tried(level: &Level) -> Vec<[(f64, f64, f64); RADII.len()]> {
    (seeds(level).into_iter())
        .map(|(u, v)| {
            let (x, y) = level.to_photo(f64::from(u), f64::from(v));
            RADII.map(|part| (x, y, part * SEED_RADIUS / level.scale))
        })
        .collect()
}

/// Where slopes point to, at the radii of this level (after the idea of radial symmetry voting).
fn votes(level: &Level) -> Vec<f32> {
    let (w, h) = (level.width, level.height);
    let bands: Vec<(usize, Vec<f32>)> = (0..h.div_ceil(BAND))
        .into_par_iter()
        .map(|band| {
            let (top, end) = (band * BAND, ((band + 1) * BAND).min(h));
            let first = top.saturating_sub(REACH);
            let last = (end + REACH).min(h);
            let mut sums = vec![0.0_f32; (last - first) * w];
            for y in top..end {
                for x in 0..w {
                    let px = &level.px[y * w + x];
                    if px.busy <= LEAST_SLOPE {
                        continue;
                    }
                    let weight = px.busy.min(LOUDEST);
                    let (ux, uy) = (px.dx / px.busy, px.dy / px.busy);
                    for radius in VOTE_RADII {
                        for (way, share) in [(1.0, 1.0), (-1.0, DARK_SHARE)] {
                            let cx = (x as f32 + way * radius * ux).round();
                            let cy = (y as f32 + way * radius * uy).round();
                            if cx >= 0.0 && cy >= 0.0 && cx < w as f32 && cy < h as f32 {
                                sums[(cy as usize - first) * w + cx as usize] += weight * share;
                            }
                        }
                    }
                }
            }
            (first, sums)
        })
        .collect();
    let mut all = vec![0.0_f32; w * h];
    for (first, sums) in bands {
        let start = first * w;
        for (sum, v) in all[start..].iter_mut().zip(&sums) {
            *sum += v;
        }
    }
    all
}

/// Local maxima above zero, greatest first, equal ones in reading order.
fn peaks(values: &[f32], width: usize, height: usize, most: usize) -> Vec<(f32, f32)> {
    const LEAST: f32 = 1e-4;
    let mut found: Vec<(f32, usize)> = (0..height)
        .into_par_iter()
        .flat_map_iter(|y| {
            (0..width).filter_map(move |x| {
                let here = values[y * width + x];
                (here > LEAST && greatest(values, width, height, x, y, here))
                    .then_some((here, y * width + x))
            })
        })
        .collect();
    found.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    found.truncate(most);
    found
        .into_iter()
        .map(|(_, i)| ((i % width) as f32, (i / width) as f32))
        .collect()
}

fn greatest(values: &[f32], width: usize, height: usize, x: usize, y: usize, here: f32) -> bool {
    let rows = y.saturating_sub(APART)..(y + APART + 1).min(height);
    let columns = x.saturating_sub(APART)..(x + APART + 1).min(width);
    rows.into_iter().all(|v| {
        let from = v * width;
        values[from + columns.start..from + columns.end]
            .iter()
            .all(|other| *other <= here)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::{Rgb, RgbImage};

    #[test]
    fn round_things_are_found_whether_bright_or_dark() {
        let photo = RgbImage::from_fn(120, 60, |x, y| {
            let at = |cx: f64| (f64::from(x) - cx).hypot(f64::from(y) - 30.0) < 9.5;
            let v = if at(30.0) {
                220
            } else if at(90.0) {
                20
            } else {
                120
            };
            Rgb([v; 3])
        });
        let found = seeds(&Level::of(&photo, 0));
        for cx in [30.0, 90.0] {
            assert!(
                found.iter().any(|(x, y)| (x - cx).hypot(y - 30.0) < 2.0),
                "{cx}: {found:?}"
            );
        }
    }
}
