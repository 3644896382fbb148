//! Small pieces of one picture looked for in the other, about where a transform puts them.

use euclid::Point2D;
use rayon::prelude::*;

use super::Plane;
use crate::geometry::Homography;
use crate::wide::widest;

/// Where and how pieces are looked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PatchGrid {
    /// Cells along the longer edge; one piece is taken from each.
    pub cells: usize,
    /// A piece is 2 `half` + 1 px square.
    pub half: usize,
    /// Displacements up to this many px each way are tried.
    pub reach: usize,
    /// Least standard deviation of a piece (values 0..=1): below it there is nothing to find.
    pub least_contrast: f32,
}

/// A piece of the first picture and where the second has it.
#[derive(Debug, Clone, Copy)]
pub struct PatchHit<A, B> {
    /// Column and row of the grid.
    pub cell: (usize, usize),
    /// Middle of the piece.
    pub from: Point2D<f64, A>,
    /// How firmly a piece like this is held: the smaller eigenvalue of its structure tensor.
    pub strength: f32,
    /// Where the second picture has it.
    pub to: Point2D<f64, B>,
    /// How far that is from where the transform puts it, px of the first picture.
    pub off: f64,
    /// Normalised correlation there, -1..=1.
    pub score: f32,
    /// By how much that beats every displacement more than 2 px from it.
    pub margin: f32,
}

/// Displacements nearer than this belong to one peak, px.
const PEAK_RADIUS: usize = 2;

/// Looks for one piece of `a` from each cell of the grid in `b`. Cells without contrast, or that
/// `b` does not show, are left out. In grid order.
#[must_use]
pub fn patch_hits<A: Send + Sync, B: Send + Sync>(
    a: &Plane,
    b: &Plane,
    transform: &Homography<A, B>,
    grid: &PatchGrid,
) -> Vec<PatchHit<A, B>> {
    let pitch = a.width().max(a.height()) as f64 / grid.cells as f64;
    let columns = (a.width() as f64 / pitch) as usize;
    let rows = (a.height() as f64 / pitch) as usize;
    let pair = Pair {
        a,
        b,
        seen: Seen::of(a, b, transform, grid.reach),
        transform,
        grid,
    };
    (0..columns * rows)
        .into_par_iter()
        .filter_map(|k| {
            let cell = (k % columns, k / columns);
            let middle = detail_in(a, cell, pitch, grid)?;
            look(&pair, cell, middle)
        })
        .collect()
}

/// Two pictures between which pieces are looked for.
struct Pair<'a, A, B> {
    a: &'a Plane,
    b: &'a Plane,
    seen: Seen,
    transform: &'a Homography<A, B>,
    grid: &'a PatchGrid,
}

/// The place of most detail in a cell.
fn detail_in(
    a: &Plane,
    cell: (usize, usize),
    pitch: f64,
    grid: &PatchGrid,
) -> Option<(isize, isize)> {
    let rim = grid.half as isize + 1;
    let right = strip(grid.half) as isize - rim;
    let mut best: Option<(f32, isize, isize)> = None;
    widest(
        #[inline(always)]
        || {
            for v in TRIES {
                for u in TRIES {
                    let x = ((cell.0 as f64 + u) * pitch) as isize;
                    let y = ((cell.1 as f64 + v) * pitch) as isize;
                    let inside = x >= rim
                        && y >= rim
                        && x + right <= a.width() as isize
                        && y + rim < a.height() as isize;
                    if inside {
                        let strength = corner_strength(a, x, y, grid.half as isize);
                        if best.is_none_or(|(most, _, _)| strength >= most) {
                            best = Some((strength, x, y));
                        }
                    }
                }
            }
        },
    );
    best.map(|(_, x, y)| (x, y))
}

/// Places of a cell that are tried, along either axis.
const TRIES: [f64; 4] = [0.125, 0.375, 0.625, 0.875];

