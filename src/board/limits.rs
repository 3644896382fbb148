//! Whether a reading lies within its limits. Inclusive, compared as whole millionths of the
//! unit, and never passed by a blank.

use super::model::{Extent, Limits};

/// Parts of a unit in which readings and limits are compared as integers. Printed limits end at
/// thousandths (4.750 V passes 4.75, 4.749 V does not); millionths take away the noise of
/// binary fractions (12 * 1.05 is 12.600000000000001) without rounding a reading that is
/// outside into the limits, and still compare currents of tenths of a milliampere.
const PARTS_PER_UNIT: f64 = 1e6;

/// How a reading stands to its limits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LimitVerdict {
    /// Within the limits, ends included.
    Within,
    /// Below the smallest value in order.
    Low {
        /// By how much, in the unit; positive.
        by: f64,
    },
    /// Above the greatest value in order.
    High {
        /// By how much, in the unit; positive.
        by: f64,
    },
    /// Blank, NaN or infinite: not measured. Never passes.
    NotANumber,
    /// No tolerance is stated: a reading can be recorded but never passes.
    NoTolerance,
}

impl LimitVerdict {
    /// Whether the reading is within its limits.
    #[must_use]
    pub fn is_within(self) -> bool {
        self == Self::Within
    }
}

impl Limits {
    /// The limits with the smaller first: a negative rail entered as -11.4 / -12.6 is meant as
    /// -12.6 to -11.4.
    #[must_use]
    pub fn ordered(self) -> Self {
        if self.min > self.max {
            Self {
                min: self.max,
                max: self.min,
            }
        } else {
            self
        }
    }

    /// How `value`, in the unit of the limits, stands to them. `None` (blank) is not measured.
    #[must_use]
    pub fn judge(self, value: impl Into<Option<f64>>) -> LimitVerdict {
        judge_between(Some(self.min), Some(self.max), value.into())
    }
}

impl Extent {
    /// How `value`, in the quantity's unit, stands to the limits. One limit alone is enough to
    /// judge by; none is [`LimitVerdict::NoTolerance`].
    #[must_use]
    pub fn judge(&self, value: impl Into<Option<f64>>) -> LimitVerdict {
        judge_between(self.min, self.max, value.into())
    }
}

/// How a reading stands to limits of which either may be absent. Limits the wrong way round are
/// swapped; a limit that is NaN counts as not stated.
#[must_use]
pub fn judge_between(min: Option<f64>, max: Option<f64>, value: Option<f64>) -> LimitVerdict {
    let Some(value) = value.filter(|v| v.is_finite()) else {
        return LimitVerdict::NotANumber;
    };
    let (min, max) = match (min, max) {
        (Some(a), Some(b)) if a.is_nan() || b.is_nan() => return LimitVerdict::NoTolerance,
        (Some(a), Some(b)) => (Some(a.min(b)), Some(a.max(b))),
        one_sided => one_sided,
    };
    let (min, max) = (min.filter(|v| !v.is_nan()), max.filter(|v| !v.is_nan()));
    if min.is_none() && max.is_none() {
        return LimitVerdict::NoTolerance;
    }
    let reading = parts(value);
    if let Some(min) = min.filter(|min| reading < parts(*min)) {
        return LimitVerdict::Low { by: min - value };
    }
    if let Some(max) = max.filter(|max| reading > parts(*max)) {
        return LimitVerdict::High { by: value - max };
    }
    LimitVerdict::Within
}

/// Whole millionths.
fn parts(value: f64) -> f64 {
    (value * PARTS_PER_UNIT).round()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::model::{Expect, Extent, Limits};
    use super::LimitVerdict::{High, Low, NoTolerance, NotANumber, Within};
    use super::{LimitVerdict, judge_between};

    fn limits(min: f64, max: f64) -> Limits {
        Limits { min, max }
    }

    #[test]
    fn printed_limits_are_inclusive() {
        // Fixed-regulator limits over line, load and temperature (from memory, no data sheet).
        let five = limits(4.75, 5.25);
        assert_eq!(five.judge(4.750), Within);
        assert!(matches!(five.judge(4.749), Low { by } if (by - 0.001).abs() < 1e-9));
        assert_eq!(five.judge(5.25), Within);
        assert!(matches!(five.judge(5.251), High { by } if (by - 0.001).abs() < 1e-9));
        let minus_twelve = limits(-12.6, -11.4);
        assert_eq!(minus_twelve.judge(-12.6), Within);
        assert!(matches!(minus_twelve.judge(-12.601), Low { .. }));
        assert!(matches!(minus_twelve.judge(-11.399), High { .. }));
    }

    #[test]
    fn binary_noise_of_a_percentage_does_not_decide() {
        assert_eq!(limits(12.0 * 0.95, 12.0 * 1.05).judge(12.6), Within);
        assert_eq!(limits(0.1 + 0.2, 1.0).judge(0.3), Within);
    }

    #[test]
    fn negative_rail_the_wrong_way_round_still_judges_right() {
        let swapped = limits(-11.4, -12.6);
        assert_eq!(swapped.judge(-12.0), Within);
        assert!(matches!(swapped.judge(-11.0), High { .. }));
        assert!(matches!(swapped.judge(-13.0), Low { .. }));
        assert_eq!(swapped.ordered(), limits(-12.6, -11.4));
    }

    #[test]
    fn blank_and_nan_never_pass() {
        let wide = limits(-1e12, 1e12);
        for blank in [
            None,
            Some(f64::NAN),
            Some(f64::INFINITY),
            Some(f64::NEG_INFINITY),
        ] {
            assert_eq!(wide.judge(blank), NotANumber);
        }
        assert_eq!(limits(f64::NAN, 1.0).judge(0.5), NoTolerance);
        assert!(!NoTolerance.is_within() && !NotANumber.is_within());
    }

    #[test]
    fn level_with_offset_needs_a_stated_tolerance() {
        // Common practice, no source: 40 mV p-p expected, about 50 mV read.
        let mut level = Extent {
            quantity: Expect::MillivoltsPp,
            nominal: Some(40.0),
            min: None,
            max: None,
        };
        assert_eq!(level.judge(50.0), NoTolerance);
        level.max = Some(60.0);
        assert_eq!(level.judge(50.0), Within);
        assert!(matches!(level.judge(60.1), High { .. }));
    }

    proptest! {
        #[test]
        fn negative_mirrors_positive(a in -50.0..50.0f64, b in -50.0..50.0f64, v in -60.0..60.0f64) {
            let mirrored = match limits(-a, -b).judge(-v) {
                Low { by } => High { by },
                High { by } => Low { by },
                same => same,
            };
            prop_assert_eq!(limits(a, b).judge(v), mirrored);
            prop_assert_eq!(limits(a, b).judge(v), limits(b, a).judge(v));
        }

        #[test]
        fn no_value_panics(min: Option<f64>, max: Option<f64>, v: Option<f64>) {
            let verdict = judge_between(min, max, v);
            if verdict == LimitVerdict::Within {
                prop_assert!(v.is_some_and(f64::is_finite));
                prop_assert!(min.is_some() || max.is_some());
            }
        }
    }
}
