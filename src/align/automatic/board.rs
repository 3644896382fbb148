//! The table beside the board, taken out of a photo of which the board's edge is known: two photos
//! taken on one cutting mat or carpet fit each other there whatever lies on it.

use euclid::Point2D;
use image::{GrayImage, Luma};
use rayon::prelude::*;

use super::view::Shown;
use crate::geometry::PhotoA;
use crate::register::Plane;

/// Whether a place of the photo, upright full-size px, shows the board.
pub type OnBoard<'a> = &'a (dyn Fn(Point2D<f64, PhotoA>) -> bool + Sync);

/// Cells along the longer edge in which board and table are told apart.
const CELLS: u32 = 256;

/// Blur of the edge between them, cells: a sharp one would be a feature of its own.
const FADE: f32 = 2.0;

/// A photo whose table is less than this share of it is left as it is.
const LEAST_TABLE: f64 = 0.02;

/// The least that a board must cover, cells each way, to be matched by itself.
const LEAST_CELLS: u32 = 8;

/// The photo without its table.
pub(super) struct BoardOnly {
    gray: GrayImage,
    part: [u32; 4],
}

impl BoardOnly {
    /// `None` where there is hardly any table, or hardly any board.
    pub(super) fn of(photo: &GrayImage, on_board: OnBoard) -> Option<Self> {
        let (width, height) = photo.dimensions();
        let cell = f64::from(width.max(height)) / f64::from(CELLS);
        let cells = |edge: u32| (f64::from(edge) / cell).ceil().max(1.0) as u32;
        let (columns, rows) = (cells(width), cells(height));
        let middle = |k: u32| (f64::from(k) + 0.5) * cell - 0.5;
        let board = GrayImage::from_fn(columns, rows, |x, y| {
            Luma([255 * u8::from(on_board(Point2D::new(middle(x), middle(y))))])
        });
        let shown = board.pixels().filter(|p| p.0[0] > 0).count() as f64;
        let all = f64::from(columns * rows);
        if shown > (1.0 - LEAST_TABLE) * all {
            return None;
        }
        // From the edge outwards it fades away.
        let faded = Plane::from_gray(&board).blur(FADE);
        let counts = |x: u32, y: u32| 2.0 * faded.at(x as isize, y as isize) > 0.05;
        let places = || (0..rows).flat_map(|y| (0..columns).map(move |x| (x, y)));
        let (mut low, mut high) = ([columns, rows], [0, 0]);
        for (x, y) in places().filter(|(x, y)| counts(*x, *y)) {
            low = [low[0].min(x), low[1].min(y)];
            high = [high[0].max(x + 1), high[1].max(y + 1)];
        }
        if high[0] < low[0] + LEAST_CELLS || high[1] < low[1] + LEAST_CELLS {
            return None;
        }
        let part = [
            (f64::from(low[0]) * cell) as u32,
            (f64::from(low[1]) * cell) as u32,
            ((f64::from(high[0]) * cell).ceil() as u32).min(width),
            ((f64::from(high[1]) * cell).ceil() as u32).min(height),
        ];
        let mean = mean_on(photo, &board, cell);
        let mut gray = photo.clone();
        gray.par_chunks_mut(width as usize)
            .enumerate()
            .for_each(|(y, row)| {
                let v = (y as f64 + 0.5) / cell - 0.5;
                for (x, value) in row.iter_mut().enumerate() {
                    let u = (x as f64 + 0.5) / cell - 0.5;
                    let last = |edge: u32| f64::from(edge - 1);
                    let at = (u.clamp(0.0, last(columns)), v.clamp(0.0, last(rows)));
                    let share = (2.0 * faded.sample(at.0, at.1).unwrap_or(0.0)).min(1.0);
                    let mixed = share * f32::from(*value) + (1.0 - share) * mean;
                    *value = mixed.round() as u8;
                }
            });
        Some(Self { gray, part })
    }

    pub(super) fn shown(&self) -> Shown<'_> {
        Shown::part(&self.gray, self.part)
    }
}

/// Mean of the photo at the cells that show the board.
fn mean_on(photo: &GrayImage, board: &GrayImage, cell: f64) -> f32 {
    let (width, height) = photo.dimensions();
    let at = |k: u32, edge: u32| (((f64::from(k) + 0.5) * cell) as u32).min(edge - 1);
    let (mut sum, mut count) = (0.0, 0.0);
    for (x, y, _) in board.enumerate_pixels().filter(|(_, _, p)| p.0[0] > 0) {
        sum += f32::from(photo.get_pixel(at(x, width), at(y, height)).0[0]);
        count += 1.0;
    }
    sum / f32::max(count, 1.0)
}
