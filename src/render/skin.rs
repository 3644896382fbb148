//! Colours of bodies and of the bench top.

use super::body::{Body, Met, Skin};
use super::light::{Rgb, V3};
use super::noise::{fbm, lerp, mix, smoothstep, unit, value};
use super::shade::Surface;

fn grey(level: f64) -> Rgb {
    Rgb::new(level, level, level)
}

fn plain(albedo: Rgb, mirror: f64, rough: f64, normal: V3) -> Surface {
    Surface {
        albedo,
        mirror: grey(mirror),
        rough,
        normal,
    }
}

/// The surface of a body where a ray met it. `at` is the place, `pixel` the pixel's size in mm.
pub(super) fn surface(body: &Body, met: &Met, at: V3, pixel: f64) -> Surface {
    let n = met.normal;
    let seed = body.seed;
    let mottle = fbm(at.x * 1.2 + at.z, at.y * 1.2, 3, seed) - 0.5;
    match &body.skin {
        Skin::Plastic { colour, rough } => plain(colour * (1.0 + 0.16 * mottle), 0.036, *rough, n),
        Skin::Metal { tint, rough } => Surface {
            albedo: tint * 0.1,
            mirror: tint * (0.85 + 0.3 * mottle),
            rough: *rough,
            normal: n,
        },
        Skin::Package { notch } => package(met, *notch, mottle, at, seed),
        Skin::Sleeve { colour, stripe } => sleeve(met, *colour, *stripe, mottle),
        Skin::Bands { base, bands } => {
            let mut colour = *base;
            for (place, band) in bands {
                let d = (met.local.x - place).abs();
                colour = colour.lerp(band, smoothstep(0.33 + pixel, 0.29, d));
            }
            plain(colour * (1.0 + 0.15 * mottle), 0.04, 0.16, n)
        }
        Skin::Ring {
            base,
            ring,
            at: place,
        } => {
            let d = (met.local.x - place).abs();
            let colour = base.lerp(ring, smoothstep(0.42 + pixel, 0.36, d));
            plain(colour * (1.0 + 0.15 * mottle), 0.04, 0.2, n)
        }
        Skin::Lens { colour } => {
            let rim = 1.0 - n.z.abs();
            plain(colour * (0.35 + 0.8 * rim), 0.05, 0.04, n)
        }
        Skin::Screw { slot } => screw(met, *slot, n, mottle),
        Skin::Digits => digits(met, n),
        Skin::Glass => glass(met, n),
    }
}

fn package(met: &Met, notch: bool, mottle: f64, at: V3, seed: u32) -> Surface {
    let grain = fbm(at.x * 8.0, at.y * 8.0, 2, seed ^ 3) - 0.5;
    let mut albedo = grey(0.024) * (1.0 + 0.3 * mottle + 0.5 * grain);
    let mut normal = met.normal;
    if met.top && notch {
        let (x, y) = (met.local.x, met.local.y);
        // `local.z` carries the half height; the notch is found from the body's left end.
        let end = met.local - V3::new(0.0, 0.0, met.local.z);
        let _ = end;
        let half = f64::from(seed & 0xffff) / 1000.0;
        let d = (x + half).hypot(y);
        if d < 1.1 {
            albedo *= 0.5;
            normal = (normal + V3::new(-x - half, -y, 0.0) * 0.5).normalize();
        }
        let dot = (x + half - 1.6).hypot(y + 1.9);
        if dot < 0.5 {
            albedo *= 0.6;
        }
    }
    normal = (normal + V3::new(grain, mottle, 0.0) * 0.06).normalize();
    plain(albedo, 0.035, 0.34, normal)
}

fn sleeve(met: &Met, colour: Rgb, stripe: [f64; 2], mottle: f64) -> Surface {
    let r = met.local.x.hypot(met.local.y).max(1e-6);
    if met.top {
        // Bare aluminium with a pressed cross, the sleeve shrunk over its rim.
        let radius = r;
        let cross = met.local.x.abs().min(met.local.y.abs());
        let groove = smoothstep(0.35, 0.12, cross);
        let tint = Rgb::new(0.72, 0.72, 0.71) * (1.0 - 0.45 * groove);
        let lean = if met.local.x.abs() < met.local.y.abs() {
            V3::new(met.local.x.signum(), 0.0, 0.0)
        } else {
            V3::new(0.0, met.local.y.signum(), 0.0)
        };
        let dent = smoothstep(0.5, 0.3, cross) * smoothstep(0.05, 0.2, cross);
        let metal = Surface {
            albedo: tint * 0.35,
            mirror: tint * 0.6,
            rough: 0.35 + 0.2 * (mottle + 0.5),
            normal: (met.normal - lean * (0.35 * dent)).normalize(),
        };
        let rim_from = met.normal.z;
        let sleeve_part = smoothstep(0.985, 0.94, rim_from);
        let shrink = plain(colour, 0.04, 0.12, met.normal);
        let _ = radius;
        return Surface {
            albedo: metal.albedo.lerp(&shrink.albedo, sleeve_part),
            mirror: metal.mirror.lerp(&shrink.mirror, sleeve_part),
            rough: lerp(metal.rough, shrink.rough, sleeve_part),
            normal: metal.normal,
        };
    }
    let facing = (met.local.x * stripe[0] + met.local.y * stripe[1]) / r;
    let on = smoothstep(0.9, 0.92, facing);
    let minus = on
        * smoothstep(0.55, 0.5, (met.local.z.rem_euclid(2.4) - 1.2).abs() * 1.6)
        * smoothstep(0.965, 0.97, facing);
    let pale = Rgb::new(0.62, 0.62, 0.58);
    let albedo = colour.lerp(&pale, on).lerp(&grey(0.03), minus);
    plain(albedo * (1.0 + 0.1 * mottle), 0.04, 0.12, met.normal)
}

