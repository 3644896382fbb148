//! One side of one unit's board, ready for rays: flat layers, joints, bodies, and a grid over
//! them.

use std::sync::Arc;

use super::atlas::Atlas;
use super::body::{Body, Met};
use super::light::V3;
use super::noise::lerp;
use super::solder::Patch;

/// Cell of the look-up grid in mm: a few joints per cell.
const CELL: f64 = 2.5;
/// Items are entered this much beyond their edge, so that stepping half a cell misses none.
const MARGIN: f64 = 0.7;

/// What the board is made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Base {
    /// Glass cloth under a mid-green mask.
    Green,
    /// Bare brown phenolic with tinned tracks.
    Brown,
}

/// A stain on the board: middle, radius, strength 0..1.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stain {
    pub(super) at: [f64; 2],
    pub(super) radius: f64,
    pub(super) strength: f64,
    /// True: pale crust of dried electrolyte; false: amber flux.
    pub(super) crust: bool,
}

/// Everything about one side that does not depend on the camera.
#[derive(Debug, Clone)]
pub(super) struct Scene {
    /// -1 on the solder side (x is mirrored in the side's frame), 1 on the component side.
    pub(super) mirror: f64,
    pub(super) size: [f64; 2],
    pub(super) base: Base,
    pub(super) atlas: Arc<Atlas>,
    pub(super) patches: Vec<Patch>,
    pub(super) bodies: Vec<Body>,
    pub(super) screw_holes: Vec<[f64; 2]>,
    pub(super) stains: Vec<Stain>,
    /// Height of the bench under the viewed surface (negative).
    pub(super) bench: f64,
    /// Which bench top.
    pub(super) bench_style: u32,
    pub(super) seed: u32,
    pub(super) flux: f64,
    top: f64,
    origin: [f64; 2],
    columns: usize,
    rows: usize,
    cells: Vec<Vec<u32>>,
    /// Height of the tallest item of each cell.
    tops: Vec<f64>,
}

/// What a ray met.
#[derive(Debug, Clone, Copy)]
pub(super) enum Hit {
    Joint { index: usize, at: V3 },
    Body { index: usize, met: Met },
    Board(V3),
    Edge(V3),
    Bench(V3),
    Nothing,
}

/// Parts of a scene before its grid is made.
pub(super) struct Ingredients {
    pub(super) mirror: f64,
    pub(super) size: [f64; 2],
    pub(super) base: Base,
    pub(super) atlas: Arc<Atlas>,
    pub(super) patches: Vec<Patch>,
    pub(super) bodies: Vec<Body>,
    pub(super) screw_holes: Vec<[f64; 2]>,
    pub(super) stains: Vec<Stain>,
    pub(super) bench: f64,
    pub(super) bench_style: u32,
    pub(super) seed: u32,
    pub(super) flux: f64,
}

/// Thickness of the laminate in mm (standards.md section 4: 1.6).
pub(super) const THICK: f64 = 1.6;

impl Scene {
    pub(super) fn new(parts: Ingredients) -> Self {
        let origin = [
            if parts.mirror < 0.0 {
                -parts.size[0]
            } else {
                0.0
            } - 12.0,
            -12.0,
        ];
        let columns = ((parts.size[0] + 24.0) / CELL).ceil() as usize;
        let rows = ((parts.size[1] + 24.0) / CELL).ceil() as usize;
        let mut scene = Self {
            mirror: parts.mirror,
            size: parts.size,
            base: parts.base,
            atlas: parts.atlas,
            patches: parts.patches,
            bodies: parts.bodies,
            screw_holes: parts.screw_holes,
            stains: parts.stains,
            bench: parts.bench,
            bench_style: parts.bench_style,
            seed: parts.seed,
            flux: parts.flux,
            top: 0.1,
            origin,
            columns,
            rows,
            cells: vec![Vec::new(); columns * rows],
            tops: vec![-1.0; columns * rows],
        };
        for index in 0..scene.patches.len() {
            let patch = &scene.patches[index];
            let (c, r, top) = (patch.centre, patch.reach, patch.top);
            scene.enter([c[0] - r, c[1] - r], [c[0] + r, c[1] + r], top, index);
        }
        for index in 0..scene.bodies.len() {
            let (low, high, top) = scene.bodies[index].bounds();
            scene.enter(low, high, top, scene.patches.len() + index);
        }
        scene
    }

