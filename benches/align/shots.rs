//! Photographs with named places in them, and the looks that cases are made of.

use std::collections::BTreeMap;
use std::path::Path;

use benchglass::geometry::{Homography, PhotoA, PhotoB, fit_homography};
use benchglass::register::Plane;
use euclid::Point2D;
use image::imageops::FilterType;
use image::{GrayImage, ImageDecoder as _, Luma};
use rand::RngExt as _;
use rand_chacha::ChaCha8Rng;

/// A photo with named places in it.
pub(super) struct Shot {
    pub(super) face: String,
    pub(super) unit: String,
    pub(super) overview: bool,
    pub(super) image: GrayImage,
    pub(super) points: BTreeMap<String, [f64; 2]>,
}

/// From one shot's pixels to another's.
pub(super) type AtoB = Homography<PhotoA, PhotoB>;

#[derive(serde::Deserialize)]
struct Truth {
    unit: String,
    photos: Vec<TruePhoto>,
}

#[derive(serde::Deserialize)]
struct TruePhoto {
    file: String,
    board: String,
    side: String,
    joints: Vec<TrueJoint>,
}

#[derive(serde::Deserialize)]
struct TrueJoint {
    joint: String,
    at_px: [f64; 2],
    covered: bool,
}

/// The photo as its camera held it: points are in upright pixels.
fn upright(path: &Path) -> GrayImage {
    let reader = image::ImageReader::open(path).expect("photo");
    let mut decoder = reader.into_decoder().expect("photo");
    let orientation = decoder.orientation().expect("photo");
    let mut image = image::DynamicImage::from_decoder(decoder).expect("photo");
    image.apply_orientation(orientation);
    image.to_luma8()
}

/// The picture at no more than `pixels`, and its size as a share of the given one's.
fn smaller(image: &GrayImage, pixels: f64) -> (GrayImage, f64) {
    let all = f64::from(image.width()) * f64::from(image.height());
    let factor = (pixels / all).sqrt().min(1.0);
    let size = |v: u32| (f64::from(v) * factor).round() as u32;
    let (width, height) = (size(image.width()), size(image.height()));
    (
        image::imageops::resize(image, width, height, FilterType::Triangle),
        factor,
    )
}

fn moved(at: [f64; 2], factor: f64) -> [f64; 2] {
    at.map(|v| (v + 0.5) * factor - 0.5)
}

impl Shot {
    /// The same at no more than `pixels`.
    pub(super) fn smaller(&self, pixels: f64) -> Self {
        let (image, factor) = smaller(&self.image, pixels);
        let points = (self.points.iter())
            .map(|(name, at)| (name.clone(), moved(*at, factor)))
            .collect();
        Self {
            face: self.face.clone(),
            unit: self.unit.clone(),
            overview: self.overview,
            image,
            points,
        }
    }

    /// The flat view that the named places of both determine.
    pub(super) fn to(&self, other: &Self) -> Option<AtoB> {
        let (from, to): (Vec<_>, Vec<_>) = (self.points.iter())
            .filter_map(|(name, p)| {
                Some((Point2D::from(*p), Point2D::from(*other.points.get(name)?)))
            })
            .unzip();
        fit_homography(&from, &to, None).ok()
    }

    pub(super) fn size(&self) -> [f64; 2] {
        [self.image.width(), self.image.height()].map(f64::from)
    }
}

/// The sample boards' photographs at full size.
pub(super) fn samples(folder: &Path) -> Vec<Shot> {
    let mut files: Vec<_> = std::fs::read_dir(folder.join("truth"))
        .expect("truth/")
        .map(|entry| entry.expect("truth/").path())
        .collect();
    files.sort();
    let mut shots = Vec::new();
    for file in files {
        let text = std::fs::read_to_string(&file).expect("truth");
        let truth: Truth = serde_json::from_str(&text).expect("truth");
        for photo in truth.photos {
            let points = (photo.joints.iter())
                .filter(|j| !j.covered)
                .map(|j| (j.joint.clone(), j.at_px))
                .collect();
            shots.push(Shot {
                face: format!("{} {}", photo.board, photo.side),
                unit: truth.unit.clone(),
                overview: photo.file.contains("overview"),
                image: upright(&folder.join(&photo.file)),
                points,
            });
        }
    }
    shots
}

