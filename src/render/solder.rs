//! Solder joints as small height fields: fillets that rise to the pin, domes, blobs, flat ones,
//! each with its own irregularities, and ring cracks with a lip.
//!
//! All lengths in mm, in the frame of the viewed side (x to the right as seen, height towards
//! the viewer).

use crate::board::{LandShape, PartKind, Pin};

use super::font::Stroke;
use super::noise::{Stream, fbm, lerp, smoothstep, value};

/// What a place of a height field is made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Stuff {
    /// Nothing of the joint: the board shows.
    Board,
    /// Solder.
    Solder,
    /// The cut or bare metal of the pin.
    Pin,
    /// An empty hole.
    Hole,
}

/// The cross-section of a pin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct PinForm {
    /// Half width and half height in mm; both equal and `round` for a wire.
    pub(super) half: [f64; 2],
    pub(super) round: bool,
    /// How far it stands out of the board in mm.
    pub(super) tall: f64,
    /// Height lost from middle to edge of the tip (chisel of the cutter, pyramid of a post).
    pub(super) tip: f64,
}

/// The pin of a part, as it looks on the solder side (from memory: common lead sizes).
pub(super) fn pin_form(kind: PartKind, stream: &mut Stream) -> PinForm {
    let (half, round, tall, tip) = match kind {
        PartKind::Ic | PartKind::Display => ([0.26, 0.14], false, stream.range(0.75, 1.25), 0.1),
        PartKind::Header | PartKind::Connector => {
            ([0.32, 0.32], false, stream.range(1.5, 1.9), 0.28)
        }
        PartKind::Terminal => ([0.5, 0.5], true, stream.range(1.3, 1.9), 0.22),
        PartKind::Relay => ([0.5, 0.24], false, stream.range(1.1, 1.6), 0.1),
        PartKind::Transistor => ([0.4, 0.25], false, stream.range(1.0, 1.6), 0.15),
        PartKind::Switch => ([0.45, 0.22], false, stream.range(0.9, 1.4), 0.1),
        PartKind::Fuse => ([0.6, 0.25], false, stream.range(1.2, 1.7), 0.1),
        PartKind::Diode => ([0.4, 0.4], true, stream.range(0.8, 1.7), 0.3),
        _ => ([0.31, 0.31], true, stream.range(0.7, 1.7), 0.25),
    };
    PinForm {
        half,
        round,
        tall,
        tip,
    }
}

/// A ring crack of one joint.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Crack {
    /// Begin and length of the arc in degrees, counter-clockwise from +x in the side's frame.
    pub(super) start_deg: f64,
    pub(super) arc_deg: f64,
    pub(super) width: f64,
    pub(super) darkening: f64,
    /// Mean radius where it runs in mid-fillet; along the pin where absent.
    pub(super) radius: Option<f64>,
    pub(super) seed: u32,
    /// A matt zone beside the line, as fatigue leaves it.
    pub(super) matt: bool,
}

/// How a joint is shaped.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Recipe {
    pub(super) pin: Option<PinForm>,
    /// The middle of the pin beside the middle of the land.
    pub(super) offset: [f64; 2],
    pub(super) height: f64,
    /// Exponent of the profile: above 1 concave, below 1 convex.
    pub(super) bulge: f64,
    pub(super) lean: [f64; 2],
    /// Coat over the tip: 0 bare pin, 1 all under solder.
    pub(super) coat: f64,
    pub(super) lumps: f64,
    pub(super) rough: f64,
    /// Dark wetting ring that is no crack: where between pin (0) and edge (1), width, depth.
    pub(super) ring: Option<[f64; 3]>,
    /// Hole diameter where nothing fills it.
    pub(super) hole: Option<f64>,
    pub(super) crack: Option<Crack>,
    pub(super) seed: u32,
}

