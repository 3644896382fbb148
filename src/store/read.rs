//! Reading journal files: every whole line of every `journal/*.jsonl`, whatever its name, and a
//! word on everything that could not be read.

use std::fmt;
use std::fs;
use std::path::{Path, PathBuf};

use crate::record::{BenchId, Clock, Envelope, State, fold_at};

use super::error::{StoreError, io_error};
use super::files::sha256_hex;

/// What the journal files of a job hold.
#[derive(Debug, Clone, Default)]
pub struct Readout {
    /// Every event that could be read, file by file; conflict copies bring some twice.
    pub events: Vec<Envelope>,
    /// What could not be read.
    pub problems: Vec<Problem>,
    /// The greatest clock read.
    pub greatest: Clock,
}

/// Something that is the matter with a file of the job.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Problem {
    /// The file.
    pub path: PathBuf,
    /// The line, from 1, where it is about one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub line: Option<usize>,
    /// What kind of problem.
    pub kind: ProblemKind,
    /// What is the matter and what to do.
    pub text: String,
}

/// Kinds of problems.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ProblemKind {
    /// The last line of a journal file is not whole yet: normal while a folder is syncing.
    TornTail,
    /// A whole line cannot be understood.
    BrokenLine,
    /// A line does not follow from the one before it.
    BrokenChain,
    /// A folder or link stands where a journal file should be.
    NotAFile,
    /// A photo or map that the record names is not there.
    Missing,
    /// A photo or map does not have the contents that were recorded.
    Altered,
    /// A name in the record leads out of its folder.
    BadName,
    /// Different events carry one identity.
    Clash,
    /// A clock runs far ahead.
    FutureClock,
    /// An event of a newer version.
    NewerEvent,
}

impl ProblemKind {
    /// Whether this is worth a word and no fault of the job.
    #[must_use]
    pub fn is_note(self) -> bool {
        matches!(self, Self::TornTail | Self::FutureClock | Self::NewerEvent)
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.path.display())?;
        if let Some(line) = self.line {
            write!(f, ", line {line}")?;
        }
        write!(f, ": {}", self.text)
    }
}

impl Readout {
    /// Adds the events up, with the lines that could not be read. `now_ms`: milliseconds since
    /// 1970, for flagging clocks that run ahead.
    #[must_use]
    pub fn fold(&self, now_ms: Option<u64>) -> State {
        let mut state = fold_at(self.events.iter().cloned(), now_ms);
        let count = |of: &dyn Fn(ProblemKind) -> bool| {
            let kinds = self.problems.iter().map(|problem| problem.kind);
            kinds.filter(|kind| of(*kind)).count()
        };
        // What has not arrived whole may hold a mark like what cannot be read.
        state.unreadable_lines = count(&|kind| {
            matches!(
                kind,
                ProblemKind::BrokenLine | ProblemKind::NotAFile | ProblemKind::TornTail
            )
        });
        state.broken_links = count(&|kind| kind == ProblemKind::BrokenChain);
        state
    }
}

/// The lines of one journal file.
pub(super) struct Lines {
    /// The bytes of the file.
    bytes: Vec<u8>,
}

impl Lines {
    pub(super) fn read(path: &Path) -> Result<Self, StoreError> {
        let bytes = fs::read(path).map_err(io_error(path, "read the journal"))?;
        Ok(Self { bytes })
    }

    /// Length of the whole lines in bytes.
    pub(super) fn whole_len(&self) -> usize {
        self.bytes
            .iter()
            .rposition(|byte| *byte == b'\n')
            .map_or(0, |end| end + 1)
    }

    /// Every whole line without its line end.
    pub(super) fn whole(&self) -> impl Iterator<Item = &[u8]> {
        self.bytes[..self.whole_len()]
            .split_inclusive(|byte| *byte == b'\n')
            .map(without_end)
    }

    /// What comes after the last whole line.
    pub(super) fn tail(&self) -> &[u8] {
        &self.bytes[self.whole_len()..]
    }
}

/// A line without `\n` or the `\r\n` that some tool made of it.
fn without_end(line: &[u8]) -> &[u8] {
    let line = line.strip_suffix(b"\n").unwrap_or(line);
    line.strip_suffix(b"\r").unwrap_or(line)
}

/// Journal files of a folder in the order of their names, and what is not a file.
pub(super) fn journal_files(folder: &Path) -> Result<(Vec<PathBuf>, Vec<Problem>), StoreError> {
    let mut files = Vec::new();
    let mut problems = Vec::new();
    let entries = match fs::read_dir(folder) {
        Ok(entries) => entries,
        // A job that was copied without its empty folders.
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok((files, problems)),
        Err(error) => return Err(io_error(folder, "read the journal folder")(error)),
    };
    for entry in entries {
        let path = entry
            .map_err(io_error(folder, "read the journal folder"))?
            .path();
        if path
            .extension()
            .is_none_or(|extension| extension != "jsonl")
        {
            continue;
        }
        if path.is_file() {
            files.push(path);
        } else {
            problems.push(Problem {
                path,
                line: None,
                kind: ProblemKind::NotAFile,
                text: "a journal file should be here and is not one. Move it away, or bring the \
                       file back from a copy."
                    .to_owned(),
            });
        }
    }
    files.sort();
    problems.sort_by(|a, b| a.path.cmp(&b.path));
    Ok((files, problems))
}

