//! A photo, or a piece of it, at a working size.

use euclid::{Box2D, Point2D};
use fast_image_resize::images::{Image as Pixels, ImageRef};
use fast_image_resize::{PixelType, ResizeAlg, ResizeOptions, Resizer};
use image::GrayImage;

use crate::align::refusal::{Refusal, RefusalKind as Kind};
use crate::geometry::{Homography, HomographyError, PhotoA, PhotoB};
use crate::register::Plane;

/// From the reference's pixels to the photo's.
pub(super) type AtoB = Homography<PhotoA, PhotoB>;

/// A piece of a photo at a working size.
#[derive(Debug)]
pub(super) struct View {
    pub(super) plane: Plane,
    /// The same with 8 bits.
    pub(super) gray: GrayImage,
    /// Working pixels per full-size pixel, across and down: sizes are whole numbers.
    factor: [f64; 2],
    /// Left and upper edge of the piece in the photo, px.
    corner: [f64; 2],
}

impl View {
    /// The piece `[left, top, width, height]` of the photo, `factor` times as large (at most 1).
    fn piece(
        gray: &GrayImage,
        [left, top, width, height]: [u32; 4],
        factor: f64,
    ) -> Result<Self, Refusal> {
        let corner = [f64::from(left), f64::from(top)];
        let broken = |error: &dyn std::fmt::Display| {
            Refusal::new(
                Kind::NoDetail,
                format!("the photo could not be made smaller: {error}"),
                "open it in a picture editor and save it again",
            )
        };
        if factor >= 0.99 {
            let piece = image::imageops::crop_imm(gray, left, top, width, height).to_image();
            return Ok(Self {
                plane: Plane::from_gray(&piece),
                gray: piece,
                factor: [1.0, 1.0],
                corner,
            });
        }
        let size = |v: u32| (f64::from(v) * factor).round().max(1.0) as u32;
        let source = ImageRef::new(gray.width(), gray.height(), gray.as_raw(), PixelType::U8)
            .map_err(|e| broken(&e))?;
        let mut target = Pixels::new(size(width), size(height), PixelType::U8);
        let options = ResizeOptions::new()
            .resize_alg(ResizeAlg::Convolution(fast_image_resize::FilterType::Box))
            .crop(corner[0], corner[1], f64::from(width), f64::from(height));
        Resizer::new()
            .resize(&source, &mut target, &options)
            .map_err(|e| broken(&e))?;
        let small = GrayImage::from_raw(size(width), size(height), target.into_vec())
            .ok_or_else(|| broken(&"size"))?;
        Ok(Self {
            factor: [
                f64::from(small.width()) / f64::from(width),
                f64::from(small.height()) / f64::from(height),
            ],
            plane: Plane::from_gray(&small),
            gray: small,
            corner,
        })
    }

    /// The view of the whole photo mirrored left for right.
    pub(super) fn mirrored(&self) -> Self {
        let gray = image::imageops::flip_horizontal(&self.gray);
        Self {
            plane: Plane::from_gray(&gray),
            gray,
            factor: self.factor,
            corner: self.corner,
        }
    }

    /// Working pixels per full-size pixel.
    pub(super) fn scale(&self) -> f64 {
        (self.factor[0] * self.factor[1]).sqrt()
    }

    /// Working pixel to full-size pixel.
    pub(super) fn outward<S>(&self, at: Point2D<f64, S>) -> Point2D<f64, S> {
        let out = |v: f64, f: f64, c: f64| (v + 0.5) / f - 0.5 + c;
        let ([fx, fy], [cx, cy]) = (self.factor, self.corner);
        Point2D::new(out(at.x, fx, cx), out(at.y, fy, cy))
    }

    /// Full-size pixel to working pixel: centres at whole numbers.
    fn inward<S>(&self) -> Result<Homography<S, S>, HomographyError> {
        let [fx, fy] = self.factor;
        let shift = |f: f64, c: f64| (0.5 - c) * f - 0.5;
        Homography::from_rows([
            [fx, 0.0, shift(fx, self.corner[0])],
            [0.0, fy, shift(fy, self.corner[1])],
            [0.0, 0.0, 1.0],
        ])
    }
}

/// A fit between full-size photos as one between working sizes.
pub(super) fn inward(fit: &AtoB, a: &View, b: &View) -> Result<AtoB, HomographyError> {
    (a.inward::<PhotoA>()?.inverse()?)
        .then(fit)?
        .then(&b.inward()?)
}

/// A fit between working sizes as one between full-size photos.
pub(super) fn outward(fit: &AtoB, a: &View, b: &View) -> Result<AtoB, HomographyError> {
    a.inward()?
        .then(fit)?
        .then(&b.inward::<PhotoB>()?.inverse()?)
}

/// Greatest distance between two fits at the four places that lie at these two `shares` of a
/// picture of this size across and down, px of the second picture.
pub(super) fn apart(
    one: &AtoB,
    other: &AtoB,
    (width, height): (u32, u32),
    shares: [f64; 2],
) -> f64 {
    let places = shares.iter().flat_map(|v| shares.map(|u| (u, *v)));
    places
        .map(|(u, v)| {
            let at = Point2D::new(u * f64::from(width), v * f64::from(height));
            (one.apply(at).zip(other.apply(at))).map_or(f64::INFINITY, |(p, q)| (p - q).length())
        })
        .fold(0.0, f64::max)
}

/// A photo, and the box of it that may be matched, px.
#[derive(Clone, Copy)]
pub(super) struct Shown<'a> {
    gray: &'a GrayImage,
    /// Left, upper, right and lower edge; the last two do not belong to it.
    part: [u32; 4],
}

