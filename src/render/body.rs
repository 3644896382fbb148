//! Solid bodies of the component side: boxes, cans, rods and balls, with ray intersection.

use nalgebra::Matrix3;

use super::font::Stroke;
use super::light::{Rgb, V3};

/// The shape of a body in the side's frame, mm.
#[derive(Debug, Clone)]
pub(super) enum Shape {
    /// A box with its own axes (columns of `axes`).
    Block {
        centre: V3,
        half: V3,
        axes: Matrix3<f64>,
    },
    /// An upright cylinder.
    Can {
        centre: [f64; 2],
        radius: f64,
        low: f64,
        high: f64,
    },
    /// A straight round rod with round ends.
    Rod { a: V3, b: V3, radius: f64 },
    /// An ellipsoid with axes along the frame.
    Ball { centre: V3, radii: V3 },
}

/// How a body looks.
#[derive(Debug, Clone)]
pub(super) enum Skin {
    /// Plain plastic or lacquer: colour, roughness.
    Plastic { colour: Rgb, rough: f64 },
    /// Bare metal: tint, roughness.
    Metal { tint: Rgb, rough: f64 },
    /// Moulded black package with notch and dot.
    Package { notch: bool },
    /// Sleeve of an electrolytic with its minus stripe towards `stripe` (unit vector).
    Sleeve { colour: Rgb, stripe: [f64; 2] },
    /// Resistor body with colour bands along its axis.
    Bands { base: Rgb, bands: Vec<(f64, Rgb)> },
    /// Diode body with its cathode ring.
    Ring { base: Rgb, ring: Rgb, at: f64 },
    /// Coloured lens that glows a little from inside.
    Lens { colour: Rgb },
    /// Screw head with a slot at an angle.
    Screw { slot: f64 },
    /// Seven-segment digits behind red plastic.
    Digits,
    /// Glass tube with metal ends.
    Glass,
}

/// One body.
#[derive(Debug, Clone)]
pub(super) struct Body {
    pub(super) shape: Shape,
    pub(super) skin: Skin,
    pub(super) seed: u32,
    /// Printing on the top face, in mm beside its middle.
    pub(super) print: Vec<Stroke>,
    pub(super) ink: Rgb,
    /// A dark crack line on the top face.
    pub(super) split: Vec<Stroke>,
}

/// Where a ray met a body.
#[derive(Debug, Clone, Copy)]
pub(super) struct Met {
    pub(super) t: f64,
    pub(super) normal: V3,
    /// Place in the body's own axes, mm from its middle; z is height from the middle.
    pub(super) local: V3,
    /// The top face was met.
    pub(super) top: bool,
}

impl Body {
    pub(super) fn new(shape: Shape, skin: Skin, seed: u32) -> Self {
        Self {
            shape,
            skin,
            seed,
            print: Vec::new(),
            ink: Rgb::new(0.6, 0.6, 0.58),
            split: Vec::new(),
        }
    }

    /// Box in x and y that holds the body, and its top.
    pub(super) fn bounds(&self) -> ([f64; 2], [f64; 2], f64) {
        let (centre, reach) = match &self.shape {
            Shape::Block { centre, half, axes } => (*centre, axes.abs() * half),
            Shape::Can {
                centre,
                radius,
                low,
                high,
            } => (
                V3::new(centre[0], centre[1], f64::midpoint(*low, *high)),
                V3::new(*radius, *radius, (high - low) / 2.0),
            ),
            Shape::Rod { a, b, radius } => {
                ((a + b) / 2.0, ((a - b) / 2.0).abs().add_scalar(*radius))
            }
            Shape::Ball { centre, radii } => (*centre, *radii),
        };
        let (low, high) = (centre - reach, centre + reach);
        ([low.x, low.y], [high.x, high.y], high.z)
    }

    /// Nearest meeting of a ray with the body, for `near < t < far`.
    pub(super) fn meet(&self, from: V3, way: V3, near: f64, far: f64) -> Option<Met> {
        let met = match &self.shape {
            Shape::Block { centre, half, axes } => block(from - centre, way, half, axes),
            Shape::Can {
                centre,
                radius,
                low,
                high,
            } => can(from, way, *centre, *radius, *low, *high),
            Shape::Rod { a, b, radius } => rod(from, way, *a, *b, *radius),
            Shape::Ball { centre, radii } => ball(from - centre, way, radii),
        }?;
        (met.t > near && met.t < far).then_some(met)
    }
}

fn block(from: V3, way: V3, half: &V3, axes: &Matrix3<f64>) -> Option<Met> {
    let (o, d) = (axes.tr_mul(&from), axes.tr_mul(&way));
    let (mut t_in, mut t_out, mut axis) = (f64::NEG_INFINITY, f64::INFINITY, 0);
    for i in 0..3 {
        if d[i].abs() < 1e-12 {
            if o[i].abs() > half[i] {
                return None;
            }
            continue;
        }
        let (a, b) = ((-half[i] - o[i]) / d[i], (half[i] - o[i]) / d[i]);
        if a.min(b) > t_in {
            t_in = a.min(b);
            axis = i;
        }
        t_out = t_out.min(a.max(b));
    }
    if t_in >= t_out || t_in <= 0.0 {
        return None;
    }
    let local = o + d * t_in;
    let mut normal = V3::zeros();
    normal[axis] = -d[axis].signum();
    let top = axis == 2 && normal.z > 0.0;
    // A small round on every edge: the normal leans outwards close to it.
    let bevel = 0.28f64.min(half.min() * 0.4);
    for i in 0..3 {
        if i != axis {
            let close = (local[i].abs() - (half[i] - bevel)) / bevel;
            if close > 0.0 {
                normal[i] += local[i].signum() * close * close * 0.9;
            }
        }
    }
    Some(Met {
        t: t_in,
        normal: (axes * normal).normalize(),
        local,
        top,
    })
}

