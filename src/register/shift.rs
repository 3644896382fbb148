//! The shift between two pieces of one size, to hundredths of a pixel.

use nalgebra::{Matrix4, Vector4};

use super::Plane;

/// Steps of refinement; 4 to 8 are used.
const STEPS: usize = 30;

/// A refinement step smaller than this, px, is the last.
const DONE_PX: f64 = 1e-4;

/// Refinement may leave the whole-pixel answer by this much, px; more is a slide along an edge.
const STRAY_PX: f64 = 1.5;

/// Where the content of one piece went in another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shift {
    /// To the right, px.
    pub dx: f64,
    /// Downwards, px.
    pub dy: f64,
    /// Normalised correlation at that shift, -1..=1.
    pub score: f64,
    /// Standard error of dx from what is left over, px.
    pub sd_x: f64,
    /// Standard error of dy, px.
    pub sd_y: f64,
}

/// Finds how far the content of `a` has moved in `b`, up to `reach` px each way: whole pixels by
/// normalised correlation, then least squares on the brightness with a gain and an offset free
/// (Lucas and Kanade 1981), with bicubic sampling.
///
/// `None` where the sizes differ, the pieces are smaller than `4 reach + 8` px, there is no
/// contrast, or the answer slides.
#[must_use]
pub fn shift_between(a: &Plane, b: &Plane, reach: usize) -> Option<Shift> {
    let one_size = a.width() == b.width() && a.height() == b.height();
    if !one_size || a.width().min(a.height()) < 4 * reach + 8 {
        return None;
    }
    let rim = reach as isize + 3;
    let (score, x, y) = whole_pixels(a, b, reach as isize, rim)?;
    let mut at = (x as f64, y as f64);
    let mut fit = Vector4::new(0.0, 0.0, 1.0, 0.0);
    let mut spread = (f64::INFINITY, f64::INFINITY);
    for _ in 0..STEPS {
        let (step, sd) = refine(a, b, at, &fit, rim)?;
        at = (at.0 - step[0], at.1 - step[1]);
        fit[2] -= step[2];
        fit[3] -= step[3];
        spread = sd;
        if (at.0 - x as f64).abs() > STRAY_PX || (at.1 - y as f64).abs() > STRAY_PX {
            return None;
        }
        if step[0].hypot(step[1]) < DONE_PX {
            break;
        }
    }
    Some(Shift {
        dx: at.0,
        dy: at.1,
        score,
        sd_x: spread.0,
        sd_y: spread.1,
    })
}

fn inner(plane: &Plane, rim: isize) -> impl Iterator<Item = (isize, isize)> + Clone {
    let (width, height) = (plane.width() as isize, plane.height() as isize);
    (rim..height - rim).flat_map(move |y| (rim..width - rim).map(move |x| (x, y)))
}

fn whole_pixels(a: &Plane, b: &Plane, reach: isize, rim: isize) -> Option<(f64, isize, isize)> {
    let places = inner(a, rim);
    let count = places.clone().count() as f64;
    let mut best: Option<(f64, isize, isize)> = None;
    for dy in -reach..=reach {
        for dx in -reach..=reach {
            let (mut sa, mut sb, mut saa, mut sbb, mut sab) = (0.0, 0.0, 0.0, 0.0, 0.0);
            for (x, y) in places.clone() {
                let (va, vb) = (f64::from(a.at(x, y)), f64::from(b.at(x + dx, y + dy)));
                (sa, sb) = (sa + va, sb + vb);
                (saa, sbb, sab) = (saa + va * va, sbb + vb * vb, sab + va * vb);
            }
            let power = (saa - sa * sa / count) * (sbb - sb * sb / count);
            if power <= 1e-12 {
                continue;
            }
            let score = (sab - sa * sb / count) / power.sqrt();
            if best.is_none_or(|(most, ..)| score > most) {
                best = Some((score, dx, dy));
            }
        }
    }
    best
}

/// One step for shift, gain and offset, and the standard errors of the shift.
fn refine(
    a: &Plane,
    b: &Plane,
    (dx, dy): (f64, f64),
    fit: &Vector4<f64>,
    rim: isize,
) -> Option<(Vector4<f64>, (f64, f64))> {
    let mut normal = Matrix4::zeros();
    let mut right = Vector4::zeros();
    let (mut squares, mut count) = (0.0, 0.0);
    for (x, y) in inner(a, rim) {
        let (value, gx, gy) = cubic(b, x as f64 + dx, y as f64 + dy);
        let here = f64::from(a.at(x, y));
        let left_over = value - (fit[2] * here + fit[3]);
        let row = Vector4::new(gx, gy, -here, -1.0);
        normal += row * row.transpose();
        right += row * left_over;
        squares += left_over * left_over;
        count += 1.0;
    }
    let inverse = normal.try_inverse()?;
    let noise = squares / (count - 4.0);
    let sd = |i: usize| (noise * inverse[(i, i)]).sqrt();
    Some((inverse * right, (sd(0), sd(1))))
}

/// Catmull-Rom value and slopes at a point; the edge is repeated outwards.
fn cubic(plane: &Plane, x: f64, y: f64) -> (f64, f64, f64) {
    let (left, top) = (x.floor(), y.floor());
    let (wx, sx) = weights(x - left);
    let (wy, sy) = weights(y - top);
    let (mut value, mut slope_x, mut slope_y) = (0.0, 0.0, 0.0);
    for j in 0..4 {
        for i in 0..4 {
            let v = f64::from(plane.at(
                left as isize + i as isize - 1,
                top as isize + j as isize - 1,
            ));
            value += v * wx[i] * wy[j];
            slope_x += v * sx[i] * wy[j];
            slope_y += v * wx[i] * sy[j];
        }
    }
    (value, slope_x, slope_y)
}

/// Catmull-Rom weights of the pixels at -1, 0, 1, 2 and their derivatives.
fn weights(t: f64) -> ([f64; 4], [f64; 4]) {
    let (t2, t3) = (t * t, t * t * t);
    (
        [
            -0.5 * t3 + t2 - 0.5 * t,
            1.5 * t3 - 2.5 * t2 + 1.0,
            -1.5 * t3 + 2.0 * t2 + 0.5 * t,
            0.5 * t3 - 0.5 * t2,
        ],
        [
            -1.5 * t2 + 2.0 * t - 0.5,
            4.5 * t2 - 5.0 * t,
            -4.5 * t2 + 4.0 * t + 0.5,
            1.5 * t2 - t,
        ],
    )
}
