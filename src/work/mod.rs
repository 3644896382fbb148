//! Outputs: use cases shared by the command line and the window. [`Session`] is an opened job;
//! [`Action`] is everything that a person can do to it.

mod action;
mod aligning;
mod darkline;
mod error;
mod evaluate;
mod find;
mod hints;
mod library;
mod looked;
mod make;
mod maps;
mod matching;
mod original;
mod papers;
mod photos;
mod plan;
mod proof;
mod quality;
mod session;
mod severity;
mod snapping;
mod tour;
mod truth;
mod weak;

pub use action::{Action, Wish};
pub use aligning::{AutoTask, Elsewhere, FoundAlignment, differs_words, same_places};
pub use darkline::write_dark_lines;
pub use error::{Trouble, WorkError};
pub use evaluate::{Together, TruthSet, evaluate_folder, find_truth_sets, read_joint_list};
pub use find::{
    FindScore, FoundHint, RankedJoints, SAME_PLACE, SAME_RADIUS, find_loose, find_loose_like,
    found_csv, hint_found, ranked_joints, score_finding,
};
pub use hints::{evidence, hint_image, hint_in_job, hint_loose, spots_of, spots_on_photo};
pub use library::{NewerMap, Standing, begin_with_library, compare_maps, keep_map, newer_maps};
pub use looked::CoverageRow;
pub use make::{MadeMap, make_map};
pub use maps::{
    ImportedMap, check_map_names, export_map, import_maps, keep_identities, map_format_of,
    write_map,
};
pub use matching::align_photos;
pub use original::open_original;
pub use papers::{Written, check_output, same_file, slip_of, write_slip, write_text};
pub use photos::{AddReport, add_photos};
pub use plan::{describe, mode_word, side_word, with_pins};
pub use proof::{Proof, verify_job};
pub use quality::{QualityMap, quality_map};
pub use session::{Applied, CameIn, Session};
pub use severity::usual_severity;
pub use snapping::{Snapped, middle_near};
pub use tour::{
    Asked, EarlierUnit, LearnedSpot, Suspect, TourReport, TouredPhoto, find_samples, recorded_tour,
    render_samples, run_tour,
};
pub use truth::{LeftOut, TruthReport, export_truth};
pub use weak::{WeakReport, known_jobs, remember_job, weak_report};
