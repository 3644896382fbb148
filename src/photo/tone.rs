//! Tone: from whatever a file holds to 8-bit RGB, to grey, and to linear light.

use std::sync::LazyLock;

use image::{DynamicImage, GrayImage, ImageBuffer, Luma, RgbImage};
use rayon::prelude::*;

/// An image of linear luminance, one `f32` per pixel, 0 black to 1 white.
pub type LinearImage = ImageBuffer<Luma<f32>, Vec<f32>>;

/// Weights of red, green and blue in luminance (ITU-R BT.709, the primaries of sRGB).
const BT709: [f32; 3] = [0.2126, 0.7152, 0.0722];
/// The same in ten-thousandths, for whole-number arithmetic.
const BT709_E4: [u32; 3] = [2126, 7152, 722];
/// Pixels that one thread turns grey at a time.
const PART: usize = 1 << 16;
/// Grey behind transparent places: neither a highlight nor a shadow.
const BEHIND: u32 = 128;

static LINEAR: LazyLock<[f32; 256]> =
    LazyLock::new(|| std::array::from_fn(|code| linear_of(code as f64 / 255.0) as f32));

/// IEC 61966-2-1: the light that an sRGB value stands for, both 0..1.
fn linear_of(value: f64) -> f64 {
    if value <= 0.04045 {
        value / 12.92
    } else {
        ((value + 0.055) / 1.055).powf(2.4)
    }
}

/// Linear light, 0..1, of an 8-bit sRGB value (IEC 61966-2-1).
#[must_use]
pub fn linear_of_srgb(code: u8) -> f32 {
    LINEAR[usize::from(code)]
}

/// Grey as seen on screen: BT.709 weights on the sRGB values, rounded to nearest.
#[must_use]
pub fn grey(image: &RgbImage) -> GrayImage {
    let mut out = GrayImage::new(image.width(), image.height());
    let rows = out
        .par_chunks_mut(PART)
        .zip(image.as_raw().par_chunks(3 * PART));
    rows.for_each(|(to, from)| {
        for (to, from) in to.iter_mut().zip(from.chunks_exact(3)) {
            let sum = BT709_E4[0] * u32::from(from[0])
                + BT709_E4[1] * u32::from(from[1])
                + BT709_E4[2] * u32::from(from[2]);
            *to = u8::try_from((sum + 5000) / 10_000).unwrap_or(u8::MAX);
        }
    });
    out
}

/// Luminance in linear light, 0..1: BT.709 weights on linearised values.
#[must_use]
pub fn linear_luminance(image: &RgbImage) -> LinearImage {
    let table = &*LINEAR;
    let mut out = LinearImage::new(image.width(), image.height());
    for (to, from) in out.iter_mut().zip(image.as_raw().chunks_exact(3)) {
        *to = BT709[0] * table[usize::from(from[0])]
            + BT709[1] * table[usize::from(from[1])]
            + BT709[2] * table[usize::from(from[2])];
    }
    out
}

/// Any decoded picture as 8-bit RGB, and whether some of it was transparent.
pub(super) fn flatten(image: DynamicImage) -> (RgbImage, bool) {
    if !image.color().has_alpha() {
        return (image.into_rgb8(), false);
    }
    let rgba = image.into_rgba8();
    let mut transparent = false;
    let mut out = RgbImage::new(rgba.width(), rgba.height());
    for (to, from) in out
        .as_mut()
        .chunks_exact_mut(3)
        .zip(rgba.as_raw().chunks_exact(4))
    {
        let alpha = u32::from(from[3]);
        transparent |= alpha < 255;
        for (to, &from) in to.iter_mut().zip(&from[..3]) {
            let sum = u32::from(from) * alpha + BEHIND * (255 - alpha);
            *to = u8::try_from((sum + 127) / 255).unwrap_or(u8::MAX);
        }
    }
    (out, transparent)
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::{Rgb, RgbaImage};

    #[test]
    fn srgb_check_values() {
        // IEC 61966-2-1's formula (from memory), values computed independently.
        for (code, linear) in [
            (0, 0.0),
            (10, 0.003_035_27),
            (11, 0.003_346_54),
            (128, 0.215_860_50),
            (188, 0.502_886_46),
            (255, 1.0),
        ] {
            let got = f64::from(linear_of_srgb(code));
            assert!((got - linear).abs() < 1e-7, "{code}: {got}");
        }
    }

    #[test]
    fn grey_keeps_neutral_values_and_weighs_colours() {
        let mut image = RgbImage::new(256, 1);
        for x in 0..256 {
            let v = u8::try_from(x).unwrap();
            image.put_pixel(x, 0, Rgb([v, v, v]));
        }
        let neutral = grey(&image);
        assert!((0..256).all(|x| u32::from(neutral.get_pixel(x, 0)[0]) == x));
        let green = RgbImage::from_pixel(1, 1, Rgb([0, 255, 0]));
        assert_eq!(grey(&green).get_pixel(0, 0)[0], 182); // 0.7152 * 255 = 182.4
        assert!((linear_luminance(&green).get_pixel(0, 0)[0] - 0.7152).abs() < 1e-6);
    }

    #[test]
    fn transparency_shows_grey_and_is_said() {
        let clear = RgbaImage::from_raw(2, 1, vec![255, 0, 0, 0, 10, 20, 30, 255]).unwrap();
        let (flat, transparent) = flatten(DynamicImage::ImageRgba8(clear));
        assert!(transparent);
        assert_eq!(flat.as_raw(), &[128, 128, 128, 10, 20, 30]);
    }
}
