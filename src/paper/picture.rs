//! Pictures for paper: cut out of a photo, turned as the board lies before the reader, with what
//! is to be ringed kept beside the pixels so that it prints sharp.

use image::codecs::jpeg::JpegEncoder;
use image::{Rgb, RgbImage};
use schemars::JsonSchema;
use serde::Serialize;

use super::error::PaperError;
use crate::geometry::PhotoPoint;

/// Unit tag of the pixels of a picture on paper; (0, 0) is the centre of the top-left pixel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum PaperPx {}

/// A point of a picture on paper.
pub(super) type PaperPoint = euclid::Point2D<f64, PaperPx>;

/// JPEG quality of pictures on paper: a slip of a hundred lines stays under some 4 MB, and
/// a ring one pixel wide in the photo still shows.
const JPEG_QUALITY: u8 = 82;

/// Most samples along one side of a pixel when a photo is made smaller: 8 covers a 12-megapixel
/// overview drawn 500 px wide; beyond it a picture may shimmer but is never wrong in place.
const MOST_SAMPLES: u32 = 8;

/// What lies outside the photo.
const OUTSIDE: Rgb<u8> = Rgb([236, 236, 236]);

/// A picture with what is to be ringed on it.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Picture {
    /// SHA-256 of the original photo; absent where it is drawn from the map.
    pub photo: Option<String>,
    /// What it shows, for those who cannot see it.
    pub alt: String,
    /// What stands under it.
    pub caption: String,
    /// Width and height in pixels.
    pub size: [u32; 2],
    /// The picture itself without any metadata, JPEG; empty where it is drawn from the map.
    #[serde(skip)]
    pub jpeg: Vec<u8>,
    /// Outlines of board and parts in picture pixels, where it is drawn from the map.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub outlines: Vec<Vec<[f64; 2]>>,
    /// What is marked on it, in picture pixels.
    pub marks: Vec<PictureMark>,
}

/// Something marked on a picture, in picture pixels; (0, 0) is the centre of the top-left pixel.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[serde(tag = "shape", rename_all = "snake_case")]
pub enum PictureMark {
    /// A ring round the place.
    Ring {
        /// Centre.
        at: [f64; 2],
        /// Radius.
        radius: f64,
    },
    /// A frame round a long place.
    Frame {
        /// Upper left corner.
        from: [f64; 2],
        /// Lower right corner.
        to: [f64; 2],
    },
    /// The dark arc that the hint drew.
    Arc {
        /// Its points in order.
        points: Vec<[f64; 2]>,
    },
}

impl Picture {
    /// With all coordinates in tenths of a pixel: finer ones differ between machines and print
    /// alike.
    pub(super) fn rounded(mut self) -> Self {
        let tenths = |at: &mut [f64; 2]| *at = at.map(tenth);
        self.outlines.iter_mut().flatten().for_each(tenths);
        for mark in &mut self.marks {
            match mark {
                PictureMark::Ring { at, radius } => {
                    tenths(at);
                    *radius = tenth(*radius);
                }
                PictureMark::Frame { from, to } => {
                    tenths(from);
                    tenths(to);
                }
                PictureMark::Arc { points } => points.iter_mut().for_each(tenths),
            }
        }
        self
    }
}

