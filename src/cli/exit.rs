//! How a command ends: exit codes and the last words on stderr or, under `--json`, stdout.

use std::process::ExitCode;

use serde::Serialize;

use crate::work::{Trouble, WorkError};

/// How a command ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Ending {
    /// Done, or passed.
    Done,
    /// Not passed, or refused.
    NotPassed,
    /// The input is bad.
    BadInput,
    /// A file could not be read or written.
    InputOutput,
}

impl Ending {
    /// The number that the shell sees.
    pub(crate) fn code(self) -> u8 {
        match self {
            Self::Done => 0,
            Self::NotPassed => 1,
            Self::BadInput => 2,
            Self::InputOutput => 3,
        }
    }
}

impl From<Ending> for ExitCode {
    fn from(ending: Ending) -> Self {
        Self::from(ending.code())
    }
}

/// The error document of `--json`.
#[derive(Debug, Serialize)]
struct Refusal<'a> {
    schema: u32,
    reason: &'a str,
    remedy: &'a str,
}

/// Ends a failed command: says why and what to do, once.
pub(crate) fn fail(error: &WorkError, json: bool) -> Ending {
    let reason = error.to_string();
    let remedy = error.remedy();
    if json {
        super::out::json(&Refusal {
            schema: 1,
            reason: &reason,
            remedy: &remedy,
        });
    }
    super::out::complain(&reason, &remedy);
    match error.trouble() {
        Trouble::Refused => Ending::NotPassed,
        Trouble::BadInput => Ending::BadInput,
        Trouble::InputOutput => Ending::InputOutput,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_are_a_contract() {
        assert_eq!(Ending::Done.code(), 0);
        assert_eq!(Ending::NotPassed.code(), 1);
        assert_eq!(Ending::BadInput.code(), 2);
        assert_eq!(Ending::InputOutput.code(), 3);
    }
}
