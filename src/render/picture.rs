//! One photo from order to pixels and truth.

use rayon::prelude::*;

use crate::board::{BoardMap, Outline, PartKind, Side};

use super::camera::View;
use super::error::RenderError;
use super::light::{Rgb, Room, V3};
use super::noise::{mix, seed_of, unit};
use super::scene::Scene;
use super::sensor::{Develop, Linear, develop};
use super::shade::{Dice, Tracer};
use super::spec::{CrackTruth, Distortion, JointTruth, PhotoSpec, PhotoTruth, Rendered};

/// Greatest side of a picture in px: keeps memory under about 2 GB.
pub(super) const MOST_PX: u32 = 8_000;
/// Rays per pixel at first, and more where these differ.
const FIRST_RAYS: u64 = 2;
/// Rays added where the first ones differ.
const MORE_RAYS: u64 = 7;
/// Relative difference of the first rays that asks for more.
const DIFFER: f64 = 0.18;

/// Renders a scene under an order.
pub(super) fn shoot(
    map: &BoardMap,
    scene: &Scene,
    spec: &PhotoSpec,
) -> Result<Rendered, RenderError> {
    let [width, height] = spec.size;
    if width.min(height) < 16 || width.max(height) > MOST_PX {
        return Err(RenderError::Size {
            width,
            height,
            most: MOST_PX,
        });
    }
    let view = View::new(&spec.camera, spec.side, spec.size);
    let truth = truth(map, scene, spec)?;
    let seed = seed_of(
        spec.seed,
        &format!("{} {} {}", spec.unit, spec.board, spec.what),
    );
    let middle = V3::new(scene.mirror * scene.size[0] / 2.0, scene.size[1] / 2.0, 0.0);
    let room = Room::new(&spec.light, middle, view.eye, view.up(), seed as u32);
    let distance = view.eye.z;
    let tracer = Tracer {
        scene,
        room: &room,
        pixel: view.mm_per_px(distance),
    };
    let linear = expose(&tracer, &view, spec.size, seed);
    let s = |k: u64| unit(mix(seed ^ k)) - 0.5;
    let how = Develop {
        exposure: spec.light.exposure * (1.0 + 0.12 * s(1)),
        noise: 0.9 + 0.5 * s(2),
        sharpen: (0.6 + 0.4 * s(3)) as f32,
        cast: [1.0 + 0.05 * s(4), 1.0, 1.0 + 0.07 * s(5)],
        seed,
    };
    Ok(Rendered {
        image: develop(linear, &how),
        truth,
    })
}

fn expose(tracer: &Tracer<'_>, view: &View, size: [u32; 2], seed: u64) -> Linear {
    let (width, height) = (size[0] as usize, size[1] as usize);
    let mut pixels = vec![[0.0f32; 3]; width * height];
    pixels
        .par_chunks_mut(width)
        .enumerate()
        .for_each(|(row, line)| {
            for (column, pixel) in line.iter_mut().enumerate() {
                let h = mix(seed ^ ((row as u64) << 32) ^ column as u64);
                #[allow(clippy::cast_precision_loss, reason = "picture sizes")]
                let at = [column as f64, row as f64];
                let light = pixel_light(tracer, view, at, h);
                *pixel = [light.x as f32, light.y as f32, light.z as f32];
            }
        });
    Linear {
        width,
        height,
        pixels,
    }
}

/// The mean of a pixel's rays; where the first differ, more are cast.
fn pixel_light(tracer: &Tracer<'_>, view: &View, at: [f64; 2], hash: u64) -> Rgb {
    let c = view.centre();
    let r = ((at[0] - c[0]).powi(2) + (at[1] - c[1]).powi(2)).sqrt() / view.half_diagonal();
    let spread = 0.58 + 0.4 * r * r * r;
    let cast = |k: u64| {
        let dice = Dice {
            pixel: hash,
            ray: k,
        };
        let [a, b] = dice.pair(7);
        let radius = spread * (-2.0 * (1.0 - a * 0.98).ln()).sqrt();
        let (sin, cos) = (b * std::f64::consts::TAU).sin_cos();
        let way = view.ray([at[0] + radius * cos, at[1] + radius * sin]);
        // Light above what the sensor can hold is cut per ray, so that edges of mirrors are
        // smooth after averaging.
        let light = tracer.radiance(view.eye, way, dice);
        light.map(|v| if v.is_finite() { v.min(CUT) } else { 0.0 })
    };
    let mut sum = Rgb::zeros();
    let (mut least, mut most) = (f64::MAX, 0.0f64);
    for k in 0..FIRST_RAYS {
        let light = cast(k);
        least = least.min(light.sum());
        most = most.max(light.sum());
        sum += light;
    }
    if most - least < DIFFER * (most + least) / 2.0 {
        return sum / FIRST_RAYS as f64;
    }
    for k in 0..MORE_RAYS {
        sum += cast(FIRST_RAYS + k);
    }
    sum / (FIRST_RAYS + MORE_RAYS) as f64
}

/// Most light that one ray may bring.
const CUT: f64 = 7.0;

