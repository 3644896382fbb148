//! A board map being made: the map, the photo under it, and every step that led there.
//!
//! [`Draft::apply`] carries out one [`Edit`]; [`Draft::undo`] and [`Draft::redo`] walk through
//! the steps in words. Pure: no files, no window. What comes out is a
//! [`BoardMap`](crate::board::BoardMap) for the linter and for disk.

mod build;
mod carry;
mod change;
mod edit;
mod error;
mod frame;
mod grid;
mod landmarks;
mod names;
mod patch;
mod places;
#[cfg(test)]
mod tests;
mod words;

use std::collections::{BTreeSet, VecDeque};
use std::path::Path;

use super::bounds;
use super::file::MAP_SCHEMA;
use super::lint::{Finding, lint};
use super::model::BoardMap;
use names::Uids;
use patch::Patch;

pub use edit::{Across, Edit, FoundJoint, Line, Mm, Numbering, PartSpec};
pub use error::DraftError;
pub use frame::{Frame, FrameBy};
pub use grid::{Grid, GridFit, PITCHES, fit_grid, straighten};
pub use names::{class_letters, next_reference};
pub use places::{MOST_PINS, PinPlace, guess_count, pins_of};

/// Most steps that can be taken back.
const MOST_STEPS: usize = 1_000;
/// Most parts and pins that the steps hold together: ten times the largest board that the desk
/// is built for. The oldest steps are forgotten beyond it.
const MOST_KEPT: usize = 200_000;

/// A map being made, at one moment. Written as JSON, it can be gone on with.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Sketch {
    /// The map.
    pub map: BoardMap,
    /// The photo under it.
    pub frame: Option<Frame>,
    /// Whether somebody gave the edge of the board.
    pub outlined: bool,
    /// Uids of parts whose reference was only proposed.
    pub proposed: BTreeSet<String>,
    /// Uids of parts that were taken over from found joints and that nobody has touched: a new
    /// part takes over the pins of theirs that it covers.
    pub found: BTreeSet<String>,
}

impl Sketch {
    /// Everything but the parts.
    fn without_parts(&self) -> Self {
        let BoardMap {
            schema,
            ref model,
            ref board,
            ref title,
            ref revision,
            ref origin,
            ref outline,
            parts: _,
            ref landmarks,
            ref rails,
            ref test_points,
        } = self.map;
        Self {
            map: BoardMap {
                schema,
                model: model.clone(),
                board: board.clone(),
                title: title.clone(),
                revision: revision.clone(),
                origin: origin.clone(),
                outline: outline.clone(),
                parts: Vec::new(),
                landmarks: landmarks.clone(),
                rails: rails.clone(),
                test_points: test_points.clone(),
            },
            frame: self.frame.clone(),
            outlined: self.outlined,
            proposed: self.proposed.clone(),
            found: self.found.clone(),
        }
    }
}

/// One step that can be taken back.
#[derive(Debug, Clone)]
struct Step {
    words: String,
    patch: Patch,
}

/// A map being made, with its steps.
#[derive(Debug, Clone)]
pub struct Draft {
    now: Sketch,
    uids: Uids,
    done: VecDeque<Step>,
    undone: Vec<Step>,
    kept: usize,
    /// Goes up with every change.
    changes: u64,
}

/// What an edit did.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Made {
    /// In words, as undo would name it.
    pub words: String,
    /// Uids of the parts that it made.
    pub parts: Vec<String>,
}

impl Draft {
    /// How often it was changed, taking back counted too: two equal steps are two changes.
    #[must_use]
    pub fn changes(&self) -> u64 {
        self.changes
    }

    /// An empty map of a board.
    #[must_use]
    pub fn new(model: &str, board: &str) -> Self {
        Self::begin(
            BoardMap {
                schema: MAP_SCHEMA,
                model: model.to_owned(),
                board: board.to_owned(),
                title: String::new(),
                revision: None,
                origin: String::new(),
                outline: vec![[0.0, 0.0], [100.0, 0.0], [100.0, 80.0], [0.0, 80.0]],
                parts: Vec::new(),
                landmarks: Vec::new(),
                rails: Vec::new(),
                test_points: Vec::new(),
            },
            false,
            Uids::new(),
        )
    }

