//! The best closed paths round the ring.

use super::dark::WIDTH;
use super::lanes::DIRECTIONS;
use crate::wide::widest;

/// Price of moving one lane between neighbouring directions, log odds: low enough for an off-centre ring,
/// high enough not to hop between reflections.
const SMOOTHNESS: f32 = 0.6;
/// Log odds of one place count up to this, either way: a few black spots must not outweigh a long line, and
/// a bright bridge must not break it.
const MOST: f32 = 3.0;
/// Paths that are tried. The crack lies on the first for 65 to 80 % of the drawn ones, on one of two for 81
/// to 88 % (boards fitted on); a third was not tried.
pub(crate) const PATHS: usize = 2;
/// The next path keeps at least this many lanes away from those before it.
const APART: usize = 4;

/// The best closed paths, each the column in every direction; the later ones keep away from those before.
pub(crate) fn closed_paths(darkness: &[f32]) -> [Vec<usize>; PATHS] {
    let mut gain: Vec<f32> = darkness.iter().map(|z| z.clamp(-MOST, MOST)).collect();
    std::array::from_fn(|_| {
        let path = widest(
            #[inline(always)]
            || closed_path(&gain),
        );
        for (row, column) in gain.chunks_exact_mut(WIDTH).zip(&path) {
            let from = (column + 1).saturating_sub(APART);
            let to = (column + APART).min(WIDTH);
            row[from..to].fill(-MOST);
        }
        path
    })
}

/// The column of the highest-scoring closed path in each direction. Neighbouring directions differ by at
/// most one column, the last and the first too.
///
/// Circular paths by unrolling twice and then closing at the column found in the middle (the
/// "patching" of C. Sun and S. Pallottino, "Circular shortest path in images", 2003).
#[inline(always)]
fn closed_path(gain: &[f32]) -> Vec<usize> {
    let mut back = [[0_i32; WIDTH]; 2 * DIRECTIONS];
    let mut score = [0.0_f32; WIDTH];
    let (rows, _) = gain.as_chunks::<WIDTH>();
    let row = |direction: usize| &rows[direction % DIRECTIONS];
    for (direction, back) in back.iter_mut().enumerate() {
        step(&mut score, row(direction), back);
    }
    let mut column = best(&score);
    for direction in (DIRECTIONS + DIRECTIONS / 2 + 1..2 * DIRECTIONS).rev() {
        column = column.wrapping_add_signed(back[direction][column] as isize);
    }
    // `column` is now where the free path stands half-way: close the path there.
    let start = DIRECTIONS / 2;
    score.fill(f32::NEG_INFINITY);
    score[column] = 0.0;
    for (k, came) in back.iter_mut().enumerate().take(DIRECTIONS + 1).skip(1) {
        step(&mut score, row(start + k), came);
    }
    let mut path = vec![0; DIRECTIONS];
    for k in (1..=DIRECTIONS).rev() {
        path[(start + k) % DIRECTIONS] = column;
        column = column.wrapping_add_signed(back[k][column] as isize);
    }
    path
}

/// One direction forward: `back` says by how many columns the best way comes from elsewhere.
#[inline(always)]
fn step(score: &mut [f32; WIDTH], gain: &[f32; WIDTH], back: &mut [i32; WIDTH]) {
    // One column more on each side, from where no way comes.
    let mut before = [f32::NEG_INFINITY; WIDTH + 2];
    before[1..=WIDTH].copy_from_slice(score);
    for c in 0..WIDTH {
        let (inner, here, outer) = (
            before[c] - SMOOTHNESS,
            before[c + 1],
            before[c + 2] - SMOOTHNESS,
        );
        let from_inner = inner > here;
        let value = if from_inner { inner } else { here };
        let from_outer = outer > value;
        score[c] = gain[c] + if from_outer { outer } else { value };
        back[c] = if from_outer {
            1
        } else {
            -i32::from(from_inner)
        };
    }
}

fn best(score: &[f32; WIDTH]) -> usize {
    let mut at = 0;
    for (i, v) in score.iter().enumerate() {
        if *v > score[at] {
            at = i;
        }
    }
    at
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two rings, the outer one fainter and off-centre.
    fn rings() -> Vec<f32> {
        let mut sheet = vec![-1.0; DIRECTIONS * WIDTH];
        for direction in 0..DIRECTIONS {
            let wave = (direction as f32 * std::f32::consts::TAU / DIRECTIONS as f32).sin();
            sheet[direction * WIDTH + 8] = 2.0;
            sheet[direction * WIDTH + (24.0 + 3.0 * wave).round() as usize] = 1.5;
        }
        sheet
    }

    #[test]
    fn the_clearest_ring_comes_first_and_the_other_second() {
        let [first, second] = closed_paths(&rings());
        assert!(first.iter().all(|c| *c == 8), "{first:?}");
        for (direction, column) in second.iter().enumerate() {
            let wave = (direction as f32 * std::f32::consts::TAU / DIRECTIONS as f32).sin();
            assert!(
                (*column as f32 - 24.0 - 3.0 * wave).abs() < 1.6,
                "{second:?}"
            );
        }
        for path in [first, second] {
            for k in 0..DIRECTIONS {
                assert!(
                    path[k].abs_diff(path[(k + 1) % DIRECTIONS]) <= 1,
                    "closed and steady"
                );
            }
        }
    }
}
