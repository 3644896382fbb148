//! The state of a map being made: the draft, the tool in hand, what was clicked and typed.

use std::collections::BTreeMap;

use super::overlay::Index;
use super::scale::ScaleBy;
use super::snap::{centroid, middle_of_any_size, nearest_spot};
use super::tools::Tool;
use crate::board::draft::{Draft, DraftError, Edit, Made, Sketch};
use crate::board::{BoardMap, Finding, PartKind, Side};
use crate::geometry::{BoardPoint, PhotoPoint};
use crate::record::PhotoId;

/// Land and hole that a new pin gets until joints were found or somebody typed others, mm
/// (common practice, no source).
pub(super) const LAND_MM: f64 = 1.8;
const HOLE_MM: f64 = 0.9;
/// Margin of an edge that is drawn because nobody drew one, mm.
const MARGIN_MM: f64 = 5.0;

/// The field in which a pitch is typed.
pub(super) const PITCH_FIELD: &str = "pitch";

/// A found joint on the photo.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spot {
    /// Its middle.
    pub at: PhotoPoint,
    /// Radius of its land, px.
    pub radius_px: f64,
}

/// What was found on a photo.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FoundOnPhoto {
    /// Joints.
    pub spots: Vec<Spot>,
    /// Which of them stand in a row, in order.
    pub rows: Vec<Vec<usize>>,
    /// Which two rows face each other like the sides of a package.
    pub packages: Vec<[usize; 2]>,
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
    /// Columns of a grid whose first row was clicked.
    pub columns: Option<usize>,
    /// Lengths typed for the scale.
    pub lengths: [String; 2],
    /// Which of them the keys were given to by itself, once each.
    pub keys_in: Option<usize>,
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
    /// Pairs of these that look like a package.
    pub packages: Vec<[usize; 2]>,
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
            columns: None,
            lengths: [String::new(), String::new()],
            keys_in: None,
            counted: false,
            pitch_mm: 2.54,
            land: format!("{LAND_MM}"),
            hole: format!("{HOLE_MM}"),
            kind: None,
            chosen: Vec::new(),
            pin: None,
            found: Vec::new(),
            rows: Vec::new(),
            packages: Vec::new(),
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
        self.fields.retain(|key, _| {
            key == PITCH_FIELD || key.starts_with("rail ") || key.starts_with("point ")
        });
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
        let bare = matches!(self.tool, Tool::Edge | Tool::Landmark)
            || (self.tool == Tool::Scale && self.by == ScaleBy::Board);
        if bare {
            return at;
        }
        if let Some(spot) = nearest_spot(&self.found, at, reach_px) {
            return spot.at;
        }
        let picks = matches!(
            self.tool,
            Tool::Choose | Tool::Move | Tool::Duplicate | Tool::Mirror
        );
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
            let carries = matches!(self.tool, Tool::Move | Tool::Duplicate | Tool::Mirror);
            if !carries || self.chosen.is_empty() {
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
        if self.tool == Tool::Grid && self.clicks.len() == 2 {
            let (first, last) = (self.mm(self.clicks[0])?, self.mm(at)?);
            self.columns = Some(self.pins_between(first, last));
            self.count.clear();
        }
        let full = self.tool.clicks(self.by);
        if self.tool == Tool::Scale {
            self.clicks.truncate(full);
            self.count_row();
            return Ok(());
        }
        if full > 0 && self.clicks.len() >= full {
            let edit = self.edit(&self.clicks);
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