    /// A map that exists, to go on with. New parts get identities that no earlier version of it
    /// can have given.
    #[must_use]
    pub fn of(map: BoardMap) -> Self {
        let uids = Uids::of(&map);
        Self::begin(map, true, uids)
    }

    /// A map that was left unfinished, with the photo under it. Its steps are not known any more.
    #[must_use]
    pub fn resume(sketch: Sketch) -> Self {
        let uids = Uids::of(&sketch.map);
        Self::from_sketch(sketch, uids)
    }

    fn begin(map: BoardMap, outlined: bool, uids: Uids) -> Self {
        let sketch = Sketch {
            map,
            frame: None,
            outlined,
            proposed: BTreeSet::new(),
            found: BTreeSet::new(),
        };
        Self::from_sketch(sketch, uids)
    }

    fn from_sketch(now: Sketch, uids: Uids) -> Self {
        Self {
            now,
            uids,
            done: VecDeque::new(),
            undone: Vec::new(),
            kept: 0,
            changes: 0,
        }
    }

    /// The map as it stands, and the photo under it.
    #[must_use]
    pub fn now(&self) -> &Sketch {
        &self.now
    }

    /// The map as it stands.
    #[must_use]
    pub fn map(&self) -> &BoardMap {
        &self.now.map
    }

    /// The photo under the board.
    #[must_use]
    pub fn frame(&self) -> Option<&Frame> {
        self.now.frame.as_ref()
    }

    /// What the linter says of the map as it stands.
    #[must_use]
    pub fn findings(&self) -> Vec<Finding> {
        lint(&self.now.map)
    }

    /// Carries out one edit. An edit that changes nothing is no step.
    ///
    /// # Errors
    /// Where it cannot be; then nothing is changed.
    pub fn apply(&mut self, edit: &Edit) -> Result<Made, DraftError> {
        let mut next = self.now.clone();
        let parts = change::carry_out(&mut next, &mut self.uids, edit)?;
        bounds::check(&next.map, Path::new("the map being made"))?;
        let words = words::of(edit, &self.now, &next);
        let patch = Patch::between(&self.now, &next);
        if !patch.is_empty() {
            self.undone.clear();
            self.changes += 1;
            self.kept += patch.weight();
            self.done.push_back(Step {
                words: words.clone(),
                patch,
            });
            while self.done.len() > MOST_STEPS || (self.kept > MOST_KEPT && self.done.len() > 1) {
                if let Some(forgotten) = self.done.pop_front() {
                    self.kept -= forgotten.patch.weight();
                }
            }
            self.now = next;
        }
        Ok(Made { words, parts })
    }

    /// What undo would take back, in words.
    #[must_use]
    pub fn undoable(&self) -> Option<&str> {
        self.done.back().map(|step| step.words.as_str())
    }

    /// What redo would put back, in words.
    #[must_use]
    pub fn redoable(&self) -> Option<&str> {
        self.undone.last().map(|step| step.words.as_str())
    }

    /// Takes the last step back; its words.
    pub fn undo(&mut self) -> Option<String> {
        let step = self.done.pop_back()?;
        self.changes += 1;
        step.patch.undo(&mut self.now);
        self.kept -= step.patch.weight();
        let words = step.words.clone();
        self.undone.push(step);
        Some(words)
    }

    /// Puts the last step that was taken back in again; its words.
    pub fn redo(&mut self) -> Option<String> {
        let step = self.undone.pop()?;
        self.changes += 1;
        step.patch.redo(&mut self.now);
        self.kept += step.patch.weight();
        let words = step.words.clone();
        self.done.push_back(step);
        Some(words)
    }
}
