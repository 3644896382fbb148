//! The rows of a centroid CSV: text, separator, heading, lines.

use std::borrow::Cow;
use std::path::Path;

use super::ImportError;
use super::heading::{Columns, OURS};
use crate::board::bounds::MAX_PARTS;
use crate::board::file::MapError;

/// Largest file, bytes: the most parts of a map at several hundred bytes a line.
const MAX_BYTES: usize = 16 * 1024 * 1024;

/// How many lines may stand before the heading. Preambles run to a dozen or two.
const MAX_PREAMBLE: usize = 100;

/// Longest line that is tried as a heading, bytes.
const MAX_HEADING: usize = 8_192;

/// One line of the file below the heading.
#[derive(Debug, Clone)]
pub(super) struct Row {
    pub(super) line: u64,
    pub(super) cells: Vec<String>,
}

/// The file as cells.
#[derive(Debug, Clone)]
pub(super) struct Table {
    /// Lines before the heading, each with its number from 1.
    pub(super) preamble: Vec<(u64, String)>,
    pub(super) heading_line: u64,
    pub(super) headings: Vec<String>,
    pub(super) columns: Columns,
    pub(super) rows: Vec<Row>,
    /// Whether the headings are exactly those that we export.
    pub(super) ours: bool,
}

impl Table {
    /// An error at one cell (`column` from 0).
    pub(super) fn cell_error(
        &self,
        name: &Path,
        line: u64,
        column: usize,
        reason: impl Into<String>,
        remedy: impl Into<String>,
    ) -> ImportError {
        ImportError::Cell {
            path: name.to_path_buf(),
            line,
            column: column + 1,
            heading: self
                .headings
                .get(column)
                .map_or_else(|| "no heading".to_owned(), |h| h.trim().to_owned()),
            reason: reason.into(),
            remedy: remedy.into(),
        }
    }
}

pub(super) fn read(bytes: &[u8], name: &Path) -> Result<Table, ImportError> {
    let text = &*decode(bytes, name)?;
    let heading = find_heading(text, name)?;
    let preamble = text
        .split('\n')
        .take(heading.index)
        .zip(1..)
        .map(|(line, number)| (number, line.trim().to_owned()))
        .collect();
    let heading_line = heading.index as u64 + 1;
    let mut table = Table {
        preamble,
        heading_line,
        ours: heading.cells.iter().map(|c| c.trim()).eq(OURS),
        headings: heading.cells,
        columns: heading.columns,
        rows: Vec::new(),
    };
    if let Some((second, first)) = table.columns.twice {
        let told = format!("it means the same as column {} ", first + 1);
        return Err(table.cell_error(
            name,
            heading_line,
            second,
            told.trim_end(),
            "take out the column that is not meant",
        ));
    }
    read_rows(&mut table, &text[heading.end..], heading.separator, name)?;
    Ok(table)
}

fn decode<'a>(bytes: &'a [u8], name: &Path) -> Result<Cow<'a, str>, ImportError> {
    if bytes.len() > MAX_BYTES {
        return Err(ImportError::TooLarge {
            path: name.to_path_buf(),
            limit: MAX_BYTES,
        });
    }
    let not_text = |good: usize| {
        let good = String::from_utf8_lossy(&bytes[..good]);
        let last = good.rsplit('\n').next().unwrap_or_default();
        ImportError::NotText {
            path: name.to_path_buf(),
            line: 1 + good.matches('\n').count(),
            column: 1 + last.chars().count(),
        }
    };
    let text = std::str::from_utf8(bytes).map_err(|e| not_text(e.valid_up_to()))?;
    // A zero byte is UTF-16 or no text at all.
    if let Some(zero) = text.find('\0') {
        return Err(not_text(zero));
    }
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    // Lines that end in a lone carriage return, as some old programs wrote them.
    if text.contains('\r') && !text.contains('\n') {
        return Ok(Cow::Owned(text.replace('\r', "\n")));
    }
    Ok(Cow::Borrowed(text))
}

struct Heading {
    index: usize,
    end: usize,
    separator: u8,
    cells: Vec<String>,
    columns: Columns,
}

