//! The window, driven as a person drives it: controls are found by their labels, keys are
//! pressed, and what was written is read back from the journal.
#![expect(
    clippy::unwrap_used,
    reason = "a test may stop at the first thing that is not as it must be"
)]

/// A window that is not there, driven.
mod bench;
/// A small job: a drawn photo and an invented map.
mod drawn;
/// From dropped photos to the first judged joint, with no map.
mod first_start;
/// What hands do too early, too long or elsewhere.
mod hands;
/// How closely a joint was looked at, and what counts as a look.
mod looks;
/// The tools with which a map is made: edge, grid, copies, rails, weak spots.
mod map_tools;
/// Making a map from a photo.
mod mapping;
/// Marks on parts, areas and the unit; viewing aids; the chooser.
mod marks;
/// Photos that find their place on the map by themselves.
mod matching;
/// What other benches write into the folder while the window is open.
mod outside;
/// What power asks for: how controls stand, what was opened, what is demanded, where stages are.
mod power;
/// The real program in a real window.
mod real_window;
/// Landmarks, the round, undo, readings, gate and slip.
mod round;
/// What undo reaches.
mod sitting;
/// The same joint on another unit's photo.
mod twins;
