//! What a round place looks like: eighty numbers that do not know the colour of the board.
//!
//! Rings round the middle, in land radii; everything is taken against the surroundings outside the
//! land and against the liveliness inside it, so that neither mask colour nor exposure matters.

use super::levels::{Level, Px};

/// Directions that are sampled.
const ANGLES: usize = 24;
/// Rings that are sampled, in land radii. The last three are the surroundings.
const RINGS: [f32; 11] = [0.0, 0.2, 0.4, 0.55, 0.7, 0.85, 1.0, 1.15, 1.3, 1.5, 1.8];
/// First ring of the surroundings.
const OUTSIDE: usize = 8;
/// Rings well inside the land: up to here, exclusive.
const INSIDE: usize = 5;
/// Rings at the rim.
const RIM: std::ops::Range<usize> = 5..8;
/// How many numbers describe a place.
pub(super) const FEATURES: usize = 80;

const N: usize = RINGS.len();

type Rings = [[f32; ANGLES]; N];

/// Unit vectors of the directions.
fn directions() -> [(f32, f32); ANGLES] {
    std::array::from_fn(|k| {
        let angle = k as f32 * std::f32::consts::TAU / ANGLES as f32;
        (angle.cos(), angle.sin())
    })
}

/// Describes the place at (x, y) with the radius r, all in px of the level.
pub(super) fn describe(level: &Level, x: f32, y: f32, r: f32) -> [f32; FEATURES] {
    let directions = directions();
    let px: [[Px; ANGLES]; N] = std::array::from_fn(|i| {
        std::array::from_fn(|k| {
            let (c, s) = directions[k];
            level.sample(x + r * RINGS[i] * c, y + r * RINGS[i] * s)
        })
    });
    let ring = |f: &dyn Fn(&Px, usize) -> f32| -> Rings {
        std::array::from_fn(|i| std::array::from_fn(|k| f(&px[i][k], k)))
    };
    let around = |f: fn(&Px) -> f32| -> f32 {
        let mut all: Vec<f32> = px[OUTSIDE..].iter().flatten().map(f).collect();
        middle(&mut all)
    };
    let back = (
        around(|p| p.luma),
        around(|p| p.red_green),
        around(|p| p.yellow_blue),
    );
    let mut lumas: Vec<f32> = px.iter().flatten().map(|p| p.luma).collect();
    let norm = quantile_between(&mut lumas, 0.95) + 0.08;

    let contrast = ring(&|p, _| {
        let l = (p.luma - back.0) / norm;
        let (a, b) = (
            (p.red_green - back.1) / norm,
            (p.yellow_blue - back.2) / norm,
        );
        (l * l + 2.0 * (a * a + b * b)).sqrt()
    });
    let luma = ring(&|p, _| p.luma / norm);
    let busy = ring(&|p, _| p.busy / norm);
    let radial = ring(&|p, k| (p.dx * directions[k].0 + p.dy * directions[k].1) / norm);
    let along =
        ring(&|p, k| (p.dx * directions[k].0 + p.dy * directions[k].1).abs() / (p.busy + 0.01));

    let mut out = Features::default();
    let inner = mean(contrast[1..INSIDE].iter().flatten()) + 0.03;
    let lively = mean(busy[..INSIDE].iter().flatten()) + 0.003;
    let mut inside: Vec<f32> = luma[..INSIDE].iter().flatten().copied().collect();
    let spread = deviation(&inside) + 0.01;

    // How the contrast with the surroundings runs from the middle outwards.
    let sorted: [[f32; ANGLES]; N] = contrast.map(|mut r| {
        r.sort_by(f32::total_cmp);
        r
    });
    contrast.iter().for_each(|r| out.push(mean(r) / inner));
    sorted[2..]
        .iter()
        .for_each(|r| out.push(r[ANGLES / 4] / inner));
    sorted[5..]
        .iter()
        .for_each(|r| out.push(r[3 * ANGLES / 4] / inner));
    out.push(inner);
    // Light inside: a hole is a plain dark (or bright) middle in an even ring.
    let core = mean(luma[..2].iter().flatten());
    let annulus = mean(luma[3..5].iter().flatten());
    out.push((core - annulus) / spread);
    out.push(spread);
    luma.iter().for_each(|r| out.push(deviation(r) / spread));
    // How lively each ring is.
    out.push(lively);
    busy.iter().for_each(|r| out.push(mean(r) / lively));
    let mut outer: Vec<f32> = busy[OUTSIDE..].iter().flatten().copied().collect();
    out.push(middle(&mut outer) / lively);
    // Slope towards the middle.
    for r in &radial[3..9] {
        out.push(r.iter().map(|v| v.abs()).sum::<f32>() / ANGLES as f32 / lively);
    }
    radial[3..9].iter().for_each(|r| out.push(mean(r) / lively));
    // How closed the rim is.
    let mut rim: [f32; ANGLES] =
        std::array::from_fn(|k| RIM.map(|i| radial[i][k].abs()).fold(0.0, f32::max));
    rim.sort_by(f32::total_cmp);
    for part in [ANGLES / 8, ANGLES / 4, ANGLES / 2] {
        out.push(rim[part] / lively);
    }
    along[RIM].iter().for_each(|r| out.push(mean(r)));
    // Dark, middle and bright solder against the board.
    inside.sort_by(f32::total_cmp);
    let m = inside.len();
    for at in [m / 10, m / 2, 9 * m / 10] {
        out.push(inside[at] - back.0 / norm);
    }
    let surroundings: Vec<f32> = luma[OUTSIDE..].iter().flatten().copied().collect();
    out.push(deviation(&surroundings) / spread);
    // Streaks: how much neighbouring directions differ.
    for r in &luma[1..6] {
        let steps: f32 = r.windows(2).map(|w| (w[1] - w[0]).abs()).sum();
        out.push(steps / (ANGLES - 1) as f32 / spread);
    }
    out.values
}

