//! The kinds of cases: what two photos show and what a right answer is.

use std::collections::BTreeMap;

use euclid::{Box2D, Point2D};
use image::GrayImage;
use rand::RngExt as _;
use rand_chacha::ChaCha8Rng;

use super::shots::{AtoB, Shot, another_look, look, seen};
use benchglass::geometry::PhotoA;

/// Photographs are matched at this many pixels: thousands of cases would take days at full size.
pub(super) const PIXELS: f64 = 1.2e6;

/// Two photos and what is true of them.
pub(super) struct Case {
    pub(super) kind: &'static str,
    pub(super) a: Shot,
    pub(super) b: Shot,
    /// The least 90th percentile of the error that is wrong, px of the photo.
    pub(super) right_px: f64,
    /// Corners, in the reference's pixels, of what was made another in the photo.
    pub(super) changed: Option<[Point2D<f64, PhotoA>; 4]>,
}

/// An answer is right when nine in ten points are this near, px of the photo as matched.
const RIGHT_PX: f64 = 4.0;

/// In a close-up, that or this many px of the overview: it cannot be told where a place lies to
/// better than a part of the pixels that the overview has of it.
const RIGHT_OVERVIEW_PX: f64 = 2.0;

fn one_of<'a>(
    shots: &'a [Shot],
    keep: &dyn Fn(&Shot) -> bool,
    rng: &mut ChaCha8Rng,
) -> Option<&'a Shot> {
    let some: Vec<&Shot> = shots.iter().filter(|s| keep(s)).collect();
    (!some.is_empty()).then(|| some[rng.random_range(0..some.len())])
}

fn board(face: &str) -> &str {
    face.split(' ').next().unwrap_or_default()
}

/// Another unit, close-up, same unit, other side, other board, mirrored, in turn.
pub(super) fn mixed(shots: &[Shot], case: usize, rng: &mut ChaCha8Rng) -> Option<Case> {
    let a = &shots[rng.random_range(0..shots.len())];
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
        "another unit" => one_of(
            shots,
            &|b| same(b) && b.unit != a.unit && b.overview && a.overview,
            rng,
        ),
        "close-up" => one_of(shots, &|b| same(b) && b.overview != a.overview, rng),
        "same unit" => Some(a),
        "other side" => one_of(
            shots,
            &|b| !same(b) && board(&b.face) == board(&a.face),
            rng,
        ),
        "other board" => one_of(shots, &|b| board(&b.face) != board(&a.face), rng),
        _ => one_of(shots, &|b| same(b), rng),
    }?;
    let mut b = another_look(b, rng);
    if kind == "mirrored" {
        image::imageops::flip_horizontal_in_place(&mut b.image);
        b.face = "mirrored".to_owned();
    }
    Some(case_of(kind, a.smaller(f64::INFINITY), b))
}

fn case_of(kind: &'static str, a: Shot, b: Shot) -> Case {
    Case {
        kind,
        a,
        b,
        right_px: RIGHT_PX,
        changed: None,
    }
}

/// Points per axis that stand for named places where a photo's own are too few.
const GRID: u32 = 12;

/// Points all over the rectangle of `a` and where `b` has them.
fn grid(a: &mut Shot, b: &mut Shot, to: &AtoB, [left, top, right, bottom]: [f64; 4]) -> Option<()> {
    a.points = BTreeMap::new();
    b.points = BTreeMap::new();
    for (row, column) in (0..=GRID).flat_map(|row| (0..=GRID).map(move |column| (row, column))) {
        let along =
            |low: f64, high: f64, k: u32| low + (high - low) * f64::from(k) / f64::from(GRID);
        let at = [along(left, right, column), along(top, bottom, row)];
        let there = to.apply(Point2D::from(at))?;
        let name = format!("{row}.{column}");
        a.points.insert(name.clone(), at);
        b.points.insert(name, [there.x, there.y]);
    }
    Some(())
}

