//! Sources: features, robust fits and sub-pixel patches on plain images.
//!
//! Everything here is deterministic: random draws are seeded, and parallel work is collected in
//! order.

mod descriptor;
mod features;
mod matching;
mod patches;
mod plane;
mod robust;
mod shift;

pub use features::{Feature, features};
pub use matching::{Match, match_features};
pub use patches::{PatchGrid, PatchHit, patch_hits};
pub use plane::Plane;
pub use robust::{Consensus, consensus};
pub use shift::{Shift, shift_between};
