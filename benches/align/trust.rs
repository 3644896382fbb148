//! How often an automatic alignment is right, refused, or wrong with trust, on many made cases.
//!
//! The photographs are the rendered sample boards (their truth says where each joint is in each
//! photo) and whatever pairs were given; every case turns, scales, tilts, relights, soils and
//! covers the photo anew.

use std::collections::BTreeMap;
use std::path::Path;

use benchglass::align::{Refusal, automatic};
use benchglass::geometry::{Homography, PhotoA, PhotoB};
use benchglass::progress::Progress;
use benchglass::register::Plane;
use benchglass::stats::wilson_95;
use euclid::Point2D;
use image::imageops::FilterType;
use image::{GrayImage, ImageDecoder as _, Luma};
use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;

/// An answer is right when nine in ten points are this near, px of the photo as matched.
const RIGHT_PX: f64 = 4.0;

/// Photographs are matched at this many pixels: thousands of cases would take days at full size.
const PIXELS: f64 = 1.2e6;

/// A photo with named places in it.
struct Shot {
    face: String,
    unit: String,
    overview: bool,
    image: GrayImage,
    points: BTreeMap<String, [f64; 2]>,
}

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

fn smaller(image: &GrayImage) -> (GrayImage, f64) {
    let factor = (PIXELS / f64::from(image.width() * image.height()))
        .sqrt()
        .min(1.0);
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

/// The sample boards' photographs.
fn samples(folder: &Path) -> Vec<Shot> {
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
            let full = upright(&folder.join(&photo.file));
            let (image, factor) = smaller(&full);
            let points = (photo.joints.iter())
                .filter(|j| !j.covered)
                .map(|j| (j.joint.clone(), moved(j.at_px, factor)))
                .collect();
            shots.push(Shot {
                face: format!("{} {}", photo.board, photo.side),
                unit: truth.unit.clone(),
                overview: photo.file.contains("overview"),
                image,
                points,
            });
        }
    }
    shots
}

/// Real pairs: `a` and `b` of one are two shots of a face of its own.
fn real(folder: &Path) -> Vec<Shot> {
    let text = std::fs::read_to_string(folder.join("pairs.json")).expect("pairs.json");
    let pairs: super::Pairs = serde_json::from_str(&text).expect("pairs.json");
    let mut shots = Vec::new();
    for pair in pairs.pairs {
        for (unit, file, at) in [
            ("a", &pair.a, &pair.points_a),
            ("b", &pair.b, &pair.points_b),
        ] {
            let full = upright(&folder.join(file));
            let (image, factor) = smaller(&full);
            let points = (at.iter().enumerate())
                .map(|(i, p)| (i.to_string(), moved(*p, factor)))
                .collect();
            shots.push(Shot {
                face: pair.name.clone(),
                unit: unit.to_owned(),
                overview: true,
                image,
                points,
            });
        }
    }
    shots
}

