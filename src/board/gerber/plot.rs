//! One file, command by command, to its pads, holes, bodies and strokes in mm.

use std::collections::BTreeMap;
use std::path::Path;

use super::aperture::Apertures;
use super::attributes::Attributes;
use super::layer::{Component, Function, Layer, PinFlash};
use super::lexer::{Command, Lexer};
use super::macros::Macros;
use super::profile::MAX_STROKES;
use super::words::{self, Format, Word};
use crate::board::bounds::{MAX_PARTS, MAX_PINS};
use crate::board::import::{ImportError, ImportOptions, LengthUnit, quoted};
use crate::board::model::Land;

/// Most flashes that are kept of one file: pins of a map, or hits of a drill file.
const MAX_KEPT: usize = 2 * MAX_PINS;

/// Deepest nesting of aperture blocks; the format has no limit, boards use one or two.
pub(super) const MAX_DEPTH: usize = 32;

pub(super) fn read(
    bytes: &[u8],
    path: &Path,
    options: &ImportOptions,
) -> Result<Layer, ImportError> {
    let mut lexer = Lexer::new(bytes, path);
    let mut plot = Plot::new(path, options);
    let mut in_macro = false;
    while let Some(command) = lexer.next()? {
        if plot.layer.ended {
            continue;
        }
        if command.extended && command.first {
            in_macro = command.text.starts_with("AM");
            if let Some(name) = command.text.strip_prefix("AM") {
                plot.macros.begin(name);
                continue;
            }
        }
        if command.extended && in_macro {
            plot.macros.add(&command.text);
            continue;
        }
        plot.command(&command)
            .map_err(|wrong| lexer.error(command.at + wrong.at, wrong.reason, wrong.remedy))?;
    }
    plot.layer.unit_open = plot.unit.is_none() && plot.used_coordinates;
    Ok(plot.layer)
}

/// What is wrong with a command, and where in it.
#[derive(Debug)]
pub(super) struct Wrong {
    pub(super) at: usize,
    pub(super) reason: String,
    pub(super) remedy: &'static str,
}

pub(super) fn wrong<T>(reason: impl Into<String>, remedy: &'static str) -> Result<T, Wrong> {
    Err(Wrong {
        at: 0,
        reason: reason.into(),
        remedy,
    })
}

pub(super) const REWRITE: &str = "write the file again in today's form of the format";

/// The operations of D codes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Operation {
    Draw,
    Move,
    Flash,
}

/// The state of a plot while it is read.
pub(super) struct Plot {
    pub(super) layer: Layer,
    pub(super) unit: Option<LengthUnit>,
    pub(super) answered: Option<LengthUnit>,
    pub(super) used_coordinates: bool,
    pub(super) format: Option<Format>,
    pub(super) apertures: Apertures,
    pub(super) macros: Macros,
    pub(super) aperture: Option<u32>,
    pub(super) at: [f64; 2],
    pub(super) operation: Option<Operation>,
    pub(super) arc: bool,
    pub(super) region: bool,
    pub(super) turn_deg: f64,
    pub(super) scale: f64,
    pub(super) depth: usize,
    pub(super) of_aperture: Attributes,
    pub(super) of_object: Attributes,
}

impl Plot {
    fn new(path: &Path, options: &ImportOptions) -> Self {
        Self {
            layer: Layer {
                path: path.to_path_buf(),
                function: Function::Unsaid,
                same_coordinates: None,
                project: None,
                pins: Vec::new(),
                hits: Vec::new(),
                components: BTreeMap::new(),
                strokes: Vec::new(),
                unit_open: false,
                arcs: 0,
                turned: 0,
                boxed: 0,
                copies: 1,
                ended: false,
            },
            unit: None,
            answered: options.units,
            used_coordinates: false,
            format: None,
            apertures: Apertures::new(),
            macros: Macros::default(),
            aperture: None,
            at: [0.0; 2],
            operation: None,
            arc: false,
            region: false,
            turn_deg: 0.0,
            scale: 1.0,
            depth: 0,
            of_aperture: Attributes::default(),
            of_object: Attributes::default(),
        }
    }

