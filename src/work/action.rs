//! Everything that a person can do to a job, as data. Each action becomes exactly one event.

use std::collections::BTreeMap;
use std::path::PathBuf;

use crate::geometry::{BoardMm, Homography, PhotoPoint, PhotoPx};
use crate::record::{
    CheckKind, ConfirmedBy, Coverage, Evidence, Fault, Outcome, PhotoId, Reading, Spot, Subject,
    Target, Verdict, View,
};

use super::aligning::FoundAlignment;

/// One gesture.
#[derive(Debug, Clone, PartialEq)]
pub enum Action {
    /// Adopt a board map file, in place of the one that the board had.
    AdoptMap {
        /// The file.
        path: PathBuf,
    },
    /// Say which board and side a photo shows.
    PlacePhoto {
        /// The photo.
        photo: PhotoId,
        /// What it shows.
        view: View,
    },
    /// Align a photo by landmarks placed on it.
    Align {
        /// The photo.
        photo: PhotoId,
        /// What it shows.
        view: View,
        /// Landmark names of the map with their places in the upright photo.
        placed: Vec<(String, PhotoPoint)>,
    },
    /// Lay a photo on the map that was made on it: its frame is the alignment.
    LayUnder {
        /// The photo.
        photo: PhotoId,
        /// What it shows.
        view: View,
        /// From board mm to upright photo px.
        photo_from_board: Homography<BoardMm, PhotoPx>,
    },
    /// Keep an alignment that was found by itself.
    AlignAutomatically(Box<FoundAlignment>),
    /// Judge one or several places.
    Judge(Wish),
    /// Write down readings of a rail or test point.
    Measure {
        /// Where.
        subject: Subject,
        /// What the meter said.
        readings: Vec<Reading>,
        /// How the controls stood.
        settings: BTreeMap<String, String>,
        /// Remark.
        note: String,
    },
    /// Write down a check or function test.
    Check {
        /// Which.
        check: CheckKind,
        /// How it came out.
        outcome: Outcome,
        /// What the meter showed, V: for stored charge.
        volts: Option<f64>,
        /// Remark.
        note: String,
    },
    /// The unit was opened or touched.
    Reopen {
        /// The board; all where absent.
        board: Option<String>,
        /// Why.
        reason: String,
    },
    /// A part was unplugged and plugged again, or reseated.
    Reseat {
        /// The board.
        board: String,
        /// Reference of the part.
        part: String,
        /// Remark.
        note: String,
    },
    /// The unit was closed up.
    CloseUp {
        /// Remark.
        note: String,
    },
    /// The shop says what coverage it demands.
    Demand(Coverage),
    /// A free remark.
    Note {
        /// The remark.
        text: String,
        /// A photo it belongs to.
        photo: Option<PhotoId>,
    },
    /// Take back this bench's newest action, whenever and by whomever it was done.
    Undo,
    /// Bring back what undo took away.
    Redo,
    /// Take back the newest action of this sitting: since the job was opened, through this
    /// session.
    UndoHere,
    /// Bring back what undo took away in this sitting.
    RedoHere,
}

/// What somebody wants to say of some places. The record's scale and `replaces` are filled in.
#[derive(Debug, Clone, PartialEq)]
pub struct Wish {
    /// The places, judged together.
    pub targets: Vec<Target>,
    /// The verdict.
    pub verdict: Verdict,
    /// Faults found.
    pub faults: Vec<Fault>,
    /// What is in the way, for *cannot be judged*.
    pub obstacle: String,
    /// Remark.
    pub note: String,
    /// The photo looked at; the spot is found through its alignment where absent.
    pub photo: Option<PhotoId>,
    /// The spot on that photo, where the person pointed at one.
    pub spot: Option<Spot>,
    /// What the hint said at the time.
    pub evidence: Option<Evidence>,
    /// How it was found out whether the joint is cracked, where that was done.
    pub confirmed_by: Option<ConfirmedBy>,
}

impl Wish {
    /// A bare verdict on some places.
    #[must_use]
    pub fn new(targets: Vec<Target>, verdict: Verdict) -> Self {
        Self {
            targets,
            verdict,
            faults: Vec::new(),
            obstacle: String::new(),
            note: String::new(),
            photo: None,
            spot: None,
            evidence: None,
            confirmed_by: None,
        }
    }
}
