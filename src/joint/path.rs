//! The best closed path round the ring.

use super::valley::DIRECTIONS;

/// Price of moving one column between neighbouring directions, in units of [`super::valley::Valley`]:
/// low enough for an off-centre ring, high enough not to hop between reflections.
const SMOOTHNESS: f32 = 0.15;

/// The column of the highest-scoring closed path at each angle, within `first..=last`. Neighbouring
/// angles differ by at most one column, the last and the first too.
///
/// Circular paths by unrolling twice and then closing at the column found in the middle (the
/// "patching" of C. Sun and S. Pallottino, "Circular shortest path in images", 2003).
pub(crate) fn closed_path(line: &[f32], radii: usize, first: usize, last: usize) -> Vec<usize> {
    let width = last - first + 1;
    let mut back = vec![0_i8; 2 * DIRECTIONS * width];
    let mut score: Vec<f32> = vec![0.0; width];
    let row = |angle: usize| {
        &line[(angle % DIRECTIONS) * radii + first..(angle % DIRECTIONS) * radii + last + 1]
    };
    for angle in 0..2 * DIRECTIONS {
        step(
            &mut score,
            row(angle),
            &mut back[angle * width..(angle + 1) * width],
        );
    }
    let mut column = best(&score);
    for angle in (DIRECTIONS + DIRECTIONS / 2 + 1..2 * DIRECTIONS).rev() {
        column = column.wrapping_add_signed(isize::from(back[angle * width + column]));
    }
    // `column` is now where the free path stands half-way: close the path there.
    let start_angle = DIRECTIONS / 2;
    score.fill(f32::NEG_INFINITY);
    score[column] = row(start_angle)[column];
    for k in 1..=DIRECTIONS {
        let at = k * width;
        step(&mut score, row(start_angle + k), &mut back[at..at + width]);
    }
    let mut path = vec![0; DIRECTIONS];
    for k in (1..=DIRECTIONS).rev() {
        path[(start_angle + k) % DIRECTIONS] = first + column;
        column = column.wrapping_add_signed(isize::from(back[k * width + column]));
    }
    path
}

/// One angle forward: `back` says by how many columns the best way comes from elsewhere.
fn step(score: &mut [f32], gain: &[f32], back: &mut [i8]) {
    let n = score.len();
    let mut left = f32::NEG_INFINITY;
    for c in 0..n {
        let here = score[c];
        let right = if c + 1 < n {
            score[c + 1] - SMOOTHNESS
        } else {
            f32::NEG_INFINITY
        };
        let from_left = left - SMOOTHNESS;
        let (mut value, mut way) = (here, 0_i8);
        if from_left > value {
            (value, way) = (from_left, -1);
        }
        if right > value {
            (value, way) = (right, 1);
        }
        left = here;
        score[c] = value + gain[c];
        back[c] = way;
    }
}

fn best(score: &[f32]) -> usize {
    let mut at = 0;
    for (i, v) in score.iter().enumerate() {
        if *v > score[at] {
            at = i;
        }
    }
    at
}
