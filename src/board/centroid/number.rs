//! Numbers as parts lists write them: decimal point or comma, thousands marks, unit suffixes.

use super::{DecimalMark, LengthUnit};

/// A cell as its number and the unit written behind it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Cell<'a> {
    /// The number's own text.
    pub(super) number: &'a str,
    /// The suffix, trimmed; empty where there is none.
    pub(super) suffix: &'a str,
}

impl<'a> Cell<'a> {
    pub(super) fn split(text: &'a str) -> Self {
        let text = text.trim();
        let end = text
            .rfind(|c: char| c.is_ascii_digit() || matches!(c, '.' | ','))
            .map_or(0, |i| i + 1);
        let (number, suffix) = text.split_at(end);
        Self {
            number: number.trim(),
            suffix: suffix.trim(),
        }
    }

    /// The length unit of the suffix; `Err` for a suffix that is none.
    pub(super) fn unit(&self) -> Result<Option<LengthUnit>, ()> {
        match self.suffix {
            "" => Ok(None),
            suffix => suffix.parse().map(Some),
        }
    }

    /// Whether the suffix is fit for an angle.
    pub(super) fn is_angle(&self) -> bool {
        matches!(
            self.suffix.to_lowercase().as_str(),
            "" | "°" | "deg" | "degree" | "degrees"
        )
    }
}

/// What a number's marks say of the decimal mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Marks {
    /// No mark at all.
    Plain,
    /// Only one reading.
    Only(DecimalMark),
    /// `1,234`: one and a bit, or twelve hundred.
    Either,
}

pub(super) fn marks(number: &str) -> Marks {
    let count = |mark| number.matches(mark).count();
    match (count('.'), count(',')) {
        (0, 0) => Marks::Plain,
        (_, 0) if count('.') > 1 => Marks::Only(DecimalMark::Comma),
        (_, 0) => Marks::Only(DecimalMark::Point),
        (0, 1) if could_be_thousands(number) => Marks::Either,
        (0, 1) => Marks::Only(DecimalMark::Comma),
        (0, _) => Marks::Only(DecimalMark::Point),
        _ if number.rfind('.') > number.rfind(',') => Marks::Only(DecimalMark::Point),
        _ => Marks::Only(DecimalMark::Comma),
    }
}

/// Whether the one comma of `number` has three digits behind it and one to three before, not
/// starting with 0.
fn could_be_thousands(number: &str) -> bool {
    let Some((whole, fraction)) = number.split_once(',') else {
        return false;
    };
    let whole = whole.trim_start_matches(['+', '-', '\u{2212}']);
    fraction.len() == 3 && (1..=3).contains(&whole.len()) && !whole.starts_with('0')
}

/// The value of `number` with this decimal mark; `None` if it is no number.
pub(super) fn value(number: &str, decimal: DecimalMark) -> Option<f64> {
    let (point, thousands) = match decimal {
        DecimalMark::Point => ('.', ','),
        DecimalMark::Comma => (',', '.'),
    };
    let number = number.replace('\u{2212}', "-");
    let (whole, fraction) = match number.split_once(point) {
        Some((whole, fraction)) => (whole, Some(fraction)),
        None => (number.as_str(), None),
    };
    let plain = if whole.contains(thousands) {
        join_thousands(whole, thousands)?
    } else {
        whole.to_owned()
    };
    let text = match fraction {
        Some(fraction) => format!("{plain}.{fraction}"),
        None => plain,
    };
    // Digits, sign, point and exponent only: the words of the standard parser ("inf") are not
    // numbers of a parts list.
    let digits = text.bytes().any(|b| b.is_ascii_digit());
    let fit = |b: u8| b.is_ascii_digit() || matches!(b, b'+' | b'-' | b'.' | b'e' | b'E');
    (digits && text.bytes().all(fit))
        .then(|| text.parse::<f64>().ok())
        .flatten()
        .filter(|value| value.is_finite())
}

/// `1,234,567` without its marks, if they stand where they should.
fn join_thousands(whole: &str, mark: char) -> Option<String> {
    let mut groups = whole.split(mark);
    let first = groups.next()?;
    let leading = first.trim_start_matches(['+', '-']);
    let well = (1..=3).contains(&leading.len()) && groups.all(|group| group.len() == 3);
    well.then(|| whole.replace(mark, ""))
}
