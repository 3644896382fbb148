//! How a picture repeats itself: the shifts that lay many of its places on others that look alike,
//! such as one pitch along a row of pins.

use super::Feature;
use super::descriptor::cosine;

/// The strongest features that are compared with each other; the cost is the square.
const COMPARED: usize = 1200;

/// Least cosine of two places that look alike.
const ALIKE: f32 = 0.85;

/// Directions of alike places agree to this, radians.
const TURN: f32 = 0.2;

/// Scales of alike places agree to this factor.
const SCALE: f32 = 1.25;

/// Shortest shift that counts, px: shorter ones are one place seen twice.
const SHORTEST_PX: f32 = 6.0;

/// Side of a cell of votes, px.
const CELL_PX: f32 = 3.0;

/// Fewer places than this are no repetition.
const LEAST_VOTES: u32 = 8;

/// Shifts nearer to a stronger one than this, px, are the same.
const APART_PX: f32 = 7.0;

/// The strongest shifts up to `longest` px that lay the picture on itself, at most `most`; each
/// stands for its opposite too.
#[must_use]
pub fn repeats(features: &[Feature], longest: f32, most: usize) -> Vec<[f64; 2]> {
    let mut strongest: Vec<&Feature> = features.iter().collect();
    strongest.sort_by(|a, b| b.response.total_cmp(&a.response));
    strongest.truncate(COMPARED);
    let half = (longest / CELL_PX).ceil() as usize + 1;
    let wide = 2 * half + 1;
    let mut votes = vec![0u32; wide * (half + 1)];
    for (i, a) in strongest.iter().enumerate() {
        for b in &strongest[i + 1..] {
            let (mut dx, mut dy) = (b.x - a.x, b.y - a.y);
            if dy < 0.0 || (dy == 0.0 && dx < 0.0) {
                (dx, dy) = (-dx, -dy);
            }
            let length = (dx * dx + dy * dy).sqrt();
            let turn = (a.angle - b.angle).rem_euclid(std::f32::consts::TAU);
            let scale = a.scale / b.scale;
            if (SHORTEST_PX..longest).contains(&length)
                && turn.min(std::f32::consts::TAU - turn) < TURN
                && (1.0 / SCALE..SCALE).contains(&scale)
                && cosine(&a.descriptor, &b.descriptor) > ALIKE
            {
                let column = (dx / CELL_PX).round() as isize + half as isize;
                let row = (dy / CELL_PX).round() as usize;
                votes[row * wide + column as usize] += 1;
            }
        }
    }
    peaks(&votes, wide, half, most)
}

fn peaks(votes: &[u32], wide: usize, half: usize, most: usize) -> Vec<[f64; 2]> {
    let at = |column: isize, row: isize| {
        // Below the first row lies the opposite half, turned over.
        let (column, row) = if row < 0 {
            (2 * half as isize - column, -row)
        } else {
            (column, row)
        };
        let inside = (0..wide as isize).contains(&column) && row <= half as isize;
        if inside {
            votes[row as usize * wide + column as usize]
        } else {
            0
        }
    };
    let mut sums: Vec<(u32, f32, f32)> = Vec::new();
    for row in 0..=half as isize {
        for column in 0..wide as isize {
            if at(column, row) == 0 {
                continue;
            }
            let mut total = 0;
            let (mut x, mut y) = (0.0f32, 0.0f32);
            for (c, r) in (-1..=1).flat_map(|r| (-1..=1).map(move |c| (c, r))) {
                let count = at(column + c, row + r);
                total += count;
                x += count as f32 * (column + c - half as isize) as f32;
                y += count as f32 * (row + r) as f32;
            }
            if total >= LEAST_VOTES {
                let scale = CELL_PX / total as f32;
                sums.push((total, x * scale, y * scale));
            }
        }
    }
    sums.sort_by(|p, q| {
        (q.0.cmp(&p.0))
            .then(p.1.total_cmp(&q.1))
            .then(p.2.total_cmp(&q.2))
    });
    let mut chosen: Vec<[f64; 2]> = Vec::new();
    for (_, x, y) in sums {
        let (x, y) = (f64::from(x), f64::from(y));
        let near = |sign: f64| {
            let apart = f64::from(APART_PX);
            chosen
                .iter()
                .any(|c| (c[0] - sign * x).hypot(c[1] - sign * y) < apart)
        };
        if chosen.len() < most && !near(1.0) && !near(-1.0) {
            chosen.push([x, y]);
        }
    }
    chosen
}