/// Pixels of a row that are worked on at once.
const AT_ONCE: usize = 16;

/// Pixels of a row that are read for a piece of `half` px, with a rim of one on either side.
fn strip(half: usize) -> usize {
    (2 * half + 1).next_multiple_of(AT_ONCE) + 2
}

/// Smaller eigenvalue of the structure tensor, every second row: large where a piece cannot slide
/// along itself. The piece with a rim of one pixel, and the [`strip`] from its left edge on, lie
/// inside the picture.
#[inline(always)]
fn corner_strength(a: &Plane, x: isize, y: isize, half: isize) -> f32 {
    let (width, values) = (a.width(), a.values());
    let (left, top) = ((x - half) as usize, (y - half) as usize);
    let side = 2 * half as usize + 1;
    let [mut xx, mut xy, mut yy] = [[0.0f32; AT_ONCE]; 3];
    for row in (top..top + side).step_by(2) {
        for first in (0..side).step_by(AT_ONCE) {
            let line = |row: usize| {
                let start = row * width + left + first - 1;
                &values[start..start + AT_ONCE + 2]
            };
            let (above, here, below) = (line(row - 1), line(row), line(row + 1));
            for k in 0..AT_ONCE {
                let counts = if first + k < side { 1.0 } else { 0.0 };
                let gx = (here[k + 2] - here[k]) * counts;
                let gy = (below[k + 1] - above[k + 1]) * counts;
                xx[k] += gx * gx;
                xy[k] += gx * gy;
                yy[k] += gy * gy;
            }
        }
    }
    let [xx, xy, yy] = [xx, xy, yy].map(|sums| sums.iter().sum::<f32>());
    (xx + yy) / 2.0 - ((xx - yy).powi(2) / 4.0 + xy * xy).sqrt()
}

fn look<A, B>(
    pair: &Pair<A, B>,
    cell: (usize, usize),
    (x, y): (isize, isize),
) -> Option<PatchHit<A, B>> {
    let (half, reach) = (pair.grid.half as isize, pair.grid.reach as isize);
    if !shows(pair.b, pair.transform, (x, y), half + reach) {
        return None;
    }
    let side = (2 * half + 1) as usize;
    let mut piece = Vec::with_capacity(side * side);
    for row in y - half..=y + half {
        let start = row as usize * pair.a.width() + (x - half) as usize;
        piece.extend_from_slice(&pair.a.values()[start..start + side]);
    }
    let norm = centre(&mut piece);
    if norm < pair.grid.least_contrast * side as f32 {
        return None;
    }
    let piece = Piece {
        values: &piece,
        side,
        norm,
        least: f64::from(pair.grid.least_contrast) * side as f64,
    };
    let span = (2 * reach + 1) as usize;
    let corner = (x - half - reach, y - half - reach);
    let scores = correlate(&piece, &pair.seen, corner, span);
    let (peak, score) = (scores.iter().copied().enumerate()).max_by(|p, q| p.1.total_cmp(&q.1))?;
    let (px, py) = ((peak % span) as isize, (peak / span) as isize);
    let at = |kx: isize, ky: isize| {
        let inside = (0..span as isize).contains(&kx) && (0..span as isize).contains(&ky);
        inside.then(|| scores[ky as usize * span + kx as usize])
    };
    let dx = (px - reach) as f64 + parabola(at(px - 1, py), score, at(px + 1, py));
    let dy = (py - reach) as f64 + parabola(at(px, py - 1), score, at(px, py + 1));
    let from = Point2D::new(x as f64, y as f64);
    Some(PatchHit {
        cell,
        from,
        strength: corner_strength(pair.a, x, y, half),
        to: (pair.transform).apply(Point2D::new(x as f64 + dx, y as f64 + dy))?,
        off: (dx * dx + dy * dy).sqrt(),
        score,
        margin: score - rival(&scores, span, (px as usize, py as usize)),
    })
}

