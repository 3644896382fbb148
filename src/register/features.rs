//! Scale-space features: extrema of differences of Gaussians with gradient-histogram descriptors
//! (Lowe 2004, "Distinctive image features from scale-invariant keypoints"; constants from there
//! unless said otherwise).

use rayon::prelude::*;

use super::Plane;
use super::descriptor::{self, Descriptor, describe, orientations};
use crate::wide::widest;

/// Scales per octave.
const SCALES: usize = 3;

/// Blur of the first scale, px.
const SIGMA: f32 = 1.6;

/// Blur that a photograph is taken to have, px.
const SIGMA_OF_PHOTO: f32 = 0.5;

/// Least response of an extremum (values 0..=1). Half of Lowe's 0.03: white boards are faint, and
/// the number of features is limited by rank anyway.
const LEAST_RESPONSE: f32 = 0.015;

/// Greatest ratio of principal curvatures: above it, the extremum is an edge.
const EDGE_RATIO: f32 = 10.0;

/// Pixels along the rim of an octave that are not looked at.
const RIM: usize = 5;

/// Cells per axis for spreading the features over the picture.
const CELLS: usize = 8;

/// A cell may hold this many times its fair share of the features: fewer, and featureless areas
/// would waste theirs; more, and one busy area crowds out the board's corners.
const CROWDING: usize = 3;

/// A place that can be found again under turn, scale and light.
#[derive(Debug, Clone, PartialEq)]
pub struct Feature {
    /// Position, px.
    pub x: f32,
    /// Position, px.
    pub y: f32,
    /// Scale (sigma of the blur that it is sharpest at), px.
    pub scale: f32,
    /// Direction of the strongest gradient, radians from x towards y.
    pub angle: f32,
    /// Strength of the extremum.
    pub response: f32,
    /// What its surroundings look like.
    pub(super) descriptor: Descriptor,
}

/// An extremum in scale space, in the pixels of its octave.
#[derive(Debug, Clone, Copy)]
struct Extremum {
    octave: usize,
    layer: usize,
    x: f32,
    y: f32,
    sigma: f32,
    response: f32,
}

/// The strongest features of `plane`, at most about `most`, spread over the picture.
#[must_use]
pub fn features(plane: &Plane, most: usize) -> Vec<Feature> {
    let first = plane.blur((SIGMA * SIGMA - SIGMA_OF_PHOTO * SIGMA_OF_PHOTO).sqrt());
    let octaves = octaves(first);
    let mut found: Vec<Extremum> = Vec::new();
    for (index, gaussians) in octaves.iter().enumerate() {
        extrema(index, gaussians, &mut found);
    }
    let kept = spread(found, plane, most);
    kept.par_iter()
        .flat_map_iter(|e| {
            let layer = &octaves[e.octave][e.layer];
            let zoom = (1usize << e.octave) as f32;
            orientations(layer, e.x, e.y, e.sigma)
                .into_iter()
                .map(move |angle| Feature {
                    x: e.x * zoom,
                    y: e.y * zoom,
                    scale: e.sigma * zoom,
                    angle,
                    response: e.response,
                    descriptor: describe(layer, e.x, e.y, e.sigma, angle),
                })
        })
        .collect()
}

/// The features that `plane` mirrored left for right would have; `width` is its width in px.
#[must_use]
pub fn mirrored(features: &[Feature], width: u32) -> Vec<Feature> {
    let last = width.saturating_sub(1) as f32;
    let over = |f: &Feature| Feature {
        x: last - f.x,
        angle: std::f32::consts::PI - f.angle,
        descriptor: descriptor::mirrored(&f.descriptor),
        ..f.clone()
    };
    features.iter().map(over).collect()
}

fn octaves(first: Plane) -> Vec<Vec<Plane>> {
    let step = 2f32.powf(1.0 / SCALES as f32);
    let mut octaves: Vec<Vec<Plane>> = Vec::new();
    let mut base = first;
    while base.width().min(base.height()) > 4 * RIM + 8 {
        let mut layers = vec![base];
        for i in 1..SCALES + 3 {
            let before = SIGMA * step.powi(i as i32 - 1);
            let extra = before * (step * step - 1.0).sqrt();
            let next = layers[i - 1].blur(extra);
            layers.push(next);
        }
        base = layers[SCALES].decimate();
        octaves.push(layers);
    }
    octaves
}

/// Rows whose differences are worked on together: they stay near the processor.
const BAND: usize = 16;

fn extrema(octave: usize, gaussians: &[Plane], found: &mut Vec<Extremum>) {
    let (width, height) = (gaussians[0].width(), gaussians[0].height());
    let bands: Vec<Vec<Extremum>> = (RIM..height - RIM)
        .into_par_iter()
        .step_by(BAND)
        .map(|top| {
            let bottom = (top + BAND).min(height - RIM);
            // With a row above and one below.
            let dogs: Vec<Plane> = (gaussians.windows(2))
                .map(|pair| pair[1].less(&pair[0], top - 1..bottom + 1))
                .collect();
            let mut found = Vec::new();
            for layer in 1..=SCALES {
                let three = [&dogs[layer - 1], &dogs[layer], &dogs[layer + 1]];
                for row in 1..=bottom - top {
                    let values = &three[1].values()[row * width..(row + 1) * width];
                    let located = (peaks_of(values).into_iter())
                        .filter(|x| (RIM..width - RIM).contains(x) && is_extremum(&three, *x, row))
                        .filter_map(|x| locate(&three, x, row, octave, layer));
                    found.extend(located.map(|e| Extremum {
                        y: e.y + (top - 1) as f32,
                        ..e
                    }));
                }
            }
            found
        })
        .collect();
    found.extend(bands.into_iter().flatten());
}

