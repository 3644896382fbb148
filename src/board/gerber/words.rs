//! The words of a plot: coordinate format, operations, codes.

/// Digits of a coordinate: whole and decimal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Format {
    /// Whole digits, 0 to 6.
    pub(super) whole: u32,
    /// Decimals, 0 to 6.
    pub(super) decimals: u32,
    /// Whether zeros at the end, not at the start, are left out.
    pub(super) trailing_omitted: bool,
}

/// Reads what stands behind `FS`: `LAX46Y46`. The error is what is wrong and what to do.
pub(super) fn format(text: &str) -> Result<Format, (String, &'static str)> {
    const REMEDY: &str = "write the file with FSLAX46Y46";
    let wrong = |told: &str| (told.to_owned(), REMEDY);
    let bytes = text.as_bytes();
    let (zeros, rest) = bytes
        .split_first()
        .ok_or_else(|| wrong("no format is given"))?;
    let trailing_omitted = match zeros {
        b'L' => false,
        b'T' => true,
        _ => {
            return Err(wrong(
                "zeros are left out neither in front (L) nor behind (T)",
            ));
        }
    };
    match rest.first() {
        Some(b'A') => {}
        Some(b'I') => return Err(wrong("incremental coordinates are not read")),
        _ => {
            return Err(wrong(
                "coordinates are neither absolute (A) nor incremental (I)",
            ));
        }
    }
    let [b'X', xi, xd, b'Y', yi, yd] = &rest[1..] else {
        return Err(wrong("the digits of X and Y are not given as X46Y46"));
    };
    if (xi, xd) != (yi, yd) {
        return Err(wrong("X and Y have different digits"));
    }
    let digit = |b: &u8| {
        (b'0'..=b'6')
            .contains(b)
            .then(|| u32::from(b - b'0'))
            .ok_or_else(|| wrong("more than six digits"))
    };
    Ok(Format {
        whole: digit(xi)?,
        decimals: digit(xd)?,
        trailing_omitted,
    })
}

/// One letter with its number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Word<'a> {
    /// The letter.
    pub(super) letter: u8,
    /// Sign and digits.
    pub(super) number: &'a str,
    /// Where the letter is in the command.
    pub(super) at: usize,
}

/// Splits `X3000000Y2000000D03` into its words. The error is where and what.
pub(super) fn words(text: &str) -> Result<Vec<Word<'_>>, (usize, String)> {
    let bytes = text.as_bytes();
    let mut words = Vec::new();
    let mut i = 0;
    while i < bytes.len() {
        let letter = bytes[i];
        if letter == b' ' {
            i += 1;
            continue;
        }
        if !letter.is_ascii_uppercase() {
            return Err((i, "no command that is known".to_owned()));
        }
        let start = i + 1;
        let mut end = start;
        if matches!(bytes.get(end), Some(b'+' | b'-')) {
            end += 1;
        }
        while bytes.get(end).is_some_and(u8::is_ascii_digit) {
            end += 1;
        }
        if bytes.get(end) == Some(&b'.') {
            return Err((end, "a decimal point in a coordinate".to_owned()));
        }
        words.push(Word {
            letter,
            number: &text[start..end],
            at: i,
        });
        i = end;
    }
    Ok(words)
}

impl Format {
    /// A coordinate in the file's unit; `None` where it has no or too many digits.
    pub(super) fn value(self, number: &str) -> Option<f64> {
        let (negative, digits) = match number.as_bytes().first()? {
            b'-' => (true, &number[1..]),
            b'+' => (false, &number[1..]),
            _ => (false, number),
        };
        let most = self.whole + self.decimals;
        let length = u32::try_from(digits.len()).ok()?;
        // Leading zeros may be written; more digits than 15 leave what a number holds exactly.
        if digits.is_empty() || length > 15 {
            return None;
        }
        let count = digits.parse::<f64>().ok()?;
        let count = if self.trailing_omitted {
            let missing = most.checked_sub(length)?;
            count * 10f64.powi(i32::try_from(missing).ok()?)
        } else {
            count
        };
        let value = count / 10f64.powi(i32::try_from(self.decimals).ok()?);
        Some(if negative { -value } else { value })
    }
}