/// The best score outside the peak's own surroundings.
fn rival(scores: &[f32], span: usize, (px, py): (usize, usize)) -> f32 {
    let most = |some: &[f32]| some.iter().copied().fold(-1.0, f32::max);
    let (left, right) = (
        px.saturating_sub(PEAK_RADIUS),
        (px + PEAK_RADIUS + 1).min(span),
    );
    (scores.chunks(span).enumerate())
        .map(|(y, row)| {
            if y.abs_diff(py) > PEAK_RADIUS {
                most(row)
            } else {
                most(&row[..left]).max(most(&row[right..]))
            }
        })
        .fold(-1.0, f32::max)
}

/// Whether `b` shows all of the square of `half` px about (x, y).
fn shows<A, B>(
    b: &Plane,
    transform: &Homography<A, B>,
    (x, y): (isize, isize),
    half: isize,
) -> bool {
    let middle = Point2D::new(x as f64, y as f64);
    let (Some(at), Some([across, down])) = (transform.apply(middle), transform.jacobian(middle))
    else {
        return false;
    };
    let reach = half as f64;
    let (far_x, far_y) = (
        reach * (across.x.abs() + down.x.abs()),
        reach * (across.y.abs() + down.y.abs()),
    );
    at.x - far_x >= 0.0
        && at.y - far_y >= 0.0
        && at.x + far_x < b.width() as f64 - 2.0
        && at.y + far_y < b.height() as f64 - 2.0
}

/// Pixels over which a view is taken as affine: what perspective bends there is far below a pixel.
const RUN: usize = 16;

/// Rows below, and columns to the right, that are read but count for nothing: places are compared
/// several at a time.
const SPARE: usize = 32;

/// The second picture as it looks from the first, with a rim around.
struct Seen {
    /// From one row to the next.
    stride: usize,
    rim: isize,
    values: Vec<f32>,
}

impl Seen {
    /// `b` at the pixels of `a` and `rim` px around; where it shows nothing, anything.
    fn of<A: Sync, B: Sync>(
        a: &Plane,
        b: &Plane,
        transform: &Homography<A, B>,
        rim: usize,
    ) -> Self {
        let stride = (a.width() + 2 * rim + SPARE).next_multiple_of(RUN);
        let rows = a.height() + 2 * rim + SPARE;
        let mut values = vec![0.0f32; stride * rows];
        values
            .par_chunks_mut(stride)
            .take(a.height() + 2 * rim)
            .enumerate()
            .for_each(|(row, line)| {
                let y = row as f64 - rim as f64;
                widest(
                    #[inline(always)]
                    || {
                        for (run, out) in line.as_chunks_mut::<RUN>().0.iter_mut().enumerate() {
                            let x = (run * RUN + RUN / 2) as f64 - rim as f64;
                            seen_from(b, transform, Point2D::new(x, y), out);
                        }
                    },
                );
            });
        Self {
            stride,
            rim: rim as isize,
            values,
        }
    }

    /// From (x, y) on, all that follows.
    #[inline(always)]
    fn from(&self, x: isize, y: isize) -> &[f32] {
        &self.values[(y + self.rim) as usize * self.stride + (x + self.rim) as usize..]
    }
}

