//! The words of a difference.

use crate::board::model::{Extent, Limits, Part, TestPoint};

pub(super) fn part_place(part: &Part) -> String {
    format!("part {}", part.reference)
}

pub(super) fn pins_of(part: &Part) -> String {
    match part.pins.len() {
        0 => "no pins".to_owned(),
        1 => "1 pin".to_owned(),
        n => format!("{n} pins"),
    }
}

pub(super) fn limits(limits: Limits) -> String {
    format!("{} to {} V", limits.min, limits.max)
}

pub(super) fn expected(point: &TestPoint) -> String {
    let bound = |v: Option<f64>| v.map_or("open".to_owned(), |v| v.to_string());
    let each = point.expect.iter().map(|extent: &Extent| {
        let nominal = extent
            .nominal
            .map_or(String::new(), |v| format!(" (nominal {v})"));
        format!(
            "{} {} to {}{nominal}",
            words_of(&extent.quantity),
            bound(extent.min),
            bound(extent.max)
        )
    });
    each.collect::<Vec<_>>().join(", ")
}

/// The word by which the map's file names a value, for example `volts_dc`.
pub(super) fn words_of(value: &impl serde::Serialize) -> String {
    match serde_json::to_value(value) {
        Ok(serde_json::Value::String(word)) => word.replace('_', " "),
        _ => String::new(),
    }
}

/// At most three decimals, no trailing zeros.
pub(super) fn short(value: f64) -> String {
    let text = format!("{value:.3}");
    let trimmed = text.trim_end_matches('0').trim_end_matches('.');
    if trimmed == "-0" { "0" } else { trimmed }.to_owned()
}
