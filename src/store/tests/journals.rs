//! Several benches, conflict copies, torn tails, locks.

use std::fs;

use proptest::prelude::*;

use crate::record::{Clock, Envelope, Event, Stage, gate};

use super::super::*;
use super::{Bench, note, write};

#[test]
fn events_come_back_as_they_were_acknowledged() {
    let bench = Bench::new();
    let opened = bench.open();
    assert!(opened.notices.is_empty());
    let written: Vec<Envelope> = (0..5)
        .map(|i| opened.journal.append(note(&i.to_string())).unwrap())
        .collect();
    assert_eq!(bench.job.read().unwrap().events, written);
    let seqs: Vec<u64> = written.iter().map(|event| event.seq).collect();
    assert_eq!(seqs, [0, 1, 2, 3, 4]);
    assert!(written.windows(2).all(|pair| pair[0].clock < pair[1].clock));
    assert!(written[0].prev.is_empty() && written[1].prev.len() == 64);
    assert!(
        written[0].at.parse::<jiff::Timestamp>().is_ok(),
        "{}",
        written[0].at
    );
    drop(opened);
    let opened = bench.open();
    assert!(opened.notices.is_empty());
    assert_eq!(opened.readout.events.len(), 5);
    let next = opened.journal.append(note("next")).unwrap();
    assert_eq!((next.seq, next.bench), (5, written[0].bench));
    assert_eq!(verify(&bench.job).unwrap(), []);
}

#[test]
fn waiting_events_are_counted_and_written_in_order_even_when_dropped() {
    let bench = Bench::new();
    let opened = bench.open();
    let texts: Vec<String> = (0..500).map(|i| format!("{i:03}")).collect();
    let mut last = None;
    for text in &texts {
        last = Some(opened.journal.append_async(note(text)));
    }
    assert_eq!(last.unwrap().wait().unwrap().seq, 499);
    assert_eq!(opened.journal.pending_count(), 0);
    let mut pending = opened.journal.append_async(note("last"));
    drop(opened);
    assert!(matches!(pending.poll(), Some(Ok(_))));
    assert_eq!(bench.notes().len(), 501);
    assert_eq!(bench.notes()[..500], texts);
}

#[test]
fn a_second_writer_is_told_and_a_reader_is_not_kept_out() {
    let bench = Bench::new();
    let opened = bench.open();
    let second = Journal::open(&bench.job, &bench.home, "Ada", Wait::No).unwrap_err();
    assert!(matches!(second, StoreError::Busy { .. }));
    assert!(
        second
            .to_string()
            .contains("is writing to this job. Read it meanwhile")
    );
    assert!(bench.job.read().is_ok());
    let job = bench.job.clone();
    let home = bench.home.clone();
    let waiting = std::thread::Builder::new()
        .spawn(move || Journal::open(&job, &home, "Ada", Wait::Briefly).map(|_| ()))
        .unwrap();
    std::thread::sleep(std::time::Duration::from_millis(100));
    drop(opened);
    assert!(waiting.join().unwrap().is_ok());
}

#[test]
fn benches_write_side_by_side_and_later_sorts_later() {
    let bench = Bench::new();
    let other = bench.other_home();
    bench.write(&["a"]);
    write(&bench.job, &other, &["b"]);
    bench.write(&["c"]);
    assert_eq!(bench.notes(), ["a", "b", "c"]);
    assert_eq!(fs::read_dir(bench.job.journal_folder()).unwrap().count(), 2);
    // What was read meanwhile comes before what is written next, even from a clock far ahead.
    let opened = bench.open();
    opened.journal.observe(Clock {
        ms: 9_000_000_000_000,
        n: 7,
    });
    let event = opened.journal.append(note("d")).unwrap();
    assert_eq!(
        event.clock,
        Clock {
            ms: 9_000_000_000_000,
            n: 8
        }
    );
}

