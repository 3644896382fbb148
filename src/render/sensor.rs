//! From light to a picture as a pocket camera makes it: glow, vignetting, a colour mosaic with
//! photon noise, white balance, tone curve, sharpening.

use image::RgbImage;
use rayon::prelude::*;

use super::noise::{mix, smoothstep, unit};

/// A linear picture, row by row.
#[derive(Debug, Clone)]
pub(super) struct Linear {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) pixels: Vec<[f32; 3]>,
}

/// How the camera develops.
#[derive(Debug, Clone, Copy)]
pub(super) struct Develop {
    /// Brightness, 1 = normal.
    pub(super) exposure: f64,
    /// Share of noise, 1 = a telephone in room light.
    pub(super) noise: f64,
    /// Strength of sharpening, 0..1.
    pub(super) sharpen: f32,
    /// Gains of red and blue left over by the white balance.
    pub(super) cast: [f64; 3],
    pub(super) seed: u64,
}

/// Mean brightness that the automatic exposure aims at, linear: a mid-green board then lies a
/// little under the middle of the tone curve (chosen by eye beside photographs).
const TARGET: f64 = 0.105;
/// Photon noise: variance per unit of signal. A telephone at low gain, chosen by eye.
const SHOT: f64 = 0.000_16;
/// Read noise: deviation.
const READ: f64 = 0.001_8;

/// Develops a linear picture.
pub(super) fn develop(mut linear: Linear, how: &Develop) -> RgbImage {
    let gain = auto_gain(&linear) * how.exposure;
    expose(&mut linear, gain, how);
    glow(&mut linear);
    let mosaic = mosaic(&linear, how);
    let (width, height) = (linear.width, linear.height);
    linear.pixels = Vec::new();
    let rgb = demosaic(&mosaic, width, height);
    drop(mosaic);
    let toned: Vec<[f32; 3]> = rgb.into_par_iter().map(tone).collect();
    sharpen(&toned, width, height, how.sharpen)
}

/// Gain that brings the mean (clipped, so that mirrors do not rule) to [`TARGET`].
fn auto_gain(linear: &Linear) -> f64 {
    let mut gain = 1.0;
    for _ in 0..4 {
        let mut sum = 0.0;
        let mut count = 0.0;
        for pixel in linear.pixels.iter().step_by(97) {
            let level = f64::from(pixel[0] + pixel[1] * 2.0 + pixel[2]) / 4.0 * gain;
            sum += level.min(0.7);
            count += 1.0;
        }
        let mean: f64 = sum / f64::max(count, 1.0);
        gain *= TARGET / mean.max(1e-6);
    }
    gain
}

fn expose(linear: &mut Linear, gain: f64, how: &Develop) {
    let (width, height) = (linear.width as f64, linear.height as f64);
    let reach = width.hypot(height) / 2.0;
    linear
        .pixels
        .par_chunks_mut(linear.width)
        .enumerate()
        .for_each(|(row, pixels)| {
            for (column, pixel) in pixels.iter_mut().enumerate() {
                let r = (column as f64 - width / 2.0).hypot(row as f64 - height / 2.0) / reach;
                let fall = 1.0 - 0.26 * r * r - 0.06 * r.powi(4);
                for (channel, value) in pixel.iter_mut().enumerate() {
                    *value = (f64::from(*value) * gain * fall * how.cast[channel]) as f32;
                }
            }
        });
}

/// Light of clipped places spreads a little in lens and sensor.
fn glow(linear: &mut Linear) {
    let step = (linear.width / 500).max(2);
    let (w, h) = (linear.width.div_ceil(step), linear.height.div_ceil(step));
    let mut small: Vec<[f32; 3]> = vec![[0.0; 3]; w * h];
    for (index, cell) in small.iter_mut().enumerate() {
        let (cx, cy) = (index % w * step, index / w * step);
        for y in cy..(cy + step).min(linear.height) {
            for x in cx..(cx + step).min(linear.width) {
                let pixel = linear.pixels[y * linear.width + x];
                for c in 0..3 {
                    cell[c] += (pixel[c] - 0.8).clamp(0.0, 6.0) / (step * step) as f32;
                }
            }
        }
    }
    for _ in 0..3 {
        small = box_blur(&small, w, h);
    }
    let width = linear.width;
    linear
        .pixels
        .par_chunks_mut(width)
        .enumerate()
        .for_each(|(y, row)| {
            for (x, pixel) in row.iter_mut().enumerate() {
                let fx = (x as f32 / step as f32 - 0.5).max(0.0);
                let fy = (y as f32 / step as f32 - 0.5).max(0.0);
                let (ix, iy) = ((fx as usize).min(w - 1), (fy as usize).min(h - 1));
                let (jx, jy) = ((ix + 1).min(w - 1), (iy + 1).min(h - 1));
                let (tx, ty) = (fx.fract(), fy.fract());
                for c in 0..3 {
                    let low = small[iy * w + ix][c] * (1.0 - tx) + small[iy * w + jx][c] * tx;
                    let top = small[jy * w + ix][c] * (1.0 - tx) + small[jy * w + jx][c] * tx;
                    pixel[c] += 0.09 * (low * (1.0 - ty) + top * ty);
                }
            }
        });
}

