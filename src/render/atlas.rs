//! Flat layers of one board side as signed distances on a fine raster: copper, mask openings,
//! silkscreen. Sampled bilinearly, an edge stays crisp at any photo scale.

use crate::board::{BoardMap, Outline, Part, PartKind, Side};

use super::font::{Stroke, text};
use super::noise::Stream;
use super::route::{Copper, Track, land_distance};

/// Raster of the layers in texels per mm: a texel is then half the thinnest silk line.
const TEXELS: f64 = 16.0;
/// Distances are kept up to this many mm on either side of an edge.
const REACH: f64 = 1.0;

/// One layer: signed distance in mm, positive inside.
#[derive(Debug, Clone)]
pub(super) struct Layer {
    width: usize,
    height: usize,
    texels: Vec<i8>,
}

impl Layer {
    fn new(size: [f64; 2]) -> Self {
        let width = (size[0] * TEXELS) as usize + 2;
        let height = (size[1] * TEXELS) as usize + 2;
        Self {
            width,
            height,
            texels: vec![-127; width * height],
        }
    }

    /// Signed distance at a place in mm.
    pub(super) fn sample(&self, x: f64, y: f64) -> f64 {
        let (x, y) = (x * TEXELS, y * TEXELS);
        if !(x >= 0.0 && y >= 0.0) {
            return -REACH;
        }
        let (ix, iy) = (x as usize, y as usize);
        if ix + 1 >= self.width || iy + 1 >= self.height {
            return -REACH;
        }
        let (fx, fy) = (x.fract(), y.fract());
        let at = iy * self.width + ix;
        let texel = |index: usize| f64::from(self.texels[index]);
        let low = texel(at) * (1.0 - fx) + texel(at + 1) * fx;
        let top = texel(at + self.width) * (1.0 - fx) + texel(at + self.width + 1) * fx;
        (low * (1.0 - fy) + top * fy) * (REACH / 127.0)
    }

    /// Joins a shape given by its signed distance (positive inside) within a box in mm.
    fn join(&mut self, low: [f64; 2], high: [f64; 2], inside: impl Fn([f64; 2]) -> f64) {
        let clip = |value: f64, most: usize| ((value * TEXELS).max(0.0) as usize).min(most);
        let (x0, x1) = (
            clip(low[0] - REACH, self.width - 1),
            clip(high[0] + REACH, self.width - 1),
        );
        let (y0, y1) = (
            clip(low[1] - REACH, self.height - 1),
            clip(high[1] + REACH, self.height - 1),
        );
        for y in y0..=y1 {
            for x in x0..=x1 {
                #[allow(
                    clippy::cast_precision_loss,
                    reason = "raster of a few thousand texels"
                )]
                let at = [x as f64 / TEXELS, y as f64 / TEXELS];
                let code = (inside(at) * (127.0 / REACH)).clamp(-127.0, 127.0) as i8;
                let texel = &mut self.texels[y * self.width + x];
                *texel = (*texel).max(code);
            }
        }
    }

    fn stroke(&mut self, stroke: &Stroke, radius: f64) {
        let [a, b] = *stroke;
        let low = [a[0].min(b[0]) - radius, a[1].min(b[1]) - radius];
        let high = [a[0].max(b[0]) + radius, a[1].max(b[1]) + radius];
        self.join(low, high, |at| radius - super::font::distance(at, stroke));
    }

    fn track(&mut self, track: &Track) {
        for pair in track.points.windows(2) {
            self.stroke(&[pair[0], pair[1]], track.width / 2.0);
        }
    }

    fn disc(&mut self, centre: [f64; 2], radius: f64) {
        let reach = [radius, radius];
        self.join(
            [centre[0] - reach[0], centre[1] - reach[1]],
            [centre[0] + reach[0], centre[1] + reach[1]],
            |at| radius - (at[0] - centre[0]).hypot(at[1] - centre[1]),
        );
    }
}

/// The layers of one side.
#[derive(Debug, Clone)]
pub(super) struct Atlas {
    pub(super) copper: Layer,
    pub(super) opening: Layer,
    pub(super) silk: Layer,
}

/// Radius of a via's land in mm.
pub(super) const VIA_RADIUS: f64 = 0.65;

