//! Whether a reading lies within its limits, as the gate counts it.

use crate::board::{LimitVerdict, judge_between};

/// How a reading stands to its limits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WithinLimits {
    /// Within, ends included.
    Within,
    /// Below or above.
    Outside,
    /// Not a number: not measured.
    Blank,
    /// No limit is stated: can be recorded, never passes.
    NoTolerance,
}

/// How `value` stands to limits in the same unit. Limits the wrong way round (a negative rail
/// entered as -11.4 to -12.6) are swapped; one limit alone is enough to judge by; a limit that
/// is not a number counts as not stated, and so does the other then.
#[must_use]
pub fn judge_reading(min: Option<f64>, max: Option<f64>, value: f64) -> WithinLimits {
    match judge_between(min, max, Some(value)) {
        LimitVerdict::Within => WithinLimits::Within,
        LimitVerdict::Low { .. } | LimitVerdict::High { .. } => WithinLimits::Outside,
        LimitVerdict::NotANumber => WithinLimits::Blank,
        LimitVerdict::NoTolerance => WithinLimits::NoTolerance,
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn ends_are_inside_and_binary_noise_is_not_a_fault() {
        let judge = |min, max, value| judge_reading(Some(min), Some(max), value);
        assert_eq!(judge(4.75, 5.25, 4.750), WithinLimits::Within);
        assert_eq!(judge(4.75, 5.25, 4.749), WithinLimits::Outside);
        assert_eq!(judge(-12.6, -11.4, -12.6), WithinLimits::Within);
        assert_eq!(judge(-12.6, -11.4, -12.601), WithinLimits::Outside);
        assert_eq!(judge(-11.4, -12.6, -12.0), WithinLimits::Within);
        assert_eq!(judge(11.4, 12.0 * 1.05, 12.6), WithinLimits::Within);
        assert_eq!(judge(0.0, 1e20, 1e30), WithinLimits::Outside);
    }

    #[test]
    fn blank_and_unstated_never_pass() {
        assert_eq!(
            judge_reading(Some(0.0), None, f64::NAN),
            WithinLimits::Blank
        );
        assert_eq!(judge_reading(None, None, 40.0), WithinLimits::NoTolerance);
        let nan = judge_reading(Some(f64::NAN), Some(1.0), 0.5);
        assert_eq!(nan, WithinLimits::NoTolerance);
        assert_eq!(judge_reading(None, Some(60.0), 50.0), WithinLimits::Within);
    }

    proptest! {
        #[test]
        fn negative_rails_mirror_positive_ones(a in -50.0..50.0f64, b in -50.0..50.0f64, v in -60.0..60.0f64) {
            let mirrored = judge_reading(Some(-a), Some(-b), -v);
            prop_assert_eq!(judge_reading(Some(a), Some(b), v), mirrored);
        }
    }
}
