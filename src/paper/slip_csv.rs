//! The slip as CSV: RFC 4180 in form; for spreadsheets, cells that a spreadsheet would take for a
//! formula are disarmed (OWASP community page "CSV Injection").

use csv::{QuoteStyle, Terminator, WriterBuilder};

use super::error::PaperError;
use super::view::{Line, NOT_DECIDED, Section, SeverityWord, SlipView};
use super::words::listed;
use crate::board::Side;

/// For whom the CSV is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum CsvFlavour {
    /// For a spreadsheet: cells that could be taken for a formula get a leading `'`. Not lossless.
    #[default]
    Spreadsheet,
    /// For a machine: every cell exactly as recorded. Do not open it in a spreadsheet.
    Raw,
}

/// Column names, in order.
pub const COLUMNS: [&str; 26] = [
    "line",
    "unit",
    "board",
    "side",
    "place",
    "addresses",
    "part",
    "nets",
    "x_mm",
    "y_mm",
    "whereabouts",
    "severity",
    "faults",
    "what_to_do",
    "evidence",
    "note",
    "cautions",
    "disagreement",
    "seen_by",
    "seen_at",
    "done_by",
    "done_at",
    "rechecked_by",
    "rechecked_at",
    "photo",
    "sample",
];

/// Writes the slip's lines as CSV: a header and one record per line, CRLF.
///
/// # Errors
/// [`PaperError::Csv`] where the writer fails (out of memory).
pub fn slip_csv(view: &SlipView, flavour: CsvFlavour) -> Result<String, PaperError> {
    let mut rows = vec![COLUMNS.map(str::to_owned).to_vec()];
    for section in &view.sections {
        rows.extend(section.lines.iter().map(|line| record(view, section, line)));
    }
    csv_text(&rows, flavour)
}

/// Writes records as CSV: CRLF after each, quotes doubled, in a spreadsheet's flavour every cell
/// quoted that is not a plain number.
///
/// # Errors
/// [`PaperError::Csv`] where records differ in length.
pub fn csv_text(rows: &[Vec<String>], flavour: CsvFlavour) -> Result<String, PaperError> {
    let style = match flavour {
        CsvFlavour::Spreadsheet => QuoteStyle::NonNumeric,
        CsvFlavour::Raw => QuoteStyle::Necessary,
    };
    let mut writer = WriterBuilder::new()
        .terminator(Terminator::CRLF)
        .quote_style(style)
        .from_writer(Vec::new());
    for row in rows {
        let cells = row.iter().map(|cell| match flavour {
            CsvFlavour::Spreadsheet => disarmed(cell),
            CsvFlavour::Raw => cell.clone(),
        });
        writer
            .write_record(cells)
            .map_err(|cause| PaperError::Csv { cause })?;
    }
    let bytes = writer.into_inner().map_err(|error| PaperError::Csv {
        cause: csv::Error::from(error.into_error()),
    })?;
    String::from_utf8(bytes).map_err(|error| PaperError::Csv {
        cause: csv::Error::from(std::io::Error::other(error)),
    })
}

/// The cell with a leading `'` where a spreadsheet could take it for a formula; plain numbers
/// such as `-12.0` stay as they are.
///
/// Leading `= + - @`, TAB, CR and, since 2025, LF are OWASP's; NUL is added from its application
/// verification standard, and the full-width twins of the four signs are ours.
#[must_use]
pub fn disarmed(cell: &str) -> String {
    let risky = cell.starts_with([
        '=', '+', '-', '@', '\t', '\r', '\n', '\0', '\u{ff1d}', '\u{ff0b}', '\u{ff0d}', '\u{ff20}',
    ]);
    if risky && !is_plain_number(cell) {
        format!("'{cell}")
    } else {
        cell.to_owned()
    }
}

/// An optional sign, digits, and at most one point between digits: nothing a spreadsheet computes.
fn is_plain_number(cell: &str) -> bool {
    let digits = cell.strip_prefix(['-', '+']).unwrap_or(cell);
    let (whole, part) = digits.split_once('.').unwrap_or((digits, "0"));
    let all_digits = |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
    all_digits(whole) && all_digits(part)
}

fn record(view: &SlipView, section: &Section, line: &Line) -> Vec<String> {
    let [x, y] = line.at_mm.map_or([String::new(), String::new()], |at| {
        at.map(|mm| format!("{mm:.2}"))
    });
    let signed = |s: &Option<super::view::Signed>| {
        s.as_ref().map_or([String::new(), String::new()], |signed| {
            [signed.by.clone(), signed.at.clone()]
        })
    };
    let [done_by, done_at] = signed(&line.done);
    let [rechecked_by, rechecked_at] = signed(&line.rechecked);
    let terms: Vec<&str> = line.faults.iter().map(|f| f.term.as_str()).collect();
    let photo = line.close_up.as_ref().and_then(|p| p.photo.clone());
    vec![
        line.number.to_string(),
        view.unit.clone(),
        section.board.clone().unwrap_or_default(),
        side_word(section.side).to_owned(),
        line.place.clone(),
        line.addresses.join(" "),
        line.part.clone(),
        line.nets.join(" "),
        x,
        y,
        line.whereabouts.clone(),
        line.severity
            .map_or(NOT_DECIDED, SeverityWord::words)
            .to_owned(),
        listed(&terms),
        line.actions.join(" "),
        line.evidence.join(" "),
        line.note.clone(),
        line.cautions.join(" "),
        line.disagreement.clone().unwrap_or_default(),
        line.seen_by.clone(),
        line.seen_at.clone(),
        done_by,
        done_at,
        rechecked_by,
        rechecked_at,
        photo.unwrap_or_default(),
        view.sample.clone().unwrap_or_default(),
    ]
}

fn side_word(side: Option<Side>) -> &'static str {
    match side {
        Some(Side::Component) => "component",
        Some(Side::Solder) => "solder",
        None => "",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn plain_numbers_are_exempt() {
        for number in ["-12.0", "+5", "0", "3.25"] {
            assert_eq!(disarmed(number), number);
        }
        for formula in ["-2+3", "+1e5", "-inf", "-", "-.5", "=1", "-1.2.3", "+"] {
            assert_eq!(disarmed(formula), format!("'{formula}"));
        }
    }
}
