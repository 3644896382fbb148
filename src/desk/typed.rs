//! What people type into a field.

/// A number as people type it: a comma is a decimal mark on many keyboards.
#[must_use]
pub(super) fn number(text: &str) -> Option<f64> {
    text.trim()
        .replace(',', ".")
        .replace('−', "-")
        .parse::<f64>()
        .ok()
        .filter(|v| v.is_finite())
}
