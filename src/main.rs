//! The `benchglass` binary.

use std::process::ExitCode;

fn main() -> ExitCode {
    benchglass::cli::run()
}
