//! From cells to a map: first everything that must be asked, then the parts.

use std::collections::BTreeMap;
use std::path::Path;

use super::heading::{Stated, split};
use super::number::{Cell, Marks, marks, value};
use super::table::{Row, Table};
use super::{
    BottomX, CentroidOptions, DecimalMark, ImportError, Imported, LengthUnit, Question, QuestionKey,
};
use crate::board::bounds;
use crate::board::class_letters::kind_of;
use crate::board::file::MAP_SCHEMA;
use crate::board::model::{BoardMap, Outline, Part, PartKind, Side, Zone};
use crate::geometry::{BoardBox, BoardPoint};

/// Body that stands for every part, mm a side: the file has no sizes. Small enough that
/// neighbours seldom overlap, large enough to click.
const BODY_MM: f64 = 2.0;

/// Margin of the stand-in board edge round the outermost parts, mm.
const EDGE_MARGIN_MM: f64 = 5.0;

pub(super) fn build(
    table: &Table,
    name: &Path,
    options: &CentroidOptions,
) -> Result<Imported, ImportError> {
    let build = Build {
        table,
        name,
        options,
    };
    let (reading, notes) = build.settle()?;
    build.map(&reading, notes)
}

struct Build<'a> {
    table: &'a Table,
    name: &'a Path,
    options: &'a CentroidOptions,
}

/// How the cells are to be read, once nothing is open.
struct Reading {
    units: Option<LengthUnit>,
    decimal: DecimalMark,
    bottom_x: BottomX,
    side: Option<Side>,
}

