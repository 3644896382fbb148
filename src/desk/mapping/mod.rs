//! Making a board map from the photo on the table.
//!
//! [`Making`] is the state: the map being made ([`Draft`](crate::board::draft::Draft)), the tool
//! in hand and what was clicked for it. The panel and the overlay draw it and push [`MapAsk`]s;
//! `doing` carries them out.

mod detail;
mod doing;
mod hand;
mod making;
mod measure;
pub mod overlay;
mod panel;
mod scale;
mod shape;
mod snap;
mod tools;

pub use making::{FoundOnPhoto, Making, Shown, Spot};
pub use scale::ScaleBy;
pub use snap::{centroid, nearest_spot};
pub use tools::{KINDS, Tool};

pub(super) use hand::keys;
pub(super) use panel::show as panel;

use crate::board::draft::Edit;
use crate::board::{PartKind, Side};

/// What can be asked of the map being made.
#[derive(Debug, Clone, PartialEq)]
pub enum MapAsk {
    /// Take a tool.
    Tool(Tool),
    /// Carry out an edit.
    Edit(Box<Edit>),
    /// A digit of the count.
    Digit(u8),
    /// The last digit of the count away.
    Rub,
    /// The count as the field has it.
    Count(String),
    /// What was clicked is to be made.
    Enter,
    /// Take the last step back.
    Undo,
    /// Put it back in.
    Redo,
    /// What the scale is taken from.
    Scale(ScaleBy),
    /// The side that the photo shows.
    Side(Side),
    /// What the chosen parts, or else the next one, are.
    Kind(PartKind),
    /// Choose a part; with others where it is added.
    Choose(String, bool),
    /// Take what is chosen away.
    Delete,
    /// Number the chosen part from the chosen pin.
    Renumber,
    /// Put the pins on the grid of this pitch.
    Grid(f64),
    /// Look for joints on the photo.
    Find,
    /// Take the scale from the rows that were found.
    FoundScale,
    /// Take the found joints over.
    Accept,
    /// Go to what a finding speaks of.
    Jump(usize),
    /// Write the map, adopt it and begin the round.
    Keep,
}
