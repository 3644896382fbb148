//! The end of one journal file: whole lines on the disk, or the file as it was.

use std::fs::{self, File};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use uuid::Uuid;

use crate::record::{BenchId, Clock, Envelope, Event};

use super::error::{StoreError, io_error};
use super::files::sha256_hex;
use super::home::{Home, Written};

/// Where the bytes of a journal go. A trait so that tests can fill the disk.
pub(super) trait Sink: Send {
    /// Appends all of the bytes.
    fn append(&mut self, bytes: &[u8]) -> io::Result<()>;
    /// Flushes them to the disk.
    fn sync(&mut self) -> io::Result<()>;
    /// Cuts back to a length.
    fn cut(&mut self, len: u64) -> io::Result<()>;
}

impl Sink for File {
    fn append(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.write_all(bytes)
    }

    fn sync(&mut self) -> io::Result<()> {
        self.sync_data()
    }

    fn cut(&mut self, len: u64) -> io::Result<()> {
        self.set_len(len)?;
        self.sync_data()
    }
}

/// Writes the events of one bench.
pub(super) struct Writer<S> {
    pub(super) sink: S,
    pub(super) path: PathBuf,
    pub(super) home: Home,
    pub(super) job: Uuid,
    pub(super) bench: BenchId,
    pub(super) by: String,
    /// Number of the next line.
    pub(super) seq: u64,
    /// Greatest clock written or read.
    pub(super) clock: Clock,
    /// SHA-256 of the last line; empty before the first.
    pub(super) prev: String,
    /// Length of the file in bytes.
    pub(super) len: u64,
    /// Whether a failed write could not be taken back.
    pub(super) stopped: bool,
}

impl<S: Sink> Writer<S> {
    /// Writes events, one line each, and flushes them together. Either all of them are on the
    /// disk afterwards or the file is as it was.
    pub(super) fn write(&mut self, events: Vec<Event>) -> Vec<Result<Envelope, StoreError>> {
        let mut text = Vec::new();
        let mut ends = vec![self.prev.clone()];
        let (mut clock, mut seq) = (self.clock, self.seq);
        let mut results = Vec::with_capacity(events.len());
        for what in events {
            let next = next_clock(clock, wall_ms());
            let prev = ends.last().cloned().unwrap_or_default();
            let envelope = self.envelope(what, next, seq, prev);
            match line_of(&envelope) {
                Ok(line) => {
                    ends.push(sha256_hex(line.as_bytes()));
                    text.extend_from_slice(line.as_bytes());
                    text.push(b'\n');
                    clock = next;
                    seq += 1;
                    results.push(Ok(envelope));
                }
                Err(why) => {
                    let path = self.path.clone();
                    results.push(Err(StoreError::NotWritable { path, why }));
                }
            }
        }
        match self.put(&text, &ends) {
            Ok(()) => {
                self.clock = clock;
                self.seq = seq;
                self.prev = ends.pop().unwrap_or_default();
                results
            }
            Err(error) => self.all_failed(results, error),
        }
    }

    fn envelope(&self, what: Event, clock: Clock, seq: u64, prev: String) -> Envelope {
        Envelope {
            id: Uuid::now_v7(),
            bench: self.bench,
            seq,
            clock,
            at: jiff::ZonedDateTime::now()
                .strftime("%Y-%m-%dT%H:%M:%S%.3f%:z")
                .to_string(),
            by: self.by.clone(),
            prev,
            what,
        }
    }

