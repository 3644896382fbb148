//! The `benchglass` binary.

fn main() {}
