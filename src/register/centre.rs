//! The middle of something round: a hole, a land, a screw head.

use nalgebra::{Matrix2, Vector2};

use super::Plane;

/// Radii of the windows that are looked through, px, each a fifth wider than the last: from a hole
/// of 0.8 mm at 10 px/mm up to a land of 7 mm. Wider steps leave only one window between the rim of
/// a hole and the edge of the photo.
const WINDOWS: [f64; 13] = [
    5.0, 6.0, 7.0, 8.5, 10.0, 12.0, 14.5, 17.5, 21.0, 25.0, 30.0, 36.0, 43.0,
];

/// Steps of re-centring; each window has settled after four or five.
const STEPS: usize = 12;

/// A step shorter than this is the last, px.
const SETTLED_PX: f64 = 0.02;

/// Blur before the slopes are taken, as a share of the window: grain has slopes in all directions,
/// which pass the middle far aside. Of 0, 0.08, 0.12 and 0.2 this found most bare lands on a real
/// photo without finding anything at legends.
const BLUR: f32 = 0.08;

/// Edges pass the middle at no more than this share of the window, root mean square: a ring's do at
/// a tenth with its grain, a corner's or a line's at a quarter. A soldered joint is full of
/// reflections and seldom passes: better no answer than the middle of a reflection.
const MOST_ASIDE: f64 = 0.2;

/// Least ratio of the smaller to the larger eigenvalue of the normal matrix: a straight edge has 0,
/// a full circle 1, half a circle about 0.3.
const LEAST_ROUND: f64 = 0.3;

/// Two windows have found one thing when their middles are this near, px ...
const SAME_PX: f64 = 0.8;

/// ... or this share of the window.
const SAME_SHARE: f64 = 0.06;

/// Root mean square gradient below which there is nothing to see (values 0..=1 per px).
const LEAST_GRADIENT: f64 = 0.01;

/// The middle of something round.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RoundThing {
    /// Middle, px.
    pub x: f64,
    /// Middle, px.
    pub y: f64,
    /// How far the edges' normals pass it, root mean square, px: what to expect of its error is a
    /// small part of this.
    pub aside_px: f64,
}

/// The middle of the round thing at most `reach` px from (x, y): the point that the normals of the
/// edges about it meet in (Foerstner and Guelch 1987), found alike in two windows of different
/// size. The roundest where there are several; `None` where nothing there is round.
#[must_use]
pub fn round_thing_near(plane: &Plane, x: f64, y: f64, reach: f64) -> Option<RoundThing> {
    let found: Vec<(f64, RoundThing)> = (WINDOWS.iter())
        .filter(|radius| **radius <= 3.0 * reach)
        .filter_map(|radius| {
            let (piece, corner) = around(plane, [x, y], reach + radius)?;
            let start = [x - corner[0], y - corner[1]];
            let piece = piece.blur((BLUR * *radius as f32).max(0.5));
            let thing = settled(&piece, start, *radius, reach)?;
            let (x, y) = (thing.x + corner[0], thing.y + corner[1]);
            Some((*radius, RoundThing { x, y, ..thing }))
        })
        .collect();
    (found.iter().enumerate())
        .filter(|(i, (radius, p))| {
            let near = SAME_PX.max(SAME_SHARE * radius);
            let alike = |q: &RoundThing| (p.x - q.x).hypot(p.y - q.y) <= near;
            let mut others = found.iter().enumerate().filter(|(j, _)| i != j);
            others.any(|(_, (_, q))| alike(q))
        })
        .map(|(_, (radius, thing))| (thing.aside_px / radius, *thing))
        .min_by(|p, q| p.0.total_cmp(&q.0))
        .map(|(_, thing)| thing)
}

/// The piece of the picture within `half` px of a point, with the place of its first pixel.
fn around(plane: &Plane, [x, y]: [f64; 2], half: f64) -> Option<(Plane, [f64; 2])> {
    if !(x.is_finite() && y.is_finite()) {
        return None;
    }
    let low = |v: f64| (v - half - 2.0).floor().max(0.0) as usize;
    let high = |v: f64, size: usize| ((v + half + 3.0).ceil().max(0.0) as usize).min(size);
    let (left, top) = (low(x), low(y));
    let (right, bottom) = (high(x, plane.width()), high(y, plane.height()));
    if right <= left || bottom <= top {
        return None;
    }
    let rows = (top..bottom).map(|row| &plane.values()[row * plane.width()..][left..right]);
    let values: Vec<f32> = rows.flatten().copied().collect();
    let piece = Plane::from_values(right - left, bottom - top, values)?;
    Some((piece, [left as f64, top as f64]))
}

fn settled(plane: &Plane, start: [f64; 2], radius: f64, reach: f64) -> Option<RoundThing> {
    let mut at = Vector2::from(start);
    for _ in 0..STEPS {
        let (next, aside_px) = meeting(plane, at, radius)?;
        if (next - Vector2::from(start)).norm() > reach {
            return None;
        }
        let step = (next - at).norm();
        at = next;
        if step < SETTLED_PX {
            return (aside_px <= MOST_ASIDE * radius).then_some(RoundThing {
                x: at.x,
                y: at.y,
                aside_px,
            });
        }
    }
    None
}