/// Draws a joint of normal workmanship for a pin of the given kind of part.
pub(super) fn recipe(kind: PartKind, pin: &Pin, seed: u64) -> Recipe {
    let mut s = Stream::new(seed);
    let form = pin_form(kind, &mut s);
    let radius = pin.land_radius_mm();
    let style = s.next();
    let (height, bulge) = if style < 0.52 {
        (s.range(0.6, 0.95), s.range(1.5, 2.6))
    } else if style < 0.8 {
        (s.range(0.55, 0.85), s.range(0.8, 1.4))
    } else if style < 0.93 {
        (s.range(0.6, 0.95), s.range(0.42, 0.7))
    } else {
        (s.range(0.22, 0.4), s.range(1.0, 2.0))
    };
    let lean = s.range(0.0, 0.42);
    let angle = s.range(0.0, std::f64::consts::TAU);
    let room = pin.drill.unwrap_or(0.8) / 2.0 - form.half[0].max(form.half[1]);
    let slack = room.clamp(0.02, 0.16);
    Recipe {
        pin: Some(form),
        offset: [s.normal() * slack * 0.6, s.normal() * slack * 0.6],
        height: height * lerp(0.75, 1.2, ((radius - 0.8) / 0.6).clamp(0.0, 1.0)),
        bulge,
        lean: [lean * angle.cos(), lean * angle.sin()],
        coat: if s.chance(0.74) {
            s.range(0.55, 1.0)
        } else {
            0.0
        },
        lumps: s.range(0.03, 0.09) * if s.chance(0.2) { 2.0 } else { 1.0 },
        rough: if s.chance(0.25) {
            s.range(0.22, 0.4)
        } else {
            s.range(0.05, 0.18)
        },
        ring: s.chance(0.4).then(|| {
            let place = if s.chance(0.5) {
                s.range(0.0, 0.12)
            } else {
                s.range(0.55, 0.9)
            };
            [place, s.range(0.05, 0.16), s.range(0.3, 0.75)]
        }),
        hole: None,
        crack: None,
        seed: (seed >> 16) as u32,
    }
}

/// One joint's height field.
#[derive(Debug, Clone)]
pub(super) struct Patch {
    /// Middle of the land in the side's frame.
    pub(super) centre: [f64; 2],
    /// Half the side of the square field.
    pub(super) reach: f64,
    /// Greatest height.
    pub(super) top: f64,
    pub(super) rough: f64,
    pub(super) recipe: Recipe,
    size: usize,
    per_mm: f64,
    height: Vec<f32>,
    stuff: Vec<Stuff>,
    grime: Vec<u8>,
}

/// Land as the field needs it.
#[derive(Debug, Clone, Copy)]
pub(super) struct LandForm {
    pub(super) shape: LandShape,
    pub(super) half: [f64; 2],
}

impl LandForm {
    /// Distance inside the edge in mm (negative outside).
    fn inside(&self, x: f64, y: f64) -> f64 {
        let (x, y) = (x.abs(), y.abs());
        let [w, h] = self.half;
        match self.shape {
            LandShape::Rect => (w - x).min(h - y),
            _ => {
                let r = w.min(h);
                r - (x - (w - r)).max(0.0).hypot((y - (h - r)).max(0.0))
            }
        }
    }
}

/// Distance in mm outside the pin's cross-section (negative inside).
pub(super) fn pin_distance(form: &PinForm, x: f64, y: f64) -> f64 {
    if form.round {
        return x.hypot(y) - form.half[0];
    }
    let (dx, dy) = (x.abs() - form.half[0], y.abs() - form.half[1]);
    dx.max(0.0).hypot(dy.max(0.0)) + dx.max(dy).min(0.0)
}

/// Like [`pin_distance`], but with the round corners that solder gives a flat pin.
fn rounded_pin(form: &PinForm, x: f64, y: f64) -> f64 {
    if form.round {
        return x.hypot(y) - form.half[0];
    }
    let r = 0.75 * form.half[0].max(form.half[1]);
    let (w, h) = (form.half[0] + 0.06, form.half[1] + 0.06);
    let (nx, ny) = (x / w, y / h);
    let ring = (nx.powi(2) + ny.powi(2)).sqrt().max(1e-6);
    let oval = (ring - 1.0) * x.hypot(y).max(0.05) / ring;
    lerp(oval, x.hypot(y) - r, 0.3)
}