/// Draws the layers. `seed` belongs to the unit: mask and silk sit a little off on each.
pub(super) fn atlas(map: &BoardMap, copper: &Copper, side: Side, seed: u64) -> Atlas {
    let size = map.outline.get(2).copied().unwrap_or([1.0, 1.0]);
    let mut stream = Stream::new(seed);
    let slip = |stream: &mut Stream| [stream.normal() * 0.07, stream.normal() * 0.07];
    let (mask_slip, silk_slip) = (slip(&mut stream), slip(&mut stream));
    let mut layer = Layer::new(size);
    let wanted = usize::from(side == Side::Component);
    for track in copper.tracks.iter().filter(|track| track.layer == wanted) {
        layer.track(track);
    }
    let mut opening = Layer::new(size);
    for pin in map.parts.iter().flat_map(|part| &part.pins) {
        let reach = pin.land.size.map(|s| s / 2.0);
        let low = [pin.at[0] - reach[0], pin.at[1] - reach[1]];
        let high = [pin.at[0] + reach[0], pin.at[1] + reach[1]];
        layer.join(low, high, |at| -land_distance(pin, at));
        opening.join(low, high, |at| {
            0.06 - land_distance(pin, [at[0] - mask_slip[0], at[1] - mask_slip[1]])
        });
    }
    for via in &copper.vias {
        layer.disc(*via, VIA_RADIUS);
        opening.disc(
            [via[0] + mask_slip[0], via[1] + mask_slip[1]],
            VIA_RADIUS + 0.04,
        );
    }
    pour(&mut layer, map, size, side);
    for part in map
        .parts
        .iter()
        .filter(|part| part.reference.starts_with('H'))
    {
        if let Outline::Circle { at, .. } = &part.outline {
            layer.disc(*at, 3.6);
            opening.disc(*at, 3.3);
        }
    }
    let mut silk = Layer::new(size);
    for (stroke, radius) in silkscreen(map, side, size) {
        let [a, b] = stroke;
        let moved = [
            [a[0] + silk_slip[0], a[1] + silk_slip[1]],
            [b[0] + silk_slip[0], b[1] + silk_slip[1]],
        ];
        silk.stroke(&moved, radius);
    }
    Atlas {
        copper: layer,
        opening,
        silk,
    }
}

/// Ground pours with a 45 degree hatch where the board is empty, and a band round the edge.
fn pour(layer: &mut Layer, map: &BoardMap, size: [f64; 2], side: Side) {
    let main = map.board == "main";
    let regions: &[[f64; 4]] = match (main, side) {
        (true, Side::Solder) => &[[68.0, 58.0, 172.0, 74.0], [120.0, 8.0, 170.0, 48.0]],
        (true, Side::Component) => &[[46.0, 6.0, 110.0, 30.0], [112.0, 14.0, 172.0, 46.0]],
        (false, Side::Solder) => &[[88.0, 20.0, 122.0, 50.0]],
        (false, Side::Component) => &[[44.0, 36.0, 100.0, 60.0]],
    };
    for region in regions {
        for y in (region[1] * TEXELS) as usize..(region[3] * TEXELS) as usize {
            for x in (region[0] * TEXELS) as usize..(region[2] * TEXELS) as usize {
                let index = y * layer.width + x;
                let gap = -f64::from(layer.texels[index]) * (REACH / 127.0);
                #[allow(
                    clippy::cast_precision_loss,
                    reason = "raster of a few thousand texels"
                )]
                let (mx, my) = (x as f64 / TEXELS, y as f64 / TEXELS);
                let edge = (mx - region[0])
                    .min(region[2] - mx)
                    .min(my - region[1])
                    .min(region[3] - my);
                let inner = (gap - 0.62).min(edge - 0.0);
                let rim = 0.15 - (inner - 0.15).abs();
                let wave = |t: f64| {
                    let phase = (t / 1.8).rem_euclid(1.0);
                    0.3 - (phase - 0.5).abs() * 1.8
                };
                let hatch = wave((mx + my) / 1.414).max(wave((mx - my) / 1.414));
                let code = inner.min(rim.max(hatch));
                let code = (code * (127.0 / REACH)).clamp(-127.0, 127.0) as i8;
                if gap > 0.3 {
                    layer.texels[index] = layer.texels[index].max(code);
                }
            }
        }
    }
    let corners = [
        [1.0, 1.0],
        [size[0] - 1.0, 1.0],
        [size[0] - 1.0, size[1] - 1.0],
        [1.0, size[1] - 1.0],
    ];
    for i in 0..4 {
        layer.stroke(&[corners[i], corners[(i + 1) % 4]], 0.45);
    }
}

/// Line radius of silkscreen in mm.
const SILK: f64 = 0.11;

