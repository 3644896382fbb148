//! What colour a ray brings home.

mod board;
mod joint;

use super::body::{Body, Met, Skin};
use super::font::distance;
use super::light::{Rgb, Room, V3};
use super::noise::{fbm, lerp, mix, smoothstep, unit, value};
use super::scene::{Hit, Scene};

/// How a surface answers light.
#[derive(Debug, Clone, Copy)]
pub(super) struct Surface {
    pub(super) albedo: Rgb,
    /// Mirror share at right angles.
    pub(super) mirror: Rgb,
    pub(super) rough: f64,
    pub(super) normal: V3,
}

/// The random choices of one ray: those of a pixel's rays are spread evenly.
#[derive(Debug, Clone, Copy)]
pub(super) struct Dice {
    /// The pixel's hash.
    pub(super) pixel: u64,
    /// The ray's number within the pixel.
    pub(super) ray: u64,
}

impl Dice {
    /// The dice of one of several probes of the same ray.
    fn probe(self, number: u64, of: u64) -> Self {
        Self {
            pixel: self.pixel,
            ray: self.ray * of + number,
        }
    }

    /// Two values in 0..1 for a purpose (additive recurrence on the plastic number's powers,
    /// which fills the square evenly whatever the count).
    pub(super) fn pair(self, purpose: u64) -> [f64; 2] {
        let h = mix(self.pixel ^ mix(purpose));
        let k = self.ray as f64;
        [
            (unit(h) + k * 0.754_877_666).fract(),
            (unit(mix(h)) + k * 0.569_840_291).fract(),
        ]
    }
}

/// Everything a ray needs.
pub(super) struct Tracer<'a> {
    pub(super) scene: &'a Scene,
    pub(super) room: &'a Room,
    /// Size of a pixel on the board in mm: detail finer than this is left out.
    pub(super) pixel: f64,
}

fn grey(level: f64) -> Rgb {
    Rgb::new(level, level, level)
}

fn blend(a: Rgb, b: Rgb, t: f64) -> Rgb {
    a * (1.0 - t) + b * t
}

fn reflect(way: V3, normal: V3) -> V3 {
    way - normal * (2.0 * way.dot(&normal))
}

