//! Cutting a twin out: through both alignments, so that the same board point falls on the same
//! pixel.

use image::{Rgb, RgbImage};

use super::sources::Source;
use crate::geometry::{BackProjection, BoardPoint, PhotoPoint, Projection};
use crate::photo::OUTSIDE;

/// Most samples per pixel and axis where a photo is finer than the glass: above it, grain could
/// alias; below it, a cut-out of a very fine photo would be slow.
const MOST_SAMPLES: u32 = 4;

/// How the photo on the table shows the joint: twins are turned the same way.
#[derive(Debug, Clone)]
pub(super) struct Frame {
    board_from_photo: BackProjection,
    centre: PhotoPoint,
    px_per_mm: f64,
    at: BoardPoint,
}

impl Frame {
    /// `None` where the photo does not show the joint.
    pub(super) fn new(projection: &Projection, at: BoardPoint) -> Option<Self> {
        Some(Self {
            board_from_photo: projection.back().ok()?,
            centre: projection.apply(at)?,
            px_per_mm: projection
                .scale_at(at)
                .filter(|s| s.is_finite() && *s > 0.0)?,
            at,
        })
    }

    /// Where the joint is on the table's photo, for telling one cut-out from another.
    pub(super) fn place(&self) -> [u64; 2] {
        [self.centre.x.to_bits(), self.centre.y.to_bits()]
    }

    /// Where a place of the cut-out, in mm right of and below its middle, lies on the twin's photo.
    fn on(&self, source: &Source, right_mm: f64, down_mm: f64) -> Option<PhotoPoint> {
        let there = PhotoPoint::new(
            self.centre.x + right_mm * self.px_per_mm,
            self.centre.y + down_mm * self.px_per_mm,
        );
        let board = self.board_from_photo.apply(there)?;
        // The other unit's map may have the pin elsewhere: what counts is the joint's middle.
        source.projection.apply(board + (source.at - self.at))
    }
}

/// A square of `side` pixels that shows `half_mm` to each side of the joint; grey where the
/// photo ends.
pub(super) fn cut(
    image: &RgbImage,
    source: &Source,
    frame: &Frame,
    half_mm: f64,
    side: u32,
) -> RgbImage {
    let step = 2.0 * half_mm / f64::from(side);
    let samples = (source.px_per_mm * step)
        .ceil()
        .clamp(1.0, f64::from(MOST_SAMPLES)) as u32;
    let n = f64::from(samples);
    RgbImage::from_fn(side, side, |x, y| {
        let mut sum = [0.0_f64; 3];
        for j in 0..samples {
            for i in 0..samples {
                let along = |pixel: u32, k: u32| {
                    (f64::from(pixel) + (f64::from(k) + 0.5) / n) * step - half_mm
                };
                let colour = frame
                    .on(source, along(x, i), along(y, j))
                    .and_then(|at| bilinear(image, at))
                    .unwrap_or(OUTSIDE.0.map(f64::from));
                for (sum, value) in sum.iter_mut().zip(colour) {
                    *sum += value;
                }
            }
        }
        Rgb(sum.map(|value| (value / (n * n)).round() as u8))
    })
}

