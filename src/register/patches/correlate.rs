//! How alike a piece is to each place of a window.

use super::seen::Seen;
use crate::wide::{Simd, WithSimd, with_widest};

/// A piece to look for.
pub(super) struct Piece<'a> {
    /// Less their mean, rows first.
    pub(super) values: &'a [f32],
    pub(super) side: usize,
    /// Their length.
    pub(super) norm: f32,
    /// Places of less than this length are plain.
    pub(super) least: f32,
}

/// Normalised correlation of the piece with `span` by `span` places from `corner` on, rows first.
/// Places without contrast score 0.
pub(super) fn correlate(
    piece: &Piece,
    seen: &Seen,
    corner: (isize, isize),
    span: usize,
) -> Vec<f32> {
    with_widest(Correlation {
        piece,
        seen,
        corner,
        span,
    })
}

struct Correlation<'a> {
    piece: &'a Piece<'a>,
    seen: &'a Seen,
    corner: (isize, isize),
    span: usize,
}

impl WithSimd for Correlation<'_> {
    type Output = Vec<f32>;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> Vec<f32> {
        // Rows of places are compared several at once, as each waits for its own sums: as many as
        // leave the fewest over at the end.
        let mut scores = match self.span {
            0..=6 | 11 | 12 | 17 | 18 => self.products::<S, 6>(simd),
            7 | 13 | 14 | 19..=21 => self.products::<S, 7>(simd),
            _ => self.products::<S, 8>(simd),
        };
        self.normalise(&mut scores);
        scores
    }
}

impl Correlation<'_> {
    /// The sum of products at every place, `ROWS` rows of places at once.
    #[inline(always)]
    fn products<S: Simd, const ROWS: usize>(&self, simd: S) -> Vec<f32> {
        let (side, span, (x, y)) = (self.piece.side, self.span, self.corner);
        let mut products = vec![0.0f32; span * span];
        for top in (0..span).step_by(ROWS) {
            for first in (0..span).step_by(S::F32_LANES) {
                let mut sums = [simd.splat_f32s(0.0); ROWS];
                for (row, here) in self.piece.values.chunks(side).enumerate() {
                    let lines: [&[f32]; ROWS] = std::array::from_fn(|r| {
                        let line =
                            (self.seen).from(x + first as isize, y + (top + r + row) as isize);
                        &line[..side + S::F32_LANES]
                    });
                    for (k, p) in here.iter().enumerate() {
                        let p = simd.splat_f32s(*p);
                        for (sum, line) in sums.iter_mut().zip(&lines) {
                            let (places, _) = S::as_simd_f32s(&line[k..k + S::F32_LANES]);
                            *sum = simd.mul_add_f32s(p, places[0], *sum);
                        }
                    }
                }
                let places = first..span.min(first + S::F32_LANES);
                for (line, sums) in products.chunks_mut(span).skip(top).zip(sums) {
                    simd.partial_store_f32s(&mut line[places.clone()], sums);
                }
            }
        }
        products
    }

    /// Divides the products by the lengths of piece and place.
    #[inline(always)]
    fn normalise(&self, scores: &mut [f32]) {
        let (side, span, (x, y)) = (self.piece.side, self.span, self.corner);
        let mut sums = Sums::of(self.seen, (x, y), span, side);
        let mut squares = vec![0.0f32; span];
        for (top, scores) in scores.chunks_mut(span).enumerate() {
            if top > 0 {
                sums.down(self.seen, (x, y + top as isize), side);
            }
            let mut here = sums.first(side);
            for (k, squares) in squares.iter_mut().enumerate() {
                *squares = here.squares_about_mean(side);
                if k + 1 < span {
                    sums.right(&mut here, k, side);
                }
            }
            for (score, squares) in scores.iter_mut().zip(&squares) {
                let length = squares.sqrt();
                let plain = length < self.piece.least;
                let scaled = *score / (self.piece.norm * length);
                *score = if plain { 0.0 } else { scaled };
            }
        }
    }
}

/// Of values and of their squares.
struct Sum {
    values: f64,
    squares: f64,
}

impl Sum {
    /// Of the square of `side` px after its mean is taken away.
    #[inline(always)]
    fn squares_about_mean(&self, side: usize) -> f32 {
        let mean = self.values * self.values / (side * side) as f64;
        (self.squares - mean).max(0.0) as f32
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
