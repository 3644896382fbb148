//! The lines of a file: parameters, records, the end.

use std::collections::BTreeMap;
use std::path::Path;

use super::columns::{Columns, Record, at};
use crate::board::bounds::MAX_PINS;
use crate::board::file::MapError;
use crate::board::import::{
    CoordinateStep, ImportError, ImportOptions, Question, QuestionKey, quoted,
};

/// Most aliases for long net names; as many nets as a board can have pins.
const MAX_ALIASES: usize = MAX_PINS;

/// Longest net name that is kept, characters; the map takes no longer ones.
pub(super) const MAX_NET: usize = 128;

/// What kind of land a record describes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// 317.
    ThroughHole,
    /// 327.
    Surface,
    /// 367.
    Unplated,
}

/// The file in order.
#[derive(Debug)]
pub(super) struct File<'a> {
    /// Millimetres of a step; a stand-in where it is asked.
    pub(super) step: CoordinateStep,
    /// Records, continuations joined to what they continue.
    pub(super) records: Vec<(Kind, Record<'a>)>,
    /// Long net names by their short ones.
    pub(super) aliases: BTreeMap<String, String>,
    /// Records left out, by what they are.
    pub(super) passed: BTreeMap<&'static str, usize>,
    /// Questions that arose.
    pub(super) questions: Vec<Question>,
    /// What was assumed.
    pub(super) assumed: Vec<String>,
}

pub(super) fn read<'a>(
    bytes: &'a [u8],
    name: &'a Path,
    options: &ImportOptions,
) -> Result<File<'a>, ImportError> {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let mut reader = Reader {
        name,
        options,
        stated: None,
        ended: None,
        unknown: None,
        file: File {
            step: CoordinateStep::TenthMil,
            records: Vec::new(),
            aliases: BTreeMap::new(),
            passed: BTreeMap::new(),
            questions: Vec::new(),
            assumed: Vec::new(),
        },
    };
    for (line, number) in lines(bytes).zip(1..) {
        reader.line(line, number)?;
    }
    reader.finish()
}

/// Lines by `\n`, `\r\n` or `\r`, without trailing blanks.
fn lines(bytes: &[u8]) -> impl Iterator<Item = &[u8]> {
    let mut rest = Some(bytes);
    std::iter::from_fn(move || {
        let text = rest?;
        let end = text.iter().position(|b| matches!(b, b'\n' | b'\r'));
        let Some(end) = end else {
            rest = None;
            return Some(text.trim_ascii_end());
        };
        let pair = text[end..].starts_with(b"\r\n");
        rest = Some(&text[end + if pair { 2 } else { 1 }..]);
        Some(text[..end].trim_ascii_end())
    })
}

/// What `UNITS` says.
enum Units {
    Known(CoordinateStep),
    Open(usize, String),
}

struct Reader<'a, 'o> {
    name: &'a Path,
    options: &'o ImportOptions,
    stated: Option<(usize, Units)>,
    ended: Option<usize>,
    unknown: Option<(usize, String)>,
    file: File<'a>,
}

