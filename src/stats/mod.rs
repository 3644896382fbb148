//! Ground floor: intervals for rates, ranks and robust spread.

mod interval;
mod robust;

pub use interval::{Interval, wilson_95};
pub use robust::{mad_sigma, median};
