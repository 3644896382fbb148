//! Everything that can be done to a map being made, as data.

use serde::{Deserialize, Serialize};

use super::frame::FrameBy;
use super::grid::Grid;
use crate::board::model::{Land, Outline, PartKind, Rail, Side, TestPoint, Zone};
use crate::geometry::{BoardMm, Homography, PhotoPx};

/// A place on the board, mm: x right, y up, seen from the component side.
pub type Mm = [f64; 2];

/// What a new part is, beside where its pins are.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PartSpec {
    /// Its reference; the next free one of its kind where absent.
    #[serde(default, rename = "ref", skip_serializing_if = "Option::is_none")]
    pub reference: Option<String>,
    /// What it is.
    pub kind: PartKind,
    /// Value or purpose.
    #[serde(default)]
    pub value: String,
    /// Where its body stands.
    #[serde(default = "component")]
    pub side: Side,
    /// The land of each of its pins.
    pub land: Land,
    /// Hole of each of its pins, mm; absent for surface lands.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub drill: Option<f64>,
}

fn component() -> Side {
    Side::Component
}

fn one() -> u32 {
    1
}

/// A joint that was found on a photo.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FoundJoint {
    /// Where, mm.
    pub at: Mm,
    /// Diameter of its land, mm.
    pub land_mm: f64,
}

/// How far the second row of a package lies from the first.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Across {
    /// This many mm, on the side on which the numbering is right.
    Mm(f64),
    /// It runs through this place.
    Through(Mm),
}

/// How the pins of two rows are numbered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Numbering {
    /// Down the first row and back along the second, counter-clockwise seen from the component
    /// side (from the side the body stands on): packages.
    #[default]
    Round,
    /// Across and on: odd numbers in the first row, even ones in the second: pin headers.
    Across,
}

/// The line that something is mirrored about.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Line {
    /// All places with this x, mm: left and right change places.
    AtX(f64),
    /// All places with this y, mm: up and down change places.
    AtY(f64),
}