impl<'a> Reader<'a, '_> {
    fn line(&mut self, line: &'a [u8], number: usize) -> Result<(), ImportError> {
        if line.is_empty() {
            return Ok(());
        }
        if self.ended.is_some() {
            *self
                .file
                .passed
                .entry("lines behind the end 999")
                .or_default() += 1;
            return Ok(());
        }
        match line[0] {
            b'C' => {
                *self.file.passed.entry("comments").or_default() += 1;
                Ok(())
            }
            b'P' => self.parameter(line, number),
            b'0'..=b'9' => self.record(line, number),
            _ => Err(at(
                self.name,
                number,
                1,
                format!(
                    "`{}` begins no record: C, P or a number does",
                    quoted(&String::from_utf8_lossy(&line[..line.len().min(8)]))
                ),
                "is it the right file? a record that is broken over two lines must be joined",
            )),
        }
    }

    fn parameter(&mut self, line: &'a [u8], number: usize) -> Result<(), ImportError> {
        let text = String::from_utf8_lossy(&line[1..]);
        let text = text.trim_start();
        let (word, rest) = text.split_once([' ', '\t']).unwrap_or((text, ""));
        let rest = rest.trim();
        if word == "UNITS" {
            return self.units(rest, number);
        }
        if word.starts_with("NNAME") {
            return self.alias(word, rest, number);
        }
        if matches!(word, "JOB" | "CODE" | "TITLE" | "NUM" | "REV" | "VER") {
            return Ok(());
        }
        *self.file.passed.entry("other parameters").or_default() += 1;
        Ok(())
    }

    fn units(&mut self, rest: &str, line: usize) -> Result<(), ImportError> {
        let words: Vec<&str> = rest.split_whitespace().collect();
        let units = match words.as_slice() {
            ["CUST", "0"] => Units::Known(CoordinateStep::TenthMil),
            ["CUST", "1"] | ["SI"] => Units::Known(CoordinateStep::Micrometre),
            _ => Units::Open(line, quoted(rest)),
        };
        if let Some((first, earlier)) = &self.stated {
            let same = match (earlier, &units) {
                (Units::Known(a), Units::Known(b)) => a == b,
                (Units::Open(_, a), Units::Open(_, b)) => a == b,
                _ => false,
            };
            if !same {
                let told = format!("UNITS {} contradicts line {first}", quoted(rest));
                let remedy = "leave only the line that is true";
                return Err(at(self.name, line, 1, told, remedy));
            }
            return Ok(());
        }
        self.stated = Some((line, units));
        Ok(())
    }

    fn alias(&mut self, word: &str, rest: &str, line: usize) -> Result<(), ImportError> {
        if rest.is_empty() {
            let told = format!("{} stands for no name", quoted(word));
            return Err(at(
                self.name,
                line,
                4,
                told,
                "write the long net name behind it",
            ));
        }
        if self.file.aliases.len() >= MAX_ALIASES {
            return Err(self.too_many("long net names", MAX_ALIASES));
        }
        let long: String = rest.chars().take(MAX_NET).collect();
        match self.file.aliases.insert(word.to_owned(), long.clone()) {
            Some(earlier) if earlier != long => Err(at(
                self.name,
                line,
                4,
                format!("{} stood for {} before", quoted(word), quoted(&earlier)),
                "give each short name one long one",
            )),
            _ => Ok(()),
        }
    }

    fn record(&mut self, line: &'a [u8], number: usize) -> Result<(), ImportError> {
        let code = &line[..line.len().min(3)];
        let passed = match code {
            b"999" => {
                self.ended = Some(number);
                return Ok(());
            }
            b"378" | b"078" => "conductor records (378)",
            b"379" | b"079" => "adjacency records (379)",
            b"389" | b"089" => "outline records (389)",
            b"317" | b"327" | b"367" => return self.land(line, number),
            b"017" | b"027" | b"067" => return self.continuation(line, number),
            _ => {
                let code = String::from_utf8_lossy(code).into_owned();
                self.unknown.get_or_insert((number, code));
                "records of kinds that are not known"
            }
        };
        *self.file.passed.entry(passed).or_default() += 1;
        Ok(())
    }

    fn land(&mut self, line: &'a [u8], number: usize) -> Result<(), ImportError> {
        if self.file.records.len() >= 2 * MAX_PINS {
            return Err(self.too_many("records", 2 * MAX_PINS));
        }
        let kind = kind_of(line[1]);
        let record = Columns::new(line, number, self.name)?.record()?;
        if record.at.is_none() {
            let remedy = "mend the record, or write the file again";
            return Err(at(
                self.name,
                number,
                42,
                "the coordinates are missing",
                remedy,
            ));
        }
        self.file.records.push((kind, record));
        Ok(())
    }

    /// A continuation describes the same land further; it fills what was left blank.
    fn continuation(&mut self, line: &'a [u8], number: usize) -> Result<(), ImportError> {
        let kind = kind_of(line[1]);
        let more = Columns::new(line, number, self.name)?.record()?;
        let name = self.name;
        let bad = |column, reason: &str| {
            Err(at(
                name,
                number,
                column,
                reason,
                "mend the record, or write the file again",
            ))
        };
        let Some((before, first)) = self.file.records.last_mut() else {
            return bad(1, "a continuation with nothing before it");
        };
        if *before != kind {
            return bad(
                1,
                "it continues another kind of record than the one before it",
            );
        }
        if (!more.reference.is_empty() && more.reference != first.reference)
            || (!more.pin.is_empty() && more.pin != first.pin)
        {
            return bad(21, "it continues another pin than the record before it");
        }
        if more.at.is_some() && more.at != first.at {
            return bad(
                42,
                "it continues a land at another place than the record before it",
            );
        }
        first.size = first.size.or(more.size);
        first.hole = first.hole.or(more.hole);
        first.mask = first.mask.or(more.mask);
        if first.net.is_empty() {
            first.net = more.net;
        }
        *self
            .file
            .passed
            .entry("continuations, joined to their record")
            .or_default() += 1;
        Ok(())
    }

    fn finish(mut self) -> Result<File<'a>, ImportError> {
        let asks = |text: String, all: bool| {
            let known = [
                ("0.0001in", "as UNITS CUST 0"),
                ("0.001mm", "as UNITS CUST 1 or SI"),
                ("0.00001in", "a hundredth of a mil"),
                ("0.0001mm", "a tenth of a micrometre"),
            ];
            let offered = if all { &known[..] } else { &known[..2] };
            Question::new(QuestionKey::Step, text, offered)
        };
        let step = match (&self.stated, self.options.step) {
            (Some((line, Units::Known(stated))), Some(told)) if *stated != told => {
                return Err(at(
                    self.name,
                    *line,
                    1,
                    "the file states another unit than was answered",
                    "leave the answer out, or mend the line",
                ));
            }
            (_, Some(told)) => Some(told),
            (Some((_, Units::Known(stated))), None) => Some(*stated),
            (Some((_, Units::Open(line, found))), None) => {
                self.file.questions.push(asks(
                    format!(
                        "UNITS {found} on line {line} is read in different ways. What is a \
                         coordinate of 1?"
                    ),
                    true,
                ));
                None
            }
            (None, None) => {
                self.file.questions.push(asks(
                    "No UNITS line says what a coordinate of 1 is. What is it?".to_owned(),
                    false,
                ));
                None
            }
        };
        self.file.step = step.unwrap_or(CoordinateStep::TenthMil);
        if let Some((line, code)) = self.unknown.filter(|_| !self.options.skip_unknown) {
            self.file.questions.push(Question::new(
                QuestionKey::Unknown,
                format!(
                    "Line {line} is a record `{}`, which is not known here.",
                    quoted(&code)
                ),
                &[("skip", "leave such records out")],
            ));
        }
        if self.ended.is_none() {
            self.file.assumed.push(
                "There is no end record 999: was the file cut short? Read as it stands.".to_owned(),
            );
        }
        Ok(self.file)
    }

    fn too_many(&self, what: &'static str, limit: usize) -> ImportError {
        ImportError::Map(MapError::TooMany {
            path: self.name.to_path_buf(),
            what,
            count: limit + 1,
            limit,
        })
    }
}

/// By the second digit of the code.
fn kind_of(digit: u8) -> Kind {
    match digit {
        b'1' => Kind::ThroughHole,
        b'2' => Kind::Surface,
        _ => Kind::Unplated,
    }
}