/// Least response before the extremum is located.
const FAINT: f32 = 0.8 * LEAST_RESPONSE / SCALES as f32;

/// Values of a row that are looked over together.
const AT_ONCE: usize = 32;

/// Where values of a row are strong enough and none of their neighbours beats them.
fn peaks_of(row: &[f32]) -> Vec<usize> {
    let mut peaks = vec![0u8; row.len()];
    widest(
        #[inline(always)]
        || {
            let neighbours = row.iter().zip(&row[1..]).zip(&row[2..]);
            for (peak, ((before, here), after)) in peaks[1..].iter_mut().zip(neighbours) {
                let top = (*here >= FAINT) & (here >= before) & (here >= after);
                let bottom = (*here <= -FAINT) & (here <= before) & (here <= after);
                *peak = u8::from(top | bottom);
            }
        },
    );
    // Most stretches have none.
    let stretches = peaks.chunks(AT_ONCE).enumerate();
    stretches
        .filter(|(_, some)| some.iter().fold(0, |any, peak| any | peak) != 0)
        .flat_map(|(k, some)| {
            let peaks = some.iter().enumerate().filter(|(_, peak)| **peak != 0);
            peaks.map(move |(i, _)| k * AT_ONCE + i)
        })
        .collect()
}

fn is_extremum(three: &[&Plane; 3], x: usize, y: usize) -> bool {
    let width = three[1].width();
    let at = y * width + x;
    let value = three[1].values()[at];
    let beats = |other: f32| {
        if value > 0.0 {
            value >= other
        } else {
            value <= other
        }
    };
    [1, 0, 2].into_iter().all(|layer| {
        let values = three[layer].values();
        [at - width, at, at + width]
            .into_iter()
            .all(|row| beats(values[row - 1]) && beats(values[row]) && beats(values[row + 1]))
    })
}

/// Moves an extremum to the top of the parabola through its neighbours; drops faint ones and edges.
fn locate(
    three: &[&Plane; 3],
    x: usize,
    y: usize,
    octave: usize,
    layer: usize,
) -> Option<Extremum> {
    let (xi, yi) = (x as isize, y as isize);
    let v = |l: usize, dx: isize, dy: isize| three[l].at(xi + dx, yi + dy);
    let c = v(1, 0, 0);
    let gradient = nalgebra::Vector3::new(
        (v(1, 1, 0) - v(1, -1, 0)) / 2.0,
        (v(1, 0, 1) - v(1, 0, -1)) / 2.0,
        (v(2, 0, 0) - v(0, 0, 0)) / 2.0,
    );
    let dxx = v(1, 1, 0) + v(1, -1, 0) - 2.0 * c;
    let dyy = v(1, 0, 1) + v(1, 0, -1) - 2.0 * c;
    let dss = v(2, 0, 0) + v(0, 0, 0) - 2.0 * c;
    let dxy = (v(1, 1, 1) - v(1, -1, 1) - v(1, 1, -1) + v(1, -1, -1)) / 4.0;
    let dxs = (v(2, 1, 0) - v(2, -1, 0) - v(0, 1, 0) + v(0, -1, 0)) / 4.0;
    let dys = (v(2, 0, 1) - v(2, 0, -1) - v(0, 0, 1) + v(0, 0, -1)) / 4.0;
    let hessian = nalgebra::Matrix3::new(dxx, dxy, dxs, dxy, dyy, dys, dxs, dys, dss);
    let offset = -(hessian.try_inverse()? * gradient);
    if offset.amax() > 1.0 {
        return None;
    }
    let response = (c + 0.5 * gradient.dot(&offset)).abs();
    let determinant = dxx * dyy - dxy * dxy;
    let trace = dxx + dyy;
    let edge = determinant <= 0.0
        || trace * trace * EDGE_RATIO >= (EDGE_RATIO + 1.0).powi(2) * determinant;
    if edge || response < LEAST_RESPONSE / SCALES as f32 {
        return None;
    }
    Some(Extremum {
        octave,
        layer,
        x: x as f32 + offset[0],
        y: y as f32 + offset[1],
        sigma: SIGMA * 2f32.powf((layer as f32 + offset[2]) / SCALES as f32),
        response,
    })
}

/// Keeps the strongest of each cell and of all.
fn spread(mut found: Vec<Extremum>, plane: &Plane, most: usize) -> Vec<Extremum> {
    let place = |e: &Extremum| {
        let zoom = (1usize << e.octave) as f32;
        (e.y * zoom, e.x * zoom)
    };
    found.sort_by(|a, b| {
        let (pa, pb) = (place(a), place(b));
        (b.response.total_cmp(&a.response))
            .then(pa.0.total_cmp(&pb.0))
            .then(pa.1.total_cmp(&pb.1))
    });
    let share = (CROWDING * most).div_ceil(CELLS * CELLS);
    let mut count = [0usize; CELLS * CELLS];
    found.retain(|e| {
        let (y, x) = place(e);
        let cell = |v: f32, size: usize| {
            ((v * CELLS as f32 / size as f32).max(0.0) as usize).min(CELLS - 1)
        };
        let slot = &mut count[cell(y, plane.height()) * CELLS + cell(x, plane.width())];
        *slot += 1;
        *slot <= share
    });
    found.truncate(most);
    found
}