/// One step in the making of a map. Places are board mm, except where a photo is laid under the
/// board. Parts and pins are named by uid.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "do", rename_all = "snake_case", deny_unknown_fields)]
#[non_exhaustive]
pub enum Edit {
    /// Name the board.
    Describe {
        /// Make and type.
        model: String,
        /// Short name of the board.
        board: String,
        /// What people call it.
        #[serde(default)]
        title: String,
        /// Revision printed on it.
        #[serde(default)]
        revision: Option<String>,
        /// Where the data come from.
        #[serde(default)]
        origin: String,
    },
    /// Lay a photo under the board: scale, turn and side. What is on the map already stays where
    /// it is on the photo.
    Frame {
        /// The side that the photo shows.
        side: Side,
        /// Width and height of the upright photo, px.
        photo_size: [u32; 2],
        /// What the scale is taken from.
        by: FrameBy,
    },
    /// Lay the photo under the board by a transform; see [`straighten`](super::straighten).
    LayAnew {
        /// From board mm to upright photo px.
        photo_from_board: Homography<BoardMm, PhotoPx>,
    },
    /// The photo shows the other side than was said: everything stays where it is on the photo
    /// and is mirrored on the board.
    OtherSide {
        /// The side that it shows.
        side: Side,
    },
    /// The edge of the board.
    Outline {
        /// Its corners, once round.
        corners: Vec<Mm>,
    },
    /// The edge of the board as a rectangle round everything on it.
    OutlineRound {
        /// How far from the outermost lands, mm.
        margin_mm: f64,
    },
    /// Take found joints over: two rows that face each other become a package, each other row a
    /// part, every other joint one of its own.
    Accept {
        /// The joints.
        joints: Vec<FoundJoint>,
        /// Which of them stand in a row, in order.
        #[serde(default)]
        rows: Vec<Vec<usize>>,
        /// Which two rows face each other like the sides of a package. Those of equal length
        /// become one, numbered round; which pin is 1 is for a person to say.
        #[serde(default)]
        packages: Vec<[usize; 2]>,
    },
    /// Pins in a row at equal distances.
    Row {
        /// What it is.
        part: PartSpec,
        /// The first pin.
        first: Mm,
        /// The last pin.
        last: Mm,
        /// How many.
        count: usize,
        /// Number of the first pin.
        #[serde(default = "one")]
        first_no: u32,
        /// The part that gets them; a new one where absent.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        extend: Option<String>,
    },
    /// Two rows of as many pins each.
    TwoRows {
        /// What it is.
        part: PartSpec,
        /// Pin 1.
        pin_1: Mm,
        /// The last pin of the row that begins with pin 1.
        row_end: Mm,
        /// Where the other row is.
        across: Across,
        /// Pins in both rows together.
        count: usize,
        /// How they count.
        #[serde(default)]
        numbering: Numbering,
    },
    /// A part with two leads.
    TwoLeads {
        /// What it is.
        part: PartSpec,
        /// Pin 1.
        a: Mm,
        /// Pin 2.
        b: Mm,
    },
    /// One pin: a test pin, a wire, a screw.
    OnePin {
        /// What it is.
        part: PartSpec,
        /// Where.
        at: Mm,
    },
    /// Columns and rows of pins, numbered row by row.
    Array {
        /// What it is.
        part: PartSpec,
        /// Pin 1.
        first: Mm,
        /// The last pin of the first row.
        row_end: Mm,
        /// The first pin of the last row.
        column_end: Mm,
        /// Pins in a row.
        columns: usize,
        /// Rows.
        rows: usize,
    },
    /// Pins of other parts become one part, numbered in this order; they keep their identity.
    Gather {
        /// What it is.
        part: PartSpec,
        /// Uids of the pins.
        pins: Vec<String>,
    },
    /// The same again elsewhere, with new identities and the next free references.
    Duplicate {
        /// Uids of the parts.
        parts: Vec<String>,
        /// How far, mm.
        by: Mm,
    },
    /// Mirror places about a line. Packages keep a numbering that can be.
    Mirror {
        /// Uids of the parts.
        parts: Vec<String>,
        /// The line.
        about: Line,
        /// Leave the originals and mirror a copy.
        #[serde(default)]
        copy: bool,
    },
    /// Move parts.
    Move {
        /// Uids of the parts.
        parts: Vec<String>,
        /// How far, mm.
        by: Mm,
    },
    /// Move one pin.
    MovePin {
        /// Its uid.
        pin: String,
        /// Where to.
        to: Mm,
    },
    /// Take parts and pins away. A part without pins left goes too.
    Delete {
        /// Uids of parts.
        #[serde(default)]
        parts: Vec<String>,
        /// Uids of pins.
        #[serde(default)]
        pins: Vec<String>,
    },
    /// Give a part another reference.
    Rename {
        /// Its uid.
        part: String,
        /// The reference.
        reference: String,
    },
    /// Give one pin another number or name.
    RenamePin {
        /// Its uid.
        pin: String,
        /// Number or name.
        no: String,
    },
    /// Number a part anew, beginning at one of its pins.
    Renumber {
        /// The part's uid.
        part: String,
        /// Uid of the pin that is pin 1.
        pin_1: String,
        /// Count the other way round.
        #[serde(default)]
        backwards: bool,
    },
    /// Say what parts are. A reference that was only proposed follows the kind.
    Kind {
        /// Uids.
        parts: Vec<String>,
        /// What.
        kind: PartKind,
    },
    /// Say what a part is worth or does.
    Value {
        /// Its uid.
        part: String,
        /// In words.
        value: String,
    },
    /// Say which stage of the gate asks for parts first.
    Zone {
        /// Uids.
        parts: Vec<String>,
        /// Which.
        zone: Zone,
    },
    /// Call a part or pin a weak spot, or no longer one.
    Watch {
        /// Uid of a part or pin.
        of: String,
        /// Why; blank takes the note away.
        why: String,
    },
    /// Size of lands and holes.
    Lands {
        /// Uids of the parts; all where empty.
        #[serde(default)]
        parts: Vec<String>,
        /// The land.
        land: Land,
        /// The hole; absent for surface lands.
        #[serde(default)]
        drill: Option<f64>,
    },
    /// The outline of a part's body.
    Body {
        /// The part's uid.
        part: String,
        /// Its outline.
        outline: Outline,
    },
    /// Put the parts whose every pin is near enough onto a grid.
    Snap {
        /// The grid.
        grid: Grid,
        /// Uids of the parts; all where empty.
        #[serde(default)]
        parts: Vec<String>,
    },
    /// Name a place that is easy to find; the one of this name is replaced.
    Landmark {
        /// Its name.
        name: String,
        /// Where.
        at: Mm,
        /// What to look for.
        #[serde(default)]
        look_for: String,
    },
    /// Choose landmarks: outermost pins and, where the edge is known, corners.
    SuggestLandmarks,
    /// Take a landmark away.
    DropLandmark {
        /// Its name.
        name: String,
    },
    /// A supply rail; the one of this name is replaced.
    Rail {
        /// The rail.
        rail: Rail,
    },
    /// Take a rail away.
    DropRail {
        /// Its name.
        name: String,
    },
    /// A test point; the one of this name is replaced.
    TestPoint {
        /// The test point.
        point: TestPoint,
    },
    /// Take a test point away.
    DropTestPoint {
        /// Its name.
        name: String,
    },
    /// Several edits that are one step.
    Together {
        /// What it is, for undo.
        words: String,
        /// One after the other; all or none.
        edits: Vec<Edit>,
    },
}
