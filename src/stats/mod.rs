//! Ground floor: intervals, ranks, robust spread, and how well a score tells two kinds apart.

mod bootstrap;
mod classify;
mod interval;
mod robust;

pub use bootstrap::group_bootstrap_95;
pub use classify::{
    ReliabilityBin, alarms_at_recall, average_precision, brier, brier_skill, calibration_error,
    reliability, roc_auc,
};
pub use interval::{Interval, wilson_95};
pub use robust::{mad_sigma, median};