fn silkscreen(map: &BoardMap, side: Side, size: [f64; 2]) -> Vec<(Stroke, f64)> {
    let mut lines: Vec<(Stroke, f64)> = Vec::new();
    let mut write = |words: &str, at: [f64; 2], height: f64, turn: f64, mirrored: bool| {
        for stroke in text(words, [0.0, 0.0], height, turn) {
            let place = |end: [f64; 2]| {
                let x = if mirrored { -end[0] } else { end[0] };
                [at[0] + x, at[1] + end[1]]
            };
            lines.push((
                [place(stroke[0]), place(stroke[1])],
                SILK * (height / 2.0).clamp(0.9, 2.2),
            ));
        }
    };
    let revision = map.revision.as_deref().unwrap_or("");
    let title = format!("FERNHOLLOW FH-12 {} {revision}", map.board);
    let back = side == Side::Solder;
    let spot = match (map.board == "main", back) {
        (true, true) => [110.0, 63.8],
        (true, false) => [22.6, 110.6],
        (false, true) => [100.0, 24.0],
        (false, false) => [64.0, 62.5],
    };
    let height = if back || map.board == "front" {
        2.2
    } else {
        1.4
    };
    write(&title, spot, height, 0.0, back);
    if back {
        write(
            "SOLDER SIDE",
            [size[0] - 22.0, size[1] * 0.52],
            2.0,
            0.0,
            true,
        );
        return lines;
    }
    if map.board == "main" {
        for (index, name) in [
            "COM", "Z1", "Z2", "Z3", "Z4", "Z5", "Z6", "Z7", "Z8", "Z9", "Z10", "Z11", "Z12",
            "COM", "MV", "RS",
        ]
        .iter()
        .enumerate()
        {
            #[allow(clippy::cast_precision_loss, reason = "sixteen ways")]
            write(name, [45.72 + 5.08 * index as f64, 103.0], 1.3, 0.0, false);
        }
    }
    for part in &map.parts {
        label(part, &mut write);
    }
    for part in &map.parts {
        body_lines(part, &mut lines);
    }
    lines
}

fn label(part: &Part, write: &mut impl FnMut(&str, [f64; 2], f64, f64, bool)) {
    let (at, half) = match &part.outline {
        Outline::Rect { at, size, .. } => (*at, [size[0] / 2.0, size[1] / 2.0]),
        Outline::Circle { at, diameter } => (*at, [diameter / 2.0, diameter / 2.0]),
        Outline::Polygon { .. } => return,
    };
    let spot = match part.kind {
        PartKind::Hardware => return,
        PartKind::Ic => [at[0] - half[0] - 2.2, at[1]],
        PartKind::Relay => [at[0], at[1] - half[1] - 1.3],
        PartKind::Terminal => [at[0] - half[0] - 2.6, at[1]],
        PartKind::Resistor | PartKind::Diode | PartKind::Link if half[0] > half[1] => {
            [at[0], at[1] + half[1] + 1.2]
        }
        PartKind::Resistor => [at[0], at[1] + half[1] + 3.6],
        PartKind::Electrolytic => [at[0], at[1] - half[1] - 1.4],
        _ => [at[0], at[1] + half[1] + 1.4],
    };
    write(&part.reference, spot, 1.5, 0.0, false);
}

fn body_lines(part: &Part, lines: &mut Vec<(Stroke, f64)>) {
    if part.kind == PartKind::Hardware {
        return;
    }
    match &part.outline {
        Outline::Rect { at, size, .. } => {
            let (w, h) = (size[0] / 2.0 + 0.25, size[1] / 2.0 + 0.25);
            let corner = |sx: f64, sy: f64| [at[0] + sx * w, at[1] + sy * h];
            let ring = [
                corner(-1.0, -1.0),
                corner(1.0, -1.0),
                corner(1.0, 1.0),
                corner(-1.0, 1.0),
            ];
            for i in 0..4 {
                lines.push(([ring[i], ring[(i + 1) % 4]], SILK));
            }
        }
        Outline::Circle { at, diameter } => {
            let r = diameter / 2.0 + 0.25;
            let point = |i: u32| {
                let a = f64::from(i) * std::f64::consts::TAU / 36.0;
                [at[0] + r * a.cos(), at[1] + r * a.sin()]
            };
            for i in 0..36 {
                lines.push(([point(i), point(i + 1)], SILK));
            }
        }
        Outline::Polygon { .. } => {}
    }
}
