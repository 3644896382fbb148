//! One 80-column record.
//!
//! | columns (from 1) | field |
//! |---|---|
//! | 1-3 | kind of record |
//! | 4-17 | net |
//! | 21-26, 27, 28-31 | reference, `-`, pin |
//! | 32 | `M`: a point in the middle of a net |
//! | 33, 34-37, 38 | `D`, hole diameter, `P` plated or `U` unplated |
//! | 39-41 | `A` and the layer from which it can be reached; 00 is both sides |
//! | 42-49, 50-57 | `X` and `Y`, each with sign and six digits |
//! | 58-62, 63-67 | `X` and `Y` size, four digits each |
//! | 68-71 | `R` and the turn in degrees |
//! | then | `S0` to `S3`, the solder mask; found by its form, for sources differ on its column |
//!
//! Source of the columns: two sample records published on a format page of a tool maker's site,
//! sliced column by column; the mask from memory.

use std::path::Path;

use crate::board::import::{ImportError, quoted};

/// Longest record, bytes: 80 columns and some trailing text. A longer line is another file.
const MAX_RECORD: usize = 256;

/// The hole of a record.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Hole {
    /// Diameter in steps.
    pub(super) diameter: u32,
    /// Whether it is plated, where that is said.
    pub(super) plated: Option<bool>,
}

/// The fields of one record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Record<'a> {
    pub(super) line: usize,
    pub(super) net: &'a str,
    pub(super) reference: &'a str,
    pub(super) pin: &'a str,
    pub(super) hole: Option<Hole>,
    /// Layer; 0 is both sides.
    pub(super) layer: Option<u32>,
    pub(super) at: Option<[i32; 2]>,
    /// Sizes in steps; a y of 0 is a round land.
    pub(super) size: Option<[u32; 2]>,
    /// Degrees.
    pub(super) turn: u32,
    /// 0 none, 1 component side, 2 solder side, 3 both.
    pub(super) mask: Option<u8>,
}

/// Reads fields of one line by their columns.
pub(super) struct Columns<'a> {
    text: &'a str,
    line: usize,
    name: &'a Path,
}

impl<'a> Columns<'a> {
    /// Checks that the line is 80-column text.
    pub(super) fn new(bytes: &'a [u8], line: usize, name: &'a Path) -> Result<Self, ImportError> {
        let bad = |column: usize, reason: String, remedy: &str| {
            Err(at(name, line, column, reason, remedy))
        };
        if let Some(i) = bytes.iter().position(|b| !(b' '..=b'~').contains(b)) {
            let (reason, remedy) = if bytes[i] == b'\t' {
                (
                    "a tab: it moves every column behind it",
                    "write the file again with spaces",
                )
            } else {
                (
                    "not plain ASCII",
                    "write the file again without accents and control characters",
                )
            };
            return bad(i + 1, reason.to_owned(), remedy);
        }
        if bytes.len() > MAX_RECORD {
            let told = format!(
                "a record of {} characters; 80 columns are meant",
                bytes.len()
            );
            return bad(MAX_RECORD + 1, told, "is it the right file?");
        }
        // Every byte was found to be ASCII.
        let text = std::str::from_utf8(bytes).unwrap_or_default();
        Ok(Self { text, line, name })
    }

