//! The state of a map being made: the draft, the tool in hand, what was clicked and typed.

use std::collections::BTreeMap;

use super::overlay::Index;
use super::snap::{centroid, middle_of_any_size, nearest_spot};
use super::tools::Tool;
use crate::board::draft::{
    Across, Draft, DraftError, Edit, FoundJoint, FrameBy, Line, Made, Mm, Numbering, PartSpec,
    PinPlace, Sketch, guess_count, pins_of,
};
use crate::board::{BoardMap, Finding, Land, LandShape, PartKind, Side};
use crate::geometry::{BoardPoint, PhotoPoint};
use crate::record::PhotoId;

/// Land and hole that a new pin gets until joints were found or somebody typed others, mm
/// (common practice, no source).
const LAND_MM: f64 = 1.8;
const HOLE_MM: f64 = 0.9;
/// Hole against land where the land is known from the photo.
const HOLE_SHARE: f64 = 0.5;
/// Margin of an edge that is drawn because nobody drew one, mm.
const MARGIN_MM: f64 = 5.0;

/// What the scale is taken from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum ScaleBy {
    /// Two pins of a row with a known pitch.
    #[default]
    Pins,
    /// Two places and their distance.
    Length,
    /// The four corners of the board.
    Board,
    /// Four corners of something else.
    Rectangle,
}

impl ScaleBy {
    /// In the order of the panel.
    pub const ALL: [Self; 4] = [Self::Pins, Self::Board, Self::Length, Self::Rectangle];

    /// Its name.
    #[must_use]
    pub fn label(self) -> &'static str {
        match self {
            Self::Pins => "pins of a row",
            Self::Length => "a known length",
            Self::Board => "corners of the board",
            Self::Rectangle => "another rectangle",
        }
    }
}

/// A found joint on the photo.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spot {
    /// Its middle.
    pub at: PhotoPoint,
    /// Radius of its land, px.
    pub radius_px: f64,
}

/// What the overlay draws beside the map itself.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Shown {
    /// Pins that the next click would make.
    pub ghosts: Vec<(PhotoPoint, String)>,
    /// Radius of their lands, px.
    pub radius_px: f64,
}

/// A map being made from one photo.
pub struct Making {
    /// The photo.
    pub photo: PhotoId,
    /// Its size, px.
    pub size: [u32; 2],
    /// The map.
    pub draft: Draft,
    /// The tool in hand.
    pub tool: Tool,
    /// The side that the photo shows.
    pub side: Side,
    /// What the scale is taken from.
    pub by: ScaleBy,
    /// What was clicked for the tool in hand.
    pub clicks: Vec<PhotoPoint>,
    /// How many pins, typed; empty where it is guessed from the spacing.
    pub count: String,
    /// Lengths typed for the scale.
    pub lengths: [String; 2],
    /// The number of pins for the scale was counted on the photo, not typed.
    pub counted: bool,
    /// Pitch that counts are guessed by, mm.
    pub pitch_mm: f64,
    /// Diameter of new lands, typed.
    pub land: String,
    /// Diameter of new holes, typed; blank for surface lands.
    pub hole: String,
    /// Kind of the next part, where one was said.
    pub kind: Option<PartKind>,
    /// Uids of the chosen parts.
    pub chosen: Vec<String>,
    /// Uid of the chosen pin.
    pub pin: Option<String>,
    /// Joints found on the photo.
    pub found: Vec<Spot>,
    /// Rows of them.
    pub rows: Vec<Vec<usize>>,
    /// Joints are being looked for, or were.
    pub looked: bool,
    /// What is typed into fields, by field.
    pub fields: BTreeMap<String, String>,
    /// What was last done, in words.
    pub said: String,
    /// What the linter says.
    pub findings: Vec<Finding>,
    /// Where things lie on the photo.
    pub index: Index,
    /// A place that is to be brought to the middle of the table.
    pub go_to: Option<PhotoPoint>,
}

impl Making {
    /// Begins a map on a photo.
    #[must_use]
    pub fn new(photo: PhotoId, size: [u32; 2], model: &str, board: &str) -> Self {
        Self::with(photo, size, Draft::new(model, board))
    }

    /// Goes on with one that was begun.
    #[must_use]
    pub fn resumed(photo: PhotoId, size: [u32; 2], sketch: Sketch) -> Self {
        Self::with(photo, size, Draft::resume(sketch))
    }