fn smooth_max(a: f64, b: f64, k: f64) -> f64 {
    let h = (0.5 + (a - b) / (2.0 * k)).clamp(0.0, 1.0);
    lerp(b, a, h) + k * h * (1.0 - h)
}

impl Recipe {
    /// Height, stuff and grime (0..1) at a place beside the middle of the land.
    fn at(&self, land: &LandForm, x: f64, y: f64) -> (f64, Stuff, f64) {
        let (px, py) = (x - self.offset[0], y - self.offset[1]);
        let angle = py.atan2(px);
        let (ca, sa) = (angle.cos() * 1.6, angle.sin() * 1.6);
        let wobble = (fbm(ca + 3.0, sa + 3.0, 3, self.seed) - 0.5) * 0.34;
        let edge = land.inside(x, y) + wobble * 0.65 - 0.03;
        if let Some(hole) = self.hole
            && x.hypot(y) < hole / 2.0
        {
            return (-1.2, Stuff::Hole, 0.0);
        }
        if edge <= 0.0 {
            return (0.0, Stuff::Board, 0.0);
        }
        let from_pin = match &self.pin {
            Some(form) => pin_distance(form, px, py).max(0.0),
            None => (px.hypot(py) - self.hole.map_or(0.05, |hole| hole / 2.0)).max(0.0),
        };
        let t = from_pin / (from_pin + edge);
        let profile = if self.bulge >= 1.0 {
            (1.0 - t).powf(self.bulge)
        } else {
            (1.0 - t.powf(1.0 / self.bulge)).max(0.0).powf(0.62)
        };
        let lean = 1.0 + self.lean[0] * angle.cos() + self.lean[1] * angle.sin() + wobble;
        let coarse = fbm(x * 1.7 + 9.0, y * 1.7, 2, self.seed ^ 5) - 0.5;
        let fine = fbm(x * 7.0, y * 7.0, 3, self.seed ^ 9) - 0.5;
        let skin = self.lumps * (coarse * 2.8 + fine * 0.4) * smoothstep(0.0, 0.25, edge);
        let base = 0.05 * smoothstep(0.0, 0.12, edge);
        let mut height = (self.height * profile * lean).max(0.0) + base + skin;
        let mut stuff = Stuff::Solder;
        if let Some(form) = &self.pin {
            (height, stuff) = self.with_pin(form, px, py, height);
        }
        let mut grime = 0.0;
        if let Some([place, width, depth]) = self.ring {
            let arc = smoothstep(0.25, 0.5, value(ca + 7.0, sa, self.seed ^ 3) + 0.2);
            grime = depth * (-((t - place) / width).powi(2)).exp() * arc;
        }
        let stain = smoothstep(0.55, 0.8, fbm(x * 2.2, y * 2.2, 3, self.seed ^ 21));
        grime = grime.max(0.45 * stain * smoothstep(0.3, 0.95, t));
        let rim = value(ca * 2.0 + 1.0, sa * 2.0, self.seed ^ 41);
        grime = grime.max(0.9 * rim * rim * smoothstep(0.04 + 0.1 * rim, 0.0, edge));
        if let Some(crack) = &self.crack {
            height += self.lip(crack, px, py, angle);
        }
        (height, stuff, grime)
    }

    fn with_pin(&self, form: &PinForm, px: f64, py: f64, fillet: f64) -> (f64, Stuff) {
        let distance = pin_distance(form, px, py);
        let turn = f64::from(self.seed & 0xff) * 0.0245;
        let across = (px * turn.cos() + py * turn.sin()).abs() / form.half[0].max(form.half[1]);
        let tilt = (px * 0.25 - py * 0.18) * f64::from((self.seed >> 8) & 3) * 0.5;
        let scars = 0.02 * (fbm(px * 9.0, py * 3.0, 2, self.seed ^ 77) - 0.5);
        let chamfer = 0.12 * smoothstep(-0.1, 0.0, distance);
        let tip = form.tall - form.tip * across.min(1.0) - chamfer + tilt + scars;
        let skirt = smoothstep(0.05, -0.03, distance);
        if self.coat > 0.0 {
            let grown = smoothstep(0.2, -0.12, distance);
            let tip = tip - 0.12 * (distance + 0.2).max(0.0);
            let coated = tip.min(form.tall) * grown * lerp(0.8, 1.0, self.coat);
            return (smooth_max(fillet, coated, 0.24), Stuff::Solder);
        }
        let wall = tip * skirt;
        if wall > fillet {
            (wall, Stuff::Pin)
        } else {
            (fillet, Stuff::Solder)
        }
    }

