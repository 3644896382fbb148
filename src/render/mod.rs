//! Outputs: the project's own board renderer. Everything it makes is invented and says so.

mod scenario;

pub use scenario::{MODEL, PlantedFault, UnitSpec, maps, units};
