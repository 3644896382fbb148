//! Why an edit cannot be carried out.

use crate::board::MapError;
use crate::geometry::{FitError, HomographyError};

/// Why an edit was refused. Each says what to do instead; the map being made stays as it was.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum DraftError {
    /// A number is missing or beyond any board.
    #[error(
        "{what}: {value} is not a length that a board can have; give millimetres between 0.001 and 10000"
    )]
    Length {
        /// What was given.
        what: &'static str,
        /// The number.
        value: f64,
    },
    /// A place is not a place.
    #[error("{what} lies nowhere on the board; click it on the photo again")]
    Nowhere {
        /// Which place.
        what: &'static str,
    },
    /// A count that cannot be.
    #[error("{count} {what}: that does not make one; {remedy}")]
    Count {
        /// Of what.
        what: &'static str,
        /// How many.
        count: usize,
        /// What to give instead.
        remedy: String,
    },
    /// Two clicks fell on one place.
    #[error("{what} fell on the same place; click them apart")]
    Together {
        /// Which clicks.
        what: &'static str,
    },
    /// The second row was clicked on the side where it would be numbered the wrong way round.
    #[error(
        "seen from the component side a package counts counter-clockwise, and this second row would count clockwise; begin at the other end of the row, or with the other row"
    )]
    Clockwise,
    /// The four corners make no rectangle.
    #[error(
        "these four corners make no rectangle; click them one after the other round the board, and give first the length from the first to the second"
    )]
    Corners,
    /// The scale cannot be fixed.
    #[error("the scale cannot be taken from these clicks ({0}); click places further apart")]
    Frame(#[from] FitError),
    /// The transform is of no use.
    #[error("the photo cannot be laid on the board so ({0}); choose other places")]
    Transform(#[from] HomographyError),
    /// No such part.
    #[error("there is no such part any more; choose one that is on the map")]
    NoPart,
    /// No such pin.
    #[error("there is no such pin any more; choose one that is on the map")]
    NoPin,
    /// The pins stand on no grid of this pitch.
    #[error(
        "fewer than half of the pins stand on a {pitch_mm} mm grid, so none is moved; check the scale, or leave the pins where they are"
    )]
    NoGrid {
        /// The pitch, mm.
        pitch_mm: f64,
    },
    /// Nothing was chosen.
    #[error("nothing was chosen; click a part or a pin first")]
    Nothing,
    /// No landmark, rail or test point has this name.
    #[error("there is no {what} called {name}; choose one of the list")]
    NoSuch {
        /// What.
        what: &'static str,
        /// The name.
        name: String,
    },
    /// A name is blank or taken.
    #[error("{name:?} cannot be the {what}: {why}; choose another name")]
    Name {
        /// What it would name.
        what: &'static str,
        /// The name.
        name: String,
        /// Why not.
        why: &'static str,
    },
    /// The map would be more than a board can be.
    #[error(transparent)]
    Limits(#[from] MapError),
}