    /// Signed distance in mm from the crack's line (positive outwards) and its strength 0..1.
    pub(super) fn crack_at(&self, x: f64, y: f64) -> Option<(f64, f64)> {
        let crack = self.crack.as_ref()?;
        let (px, py) = (x - self.offset[0], y - self.offset[1]);
        let angle = py.atan2(px);
        let along = (angle.to_degrees() - crack.start_deg).rem_euclid(360.0);
        let fade = if crack.arc_deg >= 359.0 {
            1.0
        } else {
            smoothstep(0.0, 14.0, along) * smoothstep(crack.arc_deg, crack.arc_deg - 14.0, along)
        };
        let (ca, sa) = (angle.cos(), angle.sin());
        let gap = value(ca * 3.4 + 11.0, sa * 3.4, crack.seed ^ 31);
        let strength = fade * smoothstep(0.13, 0.24, gap);
        let offset = self.crack_offset(crack, px, py, angle);
        Some((offset, strength))
    }

    fn crack_offset(&self, crack: &Crack, px: f64, py: f64, angle: f64) -> f64 {
        let (ca, sa) = (angle.cos(), angle.sin());
        let slow = fbm(ca * 1.3 + 4.0, sa * 1.3, 2, crack.seed) - 0.5;
        let jag = fbm(ca * 6.0, sa * 6.0, 3, crack.seed ^ 8) - 0.5;
        let wander = 0.16 * slow + 0.05 * jag;
        match (crack.radius, &self.pin) {
            (None, Some(form)) => rounded_pin(form, px, py) - 0.15 - wander,
            (radius, _) => px.hypot(py) - radius.unwrap_or(0.5) - wander,
        }
    }

    /// Width of the crack at a place: it breathes along its way.
    pub(super) fn crack_width(crack: &Crack, angle: f64) -> f64 {
        crack.width * (0.45 + 1.1 * value(angle.cos() * 4.0, angle.sin() * 4.0, crack.seed ^ 55))
    }

    fn lip(&self, crack: &Crack, px: f64, py: f64, angle: f64) -> f64 {
        let Some((offset, strength)) = self.crack_at(px + self.offset[0], py + self.offset[1])
        else {
            return 0.0;
        };
        let width = Self::crack_width(crack, angle).max(0.03);
        let groove = -0.045 * (-(offset / (0.5 * width)).powi(2)).exp();
        let ridge = 0.024 * (-((offset - 1.1 * width) / (0.8 * width)).powi(2)).exp();
        strength * (groove + ridge)
    }

    /// The crack's middle line: places beside the middle of the land, with its strength.
    pub(super) fn crack_path(&self) -> Vec<([f64; 2], f64)> {
        let Some(crack) = &self.crack else {
            return Vec::new();
        };
        let count = 120;
        (0..=count)
            .map(|i| {
                let part = f64::from(i) / f64::from(count);
                let angle = (crack.start_deg + crack.arc_deg * part).to_radians();
                let (mut low, mut high) = (0.02, 2.5);
                for _ in 0..30 {
                    let middle = f64::midpoint(low, high);
                    let (px, py) = (middle * angle.cos(), middle * angle.sin());
                    if self.crack_offset(crack, px, py, angle) < 0.0 {
                        low = middle;
                    } else {
                        high = middle;
                    }
                }
                let at = [
                    low * angle.cos() + self.offset[0],
                    low * angle.sin() + self.offset[1],
                ];
                let strength = self.crack_at(at[0], at[1]).map_or(0.0, |(_, s)| s);
                (at, strength)
            })
            .collect()
    }
}