impl<'a> Shown<'a> {
    pub(super) fn whole(gray: &'a GrayImage) -> Self {
        Self::part(gray, [0, 0, gray.width(), gray.height()])
    }

    pub(super) fn part(gray: &'a GrayImage, part: [u32; 4]) -> Self {
        Self { gray, part }
    }

    /// At no more than `pixels`.
    pub(super) fn view(&self, pixels: f64) -> Result<View, Refusal> {
        let [left, top, right, bottom] = self.part;
        let (width, height) = (right - left, bottom - top);
        let factor = (pixels / (f64::from(width) * f64::from(height))).sqrt();
        View::piece(self.gray, [left, top, width, height], factor)
    }

    /// Width and height of the whole photo, px.
    pub(super) fn whole_size(&self) -> (u32, u32) {
        self.gray.dimensions()
    }

    /// Width and height of the box, px.
    pub(super) fn size(&self) -> (u32, u32) {
        let [left, top, right, bottom] = self.part;
        (right - left, bottom - top)
    }

    fn has<S>(&self, at: Point2D<f64, S>) -> bool {
        let [left, top, right, bottom] = self.part.map(f64::from);
        (left..=right - 1.0).contains(&at.x) && (top..=bottom - 1.0).contains(&at.y)
    }

    /// Places spread over it from edge to edge, [`GRID`] steps each way.
    fn grid<S>(&self) -> impl Iterator<Item = Point2D<f64, S>> {
        let [left, top, right, bottom] = self.part;
        let along = |k: u32, from: u32, to: u32| {
            f64::from(from) + f64::from(k) * f64::from(to - 1 - from) / f64::from(GRID)
        };
        (0..=GRID).flat_map(move |row| {
            (0..=GRID).map(move |column| {
                Point2D::new(along(column, left, right), along(row, top, bottom))
            })
        })
    }

    /// The box of whole pixels that holds `piece`: left, top, width, height.
    fn whole_pixels<S>(&self, piece: &Box2D<f64, S>) -> [u32; 4] {
        let [left, top, right, bottom] = self.part;
        let low = |v: f64, least: u32| (v.floor().max(0.0) as u32).max(least);
        let reach = |v: f64, most: u32| (v.ceil().max(0.0) as u32 + 1).min(most);
        let (x, y) = (low(piece.min.x, left), low(piece.min.y, top));
        [
            x,
            y,
            reach(piece.max.x, right) - x,
            reach(piece.max.y, bottom) - y,
        ]
    }
}

/// Points per axis at which the overlap is looked for.
const GRID: u32 = 48;

/// A piece narrower than this, px, is no overlap.
const LEAST_EDGE: f64 = 48.0;

/// How much of one photo the other shows under `fit`, 0..=1: the greater of the two shares, as a
/// close-up lies in the other whole.
pub(super) fn shared(a: Shown, b: Shown, fit: &AtoB) -> f64 {
    let Ok(back) = fit.inverse() else {
        return 0.0;
    };
    fn share<S, D>(from: Shown, to: Shown, fit: &Homography<S, D>) -> f64 {
        let inside = |at: &Point2D<f64, S>| fit.apply(*at).is_some_and(|at| to.has(at));
        from.grid().filter(inside).count() as f64 / f64::from((GRID + 1) * (GRID + 1))
    }
    share(a, b, fit).max(share(b, a, &back))
}

/// What both photos show under `fit`, at one scale and at most `pixels` each. `None` where they
/// hardly overlap.
fn overlap(a: Shown, b: Shown, fit: &AtoB, pixels: f64) -> Option<Result<(View, View), Refusal>> {
    // A close-up lies between the points of one: its own count too.
    let back = fit.inverse().ok()?;
    let forth = a
        .grid()
        .filter_map(|from| Some((from, fit.apply(from).filter(|to| b.has(*to))?)));
    let back = b
        .grid()
        .filter_map(|to| Some((back.apply(to).filter(|from| a.has(*from))?, to)));
    let both: Vec<_> = forth.chain(back).collect();
    let piece_a = Box2D::from_points(both.iter().map(|(from, _)| *from));
    let piece_b = Box2D::from_points(both.iter().map(|(_, to)| *to));
    if piece_a.width().min(piece_a.height()) < LEAST_EDGE
        || piece_b.width().min(piece_b.height()) < LEAST_EDGE
    {
        return None;
    }
    let zoom = fit.scale_at(piece_a.center())?;
    // One scale for both: the finer one is made smaller.
    let (mut scale_a, mut scale_b) = (zoom.min(1.0), (1.0 / zoom).min(1.0));
    let area = piece_a.area() * scale_a * scale_a;
    let shrink = (pixels / area).sqrt().min(1.0);
    (scale_a, scale_b) = (scale_a * shrink, scale_b * shrink);
    let views = || -> Result<(View, View), Refusal> {
        let (first, second) = rayon::join(
            || View::piece(a.gray, a.whole_pixels(&piece_a), scale_a),
            || View::piece(b.gray, b.whole_pixels(&piece_b), scale_b),
        );
        Ok((first?, second?))
    };
    Some(views())
}

/// What both photos show under a fit.
pub(super) struct Both {
    pub(super) a: View,
    pub(super) b: View,
}

impl Both {
    /// At one scale and at most `pixels` each. `None` where they hardly overlap.
    pub(super) fn under(a: Shown, b: Shown, fit: &AtoB, pixels: f64) -> Option<Self> {
        let (a, b) = overlap(a, b, fit, pixels)?.ok()?;
        Some(Self { a, b })
    }
}