/// `b` along a run of pixels of a row, of which `middle` is the one in the middle.
#[inline(always)]
fn seen_from<A, B>(
    b: &Plane,
    transform: &Homography<A, B>,
    middle: Point2D<f64, A>,
    out: &mut [f32; RUN],
) {
    let (Some(at), Some([across, _])) = (transform.apply(middle), transform.jacobian(middle))
    else {
        return;
    };
    // Offsets from a whole pixel keep 32 bits exact enough.
    let (whole_x, whole_y) = (at.x.floor(), at.y.floor());
    let (fx, fy) = ((at.x - whole_x) as f32, (at.y - whole_y) as f32);
    let (ax, ay) = (across.x as f32, across.y as f32);
    // Far outside, any place will do.
    let far = |whole: f64| whole.clamp(-1e8, 1e8) as i32;
    let (whole_x, whole_y) = (far(whole_x), far(whole_y));
    let (width, values) = (b.width(), b.values());
    let (most_x, most_y) = (width as i32 - 2, b.height() as i32 - 2);
    let (mut start, mut right, mut down) = ([0usize; RUN], [0.0f32; RUN], [0.0f32; RUN]);
    for k in 0..RUN {
        let off = k as f32 - (RUN / 2) as f32;
        let (px, py) = (fx + off * ax, fy + off * ay);
        let (left, top) = (px.floor(), py.floor());
        let column = (whole_x + left as i32).clamp(0, most_x) as usize;
        let row = (whole_y + top as i32).clamp(0, most_y) as usize;
        start[k] = row * width + column;
        (right[k], down[k]) = (px - left, py - top);
    }
    for (out, (start, (tx, ty))) in out
        .iter_mut()
        .zip(start.iter().zip(right.iter().zip(&down)))
    {
        let (upper, lower) = (
            &values[*start..start + 2],
            &values[start + width..start + width + 2],
        );
        let above = upper[0] + (upper[1] - upper[0]) * tx;
        let below = lower[0] + (lower[1] - lower[0]) * tx;
        *out = above + (below - above) * ty;
    }
}

/// Takes the mean away; returns the length that is left.
fn centre(values: &mut [f32]) -> f32 {
    let mean = values.iter().sum::<f32>() / values.len() as f32;
    let mut squares = 0.0;
    for value in values {
        *value -= mean;
        squares += *value * *value;
    }
    squares.sqrt()
}

/// A piece to look for.
struct Piece<'a> {
    /// Less their mean, rows first.
    values: &'a [f32],
    side: usize,
    /// Their length.
    norm: f32,
    /// Places of less than this length are plain.
    least: f64,
}

/// Normalised correlation of the piece with `span` by `span` places from `corner` on, rows first.
/// Places without contrast score 0.
fn correlate(piece: &Piece, seen: &Seen, corner: (isize, isize), span: usize) -> Vec<f32> {
    widest(
        #[inline(always)]
        || {
            if span <= 16 {
                correlate_by::<16>(piece, seen, corner, span)
            } else {
                correlate_by::<24>(piece, seen, corner, span)
            }
        },
    )
}

/// Rows of places that are compared at once: each waits for its own sums.
const ROWS: usize = 4;

/// The same, `LANES` neighbouring places of [`ROWS`] rows at a time.
#[inline(always)]
fn correlate_by<const LANES: usize>(
    piece: &Piece,
    seen: &Seen,
    (x, y): (isize, isize),
    span: usize,
) -> Vec<f32> {
    let side = piece.side;
    let mut scores = vec![0.0f32; span * span];
    for top in (0..span).step_by(ROWS) {
        for first in (0..span).step_by(LANES) {
            let mut products = [[0.0f32; LANES]; ROWS];
            for (row, here) in piece.values.chunks(side).enumerate() {
                let lines: [&[f32]; ROWS] = std::array::from_fn(|r| {
                    let line = seen.from(x + first as isize, y + (top + r + row) as isize);
                    &line[..side + LANES]
                });
                for (k, p) in here.iter().enumerate() {
                    for (products, line) in products.iter_mut().zip(&lines) {
                        for (product, t) in products.iter_mut().zip(&line[k..k + LANES]) {
                            *product += p * t;
                        }
                    }
                }
            }
            for (r, products) in products.iter().enumerate().take(span - top) {
                let out = &mut scores[(top + r) * span + first..(top + r + 1) * span];
                for (out, product) in out.iter_mut().zip(products) {
                    *out = *product;
                }
            }
        }
    }
    let mut sums = Sums::new(span + side - 1);
    for (top, scores) in scores.chunks_mut(span).enumerate() {
        sums.take(seen, (x, y + top as isize), side);
        for (k, score) in scores.iter_mut().enumerate() {
            let length = sums.length(k, side);
            let plain = length < piece.least;
            *score = if plain {
                0.0
            } else {
                *score / (piece.norm * length as f32)
            };
        }
    }
    scores
}