impl Patch {
    /// Bakes a recipe into a field of `per_mm` samples per mm.
    pub(super) fn bake(centre: [f64; 2], land: LandForm, recipe: Recipe, per_mm: f64) -> Self {
        let reach = land.half[0].max(land.half[1]) + 0.16;
        let size = (2.0 * reach * per_mm).ceil() as usize + 2;
        let mut patch = Self {
            centre,
            reach,
            top: 0.0,
            rough: recipe.rough,
            size,
            per_mm,
            height: vec![0.0; size * size],
            stuff: vec![Stuff::Board; size * size],
            grime: vec![0; size * size],
            recipe,
        };
        for row in 0..size {
            for column in 0..size {
                #[allow(
                    clippy::cast_precision_loss,
                    reason = "fields of a few hundred samples"
                )]
                let (x, y) = (column as f64 / per_mm - reach, row as f64 / per_mm - reach);
                let (height, stuff, grime) = patch.recipe.at(&land, x, y);
                let index = row * size + column;
                patch.height[index] = height as f32;
                patch.stuff[index] = stuff;
                patch.grime[index] = (grime.clamp(0.0, 1.0) * 255.0) as u8;
                patch.top = patch.top.max(height);
            }
        }
        patch
    }

    fn place(&self, x: f64, y: f64) -> Option<(usize, f64, f64)> {
        let (u, v) = (
            (x - self.centre[0] + self.reach) * self.per_mm,
            (y - self.centre[1] + self.reach) * self.per_mm,
        );
        if !(u >= 1.0 && v >= 1.0) {
            return None;
        }
        let (iu, iv) = (u as usize, v as usize);
        (iu + 2 < self.size && iv + 2 < self.size)
            .then(|| (iv * self.size + iu, u.fract(), v.fract()))
    }

    /// Height at a place of the side's frame; 0 outside the field.
    pub(super) fn height(&self, x: f64, y: f64) -> f64 {
        let Some((at, fu, fv)) = self.place(x, y) else {
            return 0.0;
        };
        let h = |index: usize| f64::from(self.height[index]);
        let low = h(at) * (1.0 - fu) + h(at + 1) * fu;
        let top = h(at + self.size) * (1.0 - fu) + h(at + self.size + 1) * fu;
        low * (1.0 - fv) + top * fv
    }

    /// Slope along x and y at a place.
    pub(super) fn slope(&self, x: f64, y: f64) -> [f64; 2] {
        let step = 0.75 / self.per_mm;
        [
            (self.height(x + step, y) - self.height(x - step, y)) / (2.0 * step),
            (self.height(x, y + step) - self.height(x, y - step)) / (2.0 * step),
        ]
    }

    /// Stuff and grime at a place.
    pub(super) fn stuff(&self, x: f64, y: f64) -> (Stuff, f64) {
        self.place(x, y)
            .map_or((Stuff::Board, 0.0), |(at, fu, fv)| {
                let near = at + usize::from(fu > 0.5) + if fv > 0.5 { self.size } else { 0 };
                (self.stuff[near], f64::from(self.grime[near]) / 255.0)
            })
    }
}

/// A bridge of solder between two joints, as a third recipe stretched between them.
pub(super) fn bridge_land(a: [f64; 2], b: [f64; 2]) -> (LandForm, [f64; 2], Stroke) {
    let middle = [f64::midpoint(a[0], b[0]), f64::midpoint(a[1], b[1])];
    let span = [(a[0] - b[0]).abs(), (a[1] - b[1]).abs()];
    let half = [
        span[0] / 2.0 + if span[0] > span[1] { 0.25 } else { 0.42 },
        span[1] / 2.0 + if span[1] > span[0] { 0.25 } else { 0.42 },
    ];
    let land = LandForm {
        shape: LandShape::Oval,
        half,
    };
    (land, middle, [a, b])
}