/// Where everything is in a photo, without rendering it.
pub(super) fn truth(
    map: &BoardMap,
    scene: &Scene,
    spec: &PhotoSpec,
) -> Result<PhotoTruth, RenderError> {
    let view = View::new(&spec.camera, spec.side, spec.size);
    let bad = || RenderError::Camera {
        what: format!("{} {} {}", spec.unit, spec.board, spec.what),
    };
    let homography = view.homography().map_err(|_| bad())?;
    let mut joints = Vec::new();
    let names = map.parts.iter().flat_map(|part| {
        part.pins
            .iter()
            .map(move |pin| (part, pin, format!("{}.{}", part.reference, pin.no)))
    });
    for ((part, pin, name), patch) in names.zip(&scene.patches) {
        let (Some(at_px), Some(scale)) = (
            view.project_board(pin.at),
            homography.scale_at(pin.centre()),
        ) else {
            // Behind the camera.
            continue;
        };
        // The distortion holds inside the picture only; far outside it folds back.
        let flat = homography.apply(pin.centre());
        let c = view.centre();
        if flat.is_none_or(|p| (p.x - c[0]).hypot(p.y - c[1]) > 1.3 * view.half_diagonal()) {
            continue;
        }
        let radius = pin.land_radius_mm() * scale;
        let inside = |v: f64, most: u32| v > radius && v < f64::from(most) - 1.0 - radius;
        if !inside(at_px[0], spec.size[0]) || !inside(at_px[1], spec.size[1]) {
            continue;
        }
        let form = patch.recipe.pin.as_ref();
        let crack = patch.recipe.crack.as_ref().map(|crack| CrackTruth {
            arc_deg: crack.arc_deg,
            width_mm: crack.width,
            width_px: hundredth(crack.width * scale),
            darkening: crack.darkening,
            path_px: crack_path(patch, &view),
        });
        joints.push(JointTruth {
            fault: fault_of(spec, &name, &part.reference, crack.is_some()),
            joint: name,
            uid: pin.uid.clone(),
            at_px: at_px.map(hundredth),
            land_radius_px: hundredth(radius),
            pin_radius_px: hundredth(
                form.map_or(0.0, |f| f64::midpoint(f.half[0], f.half[1])) * scale,
            ),
            covered: spec.side == part.side && covers(&part.outline, part.kind, pin.at),
            crack,
        });
    }
    let middle = homography
        .scale_at(crate::geometry::BoardPoint::new(
            spec.camera.look_at[0],
            spec.camera.look_at[1],
        ))
        .ok_or_else(bad)?;
    Ok(PhotoTruth {
        file: String::new(),
        board: spec.board.clone(),
        side: spec.side,
        size: spec.size,
        photo_from_board: homography,
        distortion: Distortion {
            centre: view.centre(),
            unit_px: view.half_diagonal(),
            k1: spec.camera.k1,
            k2: spec.camera.k2,
        },
        px_per_mm: middle,
        joints,
    })
}

fn crack_path(patch: &super::solder::Patch, view: &View) -> Vec<[f64; 2]> {
    patch
        .recipe
        .crack_path()
        .into_iter()
        .filter(|(_, strength)| *strength > 0.3)
        .filter_map(|([x, y], _)| {
            let (x, y) = (x + patch.centre[0], y + patch.centre[1]);
            view.project(V3::new(x, y, patch.height(x, y)))
                .map(|px| px.map(hundredth))
        })
        .collect()
}

/// Rounded to 0.01: the truth file stays small, and 0.01 px is far under what matters.
fn hundredth(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}

/// Does a body hide its own land when looked at from straight above?
fn covers(outline: &Outline, kind: PartKind, at: [f64; 2]) -> bool {
    if matches!(kind, PartKind::Other | PartKind::Hardware | PartKind::Link) {
        return false;
    }
    match outline {
        Outline::Rect { at: c, size, .. } => {
            (at[0] - c[0]).abs() < size[0] / 2.0 && (at[1] - c[1]).abs() < size[1] / 2.0
        }
        Outline::Circle { at: c, diameter } => (at[0] - c[0]).hypot(at[1] - c[1]) < diameter / 2.0,
        Outline::Polygon { .. } => false,
    }
}

fn fault_of(spec: &PhotoSpec, joint: &str, part: &str, cracked: bool) -> Option<String> {
    use super::scenario::PlantedFault as F;
    if cracked {
        return Some("fractured".to_owned());
    }
    if !spec.plant {
        return None;
    }
    let unit = super::units()
        .into_iter()
        .find(|unit| unit.code == spec.unit)?;
    unit.faults
        .iter()
        .filter(|fault| fault.board() == spec.board)
        .find_map(|fault| match fault {
            F::Bridge {
                joint: a, other, ..
            } if spec.side == Side::Solder => {
                (a == joint || other == joint).then(|| "bridge".to_owned())
            }
            F::PriorRepair {
                joint: a, other, ..
            } if spec.side == Side::Solder => {
                (a == joint || other == joint).then(|| "prior repair".to_owned())
            }
            F::Missing { part: p, .. } => (p == part).then(|| "missing".to_owned()),
            _ => None,
        })
}
