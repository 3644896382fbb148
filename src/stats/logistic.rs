//! Logistic regression held down by a ridge.

use nalgebra::{DMatrix, DVector};

/// One case of a regression.
#[derive(Debug, Clone, Copy)]
pub struct Case<'a> {
    /// Its numbers, as many as every other case has.
    pub values: &'a [f64],
    /// Whether it is of the sought kind.
    pub sought: bool,
    /// What it counts.
    pub weight: f64,
}

/// What a regression found: log odds are the sum of weights times values, and the bias.
#[derive(Debug, Clone, PartialEq)]
pub struct Logistic {
    /// One for each number of a case.
    pub weights: Vec<f64>,
    /// What is added.
    pub bias: f64,
}

impl Logistic {
    /// Log odds of a case with these numbers.
    #[must_use]
    pub fn log_odds(&self, values: &[f64]) -> f64 {
        let sum: f64 = self.weights.iter().zip(values).map(|(w, v)| w * v).sum();
        sum + self.bias
    }
}

/// Newton steps; the sum is convex and settles in five to ten.
const STEPS: usize = 25;
/// Steps end where none of the weights moves by more than this.
const SETTLED: f64 = 1e-9;
/// Keeps the bias defined where all cases are of one kind.
const FAINT: f64 = 1e-9;

/// Weights that minimise the weighted log loss and half the sum of their squares; the bias goes
/// free. Checked against scikit-learn in `tests/outside/classify.rs`. `None` without cases, or
/// where their numbers differ in length or are no numbers.
#[must_use]
pub fn logistic_ridge(cases: &[Case]) -> Option<Logistic> {
    let width = cases.first()?.values.len();
    let usable = (cases.iter()).all(|case| {
        case.values.len() == width
            && case.weight.is_finite()
            && case.values.iter().all(|v| v.is_finite())
    });
    if !usable {
        return None;
    }
    // The last column is always one: its weight is the bias.
    let value = |i: usize, k: usize| cases[i].values.get(k).copied().unwrap_or(1.0);
    let table = DMatrix::from_fn(cases.len(), width + 1, value);
    let mut weights = DVector::<f64>::zeros(width + 1);
    for _ in 0..STEPS {
        let sums = &table * &weights;
        let chance = |i: usize| 1.0 / (1.0 + (-sums[i]).exp());
        let slope = DVector::from_fn(cases.len(), |i, _| {
            cases[i].weight * (chance(i) - f64::from(u8::from(cases[i].sought)))
        });
        let bend = DMatrix::from_fn(cases.len(), width + 1, |i, k| {
            cases[i].weight * chance(i) * (1.0 - chance(i)) * table[(i, k)]
        });
        let mut gradient = table.tr_mul(&slope);
        let mut hessian = table.tr_mul(&bend);
        for k in 0..width {
            gradient[k] += weights[k];
            hessian[(k, k)] += 1.0;
        }
        hessian[(width, width)] += FAINT;
        let step = hessian.cholesky()?.solve(&gradient);
        weights -= &step;
        if step.amax() < SETTLED {
            break;
        }
    }
    Some(Logistic {
        bias: weights[width],
        weights: weights.iter().take(width).copied().collect(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_tells_the_kinds_apart_gets_the_weight() {
        let rows: Vec<[f64; 2]> = (0..40)
            .map(|k| [f64::from(k % 2) * 2.0 - 1.0, f64::from(k % 5) - 2.0])
            .collect();
        let cases: Vec<Case> = (rows.iter())
            .map(|row| Case {
                values: row,
                sought: row[0] > 0.0,
                weight: 1.0,
            })
            .collect();
        let found = logistic_ridge(&cases).unwrap();
        assert!(
            found.weights[0] > 1.0 && found.weights[1].abs() < 0.05,
            "{found:?}"
        );
        assert!(found.log_odds(&[1.0, 0.0]) > 1.0 && found.log_odds(&[-1.0, 0.0]) < -1.0);
    }

    #[test]
    fn cases_that_cannot_be_used_give_nothing() {
        let case = |values: &'static [f64]| Case {
            values,
            sought: true,
            weight: 1.0,
        };
        assert_eq!(logistic_ridge(&[]), None);
        assert_eq!(logistic_ridge(&[case(&[1.0]), case(&[1.0, 2.0])]), None);
        assert_eq!(logistic_ridge(&[case(&[f64::NAN])]), None);
        // One kind alone is no error: the weights stay finite.
        let one = logistic_ridge(&[case(&[1.0]), case(&[2.0])]).unwrap();
        assert!(one.bias.is_finite() && one.weights[0].is_finite());
    }
}