impl Build<'_> {
    /// Decides how to read the cells, or asks everything that is open at once.
    fn settle(&self) -> Result<(Reading, Vec<String>), ImportError> {
        let mut questions = Vec::new();
        let mut notes = Vec::new();
        if self.table.heading_line > 1 {
            notes.push(format!(
                "The heading is on line {}; the lines before it were passed over.",
                self.table.heading_line
            ));
        }
        let decimal = self.decimal(&mut questions)?;
        let units = self.units(&mut questions, &mut notes)?;
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

    /// The unit of cells that carry none: as heading, preamble or options state it.
    fn units(
        &self,
        questions: &mut Vec<Question>,
        notes: &mut Vec<String>,
    ) -> Result<Option<LengthUnit>, ImportError> {
        let heading = self.heading_unit()?;
        let preamble = self.preamble_unit();
        let stated = match (heading, preamble) {
            (Some(heading), Some((line, other))) if heading != other => {
                let column = self.table.columns.x;
                let told = format!("the heading says {heading}, line {line} says {other}");
                return Err(self.table.cell_error(
                    self.name,
                    self.table.heading_line,
                    column,
                    told,
                    "leave only the unit that is true",
                ));
            }
            (Some(heading), _) => Some(heading),
            (None, Some((line, unit))) => {
                notes.push(format!("The unit {unit} was taken from line {line}."));
                Some(unit)
            }
            (None, None) => None,
        };
        match (stated, self.options.units) {
            (Some(stated), Some(told)) if stated != told => Err(self.table.cell_error(
                self.name,
                self.table.heading_line,
                self.table.columns.x,
                format!("the file states {stated}, but {told} was asked for"),
                "leave the unit to the file, or mend the file",
            )),
            (None, None) => {
                if let Some((line, text)) = self.first_without_unit() {
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
                Ok(None)
            }
            (stated, told) => Ok(stated.or(told)),
        }
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

    fn side(&self, row: &Row, all: Option<Side>) -> Result<Side, ImportError> {
        let Some(column) = self.table.columns.side else {
            return Ok(all.unwrap_or(Side::Component));
        };
        let text = row.cells.get(column).map_or("", |cell| cell.trim());
        let word: String = text
            .to_lowercase()
            .chars()
            .filter(|c| c.is_alphanumeric())
            .collect();
        match word.as_str() {
            "top" | "t" | "f" | "1" | "front" | "toplayer" | "topside" | "component"
            | "componentside" => Ok(Side::Component),
            "bottom" | "b" | "2" | "back" | "bottomlayer" | "bottomside" | "solder"
            | "solderside" => Ok(Side::Solder),
            _ => Err(self.error(
                row,
                column,
                format!("`{}` is no side", short(text)),
                "write component or solder (top or bottom will do)",
            )),
        }
    }

    fn map(&self, reading: &Reading, mut notes: Vec<String>) -> Result<Imported, ImportError> {
        let mut parts = Vec::with_capacity(self.table.rows.len());
        let mut seen: BTreeMap<String, u64> = BTreeMap::new();
        for row in &self.table.rows {
            let part = self.part(row, reading)?;
            if let Some(line) = seen.insert(part.uid.clone(), row.line) {
                return Err(self.error(
                    row,
                    self.table.columns.reference,
                    format!("{} is already on line {line}", short(&part.reference)),
                    "give each part its own reference, on one line",
                ));
            }
            parts.push(part);
        }
        if parts.is_empty() {
            return Err(self.table.cell_error(
                self.name,
                self.table.heading_line,
                self.table.columns.reference,
                "no part follows the heading",
                "is it the right file?",
            ));
        }
        self.say_what_is_missing(&parts, &mut notes);
        let file = self.name.file_name().unwrap_or_default().to_string_lossy();
        let map = BoardMap {
            schema: MAP_SCHEMA,
            model: self.options.model.clone(),
            board: self.options.board.clone(),
            title: String::new(),
            revision: None,
            origin: format!("centroid CSV {file}"),
            outline: stand_in_edge(&parts),
            parts,
            landmarks: Vec::new(),
            rails: Vec::new(),
            test_points: Vec::new(),
        };
        bounds::check(&map, self.name)?;
        let edge = question(
            QuestionKey::Outline,
            "The file does not give the edge of the board; a rectangle 5 mm round the outermost \
             parts stands for it. What are its corners in mm?",
            &[],
        );
        Ok(Imported {
            map,
            questions: vec![edge],
            notes,
        })
    }

    fn part(&self, row: &Row, reading: &Reading) -> Result<Part, ImportError> {
        let columns = &self.table.columns;
        let text = |column: Option<usize>| {
            column
                .and_then(|column| row.cells.get(column))
                .map_or("", |cell| cell.trim())
        };
        let reference = text(Some(columns.reference)).to_owned();
        if reference.is_empty() {
            let remedy = "give the reference, or take the line out";
            return Err(self.error(row, columns.reference, "the reference is blank", remedy));
        }
        let side = self.side(row, reading.side)?;
        let (mut x, y) = (
            self.millimetres(row, columns.x, reading)?,
            self.millimetres(row, columns.y, reading)?,
        );
        let mut turn_deg = self.degrees(row, reading)?;
        if side == Side::Solder && reading.bottom_x == BottomX::Negated {
            // Seen from behind, x and the sense of rotation both turn round.
            (x, turn_deg) = (0.0 - x, 0.0 - turn_deg);
        }
        let words = [text(columns.value), text(columns.package)];
        Ok(Part {
            uid: format!("part-{}", reference.to_lowercase()),
            kind: kind_of(&reference).unwrap_or(PartKind::Other),
            reference,
            value: words
                .into_iter()
                .filter(|word| !word.is_empty())
                .collect::<Vec<_>>()
                .join(", "),
            side,
            outline: Outline::Rect {
                at: [x, y],
                size: [BODY_MM, BODY_MM],
                turn_deg,
            },
            pins: Vec::new(),
            zone: Zone::default(),
            watch: None,
        })
    }

    fn millimetres(&self, row: &Row, column: usize, reading: &Reading) -> Result<f64, ImportError> {
        let text = row.cells.get(column).map_or("", |cell| cell.trim());
        let cell = Cell::split(text);
        let own = cell.unit().map_err(|()| {
            let told = format!("`{}` has no unit known here", short(text));
            self.error(row, column, told, "write mm, mil or in behind the number")
        })?;
        if let (Some(own), Some(stated)) = (own, reading.units)
            && own != stated
        {
            let told = format!("`{}` is in {own}, but the file is in {stated}", short(text));
            return Err(self.error(row, column, told, "leave only the unit that is true"));
        }
        let number = self.number(row, column, text, cell, reading)?;
        // Only a 0 comes here without any unit: everything else was asked for.
        let unit = own.or(reading.units).unwrap_or(LengthUnit::Mm);
        Ok(unit.to_mm(number))
    }

    fn degrees(&self, row: &Row, reading: &Reading) -> Result<f64, ImportError> {
        let Some(column) = self.table.columns.turn else {
            return Ok(0.0);
        };
        let text = row.cells.get(column).map_or("", |cell| cell.trim());
        let cell = Cell::split(text);
        if !cell.is_angle() {
            let told = format!("`{}` is no angle in degrees", short(text));
            return Err(self.error(row, column, told, "write degrees, 0 to 360"));
        }
        self.number(row, column, text, cell, reading)
    }

    fn number(
        &self,
        row: &Row,
        column: usize,
        text: &str,
        cell: Cell<'_>,
        reading: &Reading,
    ) -> Result<f64, ImportError> {
        value(cell.number, reading.decimal).ok_or_else(|| {
            let told = format!("`{}` is not a number", short(text));
            let mark = match reading.decimal {
                DecimalMark::Point => "12.7",
                DecimalMark::Comma => "12,7",
            };
            let remedy = format!("write it like {mark}, as the rest of the file");
            self.error(row, column, told, remedy)
        })
    }

    fn say_what_is_missing(&self, parts: &[Part], notes: &mut Vec<String>) {
        notes.push(
            "The parts have no pins: a centroid file has none. Joints come from photos, another \
             import or by hand."
                .to_owned(),
        );
        notes.push(format!(
            "Bodies are squares of {BODY_MM} mm in place of sizes that the file does not give."
        ));
        notes.push("Landmarks, rails and test points are still to be added.".to_owned());
        if self.table.columns.turn.is_none() {
            notes.push("There is no column for the turn: every part stands at 0.".to_owned());
        }
        let unknown: Vec<&str> = parts
            .iter()
            .filter(|part| kind_of(&part.reference).is_none())
            .map(|part| part.reference.as_str())
            .collect();
        if let Some(first) = unknown.first() {
            notes.push(format!(
                "The class letters of {} parts ({} the first) do not say what they are: kind other.",
                unknown.len(),
                short(first)
            ));
        }
    }

    fn error(
        &self,
        row: &Row,
        column: usize,
        reason: impl Into<String>,
        remedy: impl Into<String>,
    ) -> ImportError {
        self.table
            .cell_error(self.name, row.line, column, reason, remedy)
    }
}

fn question(key: QuestionKey, text: &str, choices: &[(&'static str, &'static str)]) -> Question {
    Question {
        key,
        text: text.to_owned(),
        choices: choices.to_vec(),
    }
}

/// A piece of the file short enough to repeat in an error.
fn short(text: &str) -> String {
    const MOST: usize = 40;
    text.chars().take(MOST).collect()
}

fn stand_in_edge(parts: &[Part]) -> Vec<[f64; 2]> {
    let middles = parts.iter().map(|part| part.outline.centre());
    let edge = BoardBox::from_points(middles).inflate(EDGE_MARGIN_MM, EDGE_MARGIN_MM);
    let (min, max): (BoardPoint, BoardPoint) = (edge.min, edge.max);
    vec![
        [min.x, min.y],
        [max.x, min.y],
        [max.x, max.y],
        [min.x, max.y],
    ]
}