/// Sums over the columns of a strip of a window, from its left edge on.
struct Sums {
    /// Of the values and of their squares, by column, less one of them: small numbers lose nothing.
    columns: Vec<[f32; 2]>,
    /// Over all columns before one.
    upto: Vec<[f64; 2]>,
}

impl Sums {
    fn new(wide: usize) -> Self {
        Self {
            columns: vec![[0.0; 2]; wide],
            upto: vec![[0.0; 2]; wide + 1],
        }
    }

    /// The strip of `side` rows from (x, y) on.
    #[inline(always)]
    fn take(&mut self, seen: &Seen, (x, y): (isize, isize), side: usize) {
        let wide = self.columns.len();
        let about = seen.from(x, y)[wide / 2];
        self.columns.fill([0.0; 2]);
        for row in 0..side {
            let line = &seen.from(x, y + row as isize)[..wide];
            for ([sum, square], value) in self.columns.iter_mut().zip(line) {
                let v = value - about;
                *sum += v;
                *square += v * v;
            }
        }
        let mut all = [0.0f64; 2];
        for (upto, column) in self.upto[1..].iter_mut().zip(&self.columns) {
            all = [all[0] + f64::from(column[0]), all[1] + f64::from(column[1])];
            *upto = all;
        }
    }

    /// Length of the square of `side` px from column `k` on after its mean is taken away.
    #[inline(always)]
    fn length(&self, k: usize, side: usize) -> f64 {
        let sum = self.upto[k + side][0] - self.upto[k][0];
        let square = self.upto[k + side][1] - self.upto[k][1];
        (square - sum * sum / (side * side) as f64).max(0.0).sqrt()
    }
}

