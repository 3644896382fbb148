//! The invented sample equipment: the *Fernhollow FH-12*, a twelve-zone greenhouse irrigation
//! controller of the 1980s, its two boards and the four units on the bench.

mod build;
mod front_board;
mod main_board;
#[cfg(test)]
mod tests;
mod units;

pub use units::{PlantedFault, UnitSpec, units};

use crate::board::BoardMap;

/// The model's name as it stands in maps and papers.
pub const MODEL: &str = "Fernhollow FH-12";

/// The board maps of the Fernhollow FH-12: `main`, then `front`.
#[must_use]
pub fn maps() -> Vec<BoardMap> {
    vec![main_board::map(), front_board::map()]
}
