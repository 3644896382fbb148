//! How the cells of a centroid CSV are to be read: what it states, and what must be asked.

use super::build::Build;
use super::heading::{Stated, split};
use super::number::{Cell, Marks, marks};
use super::{BottomX, DecimalMark, ImportError, LengthUnit, Question, QuestionKey};
use crate::board::model::Side;

/// How the cells are to be read, once nothing is open.
pub(super) struct Reading {
    /// Unit of cells that carry none.
    pub(super) units: Option<LengthUnit>,
    /// The unit that heading or preamble state: cells may not contradict it.
    pub(super) stated: Option<LengthUnit>,
    pub(super) decimal: DecimalMark,
    pub(super) bottom_x: BottomX,
    pub(super) side: Option<Side>,
}

impl Build<'_> {
    /// Decides how to read the cells, or asks everything that is open at once.
    pub(super) fn settle(&self) -> Result<(Reading, Vec<String>), ImportError> {
        let mut questions = Vec::new();
        let mut notes = Vec::new();
        if self.table.heading_line > 1 {
            notes.push(format!(
                "The heading is on line {}; the lines before it were passed over.",
                self.table.heading_line
            ));
        }
        let decimal = self.decimal(&mut questions)?;
        let stated = self.stated_unit(&mut notes)?;
        let units = self.units(stated, &mut questions)?;
        if self.table.columns.side.is_none() && self.options.side.is_none() {
            questions.push(question(
                QuestionKey::Side,
                "The file has no column for the side. On which side do its parts stand?",
                &[
                    ("component", "all on the component side"),
                    ("solder", "all on the solder side"),
                ],
            ));
        }
        let bottom_x = self.bottom_x(&mut questions)?;
        if questions.is_empty() {
            let reading = Reading {
                units,
                stated,
                decimal,
                bottom_x,
                side: self.options.side,
            };
            return Ok((reading, notes));
        }
        Err(ImportError::Asks {
            path: self.name.to_path_buf(),
            questions,
        })
    }

    fn decimal(&self, questions: &mut Vec<Question>) -> Result<DecimalMark, ImportError> {
        if let Some(decimal) = self.options.decimal {
            return Ok(decimal);
        }
        let columns = &self.table.columns;
        let mut settled: Option<(DecimalMark, u64)> = None;
        let mut open: Option<(u64, &str)> = None;
        for row in &self.table.rows {
            let numbers = [Some(columns.x), Some(columns.y), columns.turn];
            for column in numbers.into_iter().flatten() {
                let Some(text) = row.cells.get(column) else {
                    continue;
                };
                match (marks(Cell::split(text).number), settled) {
                    (Marks::Only(mark), None) => settled = Some((mark, row.line)),
                    (Marks::Only(mark), Some((before, line))) if mark != before => {
                        let told = format!("`{text}` has another decimal mark than line {line}");
                        let remedy = "write all numbers of the file in one way";
                        return Err(self.error(row, column, told, remedy));
                    }
                    (Marks::Either, _) if open.is_none() => open = Some((row.line, text)),
                    _ => {}
                }
            }
        }
        if let (None, Some((line, text))) = (settled, open) {
            questions.push(question(
                QuestionKey::Decimal,
                &format!("`{text}` on line {line} reads two ways. What does its comma mean?"),
                &[
                    ("comma", "the comma is the decimal mark"),
                    ("point", "the comma only groups thousands"),
                ],
            ));
        }
        Ok(settled.map_or(DecimalMark::Point, |(mark, _)| mark))
    }

    /// The unit that heading or preamble state.
    fn stated_unit(&self, notes: &mut Vec<String>) -> Result<Option<LengthUnit>, ImportError> {
        match (self.heading_unit()?, self.preamble_unit()) {
            (Some(heading), Some((line, other))) if heading != other => Err(self.table.cell_error(
                self.name,
                self.table.heading_line,
                self.table.columns.x,
                format!("the heading says {heading}, line {line} says {other}"),
                "leave only the unit that is true",
            )),
            (Some(heading), _) => Ok(Some(heading)),
            (None, Some((line, unit))) => {
                notes.push(format!("The unit {unit} was taken from line {line}."));
                Ok(Some(unit))
            }
            (None, None) => Ok(None),
        }
    }

    /// The unit of cells that carry none: as the file states it, or as was answered.
    fn units(
        &self,
        stated: Option<LengthUnit>,
        questions: &mut Vec<Question>,
    ) -> Result<Option<LengthUnit>, ImportError> {
        if let (Some(stated), Some(told)) = (stated, self.options.units)
            && stated != told
        {
            return Err(self.table.cell_error(
                self.name,
                self.table.heading_line,
                self.table.columns.x,
                format!("the file states {stated}, but {told} was asked for"),
                "leave the unit to the file, or mend the file",
            ));
        }
        let unit = stated.or(self.options.units);
        if unit.is_none()
            && let Some((line, text)) = self.first_without_unit()
        {
            questions.push(question(
                QuestionKey::Units,
                &format!(
                    "The file does not state its unit (`{text}` on line {line}). \
                     In which unit are its coordinates?"
                ),
                &[
                    ("mm", "millimetres"),
                    ("mil", "thousandths of an inch"),
                    ("in", "inches"),
                ],
            ));
        }
        Ok(unit)
    }

    fn heading_unit(&self) -> Result<Option<LengthUnit>, ImportError> {
        let columns = &self.table.columns;
        let mut units = [None; 2];
        for (unit, column) in units.iter_mut().zip([columns.x, columns.y]) {
            *unit = match split(&self.table.headings[column]).1 {
                Stated::Nothing => None,
                Stated::Length(unit) => Some(unit),
                Stated::Degrees => return Err(self.heading_error(column, "an angle")),
                Stated::Unknown(word) => {
                    return Err(self.heading_error(column, &format!("`{word}`")));
                }
            };
        }
        if let Some(turn) = columns.turn
            && let Stated::Unknown(word) = split(&self.table.headings[turn]).1
        {
            return Err(self.heading_error(turn, &format!("`{word}`")));
        }
        match units {
            [Some(x), Some(y)] if x != y => {
                Err(self.heading_error(columns.y, &format!("{y}, but x is in {x}: this mixture")))
            }
            [x, y] => Ok(x.or(y)),
        }
    }

    fn heading_error(&self, column: usize, found: &str) -> ImportError {
        self.table.cell_error(
            self.name,
            self.table.heading_line,
            column,
            format!("{found} is no unit for this column"),
            "write mm, mil or in for x and y, deg for the turn",
        )
    }

    /// A line before the heading that speaks of units and names exactly one.
    fn preamble_unit(&self) -> Option<(u64, LengthUnit)> {
        self.table.preamble.iter().find_map(|(line, text)| {
            let words: Vec<String> = text
                .split(|c: char| !c.is_alphabetic())
                .filter(|word| !word.is_empty())
                .map(str::to_lowercase)
                .collect();
            let speaks = words.iter().any(|word| word.starts_with("unit"));
            // "in" is a word of any sentence; the others are not.
            let mut units: Vec<LengthUnit> = words
                .iter()
                .filter(|word| *word != "in" || words.len() <= 3)
                .filter_map(|word| word.parse().ok())
                .collect();
            units.dedup();
            match (speaks, units.as_slice()) {
                (true, [unit]) => Some((*line, *unit)),
                _ => None,
            }
        })
    }

    /// The first coordinate other than 0 that has no unit of its own.
    fn first_without_unit(&self) -> Option<(u64, &str)> {
        let columns = &self.table.columns;
        self.table.rows.iter().find_map(|row| {
            [columns.x, columns.y]
                .into_iter()
                .filter_map(|column| row.cells.get(column))
                .find(|text| {
                    let cell = Cell::split(text);
                    let zero = cell.number.bytes().all(|b| matches!(b, b'0' | b'.' | b','));
                    cell.suffix.is_empty() && !cell.number.is_empty() && !zero
                })
                .map(|text| (row.line, text.as_str()))
        })
    }

    fn bottom_x(&self, questions: &mut Vec<Question>) -> Result<BottomX, ImportError> {
        if let Some(bottom_x) = self.options.bottom_x {
            return Ok(bottom_x);
        }
        for row in &self.table.rows {
            if self.side(row, self.options.side.or(Some(Side::Component)))? == Side::Solder
                && !self.table.ours
            {
                questions.push(question(
                    QuestionKey::BottomX,
                    &format!(
                        "There are parts on the solder side (the first on line {}). \
                         How does their x count?",
                        row.line
                    ),
                    &[
                        ("as-top", "as for the others, seen from the component side"),
                        ("negated", "with its sign turned, seen from the solder side"),
                    ],
                ));
                break;
            }
        }
        Ok(BottomX::AsTop)
    }
}

pub(super) fn question(
    key: QuestionKey,
    text: &str,
    choices: &[(&'static str, &'static str)],
) -> Question {
    Question {
        key,
        text: text.to_owned(),
        choices: choices.to_vec(),
    }
}