    fn enter(&mut self, low: [f64; 2], high: [f64; 2], top: f64, item: usize) {
        self.top = self.top.max(top + 0.01);
        let column = |x: f64| ((x - self.origin[0]) / CELL).floor().max(0.0) as usize;
        let row = |y: f64| ((y - self.origin[1]) / CELL).floor().max(0.0) as usize;
        let (c0, c1) = (column(low[0] - MARGIN), column(high[0] + MARGIN));
        let (r0, r1) = (row(low[1] - MARGIN), row(high[1] + MARGIN));
        for r in r0..=r1.min(self.rows - 1) {
            for c in c0..=c1.min(self.columns - 1) {
                let cell = r * self.columns + c;
                self.cells[cell].push(u32::try_from(item).unwrap_or(0));
                self.tops[cell] = self.tops[cell].max(top);
            }
        }
    }

    fn cell(&self, x: f64, y: f64) -> Option<usize> {
        let (c, r) = ((x - self.origin[0]) / CELL, (y - self.origin[1]) / CELL);
        (c >= 0.0 && r >= 0.0 && (c as usize) < self.columns && (r as usize) < self.rows)
            .then(|| r as usize * self.columns + c as usize)
    }

    /// Calls `visit` with each cell's items along a ray between two distances, near to far,
    /// until it returns true.
    fn walk(
        &self,
        from: V3,
        way: V3,
        near: f64,
        far: f64,
        mut visit: impl FnMut(&[u32], f64) -> bool,
    ) {
        let flat = (way.x * way.x + way.y * way.y).sqrt();
        let steps = ((far - near) * flat / (CELL * 0.5))
            .ceil()
            .clamp(0.0, 400.0);
        let mut last = usize::MAX;
        let stride = if steps > 0.0 {
            2.0 * (far - near) / steps
        } else {
            far - near
        };
        let climb = way.z.abs() * stride;
        let count = steps as usize;
        for i in 0..=count {
            #[allow(clippy::cast_precision_loss, reason = "a few hundred steps")]
            let t = if count == 0 {
                near
            } else {
                lerp(near, far, i as f64 / steps)
            };
            let at = from + way * t;
            if let Some(cell) = self.cell(at.x, at.y)
                && cell != last
                && at.z - climb <= self.tops[cell]
            {
                last = cell;
                if visit(&self.cells[cell], t - stride) {
                    return;
                }
            }
        }
    }

    /// Is the place (side's frame) on the board?
    pub(super) fn on_board(&self, x: f64, y: f64) -> bool {
        let x = x * self.mirror;
        x >= 0.0 && y >= 0.0 && x <= self.size[0] && y <= self.size[1]
    }

    /// What a ray from the camera meets first.
    pub(super) fn trace(&self, from: V3, way: V3) -> Hit {
        if way.z > -1e-6 {
            return Hit::Nothing;
        }
        let (near, far) = ((self.top - from.z) / way.z, -from.z / way.z);
        let mut best = far;
        let mut hit = None;
        self.walk(from, way, near.max(0.0), far, |items, passed| {
            if best < passed {
                return true;
            }
            for &item in items {
                let item = item as usize;
                if let Some(patch) = self.patches.get(item) {
                    if let Some(t) = march(patch, from, way, near.max(0.0), best) {
                        best = t;
                        hit = Some(Hit::Joint {
                            index: item,
                            at: from + way * t,
                        });
                    }
                } else if let Some(body) = self.bodies.get(item - self.patches.len())
                    && let Some(met) = body.meet(from, way, near.max(0.0), best)
                {
                    best = met.t;
                    hit = Some(Hit::Body {
                        index: item - self.patches.len(),
                        met,
                    });
                }
            }
            false
        });
        hit.unwrap_or_else(|| self.below(from, way, far))
    }

