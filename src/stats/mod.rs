//! Ground floor: intervals, ranks, robust spread, how well a score tells two kinds apart, and
//! weights that do.

mod bootstrap;
mod classify;
mod interval;
mod logistic;
mod robust;

pub use bootstrap::group_bootstrap_95;
pub use classify::{
    ReliabilityBin, alarms_at_recall, average_precision, brier, brier_skill, calibration_error,
    reliability, roc_auc,
};
pub use interval::{Interval, wilson_95};
pub use logistic::{Case, Logistic, logistic_ridge};
pub use robust::{mad_sigma, median};
