//! Full disks, files that vanish, and a kill at any moment.

use std::fs::{self, File};
use std::io::{self, BufRead as _, BufReader};
use std::path::PathBuf;
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use uuid::Uuid;

use crate::record::{Clock, Event, Reading, ReadingMode, Subject};

use super::super::writer::{Sink, Writer};
use super::super::*;
use super::{Bench, note};

/// A file on a disk that can be full: then half of what comes is written.
struct FullDisk {
    file: File,
    full: Arc<AtomicBool>,
    cut_fails: bool,
}

impl Sink for FullDisk {
    fn append(&mut self, bytes: &[u8]) -> io::Result<()> {
        if self.full.load(Ordering::SeqCst) {
            self.file.append(&bytes[..bytes.len() / 2])?;
            return Err(io::ErrorKind::StorageFull.into());
        }
        self.file.append(bytes)
    }

    fn sync(&mut self) -> io::Result<()> {
        self.file.sync()
    }

    fn cut(&mut self, len: u64) -> io::Result<()> {
        if self.cut_fails {
            return Err(io::ErrorKind::Other.into());
        }
        self.file.cut(len)
    }
}

fn writer(bench: &Bench, cut_fails: bool) -> (Writer<FullDisk>, Arc<AtomicBool>) {
    let id = bench.home.bench().unwrap();
    let path = bench.job.journal_folder().join(format!("{id}.jsonl"));
    let file = File::options()
        .create(true)
        .append(true)
        .open(&path)
        .unwrap();
    let full = Arc::new(AtomicBool::new(false));
    let sink = FullDisk {
        file,
        full: Arc::clone(&full),
        cut_fails,
    };
    let writer = Writer {
        sink,
        path,
        home: bench.home.clone(),
        job: bench.job.id(),
        bench: id,
        by: "Ada".to_owned(),
        seq: 0,
        clock: Clock::default(),
        prev: String::new(),
        len: 0,
        stopped: false,
    };
    (writer, full)
}

#[test]
fn a_full_disk_leaves_the_journal_as_it_was() {
    let bench = Bench::new();
    let (mut writer, full) = writer(&bench, false);
    assert!(writer.write(vec![note("a")])[0].is_ok());
    let before = fs::read(&writer.path).unwrap();
    full.store(true, Ordering::SeqCst);
    let results = writer.write(vec![note("b"), note("c")]);
    let error = results[0].as_ref().unwrap_err().to_string();
    assert!(
        error.contains("The disk is full: make room") && error.contains(".jsonl"),
        "{error}"
    );
    assert!(results[1].is_err());
    assert_eq!(fs::read(&writer.path).unwrap(), before);
    full.store(false, Ordering::SeqCst);
    assert_eq!(writer.write(vec![note("d")])[0].as_ref().unwrap().seq, 1);
    assert_eq!(verify(&bench.job).unwrap(), []);
    drop(writer);
    // And the next opening finds its own file.
    let opened = bench.open();
    assert!(opened.notices.is_empty());
    assert_eq!(bench.notes(), ["a", "d"]);
}

#[test]
fn a_write_that_cannot_be_taken_back_stops_the_writer_and_the_next_opening_mends_it() {
    let bench = Bench::new();
    let (mut writer, full) = writer(&bench, true);
    assert!(writer.write(vec![note("a")])[0].is_ok());
    full.store(true, Ordering::SeqCst);
    assert!(writer.write(vec![note("b")])[0].is_err());
    full.store(false, Ordering::SeqCst);
    let stopped = writer.write(vec![note("c")]).remove(0).unwrap_err();
    assert!(matches!(stopped, StoreError::Stopped { .. }));
    drop(writer);
    let opened = bench.open();
    assert!(matches!(
        &opened.notices[..],
        [Notice::TornLineMovedAside { .. }]
    ));
    opened.journal.append(note("d")).unwrap();
    assert_eq!(bench.notes(), ["a", "d"]);
    assert_eq!(verify(&bench.job).unwrap(), []);
}

/// `/dev/full` answers every write as a full disk does.
#[cfg(target_os = "linux")]
#[test]
fn the_systems_own_full_disk_is_named() {
    let Ok(mut full) = File::options().write(true).open("/dev/full") else {
        return;
    };
    let source = full.append(b"line\n").unwrap_err();
    let error = StoreError::Io {
        path: PathBuf::from("/dev/full"),
        action: "write",
        source,
    };
    assert!(error.to_string().contains("The disk is full"), "{error}");
}

#[test]
fn a_file_that_is_taken_away_is_not_written_to_silently() {
    let bench = Bench::new();
    let opened = bench.open();
    opened.journal.append(note("a")).unwrap();
    let path = opened.journal.path().to_owned();
    fs::rename(&path, path.with_extension("away")).unwrap();
    let error = opened.journal.append(note("b")).unwrap_err();
    assert!(matches!(error, StoreError::Changed { .. }), "{error}");
    fs::rename(path.with_extension("away"), &path).unwrap();
    opened.journal.append(note("c")).unwrap();
    assert_eq!(bench.notes(), ["a", "c"]);
}

