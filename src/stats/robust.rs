//! Order statistics that a few wild values cannot move.

/// The median of the finite values (mean of the middle two for an even count), or `None` for none.
#[must_use]
pub fn median(values: &[f64]) -> Option<f64> {
    let mut sorted: Vec<f64> = values.iter().copied().filter(|v| v.is_finite()).collect();
    sorted.sort_by(f64::total_cmp);
    let middle = sorted.len() / 2;
    match sorted.len() {
        0 => None,
        n if n % 2 == 1 => Some(sorted[middle]),
        _ => Some(f64::midpoint(sorted[middle - 1], sorted[middle])),
    }
}

/// Median absolute deviation scaled to the standard deviation of a normal spread (x 1.4826).
#[must_use]
pub fn mad_sigma(values: &[f64]) -> Option<f64> {
    let centre = median(values)?;
    let deviations: Vec<f64> = values.iter().map(|v| (v - centre).abs()).collect();
    Some(1.4826 * median(&deviations)?)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn median_ignores_nan_and_outliers() {
        assert_eq!(median(&[3.0, f64::NAN, 1.0, 1e9]), Some(3.0));
        assert_eq!(median(&[1.0, 2.0]), Some(1.5));
        assert_eq!(median(&[f64::NAN]), None);
        assert_eq!(mad_sigma(&[1.0, 2.0, 3.0, 4.0, 1e9]), Some(1.4826));
    }
}