    pub(super) fn record(&self) -> Result<Record<'a>, ImportError> {
        let x = self.coordinate(42, 'X')?;
        let y = self.coordinate(50, 'Y')?;
        let at = match (x, y) {
            (Some(x), Some(y)) => Some([x, y]),
            (None, None) => None,
            (Some(_), None) => return Err(self.missing(50, "a Y coordinate")),
            (None, Some(_)) => return Err(self.missing(42, "an X coordinate")),
        };
        let size_x = self.marked(58, 'X', 4)?;
        let size_y = self.marked(63, 'Y', 4)?;
        if let (None, Some(_)) = (size_x, size_y) {
            return Err(self.missing(58, "an X size"));
        }
        let pin = self.field(28, 31);
        let reference = self.field(21, 26);
        if self.byte(27) != b'-' && self.byte(27) != b' ' {
            return Err(self.wrong(27, "`-` or a blank"));
        }
        Ok(Record {
            line: self.line,
            net: self.field(4, 17),
            reference,
            pin,
            hole: self.hole()?,
            layer: self.marked(39, 'A', 2)?,
            at,
            size: size_x.map(|x| [x, size_y.unwrap_or(0)]),
            turn: self.marked(68, 'R', 3)?.unwrap_or(0),
            mask: self.mask(),
        })
    }

    fn hole(&self) -> Result<Option<Hole>, ImportError> {
        let Some(diameter) = self.marked(33, 'D', 4)? else {
            return Ok(None);
        };
        let plated = match self.byte(38) {
            b'P' => Some(true),
            b'U' => Some(false),
            b' ' => None,
            _ => return Err(self.wrong(38, "`P` (plated) or `U` (unplated)")),
        };
        Ok(Some(Hole { diameter, plated }))
    }

    fn coordinate(&self, column: usize, mark: char) -> Result<Option<i32>, ImportError> {
        let text = self.span(column, column + 7);
        if text.trim().is_empty() {
            return Ok(None);
        }
        let rest = text
            .strip_prefix(mark)
            .ok_or_else(|| self.wrong(column, &format!("`{mark}` and a coordinate")))?;
        let (sign, digits) = match rest.as_bytes().first() {
            Some(b'-') => (-1, &rest[1..]),
            Some(b'+' | b' ') => (1, &rest[1..]),
            _ => (1, rest),
        };
        let digits = digits.trim_end();
        let is_number = !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit());
        digits
            .parse::<i32>()
            .ok()
            .filter(|_| is_number)
            .map(|value| Some(sign * value))
            .ok_or_else(|| self.wrong(column + 1, "a sign and six digits"))
    }

    /// A mark followed by digits; `None` where the columns are blank.
    fn marked(&self, column: usize, mark: char, digits: usize) -> Result<Option<u32>, ImportError> {
        let text = self.span(column, column + digits);
        if text.trim().is_empty() {
            return Ok(None);
        }
        let Some(rest) = text.strip_prefix(mark) else {
            // Sizes and turn are optional and the mask may stand among them.
            if column >= 58 && self.byte(column) != mark as u8 && is_mask(text.trim_start()) {
                return Ok(None);
            }
            return Err(self.wrong(column, &format!("`{mark}` and {digits} digits")));
        };
        let rest = rest.trim();
        let is_number = !rest.is_empty() && rest.bytes().all(|b| b.is_ascii_digit());
        rest.parse()
            .ok()
            .filter(|_| is_number)
            .map(Some)
            .ok_or_else(|| self.wrong(column + 1, &format!("{digits} digits behind `{mark}`")))
    }

    fn mask(&self) -> Option<u8> {
        let tail = self.text.get(57..)?;
        let at = tail
            .as_bytes()
            .windows(2)
            .position(|pair| pair[0] == b'S' && (b'0'..=b'3').contains(&pair[1]))?;
        Some(tail.as_bytes()[at + 1] - b'0')
    }

    fn byte(&self, column: usize) -> u8 {
        self.text
            .as_bytes()
            .get(column - 1)
            .copied()
            .unwrap_or(b' ')
    }

    /// Columns from..=to; shorter where the line ends.
    fn span(&self, from: usize, to: usize) -> &'a str {
        let end = to.min(self.text.len());
        self.text.get(from - 1..end).unwrap_or("")
    }

    fn field(&self, from: usize, to: usize) -> &'a str {
        self.span(from, to).trim()
    }

    fn wrong(&self, column: usize, wanted: &str) -> ImportError {
        let found = quoted(self.span(column, column + 7).trim_end());
        at(
            self.name,
            self.line,
            column,
            format!("`{found}` stands where {wanted} should"),
            "mend the record, or write the file again",
        )
    }

    fn missing(&self, column: usize, what: &str) -> ImportError {
        at(
            self.name,
            self.line,
            column,
            format!("{what} is missing"),
            "mend the record, or write the file again",
        )
    }
}

fn is_mask(text: &str) -> bool {
    matches!(text.as_bytes(), [b'S', b'0'..=b'3', ..])
}

pub(super) fn at(
    name: &Path,
    line: usize,
    column: usize,
    reason: impl Into<String>,
    remedy: impl Into<String>,
) -> ImportError {
    ImportError::At {
        path: name.to_path_buf(),
        line,
        column,
        reason: reason.into(),
        remedy: remedy.into(),
    }
}