fn screw(met: &Met, slot: f64, normal: V3, mottle: f64) -> Surface {
    let (x, y) = (met.local.x, met.local.y);
    let across = x * slot.sin() - y * slot.cos();
    let cut = smoothstep(0.34, 0.28, across.abs());
    let wear = V3::new(mottle, -mottle, 0.0) * 0.25;
    let tint = Rgb::new(0.66, 0.63, 0.55);
    Surface {
        albedo: tint * 0.12 * (1.0 - 0.8 * cut),
        mirror: tint * (1.0 - 0.9 * cut),
        rough: 0.22,
        normal: (normal + wear).normalize(),
    }
}

fn digits(met: &Met, normal: V3) -> Surface {
    let pitch = 9.6;
    let cell = (met.local.x / pitch).floor();
    let x = met.local.x - (cell + 0.5) * pitch - met.local.y * 0.1;
    let y = met.local.y;
    let (w, h) = (2.6, 5.2);
    let bar = |d: f64, along: f64, reach: f64| {
        smoothstep(0.62, 0.5, d.abs()) * smoothstep(reach, reach - 0.2, along.abs())
    };
    let lines = bar(y, x, w - 0.5)
        .max(bar(y - h, x, w - 0.5))
        .max(bar(y + h, x, w - 0.5))
        .max(bar(x - w, y - h / 2.0, h / 2.0 - 0.5))
        .max(bar(x + w, y - h / 2.0, h / 2.0 - 0.5))
        .max(bar(x - w, y + h / 2.0, h / 2.0 - 0.5))
        .max(bar(x + w, y + h / 2.0, h / 2.0 - 0.5));
    let on = if met.top { lines } else { 0.0 };
    let albedo = Rgb::new(0.05, 0.008, 0.008).lerp(&Rgb::new(0.2, 0.11, 0.1), on);
    plain(albedo, 0.04, 0.06, normal)
}

fn glass(met: &Met, normal: V3) -> Surface {
    let x = met.local.x.abs();
    if x > 6.8 {
        let tint = Rgb::new(0.74, 0.73, 0.7);
        return Surface {
            albedo: tint * 0.1,
            mirror: tint,
            rough: 0.16,
            normal,
        };
    }
    let wire = smoothstep(0.5, 0.2, (met.local.z - 0.4).abs());
    plain(grey(0.08).lerp(&grey(0.2), wire), 0.12, 0.03, normal)
}

/// Colour of the bench top at a place in mm.
pub(super) fn bench(x: f64, y: f64, style: u32, pixel: f64) -> Rgb {
    match style % 3 {
        0 => wood(x, y),
        1 => mat(x, y, pixel),
        _ => plaster(x, y),
    }
}

fn wood(x: f64, y: f64) -> Rgb {
    let plank = (y / 92.0).floor();
    let shift = unit(mix(plank as i64 as u64 ^ 77)) * 900.0;
    let seed = 500 + (plank as i64 & 0xff) as u32;
    let warp = fbm((x + shift) * 0.006, y * 0.03, 3, seed) * 60.0;
    let ring = ((y + warp) * 0.42).sin() * 0.5 + 0.5;
    let fibre = fbm((x + shift) * 0.05, y * 2.4, 4, seed ^ 9);
    let pore = smoothstep(0.7, 0.8, fbm((x + shift) * 0.12, y * 5.0, 2, seed ^ 11));
    let tone = 0.75 + 0.22 * ring + 0.5 * (fibre - 0.5) - 0.3 * pore;
    let gap = smoothstep(0.9, 0.3, (y - plank * 92.0).min((plank + 1.0) * 92.0 - y));
    let stain = smoothstep(0.55, 0.75, fbm(x * 0.012, y * 0.012, 3, 31));
    Rgb::new(0.36, 0.225, 0.115) * (tone * (1.0 - 0.3 * stain) * (1.0 - 0.85 * gap))
}

fn mat(x: f64, y: f64, pixel: f64) -> Rgb {
    let grain = fbm(x * 2.5, y * 2.5, 3, 61) - 0.5;
    let slow = fbm(x * 0.02, y * 0.02, 3, 62) - 0.5;
    let line = |v: f64, pitch: f64, half: f64| {
        let d = (v.rem_euclid(pitch) - pitch / 2.0).abs();
        smoothstep(half + pixel, half, pitch / 2.0 - d)
    };
    let fine = line(x, 10.0, 0.12).max(line(y, 10.0, 0.12)) * 0.35;
    let bold = line(x, 50.0, 0.22).max(line(y, 50.0, 0.22)) * 0.6;
    let base = Rgb::new(0.05, 0.105, 0.15) * (1.0 + 0.2 * grain + 0.6 * slow);
    base.lerp(
        &Rgb::new(0.4, 0.45, 0.44),
        fine.max(bold) * (0.35 + 0.5 * slow),
    )
}

fn plaster(x: f64, y: f64) -> Rgb {
    let cloud = fbm(x * 0.03, y * 0.03, 4, 71) - 0.5;
    let grain = fbm(x * 1.4, y * 1.4, 4, 72) - 0.5;
    let pit = smoothstep(
        0.71,
        0.77,
        value(x * 0.5, y * 0.5, 73) * 0.6 + fbm(x, y, 2, 74) * 0.4,
    );
    Rgb::new(0.47, 0.42, 0.35) * (1.0 + 0.3 * cloud + 0.22 * grain - 0.45 * pit)
}
