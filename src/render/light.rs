//! What lights a bench and what solder mirrors: lamps and windows with a place and a size, a
//! ceiling that falls off into a dark room, and the dark shape of camera and operator.

use nalgebra::Vector3;

use super::noise::{smoothstep, value};

/// A vector in the side's frame, mm.
pub(super) type V3 = Vector3<f64>;
/// A linear colour.
pub(super) type Rgb = Vector3<f64>;

/// The shape of a light.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LampShape {
    /// A bulb or round shade.
    Round,
    /// A softbox or tube.
    Box,
    /// A window with a cross of bars.
    Window,
}

/// One light.
#[derive(Debug, Clone, PartialEq)]
pub struct Lamp {
    /// Where it stands over the board's middle, mm, in the frame of the viewed side
    /// (x right, y up as seen, z towards the viewer).
    pub at: [f64; 3],
    /// Half width and half height in mm.
    pub half: [f64; 2],
    /// Share of the light on the board, 1 = all of a normal exposure.
    pub power: f64,
    /// Colour, linear, about 1.
    pub tint: [f64; 3],
    /// Shape in mirrors.
    pub shape: LampShape,
}

/// All light of one photo.
#[derive(Debug, Clone, PartialEq)]
pub struct Light {
    /// Lamps and windows, two to five.
    pub lamps: Vec<Lamp>,
    /// Light from everywhere else.
    pub ambient: f64,
    /// Colour of that light.
    pub ambient_tint: [f64; 3],
    /// Brightness of the picture: 1 is normal, more is brighter.
    pub exposure: f64,
}

fn lamp(at: [f64; 3], half: [f64; 2], power: f64, tint: [f64; 3], shape: LampShape) -> Lamp {
    Lamp {
        at,
        half,
        power,
        tint,
        shape,
    }
}

const WARM: [f64; 3] = [1.12, 0.98, 0.78];
const DAY: [f64; 3] = [0.93, 1.0, 1.1];
const TUBE: [f64; 3] = [0.98, 1.03, 0.98];

impl Light {
    /// One of six benches: 0 lamp and window, 1 two softboxes, 2 tubes overhead, 3 window
    /// alone, 4 lamp from the right, 5 lamp held near the camera.
    #[must_use]
    pub fn bench(which: usize) -> Self {
        use LampShape::{Box, Round, Window};
        let (lamps, ambient, ambient_tint) = match which % 6 {
            0 => (
                vec![
                    lamp([-260.0, 190.0, 330.0], [80.0, 80.0], 0.62, WARM, Round),
                    lamp([620.0, 420.0, 520.0], [230.0, 300.0], 0.3, DAY, Window),
                    lamp([60.0, -300.0, 1500.0], [300.0, 60.0], 0.12, TUBE, Box),
                ],
                0.2,
                [1.0, 0.98, 0.94],
            ),
            1 => (
                vec![
                    lamp([-420.0, 120.0, 420.0], [130.0, 170.0], 0.5, TUBE, Box),
                    lamp([400.0, 160.0, 380.0], [110.0, 150.0], 0.36, TUBE, Box),
                    lamp([30.0, 700.0, 900.0], [120.0, 60.0], 0.1, WARM, Box),
                    lamp([-120.0, -520.0, 600.0], [26.0, 26.0], 0.05, WARM, Round),
                ],
                0.2,
                [1.0, 1.0, 1.0],
            ),
            2 => (
                vec![
                    lamp([-260.0, 330.0, 1250.0], [620.0, 30.0], 0.42, TUBE, Box),
                    lamp([-160.0, 640.0, 1250.0], [620.0, 30.0], 0.34, TUBE, Box),
                    lamp([-800.0, -100.0, 500.0], [190.0, 260.0], 0.18, DAY, Window),
                ],
                0.28,
                [0.97, 1.0, 0.98],
            ),
            3 => (
                vec![
                    lamp([-760.0, 330.0, 520.0], [300.0, 340.0], 0.75, DAY, Window),
                    lamp([500.0, -420.0, 1300.0], [70.0, 70.0], 0.14, WARM, Round),
                ],
                0.24,
                [0.98, 1.0, 1.05],
            ),
            4 => (
                vec![
                    lamp([280.0, 230.0, 300.0], [75.0, 75.0], 0.66, WARM, Round),
                    lamp([-560.0, 500.0, 640.0], [200.0, 240.0], 0.22, DAY, Window),
                    lamp([-200.0, -380.0, 1300.0], [260.0, 40.0], 0.14, TUBE, Box),
                ],
                0.2,
                [1.0, 0.97, 0.92],
            ),
            _ => (
                vec![
                    lamp(
                        [90.0, 120.0, 300.0],
                        [60.0, 60.0],
                        0.58,
                        [1.04, 1.0, 0.93],
                        Round,
                    ),
                    lamp([-340.0, 260.0, 420.0], [90.0, 90.0], 0.28, WARM, Round),
                    lamp([640.0, 380.0, 700.0], [200.0, 260.0], 0.16, DAY, Window),
                ],
                0.2,
                [1.0, 0.98, 0.95],
            ),
        };
        Self {
            lamps,
            ambient,
            ambient_tint,
            exposure: 1.0,
        }
    }

    /// The same light with its lamps moved round the board by an angle.
    #[must_use]
    pub fn turned(mut self, degrees: f64) -> Self {
        let (sin, cos) = degrees.to_radians().sin_cos();
        for lamp in &mut self.lamps {
            let [x, y, z] = lamp.at;
            lamp.at = [x * cos - y * sin, x * sin + y * cos, z];
        }
        self
    }
}

