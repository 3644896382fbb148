//! What colour a ray brings home.

use super::body::{Body, Met, Skin};
use super::font::distance;
use super::light::{Rgb, Room, V3};
use super::noise::{fbm, lerp, mix, smoothstep, unit, value};
use super::scene::{Base, Hit, Scene, march};
use super::solder::{Patch, Recipe, Stuff};

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

    /// The flat board at a place of the side's frame.
    fn board(&self, at: V3) -> Surface {
        let scene = self.scene;
        let (x, y) = (at.x * scene.mirror, at.y);
        let width = (self.pixel * 0.6).max(0.018);
        let atlas = &scene.atlas;
        let copper_mm = atlas.copper.sample(x, y);
        let open_mm = atlas.opening.sample(x, y);
        let copper = smoothstep(-width, width, copper_mm);
        let open = smoothstep(-width, width, open_mm);
        let mut surface = match scene.base {
            Base::Green => self.green(x, y, copper, copper_mm),
            Base::Brown => self.brown(x, y, copper),
        };
        let relief = self.relief(x, y);
        let grain = self.grain(x, y);
        surface.normal = V3::new(
            scene.mirror * (relief[0] + grain[0]),
            relief[1] + grain[1],
            1.0,
        )
        .normalize();
        if open > 0.0 && scene.base == Base::Green {
            let bare = self.bare(x, y, copper);
            surface = mixed(&surface, &bare, open);
        }
        let silk_mm = atlas.silk.sample(x, y);
        if silk_mm > -0.1 {
            let worn = fbm(x * 2.1, y * 2.1, 3, scene.seed ^ 61) - 0.42;
            let edge = silk_mm + 0.05 * (value(x * 9.0, y * 9.0, 62) - 0.5);
            let cover = smoothstep(-width, width, edge) * smoothstep(-0.16, 0.0, worn) * 0.9;
            let ink = Surface {
                albedo: Rgb::new(0.66, 0.65, 0.56),
                mirror: grey(0.03),
                rough: 0.5,
                normal: surface.normal,
            };
            surface = mixed(&surface, &ink, cover * (1.0 - open));
        }
        self.flux(&mut surface, x, y, open_mm);
        self.stained(&mut surface, at);
        self.dirt(&mut surface, x, y);
        surface
    }

    /// Laminate and covered copper under a green mask.
    fn green(&self, x: f64, y: f64, copper: f64, copper_mm: f64) -> Surface {
        let seed = self.scene.seed;
        let slow = fbm(x * 0.035, y * 0.035, 3, seed ^ 1) - 0.5;
        let mottle = fbm(x * 0.55, y * 0.55, 2, seed ^ 2) - 0.5;
        let fade = smoothstep(0.14, 0.05, self.pixel);
        let weave = 0.2 * fade * cloth(x, y);
        let laminate = Rgb::new(0.027, 0.052, 0.024) * (1.0 + 0.35 * slow + 0.2 * mottle + weave);
        let over = Rgb::new(0.052, 0.094, 0.037) * (1.0 + 0.3 * slow + 0.18 * mottle);
        // Mask runs thin on the edge of a track and pools beside it.
        let pool = (-((copper_mm + 0.09) / 0.08).powi(2)).exp();
        let thin = (-((copper_mm - 0.06) / 0.06).powi(2)).exp();
        let albedo = blend(laminate, over, copper) * (1.0 - 0.3 * pool + 0.16 * thin);
        Surface {
            albedo,
            mirror: grey(0.024),
            rough: (0.27 + 0.25 * (fbm(x * 0.09, y * 0.09, 2, seed ^ 3) - 0.4)).clamp(0.12, 0.5),
            normal: V3::z(),
        }
    }

    /// Brown phenolic paper with bare, tinned copper.
    fn brown(&self, x: f64, y: f64, copper: f64) -> Surface {
        let seed = self.scene.seed;
        let slow = fbm(x * 0.04, y * 0.04, 3, seed ^ 1) - 0.5;
        let fibre = fbm(x * 0.5, y * 3.1, 3, seed ^ 2) - 0.5;
        let paper = Surface {
            albedo: Rgb::new(0.235, 0.125, 0.05) * (1.0 + 0.4 * slow + 0.3 * fibre),
            mirror: grey(0.036),
            rough: 0.2,
            normal: V3::z(),
        };
        mixed(&paper, &self.bare(x, y, 1.0), copper)
    }

    /// What a mask opening shows: tinned copper or bare laminate.
    fn bare(&self, x: f64, y: f64, copper: f64) -> Surface {
        let seed = self.scene.seed;
        let tarnish = fbm(x * 0.9, y * 0.9, 3, seed ^ 31);
        let fade = smoothstep(0.2, 0.05, self.pixel);
        let step = 0.04;
        let bump = |x: f64, y: f64| 0.06 * fbm(x * 1.6, y * 1.6, 3, seed ^ 33);
        let here = bump(x, y);
        let slope = [
            (bump(x + step, y) - here) / step,
            (bump(x, y + step) - here) / step,
        ];
        let tin = Surface {
            albedo: grey(0.16 + 0.1 * tarnish),
            mirror: blend(
                Rgb::new(0.66, 0.65, 0.61),
                Rgb::new(0.34, 0.31, 0.25),
                tarnish,
            ),
            rough: 0.2 + 0.25 * tarnish,
            normal: V3::new(self.scene.mirror * slope[0] * fade, slope[1] * fade, 1.0).normalize(),
        };
        let laminate = Surface {
            albedo: Rgb::new(0.075, 0.075, 0.032),
            mirror: grey(0.03),
            rough: 0.4,
            normal: V3::z(),
        };
        mixed(&laminate, &tin, copper)
    }

    /// Slope of the mask over the edges of tracks.
    fn relief(&self, x: f64, y: f64) -> [f64; 2] {
        let step = 0.06f64.max(self.pixel * 0.5);
        let layer = &self.scene.atlas.copper;
        let high = |x: f64, y: f64| 0.026 * smoothstep(-0.14, 0.16, layer.sample(x, y));
        [
            (high(x + step, y) - high(x - step, y)) / (2.0 * step),
            (high(x, y + step) - high(x, y - step)) / (2.0 * step),
        ]
    }

    /// Slope of the mask's own unevenness.
    fn grain(&self, x: f64, y: f64) -> [f64; 2] {
        let seed = self.scene.seed;
        let peel = |s: u32| (fbm(x * 0.8, y * 0.8, 2, seed ^ s) - 0.5) * 0.035;
        [peel(41), peel(42)]
    }

    /// Amber residue round joints.
    fn flux(&self, surface: &mut Surface, x: f64, y: f64, open_mm: f64) {
        if self.scene.flux <= 0.0 || open_mm <= -0.99 {
            return;
        }
        let seed = self.scene.seed ^ 0xF1;
        let close = 1.0 + open_mm.min(0.0);
        let area = fbm(x * 0.11, y * 0.11, 2, seed ^ 5);
        let level = |x: f64, y: f64| {
            0.62 * fbm(x * 0.75, y * 0.75, 3, seed) + 0.42 * close + 0.5 * (area - 0.5)
                - (0.84 - 0.25 * self.scene.flux)
        };
        let here = level(x, y);
        let cover = smoothstep(0.0, 0.035, here);
        if cover <= 0.0 {
            return;
        }
        let rim = 1.0 - smoothstep(0.0, 0.09, here);
        let amber = blend(
            Rgb::new(0.86, 0.7, 0.4),
            Rgb::new(0.6, 0.36, 0.12),
            (here * 3.0).min(1.0),
        );
        surface.albedo = blend(
            surface.albedo,
            surface.albedo.component_mul(&amber) + Rgb::new(0.014, 0.009, 0.002),
            cover * (0.55 + 0.4 * rim),
        );
        let step = 0.05;
        let slope = [
            (level(x + step, y) - here) / step * 0.16,
            (level(x, y + step) - here) / step * 0.16,
        ];
        surface.normal = (surface.normal
            + V3::new(-self.scene.mirror * slope[0], -slope[1], 0.0) * (0.35 + rim))
            .normalize();
        surface.rough = lerp(surface.rough, 0.05, cover);
        surface.mirror += grey(0.012) * cover;
    }

    /// Leaks, repairs and other stains.
    fn stained(&self, surface: &mut Surface, at: V3) {
        for stain in &self.scene.stains {
            let d =
                ((at.x - stain.at[0]).powi(2) + (at.y - stain.at[1]).powi(2)).sqrt() / stain.radius;
            if d > 1.5 {
                continue;
            }
            let ragged = d + 0.9 * (fbm(at.x * 0.5, at.y * 0.5, 4, 901) - 0.5);
            let cover = stain.strength * smoothstep(1.0, 0.55, ragged);
            if cover <= 0.0 {
                continue;
            }
            if stain.crust {
                let grain = fbm(at.x * 3.0, at.y * 3.0, 3, 907);
                let dry = smoothstep(0.42, 0.62, grain) * smoothstep(0.9, 0.3, ragged);
                surface.albedo = blend(
                    surface.albedo.component_mul(&Rgb::new(0.75, 0.62, 0.4)),
                    Rgb::new(0.5, 0.52, 0.42) * (0.6 + 0.6 * grain),
                    dry * cover,
                );
                surface.rough = lerp(surface.rough, 0.6, cover);
            } else {
                let rim = smoothstep(0.5, 0.95, ragged);
                let tint = blend(Rgb::new(0.72, 0.5, 0.22), Rgb::new(0.4, 0.22, 0.07), rim);
                surface.albedo = blend(
                    surface.albedo,
                    surface.albedo.component_mul(&tint) + Rgb::new(0.02, 0.011, 0.002),
                    cover * 0.85,
                );
                surface.rough = lerp(surface.rough, 0.06, cover);
                let slope = fbm(at.x * 1.3, at.y * 1.3, 3, 911) - 0.5;
                let cross = fbm(at.x * 1.3, at.y * 1.3, 3, 912) - 0.5;
                surface.normal =
                    (surface.normal + V3::new(slope, cross, 0.0) * (0.5 * cover)).normalize();
            }
        }
    }

    /// Dust, fingermarks and fine scratches.
    fn dirt(&self, surface: &mut Surface, x: f64, y: f64) {
        let seed = self.scene.seed;
        let film = smoothstep(0.5, 0.8, fbm(x * 0.05, y * 0.05, 3, seed ^ 81));
        let dusty = smoothstep(0.4, 0.75, fbm(x * 3.3, y * 3.3, 3, seed ^ 82));
        let haze = 0.018 * film + 0.015 * dusty * film;
        surface.albedo = blend(surface.albedo, Rgb::new(0.42, 0.4, 0.36), haze);
        surface.rough = lerp(surface.rough, 0.45, film * 0.5);
        let cell = [(x / 1.7).floor(), (y / 1.7).floor()];
        let h = mix((cell[0] as i64 as u64) << 20 ^ cell[1] as i64 as u64 ^ u64::from(seed) << 40);
        if unit(h) < 0.16 {
            let at = [
                (cell[0] + unit(mix(h ^ 1))) * 1.7,
                (cell[1] + unit(mix(h ^ 2))) * 1.7,
            ];
            let size = (0.02 + 0.09 * unit(mix(h ^ 3)).powi(4))
                * (0.5 + value(x * 14.0, y * 14.0, seed ^ 83));
            let cover = smoothstep(
                size + self.pixel * 0.5,
                size * 0.6,
                (x - at[0]).hypot(y - at[1]),
            );
            let pale = if unit(mix(h ^ 4)) < 0.75 { 0.24 } else { 0.03 };
            surface.albedo = blend(surface.albedo, grey(pale), cover * 0.75);
        }
        // Scratches: thin bright lines in a few directions.
        for k in 0..2u32 {
            let turn = 0.5 + f64::from(k) * 1.3 + value(x * 0.02, y * 0.02, seed ^ (90 + k));
            let across = x * turn.cos() + y * turn.sin();
            let along = -x * turn.sin() + y * turn.cos();
            let lane = (across / 5.3).floor();
            let spot = unit(mix(lane as i64 as u64 ^ u64::from(seed ^ k) << 24));
            let d = (across - (lane + spot) * 5.3).abs();
            let on = smoothstep(0.72, 0.8, value(along * 0.06, lane * 3.7, seed ^ (95 + k)));
            let cover = smoothstep(0.03 + self.pixel * 0.4, 0.0, d) * on;
            surface.albedo = blend(
                surface.albedo,
                surface.albedo * 1.5 + grey(0.03),
                cover * 0.1,
            );
        }
    }

    /// The skin of a joint and everything it mirrors.
    fn joint(&self, patch: &Patch, at: V3, way: V3, dice: Dice) -> Rgb {
        let (stuff, grime) = patch.stuff(at.x, at.y);
        let [sx, sy] = patch.slope(at.x, at.y);
        let (lx, ly) = (at.x - patch.centre[0], at.y - patch.centre[1]);
        let seed = patch.recipe.seed;
        if stuff == Stuff::Hole {
            let deep = smoothstep(0.1, -1.1, at.z);
            return self.room.ambient * lerp(0.22, 0.015, deep);
        }
        let dull = smoothstep(0.4, 0.72, fbm(lx * 1.4 + 3.0, ly * 1.4, 3, seed ^ 301));
        let fade = smoothstep(0.12, 0.03, self.pixel);
        let micro = (0.03 + 0.2 * patch.rough + 0.1 * dull) * fade;
        let bump = |s: u32| (fbm(at.x * 9.0, at.y * 9.0, 2, seed ^ s) - 0.5) * micro;
        let mut normal = V3::new(-sx + bump(310), -sy + bump(311), 1.0).normalize();
        if normal.dot(&way) > -0.05 {
            normal = (normal - way * (normal.dot(&way) + 0.05)).normalize();
        }
        let mut rough = patch.rough * 0.8 + 0.22 * dull + 0.5 * self.pixel.min(0.2);
        let mut tint = Rgb::new(0.84, 0.83, 0.80) * (1.0 - 0.4 * dull);
        let mut albedo = grey(0.02 + 0.09 * dull);
        if stuff == Stuff::Pin {
            tint = match seed & 3 {
                0 => Rgb::new(0.78, 0.52, 0.34),
                1 => Rgb::new(0.62, 0.58, 0.5),
                _ => Rgb::new(0.8, 0.76, 0.68),
            };
            rough = 0.24;
            albedo = tint * 0.12;
        }
        let amber = blend(grey(1.0), Rgb::new(0.42, 0.27, 0.11), grime.min(1.0));
        let shade = 1.0 - 0.55 * grime;
        let mut colour = self.metal(patch, at, way, normal, rough);
        colour = colour.component_mul(&tint);
        colour += albedo.component_mul(&self.plain_light(at, normal, dice));
        colour = colour.component_mul(&amber) * shade;
        self.cracked(&patch.recipe, [lx, ly], colour)
    }

    /// Diffuse light with shadows.
    fn plain_light(&self, at: V3, normal: V3, dice: Dice) -> Rgb {
        let mut light = self.room.ambient * (0.6 + 0.4 * normal.z);
        for (index, source) in self.room.sources.iter().enumerate() {
            let falls = source.falls_on(at, normal);
            let [u, v] = dice.pair(index as u64 + 71);
            let spot = source.point(u * 2.0 - 1.0, v * 2.0 - 1.0);
            if falls.sum() > 1e-4 && !self.scene.blocked(at + normal * 0.05, spot) {
                light += falls;
            }
        }
        light
    }

    /// Mirror image of the room in metal, with one bounce on the joint itself.
    fn metal(&self, patch: &Patch, at: V3, way: V3, normal: V3, rough: f64) -> Rgb {
        let bounce = reflect(way, normal);
        let start = at + normal * 0.03;
        let facing = (-way.dot(&normal)).clamp(0.0, 1.0);
        let gain = 0.9 + 0.1 * (1.0 - facing).powi(5);
        if let Some(t) = march(patch, start, bounce, 0.02, 1.6) {
            let there = start + bounce * t;
            let [sx, sy] = patch.slope(there.x, there.y);
            let second = V3::new(-sx, -sy, 1.0).normalize();
            let next = reflect(bounce, second);
            return if next.z > 0.0 {
                self.room.mirror(there, next, rough + 0.08) * (0.55 * gain)
            } else {
                self.ground(at) * 0.4
            };
        }
        if bounce.z < 0.0 {
            return self.ground(at) * gain;
        }
        let sky = self.room.mirror(at, bounce, rough);
        let low = smoothstep(0.0, 0.12, bounce.z);
        (self.ground(at) * (1.0 - low) + sky * low) * gain
    }

    /// The lit board, as a joint mirrors it.
    fn ground(&self, at: V3) -> Rgb {
        let colour = match self.scene.base {
            Base::Green => Rgb::new(0.013, 0.018, 0.011),
            Base::Brown => Rgb::new(0.05, 0.034, 0.02),
        };
        let mut light = self.room.ambient;
        for source in &self.room.sources {
            light += source.falls_on(at, V3::z());
        }
        colour.component_mul(&light)
    }

    fn cracked(&self, recipe: &Recipe, [x, y]: [f64; 2], colour: Rgb) -> Rgb {
        let (Some(crack), Some((offset, strength))) = (&recipe.crack, recipe.crack_at(x, y)) else {
            return colour;
        };
        let angle = (y - recipe.offset[1]).atan2(x - recipe.offset[0]);
        let half = Recipe::crack_width(crack, angle) / 2.0;
        let soft = (self.pixel * 0.35).max(0.012);
        let line = smoothstep(
            1.5 * half + soft,
            (0.4 * half - soft).max(0.0),
            offset.abs(),
        );
        let lip = (-((offset - 2.6 * half) / (1.1 * half + 0.01)).powi(2)).exp();
        let mut out = colour * (1.0 - crack.darkening * line * strength);
        out += self.room.ambient * (0.35 * lip * strength * (1.0 - line));
        if crack.matt {
            let zone = smoothstep(0.3, 0.05, offset.abs()) * strength * (1.0 - line);
            let dull = grey(out.sum() / 3.0 * 0.75 + 0.02);
            out = blend(out, dull, 0.45 * zone);
        }
        out
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
