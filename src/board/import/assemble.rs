//! From lands with a part and a pin number to the parts of a map: shared by the imports that
//! know pins.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use super::Imported;
use super::counts::{Counts, STAND_IN_LAND_MM};
use super::edge::{edge_is_open, stand_in_edge};
use super::error::{ImportError, quoted};
use super::landmarks::{add_corner_pins, of_holes};
use super::options::{ImportOptions, MapFormat, Question, QuestionKey, Repeats};
use super::pads::{Body, Drill, Pad, Sources, merged};
use super::stand_in::keep_clear;
use crate::board::bounds;
use crate::board::class_letters::kind_of;
use crate::board::file::MAP_SCHEMA;
use crate::board::lint::natural_key;
use crate::board::model::{BoardMap, Land, LandShape, Outline, Part, PartKind, Pin, Side, Zone};
use crate::geometry::{BoardBox, BoardPoint};

/// Hole that stands for one whose diameter is not stated, as a share of the land's smaller
/// size: 0.8 in 1.6 mm is the usual two-lead part (from memory).
const STAND_IN_HOLE: f64 = 0.5;

/// A body is drawn this far round the outermost lands where no size is given, mm.
const BODY_MARGIN_MM: f64 = 0.25;

/// Makes the map, or asks everything that is open at once.
pub(in crate::board) fn assemble(
    mut sources: Sources,
    format: MapFormat,
    name: &Path,
    options: &ImportOptions,
) -> Result<Imported, ImportError> {
    let mut assembly = Assembly {
        options,
        questions: std::mem::take(&mut sources.questions),
        counts: Counts::default(),
        stand_ins: BTreeSet::new(),
    };
    let mut parts = Vec::new();
    for (reference, pads) in by_reference(std::mem::take(&mut sources.pads)) {
        let body = sources.bodies.remove(&reference).unwrap_or_default();
        assembly.part(&reference, pads, body, &mut parts);
    }
    for (reference, body) in std::mem::take(&mut sources.bodies) {
        assembly.without_pins(&reference, body, &mut parts);
    }
    if !assembly.questions.is_empty() {
        return Err(ImportError::Asks {
            path: name.to_path_buf(),
            questions: assembly.questions,
        });
    }
    if parts.is_empty() {
        return Err(ImportError::Unfit {
            path: name.to_path_buf(),
            reason: format!("no pin of any part is in this {format} file"),
            remedy: "is it the right file, and was it written with part and pin names?".to_owned(),
        });
    }
    if let Some(reason) = assembly.counts.conflict.take() {
        return Err(ImportError::Unfit {
            path: name.to_path_buf(),
            reason,
            remedy: "check that the files are of the same board and layer".to_owned(),
        });
    }
    keep_clear(&mut parts, &assembly.stand_ins);
    assembly.counts.tell(&mut sources);
    imported(sources, parts, format, name, options)
}

fn imported(
    mut sources: Sources,
    parts: Vec<Part>,
    format: MapFormat,
    name: &Path,
    options: &ImportOptions,
) -> Result<Imported, ImportError> {
    let mut questions = Vec::new();
    let outline = sources.outline.take().unwrap_or_else(|| {
        questions.push(edge_is_open("lands"));
        let pins = parts
            .iter()
            .flat_map(|part| part.pins.iter().map(Pin::centre));
        let bare = parts.iter().map(|part| part.outline.centre());
        let holes = sources
            .holes
            .iter()
            .map(|(at, _)| BoardPoint::new(at[0], at[1]));
        stand_in_edge(pins.chain(bare).chain(holes))
    });
    let mut landmarks = of_holes(&sources.holes);
    let corners = add_corner_pins(&mut landmarks, &parts);
    if corners > 0 {
        sources.assumed.push(format!(
            "{corners} pins near the corners are landmarks; name holes and corners of the board \
             beside them where you can."
        ));
    }
    let pins: usize = parts.iter().map(|part| part.pins.len()).sum();
    sources
        .read
        .insert(0, format!("{} parts with {pins} pins.", parts.len()));
    let map = BoardMap {
        schema: MAP_SCHEMA,
        model: options.model.clone(),
        board: options.board.clone(),
        title: String::new(),
        revision: None,
        origin: sources.origin,
        outline,
        parts,
        landmarks,
        rails: Vec::new(),
        test_points: Vec::new(),
    };
    bounds::check(&map, name)?;
    let notes = vec!["Rails and test points are still to be added.".to_owned()];
    Ok(Imported {
        map,
        format,
        questions,
        read: sources.read,
        left_out: sources.left_out,
        assumed: sources.assumed,
        notes,
    })
}

