//! An invented FH-12 job for the tests of this room: a small main board, a bench's record of it
//! and placeholder photographs drawn here.

mod board;
mod journal;
mod photographs;

use super::slip::{NoPhoto, SlipSource, slip_view};
use super::view::SlipView;

pub(crate) use board::main_board;
pub(crate) use journal::*;
pub(crate) use photographs::PHOTOGRAPHS;

/// The slip of a journal, with the drawn photographs.
pub(crate) fn slip_of(journal: &Journal) -> SlipView {
    let state = journal.state();
    slip_view(&SlipSource {
        state: &state,
        maps: &[main_board()],
        bench: "bench 2",
        sample: Some("Invented sample"),
        photos: &|id| PHOTOGRAPHS.get(id).cloned().ok_or(NoPhoto::Missing),
    })
    .unwrap()
}