fn find_heading(text: &str, name: &Path) -> Result<Heading, ImportError> {
    let mut end = 0;
    let mut searched = 0;
    let mut nearest: Option<(usize, Vec<&'static str>)> = None;
    for (index, line) in text.split('\n').take(MAX_PREAMBLE).enumerate() {
        end = (end + line.len() + 1).min(text.len());
        searched = index + 1;
        if line.len() > MAX_HEADING {
            continue;
        }
        let mut found: Vec<Heading> = Vec::new();
        for separator in *b",;\t" {
            let cells = one_line(line, separator);
            match Columns::find(&cells) {
                Ok(columns) => found.push(Heading {
                    index,
                    end,
                    separator,
                    cells,
                    columns,
                }),
                Err(missing) => {
                    let better = nearest
                        .as_ref()
                        .is_none_or(|(_, least)| missing.len() < least.len());
                    if better && missing.len() < 3 {
                        nearest = Some((index, missing));
                    }
                }
            }
        }
        found.sort_by_key(|heading| std::cmp::Reverse(heading.columns.count()));
        if let Some(heading) = found.into_iter().next() {
            return Ok(heading);
        }
    }
    Err(ImportError::NoHeading {
        path: name.to_path_buf(),
        line: nearest.as_ref().map_or(1, |(index, _)| *index as u64 + 1),
        searched,
        closest: match nearest {
            Some((index, missing)) if missing.is_empty() => {
                format!(" (line {}: x and y are not of one kind)", index + 1)
            }
            Some((index, missing)) => {
                format!(" (line {} has no {})", index + 1, missing.join(", no "))
            }
            None => String::new(),
        },
    })
}

fn one_line(line: &str, separator: u8) -> Vec<String> {
    let mut reader = reader(line.trim_end_matches('\r'), separator);
    match reader.records().next() {
        Some(Ok(record)) => record.iter().map(str::to_owned).collect(),
        _ => Vec::new(),
    }
}

fn reader(text: &str, separator: u8) -> csv::Reader<&[u8]> {
    csv::ReaderBuilder::new()
        .delimiter(separator)
        .has_headers(false)
        .flexible(true)
        .from_reader(text.as_bytes())
}

fn read_rows(table: &mut Table, text: &str, separator: u8, name: &Path) -> Result<(), ImportError> {
    let mut reader = reader(text, separator);
    let mut record = csv::StringRecord::new();
    loop {
        let more = reader.read_record(&mut record).map_err(|e| {
            let line = e.position().map_or(0, csv::Position::line);
            let line = line + table.heading_line;
            table.cell_error(name, line, 0, e.to_string(), "mend the line")
        })?;
        if !more {
            return Ok(());
        }
        let line = table.heading_line + record.position().map_or(0, |at| first_line(text, at));
        let blank = record.iter().all(|cell| cell.trim().is_empty());
        let comment = record
            .get(0)
            .is_some_and(|cell| cell.trim_start().starts_with('#'));
        if blank || comment {
            continue;
        }
        check_width(table, &record, line, name)?;
        if table.rows.len() == MAX_PARTS {
            return Err(ImportError::Map(MapError::TooMany {
                path: name.to_path_buf(),
                what: "parts (or more)",
                count: MAX_PARTS + 1,
                limit: MAX_PARTS,
            }));
        }
        table.rows.push(Row {
            line,
            cells: record.iter().map(str::to_owned).collect(),
        });
    }
}

/// The line on which a record starts. The reader's own position is where it began to look,
/// before any blank lines.
fn first_line(text: &str, from: &csv::Position) -> u64 {
    let start = usize::try_from(from.byte()).unwrap_or(usize::MAX);
    let blank = text.as_bytes().get(start..).unwrap_or_default();
    let blank = blank.iter().take_while(|b| matches!(b, b'\r' | b'\n'));
    from.line() + blank.filter(|b| **b == b'\n').count() as u64
}

/// Refuses a line with filled cells beyond the heading, or without the cells that it must have.
fn check_width(
    table: &Table,
    record: &csv::StringRecord,
    line: u64,
    name: &Path,
) -> Result<(), ImportError> {
    let width = table.headings.len();
    let beyond = record.iter().skip(width).position(|c| !c.trim().is_empty());
    if let Some(extra) = beyond {
        return Err(table.cell_error(
            name,
            line,
            width + extra,
            format!("the line has {} cells, the heading {width}", record.len()),
            "put numbers with a decimal comma in quotes, or separate the cells by ;",
        ));
    }
    let Columns {
        reference, x, y, ..
    } = table.columns;
    let needed = reference.max(x).max(y);
    if record.len() <= needed {
        return Err(table.cell_error(
            name,
            line,
            record.len(),
            format!("the line ends after {} cells", record.len()),
            "give reference, x and y on each line, in the separator of the heading",
        ));
    }
    Ok(())
}