/// Where the normals of the edges in the window meet, and how far they pass it.
fn meeting(plane: &Plane, about: Vector2<f64>, radius: f64) -> Option<(Vector2<f64>, f64)> {
    let (width, height) = (plane.width() as f64, plane.height() as f64);
    let inside = about.x - radius >= 1.0
        && about.y - radius >= 1.0
        && about.x + radius < width - 2.0
        && about.y + radius < height - 2.0;
    if !inside {
        return None;
    }
    let (mut sum, mut right) = (Matrix2::zeros(), Vector2::zeros());
    let (mut total, mut energy, mut count) = (0.0, 0.0, 0.0);
    let mut edges: Vec<(Vector2<f64>, Matrix2<f64>)> = Vec::new();
    let bound = |v: f64| ((v - radius).ceil() as isize, (v + radius).floor() as isize);
    let ((left, far), (top, bottom)) = (bound(about.x), bound(about.y));
    for row in top..=bottom {
        for column in left..=far {
            let at = Vector2::new(column as f64, row as f64);
            let r = (at - about).norm();
            if r > radius {
                continue;
            }
            let gx = f64::from(plane.at(column + 1, row) - plane.at(column - 1, row)) / 2.0;
            let gy = f64::from(plane.at(column, row + 1) - plane.at(column, row - 1)) / 2.0;
            // Falls to 0 at the rim, so that an edge does not jump in and out of the window.
            let fade = 1.0 - (r / radius).powi(2);
            let normal = Matrix2::new(gy * gy, -gx * gy, -gx * gy, gx * gx) * fade;
            sum += normal;
            right += normal * at;
            total += fade * (gx * gx + gy * gy);
            energy += gx * gx + gy * gy;
            count += 1.0;
            edges.push((at, normal));
        }
    }
    if (energy / count).sqrt() < LEAST_GRADIENT {
        return None;
    }
    let eigen = sum.symmetric_eigenvalues();
    if eigen.min() < LEAST_ROUND * eigen.max() {
        return None;
    }
    let middle = sum.try_inverse()? * right;
    let aside: f64 = (edges.iter())
        .map(|(at, normal)| {
            let d = middle - at;
            (d.transpose() * normal * d)[(0, 0)]
        })
        .sum();
    Some((middle, (aside.max(0.0) / total).sqrt()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// A land with a hole, dark or bright, with soft edges, on a ground with a slope.
    fn land(middle: [f64; 2], hole: f64, rim: f64, tone: [f32; 3]) -> Plane {
        let soft = |d: f64| (0.5 - d / 1.6).clamp(0.0, 1.0) as f32;
        let values = (0..120 * 120).map(|k| {
            let (x, y) = (f64::from(k % 120), f64::from(k / 120));
            let r = (x - middle[0]).hypot(y - middle[1]);
            let ground = tone[0] + 0.0005 * x as f32;
            let ring = ground + (tone[1] - ground) * soft(r - rim);
            ring + (tone[2] - ring) * soft(r - hole)
        });
        Plane::from_values(120, 120, values.collect()).unwrap()
    }

    proptest! {
        #[test]
        fn a_click_beside_a_hole_comes_to_its_middle(
            x in 55.0..65.0f64,
            y in 55.0..65.0f64,
            hole in 4.0..12.0f64,
            turn in 0.0..std::f64::consts::TAU,
            dark in any::<bool>(),
        ) {
            let tone = if dark { [0.3, 0.7, 0.1] } else { [0.5, 0.2, 0.9] };
            let plane = land([x, y], hole, 2.0 * hole, tone);
            let (dy, dx) = turn.sin_cos();
            let off = 0.5 * hole;
            let found = round_thing_near(&plane, x + off * dx, y + off * dy, 14.0);
            let found = found.expect("a land with a hole is round");
            prop_assert!((found.x - x).hypot(found.y - y) < 0.15, "{found:?} for {x} {y}");
        }

        #[test]
        fn nothing_is_found_on_an_edge_or_a_plain_ground(slope in -3.0..3.0f32, step in 0.0..0.6f32) {
            let values = (0..120 * 120).map(|k| {
                let (x, y) = ((k % 120) as f32 - 60.0, (k / 120) as f32 - 60.0);
                0.2 + step * ((y - slope * x) / (1.0 + slope.abs()) / 2.0 + 0.5).clamp(0.0, 1.0)
            });
            let plane = Plane::from_values(120, 120, values.collect()).unwrap();
            prop_assert_eq!(round_thing_near(&plane, 60.0, 60.0, 14.0), None);
        }
    }

    #[test]
    fn a_click_in_the_corner_of_the_picture_finds_nothing() {
        let plane = land([60.0, 60.0], 6.0, 12.0, [0.3, 0.7, 0.1]);
        assert_eq!(round_thing_near(&plane, 0.0, 0.0, 14.0), None);
        assert_eq!(round_thing_near(&plane, f64::NAN, 3.0, 14.0), None);
    }
}