    fn below(&self, from: V3, way: V3, far: f64) -> Hit {
        let at = from + way * far;
        let in_hole = self
            .screw_holes
            .iter()
            .any(|hole| (at.x - hole[0]).powi(2) + (at.y - hole[1]).powi(2) < 1.6 * 1.6);
        if self.on_board(at.x, at.y) && !in_hole {
            return Hit::Board(at);
        }
        // The edge of the laminate, seen from the side.
        let low = from + way * ((-THICK - from.z) / way.z);
        if !in_hole && self.on_board(low.x, low.y) {
            return Hit::Edge(at);
        }
        Hit::Bench(from + way * ((self.bench - from.z) / way.z))
    }

    /// Does anything stand between two points? Only what stands on the board counts.
    pub(super) fn blocked(&self, from: V3, to: V3) -> bool {
        let way = to - from;
        let length = way.norm();
        let way = way / length;
        let far = if way.z > 1e-6 {
            ((self.top - from.z) / way.z).min(length)
        } else {
            length.min(30.0)
        };
        let mut shut = false;
        self.walk(from, way, 1e-3, far, |items, _| {
            for &item in items {
                let item = item as usize;
                shut = if let Some(patch) = self.patches.get(item) {
                    march(patch, from, way, 1e-3, far).is_some()
                } else {
                    self.bodies
                        .get(item - self.patches.len())
                        .is_some_and(|body| body.meet(from, way, 1e-3, far).is_some())
                };
                if shut {
                    return true;
                }
            }
            false
        });
        shut
    }
}

/// First meeting of a ray with a height field between two distances.
pub(super) fn march(patch: &Patch, from: V3, way: V3, near: f64, far: f64) -> Option<f64> {
    let (ox, oy) = (from.x - patch.centre[0], from.y - patch.centre[1]);
    // Clip to the square column of the field and to its height.
    let (mut t0, mut t1) = (near, far);
    for (o, d, low, high) in [
        (ox, way.x, -patch.reach, patch.reach),
        (oy, way.y, -patch.reach, patch.reach),
        (from.z, way.z, -1.3, patch.top),
    ] {
        if d.abs() < 1e-12 {
            if o < low || o > high {
                return None;
            }
            continue;
        }
        let (a, b) = ((low - o) / d, (high - o) / d);
        t0 = t0.max(a.min(b));
        t1 = t1.min(a.max(b));
    }
    if t0 >= t1 {
        return None;
    }
    let above = |t: f64| {
        let at = from + way * t;
        at.z - patch.height(at.x, at.y)
    };
    let count = ((t1 - t0) / 0.045).ceil().clamp(3.0, 60.0);
    let step = (t1 - t0) / count;
    let mut before = t0;
    if above(t0) <= 0.0 && near >= t0 {
        // Started inside (shadow ray from the surface): step out first.
        before = t0 + 0.01;
    }
    let mut t = before;
    while t < t1 {
        let next = (t + step).min(t1);
        if above(next) < 0.0 {
            let (mut low, mut high) = (t, next);
            for _ in 0..5 {
                let middle = f64::midpoint(low, high);
                if above(middle) < 0.0 {
                    high = middle;
                } else {
                    low = middle;
                }
            }
            let at = from + way * high;
            // Height 0 is the bare board, not the joint.
            let solid = patch.height(at.x, at.y).abs() > 1e-4;
            return solid.then_some(high);
        }
        if next >= t1 {
            break;
        }
        t = next;
    }
    None
}