fn tenth(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

/// Takes the picture of `size` that `photo_from_paper` describes out of a photo, px of the picture
/// to px of the photo. Where the photo is finer than the picture, each pixel is the mean of the
/// photo's pixels under it; outside the photo it is light grey.
#[must_use]
pub(super) fn cut(
    photo: &RgbImage,
    photo_from_paper: impl Fn(PaperPoint) -> Option<PhotoPoint>,
    size: [u32; 2],
) -> RgbImage {
    let middle = PaperPoint::new(f64::from(size[0]) / 2.0, f64::from(size[1]) / 2.0);
    let to = |x: f64, y: f64| photo_from_paper(middle + euclid::vec2(x, y));
    let across = |x: f64, y: f64| Some((to(x, y)? - to(-x, -y)?).length());
    let scale = (across(0.5, 0.0).zip(across(0.0, 0.5))).map_or(1.0, |(x, y)| (x * y).sqrt());
    let samples = (scale.ceil().max(1.0) as u32).min(MOST_SAMPLES);
    RgbImage::from_fn(size[0], size[1], |x, y| {
        mean_under(photo, &photo_from_paper, [x, y], samples)
    })
}

fn mean_under(
    photo: &RgbImage,
    photo_from_paper: &impl Fn(PaperPoint) -> Option<PhotoPoint>,
    pixel: [u32; 2],
    samples: u32,
) -> Rgb<u8> {
    let step = |i: u32| (f64::from(i) + 0.5) / f64::from(samples) - 0.5;
    let mut sum = [0.0; 3];
    for j in 0..samples {
        for i in 0..samples {
            let at = PaperPoint::new(f64::from(pixel[0]) + step(i), f64::from(pixel[1]) + step(j));
            let colour = photo_from_paper(at)
                .and_then(|at| bilinear(photo, at))
                .unwrap_or(OUTSIDE.0.map(f64::from));
            for (total, value) in sum.iter_mut().zip(colour) {
                *total += value;
            }
        }
    }
    let count = f64::from(samples * samples);
    Rgb(sum.map(|total| (total / count).round() as u8))
}

fn bilinear(photo: &RgbImage, at: PhotoPoint) -> Option<[f64; 3]> {
    let [width, height] = [photo.width(), photo.height()].map(f64::from);
    let inside = at.x >= -0.5 && at.y >= -0.5 && at.x <= width - 0.5 && at.y <= height - 0.5;
    if !inside {
        return None;
    }
    let (x, y) = (at.x.clamp(0.0, width - 1.0), at.y.clamp(0.0, height - 1.0));
    let (left, top) = (x.floor() as u32, y.floor() as u32);
    let (right, bottom) = (
        (left + 1).min(photo.width() - 1),
        (top + 1).min(photo.height() - 1),
    );
    let (fx, fy) = (x - f64::from(left), y - f64::from(top));
    let value = |c: usize, x: u32, y: u32| f64::from(photo.get_pixel(x, y).0[c]);
    Some([0, 1, 2].map(|c| {
        let upper = value(c, left, top) * (1.0 - fx) + value(c, right, top) * fx;
        let lower = value(c, left, bottom) * (1.0 - fx) + value(c, right, bottom) * fx;
        upper * (1.0 - fy) + lower * fy
    }))
}

/// Packs a picture as JPEG with no metadata: no place, no time, no camera.
///
/// # Errors
/// [`PaperError::Picture`] where the packer fails.
pub(super) fn packed(picture: &RgbImage, photo: &str) -> Result<Vec<u8>, PaperError> {
    let mut bytes = Vec::new();
    JpegEncoder::new_with_quality(&mut bytes, JPEG_QUALITY)
        .encode_image(picture)
        .map_err(|cause| PaperError::Picture {
            photo: photo.to_owned(),
            cause,
        })?;
    Ok(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ramp() -> RgbImage {
        RgbImage::from_fn(40, 30, |x, y| Rgb([(x * 6) as u8, (y * 8) as u8, 100]))
    }

    fn at(px: f64, [left, top]: [f64; 2]) -> impl Fn(PaperPoint) -> Option<PhotoPoint> {
        move |paper| Some(PhotoPoint::new(left + px * paper.x, top + px * paper.y))
    }

    #[test]
    fn the_same_scale_copies_pixels() {
        let out = cut(&ramp(), at(1.0, [5.0, 7.0]), [10, 8]);
        assert_eq!(out.get_pixel(0, 0), ramp().get_pixel(5, 7));
        assert_eq!(out.get_pixel(9, 7), ramp().get_pixel(14, 14));
    }

    #[test]
    fn half_the_size_is_the_mean_of_four() {
        // Paper pixel 0 covers photo pixels 0 and 1: its centre is at photo 0.5.
        let out = cut(&ramp(), at(2.0, [0.5, 0.5]), [20, 15]);
        assert_eq!(out.get_pixel(3, 2).0, [39, 36, 100]);
    }

    #[test]
    fn outside_the_photo_is_grey_and_metadata_is_not_written() {
        let out = cut(&ramp(), at(1.0, [-5.0, 0.0]), [10, 8]);
        assert_eq!(*out.get_pixel(0, 0), OUTSIDE);
        let jpeg = packed(&out, "x").unwrap();
        // JPEG marker segments (ITU-T T.81, annex B): no APP1 (Exif, XMP) and no comment.
        assert_eq!(jpeg[..2], [0xff, 0xd8]);
        let markers = marker_codes(&jpeg);
        assert!(
            !markers.contains(&0xe1) && !markers.contains(&0xfe),
            "{markers:x?}"
        );
    }

    fn marker_codes(jpeg: &[u8]) -> Vec<u8> {
        let (mut at, mut found) = (2, Vec::new());
        while at + 4 <= jpeg.len() && jpeg[at] == 0xff {
            let code = jpeg[at + 1];
            found.push(code);
            if code == 0xda {
                break;
            }
            at += 2 + usize::from(u16::from_be_bytes([jpeg[at + 2], jpeg[at + 3]]));
        }
        found
    }
}
