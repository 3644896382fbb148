//! A square cut-out of a photo at any place and scale.

use image::{Rgb, RgbImage};

use crate::geometry::PhotoPoint;

/// What is shown where there is no photo: a neutral grey, so that it is neither glare nor gap.
pub const OUTSIDE: Rgb<u8> = Rgb([128, 128, 128]);

/// Largest side of a cut-out in pixels; larger requests are cut to it.
const MAX_SIDE: u32 = 8192;
/// Most samples per output pixel and axis when a large area is shown small. Above it, fine
/// detail may alias; below it, an overview of a whole photo would be slow.
const MAX_SAMPLES: u32 = 8;

/// A square of `2 * half_px` photo pixels around `centre`, drawn into `out_px` by `out_px`
/// pixels (1 to 8192).
///
/// Bilinear: an enlargement shows no edge that is not in the photo, as a sharper kernel's
/// overshoot would beside a crack. When shrinking, the samples under each output pixel are
/// averaged. Outside the photo, or all over where the request is not finite: [`OUTSIDE`].
#[must_use]
pub fn crop(image: &RgbImage, centre: PhotoPoint, half_px: f64, out_px: u32) -> RgbImage {
    let out_px = out_px.clamp(1, MAX_SIDE);
    let mut out = RgbImage::from_pixel(out_px, out_px, OUTSIDE);
    let finite = centre.x.is_finite() && centre.y.is_finite() && half_px.is_finite();
    if !finite || half_px <= 0.0 || image.width() == 0 || image.height() == 0 {
        return out;
    }
    let step = 2.0 * half_px / f64::from(out_px);
    let samples = (step.ceil().clamp(1.0, f64::from(MAX_SAMPLES))) as u32;
    let columns = taps(centre.x - half_px, step, samples, out_px, image.width());
    let rows = taps(centre.y - half_px, step, samples, out_px, image.height());
    let per_pixel = samples as usize;
    for (y, row_taps) in rows.chunks_exact(per_pixel).enumerate() {
        if row_taps.iter().all(Option::is_none) {
            continue;
        }
        for (x, column_taps) in columns.chunks_exact(per_pixel).enumerate() {
            out.put_pixel(x as u32, y as u32, mean(image, column_taps, row_taps));
        }
    }
    out
}

/// Where one sample falls along one axis: two neighbouring pixels and the weight of the second.
#[derive(Debug, Clone, Copy)]
struct Tap {
    first: u32,
    second: u32,
    weight: f32,
}

/// Samples along one axis, `samples` for each of `out_px` pixels; `None` off the photo.
fn taps(start: f64, step: f64, samples: u32, out_px: u32, length: u32) -> Vec<Option<Tap>> {
    let last = length - 1;
    let edge = f64::from(last) + 0.5;
    (0..out_px * samples)
        .map(|i| {
            let at = start + (f64::from(i) + 0.5) * step / f64::from(samples);
            if !(-0.5..=edge).contains(&at) {
                return None;
            }
            let at = at.clamp(0.0, f64::from(last));
            let first = at.floor() as u32;
            Some(Tap {
                first,
                second: (first + 1).min(last),
                weight: (at - f64::from(first)) as f32,
            })
        })
        .collect()
}

fn mean(image: &RgbImage, columns: &[Option<Tap>], rows: &[Option<Tap>]) -> Rgb<u8> {
    let mut sum = [0.0_f32; 3];
    for row in rows {
        for column in columns {
            let colour = match (row, column) {
                (Some(row), Some(column)) => bilinear(image, *column, *row),
                _ => OUTSIDE.0.map(f32::from),
            };
            for (sum, value) in sum.iter_mut().zip(colour) {
                *sum += value;
            }
        }
    }
    let count = (rows.len() * columns.len()) as f32;
    Rgb(sum.map(|sum| (sum / count).round() as u8))
}

fn bilinear(image: &RgbImage, x: Tap, y: Tap) -> [f32; 3] {
    let at = |column, row| image.get_pixel(column, row).0;
    let (a, b) = (at(x.first, y.first), at(x.second, y.first));
    let (c, d) = (at(x.first, y.second), at(x.second, y.second));
    std::array::from_fn(|i| {
        let top = f32::from(a[i]) + (f32::from(b[i]) - f32::from(a[i])) * x.weight;
        let bottom = f32::from(c[i]) + (f32::from(d[i]) - f32::from(c[i])) * x.weight;
        top + (bottom - top) * y.weight
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn ramp() -> RgbImage {
        RgbImage::from_fn(20, 16, |x, y| Rgb([x as u8 * 10, y as u8 * 10, 7]))
    }

    #[test]
    fn one_to_one_at_a_pixel_centre_copies_pixels() {
        let image = ramp();
        // Five pixels around the centre of pixel (10, 8): 8..=12 by 6..=10.
        let cut = crop(&image, PhotoPoint::new(10.0, 8.0), 2.5, 5);
        for y in 0..5 {
            for x in 0..5 {
                assert_eq!(cut.get_pixel(x, y), image.get_pixel(x + 8, y + 6));
            }
        }
    }

    #[test]
    fn half_way_is_the_mean_and_beyond_is_grey() {
        let image = ramp();
        let cut = crop(&image, PhotoPoint::new(10.5, 8.5), 0.5, 1);
        assert_eq!(cut.get_pixel(0, 0).0, [105, 85, 7]);
        let corner = crop(&image, PhotoPoint::new(-0.5, -0.5), 2.0, 4);
        assert_eq!(*corner.get_pixel(1, 1), OUTSIDE);
        assert_eq!(*corner.get_pixel(2, 1), OUTSIDE);
        assert_eq!(corner.get_pixel(2, 2).0, [0, 0, 7]);
    }

    #[test]
    fn shrinking_averages() {
        let checks = RgbImage::from_fn(64, 64, |x, y| {
            if (x + y) % 2 == 0 {
                Rgb([0; 3])
            } else {
                Rgb([200; 3])
            }
        });
        let cut = crop(&checks, PhotoPoint::new(31.5, 31.5), 32.0, 16);
        assert!(
            cut.pixels()
                .all(|p| p.0.iter().all(|v| v.abs_diff(100) <= 1))
        );
    }

    proptest! {
        #[test]
        fn any_request_gives_a_picture_of_the_size_asked(
            x in prop_oneof![-1e9..1e9_f64, Just(f64::NAN), Just(f64::INFINITY)],
            y in -50.0..50.0_f64,
            half in prop_oneof![-1.0..100.0_f64, Just(1e300), Just(f64::NAN)],
            out in 0..40_u32,
        ) {
            let cut = crop(&ramp(), PhotoPoint::new(x, y), half, out);
            prop_assert_eq!(cut.dimensions(), (out.max(1), out.max(1)));
        }
    }
}
