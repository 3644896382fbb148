//! What the files of a job look like from outside.

use std::fs;

use super::super::*;
use super::{Bench, note, write};

#[test]
fn a_stamp_changes_with_what_others_write_and_not_with_the_own_file() {
    let bench = Bench::new();
    let opened = bench.open();
    let own = opened.journal.path().to_owned();
    let stamp = || bench.job.stamp(&[]).unwrap().but_for(Some(&own));
    let first = stamp();
    assert_eq!(stamp(), first);
    opened.journal.append(note("mine")).unwrap();
    assert_eq!(stamp(), first, "the own file is left aside");
    assert_ne!(
        bench.job.stamp(&[]).unwrap(),
        first,
        "unless it is asked for"
    );

    let other = write(&bench.job, &bench.other_home(), &["theirs"]);
    let second = stamp();
    assert_ne!(second, first, "a new file");
    write(&bench.job, &bench.other_home(), &["more"]);
    let third = stamp();
    assert_ne!(third, second, "a longer file");
    // What is read as no journal does not count.
    fs::write(bench.job.journal_folder().join("x.torn-0"), "half").unwrap();
    assert_eq!(stamp(), third);
    fs::remove_file(other).unwrap();
    assert_eq!(stamp(), first, "it is gone again");
}

#[test]
fn a_stamp_tells_when_what_is_awaited_arrives_and_when_the_folder_is_gone() {
    let bench = Bench::new();
    let awaited = [bench.job.map_path(&sha256_hex(b"{}")).unwrap()];
    let before = bench.job.stamp(&awaited).unwrap();
    assert_eq!(bench.job.stamp(&awaited).unwrap(), before);
    bench.job.store_map(b"{}").unwrap();
    assert_ne!(bench.job.stamp(&awaited).unwrap(), before);

    fs::remove_dir_all(bench.job.folder()).unwrap();
    let error = bench.job.stamp(&[]).unwrap_err();
    assert!(matches!(error, StoreError::Io { .. }), "{error}");
    let words = error.to_string();
    assert!(
        words.contains("journal") && words.contains("connected"),
        "{words}"
    );
}
