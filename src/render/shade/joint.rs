//! Solder, and the cracks in it.

use super::super::light::{Rgb, V3};
use super::super::noise::{fbm, lerp, smoothstep};
use super::super::scene::{Base, march};
use super::super::solder::{Patch, Recipe, Stuff};
use super::{Dice, Tracer, blend, grey, reflect};

impl Tracer<'_> {
    /// The skin of a joint and everything it mirrors.
    pub(super) fn joint(&self, patch: &Patch, at: V3, way: V3, dice: Dice) -> Rgb {
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
    pub(super) fn plain_light(&self, at: V3, normal: V3, dice: Dice) -> Rgb {
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
    pub(super) fn metal(&self, patch: &Patch, at: V3, way: V3, normal: V3, rough: f64) -> Rgb {
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
    pub(super) fn ground(&self, at: V3) -> Rgb {
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

    pub(super) fn cracked(&self, recipe: &Recipe, [x, y]: [f64; 2], colour: Rgb) -> Rgb {
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
}