    fn command(&mut self, command: &Command) -> Result<(), Wrong> {
        let text = command.text.trim_end();
        if command.extended {
            return self.extended(text);
        }
        if let Some(comment) = text
            .strip_prefix("G04")
            .or_else(|| text.strip_prefix("G4 "))
        {
            // Attributes as comments, so that older readers pass over them.
            return match comment.trim_start().strip_prefix("#@!") {
                Some(attribute) => self.attribute(attribute.trim()).map(|_known| ()),
                None => Ok(()),
            };
        }
        self.plotted(text, command.line)
    }

    fn plotted(&mut self, text: &str, line: usize) -> Result<(), Wrong> {
        let words = words::words(text).map_err(|(at, reason)| Wrong {
            at,
            reason,
            remedy: "mend the command, or write the file again",
        })?;
        let mut to = self.at;
        let mut moves = false;
        let mut operates = false;
        for word in &words {
            match word.letter {
                b'X' | b'Y' => {
                    let axis = usize::from(word.letter == b'Y');
                    to[axis] = self.coordinate(word)?;
                    moves = true;
                }
                // Centres of arcs: only their ends are taken.
                b'I' | b'J' | b'N' => {}
                b'G' => self.code(word)?,
                b'M' => {
                    self.layer.ended |= matches!(code_of(word), Some(0 | 2));
                }
                b'D' => match code_of(word) {
                    Some(1) => (self.operation, operates) = (Some(Operation::Draw), true),
                    Some(2) => (self.operation, operates) = (Some(Operation::Move), true),
                    Some(3) => (self.operation, operates) = (Some(Operation::Flash), true),
                    Some(code @ 10..) => self.select(code, word)?,
                    _ => return Err(at(word, "a D code that is not known")),
                },
                _ => return Err(at(word, "a letter that is not known")),
            }
        }
        if !moves && !operates {
            return Ok(());
        }
        let Some(operation) = self.operation else {
            self.at = to;
            return Ok(());
        };
        if self.depth == 0 {
            match operation {
                Operation::Flash => self.flash(to, line)?,
                Operation::Draw => self.draw(to),
                Operation::Move => {}
            }
        }
        self.at = to;
        Ok(())
    }

    fn coordinate(&mut self, word: &Word<'_>) -> Result<f64, Wrong> {
        let Some(format) = self.format else {
            return Err(at(
                word,
                "a coordinate, but no FS says how its digits count",
            ));
        };
        let value = format
            .value(word.number)
            .ok_or_else(|| at(word, "a coordinate with no digits or too many"))?;
        Ok(self.mm(value))
    }

    fn code(&mut self, word: &Word<'_>) -> Result<(), Wrong> {
        match code_of(word) {
            Some(1) => self.arc = false,
            Some(2 | 3) => self.arc = true,
            Some(36) => self.region = true,
            Some(37) => self.region = false,
            Some(70) => self.state_unit(LengthUnit::Inch)?,
            Some(71) => self.state_unit(LengthUnit::Mm)?,
            Some(54 | 55 | 74 | 75 | 90) => {}
            Some(91) => return Err(at(word, "incremental coordinates, which are not read")),
            _ => return Err(at(word, "a G code that is not known")),
        }
        Ok(())
    }

    fn select(&mut self, code: u32, word: &Word<'_>) -> Result<(), Wrong> {
        if !self.apertures.contains_key(&code) {
            return Err(at(word, "an aperture that was not defined"));
        }
        self.aperture = Some(code);
        Ok(())
    }

    fn flash(&mut self, to: [f64; 2], line: usize) -> Result<(), Wrong> {
        let selected = self.aperture.and_then(|code| self.apertures.get(&code));
        let Some(aperture) = selected else {
            return wrong(
                "a flash with no aperture selected",
                "mend the command, or write the file again",
            );
        };
        if let Function::Drill { .. } = self.layer.function {
            let diameter = aperture
                .land
                .map_or(0.0, |land| land.size[0].min(land.size[1]));
            if self.layer.hits.len() >= MAX_KEPT {
                return wrong(
                    format!("more than {MAX_KEPT} holes"),
                    "is it the right file?",
                );
            }
            self.layer.hits.push((to, diameter * self.scale));
            return Ok(());
        }
        if let Function::Component(_) = self.layer.function
            && aperture.function == "ComponentMain"
        {
            return self.main(to);
        }
        let Some(fields) = self.of_object.get(".P") else {
            return Ok(());
        };
        let [reference, no, ..] = fields else {
            return wrong(
                "the pin attribute names no pin",
                "it has the form TO.P,REFERENCE,PIN",
            );
        };
        if reference.is_empty() || no.is_empty() {
            return wrong(
                "the pin attribute has a blank reference or pin",
                "it has the form TO.P,REFERENCE,PIN",
            );
        }
        if self.layer.pins.len() >= MAX_KEPT {
            return wrong(
                format!("more than {MAX_KEPT} pins"),
                "is it the right file?",
            );
        }
        let hole = aperture.hole.map(|hole| hole * self.scale);
        self.layer.boxed += usize::from(aperture.boxed);
        let land = aperture.land.map(|land| {
            let size = land.size.map(|v| v * self.scale);
            let (land, exact) = Land { size, ..land }.turned(self.turn_deg);
            self.layer.turned += usize::from(!exact);
            land
        });
        self.layer.pins.push(PinFlash {
            reference: reference.clone(),
            no: no.clone(),
            at: to,
            land,
            hole,
            function: aperture.function.clone(),
            net: Some(self.of_object.first(".N").to_owned())
                .filter(|net| !net.is_empty() && net != "N/C"),
            line,
        });
        Ok(())
    }