/// A lamp made ready for tracing.
#[derive(Debug, Clone)]
pub(super) struct Source {
    pub(super) at: V3,
    pub(super) across: V3,
    pub(super) up: V3,
    facing: V3,
    half: [f64; 2],
    radiance: Rgb,
    pub(super) irradiance: Rgb,
    reference: f64,
    shape: LampShape,
}

/// Light of one photo made ready: sources placed, camera known.
#[derive(Debug, Clone)]
pub(super) struct Room {
    pub(super) sources: Vec<Source>,
    pub(super) ambient: Rgb,
    camera: V3,
    camera_up: V3,
    seed: u32,
}

impl Room {
    pub(super) fn new(light: &Light, middle: V3, camera: V3, camera_up: V3, seed: u32) -> Self {
        let sources = light
            .lamps
            .iter()
            .map(|lamp| source(lamp, middle))
            .collect();
        let tint = Vector3::from(light.ambient_tint);
        Self {
            sources,
            ambient: tint * light.ambient,
            camera,
            camera_up,
            seed,
        }
    }

    /// Radiance that arrives at `from` out of direction `way`; `rough` softens what is bright.
    pub(super) fn mirror(&self, from: V3, way: V3, rough: f64) -> Rgb {
        let mut sum = self.dim(way, rough);
        let to_camera = (self.camera - from).normalize();
        let facing = way.dot(&to_camera);
        // The operator: camera, hands and body fill the lower side of the camera's direction.
        let below = (way - to_camera).dot(&self.camera_up);
        let reach = 0.93 - 0.13 * smoothstep(0.05, -0.35, below);
        let lobe = smoothstep(reach - 0.06 - 0.2 * rough, reach + 0.05, facing);
        sum *= 1.0 - 0.88 * lobe;
        for source in &self.sources {
            sum += source.radiance * source.seen(from, way, rough);
        }
        sum
    }

    /// The room without its lamps: ceiling, walls with furniture, floor.
    fn dim(&self, way: V3, rough: f64) -> Rgb {
        let up = way.z;
        let soft = 0.05 + 0.5 * rough;
        let things = 0.7 * value(way.x * 3.1 + 5.0, way.y * 3.1 + 9.0, self.seed)
            + 0.3 * value(way.x * 9.0, way.y * 9.0, self.seed ^ 17);
        let walls = 0.02 + 0.5 * smoothstep(0.55 - soft, 0.55 + soft, things);
        let fields = value(way.x * 2.4 + 2.0, way.y * 2.4, self.seed ^ 40);
        let ceiling = 0.05 + 0.95 * smoothstep(0.5 - soft, 0.5 + soft, fields);
        let high = smoothstep(0.45 - 0.3 * rough, 0.75 + 0.3 * rough, up);
        let floor = smoothstep(-0.1, 0.25, up);
        self.ambient * (2.2 * (walls * (1.0 - high) + ceiling * high) * (0.25 + 0.75 * floor))
    }
}

fn source(lamp: &Lamp, middle: V3) -> Source {
    let at = middle + Vector3::from(lamp.at);
    let facing = (middle - at).normalize();
    let helper = if facing.z.abs() > 0.95 {
        V3::y()
    } else {
        V3::z()
    };
    let across = helper.cross(&facing).normalize();
    let up = facing.cross(&across);
    let reference = (middle - at).norm();
    let tint = Vector3::from(lamp.tint);
    // Power is the irradiance on the level board at its middle; radiance follows from the
    // solid angle (Lambert's law).
    let area = 4.0 * lamp.half[0] * lamp.half[1];
    let solid = area / (reference * reference);
    let level = (-facing.z).max(0.2);
    Source {
        at,
        across,
        up,
        facing,
        half: lamp.half,
        radiance: tint * (lamp.power * std::f64::consts::PI / (solid * level)).min(60.0) * 0.6,
        irradiance: tint * (lamp.power / level),
        reference,
        shape: lamp.shape,
    }
}

impl Source {
    /// Share of the source in a mirror that looks along `way`, 0..1.
    fn seen(&self, from: V3, way: V3, rough: f64) -> f64 {
        let ahead = way.dot(&-self.facing);
        if ahead <= 0.05 {
            return 0.0;
        }
        let distance = (self.at - from).dot(&-self.facing);
        let hit = from + way * (distance / ahead) - self.at;
        let (u, v) = (hit.dot(&self.across), hit.dot(&self.up));
        let soft = distance * (0.012 + 0.55 * rough * rough + 0.12 * rough);
        let (w, h) = (self.half[0], self.half[1]);
        let edge = |d: f64, half: f64| {
            smoothstep(half + soft, (half - soft).min(half * 0.5), d.abs())
                * (half / (half + 0.7 * soft)).min(1.0)
        };
        match self.shape {
            LampShape::Round => {
                let share = (w / (w + 0.7 * soft)).powi(2);
                share * smoothstep(w + soft, (w - soft).min(w * 0.4), (u * u + v * v).sqrt())
            }
            LampShape::Box => edge(u, w) * edge(v, h),
            LampShape::Window => {
                let bar = |d: f64| smoothstep(0.03 * w - soft, 0.05 * w + soft, d.abs());
                edge(u, w) * edge(v, h) * (0.25 + 0.75 * bar(u) * bar(v))
            }
        }
    }

    /// A point of the source for shadow rays; `u` and `v` in -1..1.
    pub(super) fn point(&self, u: f64, v: f64) -> V3 {
        self.at + self.across * (u * self.half[0]) + self.up * (v * self.half[1])
    }

    /// Unshadowed irradiance on a surface with normal `normal` at `at`.
    pub(super) fn falls_on(&self, at: V3, normal: V3) -> Rgb {
        let way = self.at - at;
        let distance = way.norm();
        let cosine = way.dot(&normal) / distance;
        self.irradiance * (cosine.max(0.0) * (self.reference / distance).powi(2))
    }
}