/// Reads every journal file of a folder.
pub(super) fn read_journals(folder: &Path) -> Result<Readout, StoreError> {
    let (files, problems) = journal_files(folder)?;
    let mut tails: Vec<Vec<u8>> = Vec::new();
    let mut torn: Vec<Problem> = Vec::new();
    let mut readout = Readout {
        problems,
        ..Readout::default()
    };
    for path in files {
        let lines = Lines::read(&path)?;
        readout.take(&path, &lines);
        if let Some(problem) = torn_tail(&path, &lines) {
            tails.push(lines.tail().to_vec());
            torn.push(problem);
        }
    }
    // A copy that a sync tool cut off tells nothing that another file does not have whole.
    for (tail, problem) in tails.iter().zip(torn) {
        if !whole_elsewhere(&journal_files(folder)?.0, tail) {
            readout.problems.push(problem);
        }
    }
    Ok(readout)
}

/// Bytes of a line that hold its identity: shorter pieces begin like any other line.
const TELLING: usize = 64;

/// Whether some journal file has a whole line that begins like this.
fn whole_elsewhere(files: &[PathBuf], tail: &[u8]) -> bool {
    if tail.len() < TELLING {
        return false;
    }
    let begins = |path: &PathBuf| {
        Lines::read(path).is_ok_and(|lines| lines.whole().any(|line| line.starts_with(tail)))
    };
    files.iter().any(begins)
}

impl Readout {
    /// Takes the events of a file. Each line has to follow from the one before it: by number,
    /// clock, bench and hash.
    fn take(&mut self, path: &Path, lines: &Lines) {
        let problem = |index: usize, kind, text| Problem {
            path: path.to_owned(),
            line: Some(index + 1),
            kind,
            text,
        };
        // Nothing is said of what follows a line that cannot be understood: that was named.
        let mut prev = Some(String::new());
        // Counted on from the line before, so that one line that is missing is told once.
        let mut seq = 0;
        let mut before: Option<(BenchId, Clock, u64)> = None;
        for (index, line) in lines.whole().enumerate() {
            match parse(line) {
                Ok(event) => {
                    let breaks = breaks(&event, prev.as_deref(), seq, before);
                    if !breaks.is_empty() {
                        let text =
                            format!("{}. Compare with a copy of the file.", breaks.join("; "));
                        let broken = problem(index, ProblemKind::BrokenChain, text);
                        self.problems.push(broken);
                    }
                    seq = event.seq.saturating_add(1);
                    before = Some((event.bench, event.clock, event.seq));
                    self.greatest = self.greatest.max(event.clock);
                    self.events.push(event);
                }
                Err(why) => {
                    let text = format!(
                        "the line cannot be understood ({why}) and was left out. Bring the file \
                         back from a copy."
                    );
                    let broken = problem(index, ProblemKind::BrokenLine, text);
                    self.problems.push(broken);
                    prev = None;
                    seq = seq.saturating_add(1);
                    continue;
                }
            }
            prev = Some(sha256_hex(line));
        }
    }
}

/// What speaks against an entry following from the one before it in its file.
fn breaks(
    event: &Envelope,
    prev: Option<&str>,
    seq: u64,
    before: Option<(BenchId, Clock, u64)>,
) -> Vec<&'static str> {
    let mut breaks = Vec::new();
    if prev.is_some_and(|prev| event.prev != prev) {
        breaks.push("the line before it was changed, added or taken away");
    }
    if event.seq != seq {
        breaks.push("its number is not its place in the file");
    }
    if let Some((bench, clock, seq)) = before {
        if event.bench != bench {
            breaks.push("another bench wrote it");
        }
        if (event.clock, event.seq) <= (clock, seq) {
            breaks.push("its clock does not rise");
        }
    }
    breaks
}

fn torn_tail(path: &Path, lines: &Lines) -> Option<Problem> {
    (!lines.tail().is_empty()).then(|| Problem {
        path: path.to_owned(),
        line: Some(lines.whole().count() + 1),
        kind: ProblemKind::TornTail,
        text: format!(
            "the last line is not whole ({} bytes). It is left out until the rest arrives; where it \
             never does, open the job at the bench that wrote it.",
            lines.tail().len()
        ),
    })
}

/// One event from one line.
pub(super) fn parse(line: &[u8]) -> Result<Envelope, String> {
    serde_json::from_slice(line).map_err(|error| error.to_string())
}