    fn put(&mut self, text: &[u8], ends: &[String]) -> Result<(), StoreError> {
        if self.stopped {
            return Err(StoreError::Stopped {
                path: self.path.clone(),
            });
        }
        if text.is_empty() {
            return Ok(());
        }
        self.check_len(self.len)?;
        // Before the lines, so that a kill between the two never makes our own file look foreign.
        let written = Written::new(self.bench, ends.to_vec(), &self.path);
        self.home.remember(self.job, &written)?;
        let put = self.sink.append(text).and_then(|()| self.sink.sync());
        if let Err(source) = put {
            self.stopped = self.sink.cut(self.len).is_err();
            return Err(io_error(&self.path, "write the journal")(source));
        }
        let len = self.len + text.len() as u64;
        // A tool that put another file in our place took the lines with it.
        self.check_len(len).inspect_err(|_| self.stopped = true)?;
        self.len = len;
        // From here on nothing but the last line may end the file. Where this cannot be
        // remembered, what was remembered before the write still holds.
        let ends = ends.last().cloned().into_iter().collect();
        let written = Written::new(self.bench, ends, &self.path);
        let _ = self.home.remember(self.job, &written);
        Ok(())
    }

    fn check_len(&self, len: u64) -> Result<(), StoreError> {
        match fs::metadata(&self.path) {
            Ok(facts) if facts.len() == len => Ok(()),
            _ => Err(StoreError::Changed {
                path: self.path.clone(),
            }),
        }
    }

    /// Nothing of the batch was written: every event that was going to be fails alike.
    fn all_failed(
        &self,
        results: Vec<Result<Envelope, StoreError>>,
        error: StoreError,
    ) -> Vec<Result<Envelope, StoreError>> {
        let mut first = Some(error);
        results
            .into_iter()
            .map(|result| {
                result.and_then(|_| Err(first.take().unwrap_or_else(|| self.failed_alike())))
            })
            .collect()
    }

    fn failed_alike(&self) -> StoreError {
        let source = io::Error::other("the entry before it failed");
        io_error(&self.path, "write the journal")(source)
    }
}

/// The line of an event, proved to read back as the same event: numbers that are not finite, for
/// example, do not.
fn line_of(envelope: &Envelope) -> Result<String, String> {
    let line = serde_json::to_string(envelope).map_err(|error| error.to_string())?;
    match serde_json::from_str::<Envelope>(&line) {
        Ok(back) if back == *envelope => Ok(line),
        _ => Err("the entry holds a number that is not finite, or does not read back".to_owned()),
    }
}

/// The next clock: wall time, or one step after the greatest clock where that is ahead.
fn next_clock(greatest: Clock, wall_ms: u64) -> Clock {
    if wall_ms > greatest.ms {
        return Clock { ms: wall_ms, n: 0 };
    }
    match greatest.n.checked_add(1) {
        Some(n) => Clock { ms: greatest.ms, n },
        // At the end of time the clock stands; the order within a bench goes on by `seq`.
        None => match greatest.ms.checked_add(1) {
            Some(ms) => Clock { ms, n: 0 },
            None => greatest,
        },
    }
}

fn wall_ms() -> u64 {
    jiff::Timestamp::now()
        .as_millisecond()
        .try_into()
        .unwrap_or(0)
}

/// Moves what follows the last whole line into `<bench>.torn-<n>` and cuts the file back.
pub(super) fn move_tail_aside(
    path: &Path,
    tail: &[u8],
    whole_len: u64,
) -> Result<PathBuf, StoreError> {
    let mut number = 0;
    let aside = loop {
        let aside = path.with_extension(format!("torn-{number}"));
        if super::files::create_file(&aside, tail)? {
            break aside;
        }
        number += 1;
    };
    File::options()
        .write(true)
        .open(path)
        .and_then(|mut file| file.cut(whole_len))
        .map_err(io_error(path, "cut the torn line off"))?;
    Ok(aside)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn clock_rises_strictly_whatever_the_wall_says(
            ms in 0..u64::MAX - 1, n: u32, wall: u64,
        ) {
            let greatest = Clock { ms, n };
            let next = next_clock(greatest, wall);
            prop_assert!(next > greatest && next.ms >= wall.min(next.ms));
        }
    }

    #[test]
    fn the_end_of_time_does_not_stop_the_record() {
        let end = Clock {
            ms: u64::MAX,
            n: u32::MAX,
        };
        assert_eq!(next_clock(end, 5), end);
    }
}