fn can(from: V3, way: V3, centre: [f64; 2], radius: f64, low: f64, high: f64) -> Option<Met> {
    let (ox, oy) = (from.x - centre[0], from.y - centre[1]);
    let mut best: Option<Met> = None;
    if way.z < 0.0 {
        let t = (high - from.z) / way.z;
        let (x, y) = (ox + way.x * t, oy + way.y * t);
        let r = x.hypot(y);
        if t > 0.0 && r < radius {
            let mut normal = V3::z();
            let rim = (r - (radius - 0.4)) / 0.4;
            if rim > 0.0 {
                normal += V3::new(x, y, 0.0) / r * (rim * rim * 1.1);
            }
            best = Some(Met {
                t,
                normal: normal.normalize(),
                local: V3::new(x, y, (high - low) / 2.0),
                top: true,
            });
        }
    }
    let a = way.x * way.x + way.y * way.y;
    if a > 1e-12 {
        let b = ox * way.x + oy * way.y;
        let root = b * b - a * (ox * ox + oy * oy - radius * radius);
        if root > 0.0 {
            let t = (-b - root.sqrt()) / a;
            let z = from.z + way.z * t;
            if t > 0.0 && z > low && z < high && best.is_none_or(|met| t < met.t) {
                let (x, y) = (ox + way.x * t, oy + way.y * t);
                best = Some(Met {
                    t,
                    normal: V3::new(x, y, 0.0) / radius,
                    local: V3::new(x, y, z - f64::midpoint(low, high)),
                    top: false,
                });
            }
        }
    }
    best
}

fn rod(from: V3, way: V3, a: V3, b: V3, radius: f64) -> Option<Met> {
    let (ba, oa) = (b - a, from - a);
    let (baba, bard, baoa) = (ba.dot(&ba), ba.dot(&way), ba.dot(&oa));
    let (rdoa, oaoa) = (way.dot(&oa), oa.dot(&oa));
    let qa = baba - bard * bard;
    let qb = baba * rdoa - baoa * bard;
    let qc = baba * oaoa - baoa * baoa - radius * radius * baba;
    let root = qb * qb - qa * qc;
    if root < 0.0 {
        return None;
    }
    let t = (-qb - root.sqrt()) / qa.max(1e-12);
    let along = baoa + t * bard;
    let (t, axis_point) = if along > 0.0 && along < baba {
        (t, a + ba * (along / baba))
    } else {
        let end = if along <= 0.0 { a } else { b };
        let oc = from - end;
        let (hb, hc) = (way.dot(&oc), oc.dot(&oc) - radius * radius);
        let h = hb * hb - hc;
        if h < 0.0 {
            return None;
        }
        (-hb - h.sqrt(), end)
    };
    if t <= 0.0 {
        return None;
    }
    let at = from + way * t;
    let length = baba.sqrt();
    let lengthwise = (at - a).dot(&ba) / length - length / 2.0;
    Some(Met {
        t,
        normal: (at - axis_point) / radius,
        local: V3::new(lengthwise, 0.0, at.z - axis_point.z),
        top: false,
    })
}

fn ball(from: V3, way: V3, radii: &V3) -> Option<Met> {
    let o = from.component_div(radii);
    let d = way.component_div(radii);
    let (a, b, c) = (d.dot(&d), o.dot(&d), o.dot(&o) - 1.0);
    let root = b * b - a * c;
    if root < 0.0 {
        return None;
    }
    let t = (-b - root.sqrt()) / a;
    if t <= 0.0 {
        return None;
    }
    let local = from + way * t;
    Some(Met {
        t,
        normal: local.component_div(&radii.component_mul(radii)).normalize(),
        local,
        top: false,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn down(x: f64, y: f64, shape: Shape) -> Option<Met> {
        let body = Body::new(shape, Skin::Digits, 0);
        body.meet(V3::new(x, y, 50.0), -V3::z(), 0.0, 1e9)
    }

    #[test]
    fn rays_from_above_meet_the_tops() {
        // Heights by hand.
        let ball = Shape::Ball {
            centre: V3::new(0.0, 0.0, 2.0),
            radii: V3::new(2.0, 2.0, 3.0),
        };
        assert!((down(0.0, 0.0, ball.clone()).unwrap().t - 45.0).abs() < 1e-9);
        assert!(down(2.1, 0.0, ball).is_none());
        let can = Shape::Can {
            centre: [1.0, 1.0],
            radius: 4.0,
            low: 0.0,
            high: 12.0,
        };
        assert!((down(2.0, 2.0, can).unwrap().t - 38.0).abs() < 1e-9);
        let rod = Shape::Rod {
            a: V3::new(-3.0, 0.0, 2.0),
            b: V3::new(3.0, 0.0, 2.0),
            radius: 1.0,
        };
        assert!((down(1.0, 0.0, rod.clone()).unwrap().t - 47.0).abs() < 1e-9);
        assert!((down(3.5, 0.0, rod).unwrap().t - (48.0 - 0.75f64.sqrt())).abs() < 1e-9);
        let block = Shape::Block {
            centre: V3::new(0.0, 0.0, 4.0),
            half: V3::new(5.0, 3.0, 4.0),
            axes: Matrix3::identity(),
        };
        let met = down(1.0, 1.0, block).unwrap();
        assert!((met.t - 42.0).abs() < 1e-9 && met.top);
    }
}
