//! Confidence intervals for counted rates.

/// A closed interval; of a rate both ends lie within 0..=1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// The two-sided 95 % normal quantile.
const Z_95: f64 = 1.959_963_984_540_054;

/// Wilson score interval, 95 %, without continuity correction (Wilson 1927; Newcombe 1998, method 3).
///
/// `None` where nothing was counted (`n == 0`) or `hits > n`: no data is not a rate.
#[must_use]
pub fn wilson_95(hits: u64, n: u64) -> Option<Interval> {
    if n == 0 || hits > n {
        return None;
    }
    let (count, total) = (hits as f64, n as f64);
    let rate = count / total;
    let z2 = Z_95 * Z_95;
    let centre = rate + z2 / (2.0 * total);
    let spread = Z_95 * (rate * (1.0 - rate) / total + z2 / (4.0 * total * total)).sqrt();
    let scale = 1.0 + z2 / total;
    Some(Interval {
        low: if hits == 0 {
            0.0
        } else {
            (centre - spread) / scale
        },
        high: if hits == n {
            1.0
        } else {
            (centre + spread) / scale
        },
    })
}