/// A close-up, 2 to 5 times as large and turned, cut out of a photo at full size, against an
/// overview: another photo of the face, or the same photo, made as small as an overview is.
pub(super) fn close_up(full: &[Shot], rng: &mut ChaCha8Rng) -> Option<Case> {
    let sharp = |s: &Shot| s.overview && s.size()[0] * s.size()[1] > 3.5e6;
    let near = one_of(full, &sharp, rng)?;
    let far = one_of(full, &|s| s.face == near.face && s.overview, rng)?;
    let same = std::ptr::eq(near, far);
    let mut to = if same {
        look([0.0; 2], 0.0, 1.0, [0.0; 2], [0.0; 2])
    } else {
        far.to(near)?
    };
    let (mut far, mut near) = (far.smaller(f64::INFINITY), near.smaller(f64::INFINITY));
    // Named places are where the joints are, which lie on the board; those of the pairs are too
    // few within a piece, and a homography through them stands for them.
    let joints = near.points.len() > 40 && far.points.len() > 40;
    if !joints {
        let size = far.size();
        grid(&mut far, &mut near, &to, [0.0, 0.0, size[0], size[1]])?;
    }
    let zoom = 2.0 * 2.5f64.powf(rng.random_range(0.0..1.0));
    let native = to.scale_at(Point2D::from(far.size().map(|v| v / 2.0)))?;
    // Pixels of the small overview for one of the full-size one.
    let factor = (native / zoom).min(1.0);
    let size = far.size();
    let overview = far.smaller(size[0] * size[1] * factor * factor);
    to = overview.to(&near)?;
    let scale = zoom / to.scale_at(Point2D::from(overview.size().map(|v| v / 2.0)))?;
    let scale = scale.min(1.0);
    let [width, height] = near.size();
    // Within the board: a quarter to three quarters of the picture, in most photos.
    let middle = [
        width * rng.random_range(0.3..0.7),
        height * rng.random_range(0.3..0.7),
    ];
    let turn = rng.random_range(0.0..std::f64::consts::TAU);
    let tilt = |rng: &mut ChaCha8Rng| rng.random_range(-0.12..0.12) / width;
    let tilt = [tilt(rng), tilt(rng)];
    // As many pixels as the overview has: both are taken by one camera.
    let view = overview
        .size()
        .map(|v| (v * rng.random_range(0.9..1.0)) as u32);
    let at = view.map(|v| f64::from(v) / 2.0);
    // The tilt divides by its own depth, which must be 1 at the middle.
    let depth = 1.0 + tilt[0] * middle[0] + tilt[1] * middle[1];
    let through = look(middle, turn, scale * depth, tilt, at.map(|v| v * depth));
    let mut photo = seen(&near, &through, view, 2, rng);
    photo.points.retain(|_, p| {
        (0.0..f64::from(view[0])).contains(&p[0]) && (0.0..f64::from(view[1])).contains(&p[1])
    });
    if photo.points.len() < 6 {
        return None;
    }
    let mut case = case_of("close-up, cut", overview, photo);
    case.right_px = RIGHT_PX.max(RIGHT_OVERVIEW_PX * zoom);
    Some(case)
}

/// The sample boards' own close-ups against the overviews of all units, turned.
pub(super) fn sample_close_up(full: &[Shot], rng: &mut ChaCha8Rng) -> Option<Case> {
    let near = one_of(full, &|s| !s.overview, rng)?;
    let far = one_of(full, &|s| s.overview && s.face == near.face, rng)?;
    let far = far.smaller(PIXELS * rng.random_range(1.0..2.0));
    let mut case = case_of(
        "close-up, sample",
        far,
        another_look(&near.smaller(2.0 * PIXELS), rng),
    );
    let to = case.a.to(&case.b)?;
    let zoom = to.scale_at(Point2D::from(case.a.size().map(|v| v / 2.0)))?;
    case.right_px = RIGHT_PX.max(RIGHT_OVERVIEW_PX * zoom);
    Some(case)
}