    /// The reference point of a part on a component layer.
    fn main(&mut self, to: [f64; 2]) -> Result<(), Wrong> {
        let turn = match self.of_object.first(".CRot") {
            "" => 0.0,
            text => self.number(text)?,
        };
        if !(-360.0..=360.0).contains(&turn) {
            return wrong("a turn beyond 360 degrees", "give -360 to 360");
        }
        let text = |name: &str| self.of_object.first(name).to_owned();
        let (mount, value, package) = (text(".CMnt"), text(".CVal"), text(".CFtp"));
        let Some(component) = self.component()? else {
            return wrong(
                "a part without its reference",
                "it has the form TO.C,REFERENCE",
            );
        };
        component.at = Some(to);
        component.turn_deg = turn;
        component.mount = mount;
        component.value = [value, package]
            .into_iter()
            .filter(|word| !word.is_empty())
            .collect::<Vec<_>>()
            .join(", ");
        Ok(())
    }

    /// The part that `.C` names, made where it is new; `None` where it names none.
    fn component(&mut self) -> Result<Option<&mut Component>, Wrong> {
        let reference = self.of_object.first(".C");
        if reference.is_empty() {
            return Ok(None);
        }
        let known = self.layer.components.contains_key(reference);
        if !known && self.layer.components.len() >= MAX_PARTS {
            return wrong(
                format!("more than {MAX_PARTS} parts"),
                "is it the right file?",
            );
        }
        Ok(Some(
            self.layer
                .components
                .entry(reference.to_owned())
                .or_default(),
        ))
    }

    fn draw(&mut self, to: [f64; 2]) {
        let from = self.at;
        match self.layer.function {
            Function::Profile => {
                self.layer.arcs += usize::from(self.arc);
                if self.layer.strokes.len() < MAX_STROKES {
                    self.layer.strokes.push([from, to]);
                }
            }
            Function::Component(_) if self.draws_body() => {
                if let Ok(Some(component)) = self.component() {
                    let extent = component.extent.get_or_insert([from, from]);
                    for point in [from, to] {
                        for axis in 0..2 {
                            extent[0][axis] = extent[0][axis].min(point[axis]);
                            extent[1][axis] = extent[1][axis].max(point[axis]);
                        }
                    }
                }
            }
            _ => {}
        }
    }

    /// Whether the stroke or region is a part's body or, where that is not drawn, its leads.
    fn draws_body(&self) -> bool {
        let (function, detail) = if self.region {
            let fields = self.of_aperture.get(".AperFunction").unwrap_or_default();
            let field = |i: usize| fields.get(i).map_or("", String::as_str);
            (field(0), field(1))
        } else {
            let selected = self.aperture.and_then(|code| self.apertures.get(&code));
            selected.map_or(("", ""), |a| (a.function.as_str(), a.detail.as_str()))
        };
        function == "ComponentOutline" && matches!(detail, "Body" | "Lead2Lead")
    }
}

fn code_of(word: &Word<'_>) -> Option<u32> {
    word.number.parse().ok()
}

fn at(word: &Word<'_>, reason: &str) -> Wrong {
    Wrong {
        at: word.at,
        reason: format!(
            "`{}{}`: {reason}",
            char::from(word.letter),
            quoted(word.number)
        ),
        remedy: "mend the command, or write the file again",
    }
}
