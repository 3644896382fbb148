//! Sources: features, robust fits and sub-pixel patches on plain images.
//!
//! Everything here is deterministic: random draws are seeded, and parallel work is collected in
//! order.

mod bent;
mod centre;
mod descriptor;
mod features;
mod guided;
mod level;
mod matching;
mod patches;
mod plane;
mod repeats;
mod robust;
mod run;
mod settle;
mod shift;

pub use bent::{Bent, settle_bent};
pub use centre::{RoundThing, round_thing_near};
pub use features::{Feature, features, mirrored};
pub use guided::guided_matches;
pub use level::{Level, Places, level, support};
pub use matching::{Match, match_features};
pub use patches::{PatchGrid, PatchHit, patch_hits};
pub use plane::Plane;
pub use repeats::repeats;
pub use robust::{Consensus, consensuses, is_a_view};
pub use settle::settle;
pub use shift::{Shift, shift_between};
