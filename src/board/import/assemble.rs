//! From lands with a part and a pin number to the parts of a map: shared by the imports that
//! know pins.

use std::collections::BTreeMap;
use std::path::Path;

use super::Imported;
use super::edge::stand_in_edge;
use super::error::{ImportError, quoted};
use super::options::{ImportOptions, MapFormat, Question, QuestionKey, Repeats};
use crate::board::bounds;
use crate::board::class_letters::kind_of;
use crate::board::file::MAP_SCHEMA;
use crate::board::lint::natural_key;
use crate::board::model::{
    BoardMap, Land, LandShape, Landmark, Outline, Part, PartKind, Pin, Side, Zone,
};
use crate::geometry::{BoardBox, BoardPoint};

/// Two sightings of one pin nearer than this are the same place, mm. Ten micrometres is far
/// above the rounding of any format (0.0001 in = 2.5 micrometres) and far below any pitch.
const SAME_MM: f64 = 0.01;

/// Land that stands for one whose size is not stated, mm across: fits between pins of the
/// trade's 2.54 mm pitch, and between most finer ones.
const STAND_IN_LAND_MM: f64 = 1.0;

/// Hole that stands for one whose diameter is not stated, as a share of the land's smaller
/// size: 0.8 in 1.6 mm is the usual two-lead part (from memory).
const STAND_IN_HOLE: f64 = 0.5;

/// A body is drawn this far round the outermost lands where no size is given, mm.
const BODY_MARGIN_MM: f64 = 0.25;

/// What a file says of a pad's hole.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::board) enum Drill {
    /// A surface land.
    Surface,
    /// A hole of this diameter, mm.
    Of(f64),
    /// A hole; its diameter is not stated.
    Unstated,
    /// Nothing: asked where nothing else tells.
    NotSaid,
}

/// One sighting of a pin's pad.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::board) struct Pad {
    /// Reference of the part.
    pub(in crate::board) reference: String,
    /// Pin number or name.
    pub(in crate::board) no: String,
    /// Centre, mm, as seen from the component side.
    pub(in crate::board) at: [f64; 2],
    /// Its land, where a size is stated.
    pub(in crate::board) land: Option<Land>,
    /// Its hole.
    pub(in crate::board) drill: Drill,
    /// The outer sides on which it was seen: component, solder.
    pub(in crate::board) sides: [bool; 2],
    /// The side on which the part stands, where the pad itself tells.
    pub(in crate::board) stands_on: Option<Side>,
    /// Its net.
    pub(in crate::board) net: Option<String>,
    /// Where it is in the file, for messages: `line 12`.
    pub(in crate::board) place: String,
}

/// What a file says of a part beside its pads.
#[derive(Debug, Clone, Default, PartialEq)]
pub(in crate::board) struct Body {
    /// The side it stands on.
    pub(in crate::board) side: Option<Side>,
    /// Its outline.
    pub(in crate::board) outline: Option<Outline>,
    /// Value and package, in words.
    pub(in crate::board) value: String,
    /// Whether its pins are in holes, where that is said of the whole part.
    pub(in crate::board) through_hole: Option<bool>,
}

/// Everything that was read from the files of one board.
#[derive(Debug, Default)]
pub(in crate::board) struct Sources {
    /// Pads in the order of the file.
    pub(in crate::board) pads: Vec<Pad>,
    /// What is said of parts, by reference.
    pub(in crate::board) bodies: BTreeMap<String, Body>,
    /// Holes that belong to no pin: they become landmarks.
    pub(in crate::board) holes: Vec<([f64; 2], String)>,
    /// The board's edge, where it is given.
    pub(in crate::board) outline: Option<Vec<[f64; 2]>>,
    /// The origin of the data, in words.
    pub(in crate::board) origin: String,
    /// Questions that arose while reading.
    pub(in crate::board) questions: Vec<Question>,
    /// What was read.
    pub(in crate::board) read: Vec<String>,
    /// What was left out.
    pub(in crate::board) left_out: Vec<String>,
    /// What was assumed.
    pub(in crate::board) assumed: Vec<String>,
}

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
        questions.push(Question::new(
            QuestionKey::Outline,
            "The file does not give the edge of the board; a rectangle 5 mm round the outermost \
             lands stands for it. What are its corners in mm?",
            &[],
        ));
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
    let landmarks = landmarks(&sources.holes);
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
    let mut notes = vec!["Rails and test points are still to be added.".to_owned()];
    if map.landmarks.len() < 4 {
        notes.push(
            "Landmarks are still to be added: at least four, near the corners; pins serve as \
             well while a photo is aligned."
                .to_owned(),
        );
    }
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