/// Real pairs at full size: `a` and `b` of one are two shots of a face of its own.
pub(super) fn real(folder: &Path) -> Vec<Shot> {
    let text = std::fs::read_to_string(folder.join("pairs.json")).expect("pairs.json");
    let pairs: super::Pairs = serde_json::from_str(&text).expect("pairs.json");
    let mut shots = Vec::new();
    for pair in pairs.pairs {
        for (unit, file, at) in [
            ("a", &pair.a, &pair.points_a),
            ("b", &pair.b, &pair.points_b),
        ] {
            let points = (at.iter().enumerate())
                .map(|(i, p)| (i.to_string(), *p))
                .collect();
            shots.push(Shot {
                face: pair.name.clone(),
                unit: unit.to_owned(),
                overview: true,
                image: upright(&folder.join(file)),
                points,
            });
        }
    }
    shots
}

/// `shot` as another camera has it under another lamp.
pub(super) fn another_look(shot: &Shot, rng: &mut ChaCha8Rng) -> Shot {
    let [width, height] = shot.size();
    let turn = rng.random_range(0.0..std::f64::consts::TAU);
    let scale = rng.random_range(0.55..1.0);
    let side = width.hypot(height) * scale;
    let middle = [width / 2.0, height / 2.0];
    let tilt = |rng: &mut ChaCha8Rng| rng.random_range(-0.12..0.12) / width;
    let tilt = [tilt(rng), tilt(rng)];
    let look = look(middle, turn, scale, tilt, [side / 2.0, side / 2.0]);
    seen(shot, &look, [side as u32, side as u32], 4, rng)
}

/// Turns by `turn` radians and scales about `middle`, which comes to lie at `at` but for the tilt.
pub(super) fn look(middle: [f64; 2], turn: f64, scale: f64, tilt: [f64; 2], at: [f64; 2]) -> AtoB {
    let (s, c) = (turn.sin() * scale, turn.cos() * scale);
    let [x, y] = middle;
    Homography::from_rows([
        [c, -s, at[0] - c * x + s * y],
        [s, c, at[1] - s * x - c * y],
        [tilt[0], tilt[1], 1.0],
    ])
    .expect("a view")
}

/// `shot` through `look`: another lamp, grain, blur, and fewer than `covers` grey things on it.
pub(super) fn seen(
    shot: &Shot,
    look: &AtoB,
    [width, height]: [u32; 2],
    covers: u32,
    rng: &mut ChaCha8Rng,
) -> Shot {
    let back = look.inverse().expect("a view");
    let plane = Plane::from_gray(&shot.image);
    let light = [
        rng.random_range(-0.4..0.4f32),
        rng.random_range(-0.4..0.4f32),
    ];
    let gamma = rng.random_range(0.7..1.4f32);
    let noise = rng.random_range(1.0..8.0f32);
    let mut image = GrayImage::from_fn(width, height, |x, y| {
        let at = back.apply(Point2D::new(f64::from(x), f64::from(y)));
        let value = at.and_then(|at| plane.sample(at.x, at.y)).unwrap_or(0.4);
        let (u, v) = (
            x as f32 / width as f32 - 0.5,
            y as f32 / height as f32 - 0.5,
        );
        let lit = value.powf(gamma) * (1.0 + light[0] * u + light[1] * v);
        Luma([(255.0 * lit + rng.random_range(-noise..noise)).clamp(0.0, 255.0) as u8])
    });
    let side = f64::from(width.min(height));
    for _ in 0..rng.random_range(0..covers) {
        let edge = rng.random_range(0.05..0.25) * side;
        let corner = |rng: &mut ChaCha8Rng| rng.random_range(0.0..side - edge) as i32;
        let place =
            imageproc::rect::Rect::at(corner(rng), corner(rng)).of_size(edge as u32, edge as u32);
        let grey = Luma([rng.random_range(0..=255u8)]);
        imageproc::drawing::draw_filled_rect_mut(&mut image, place, grey);
    }
    let blur = rng.random_range(0.0..1.2f32);
    if blur > 0.3 {
        image = imageproc::filter::gaussian_blur_f32(&image, blur);
    }
    let points = (shot.points.iter())
        .filter_map(|(name, p)| {
            let at = look.apply(Point2D::new(p[0], p[1]))?;
            Some((name.clone(), [at.x, at.y]))
        })
        .collect();
    Shot {
        face: shot.face.clone(),
        unit: shot.unit.clone(),
        overview: shot.overview,
        image,
        points,
    }
}
