//! From records to lands, vias and holes.

use std::path::Path;

use super::columns::{Record, at};
use super::file::{File, Kind, MAX_NET};
use crate::board::import::{
    CoordinateStep, Drill, ImportError, ImportOptions, Pad, Question, QuestionKey, Sources, quoted,
    turned_note,
};
use crate::board::model::{Land, LandShape, Side};

pub(super) fn sources(
    mut file: File<'_>,
    name: &Path,
    options: &ImportOptions,
) -> Result<Sources, ImportError> {
    let records = std::mem::take(&mut file.records);
    let highest = records.iter().filter_map(|(_, r)| r.layer).max();
    let solder = options.solder_layer.or(highest.filter(|layer| *layer > 1));
    let shown = name
        .file_name()
        .unwrap_or_default()
        .to_string_lossy()
        .into_owned();
    let mut lands = Lands {
        name,
        options,
        step: file.step,
        solder,
        sources: Sources {
            origin: format!("IPC-D-356 {}", shown.chars().take(100).collect::<String>()),
            questions: std::mem::take(&mut file.questions),
            ..Sources::default()
        },
        counts: Counts::default(),
    };
    for (kind, record) in &records {
        lands.add(*kind, record, &file)?;
    }
    Ok(lands.finish(&file))
}

#[derive(Debug, Default)]
struct Counts {
    vias: usize,
    inner: usize,
    turned: usize,
    masked: usize,
    nameless: usize,
    numbered: usize,
}

struct Lands<'a> {
    name: &'a Path,
    options: &'a ImportOptions,
    step: CoordinateStep,
    solder: Option<u32>,
    sources: Sources,
    counts: Counts,
}

/// Where a layer number is.
enum Where {
    Both,
    Component,
    Solder,
    Inner,
}