/// Holes as landmarks with unique names; more than a map takes are not needed.
fn landmarks(holes: &[([f64; 2], String)]) -> Vec<Landmark> {
    const MOST: usize = 200;
    let mut seen = BTreeMap::new();
    holes
        .iter()
        .take(MOST)
        .map(|(at, name)| {
            let count: &mut usize = seen.entry(name.to_lowercase()).or_default();
            *count += 1;
            Landmark {
                name: if *count == 1 {
                    name.clone()
                } else {
                    format!("{name} ({count})")
                },
                at: *at,
                look_for: "centre of the hole".to_owned(),
            }
        })
        .collect()
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

/// What was assumed how often.
#[derive(Debug, Default)]
struct Counts {
    lands: usize,
    holes: usize,
    standing: usize,
    numbered: usize,
    dropped: usize,
    split: Vec<String>,
    unknown: Vec<String>,
    bodies: usize,
    conflict: Option<String>,
}

impl Counts {
    fn tell(self, sources: &mut Sources) {
        let mut assume = |count: usize, text: String| {
            if count > 0 {
                sources.assumed.push(text);
            }
        };
        assume(
            self.lands,
            format!(
                "The size of {} lands is not stated: drawn {STAND_IN_LAND_MM} mm round, or round \
                 their hole.",
                self.lands
            ),
        );
        assume(
            self.holes,
            format!(
                "The diameter of {} holes is not stated: drawn as half the land.",
                self.holes
            ),
        );
        assume(
            self.standing,
            format!(
                "{} parts with pins in holes: the file does not say on which side they stand. \
                 They were put on the component side, so their joints are on the solder side; \
                 --answer side=solder turns that round.",
                self.standing
            ),
        );
        assume(
            self.bodies,
            format!(
                "Bodies of {} parts are the boxes round their lands.",
                self.bodies
            ),
        );
        assume(
            self.numbered,
            format!(
                "{} further places of a pin number got `_2`, `_3` ... behind it, as answered.",
                self.numbered
            ),
        );
        if let Some(first) = self.split.first() {
            sources.assumed.push(format!(
                "{} parts have lands on both sides ({} the first). A part of the map stands on \
                 one side: the lands of the solder side are parts of their own, `-solder` behind \
                 the reference.",
                self.split.len(),
                quoted(first)
            ));
        }
        if let Some(first) = self.unknown.first() {
            sources.assumed.push(format!(
                "The class letters of {} parts ({} the first) do not say what they are: kind other.",
                self.unknown.len(),
                quoted(first)
            ));
        }
        if self.dropped > 0 {
            sources.left_out.push(format!(
                "{} further places of a pin number, as answered.",
                self.dropped
            ));
        }
    }
}

struct Assembly<'a> {
    options: &'a ImportOptions,
    questions: Vec<Question>,
    counts: Counts,
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
        let land = pad.land.unwrap_or_else(|| {
            self.counts.lands += 1;
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
            uid: format!("pin-{part}.{}", pad.no.to_lowercase()),
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
        let mut taken: std::collections::BTreeSet<String> =
            pads.iter().map(|pad| pad.no.to_lowercase()).collect();
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

/// Joins sightings of one pin at one place: on both sides it is in a hole, unless both say that
/// they are surface lands.
fn merged(pads: Vec<Pad>, through_hole: Option<bool>) -> Vec<Pad> {
    let mut kept: Vec<Pad> = Vec::with_capacity(pads.len());
    let mut by_number: BTreeMap<String, Vec<usize>> = BTreeMap::new();
    for pad in pads {
        let slots = by_number.entry(pad.no.to_lowercase()).or_default();
        let same = slots
            .iter()
            .copied()
            .take(MAX_COMPARED)
            .find(|&i| is_same(&kept[i], &pad));
        match same {
            Some(i) => join(&mut kept[i], pad),
            None => {
                slots.push(kept.len());
                kept.push(pad);
            }
        }
    }
    for pad in &mut kept {
        if pad.drill == Drill::NotSaid {
            pad.drill = match (pad.sides, through_hole) {
                ([true, true], _) | (_, Some(true)) => Drill::Unstated,
                (_, Some(false)) => Drill::Surface,
                (_, None) => Drill::NotSaid,
            };
        }
    }
    kept
}

/// Places of one pin number that a further one is compared with: more would let a file with
/// thousands of them take the square of the time.
const MAX_COMPARED: usize = 64;

fn is_same(a: &Pad, b: &Pad) -> bool {
    let near = (0..2).all(|i| (a.at[i] - b.at[i]).abs() <= SAME_MM);
    let both_surface = a.drill == Drill::Surface && b.drill == Drill::Surface;
    near && !(both_surface && a.sides != b.sides)
}

fn join(kept: &mut Pad, other: Pad) {
    // The solder side's land is the one whose joint is looked at.
    if kept.land.is_none() || (other.sides[1] && !kept.sides[1] && other.land.is_some()) {
        kept.land = other.land;
    }
    kept.sides = [0, 1].map(|i| kept.sides[i] || other.sides[i]);
    kept.drill = match (kept.drill, other.drill) {
        (Drill::Of(hole), _) | (_, Drill::Of(hole)) => Drill::Of(hole),
        (Drill::Unstated, _) | (_, Drill::Unstated) => Drill::Unstated,
        (Drill::NotSaid, drill) | (drill, Drill::NotSaid) => drill,
        (Drill::Surface, Drill::Surface) => Drill::Surface,
    };
    kept.stands_on = kept.stands_on.or(other.stands_on);
    if kept.net.is_none() {
        kept.net = other.net;
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