fn box_blur(source: &[[f32; 3]], w: usize, h: usize) -> Vec<[f32; 3]> {
    let mut out = vec![[0.0f32; 3]; w * h];
    for y in 0..h {
        for x in 0..w {
            let mut sum = [0.0f32; 3];
            for v in y.saturating_sub(1)..=(y + 1).min(h - 1) {
                for u in x.saturating_sub(1)..=(x + 1).min(w - 1) {
                    for c in 0..3 {
                        sum[c] += source[v * w + u][c];
                    }
                }
            }
            out[y * w + x] = sum.map(|value| value / 9.0);
        }
    }
    out
}

/// Gains of the sensor's colours before white balance: red and blue see less.
const BALANCE: [f64; 3] = [1.75, 1.0, 1.6];

fn mosaic(linear: &Linear, how: &Develop) -> Vec<f32> {
    let width = linear.width;
    (0..linear.pixels.len())
        .into_par_iter()
        .map(|index| {
            let (x, y) = (index % width, index / width);
            let channel = colour_at(x, y);
            let signal = f64::from(linear.pixels[index][channel]) / BALANCE[channel];
            let h = mix(how.seed ^ (index as u64).wrapping_mul(0x9E37_79B9));
            let normal =
                (unit(h) + unit(mix(h ^ 1)) + unit(mix(h ^ 2)) + unit(mix(h ^ 3)) - 2.0) * 1.732;
            let sigma = how.noise * (SHOT * signal.clamp(0.0, 1.0) + READ * READ).sqrt();
            let full = 1.0 / BALANCE[channel];
            ((signal + sigma * normal).clamp(0.0, full) * BALANCE[channel]) as f32
        })
        .collect()
}

fn colour_at(x: usize, y: usize) -> usize {
    match (x & 1, y & 1) {
        (0, 0) => 0,
        (1, 1) => 2,
        _ => 1,
    }
}

/// Green along the flatter direction, then red and blue by their difference from green.
fn demosaic(mosaic: &[f32], width: usize, height: usize) -> Vec<[f32; 3]> {
    let at = |x: i64, y: i64| {
        let x = mirrored(x, width);
        let y = mirrored(y, height);
        mosaic[y * width + x]
    };
    let green: Vec<f32> = (0..mosaic.len())
        .into_par_iter()
        .map(|index| {
            let (x, y) = ((index % width) as i64, (index / width) as i64);
            if colour_at(x as usize, y as usize) == 1 {
                return mosaic[index];
            }
            let (w, e) = (at(x - 1, y), at(x + 1, y));
            let (n, s) = (at(x, y - 1), at(x, y + 1));
            let here = 2.0 * mosaic[index];
            let across = (w - e).abs() + (here - at(x - 2, y) - at(x + 2, y)).abs();
            let down = (n - s).abs() + (here - at(x, y - 2) - at(x, y + 2)).abs();
            let h = (w + e) / 2.0 + (here - at(x - 2, y) - at(x + 2, y)) / 8.0;
            let v = (n + s) / 2.0 + (here - at(x, y - 2) - at(x, y + 2)) / 8.0;
            let t = (down + 1e-4) / (across + down + 2e-4);
            (h * t + v * (1.0 - t)).max(0.0)
        })
        .collect();
    let difference = |x: i64, y: i64| {
        let (mx, my) = (mirrored(x, width), mirrored(y, height));
        mosaic[my * width + mx] - green[my * width + mx]
    };
    (0..mosaic.len())
        .into_par_iter()
        .map(|index| {
            let (x, y) = ((index % width) as i64, (index / width) as i64);
            let g = green[index];
            let cross =
                |dx: i64, dy: i64| (difference(x - dx, y - dy) + difference(x + dx, y + dy)) / 2.0;
            let diagonal = || (cross(1, 1) + cross(1, -1)) / 2.0;
            let (r, b) = match (x & 1, y & 1) {
                (0, 0) => (difference(x, y), diagonal()),
                (1, 1) => (diagonal(), difference(x, y)),
                (1, 0) => (cross(1, 0), cross(0, 1)),
                _ => (cross(0, 1), cross(1, 0)),
            };
            [(g + r).max(0.0), g, (g + b).max(0.0)]
        })
        .collect()
}