fn bilinear(image: &RgbImage, at: PhotoPoint) -> Option<[f64; 3]> {
    let (width, height) = (f64::from(image.width()), f64::from(image.height()));
    let inside = (-0.5..=width - 0.5).contains(&at.x) && (-0.5..=height - 0.5).contains(&at.y);
    if !inside {
        return None;
    }
    let (x, y) = (at.x.clamp(0.0, width - 1.0), at.y.clamp(0.0, height - 1.0));
    let (x0, y0) = (x.floor(), y.floor());
    let pixel = |column: f64, row: f64| {
        let column = (column.min(width - 1.0)) as u32;
        let row = (row.min(height - 1.0)) as u32;
        image.get_pixel(column, row).0.map(f64::from)
    };
    let (a, b) = (pixel(x0, y0), pixel(x0 + 1.0, y0));
    let (c, d) = (pixel(x0, y0 + 1.0), pixel(x0 + 1.0, y0 + 1.0));
    let (u, v) = (x - x0, y - y0);
    Some(std::array::from_fn(|i| {
        let top = a[i] + (b[i] - a[i]) * u;
        let bottom = c[i] + (d[i] - c[i]) * u;
        top + (bottom - top) * v
    }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::{Homography, Lens};
    use std::path::PathBuf;

    fn transform(rows: [[f64; 3]; 3], k: f64) -> Projection {
        Projection {
            photo_from_board: Homography::from_rows(rows).expect("a transform"),
            lens: Some(Lens::new([1000, 1000], k).expect("a lens")),
        }
    }

    /// A photo in which the colour tells the board point: red 10 x mm, green 10 y mm.
    fn photo(of: &Projection, size: [u32; 2]) -> RgbImage {
        let board = of.back().expect("invertible");
        RgbImage::from_fn(size[0], size[1], |x, y| {
            let at = board
                .apply(PhotoPoint::new(f64::from(x), f64::from(y)))
                .expect("in front");
            Rgb([
                (at.x * 10.0).clamp(0.0, 255.0) as u8,
                (at.y * 10.0).clamp(0.0, 255.0) as u8,
                0,
            ])
        })
    }

    /// Whatever the twin's scale, turn, tilt and lens: each pixel of the cut-out shows the board point
    /// that the photo on the table has there.
    #[test]
    fn a_twin_shows_the_same_board_point_at_the_same_pixel() {
        let at = BoardPoint::new(10.0, 12.0);
        // Solder side, 20 px/mm, upright.
        let table = transform(
            [[20.0, 0.0, 30.0], [0.0, -20.0, 500.0], [0.0, 0.0, 1.0]],
            -0.04,
        );
        let frame = Frame::new(&table, at).expect("shown");
        let twins = [
            // Turned by a quarter, 45 px/mm.
            [[0.0, -45.0, 900.0], [-45.0, 0.0, 900.0], [0.0, 0.0, 1.0]],
            // Tilted, 12 px/mm or so.
            [[12.0, 1.0, 60.0], [-0.5, -12.0, 300.0], [0.002, 0.001, 1.0]],
        ];
        for rows in twins {
            let projection = transform(rows, 0.05);
            let image = photo(&projection, [1000, 1000]);
            let source = Source {
                path: PathBuf::new(),
                photo: String::new(),
                name: String::new(),
                unit: None,
                taken: None,
                px_per_mm: projection.scale_at(at).expect("shown"),
                projection,
                at,
            };
            let cut = cut(&image, &source, &frame, 2.0, 100);
            for (x, y) in [(50, 50), (10, 80), (99, 0)] {
                let off = |v: u32| (f64::from(v) + 0.5) * 0.04 - 2.0;
                // The table's photo has y downwards.
                let middle = table.apply(at).expect("shown");
                let there = middle + euclid::vec2(off(x), off(y)) * frame.px_per_mm;
                let board = table.back().map(|back| back.apply(there));
                let board = board.expect("invertible").expect("in front");
                let wanted = [10.0 * board.x, 10.0 * board.y];
                let got = cut.get_pixel(x, y).0;
                for i in 0..2 {
                    let error = f64::from(got[i]) - wanted[i];
                    assert!(error.abs() < 1.6, "{rows:?} {x},{y}: {got:?} {wanted:?}");
                }
            }
        }
    }

    #[test]
    fn beyond_the_photo_there_is_grey() {
        let table = transform(
            [[20.0, 0.0, 30.0], [0.0, -20.0, 500.0], [0.0, 0.0, 1.0]],
            0.0,
        );
        let at = BoardPoint::new(-1.4, 12.0);
        let frame = Frame::new(&table, at).expect("shown");
        let source = Source {
            path: PathBuf::new(),
            photo: String::new(),
            name: String::new(),
            unit: None,
            taken: None,
            px_per_mm: 20.0,
            projection: table,
            at,
        };
        let cut = cut(&RgbImage::new(600, 600), &source, &frame, 2.0, 40);
        assert_eq!(cut.get_pixel(0, 20), &OUTSIDE);
        assert_eq!(cut.get_pixel(39, 20).0, [0, 0, 0]);
    }
}
