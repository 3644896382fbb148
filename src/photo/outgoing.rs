//! Pictures that leave: made smaller, and written with nothing but their pixels.

use fast_image_resize::images::{Image, ImageRef};
use fast_image_resize::{FilterType, PixelType, ResizeAlg, ResizeOptions, Resizer};
use image::RgbImage;
use image::codecs::jpeg::JpegEncoder;

use super::error::PhotoError;

/// Writes a picture as JPEG without any metadata: no time, place, camera or serial number can
/// leave with it, because only pixels come in. `quality` is 1 to 100.
///
/// # Errors
/// [`PhotoError::NoJpeg`] where a side is 0 or beyond 65535 pixels.
pub fn to_jpeg(image: &RgbImage, quality: u8) -> Result<Vec<u8>, PhotoError> {
    let (width, height) = image.dimensions();
    let refused = |detail: String| PhotoError::NoJpeg {
        width,
        height,
        detail,
    };
    if width == 0 || height == 0 {
        return Err(refused("it has no pixels".to_owned()));
    }
    let mut out = Vec::new();
    JpegEncoder::new_with_quality(&mut out, quality.clamp(1, 100))
        .encode_image(image)
        .map_err(|error| refused(error.to_string()))?;
    Ok(out)
}

/// The picture with its longest side at most `longest_px` (at least 1), shape kept; never
/// enlarged.
#[must_use]
pub fn thumbnail(image: &RgbImage, longest_px: u32) -> RgbImage {
    let (width, height) = image.dimensions();
    let longest = width.max(height);
    let wanted = longest_px.max(1);
    if longest <= wanted {
        return image.clone();
    }
    let side = |length: u32| {
        let scaled =
            (u64::from(length) * u64::from(wanted) + u64::from(longest) / 2) / u64::from(longest);
        u32::try_from(scaled).unwrap_or(wanted).max(1)
    };
    shrink(image, side(width), side(height))
}

/// Resamples to a smaller size with a triangle filter as wide as the reduction asks for: no
/// aliasing, and no overshoot that could pass for a bright lip beside a crack.
pub(super) fn shrink(image: &RgbImage, width: u32, height: u32) -> RgbImage {
    let options = ResizeOptions::new().resize_alg(ResizeAlg::Convolution(FilterType::Bilinear));
    let mut out = Image::new(width, height, PixelType::U8x3);
    let done = ImageRef::new(
        image.width(),
        image.height(),
        image.as_raw(),
        PixelType::U8x3,
    )
    .ok()
    .and_then(|from| Resizer::new().resize(&from, &mut out, &options).ok())
    .and_then(|()| RgbImage::from_raw(width, height, out.into_vec()));
    // The resizer refuses nothing that an RgbImage can be; the slow way stands in all the same.
    done.unwrap_or_else(|| image::imageops::thumbnail(image, width, height))
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;

    #[test]
    fn nothing_but_pixels_leaves() {
        let image = RgbImage::from_fn(40, 30, |x, y| Rgb([x as u8 * 6, y as u8 * 8, 90]));
        let bytes = to_jpeg(&image, 90).unwrap();
        // Every segment up to the picture data: JFIF (APP0), tables, frame, scan; no APP1 to
        // APP15 (EXIF, XMP, maker data, IPTC) and no comment.
        let mut at = 2;
        let mut markers = Vec::new();
        while bytes[at + 1] != 0xDA {
            assert_eq!(bytes[at], 0xFF);
            markers.push(bytes[at + 1]);
            at += 2 + usize::from(u16::from_be_bytes([bytes[at + 2], bytes[at + 3]]));
        }
        assert!(markers.len() >= 4, "{markers:x?}");
        assert!(
            !markers.iter().any(|m| matches!(m, 0xE1..=0xEF | 0xFE)),
            "{markers:x?}"
        );
    }

    #[test]
    fn no_picture_no_jpeg() {
        let error = to_jpeg(&RgbImage::new(0, 5), 90).unwrap_err();
        assert!(error.to_string().contains("0 x 5"), "{error}");
    }

    #[test]
    fn thumbnails_keep_the_shape_and_never_grow() {
        let image = RgbImage::from_pixel(400, 300, Rgb([10, 120, 200]));
        let small = thumbnail(&image, 100);
        assert_eq!(small.dimensions(), (100, 75));
        assert!(small.pixels().all(|p| p.0 == [10, 120, 200]));
        assert_eq!(thumbnail(&image, 1000), image);
        assert_eq!(thumbnail(&RgbImage::new(1000, 1), 10).dimensions(), (10, 1));
    }
}