    fn with(photo: PhotoId, size: [u32; 2], draft: Draft) -> Self {
        let side = draft.frame().map_or(Side::Solder, |frame| frame.side);
        let tool = if draft.frame().is_some() {
            Tool::Choose
        } else {
            Tool::Scale
        };
        let mut making = Self {
            photo,
            size,
            draft,
            tool,
            side,
            by: ScaleBy::default(),
            clicks: Vec::new(),
            count: String::new(),
            lengths: [String::new(), String::new()],
            counted: false,
            pitch_mm: 2.54,
            land: format!("{LAND_MM}"),
            hole: format!("{HOLE_MM}"),
            kind: None,
            chosen: Vec::new(),
            pin: None,
            found: Vec::new(),
            rows: Vec::new(),
            looked: false,
            fields: BTreeMap::new(),
            said: String::new(),
            findings: Vec::new(),
            index: Index::default(),
            go_to: None,
        };
        making.refresh();
        making
    }

    /// The map.
    #[must_use]
    pub fn map(&self) -> &BoardMap {
        self.draft.map()
    }

    /// Works out what is drawn and what the linter says.
    pub fn refresh(&mut self) {
        let map = self.draft.map();
        self.chosen.retain(|uid| map.part(uid).is_some());
        self.pin = self.pin.take().filter(|uid| map.pin(uid).is_some());
        self.findings = self.draft.findings();
        self.index = Index::of(self.draft.now());
        self.forget_fields();
    }

    /// Fields that show what is are filled anew; what is typed for a new rail or test point stays.
    fn forget_fields(&mut self) {
        self.fields
            .retain(|key, _| key.starts_with("rail ") || key.starts_with("point "));
    }