struct Features {
    values: [f32; FEATURES],
    next: usize,
}

impl Default for Features {
    fn default() -> Self {
        Self {
            values: [0.0; FEATURES],
            next: 0,
        }
    }
}

impl Features {
    fn push(&mut self, value: f32) {
        self.values[self.next] = value;
        self.next += 1;
    }
}

fn mean<'a>(values: impl IntoIterator<Item = &'a f32>) -> f32 {
    let (sum, count) = values
        .into_iter()
        .fold((0.0, 0_u32), |(s, n), v| (s + v, n + 1));
    sum / count.max(1) as f32
}

fn deviation(values: &[f32]) -> f32 {
    let centre = mean(values);
    let squares: f32 = values.iter().map(|v| (v - centre).powi(2)).sum();
    (squares / values.len().max(1) as f32).sqrt()
}

/// Mean of the middle two of an even count.
fn middle(values: &mut [f32]) -> f32 {
    let half = values.len() / 2;
    let (low, upper, _) = values.select_nth_unstable_by(half, f32::total_cmp);
    let lower = low.iter().copied().fold(f32::NEG_INFINITY, f32::max);
    0.5 * (lower + *upper)
}

/// Quantile, drawn straight between the two nearest.
pub(super) fn quantile_between(values: &mut [f32], part: f64) -> f32 {
    let place = part * (values.len() - 1) as f64;
    let index = place.floor() as usize;
    let share = (place - index as f64) as f32;
    let (_, low, above) = values.select_nth_unstable_by(index, f32::total_cmp);
    let low = *low;
    let high = above.iter().copied().fold(f32::INFINITY, f32::min);
    if high.is_finite() {
        low + share * (high - low)
    } else {
        low
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::{Rgb, RgbImage};

    #[test]
    fn every_place_of_the_description_is_filled() {
        let photo = RgbImage::from_fn(80, 80, |x, y| {
            let d = (f64::from(x) - 40.0).hypot(f64::from(y) - 40.0);
            let v = if d < 12.0 {
                120 + (x * 37 + y * 91) % 90
            } else {
                30
            };
            Rgb([v as u8; 3])
        });
        let level = Level::of(&photo, 0);
        let found = describe(&level, 40.0, 40.0, 12.0);
        assert!(found.iter().all(|v| v.is_finite()));
        // The last number is a streak measure: nothing was left unfilled.
        assert!(found[FEATURES - 1] > 0.0);
        // Contrast falls from the middle to the surroundings.
        assert!(found[0] > 0.5 && found[10] < 0.1, "{found:?}");
    }

    #[test]
    fn quantiles_are_those_of_the_definition() {
        assert_eq!(middle(&mut [4.0, 1.0, 3.0, 2.0]), 2.5);
        let mut ten: Vec<f32> = (0..=10).map(|v| v as f32).collect();
        assert_eq!(quantile_between(&mut ten, 0.95), 9.5);
    }
}