/// Pads grouped by reference, in the order in which references first come.
fn by_reference(pads: Vec<Pad>) -> Vec<(String, Vec<Pad>)> {
    let mut slots: BTreeMap<String, usize> = BTreeMap::new();
    let mut groups: Vec<(String, Vec<Pad>)> = Vec::new();
    for pad in pads {
        let slot = *slots.entry(pad.reference.clone()).or_insert_with(|| {
            groups.push((pad.reference.clone(), Vec::new()));
            groups.len() - 1
        });
        groups[slot].1.push(pad);
    }
    groups
}

struct Assembly<'a> {
    options: &'a ImportOptions,
    questions: Vec<Question>,
    counts: Counts,
    /// Uids of the pins whose land is a stand-in.
    stand_ins: BTreeSet<String>,
}

impl Assembly<'_> {
    fn part(&mut self, reference: &str, pads: Vec<Pad>, body: Body, parts: &mut Vec<Part>) {
        let mut pads = self.one_each(reference, merged(pads, body.through_hole));
        self.settle_holes(reference, &mut pads);
        pads.sort_by_cached_key(|pad| natural_key(&pad.no));
        let surface = |side: usize| {
            pads.iter()
                .any(|pad| pad.drill == Drill::Surface && pad.sides[side])
        };
        if surface(0) && surface(1) {
            self.counts.split.push(reference.to_owned());
            let (lower, upper): (Vec<Pad>, Vec<Pad>) = pads
                .into_iter()
                .partition(|pad| pad.drill == Drill::Surface && !pad.sides[0]);
            let mine = Body {
                side: Some(Side::Component),
                ..body.clone()
            };
            let other = Body {
                side: Some(Side::Solder),
                outline: None,
                ..body
            };
            self.finish(reference, upper, mine, parts);
            self.finish(&format!("{reference}-solder"), lower, other, parts);
        } else {
            let by_pads = match (surface(0), surface(1)) {
                (true, _) => Some(Side::Component),
                (_, true) => Some(Side::Solder),
                _ => None,
            };
            if let (Some(pads), Some(body)) = (by_pads, body.side)
                && pads != body
            {
                self.counts.conflict.get_or_insert(format!(
                    "{} stands on the {body} side, but its surface lands are on the {pads} side",
                    quoted(reference)
                ));
            }
            let side = by_pads.or(body.side);
            self.finish(reference, pads, Body { side, ..body }, parts);
        }
    }

    fn without_pins(&mut self, reference: &str, body: Body, parts: &mut Vec<Part>) {
        if body.outline.is_some() {
            self.finish(reference, Vec::new(), body, parts);
        }
    }

    fn finish(&mut self, reference: &str, pads: Vec<Pad>, body: Body, parts: &mut Vec<Part>) {
        let told = pads.iter().find_map(|pad| pad.stands_on);
        let side = body.side.or(told).or(self.options.side).unwrap_or_else(|| {
            self.counts.standing += 1;
            Side::Component
        });
        let outline = body.outline.unwrap_or_else(|| {
            self.counts.bodies += 1;
            box_round(&pads)
        });
        let kind = kind_of(reference).unwrap_or_else(|| {
            self.counts.unknown.push(reference.to_owned());
            PartKind::Other
        });
        let lower = reference.to_lowercase();
        let pins = pads.into_iter().map(|pad| self.pin(&lower, pad)).collect();
        parts.push(Part {
            uid: format!("part-{lower}"),
            reference: reference.to_owned(),
            kind,
            value: body.value,
            side,
            outline,
            pins,
            zone: Zone::default(),
            watch: None,
        });
    }

    fn pin(&mut self, part: &str, pad: Pad) -> Pin {
        let stated = match pad.drill {
            Drill::Of(diameter) => Some(diameter),
            _ => None,
        };
        let uid = format!("pin-{part}.{}", pad.no.to_lowercase());
        let land = pad.land.unwrap_or_else(|| {
            self.counts.lands += 1;
            self.stand_ins.insert(uid.clone());
            // A ring of a quarter of the hole all round keeps the land wider than its hole.
            let across = stated.map_or(STAND_IN_LAND_MM, |hole| (hole * 1.5).max(STAND_IN_LAND_MM));
            Land {
                shape: LandShape::Round,
                size: [across, across],
            }
        });
        let drill = match pad.drill {
            Drill::Unstated => {
                self.counts.holes += 1;
                let hole = land.size[0].min(land.size[1]) * STAND_IN_HOLE;
                Some((hole * 100.0).round().max(1.0) / 100.0)
            }
            _ => stated,
        };
        Pin {
            uid,
            no: pad.no,
            at: pad.at,
            land,
            drill,
            net: pad.net,
            watch: None,
        }
    }

    /// Each pin number once: further places are numbered or dropped as answered, or asked.
    fn one_each(&mut self, reference: &str, pads: Vec<Pad>) -> Vec<Pad> {
        let mut first: BTreeMap<String, (String, usize)> = BTreeMap::new();
        let mut taken: BTreeSet<String> = pads.iter().map(|pad| pad.no.to_lowercase()).collect();
        let mut kept = Vec::with_capacity(pads.len());
        for mut pad in pads {
            let key = pad.no.to_lowercase();
            let Some((place, count)) = first.get_mut(&key) else {
                first.insert(key, (pad.place.clone(), 1));
                kept.push(pad);
                continue;
            };
            match self.options.repeats {
                Some(Repeats::Number) => {
                    while !taken.insert(format!("{key}_{}", *count + 1)) {
                        *count += 1;
                    }
                    *count += 1;
                    self.counts.numbered += 1;
                    pad.no = format!("{}_{count}", pad.no);
                    kept.push(pad);
                }
                Some(Repeats::First) => self.counts.dropped += 1,
                None => {
                    let text = format!(
                        "Pin {} of {} stands at two places ({place} and {}). What of those?",
                        quoted(&pad.no),
                        quoted(reference),
                        pad.place
                    );
                    self.ask(
                        QuestionKey::Repeats,
                        text,
                        &[
                            (
                                "number",
                                "each is a joint; further ones get _2, _3 behind the number",
                            ),
                            ("first", "only the first is a joint"),
                        ],
                    );
                }
            }
        }
        kept
    }

    fn settle_holes(&mut self, reference: &str, pads: &mut [Pad]) {
        for pad in pads.iter_mut().filter(|pad| pad.drill == Drill::NotSaid) {
            pad.drill = match self.options.holes {
                Some(true) => Drill::Unstated,
                Some(false) => Drill::Surface,
                None => {
                    let text = format!(
                        "Pads do not say whether they have a hole (the first is pin {} of {}, {}). \
                         A pin in a hole has its joint on the other side of its part. Have they?",
                        quoted(&pad.no),
                        quoted(reference),
                        pad.place
                    );
                    self.ask(
                        QuestionKey::Holes,
                        text,
                        &[("yes", "pins in holes"), ("no", "surface lands")],
                    );
                    Drill::Surface
                }
            };
        }
    }

    /// Asks once for each key.
    fn ask(&mut self, key: QuestionKey, text: String, choices: &[(&'static str, &'static str)]) {
        if self.questions.iter().all(|asked| asked.key != key) {
            self.questions.push(Question::new(key, text, choices));
        }
    }
}

fn box_round(pads: &[Pad]) -> Outline {
    let corners = pads.iter().flat_map(|pad| {
        let [w, h] = pad.land.map_or([STAND_IN_LAND_MM; 2], |land| land.size);
        let [x, y] = pad.at;
        [
            BoardPoint::new(x - w / 2.0, y - h / 2.0),
            BoardPoint::new(x + w / 2.0, y + h / 2.0),
        ]
    });
    let around = BoardBox::from_points(corners).inflate(BODY_MARGIN_MM, BODY_MARGIN_MM);
    let centre = around.center();
    Outline::Rect {
        at: [centre.x, centre.y],
        size: [around.width(), around.height()],
        turn_deg: 0.0,
    }
}