impl Lands<'_> {
    fn add(&mut self, kind: Kind, record: &Record<'_>, file: &File<'_>) -> Result<(), ImportError> {
        let at_mm = record
            .at
            .unwrap_or_default()
            .map(|count| self.step.to_mm(f64::from(count)));
        let bare_hole = kind == Kind::Unplated
            && (record.size.is_none_or(|[x, _]| x == 0) || record.reference.is_empty());
        if bare_hole {
            let label = match record.reference {
                "" => "hole".to_owned(),
                reference => format!("hole {reference}"),
            };
            let label = if record.reference.is_empty() {
                format!("{label} {}", self.sources.holes.len() + 1)
            } else {
                label
            };
            self.sources.holes.push((at_mm, label));
            return Ok(());
        }
        if record.reference == "VIA" {
            self.counts.vias += 1;
            return Ok(());
        }
        if record.reference.is_empty() {
            self.counts.nameless += 1;
            return Ok(());
        }
        self.counts.masked += usize::from(record.mask.is_some_and(|mask| mask > 0));
        let layer = self.place(record)?;
        let in_hole = kind != Kind::Surface;
        let sides = match layer {
            Where::Both => [true, true],
            Where::Component => [true, in_hole],
            Where::Solder => [in_hole, true],
            // A hole goes through, whatever layer its test point is on.
            Where::Inner if in_hole => [true, true],
            Where::Inner => {
                self.counts.inner += 1;
                return Ok(());
            }
        };
        let drill = self.drill(kind, record)?;
        if kind == Kind::Surface && matches!(layer, Where::Both) {
            let remedy = "mend the layer, or the kind of record";
            let told = "a surface land that is on both sides";
            return Err(at(self.name, record.line, 39, told, remedy));
        }
        let stands_on = self.standing(record, &layer, in_hole);
        let no = if record.pin.is_empty() {
            self.counts.numbered += 1;
            "1".to_owned()
        } else {
            record.pin.to_owned()
        };
        let land = self.land(record);
        self.sources.pads.push(Pad {
            reference: record.reference.to_owned(),
            no,
            at: at_mm,
            land,
            drill,
            sides,
            stands_on,
            net: net_of(record, file),
            place: format!("line {}", record.line),
        });
        Ok(())
    }

    fn place(&self, record: &Record<'_>) -> Result<Where, ImportError> {
        let Some(layer) = record.layer else {
            let remedy = "write A00 (both sides), A01 (component side) or the layer's number";
            return Err(at(
                self.name,
                record.line,
                39,
                "the layer is missing",
                remedy,
            ));
        };
        Ok(match layer {
            0 => Where::Both,
            1 => Where::Component,
            layer if Some(layer) == self.solder => Where::Solder,
            _ => Where::Inner,
        })
    }

    fn drill(&self, kind: Kind, record: &Record<'_>) -> Result<Drill, ImportError> {
        Ok(match (kind, record.hole) {
            (Kind::Surface, None) => Drill::Surface,
            (Kind::Surface, Some(_)) => {
                return Err(at(
                    self.name,
                    record.line,
                    33,
                    "a surface land with a hole",
                    "a land with a hole is a record 317",
                ));
            }
            (_, Some(hole)) if hole.diameter > 0 => {
                Drill::Of(self.step.to_mm(f64::from(hole.diameter)))
            }
            _ => Drill::Unstated,
        })
    }

    /// The side on which a part with unplated holes stands: copper on one side alone is where it
    /// is soldered. Copper on the component side alone reads two ways and is asked.
    fn standing(&mut self, record: &Record<'_>, layer: &Where, in_hole: bool) -> Option<Side> {
        let unplated = record.hole.is_some_and(|hole| hole.plated == Some(false));
        if !in_hole || !unplated || self.options.side.is_some() {
            return None;
        }
        match layer {
            Where::Solder => Some(Side::Component),
            Where::Component if self.solder.is_none() => {
                let asked = |q: &Question| q.key == QuestionKey::Side;
                if !self.sources.questions.iter().any(asked) {
                    self.sources.questions.push(Question::new(
                        QuestionKey::Side,
                        format!(
                            "All copper is on layer 1, and {} (line {}) has an unplated hole in \
                             it: which side is that? On which side do the parts with pins in \
                             holes stand?",
                            quoted(record.reference),
                            record.line
                        ),
                        &[
                            (
                                "component",
                                "the usual one-sided board, soldered on the other side",
                            ),
                            ("solder", "parts stand on the other side"),
                        ],
                    ));
                }
                None
            }
            Where::Component => Some(Side::Solder),
            _ => None,
        }
    }

    /// The land as the map has it: turned by whole quarters only.
    fn land(&mut self, record: &Record<'_>) -> Option<Land> {
        let [x, y] = record.size.filter(|[x, _]| *x > 0)?;
        let [w, h] = [x, y].map(|count| self.step.to_mm(f64::from(count)));
        let land = if y == 0 {
            Land {
                shape: LandShape::Round,
                size: [w, w],
            }
        } else {
            Land {
                shape: LandShape::Rect,
                size: [w, h],
            }
        };
        let (land, exact) = land.turned(f64::from(record.turn));
        self.counts.turned += usize::from(!exact);
        Some(land)
    }

    fn finish(mut self, file: &File<'_>) -> Sources {
        let counts = &self.counts;
        let out = &mut self.sources.left_out;
        let mut leave = |count: usize, text: &str| {
            if count > 0 {
                out.push(format!("{count} {text}."));
            }
        };
        leave(counts.vias, "vias");
        leave(counts.inner, "surface records on inner layers");
        leave(counts.nameless, "lands without a reference");
        leave(
            counts.masked,
            "solder mask codes of lands (the map has no place for them)",
        );
        for (what, count) in &file.passed {
            leave(*count, what);
        }
        let assumed = &mut self.sources.assumed;
        assumed.extend(file.assumed.iter().cloned());
        if let Some(layer) = self.solder {
            let why = if self.options.solder_layer.is_some() {
                "as answered"
            } else {
                "the highest that the file names; --answer solder-layer=NUMBER changes it"
            };
            assumed.push(format!("Layer {layer} is the solder side ({why})."));
        }
        if counts.turned > 0 {
            assumed.push(turned_note(counts.turned));
        }
        if counts.numbered > 0 {
            assumed.push(format!(
                "{} lands have no pin number: they are pin 1 of their part.",
                counts.numbered
            ));
        }
        if !self.sources.holes.is_empty() {
            self.sources.read.push(format!(
                "{} holes without copper, as landmarks.",
                self.sources.holes.len()
            ));
        }
        self.sources
    }
}

fn net_of(record: &Record<'_>, file: &File<'_>) -> Option<String> {
    match record.net {
        "" | "N/C" => None,
        net => {
            let long = file.aliases.get(net).map_or(net, String::as_str);
            Some(long.chars().take(MAX_NET).collect())
        }
    }
}