#[test]
fn what_would_not_read_back_is_refused() {
    let bench = Bench::new();
    let opened = bench.open();
    let measured = |value| {
        let subject = Subject::Rail {
            board: "main".to_owned(),
            rail: "+5 V".to_owned(),
            mode: ReadingMode::Loaded,
        };
        Event::Measured(crate::record::Measurement {
            subject,
            readings: vec![Reading {
                quantity: crate::board::Expect::VoltsDc,
                value,
            }],
            settings: Default::default(),
            note: String::new(),
            replaces: Vec::new(),
        })
    };
    for value in [f64::NAN, f64::INFINITY] {
        let error = opened.journal.append(measured(value)).unwrap_err();
        assert!(matches!(error, StoreError::NotWritable { .. }), "{error}");
    }
    assert_eq!(opened.journal.append(measured(0.1 + 0.2)).unwrap().seq, 0);
    assert_eq!(verify(&bench.job).unwrap(), []);
}

#[test]
fn user_data_that_cannot_be_written_is_named() {
    let bench = Bench::new();
    let file = bench.home.folder().with_file_name("a file");
    fs::write(&file, "x").unwrap();
    let error = Journal::open(&bench.job, &Home::at(&file), "Ada", Wait::No).unwrap_err();
    assert!(error.to_string().contains("a file"), "{error}");
}

#[test]
fn a_damaged_identity_is_made_anew() {
    let bench = Bench::new();
    fs::create_dir_all(bench.home.folder()).unwrap();
    fs::write(bench.home.folder().join("bench.json"), "\"01").unwrap();
    let id = bench.home.bench().unwrap();
    assert_ne!(id, Uuid::nil());
    assert_eq!(bench.home.bench().unwrap(), id);
}

/// Not a test by itself: what [`every_acknowledged_event_survives_a_kill`] starts and kills.
#[test]
#[ignore = "started by another test"]
fn child_that_writes_until_it_is_killed() {
    let Some(job) = std::env::var_os("KILLED_JOB") else {
        return;
    };
    let home = Home::at(std::env::var_os("KILLED_HOME").unwrap());
    let job = Job::open(job.as_ref()).unwrap();
    let opened = Journal::open(&job, &home, "Ada", Wait::Briefly).unwrap();
    let long = "x".repeat(2000);
    for number in 0.. {
        let text = format!("{} {number} {long}", std::process::id());
        let event = opened.journal.append(note(&text)).unwrap();
        // Acknowledged: from here on it may not be lost. Written past the test's own capture.
        use std::io::Write as _;
        writeln!(io::stderr(), "acknowledged {}", event.id).unwrap();
    }
}

#[test]
fn every_acknowledged_event_survives_a_kill() {
    let bench = Bench::new();
    let mut acknowledged = Vec::new();
    for round in 0..12u64 {
        let mut child = Command::new(std::env::current_exe().unwrap())
            .args([
                "--exact",
                "store::tests::durability::child_that_writes_until_it_is_killed",
            ])
            .args(["--ignored", "--nocapture"])
            .env("KILLED_JOB", bench.job.folder())
            .env("KILLED_HOME", bench.home.folder())
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut lines = BufReader::new(child.stderr.take().unwrap()).lines();
        let mut ids = Vec::new();
        let take = |line: io::Result<String>, ids: &mut Vec<String>| {
            if let Some(id) = line.unwrap_or_default().strip_prefix("acknowledged ") {
                // A kill may cut the child's own last message.
                ids.extend((id.len() == 36).then(|| id.to_owned()));
            }
        };
        take(lines.next().unwrap(), &mut ids);
        // Some microseconds to some milliseconds later, in steps that fit no rhythm.
        std::thread::sleep(Duration::from_micros(37 + round * round * 411));
        child.kill().unwrap();
        child.wait().unwrap();
        lines.for_each(|line| take(line, &mut ids));
        assert!(!ids.is_empty());
        acknowledged.append(&mut ids);
    }
    let opened = bench.open();
    for notice in &opened.notices {
        assert!(
            matches!(notice, Notice::TornLineMovedAside { .. }),
            "{notice}"
        );
    }
    // One file throughout: a kill never makes our own file look foreign.
    let (files, _) = super::super::read::journal_files(&bench.job.journal_folder()).unwrap();
    assert_eq!(files.len(), 1);
    let ids: std::collections::BTreeSet<String> = opened
        .readout
        .events
        .iter()
        .map(|event| event.id.to_string())
        .collect();
    for id in &acknowledged {
        assert!(ids.contains(id), "{id} was acknowledged and is lost");
    }
    assert_eq!(verify(&bench.job).unwrap(), []);
}
