//! How well a score tells two kinds apart, and whether a probability means what it says.
//!
//! Every function takes one score per case and whether the case is of the sought kind. Ties count as
//! they should: no figure depends on the order of the cases. Definitions are those of scikit-learn
//! (checked against it in `tests/outside/classify.rs`).

/// A score or its truth is missing: figures of different lengths cannot be compared.
fn usable(scores: &[f64], truth: &[bool]) -> bool {
    !scores.is_empty() && scores.len() == truth.len() && scores.iter().all(|s| s.is_finite())
}

/// Cases sorted by falling score, equal scores together: (sought, others) above and at each distinct score.
fn steps(scores: &[f64], truth: &[bool]) -> Vec<(f64, f64)> {
    let mut order: Vec<usize> = (0..scores.len()).collect();
    order.sort_by(|a, b| scores[*b].total_cmp(&scores[*a]));
    let mut out: Vec<(f64, f64)> = Vec::new();
    let (mut hits, mut alarms) = (0.0, 0.0);
    for (k, i) in order.iter().enumerate() {
        if truth[*i] {
            hits += 1.0;
        } else {
            alarms += 1.0;
        }
        let last_of_tie = order
            .get(k + 1)
            .is_none_or(|next| scores[*next] < scores[*i]);
        if last_of_tie {
            out.push((hits, alarms));
        }
    }
    out
}

/// Area under the ROC curve: the chance that a case of the sought kind scores above one of the other,
/// ties counting half. `None` where one of the kinds is missing or a score is no number.
#[must_use]
pub fn roc_auc(scores: &[f64], truth: &[bool]) -> Option<f64> {
    if !usable(scores, truth) {
        return None;
    }
    let steps = steps(scores, truth);
    let (all_hits, all_alarms) = *steps.last()?;
    if all_hits == 0.0 || all_alarms == 0.0 {
        return None;
    }
    let (mut area, mut before) = (0.0, (0.0, 0.0));
    for (hits, alarms) in steps {
        area += (alarms - before.1) * (hits + before.0) / 2.0;
        before = (hits, alarms);
    }
    Some(area / (all_hits * all_alarms))
}

/// Average precision: precision at each step of recall, weighted by the step. It depends on how common the
/// sought kind is. `None` where the sought kind is missing or a score is no number.
#[must_use]
pub fn average_precision(scores: &[f64], truth: &[bool]) -> Option<f64> {
    if !usable(scores, truth) {
        return None;
    }
    let steps = steps(scores, truth);
    let all = steps.last()?.0;
    if all == 0.0 {
        return None;
    }
    let (mut sum, mut before) = (0.0, 0.0);
    for (hits, alarms) in steps {
        sum += (hits - before) / all * hits / (hits + alarms);
        before = hits;
    }
    Some(sum)
}

/// Least share of the other kind at or above a threshold that finds at least `recall` of the sought kind.
/// `None` where one of the kinds is missing, a score is no number, or `recall` is not in 0..=1.
#[must_use]
pub fn alarms_at_recall(scores: &[f64], truth: &[bool], recall: f64) -> Option<f64> {
    if !usable(scores, truth) || !(0.0..=1.0).contains(&recall) {
        return None;
    }
    let steps = steps(scores, truth);
    let (all_hits, all_alarms) = *steps.last()?;
    if all_hits == 0.0 || all_alarms == 0.0 {
        return None;
    }
    // A hair below, so that nine of ten are 90 % whatever the rounding.
    let wanted = recall * all_hits - 1e-9;
    steps
        .iter()
        .find(|(hits, _)| *hits >= wanted)
        .map(|(_, alarms)| alarms / all_alarms)
}

/// Brier score (Brier 1950): mean squared distance of the probability from 0 or 1. `None` for no cases or
/// probabilities outside 0..=1.
#[must_use]
pub fn brier(probabilities: &[f64], truth: &[bool]) -> Option<f64> {
    if !usable(probabilities, truth) || probabilities.iter().any(|p| !(0.0..=1.0).contains(p)) {
        return None;
    }
    let sum: f64 = probabilities
        .iter()
        .zip(truth)
        .map(|(p, t)| (p - f64::from(u8::from(*t))).powi(2))
        .sum();
    Some(sum / probabilities.len() as f64)
}

/// Brier skill against always saying how common the sought kind is in these cases: 1 is perfect, 0 knows
/// nothing, below 0 misleads. `None` as for [`brier`], and where one of the kinds is missing.
#[must_use]
pub fn brier_skill(probabilities: &[f64], truth: &[bool]) -> Option<f64> {
    let score = brier(probabilities, truth)?;
    let share = truth.iter().filter(|t| **t).count() as f64 / truth.len() as f64;
    let blind = share * (1.0 - share);
    (blind > 0.0).then(|| 1.0 - score / blind)
}

