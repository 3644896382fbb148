//! The board itself: mask, laminate, copper, flux, stains and dirt.

use super::super::light::{Rgb, V3};
use super::super::noise::{fbm, lerp, mix, smoothstep, unit, value};
use super::super::scene::Base;

use super::{Surface, Tracer, blend, cloth, grey, mixed};

impl Tracer<'_> {
    /// The flat board at a place of the side's frame.
    pub(super) fn board(&self, at: V3) -> Surface {
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
    pub(super) fn green(&self, x: f64, y: f64, copper: f64, copper_mm: f64) -> Surface {
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
    pub(super) fn brown(&self, x: f64, y: f64, copper: f64) -> Surface {
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
    pub(super) fn bare(&self, x: f64, y: f64, copper: f64) -> Surface {
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
    pub(super) fn relief(&self, x: f64, y: f64) -> [f64; 2] {
        let step = 0.06f64.max(self.pixel * 0.5);
        let layer = &self.scene.atlas.copper;
        let high = |x: f64, y: f64| 0.026 * smoothstep(-0.14, 0.16, layer.sample(x, y));
        [
            (high(x + step, y) - high(x - step, y)) / (2.0 * step),
            (high(x, y + step) - high(x, y - step)) / (2.0 * step),
        ]
    }

    /// Slope of the mask's own unevenness.
    pub(super) fn grain(&self, x: f64, y: f64) -> [f64; 2] {
        let seed = self.scene.seed;
        let peel = |s: u32| (fbm(x * 0.8, y * 0.8, 2, seed ^ s) - 0.5) * 0.035;
        [peel(41), peel(42)]
    }

    /// Amber residue round joints.
    pub(super) fn flux(&self, surface: &mut Surface, x: f64, y: f64, open_mm: f64) {
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
    pub(super) fn stained(&self, surface: &mut Surface, at: V3) {
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
    pub(super) fn dirt(&self, surface: &mut Surface, x: f64, y: f64) {
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
}