#[test]
fn conflict_copies_are_read_and_count_once() {
    let bench = Bench::new();
    let path = bench.write(&["a", "b"]);
    let folder = bench.job.journal_folder();
    fs::copy(&path, folder.join("x (conflicted copy, 2026-03-02).jsonl")).unwrap();
    assert_eq!(bench.notes(), ["a", "b"]);
    fs::write(folder.join("x.torn-0"), "not a journal").unwrap();
    assert_eq!(bench.notes(), ["a", "b"]);
    assert_eq!(verify(&bench.job).unwrap(), []);
}

#[test]
fn a_torn_line_of_our_own_is_moved_aside_and_said() {
    let bench = Bench::new();
    let path = bench.write(&["a", "b"]);
    let mut bytes = fs::read(&path).unwrap();
    bytes.extend_from_slice(b"{\"id\":\"01");
    fs::write(&path, bytes).unwrap();
    let opened = bench.open();
    let [Notice::TornLineMovedAside { path: aside }] = &opened.notices[..] else {
        panic!("{:?}", opened.notices);
    };
    assert_eq!(fs::read(aside).unwrap(), b"{\"id\":\"01");
    assert!(aside.to_string_lossy().ends_with(".torn-0"));
    assert_eq!(opened.journal.append(note("c")).unwrap().seq, 2);
    assert_eq!(bench.notes(), ["a", "b", "c"]);
    assert_eq!(verify(&bench.job).unwrap(), []);
}

#[test]
fn a_torn_line_of_another_bench_is_left_alone() {
    let bench = Bench::new();
    let path = write(&bench.job, &bench.other_home(), &["a", "b"]);
    let bytes = fs::read(&path).unwrap();
    fs::write(&path, &bytes[..bytes.len() - 5]).unwrap();
    let opened = bench.open();
    assert!(opened.notices.is_empty());
    assert_eq!(opened.readout.problems.len(), 1);
    assert_eq!(opened.readout.problems[0].kind, ProblemKind::TornTail);
    opened.journal.append(note("c")).unwrap();
    assert_eq!(bench.notes(), ["a", "c"]);
    assert_eq!(fs::read(&path).unwrap().len(), bytes.len() - 5);
    // The rest arrives.
    fs::write(&path, bytes).unwrap();
    assert_eq!(bench.notes(), ["a", "b", "c"]);
}

#[test]
fn a_broken_line_is_named_and_shuts_the_gate() {
    let bench = Bench::new();
    let path = bench.write(&["a", "b", "c"]);
    let text = fs::read_to_string(&path)
        .unwrap()
        .replacen("{\"id\"", "{\"i", 2);
    fs::write(&path, text.replacen("{\"i", "{\"id\"", 1)).unwrap();
    let readout = bench.job.read().unwrap();
    assert_eq!(readout.problems.len(), 1);
    assert_eq!(
        (readout.problems[0].line, &readout.problems[0].path),
        (Some(2), &path)
    );
    let state = readout.fold(None);
    assert_eq!(state.unreadable_lines, 1);
    let verdict = gate(&state, &[], Stage::Cold);
    assert!(
        verdict
            .reasons
            .iter()
            .any(|held| held.to_string().contains("cannot be read"))
    );
    fs::create_dir(bench.job.journal_folder().join("folder.jsonl")).unwrap();
    assert_eq!(bench.job.read().unwrap().fold(None).unreadable_lines, 2);
}