/// A field of one cell of a board, over and over, longer than the photos; one photo shows it from
/// one cell further on. Some fields have one to three cells that are other than the rest, in the
/// same places of both.
pub(super) fn row(shots: &[Shot], rng: &mut ChaCha8Rng) -> Option<Case> {
    let shot = one_of(shots, &|s| s.overview, rng)?;
    let (wide, high) = (rng.random_range(34..90u32), rng.random_range(34..90u32));
    let cut = |rng: &mut ChaCha8Rng| {
        let [w, h] = [shot.image.width(), shot.image.height()];
        let inner = |size: u32, edge: u32, rng: &mut ChaCha8Rng| {
            rng.random_range(size / 5..(4 * size / 5).saturating_sub(edge).max(size / 5 + 1))
        };
        let (x, y) = (inner(w, wide, rng), inner(h, high, rng));
        image::imageops::crop_imm(&shot.image, x, y, wide, high).to_image()
    };
    let cell = cut(rng);
    let odd: Vec<_> = (0..rng.random_range(0..4u32))
        .map(|_| {
            (
                rng.random_range(2..7u32),
                rng.random_range(1..5u32),
                cut(rng),
            )
        })
        .collect();
    let (columns, rows) = (720 / wide + 4, 560 / high + 3);
    let field = |first: u32, rng: &mut ChaCha8Rng| {
        let mut image = GrayImage::new(columns * wide, rows * high);
        for (row, column) in (0..rows).flat_map(|r| (0..columns).map(move |c| (r, c))) {
            let other = odd
                .iter()
                .find(|(c, r, _)| *c == column + first && *r == row);
            let mut tile = other.map_or_else(|| cell.clone(), |(_, _, tile)| tile.clone());
            // No two joints are soldered alike.
            let light = rng.random_range(0.8..1.2f32);
            let slope = rng.random_range(-0.3..0.3f32);
            for (x, _, pixel) in tile.enumerate_pixels_mut() {
                let lit = light + slope * (x as f32 / wide as f32 - 0.5);
                pixel.0[0] = (f32::from(pixel.0[0]) * lit).clamp(0.0, 255.0) as u8;
            }
            let at = (i64::from(column * wide), i64::from(row * high));
            image::imageops::replace(&mut image, &tile, at.0, at.1);
        }
        image
    };
    let pitch = f64::from(wide);
    let (first, second) = (field(0, rng), field(1, rng));
    let shot = |image: GrayImage, shift: f64| {
        let mut points = BTreeMap::new();
        for (row, column) in (0..=GRID).flat_map(|r| (0..=GRID).map(move |c| (r, c))) {
            let at = [
                f64::from(column) * 50.0 + 60.0 + shift,
                f64::from(row) * 35.0 + 60.0,
            ];
            points.insert(format!("{row}.{column}"), at);
        }
        Shot {
            face: "row".to_owned(),
            unit: "drawn".to_owned(),
            overview: true,
            image,
            points,
        }
    };
    let crop = |image: &GrayImage| image::imageops::crop_imm(image, 20, 20, 700, 520).to_image();
    let shift = |mut s: Shot| {
        for p in s.points.values_mut() {
            *p = [p[0] - 20.0, p[1] - 20.0];
        }
        s
    };
    let a = shift(shot(crop(&first), 0.0));
    let b = shift(shot(crop(&second), -pitch));
    let tilt = [rng.random_range(-0.1..0.1) / 700.0, 0.0];
    let turn = rng.random_range(-0.05..0.05f64);
    let through = look(
        [350.0, 260.0],
        turn,
        rng.random_range(0.9..1.0),
        tilt,
        [350.0, 260.0],
    );
    let b = seen(&b, &through, [700, 520], 1, rng);
    Some(case_of("a row, a pitch on", a, b))
}

/// Rows of real or rendered joints cut out of two photos of a face, one cut a pitch further on;
/// neither shows an end of the row.
pub(super) fn header(full: &[Shot], rng: &mut ChaCha8Rng) -> Option<Case> {
    let one = one_of(full, &|s| s.overview && s.points.len() > 40, rng)?;
    let other = one_of(full, &|s| s.overview && s.face == one.face, rng)?;
    let row = rows_of(one, rng)?;
    let other_row: Vec<_> = (row.iter())
        .map(|name| other.points.get(name).copied())
        .collect::<Option<_>>()?;
    let first: Vec<_> = row.iter().map(|name| one.points[name]).collect();
    let deep = rng.random_range(1.2..3.0);
    let a = strip(one, &first, 0, deep)?;
    let mut b = strip(other, &other_row, 1, deep)?;
    let size = [b.image.width(), b.image.height()];
    let middle = b.size().map(|v| v / 2.0);
    let through = look(middle, rng.random_range(-0.04..0.04), 1.0, [0.0; 2], middle);
    b = seen(&b, &through, size, 1, rng);
    Some(case_of("header, a pitch on", a, b))
}

/// Names along a straight row of equal pitch, without its ends where it is long enough.
fn rows_of(shot: &Shot, rng: &mut ChaCha8Rng) -> Option<Vec<String>> {
    let mut parts: BTreeMap<&str, Vec<(u32, &String)>> = BTreeMap::new();
    for name in shot.points.keys() {
        let (part, pin) = name.rsplit_once('.')?;
        parts
            .entry(part)
            .or_default()
            .push((pin.parse().unwrap_or(0), name));
    }
    let mut rows = Vec::new();
    for pins in parts.values_mut() {
        pins.sort();
        for run in pins.windows(9) {
            let at = |k: usize| Point2D::<f64, PhotoA>::from(shot.points[run[k].1]);
            let step = at(1) - at(0);
            let even = (1..9).all(|k| (at(k) - at(k - 1) - step).length() < 0.1 * step.length());
            if even {
                rows.push(
                    run.iter()
                        .map(|(_, name)| (*name).clone())
                        .collect::<Vec<_>>(),
                );
            }
        }
    }
    (!rows.is_empty()).then(|| rows.swap_remove(rng.random_range(0..rows.len())))
}

