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
    let mut sums = Sums::of(seen, (x, y), span, side);
    for (top, scores) in scores.chunks_mut(span).enumerate() {
        if top > 0 {
            sums.down(seen, (x, y + top as isize), side);
        }
        let mut here = sums.first(side);
        for (k, score) in scores.iter_mut().enumerate() {
            let length = here.length(side);
            let plain = length < piece.least;
            *score = if plain {
                0.0
            } else {
                *score / (piece.norm * length as f32)
            };
            if k + 1 < span {
                sums.right(&mut here, k, side);
            }
        }
    }
    scores
}

/// Of values and of their squares.
struct Sum {
    values: f64,
    squares: f64,
}

impl Sum {
    /// Length of the square of `side` px after its mean is taken away.
    #[inline(always)]
    fn length(&self, side: usize) -> f64 {
        let mean = self.values * self.values / (side * side) as f64;
        (self.squares - mean).max(0.0).sqrt()
    }
}

/// Sums over the columns of a strip of a window, from its left edge on.
struct Sums {
    /// Taken off every value first: small numbers lose nothing.
    about: f32,
    values: Vec<f64>,
    squares: Vec<f64>,
}

impl Sums {
    /// Of the strip of `side` rows from (x, y) on, for `span` squares beside each other.
    #[inline(always)]
    fn of(seen: &Seen, (x, y): (isize, isize), span: usize, side: usize) -> Self {
        let wide = span + side - 1;
        let mut sums = Self {
            about: seen.from(x, y + (side / 2) as isize)[wide / 2],
            values: vec![0.0; wide],
            squares: vec![0.0; wide],
        };
        for row in 0..side {
            let line = &seen.from(x, y + row as isize)[..wide];
            for ((sum, square), value) in (sums.values.iter_mut()).zip(&mut sums.squares).zip(line)
            {
                let v = f64::from(value - sums.about);
                *sum += v;
                *square += v * v;
            }
        }
        sums
    }

    /// One row down, to the strip from (x, y) on.
    #[inline(always)]
    fn down(&mut self, seen: &Seen, (x, y): (isize, isize), side: usize) {
        let wide = self.values.len();
        let (out, into) = (
            &seen.from(x, y - 1)[..wide],
            &seen.from(x, y - 1 + side as isize)[..wide],
        );
        let sums = (self.values.iter_mut()).zip(&mut self.squares);
        for ((sum, square), (out, into)) in sums.zip(out.iter().zip(into)) {
            let (out, into) = (f64::from(out - self.about), f64::from(into - self.about));
            *sum += into - out;
            *square += into * into - out * out;
        }
    }

    /// Of the leftmost square.
    #[inline(always)]
    fn first(&self, side: usize) -> Sum {
        Sum {
            values: self.values[..side].iter().sum(),
            squares: self.squares[..side].iter().sum(),
        }
    }

    /// From the square at column `k` to the next.
    #[inline(always)]
    fn right(&self, here: &mut Sum, k: usize, side: usize) {
        here.values += self.values[k + side] - self.values[k];
        here.squares += self.squares[k + side] - self.squares[k];
    }
}
