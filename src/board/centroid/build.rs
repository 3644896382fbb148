//! From cells to the parts of a map.

use std::collections::BTreeMap;
use std::path::Path;

use super::number::{Cell, value};
use super::settle::Reading;
use super::table::{Row, Table};
use super::{BottomX, DecimalMark, ImportError, ImportOptions, Imported, LengthUnit};
use crate::board::bounds;
use crate::board::class_letters::kind_of;
use crate::board::file::MAP_SCHEMA;
use crate::board::import::{MapFormat, edge_is_open, stand_in_edge};
use crate::board::model::{BoardMap, Outline, Part, PartKind, Side, Zone};

/// Body that stands for every part, mm a side: the file has no sizes. Small enough that
/// neighbours seldom overlap, large enough to click.
const BODY_MM: f64 = 2.0;

pub(super) fn build(
    table: &Table,
    name: &Path,
    options: &ImportOptions,
) -> Result<Imported, ImportError> {
    let build = Build {
        table,
        name,
        options,
    };
    let (reading, notes) = build.settle()?;
    build.map(&reading, notes)
}

pub(super) struct Build<'a> {
    pub(super) table: &'a Table,
    pub(super) name: &'a Path,
    pub(super) options: &'a ImportOptions,
}

impl Build<'_> {
    pub(super) fn side(&self, row: &Row, all: Option<Side>) -> Result<Side, ImportError> {
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
            outline: stand_in_edge(parts.iter().map(|part| part.outline.centre())),
            parts,
            landmarks: Vec::new(),
            rails: Vec::new(),
            test_points: Vec::new(),
        };
        bounds::check(&map, self.name)?;
        let read = vec![format!("{} parts.", map.parts.len())];
        Ok(Imported {
            map,
            format: MapFormat::Centroid,
            questions: vec![edge_is_open("parts")],
            read,
            left_out: Vec::new(),
            assumed: Vec::new(),
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
        if cell.number.is_empty() {
            return Err(self.not_a_number(row, column, text, reading));
        }
        let own = cell.unit().map_err(|()| {
            let told = format!("`{}` has no unit known here", short(text));
            self.error(row, column, told, "write mm, mil or in behind the number")
        })?;
        if let (Some(own), Some(stated)) = (own, reading.stated)
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
        value(cell.number, reading.decimal)
            .ok_or_else(|| self.not_a_number(row, column, text, reading))
    }

    fn not_a_number(&self, row: &Row, column: usize, text: &str, reading: &Reading) -> ImportError {
        let told = format!("`{}` is not a number", short(text));
        let like = match reading.decimal {
            DecimalMark::Point => "12.7",
            DecimalMark::Comma => "12,7",
        };
        let remedy = format!("write it like {like}, as the rest of the file");
        self.error(row, column, told, remedy)
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

    pub(super) fn error(
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

/// A piece of the file short enough to repeat in an error.
fn short(text: &str) -> String {
    const MOST: usize = 40;
    text.chars().take(MOST).collect()
}