/// Offset of the top of the parabola through three values at -1, 0 and 1.
fn parabola(before: Option<f32>, here: f32, after: Option<f32>) -> f64 {
    let (Some(before), Some(after)) = (before, after) else {
        return 0.0;
    };
    let bend = f64::from(before - 2.0 * here + after);
    if bend >= -1e-9 {
        return 0.0;
    }
    (0.5 * f64::from(before - after) / bend).clamp(-0.5, 0.5)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::{PhotoA, PhotoB};
    use proptest::prelude::*;

    /// A picture without a pattern.
    fn grain(width: usize, height: usize, seed: u32) -> Plane {
        let value = |k: usize| {
            let mut v = (k as u32 ^ seed).wrapping_mul(0x9e37_79b9);
            v = (v ^ (v >> 15)).wrapping_mul(0x85eb_ca6b);
            (v ^ (v >> 13)) as f32 / u32::MAX as f32
        };
        Plane::from_values(width, height, (0..width * height).map(value).collect()).unwrap()
    }

    /// Normalised correlation of the squares of `half` px about two places, by its definition.
    fn alike(a: &Plane, from: [isize; 2], b: &Plane, to: [isize; 2], half: isize) -> f64 {
        let all = |plane: &Plane, at: [isize; 2]| -> Vec<f64> {
            let offsets = (-half..=half).flat_map(|v| (-half..=half).map(move |u| (u, v)));
            let values: Vec<f64> = offsets
                .map(|(u, v)| f64::from(plane.at(at[0] + u, at[1] + v)))
                .collect();
            let mean = values.iter().sum::<f64>() / values.len() as f64;
            values.iter().map(|v| v - mean).collect()
        };
        let (p, q) = (all(a, from), all(b, to));
        let dot = |p: &[f64], q: &[f64]| p.iter().zip(q).map(|(x, y)| x * y).sum::<f64>();
        dot(&p, &q) / (dot(&p, &p) * dot(&q, &q)).sqrt()
    }

    #[test]
    fn pieces_are_found_where_the_definition_of_correlation_has_them() {
        let a = grain(240, 200, 1);
        // Shifted by (3, -2), with other grain mixed in.
        let other = grain(240, 200, 7);
        let shifted = (0..240 * 200).map(|k| {
            let (x, y) = ((k % 240) as isize, (k / 240) as isize);
            0.7 * a.at(x - 3, y + 2) + 0.3 * other.values()[k]
        });
        let b = Plane::from_values(240, 200, shifted.collect()).unwrap();
        let same: Homography<PhotoA, PhotoB> =
            Homography::from_rows([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]).unwrap();
        // Searches narrower and wider than the vectors and than any that the program asks for.
        for (half, reach) in [(6, 5), (7, 7), (6, 8), (6, 11), (9, 13), (12, 30)] {
            let grid = PatchGrid {
                cells: 5,
                half,
                reach,
                least_contrast: 0.02,
            };
            let hits = patch_hits(&a, &b, &same, &grid);
            assert!(hits.len() >= 4, "{half} {reach}: {} hits", hits.len());
            for hit in hits {
                let from = [hit.from.x as isize, hit.from.y as isize];
                let place = |u: isize, v: isize| [from[0] + u, from[1] + v];
                let best = alike(&a, from, &b, place(3, -2), half as isize);
                assert!(
                    (f64::from(hit.score) - best).abs() < 1e-4,
                    "{hit:?}: {best}"
                );
                let moved = hit.to - euclid::point2(from[0] as f64, from[1] as f64);
                assert!((moved - euclid::vec2(3.0, -2.0)).length() < 0.3, "{hit:?}");
                let reach = reach as isize;
                let rival = (-reach..=reach)
                    .flat_map(|v| (-reach..=reach).map(move |u| (u, v)))
                    .filter(|(u, v)| (u - 3).abs() > 2 || (v + 2).abs() > 2)
                    .map(|(u, v)| alike(&a, from, &b, place(u, v), half as isize))
                    .fold(-1.0, f64::max);
                let margin = best - rival;
                assert!(
                    (f64::from(hit.margin) - margin).abs() < 1e-4,
                    "{hit:?}: {margin}"
                );
            }
        }
    }

    proptest! {
        #[test]
        fn a_view_has_what_the_picture_has_where_the_transform_puts_it(
            turn in -3.0..3.0_f64,
            scale in 0.4..2.0_f64,
            tilt in -1e-4..1e-4_f64,
        ) {
            let value = |x: usize, y: usize| {
                ((x as f32 * 0.31).sin() + (y as f32 * 0.17).cos()).mul_add(0.2, 0.5)
            };
            let values = (0..90 * 70).map(|k| value(k % 90, k / 90)).collect();
            let b = Plane::from_values(90, 70, values).unwrap();
            let a = Plane::from_values(61, 53, vec![0.0; 61 * 53]).unwrap();
            let (s, c) = (scale * turn.sin(), scale * turn.cos());
            let transform: Homography<PhotoA, PhotoB> = Homography::from_rows([
                [c, -s, 45.0 - 30.0 * c + 26.0 * s],
                [s, c, 35.0 - 30.0 * s - 26.0 * c],
                [tilt, -tilt, 1.0],
            ])
            .unwrap();
            let seen = Seen::of(&a, &b, &transform, 4);
            for y in -4..57_isize {
                for x in -4..65_isize {
                    let at = transform.apply(Point2D::new(x as f64, y as f64)).unwrap();
                    let well_inside = (1.0..88.0).contains(&at.x) && (1.0..68.0).contains(&at.y);
                    if let Some(there) = b.sample(at.x, at.y).filter(|_| well_inside) {
                        let here = seen.from(x, y)[0];
                        prop_assert!((here - there).abs() < 0.01, "{x} {y}: {here} for {there}");
                    }
                }
            }
        }
    }
}