#[test]
fn a_file_that_is_not_what_we_last_wrote_is_left_and_a_new_one_started() {
    let bench = Bench::new();
    let path = bench.write(&["a"]);
    let backup = fs::read(&path).unwrap();
    bench.write(&["b"]);
    // A restored backup lacks the last entry.
    fs::write(&path, &backup).unwrap();
    let opened = bench.open();
    let new = opened.journal.path().to_owned();
    assert_eq!(
        opened.notices,
        [Notice::NewFile {
            old: path.clone(),
            new: new.clone()
        }]
    );
    assert_eq!(opened.journal.append(note("c")).unwrap().seq, 0);
    assert_eq!(fs::read(&path).unwrap(), backup);
    drop(opened);
    // The new file goes on from now on.
    assert_eq!(bench.write(&["d"]), new);
    assert_eq!(bench.notes(), ["a", "c", "d"]);
    // So does a file that is gone altogether.
    fs::remove_file(&new).unwrap();
    let opened = bench.open();
    assert!(matches!(&opened.notices[..], [Notice::NewFile { .. }]));
    assert_eq!(verify(&bench.job).unwrap(), []);
}

#[test]
fn a_cloned_machine_starts_a_file_of_its_own() {
    let bench = Bench::new();
    let path = bench.write(&["a"]);
    // The clone has the same user data up to here.
    let clone = bench.other_home();
    for name in ["bench.json", "jobs"] {
        let (from, to) = (bench.home.folder().join(name), clone.folder().join(name));
        if from.is_dir() {
            fs::create_dir_all(&to).unwrap();
            for entry in fs::read_dir(from).unwrap().flatten() {
                fs::copy(entry.path(), to.join(entry.file_name())).unwrap();
            }
        } else {
            fs::create_dir_all(clone.folder()).unwrap();
            fs::copy(from, to).unwrap();
        }
    }
    bench.write(&["b"]);
    assert_ne!(write(&bench.job, &clone, &["c"]), path);
    assert_eq!(bench.notes(), ["a", "b", "c"]);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// Wherever another bench's file ends while it is syncing, its whole lines are read.
    #[test]
    fn torn_tails_lose_nothing_but_the_torn_line(cut in any::<prop::sample::Index>()) {
        let bench = Bench::new();
        let path = bench.write(&["a", "bb", "ccc", "d\u{fc}"]);
        let whole = fs::read(&path).unwrap();
        let cut = cut.index(whole.len() + 1);
        fs::write(&path, &whole[..cut]).unwrap();
        let lines = whole[..cut].iter().filter(|byte| **byte == b'\n').count();
        let readout = bench.job.read().unwrap();
        prop_assert_eq!(readout.events.len(), lines);
        let torn = cut > 0 && whole[cut - 1] != b'\n';
        prop_assert_eq!(readout.problems.len(), usize::from(torn));
        // Our own file: what is whole stays, whatever is done next.
        let opened = bench.open();
        opened.journal.append(note("after")).unwrap();
        prop_assert_eq!(bench.notes().len(), lines + 1);
        let kept = fs::read(&path).unwrap();
        prop_assert!(kept.starts_with(&whole[..cut]));
    }

    /// No bytes in a journal file make reading fail or panic.
    #[test]
    fn any_bytes_are_read(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        let bench = Bench::new();
        fs::write(bench.job.journal_folder().join("x.jsonl"), &bytes).unwrap();
        let readout = bench.job.read().unwrap();
        prop_assert_eq!(readout.events.len(), 0);
        prop_assert_eq!(readout.problems.is_empty(), bytes.is_empty());
        verify(&bench.job).unwrap();
    }
}

#[test]
fn events_of_a_newer_version_are_kept() {
    let bench = Bench::new();
    let path = write(&bench.job, &bench.other_home(), &["a"]);
    let text = fs::read_to_string(&path).unwrap();
    let newer = text.replace("\"kind\":\"noted\"", "\"kind\":\"sung\"");
    fs::write(&path, &newer).unwrap();
    let readout = bench.job.read().unwrap();
    assert!(readout.problems.is_empty());
    let Event::Unknown(value) = &readout.events[0].what else {
        panic!("{:?}", readout.events[0]);
    };
    assert_eq!(value["kind"], "sung");
    assert_eq!(
        serde_json::to_string(&readout.events[0]).unwrap() + "\n",
        newer
    );
}