impl Tracer<'_> {
    /// Radiance along a ray; `hash` makes its random choices.
    pub(super) fn radiance(&self, from: V3, way: V3, dice: Dice) -> Rgb {
        match self.scene.trace(from, way) {
            Hit::Joint { index, at } => self.joint(&self.scene.patches[index], at, way, dice),
            Hit::Body { index, met } => {
                let at = from + way * met.t;
                let surface = self.skin(&self.scene.bodies[index], &met, at);
                self.lit(at, way, &surface, dice, true)
            }
            Hit::Board(at) => {
                let surface = self.board(at);
                self.lit(at, way, &surface, dice, false)
            }
            Hit::Edge(at) => self
                .bench_light(at, dice)
                .component_mul(&Rgb::new(0.3, 0.27, 0.15)),
            Hit::Bench(at) => self.bench(at, dice),
            Hit::Nothing => grey(0.02),
        }
    }

    /// Light on an ordinary surface: diffuse with shadows, and its mirror image of the room.
    fn lit(&self, at: V3, way: V3, surface: &Surface, dice: Dice, raised: bool) -> Rgb {
        let n = surface.normal;
        let start = at + n * 0.02;
        let mut light = grey(0.0);
        for (index, source) in self.room.sources.iter().enumerate() {
            let falls = source.falls_on(at, n);
            if falls.sum() < 1e-5 {
                continue;
            }
            // The first lamp throws the visible shadows: three probes keep their edge smooth.
            let probes = if index == 0 { 3 } else { 1 };
            for probe in 0..probes {
                let [u, v] = dice.probe(probe, probes).pair(index as u64 + 1);
                let spot = source.point(u * 2.0 - 1.0, v * 2.0 - 1.0);
                if !self.scene.blocked(start, spot) {
                    light += falls / probes as f64;
                }
            }
        }
        let open = self.openness(start, n, dice);
        light += self.room.ambient * (open * (0.62 + 0.38 * n.z));
        let facing = (-way.dot(&n)).clamp(0.0, 1.0);
        let fresnel = (1.0 - facing).powi(5) * (1.0 - surface.rough).max(0.0);
        let mirror = surface.mirror + (grey(1.0) - surface.mirror) * fresnel;
        let bounce = reflect(way, n);
        let seen = if bounce.z < 0.02 || (raised && self.hidden(start, bounce)) {
            self.room.ambient * 0.25
        } else {
            self.room.mirror(at, bounce, surface.rough)
        };
        surface.albedo.component_mul(&light) + mirror.component_mul(&seen) * (0.35 + 0.65 * open)
    }

    fn hidden(&self, start: V3, bounce: V3) -> bool {
        !self.scene.bodies.is_empty() && self.scene.blocked(start, start + bounce * 40.0)
    }

    /// Share of the sky that is open: one probe ray, averaged by the pixel's samples.
    fn openness(&self, start: V3, normal: V3, dice: Dice) -> f64 {
        if self.scene.bodies.is_empty() {
            return 1.0;
        }
        let [a, b] = dice.pair(0x51);
        let (sin, cos) = (a * std::f64::consts::TAU).sin_cos();
        let r = b.sqrt();
        let helper = if normal.z.abs() > 0.9 {
            V3::x()
        } else {
            V3::z()
        };
        let across = helper.cross(&normal).normalize();
        let along = normal.cross(&across);
        let probe = across * (r * cos) + along * (r * sin) + normal * (1.0 - b).max(0.0).sqrt();
        if self.scene.blocked(start, start + probe * 14.0) {
            0.25
        } else {
            1.0
        }
    }

    /// A body's surface where a ray met it.
    fn skin(&self, body: &Body, met: &Met, at: V3) -> Surface {
        let mut surface = super::skin::surface(body, met, at, self.pixel);
        let width = (self.pixel * 0.6).max(0.02);
        if met.top && !body.print.is_empty() {
            let spot = [met.local.x, met.local.y];
            let near = body
                .print
                .iter()
                .map(|stroke| distance(spot, stroke))
                .fold(f64::MAX, f64::min);
            let worn = 0.55 + 0.5 * fbm(at.x * 2.0, at.y * 2.0, 2, body.seed ^ 5);
            let pen = body.ink.sum() < 0.3;
            let (half, worn) = if pen { (0.17, 1.0) } else { (0.09, worn) };
            let cover = smoothstep(half + width, half - width, near) * worn.min(1.0);
            surface.albedo = blend(surface.albedo, body.ink, cover * 0.85);
        }
        if met.top && !body.split.is_empty() {
            let jag = 0.12 * (fbm(at.x * 2.5, at.y * 2.5, 3, body.seed) - 0.5);
            let spot = [met.local.x + jag, met.local.y + jag];
            let near = body
                .split
                .iter()
                .map(|stroke| distance(spot, stroke))
                .fold(f64::MAX, f64::min);
            let cover = smoothstep(0.07 + width, 0.04, near);
            surface.albedo *= 1.0 - 0.93 * cover;
            surface.mirror *= 1.0 - cover;
            let pale = (-((near - 0.2) / 0.1).powi(2)).exp();
            surface.albedo = blend(surface.albedo, grey(0.35), 0.25 * pale);
        }
        if matches!(body.skin, Skin::Lens { .. } | Skin::Glass) {
            return surface;
        }
        let lying = smoothstep(0.6, 1.0, surface.normal.z);
        let dust = smoothstep(0.45, 0.8, fbm(at.x * 0.9, at.y * 0.9, 3, body.seed ^ 19)) * lying;
        surface.albedo = blend(surface.albedo, Rgb::new(0.36, 0.34, 0.3), 0.06 * dust);
        surface
    }

    /// Light that reaches the bench past the board.
    fn bench_light(&self, at: V3, dice: Dice) -> Rgb {
        let scene = self.scene;
        let edge = |x: f64, y: f64| {
            let x = x * scene.mirror;
            x.min(y).min(scene.size[0] - x).min(scene.size[1] - y)
        };
        let mut light = grey(0.0);
        for (index, source) in self.room.sources.iter().enumerate() {
            let [u, v] = dice.pair(index as u64 + 31);
            let spot = source.point(u * 2.0 - 1.0, v * 2.0 - 1.0);
            let way = spot - at;
            let across = at - way * (at.z / way.z);
            let inside = edge(across.x, across.y) > 0.0;
            if !inside {
                light += source.falls_on(at, V3::z());
            }
        }
        let near = edge(at.x, at.y);
        let deep = -scene.bench;
        let open = smoothstep(deep * 0.6, -deep * 1.6, near);
        light + self.room.ambient * (0.12 + 0.88 * open)
    }

    fn bench(&self, at: V3, dice: Dice) -> Rgb {
        let albedo = super::skin::bench(at.x, at.y, self.scene.bench_style, self.pixel);
        let light = self.bench_light(at, dice);
        albedo.component_mul(&light)
    }
}

fn mixed(a: &Surface, b: &Surface, t: f64) -> Surface {
    Surface {
        albedo: blend(a.albedo, b.albedo, t),
        mirror: blend(a.mirror, b.mirror, t),
        rough: lerp(a.rough, b.rough, t),
        normal: (a.normal * (1.0 - t) + b.normal * t).normalize(),
    }
}

/// The cloth of the laminate: threads about 0.45 mm apart.
fn cloth(x: f64, y: f64) -> f64 {
    let u = (x * 13.9 + 0.6 * value(y * 0.2, x * 0.2, 5)).sin();
    let v = (y * 13.1 + 0.6 * value(x * 0.2, y * 0.2, 6)).sin();
    let over = (x * 6.95).sin() * (y * 6.55).sin();
    0.1 * if over > 0.0 { u } else { v } + 0.06 * over
}
