//! Intervals by redrawing whole groups of cases.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

use super::classify::quantile_of_sorted;
use super::interval::Interval;

/// The 95 % percentile interval of a figure when whole groups of cases are redrawn with replacement: cases of
/// one group (one photo) have too much in common to count as separate.
///
/// `groups` holds the cases of each group; `figure` gets the cases of one redraw, some of them several times,
/// and may answer `None` where they allow no figure. Such redraws are left out.
///
/// `None` with fewer than two groups, or where half of the redraws or more allow no figure. The result depends
/// on `seed`, never on the number of threads.
#[must_use]
pub fn group_bootstrap_95(
    groups: &[Vec<usize>],
    draws: u32,
    seed: u64,
    figure: impl Fn(&[usize]) -> Option<f64> + Sync,
) -> Option<Interval> {
    if groups.len() < 2 {
        return None;
    }
    let mut values: Vec<f64> = (0..draws)
        .into_par_iter()
        .filter_map(|draw| {
            let mut rng = ChaCha8Rng::seed_from_u64(seed);
            rng.set_stream(u64::from(draw));
            let mut cases = Vec::new();
            for _ in 0..groups.len() {
                cases.extend_from_slice(&groups[rng.random_range(0..groups.len())]);
            }
            figure(&cases)
        })
        .filter(|v| v.is_finite())
        .collect();
    if values.is_empty() || values.len() * 2 <= draws as usize {
        return None;
    }
    values.sort_by(f64::total_cmp);
    Some(Interval {
        low: quantile_of_sorted(&values, 0.025),
        high: quantile_of_sorted(&values, 0.975),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mean(values: &[f64]) -> impl Fn(&[usize]) -> Option<f64> + Sync {
        |cases| {
            let n = cases.len() as f64;
            (n > 0.0).then(|| cases.iter().map(|i| values[*i]).sum::<f64>() / n)
        }
    }

    #[test]
    fn groups_that_agree_within_make_a_wide_interval() {
        // Twenty groups of fifty equal values: the mean knows twenty things, not a thousand.
        let values: Vec<f64> = (0..1000).map(|i| f64::from(i / 50 % 2)).collect();
        let grouped: Vec<Vec<usize>> = (0..20).map(|g| (g * 50..(g + 1) * 50).collect()).collect();
        let alone: Vec<Vec<usize>> = (0..1000).map(|i| vec![i]).collect();
        let width = |groups: &[Vec<usize>]| {
            let i = group_bootstrap_95(groups, 1000, 7, mean(&values)).unwrap();
            assert!(i.low < 0.5 && i.high > 0.5);
            i.high - i.low
        };
        // Binomial theory: 2 x 1.96 x sqrt(.25 / n).
        assert!(
            (width(&grouped) - 0.438).abs() < 0.06,
            "{}",
            width(&grouped)
        );
        assert!((width(&alone) - 0.062).abs() < 0.01, "{}", width(&alone));
    }

    #[test]
    fn the_seed_decides_and_the_threads_do_not() {
        let values: Vec<f64> = (0..90).map(|i| f64::from(i * i % 17)).collect();
        let groups: Vec<Vec<usize>> = (0..9).map(|g| (g * 10..(g + 1) * 10).collect()).collect();
        let run = |threads, seed| {
            rayon::ThreadPoolBuilder::new()
                .num_threads(threads)
                .build()
                .unwrap()
                .install(|| group_bootstrap_95(&groups, 200, seed, mean(&values)))
        };
        assert_eq!(run(1, 1), run(4, 1));
        assert_ne!(run(1, 1), run(1, 2));
        assert_eq!(
            group_bootstrap_95(&groups[..1], 200, 1, mean(&values)),
            None
        );
    }
}