/// Seven pins of the row from `first` on, level, `deep` pitches either side, a pitch 64 px.
fn strip(shot: &Shot, row: &[[f64; 2]], first: usize, deep: f64) -> Option<Shot> {
    const PITCH: f64 = 64.0;
    let (from, to) = (Point2D::<f64, PhotoA>::from(row[0]), Point2D::from(row[8]));
    let along = (to - from) / 8.0;
    let turn = -along.y.atan2(along.x);
    let scale = PITCH / along.length();
    let size = [7.0 * PITCH, 2.0 * deep * PITCH];
    let start = row[first];
    let through = look(start, turn, scale, [0.0; 2], [0.3 * PITCH, size[1] / 2.0]);
    let plane = benchglass::register::Plane::from_gray(&shot.image);
    let back = through.inverse().ok()?;
    let image = GrayImage::from_fn(size[0] as u32, size[1] as u32, |x, y| {
        let at = back.apply(Point2D::new(f64::from(x), f64::from(y)));
        let value = at.and_then(|at| plane.sample(at.x, at.y)).unwrap_or(0.4);
        image::Luma([(255.0 * value) as u8])
    });
    let points: BTreeMap<String, [f64; 2]> = (shot.points.iter())
        .filter_map(|(name, p)| {
            let at = through.apply(Point2D::from(*p))?;
            let seen = (-PITCH..size[0] + PITCH).contains(&at.x) && (0.0..size[1]).contains(&at.y);
            seen.then(|| (name.clone(), [at.x, at.y]))
        })
        .collect();
    Some(Shot {
        face: shot.face.clone(),
        unit: shot.unit.clone(),
        overview: true,
        image,
        points,
    })
}

/// Another revision: a fifth to a half of what the photo shows of the board was laid out anew,
/// moved by 3 to 8 hundredths of the board's width or taken from elsewhere on it.
pub(super) fn revision(shots: &[Shot], rng: &mut ChaCha8Rng) -> Option<Case> {
    let a = one_of(shots, &|s| s.overview, rng)?;
    let b = one_of(shots, &|s| s.overview && s.face == a.face, rng)?;
    let mut b = b.smaller(f64::INFINITY);
    let to = a.to(&b)?;
    let board = Box2D::<f64, PhotoA>::from_points(b.points.values().map(|p| Point2D::from(*p)));
    let share = rng.random_range(0.2..0.5f64);
    // A piece that reaches from one rim of the board to the other, or a corner of it.
    let (wide, high) = if rng.random_range(0..2) == 0 {
        (share * board.width(), board.height())
    } else {
        (share.sqrt() * board.width(), share.sqrt() * board.height())
    };
    let left = board.min.x
        + if rng.random_range(0..2) == 0 {
            0.0
        } else {
            board.width() - wide
        };
    let top = board.min.y
        + if rng.random_range(0..2) == 0 {
            0.0
        } else {
            board.height() - high
        };
    let old = b.image.clone();
    let (dx, dy) = if rng.random_range(0..2) == 0 {
        let step = board.width() * rng.random_range(0.03..0.08);
        let turn = rng.random_range(0.0..std::f64::consts::TAU);
        (step * turn.cos(), step * turn.sin())
    } else {
        let over = board.min.x + board.max.x - 2.0 * left - wide;
        (over, board.min.y + board.max.y - 2.0 * top - high)
    };
    let (dx, dy) = if dx.hypot(dy) < 0.03 * board.width() {
        (0.05 * board.width(), 0.0)
    } else {
        (dx, dy)
    };
    let (right, bottom) = ((left + wide) as u32, (top + high) as u32);
    let (left, top) = (left.max(0.0) as u32, top.max(0.0) as u32);
    for (x, y) in (left..right).flat_map(|x| (top..bottom).map(move |y| (x, y))) {
        let from =
            |v: u32, d: f64, size: u32| (f64::from(v) + d).clamp(0.0, f64::from(size - 1)) as u32;
        if x < old.width() && y < old.height() {
            let there = (from(x, dx, old.width()), from(y, dy, old.height()));
            b.image.put_pixel(x, y, *old.get_pixel(there.0, there.1));
        }
    }
    let back = to.inverse().ok()?;
    let corner = |x: u32, y: u32| back.apply(Point2D::new(f64::from(x), f64::from(y)));
    let changed = [
        corner(left, top)?,
        corner(right, top)?,
        corner(right, bottom)?,
        corner(left, bottom)?,
    ];
    let inside = |p: &[f64; 2]| {
        (f64::from(left)..f64::from(right)).contains(&p[0])
            && (f64::from(top)..f64::from(bottom)).contains(&p[1])
    };
    b.points.retain(|_, p| !inside(p));
    let mut case = case_of(
        "another revision",
        a.smaller(f64::INFINITY),
        another_look(&b, rng),
    );
    case.changed = Some(changed);
    Some(case)
}
