//! The real binary, run in a temporary folder as a person would.

mod bad_input; // every bad input gets a named error with a remedy, and loses nothing
mod bench; // what the tests share: a folder, a small board, its photo
mod evaluate; // the hint against known truth
mod flow; // from nothing to a slip, on a board of the test's own
mod forged; // remarks, names and journal lines that pass for the program's own, altered originals
mod found; // joints, dark lines and quality of photographs that belong to no job
mod kill; // killed at random moments while it records
mod loose; // hint and align on photographs that belong to no job
mod map_make; // a board map made by a file of edits
mod maps; // imports with questions, the library, differences, weak spots
mod matching; // photos aligned by themselves, here and on the next unit
mod tour;
mod trusted; // what the record may be trusted for: two benches, files cut off or altered, photos of before
mod truth; // the whole job on the sample boards that are kept with the project