    /// What to click or type next, in one sentence.
    #[must_use]
    pub fn next(&self) -> &'static str {
        if self.tool.wants_choice() && self.chosen.is_empty() {
            return "Click the part that it is about.";
        }
        if self.tool == Tool::Scale && self.counted && self.clicks.len() == 2 {
            return "The joints found on that row are counted: press Enter, or type another number.";
        }
        self.tool.next(self.by, self.clicks.len())
    }

    /// Takes a tool.
    pub fn take(&mut self, tool: Tool) {
        // Nothing can be placed before the scale is known.
        self.tool = if self.draft.frame().is_none() {
            Tool::Scale
        } else {
            tool
        };
        self.clicks.clear();
        self.count.clear();
        self.kind = None;
    }

    /// Puts what was clicked away; whether there was anything to put away.
    pub fn put_away(&mut self) -> bool {
        if !self.clicks.is_empty() || !self.count.is_empty() {
            self.clicks.clear();
            self.count.clear();
            return true;
        }
        if !matches!(self.tool, Tool::Choose | Tool::Scale) {
            self.take(Tool::Choose);
            return true;
        }
        if !self.chosen.is_empty() {
            self.chosen.clear();
            self.pin = None;
            return true;
        }
        false
    }

    /// Radius of a new land on the photo around a place, px.
    #[must_use]
    pub fn radius_px(&self, at: PhotoPoint) -> f64 {
        /// Before the scale is known: a land of 2 mm where the photo shows 110 mm of board.
        const SHARE: f64 = 1.0 / 110.0;
        let scale = self
            .draft
            .frame()
            .and_then(|frame| frame.px_per_mm(frame.board(at)?));
        match scale {
            Some(scale) => self.spec().land.size[0] / 2.0 * scale,
            None => f64::from(self.size[0].max(self.size[1])) * SHARE,
        }
    }

    /// Where a click was meant: a found joint, a pin of the map, the middle of what is there.
    #[must_use]
    pub fn meant(
        &self,
        at: PhotoPoint,
        reach_px: f64,
        image: Option<&image::RgbImage>,
    ) -> PhotoPoint {
        let bare = matches!(self.tool, Tool::Edge | Tool::Landmark | Tool::Mirror)
            || (self.tool == Tool::Scale && self.by == ScaleBy::Board);
        if bare {
            return at;
        }
        if let Some(spot) = nearest_spot(&self.found, at, reach_px) {
            return spot.at;
        }
        let picks = matches!(self.tool, Tool::Choose | Tool::Move | Tool::Duplicate);
        if picks && let Some(mark) = self.index.pin_at(at, reach_px) {
            return mark.at;
        }
        let radius = self.radius_px(at);
        image
            .and_then(|image| match self.draft.frame() {
                Some(_) => centroid(image, at, radius),
                None => middle_of_any_size(image, at, radius),
            })
            .unwrap_or(at)
    }

    /// One click, where it was meant.
    ///
    /// # Errors
    /// Where it was the last one and what it would make cannot be.
    pub fn click(&mut self, at: PhotoPoint, shift: bool, reach_px: f64) -> Result<(), DraftError> {
        let choosing = self.tool.wants_choice() && self.chosen.is_empty();
        if self.tool == Tool::Choose || choosing {
            self.choose_at(at, shift, reach_px);
            // The pin that chose the part is also where it is taken by.
            if !matches!(self.tool, Tool::Move | Tool::Duplicate) || self.chosen.is_empty() {
                return Ok(());
            }
        }
        if self.tool == Tool::Edge
            && self.clicks.len() >= 3
            && (self.clicks[0] - at).length() <= reach_px
        {
            return self.enter();
        }
        self.clicks.push(at);
        let full = self.tool.clicks(self.by);
        if self.tool == Tool::Scale {
            self.clicks.truncate(full);
            self.count_row();
            return Ok(());
        }
        if full > 0 && self.clicks.len() >= full {
            let edit = self.edit(&self.clicks, shift);
            // A bad last click is clicked again; the ones before stand.
            if let Err(error) = edit.and_then(|edit| self.apply(&edit)) {
                self.clicks.pop();
                return Err(error);
            }
        }
        Ok(())
    }

    fn choose_at(&mut self, at: PhotoPoint, shift: bool, reach_px: f64) {
        let hit = self
            .index
            .pin_at(at, reach_px)
            .map(|mark| (mark.part, mark.pin));
        let Some((part, pin)) = hit else {
            if !shift {
                self.chosen.clear();
                self.pin = None;
            }
            return;
        };
        let part = &self.map().parts[part];
        let (uid, pin) = (part.uid.clone(), part.pins[pin].uid.clone());
        self.choose(uid, shift);
        self.pin = Some(pin);
    }

    /// Chooses a part, or adds it to what is chosen (or takes it out again).
    pub fn choose(&mut self, uid: String, add: bool) {
        if !add {
            self.chosen = vec![uid];
        } else if let Some(at) = self.chosen.iter().position(|known| *known == uid) {
            self.chosen.remove(at);
        } else {
            self.chosen.push(uid);
        }
        self.pin = None;
        self.forget_fields();
    }

    /// The found joints on the line between two clicks tell how many pins the row has.
    fn count_row(&mut self) {
        if self.by != ScaleBy::Pins || !self.lengths[0].is_empty() {
            return;
        }
        let [a, b] = self.clicks.as_slice() else {
            return;
        };
        let along = *b - *a;
        let length = along.length();
        let between = self.found.iter().filter(|spot| {
            let offset = spot.at - *a;
            let share = offset.dot(along) / (length * length);
            (-0.02..=1.02).contains(&share)
                && (offset.cross(along) / length).abs() < spot.radius_px * 0.6
        });
        let n = between.count();
        if n >= 3 {
            self.lengths[0] = n.to_string();
            self.counted = true;
        }
    }

    /// Makes what was clicked and typed.
    ///
    /// # Errors
    /// Where it cannot be.
    pub fn enter(&mut self) -> Result<(), DraftError> {
        match self.tool {
            Tool::Scale => {
                let by = self.frame_by()?;
                let edit = Edit::Frame {
                    side: self.side,
                    photo_size: self.size,
                    by,
                };
                self.apply(&edit)?;
                self.lengths = [String::new(), String::new()];
                self.counted = false;
                self.land_from_found();
                self.take(Tool::Row);
            }
            Tool::Edge if self.clicks.len() >= 3 => {
                let corners = self
                    .clicks
                    .iter()
                    .map(|at| self.mm(*at))
                    .collect::<Result<_, _>>()?;
                self.apply(&Edit::Outline { corners })?;
            }
            _ => {}
        }
        Ok(())
    }

    fn frame_by(&self) -> Result<FrameBy, DraftError> {
        let full = self.tool.clicks(self.by);
        let clicks: Vec<[f64; 2]> = self.clicks.iter().map(|p| p.to_array()).collect();
        if clicks.len() < full {
            return Err(DraftError::Count {
                what: "clicks",
                count: clicks.len(),
                remedy: format!("click {full} places first"),
            });
        }
        let typed = |i: usize| number(&self.lengths[i]).unwrap_or(f64::NAN);
        Ok(match self.by {
            ScaleBy::Pins => {
                let pins = self.lengths[0].trim().parse::<u32>().unwrap_or(0);
                if pins < 2 {
                    return Err(DraftError::Count {
                        what: "pins",
                        count: pins as usize,
                        remedy: "type how many pins the row has, both ends counted".to_owned(),
                    });
                }
                FrameBy::Pitch {
                    from: clicks[0],
                    to: clicks[1],
                    pitches: pins - 1,
                    pitch_mm: self.pitch_mm,
                }
            }
            ScaleBy::Length => FrameBy::Length {
                from: clicks[0],
                to: clicks[1],
                length_mm: typed(0),
            },
            ScaleBy::Board | ScaleBy::Rectangle => FrameBy::Rectangle {
                corners: [clicks[0], clicks[1], clicks[2], clicks[3]],
                size_mm: [typed(0), typed(1)],
                board_edge: self.by == ScaleBy::Board,
            },
        })
    }

    /// Lands as large as those that were found, once their size in mm is known.
    fn land_from_found(&mut self) {
        let Some(frame) = self.draft.frame() else {
            return;
        };
        let mut sizes: Vec<f64> = self
            .found
            .iter()
            .filter_map(|spot| Some(2.0 * spot.radius_px / frame.px_per_mm(frame.board(spot.at)?)?))
            .collect();
        if sizes.len() < 3 {
            return;
        }
        sizes.sort_by(f64::total_cmp);
        let land = (sizes[sizes.len() / 2] * 20.0).round() / 20.0;
        self.land = format!("{land}");
        self.hole = format!("{}", (land * HOLE_SHARE * 20.0).round() / 20.0);
    }

    /// Found joints were looked up on the photo.
    pub fn take_found(&mut self, found: Vec<Spot>, rows: Vec<Vec<usize>>) {
        self.found = found;
        self.rows = rows;
        self.land_from_found();
        self.count_row();
    }

    /// The scale from the longest row that was found, at the pitch that is set.
    ///
    /// # Errors
    /// Where no row was found.
    pub fn found_scale(&mut self) -> Result<(), DraftError> {
        let longest = self
            .rows
            .iter()
            .filter(|row| row.len() >= 3)
            .max_by(|a, b| {
                let length = |row: &[usize]| match (row.first(), row.last()) {
                    (Some(a), Some(b)) => (self.found[*b].at - self.found[*a].at).length(),
                    _ => 0.0,
                };
                length(a).total_cmp(&length(b))
            });
        let Some(row) = longest else {
            return Err(DraftError::Nothing);
        };
        self.by = ScaleBy::Pins;
        self.tool = Tool::Scale;
        self.clicks = [row[0], row[row.len() - 1]]
            .map(|i| self.found[i].at)
            .to_vec();
        self.lengths[0] = row.len().to_string();
        self.enter()
    }

    /// Takes the found joints over.
    ///
    /// # Errors
    /// Where there is no scale yet or none is left to take over.
    pub fn accept(&mut self) -> Result<(), DraftError> {
        let Some(frame) = self.draft.frame() else {
            return Err(DraftError::Nothing);
        };
        let joint = |spot: &Spot| {
            let at = frame.board(spot.at)?;
            Some(FoundJoint {
                at: at.to_array(),
                land_mm: 2.0 * spot.radius_px / frame.px_per_mm(at)?,
            })
        };
        let joints: Option<Vec<FoundJoint>> = self.found.iter().map(joint).collect();
        let joints = joints.ok_or(DraftError::Nowhere {
            what: "a found joint",
        })?;
        let rows = self.rows.clone();
        self.apply(&Edit::Accept { joints, rows })?;
        self.chosen.clear();
        Ok(())
    }

    /// Carries out an edit and chooses what it made.
    ///
    /// # Errors
    /// Where it cannot be.
    pub fn apply(&mut self, edit: &Edit) -> Result<Made, DraftError> {
        let made = self.draft.apply(edit)?;
        self.said = format!("{}.", made.words);
        match edit {
            Edit::Rail { .. } => self.fields.retain(|key, _| !key.starts_with("rail ")),
            Edit::TestPoint { .. } => self.fields.retain(|key, _| !key.starts_with("point ")),
            _ => {}
        }
        self.clicks.clear();
        self.count.clear();
        if !made.parts.is_empty() {
            self.chosen = made.parts.clone();
            self.pin = None;
        }
        self.refresh();
        Ok(made)
    }

    /// The last step back, or in again.
    pub fn step(&mut self, back: bool) {
        // A click that waits is what was done last.
        if back && self.clicks.pop().is_some() {
            return;
        }
        let (words, lead) = if back {
            (self.draft.undo(), "Taken back")
        } else {
            (self.draft.redo(), "Put back in")
        };
        if let Some(words) = words {
            self.said = format!("{lead}: {words}.");
            self.refresh();
            if self.draft.frame().is_none() {
                self.take(Tool::Scale);
            }
        }
    }

    /// Everything that a map needs before it is kept and that nobody said yet, as one step.
    #[must_use]
    pub fn finish(&self, photo_name: &str) -> Option<Edit> {
        let map = self.map();
        let mut edits = Vec::new();
        if map.origin.is_empty() {
            edits.push(Edit::Describe {
                model: map.model.clone(),
                board: map.board.clone(),
                title: map.title.clone(),
                revision: map.revision.clone(),
                origin: format!("made from the photo {photo_name}"),
            });
        }
        if !self.draft.now().outlined {
            edits.push(Edit::OutlineRound {
                margin_mm: MARGIN_MM,
            });
        }
        if map.landmarks.len() < 4 {
            edits.push(Edit::SuggestLandmarks);
        }
        (!edits.is_empty()).then(|| Edit::Together {
            words: "Finish the map: edge and landmarks".to_owned(),
            edits,
        })
    }

    /// A place of the photo as board mm.
    fn mm(&self, at: PhotoPoint) -> Result<Mm, DraftError> {
        self.draft
            .frame()
            .and_then(|frame| frame.board(at))
            .map(BoardPoint::to_array)
            .ok_or(DraftError::Nowhere { what: "the click" })
    }

    /// What a new part is.
    #[must_use]
    pub fn spec(&self) -> PartSpec {
        let land = number(&self.land).filter(|v| *v > 0.0).unwrap_or(LAND_MM);
        PartSpec {
            reference: None,
            kind: self.kind.unwrap_or_else(|| self.tool.kind()),
            value: String::new(),
            side: Side::Component,
            land: Land {
                shape: LandShape::Round,
                size: [land, land],
            },
            drill: number(&self.hole).filter(|v| *v > 0.0 && *v < land),
        }
    }

    /// Pins between two places: as typed, else by the pitch.
    fn pins_between(&self, a: Mm, b: Mm) -> usize {
        let point = |p: Mm| BoardPoint::new(p[0], p[1]);
        let typed = self.count.trim().parse::<usize>().ok();
        let counted = guess_count(point(a), point(b), self.pitch_mm);
        typed.unwrap_or(match self.tool {
            Tool::Package | Tool::Header => counted * 2,
            _ => counted,
        })
    }

    /// The edit that these clicks ask for.
    fn edit(&self, clicks: &[PhotoPoint], shift: bool) -> Result<Edit, DraftError> {
        let at = clicks
            .iter()
            .map(|click| self.mm(*click))
            .collect::<Result<Vec<Mm>, _>>()?;
        let part = self.spec();
        let by = |from: Mm, to: Mm| [to[0] - from[0], to[1] - from[1]];
        Ok(match (self.tool, at.as_slice()) {
            (Tool::Row, &[first, last]) => Edit::Row {
                count: self.pins_between(first, last),
                part,
                first,
                last,
                first_no: 1,
                extend: None,
            },
            (Tool::MorePins, &[first, last]) => {
                let uid = self.chosen.first().ok_or(DraftError::Nothing)?;
                let before = self.map().part(uid).ok_or(DraftError::NoPart)?.pins.len();
                Edit::Row {
                    count: self.pins_between(first, last),
                    part,
                    first,
                    last,
                    first_no: u32::try_from(before + 1).unwrap_or(u32::MAX),
                    extend: Some(uid.clone()),
                }
            }
            (Tool::Package | Tool::Header, &[pin_1, row_end, other]) => Edit::TwoRows {
                count: self.pins_between(pin_1, row_end),
                part,
                pin_1,
                row_end,
                across: Across::Through(other),
                numbering: if self.tool == Tool::Header {
                    Numbering::Across
                } else {
                    Numbering::Round
                },
            },
            (Tool::TwoLeads, &[a, b]) => Edit::TwoLeads { part, a, b },
            (Tool::OnePin, &[at]) => Edit::OnePin { part, at },
            (Tool::Grid, &[first, row_end, column_end]) => Edit::Array {
                columns: self.pins_between(first, row_end),
                rows: self.pins_between(first, column_end),
                part,
                first,
                row_end,
                column_end,
            },
            (Tool::Move, &[from, to]) => Edit::Move {
                parts: self.chosen.clone(),
                by: by(from, to),
            },
            (Tool::Duplicate, &[from, to]) => Edit::Duplicate {
                parts: self.chosen.clone(),
                by: by(from, to),
            },
            (Tool::Mirror, &[at]) => Edit::Mirror {
                parts: self.chosen.clone(),
                about: if shift {
                    Line::AtY(at[1])
                } else {
                    Line::AtX(at[0])
                },
                copy: true,
            },
            (Tool::Landmark, &[at]) => Edit::Landmark {
                name: self.free_landmark(),
                at,
                look_for: String::new(),
            },
            _ => return Err(DraftError::Nothing),
        })
    }

    /// `mark A`, `mark B` and on.
    fn free_landmark(&self) -> String {
        let taken = |name: &str| self.map().landmarks.iter().any(|mark| mark.name == name);
        (0u32..)
            .map(
                |i| match char::from_u32(u32::from(b'A') + i).filter(|_| i < 26) {
                    Some(letter) => format!("mark {letter}"),
                    None => format!("mark {}", i + 1),
                },
            )
            .find(|name| !taken(name))
            .unwrap_or_default()
    }

    /// What a click at the pointer would make, with the numbers that the pins would get.
    #[must_use]
    pub fn preview(&self, pointer: PhotoPoint) -> Shown {
        let full = self.tool.clicks(self.by);
        let mut clicks = self.clicks.clone();
        clicks.push(pointer);
        let pins: Vec<PinPlace> = if self.tool == Tool::Scale || full == 0 {
            Vec::new()
        } else if clicks.len() == full {
            self.edit(&clicks, false)
                .and_then(|edit| match edit {
                    Edit::Duplicate { .. } | Edit::Move { .. } => Ok(self.moved(&edit)),
                    edit => pins_of(&edit),
                })
                .unwrap_or_default()
        } else if clicks.len() == 2 && full == 3 {
            // The first row of a package, before the other one is clicked.
            self.first_row(&clicks).unwrap_or_default()
        } else {
            Vec::new()
        };
        let Some(frame) = self.draft.frame() else {
            return Shown::default();
        };
        Shown {
            ghosts: pins
                .into_iter()
                .filter_map(|pin| Some((frame.photo(pin.at)?, pin.no)))
                .collect(),
            radius_px: self.radius_px(pointer),
        }
    }

    fn first_row(&self, clicks: &[PhotoPoint]) -> Option<Vec<PinPlace>> {
        let (first, last) = (self.mm(clicks[0]).ok()?, self.mm(clicks[1]).ok()?);
        let all = self.pins_between(first, last);
        let count = if self.tool == Tool::Grid {
            all
        } else {
            all / 2
        };
        pins_of(&Edit::Row {
            part: self.spec(),
            first,
            last,
            count,
            first_no: 1,
            extend: None,
        })
        .ok()
    }

    fn moved(&self, edit: &Edit) -> Vec<PinPlace> {
        let (Edit::Move { parts, by } | Edit::Duplicate { parts, by }) = edit else {
            return Vec::new();
        };
        parts
            .iter()
            .filter_map(|uid| self.map().part(uid))
            .flat_map(|part| &part.pins)
            .map(|pin| PinPlace {
                no: pin.no.clone(),
                at: BoardPoint::new(pin.at[0] + by[0], pin.at[1] + by[1]),
            })
            .collect()
    }

    /// Where a finding of the linter is: its part and place.
    #[must_use]
    pub fn place_of(&self, place: &str) -> Option<(Option<String>, PhotoPoint)> {
        let frame = self.draft.frame()?;
        let map = self.map();
        for part in &map.parts {
            let name = format!("part {}", part.reference);
            let Some(rest) = place.strip_prefix(&name) else {
                continue;
            };
            let pin = rest
                .strip_prefix(", pin ")
                .and_then(|no| part.pins.iter().find(|pin| pin.no == no));
            if rest.is_empty() || pin.is_some() {
                let at = pin.map_or_else(|| part.centre(), |pin| pin.centre());
                return Some((Some(part.uid.clone()), frame.photo(at)?));
            }
        }
        let mark = map
            .landmarks
            .iter()
            .find(|mark| place == format!("landmark {}", mark.name))?;
        Some((None, frame.photo(BoardPoint::new(mark.at[0], mark.at[1]))?))
    }
}

/// A number as people type it: a comma is a decimal mark on many keyboards.
pub(super) fn number(text: &str) -> Option<f64> {
    text.trim()
        .replace(',', ".")
        .replace('−', "-")
        .parse::<f64>()
        .ok()
        .filter(|v| v.is_finite())
}
