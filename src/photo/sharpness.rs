//! Sharpness as the width of edges, and noise: both in a part of a grey image.

use image::GrayImage;

/// A rectangle of whole pixels: left, top, right, bottom, the last two exclusive.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Area {
    pub(super) left: u32,
    pub(super) top: u32,
    pub(super) right: u32,
    pub(super) bottom: u32,
}

/// Steepest slope, in grey levels per pixel, that an edge must reach. Lower lets noise and gentle
/// shading in; higher loses the edges of a photo that is very soft (a step of 100 levels blurred
/// by a sigma of 6 px still has a slope of 6.6). Common practice, no source.
const MIN_SLOPE: f32 = 5.0;
/// Least difference in grey level between the two sides of an edge. Lower lets in ripples of
/// JPEG compression, higher leaves dim photos without a reading. Common practice, no source.
const MIN_RISE: f32 = 40.0;
/// An edge ends where its slope has fallen to this part of the steepest. Lower joins shading to
/// the edge, higher cuts its shoulders off and makes it seem sharper.
const END_SLOPE: f32 = 0.08;
/// Longest way from the steepest place to the end of an edge, in pixels.
const REACH: usize = 40;
/// Grey levels from here up may be clipped on one side, which makes an edge seem sharper.
const NEARLY_CLIPPED: f32 = 250.0;
/// Largest slope across the walking direction, as part of the slope along it (about 22 degrees):
/// more slanted edges are measured less well even after correction.
const MAX_SLANT: f32 = 0.4;
/// Which of the edge widths, sorted, stands for the area. Round joints and shadows have wide
/// edges however sharp the lens is, so the sharper ones tell; the sharpest few are noise.
const QUANTILE: f64 = 0.25;
/// Fewest edges for a reading: with fewer, one scratch decides.
const MIN_EDGES: usize = 12;
/// Most rows (and columns) that are looked at, evenly spread: more only cost time.
const MAX_LINES: usize = 400;

/// Edge width in pixels, 10 % to 90 % of the rise, and the number of edges measured. `None` where
/// there are too few edges to say.
pub(super) fn edge_width(grey: &GrayImage, area: Area) -> (Option<f64>, usize) {
    let mut widths = Vec::new();
    let (width, height) = (
        area.right.saturating_sub(area.left) as usize,
        area.bottom.saturating_sub(area.top) as usize,
    );
    if width < 5 || height < 5 {
        return (None, 0);
    }
    let at = |x: usize, y: usize| {
        f32::from(grey.get_pixel(area.left + x as u32, area.top + y as u32)[0])
    };
    let mut lines: [Vec<f32>; 3] = Default::default();
    for y in spread(height) {
        for (line, row) in lines.iter_mut().zip(y - 1..=y + 1) {
            line.clear();
            line.extend((0..width).map(|x| at(x, row)));
        }
        measure_line(&lines, &mut widths);
    }
    for x in spread(width) {
        for (line, column) in lines.iter_mut().zip(x - 1..=x + 1) {
            line.clear();
            line.extend((0..height).map(|y| at(column, y)));
        }
        measure_line(&lines, &mut widths);
    }
    let edges = widths.len();
    if edges < MIN_EDGES {
        return (None, edges);
    }
    let index = ((edges - 1) as f64 * QUANTILE) as usize;
    let (_, width, _) = widths.select_nth_unstable_by(index, f32::total_cmp);
    (Some(f64::from(*width)), edges)
}

/// Lines that have a neighbour on either side, at most [`MAX_LINES`], evenly spread.
fn spread(length: usize) -> impl Iterator<Item = usize> {
    let step = length.div_ceil(MAX_LINES).max(1);
    (1..length - 1).step_by(step)
}

/// Adds the widths of all edges across the middle line of three.
fn measure_line([above, line, below]: &[Vec<f32>; 3], widths: &mut Vec<f32>) {
    let slope = |i: usize| (line[i + 1] - line[i - 1]) / 2.0;
    let mut i = 2;
    while i + 2 < line.len() {
        let here = slope(i);
        let steepest = here.abs() >= MIN_SLOPE
            && here.abs() >= slope(i - 1).abs()
            && here.abs() > slope(i + 1).abs();
        let across = (below[i] - above[i]) / 2.0;
        if steepest
            && across.abs() <= MAX_SLANT * here.abs()
            && let Some(width) = rise_width(line, i, here)
        {
            // Walking along a line crosses a slanted edge obliquely.
            widths.push(width * here.abs() / here.hypot(across));
        }
        i += 1;
    }
}

/// Width of the edge whose steepest place is `peak`, or `None` where it is no clean edge.
fn rise_width(line: &[f32], peak: usize, slope: f32) -> Option<f32> {
    let sign = slope.signum();
    let least = slope.abs() * END_SLOPE;
    let rises = |from: usize| sign * (line[from + 1] - line[from]) > least;
    let mut low = peak;
    while low > 0 && peak - low < REACH && rises(low - 1) {
        low -= 1;
    }
    let mut high = peak;
    while high + 1 < line.len() && high - peak < REACH && rises(high) {
        high += 1;
    }
    let (from, to) = (line[low], line[high]);
    let rise = sign * (to - from);
    if rise < MIN_RISE || from.max(to) >= NEARLY_CLIPPED || low == 0 || high + 1 == line.len() {
        return None;
    }
    let crossing = |part: f32| {
        let level = sign * from + part * rise;
        let i = (low..high).find(|&i| sign * line[i + 1] >= level)?;
        let (a, b) = (sign * line[i], sign * line[i + 1]);
        Some(i as f32 + (level - a) / (b - a).max(f32::EPSILON))
    };
    Some(crossing(0.9)? - crossing(0.1)?)
}

