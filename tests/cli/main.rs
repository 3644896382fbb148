//! The real binary, run in a temporary folder as a person would.

mod bad_input; // every bad input gets a named error with a remedy, and loses nothing
mod bench; // what the tests share: a folder, a small board, its photo
mod evaluate; // the hint against known truth
mod flow; // from nothing to a slip, on a board of the test's own
mod kill; // killed at random moments while it records
mod loose; // hint and align on photographs that belong to no job
mod tour; // the whole job on the sample boards that are kept with the project
