//! The commands of a file: words ended by `*`, and extended ones between `%`.

use std::path::Path;

use crate::board::import::ImportError;

/// Longest command, bytes. Attributes and macros run to a few hundred.
const MAX_COMMAND: usize = 64 * 1024;

/// One command without its end mark and line breaks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Command {
    /// Its text.
    pub(super) text: String,
    /// Whether it stood between `%`.
    pub(super) extended: bool,
    /// Whether it is the first between its `%`.
    pub(super) first: bool,
    /// Where it begins, bytes from 0.
    pub(super) at: usize,
    /// Its line, from 1.
    pub(super) line: usize,
}

/// Walks through a file command by command.
pub(super) struct Lexer<'a> {
    bytes: &'a [u8],
    name: &'a Path,
    at: usize,
    extended: Option<usize>,
    first: bool,
    /// Up to where lines were counted, and the line there.
    counted: (usize, usize),
}

impl<'a> Lexer<'a> {
    pub(super) fn new(bytes: &'a [u8], name: &'a Path) -> Self {
        let start = if bytes.starts_with(b"\xef\xbb\xbf") {
            3
        } else {
            0
        };
        Self {
            bytes,
            name,
            at: start,
            extended: None,
            first: false,
            counted: (0, 1),
        }
    }

    /// The next command; `None` at the end.
    pub(super) fn next(&mut self) -> Result<Option<Command>, ImportError> {
        loop {
            self.skip_blanks();
            match self.bytes.get(self.at) {
                None => {
                    return match self.extended {
                        None => Ok(None),
                        Some(open) => Err(self.error(
                            open,
                            "a `%` that is never closed",
                            "was the file cut short? write it again",
                        )),
                    };
                }
                Some(b'%') => {
                    self.extended = match self.extended {
                        None => Some(self.at),
                        Some(_) => None,
                    };
                    self.first = true;
                    self.at += 1;
                }
                Some(_) => return self.command().map(Some),
            }
        }
    }

    fn command(&mut self) -> Result<Command, ImportError> {
        let start = self.at;
        let rest = &self.bytes[start..];
        let window = &rest[..rest.len().min(MAX_COMMAND)];
        let Some(length) = window.iter().position(|b| *b == b'*') else {
            let reason = if rest.len() > MAX_COMMAND {
                format!("a command of more than {MAX_COMMAND} bytes")
            } else {
                "a command without `*` at its end".to_owned()
            };
            return Err(self.error(start, reason, "was the file cut short? write it again"));
        };
        if self.extended.is_none()
            && !rest.starts_with(b"G04")
            && let Some(early) = rest[..length].iter().position(|b| *b == b'%')
        {
            return Err(self.error(
                start + early,
                "a `%` within a command",
                "end the command before it with `*`",
            ));
        }
        self.at = start + length + 1;
        let text: String = String::from_utf8_lossy(&rest[..length])
            .chars()
            .filter(|c| !matches!(c, '\n' | '\r'))
            .collect();
        let (from, line) = self.counted;
        let passed = &self.bytes[from..start];
        let line = line + passed.iter().filter(|b| **b == b'\n').count();
        self.counted = (start, line);
        Ok(Command {
            text,
            extended: self.extended.is_some(),
            first: std::mem::take(&mut self.first),
            at: start,
            line,
        })
    }

    fn skip_blanks(&mut self) {
        while self
            .bytes
            .get(self.at)
            .is_some_and(|b| b.is_ascii_whitespace() || *b == b'*')
        {
            self.at += 1;
        }
    }

    /// An error at a byte of the file.
    pub(super) fn error(
        &self,
        at: usize,
        reason: impl Into<String>,
        remedy: impl Into<String>,
    ) -> ImportError {
        let (line, column) = place(self.bytes, at);
        ImportError::At {
            path: self.name.to_path_buf(),
            line,
            column,
            reason: reason.into(),
            remedy: remedy.into(),
        }
    }
}

/// Line and column of a byte, both from 1.
fn place(bytes: &[u8], at: usize) -> (usize, usize) {
    let before = &bytes[..at.min(bytes.len())];
    let line = 1 + before.iter().filter(|b| **b == b'\n').count();
    let start = before
        .iter()
        .rposition(|b| *b == b'\n')
        .map_or(0, |i| i + 1);
    (line, 1 + before.len() - start)
}