/// Noise sigma in grey levels, by Immerkaer 1996 (from memory): the mean absolute response to a
/// mask that is blind to planes and edges along the axes. Texture raises it, JPEG smoothing
/// lowers it. `None` for areas under 3 x 3 pixels.
pub(super) fn noise_sigma(grey: &GrayImage, area: Area) -> Option<f64> {
    let width = area.right.saturating_sub(area.left);
    let height = area.bottom.saturating_sub(area.top);
    if width < 3 || height < 3 {
        return None;
    }
    let stride = grey.width() as usize;
    let raw = grey.as_raw();
    let mut sum = 0_u64;
    // The mask is [1 -2 1] down times [1 -2 1] across.
    let mut down = vec![0_i32; width as usize];
    for y in area.top + 1..area.bottom - 1 {
        let row = |y: u32| {
            let start = y as usize * stride;
            &raw[start + area.left as usize..start + area.right as usize]
        };
        let rows = row(y - 1).iter().zip(row(y)).zip(row(y + 1));
        for (down, ((above, here), below)) in down.iter_mut().zip(rows) {
            *down = i32::from(*above) - 2 * i32::from(*here) + i32::from(*below);
        }
        let across = down
            .windows(3)
            .map(|d| (d[0] - 2 * d[1] + d[2]).unsigned_abs());
        sum += u64::from(across.sum::<u32>());
    }
    let count = f64::from(width - 2) * f64::from(height - 2);
    Some((std::f64::consts::PI / 2.0).sqrt() / 6.0 * sum as f64 / count)
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Luma;
    use rand::{RngExt, SeedableRng};

    fn whole(image: &GrayImage) -> Area {
        Area {
            left: 0,
            top: 0,
            right: image.width(),
            bottom: image.height(),
        }
    }

    /// Stripes 40 px wide of levels 60 and 180, turned by `slant`, blurred by a Gaussian.
    fn stripes(sigma: f32, slant: f32) -> GrayImage {
        let sharp = GrayImage::from_fn(240, 240, |x, y| {
            let across = x as f32 * slant.cos() + y as f32 * slant.sin();
            Luma([if (across / 40.0).floor() as i32 % 2 == 0 {
                60
            } else {
                180
            }])
        });
        if sigma > 0.0 {
            imageproc::filter::gaussian_blur_f32(&sharp, sigma)
        } else {
            sharp
        }
    }

    #[test]
    fn edge_width_of_a_blurred_step_is_that_of_the_normal_curve() {
        // 10 % to 90 % of the normal distribution function: 2 x 1.28155 sigma (any table of it).
        for sigma in [1.0_f32, 1.5, 2.0, 3.0] {
            let image = stripes(sigma, 0.0);
            let (width, edges) = edge_width(&image, whole(&image));
            let (width, truth) = (width.unwrap(), 2.563_1 * f64::from(sigma));
            assert!(edges > 100);
            assert!(
                (width - truth).abs() < 0.12 * truth,
                "{sigma}: {width} for {truth}"
            );
        }
        let sharp = stripes(0.0, 0.0);
        assert!(edge_width(&sharp, whole(&sharp)).0.unwrap() < 1.0);
    }

    #[test]
    fn slanted_edges_are_not_wider() {
        let straight = stripes(2.0, 0.0);
        let slanted = stripes(2.0, 0.3);
        let a = edge_width(&straight, whole(&straight)).0.unwrap();
        let b = edge_width(&slanted, whole(&slanted)).0.unwrap();
        assert!((a - b).abs() < 0.1 * a, "{a} {b}");
    }

    #[test]
    fn no_edges_no_reading() {
        let flat = GrayImage::from_pixel(100, 100, Luma([90]));
        assert_eq!(edge_width(&flat, whole(&flat)), (None, 0));
        let tiny = GrayImage::new(4, 4);
        assert_eq!(edge_width(&tiny, whole(&tiny)), (None, 0));
    }

    #[test]
    fn noise_of_known_size_is_found() {
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(5);
        for sigma in [2.0, 5.0, 10.0] {
            let image = GrayImage::from_fn(200, 200, |_, _| {
                // Sum of twelve uniforms: variance 1.
                let normal: f64 = (0..12).map(|_| rng.random::<f64>()).sum::<f64>() - 6.0;
                Luma([(128.0 + sigma * normal).round() as u8])
            });
            let found = noise_sigma(&image, whole(&image)).unwrap();
            assert!((found - sigma).abs() < 0.05 * sigma, "{found} for {sigma}");
        }
    }

    #[test]
    fn a_ramp_is_no_noise() {
        let ramp = GrayImage::from_fn(100, 100, |x, y| Luma([(x + y) as u8]));
        assert_eq!(noise_sigma(&ramp, whole(&ramp)), Some(0.0));
    }
}