/// `shot` as another camera has it under another lamp.
fn another_look(shot: &Shot, rng: &mut ChaCha8Rng) -> Shot {
    let (width, height) = (
        f64::from(shot.image.width()),
        f64::from(shot.image.height()),
    );
    let turn = rng.random_range(0.0..std::f64::consts::TAU);
    let scale = rng.random_range(0.55..1.0);
    let (s, c) = (turn.sin() * scale, turn.cos() * scale);
    let side = width.hypot(height) * scale;
    let tilt = |rng: &mut ChaCha8Rng| rng.random_range(-0.12..0.12) / width;
    let look: Homography<PhotoA, PhotoB> = Homography::from_rows([
        [c, -s, side / 2.0 - c * width / 2.0 + s * height / 2.0],
        [s, c, side / 2.0 - s * width / 2.0 - c * height / 2.0],
        [tilt(rng), tilt(rng), 1.0],
    ])
    .expect("a view");
    let back = look.inverse().expect("a view");
    let plane = Plane::from_gray(&shot.image);
    let light = [
        rng.random_range(-0.4..0.4f32),
        rng.random_range(-0.4..0.4f32),
    ];
    let gamma = rng.random_range(0.7..1.4f32);
    let noise = rng.random_range(1.0..8.0f32);
    let size = side as u32;
    let mut image = GrayImage::from_fn(size, size, |x, y| {
        let at = back.apply(Point2D::new(f64::from(x), f64::from(y)));
        let value = at.and_then(|at| plane.sample(at.x, at.y)).unwrap_or(0.4);
        let (u, v) = (x as f32 / size as f32 - 0.5, y as f32 / size as f32 - 0.5);
        let lit = value.powf(gamma) * (1.0 + light[0] * u + light[1] * v);
        Luma([(255.0 * lit + rng.random_range(-noise..noise)).clamp(0.0, 255.0) as u8])
    });
    for _ in 0..rng.random_range(0..4) {
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

/// What may come of a case.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Came {
    Right,
    Refused,
    Wrong,
}

fn judge(a: &Shot, b: &Shot) -> (Came, Option<f64>, Result<f64, Refusal>) {
    match automatic(&a.image, &b.image, &Progress::new()) {
        Err(refusal) => (Came::Refused, None, Err(refusal)),
        Ok(fit) => {
            let mut errors: Vec<f64> = (a.points.iter())
                .filter_map(|(name, p)| Some((p, b.points.get(name)?)))
                .map(|(p, q)| {
                    let at = fit.homography.apply(Point2D::new(p[0], p[1]));
                    at.map_or(f64::INFINITY, |at| (at - Point2D::new(q[0], q[1])).length())
                })
                .collect();
            errors.sort_by(f64::total_cmp);
            let p90 = errors
                .get((errors.len() * 9).div_ceil(10).saturating_sub(1))
                .copied();
            let right = a.face == b.face && p90.is_some_and(|p90| p90 <= RIGHT_PX);
            let came = if right { Came::Right } else { Came::Wrong };
            (came, p90, Ok(fit.expected_error_px))
        }
    }
}

/// Prints, for each kind of case, how many of about `n` were right, refused and wrong.
pub(super) fn rates(n: usize, folder: &Path, pairs: Option<&Path>) {
    let mut shots = samples(folder);
    if let Some(pairs) = pairs {
        shots.extend(real(pairs));
    }
    let mut rng = ChaCha8Rng::seed_from_u64(12);
    let mut table: BTreeMap<&str, BTreeMap<Came, u64>> = BTreeMap::new();
    let mut honest = [0u64; 2];
    for case in 0..n {
        let a = &shots[rng.random_range(0..shots.len())];
        let among = |keep: &dyn Fn(&Shot) -> bool, rng: &mut ChaCha8Rng| {
            let some: Vec<&Shot> = shots.iter().filter(|s| keep(s)).collect();
            (!some.is_empty()).then(|| some[rng.random_range(0..some.len())])
        };
        let board = |face: &str| face.split(' ').next().unwrap_or_default().to_owned();
        let kind = [
            "another unit",
            "close-up",
            "same unit",
            "other side",
            "other board",
            "mirrored",
        ][case % 6];
        let same = |b: &Shot| b.face == a.face;
        let b = match kind {
            "another unit" => among(
                &|b| same(b) && b.unit != a.unit && b.overview && a.overview,
                &mut rng,
            ),
            "close-up" => among(&|b| same(b) && b.overview != a.overview, &mut rng),
            "same unit" => Some(a),
            "other side" => among(&|b| !same(b) && board(&b.face) == board(&a.face), &mut rng),
            "other board" => among(&|b| board(&b.face) != board(&a.face), &mut rng),
            _ => among(&|b| same(b), &mut rng),
        };
        let Some(b) = b else { continue };
        let mut b = another_look(b, &mut rng);
        if kind == "mirrored" {
            image::imageops::flip_horizontal_in_place(&mut b.image);
            b.face = "mirrored".to_owned();
        }
        let (came, p90, answer) = judge(a, &b);
        *table.entry(kind).or_default().entry(came).or_default() += 1;
        match &answer {
            Ok(expected) => {
                honest[usize::from(p90.is_some_and(|p90| p90 <= 2.5 * expected.max(0.5)))] += 1;
                if came == Came::Wrong {
                    println!(
                        "WRONG {kind}: {} {} against {} {}: p90 {p90:?}, expected {expected:.1}",
                        a.face, a.unit, b.face, b.unit
                    );
                }
            }
            Err(refusal) => println!(
                "refused {kind}: {} {} against {} {}: {}",
                a.face, a.unit, b.face, b.unit, refusal.reason
            ),
        }
    }
    let count = |row: &BTreeMap<Came, u64>, came| row.get(&came).copied().unwrap_or(0);
    for (kind, row) in &table {
        let all: u64 = row.values().sum();
        print!("{kind:14} {all:4} cases:");
        for came in [Came::Right, Came::Refused, Came::Wrong] {
            let hits = count(row, came);
            let Some(interval) = wilson_95(hits, all) else {
                continue;
            };
            print!(
                "  {came:?} {hits} [{:.0}, {:.0} %]",
                100.0 * interval.low,
                100.0 * interval.high
            );
        }
        println!();
    }
    let all: u64 = table.values().flat_map(|row| row.values()).sum();
    let wrong: u64 = table.values().map(|row| count(row, Came::Wrong)).sum();
    println!(
        "wrong with trust: {wrong} of {all}; where it is 0, fewer than {:.1} % (3/n)",
        300.0 / all.max(1) as f64
    );
    println!(
        "p90 error within 2.5 times the expected error: {} of {}",
        honest[1],
        honest[0] + honest[1]
    );
}
