//! One channel of floating-point brightness.

use std::ops::Range;

use image::GrayImage;
use rayon::prelude::*;

use crate::wide::widest;

/// A grey picture with values 0..=1; (0, 0) is the centre of the top-left pixel.
#[derive(Debug, Clone, PartialEq)]
pub struct Plane {
    width: usize,
    height: usize,
    values: Vec<f32>,
}

impl Plane {
    /// From rows of values; `None` where the count is not width times height or is nothing.
    #[must_use]
    pub fn from_values(width: usize, height: usize, values: Vec<f32>) -> Option<Self> {
        let full = width > 0 && height > 0 && width.checked_mul(height) == Some(values.len());
        full.then_some(Self {
            width,
            height,
            values,
        })
    }

    /// From an 8-bit picture.
    #[must_use]
    pub fn from_gray(gray: &GrayImage) -> Self {
        Self {
            width: gray.width() as usize,
            height: gray.height() as usize,
            values: gray
                .as_raw()
                .iter()
                .map(|v| f32::from(*v) / 255.0)
                .collect(),
        }
    }

    /// Width in pixels.
    #[must_use]
    pub fn width(&self) -> usize {
        self.width
    }

    /// Height in pixels.
    #[must_use]
    pub fn height(&self) -> usize {
        self.height
    }

    /// The values, rows first.
    #[must_use]
    pub fn values(&self) -> &[f32] {
        &self.values
    }

    /// The value of a pixel; outside, that of the nearest edge pixel.
    #[must_use]
    pub fn at(&self, x: isize, y: isize) -> f32 {
        let x = x.clamp(0, self.width as isize - 1) as usize;
        let y = y.clamp(0, self.height as isize - 1) as usize;
        self.values[y * self.width + x]
    }

    /// Bilinear value at a point, or `None` outside the pixel centres.
    #[must_use]
    pub fn sample(&self, x: f64, y: f64) -> Option<f32> {
        let inside =
            x >= 0.0 && y >= 0.0 && x <= (self.width - 1) as f64 && y <= (self.height - 1) as f64;
        if !inside {
            return None;
        }
        let (left, top) = (x as usize, y as usize);
        let (fx, fy) = ((x - left as f64) as f32, (y - top as f64) as f32);
        let right = (left + 1).min(self.width - 1);
        let below = (top + 1).min(self.height - 1);
        let v = |x: usize, y: usize| self.values[y * self.width + x];
        let upper = v(left, top) * (1.0 - fx) + v(right, top) * fx;
        let lower = v(left, below) * (1.0 - fx) + v(right, below) * fx;
        Some(upper * (1.0 - fy) + lower * fy)
    }

    /// Every second pixel of every second row.
    #[must_use]
    pub(super) fn decimate(&self) -> Self {
        let (width, height) = (self.width.div_ceil(2), self.height.div_ceil(2));
        let mut values = Vec::with_capacity(width * height);
        for row in self.values.chunks(self.width).step_by(2) {
            values.extend(row.iter().step_by(2));
        }
        Self {
            width,
            height,
            values,
        }
    }

    /// Mean of each 2 x 2 block; odd last rows and columns are left out. Pixel (x, y) of the
    /// result has its centre at (2 x + 0.5, 2 y + 0.5) of this plane.
    #[must_use]
    pub fn halve(&self) -> Self {
        let (width, height) = ((self.width / 2).max(1), (self.height / 2).max(1));
        let mut values = Vec::with_capacity(width * height);
        for y in 0..height {
            for x in 0..width {
                let at = |dx, dy| self.at((2 * x + dx) as isize, (2 * y + dy) as isize);
                values.push((at(0, 0) + at(1, 0) + at(0, 1) + at(1, 1)) / 4.0);
            }
        }
        Self {
            width,
            height,
            values,
        }
    }

    /// Gaussian blur; the edge pixels are repeated outwards.
    #[must_use]
    pub fn blur(&self, sigma: f32) -> Self {
        let kernel = gaussian(sigma);
        let radius = kernel.len() - 1;
        let width = self.width;
        let mut across = vec![0.0f32; self.values.len()];
        across
            .par_chunks_mut(width)
            .zip(self.values.par_chunks(width))
            .for_each_init(
                || vec![0.0f32; width + 2 * radius],
                |padded, (out, row)| {
                    padded[..radius].fill(row[0]);
                    padded[radius..radius + width].copy_from_slice(row);
                    padded[radius + width..].fill(row[width - 1]);
                    let middle = &padded[radius..radius + width];
                    let pairs = |k: usize| {
                        let before = &padded[radius - k..radius - k + width];
                        (before, &padded[radius + k..radius + k + width])
                    };
                    weigh(out, middle, &kernel, pairs);
                },
            );
        let mut values = vec![0.0f32; self.values.len()];
        let row = |y: isize| {
            let y = y.clamp(0, self.height as isize - 1) as usize;
            &across[y * width..(y + 1) * width]
        };
        values
            .par_chunks_mut(width)
            .enumerate()
            .for_each(|(y, out)| {
                let y = y as isize;
                let pairs = |k: usize| (row(y - k as isize), row(y + k as isize));
                weigh(out, row(y), &kernel, pairs);
            });
        Self {
            width,
            height: self.height,
            values,
        }
    }

    /// These `rows` of this less those of `other`, pixel by pixel; both have one size.
    pub(super) fn less(&self, other: &Self, rows: Range<usize>) -> Self {
        let here = rows.start * self.width..rows.end * self.width;
        let values = (self.values[here.clone()].iter())
            .zip(&other.values[here])
            .map(|(a, b)| a - b);
        Self {
            width: self.width,
            height: rows.len(),
            values: values.collect(),
        }
    }
}

/// One row of a blur: the middle and, `k` px to either side of it, the `pairs` of rows.
fn weigh<'a>(
    out: &mut [f32],
    middle: &[f32],
    kernel: &[f32],
    pairs: impl Fn(usize) -> (&'a [f32], &'a [f32]),
) {
    widest(
        #[inline(always)]
        || {
            for (o, v) in out.iter_mut().zip(middle) {
                *o = v * kernel[0];
            }
            for (k, weight) in kernel.iter().enumerate().skip(1) {
                let (before, after) = pairs(k);
                for ((o, b), a) in out.iter_mut().zip(before).zip(after) {
                    *o += (b + a) * weight;
                }
            }
        },
    );
}

/// Half a Gaussian kernel, centre first, whole kernel summing to 1; cut at 3 sigma.
fn gaussian(sigma: f32) -> Vec<f32> {
    let radius = (3.0 * sigma).ceil().max(1.0) as usize;
    let mut half: Vec<f32> = (0..=radius)
        .map(|k| (-((k * k) as f32) / (2.0 * sigma * sigma)).exp())
        .collect();
    let sum = half[0] + 2.0 * half[1..].iter().sum::<f32>();
    for weight in &mut half {
        *weight /= sum;
    }
    half
}