/// Mirrors an index at the border without breaking the mosaic's parity.
fn mirrored(value: i64, size: usize) -> usize {
    let last = size as i64 - 1;
    let value = if value < 0 { -value } else { value };
    (if value > last {
        2 * last - value
    } else {
        value
    })
    .clamp(0, last) as usize
}

/// Tone curve with a soft shoulder, a little more colour, then sRGB (IEC 61966-2-1).
fn tone(pixel: [f32; 3]) -> [f32; 3] {
    let grey = 0.25 * pixel[0] + 0.6 * pixel[1] + 0.15 * pixel[2];
    pixel.map(|value| {
        let value = (grey + (value - grey) * 1.08).max(0.0) * 1.5;
        let curved = value * (1.0 + value * 0.311) / (1.0 + value * 0.8);
        let curved = curved.min(1.0);
        let s = if curved <= 0.003_130_8 {
            12.92 * curved
        } else {
            1.055 * curved.powf(1.0 / 2.4) - 0.055
        };
        // A gentle S about the middle for contrast.
        s + 0.22 * (s - 0.5) * (4.0 * s * (1.0 - s))
    })
}

/// Unsharp masking on brightness, with the halo that cameras leave.
fn sharpen(toned: &[[f32; 3]], width: usize, height: usize, amount: f32) -> RgbImage {
    let luma = |pixel: &[f32; 3]| 0.3 * pixel[0] + 0.59 * pixel[1] + 0.11 * pixel[2];
    let bytes: Vec<u8> = (0..height)
        .into_par_iter()
        .flat_map_iter(|y| {
            (0..width).flat_map(move |x| {
                let mut sum = 0.0;
                for (dy, wy) in [(-2i64, 1.0f32), (-1, 3.0), (0, 4.0), (1, 3.0), (2, 1.0)] {
                    for (dx, wx) in [(-2i64, 1.0f32), (-1, 3.0), (0, 4.0), (1, 3.0), (2, 1.0)] {
                        let u = (x as i64 + dx).clamp(0, width as i64 - 1) as usize;
                        let v = (y as i64 + dy).clamp(0, height as i64 - 1) as usize;
                        sum += wx * wy * luma(&toned[v * width + u]);
                    }
                }
                let pixel = toned[y * width + x];
                let detail = luma(&pixel) - sum / 144.0;
                let strength = smoothstep(0.004, 0.02, f64::from(detail.abs())) as f32;
                let more = (amount * detail * (0.3 + 0.7 * strength)).clamp(-0.16, 0.16);
                pixel.map(|value| ((value + more).clamp(0.0, 1.0) * 255.0 + 0.5) as u8)
            })
        })
        .collect();
    RgbImage::from_raw(width as u32, height as u32, bytes).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_flat_grey_stays_flat_and_grey() {
        let linear = Linear {
            width: 64,
            height: 48,
            pixels: vec![[0.3; 3]; 64 * 48],
        };
        let how = Develop {
            exposure: 1.0,
            noise: 0.0,
            sharpen: 0.6,
            cast: [1.0; 3],
            seed: 1,
        };
        let image = develop(linear, &how);
        let middle = image.get_pixel(32, 24).0;
        assert!(
            middle.iter().all(|v| v.abs_diff(middle[1]) <= 1),
            "{middle:?}"
        );
        assert!((70..150).contains(&middle[1]), "{middle:?}");
        // Vignetting: the corner is darker.
        assert!(image.get_pixel(0, 0).0[1] < middle[1]);
    }
}
