//! What can be asked of the window. Panels read the model and push these; one place carries
//! them out.

use std::path::PathBuf;

use super::keys::Command;
use super::mapping::MapAsk;
use super::model::{Page, Show};
use crate::geometry::PhotoPoint;
use crate::record::{FaultKind, PhotoId, Severity, View};
use crate::work::Action;

/// One wish of the person at the window.
#[derive(Debug, Clone, PartialEq)]
pub enum Ask {
    /// Something about the map that is being made.
    Map(MapAsk),
    /// The photo was clicked while a map is made; whether Shift was held.
    MapClick(PhotoPoint, bool),
    /// Make the map from the dropped files as answered.
    Import,
    /// A command of the table, by key or by click.
    Command(Command),
    /// Show a page.
    Page(Page),
    /// Go to a stop of the round.
    GoTo(usize),
    /// Go to what was typed.
    GoToTyped(String),
    /// Show a side of a board, or the photos that lie on none.
    Show(Show),
    /// Put a photo on the table.
    Photo(PhotoId),
    /// One photo on or back.
    StepPhoto(i32),
    /// The table was clicked there.
    Clicked(PhotoPoint),
    /// A place was drawn on the table, from its centre to its rim.
    Drawn(PhotoPoint, PhotoPoint),
    /// Radius of the current place, px.
    Radius(f64),
    /// A fault was named.
    Fault(FaultKind),
    /// How bad the fault that is being named is; the usual where absent.
    Severity(Option<Severity>),
    /// What the words that are being typed are for is done.
    Entered,
    /// What is being typed is put away.
    PutAway,
    /// Something to record.
    Record(Box<Action>),
    /// Record what was typed into these fields of a page; they are emptied once it is
    /// written down.
    RecordTyped(Box<Action>, Vec<String>),
    /// Choose a landmark to place next.
    Landmark(usize),
    /// Take a placed landmark away.
    Unplace(String),
    /// Use a pin as a landmark.
    PinAsLandmark(String),
    /// Say what the photo on the table shows.
    Place(View),
    /// Record the alignment as it stands.
    AcceptAlignment,
    /// Record the place that the photo found by itself.
    TakeMatch,
    /// Write the papers.
    Export,
    /// Make the tour's job and open it.
    Tour,
    /// Open a job.
    Open(PathBuf),
    /// Close the job.
    CloseJob,
    /// Choose files: photos, a job, a map.
    Choose(Choosing),
    /// These were chosen or dropped.
    Chosen(Choosing, Vec<PathBuf>),
    /// Start the job as the form says.
    Begin,
    /// Stop long work.
    Stop(String),
    /// Take a message away.
    Dismiss(usize),
    /// This twin to the glass, or away again.
    Twin(usize),
    /// Forget a clicked place that nobody judged.
    Forget,
}

/// What is being chosen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Choosing {
    /// Photos, or folders of them.
    Photos,
    /// A job's folder.
    Job,
    /// A board map for the new job.
    Map,
    /// A board map for the open job.
    AdoptMap,
}