/// One bin of a reliability plot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReliabilityBin {
    /// Mean probability said.
    pub said: f64,
    /// Share of the sought kind that came.
    pub came: f64,
    /// Cases of the sought kind.
    pub hits: u64,
    /// Cases in the bin.
    pub n: u64,
}

/// Bins of (nearly) equal mass: edges at the quantiles of the probabilities, interpolated; a value on an
/// edge belongs to the bin below. Bins that ties leave empty are left out. Empty where nothing can be said.
#[must_use]
pub fn reliability(probabilities: &[f64], truth: &[bool], bins: usize) -> Vec<ReliabilityBin> {
    if !usable(probabilities, truth) || bins == 0 {
        return Vec::new();
    }
    let mut sorted = probabilities.to_vec();
    sorted.sort_by(f64::total_cmp);
    let edges: Vec<f64> = (1..bins)
        .map(|k| quantile_of_sorted(&sorted, k as f64 / bins as f64))
        .collect();
    let mut sums = vec![(0.0_f64, 0_u64, 0_u64); bins];
    for (p, t) in probabilities.iter().zip(truth) {
        let bin = edges.partition_point(|edge| edge < p);
        sums[bin].0 += p;
        sums[bin].1 += u64::from(*t);
        sums[bin].2 += 1;
    }
    sums.into_iter()
        .filter(|(_, _, n)| *n > 0)
        .map(|(said, hits, n)| ReliabilityBin {
            said: said / n as f64,
            came: hits as f64 / n as f64,
            hits,
            n,
        })
        .collect()
}

/// Expected calibration error: mean distance between what was said and what came over [`reliability`]'s
/// bins, weighted by their cases. `None` where nothing can be said.
#[must_use]
pub fn calibration_error(probabilities: &[f64], truth: &[bool], bins: usize) -> Option<f64> {
    let bins = reliability(probabilities, truth, bins);
    let all: u64 = bins.iter().map(|b| b.n).sum();
    if all == 0 {
        return None;
    }
    let sum: f64 = bins
        .iter()
        .map(|b| b.n as f64 * (b.said - b.came).abs())
        .sum();
    Some(sum / all as f64)
}

/// Linear interpolation between the order statistics, as numpy's default quantile.
pub(super) fn quantile_of_sorted(sorted: &[f64], q: f64) -> f64 {
    let at = q * (sorted.len() - 1) as f64;
    let (low, share) = (at.floor() as usize, at.fract());
    let high = (low + 1).min(sorted.len() - 1);
    sorted[low] + share * (sorted[high] - sorted[low])
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn no_data_is_no_figure() {
        assert_eq!(roc_auc(&[], &[]), None);
        assert_eq!(roc_auc(&[0.1, 0.2], &[true, true]), None);
        assert_eq!(roc_auc(&[0.1, f64::NAN], &[true, false]), None);
        assert_eq!(average_precision(&[0.1], &[false]), None);
        assert_eq!(brier(&[1.2], &[true]), None);
        assert_eq!(brier_skill(&[0.2], &[true]), None);
        assert_eq!(alarms_at_recall(&[0.5, 0.4], &[true, false], 1.5), None);
        assert_eq!(calibration_error(&[], &[], 10), None);
    }

    #[test]
    fn nine_of_ten_found_is_ninety_percent() {
        let scores: Vec<f64> = (0..20).map(|k| f64::from(20 - k)).collect();
        // The ten sought come first but for the last one, which comes at the very end.
        let truth: Vec<bool> = (0..20).map(|k| k < 9 || k == 19).collect();
        assert_eq!(alarms_at_recall(&scores, &truth, 0.9), Some(0.0));
        assert_eq!(alarms_at_recall(&scores, &truth, 0.95), Some(1.0));
    }

    proptest! {
        #[test]
        fn auc_turns_round_with_the_scores(
            cases in prop::collection::vec((0_u8..12, any::<bool>()), 2..60),
        ) {
            let scores: Vec<f64> = cases.iter().map(|(s, _)| f64::from(*s)).collect();
            let turned: Vec<f64> = scores.iter().map(|s| -s).collect();
            let truth: Vec<bool> = cases.iter().map(|(_, t)| *t).collect();
            match (roc_auc(&scores, &truth), roc_auc(&turned, &truth)) {
                (Some(a), Some(b)) => {
                    prop_assert!((a + b - 1.0).abs() < 1e-12);
                    // The definition, pair by pair.
                    let (mut won, mut pairs) = (0.0, 0.0);
                    for (a, _) in cases.iter().filter(|c| c.1) {
                        for (b, _) in cases.iter().filter(|c| !c.1) {
                            won += if a > b { 1.0 } else if a == b { 0.5 } else { 0.0 };
                            pairs += 1.0;
                        }
                    }
                    prop_assert!((a - won / pairs).abs() < 1e-12);
                }
                (None, None) => {}
                other => prop_assert!(false, "{other:?}"),
            }
        }
    }
}
