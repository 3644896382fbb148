//! How alike a piece is to each place of a window.

use super::seen::Seen;
use crate::wide::widest;

/// A piece to look for.
pub(super) struct Piece<'a> {
    /// Less their mean, rows first.
    pub(super) values: &'a [f32],
    pub(super) side: usize,
    /// Their length.
    pub(super) norm: f32,
    /// Places of less than this length are plain.
    pub(super) least: f64,
}

/// Normalised correlation of the piece with `span` by `span` places from `corner` on, rows first.
/// Places without contrast score 0.
pub(super) fn correlate(
    piece: &Piece,
    seen: &Seen,
    corner: (isize, isize),
    span: usize,
) -> Vec<f32> {
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
