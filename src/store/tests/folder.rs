//! Job folder, photos, maps, verification.

use std::fs;

use crate::record::{Event, PhotoFacts};

use super::super::*;
use super::{Bench, note};

#[test]
fn a_job_is_made_once_and_opened_again() {
    let bench = Bench::new();
    let again = Job::open(bench.job.folder()).unwrap();
    assert_eq!(again, bench.job);
    for folder in ["photos", "maps", "journal", "exports", "cache"] {
        assert!(bench.job.folder().join(folder).is_dir());
    }
    let error = Job::create(bench.job.folder()).unwrap_err();
    assert!(matches!(error, StoreError::JobExists { .. }));
}

#[test]
fn what_is_no_job_says_so_and_says_what_to_do() {
    let folder = tempfile::tempdir().unwrap();
    let error = Job::open(folder.path()).unwrap_err();
    assert!(matches!(error, StoreError::NotAJob { .. }));
    assert!(error.to_string().contains("not a job folder") && error.to_string().contains("start"));
    let missing = Job::open(&folder.path().join("nowhere"))
        .unwrap_err()
        .to_string();
    assert!(
        missing.contains("nowhere") && missing.contains("Check the path"),
        "{missing}"
    );
    let file = folder.path().join("file");
    fs::write(&file, "x").unwrap();
    assert!(Job::create(&file).is_err() && Job::open(&file).is_err());
    fs::write(folder.path().join("job.json"), "{\"format\":").unwrap();
    let error = Job::open(folder.path()).unwrap_err();
    assert!(matches!(error, StoreError::BadJobFile { .. }), "{error}");
}

#[test]
fn a_newer_format_is_read_and_not_written() {
    let bench = Bench::new();
    bench.write(&["one"]);
    let path = bench.job.folder().join("job.json");
    let newer = fs::read_to_string(&path)
        .unwrap()
        .replace("\"format\":1", "\"format\":2");
    fs::write(&path, newer).unwrap();
    let job = Job::open(bench.job.folder()).unwrap();
    assert_eq!(job.read().unwrap().events.len(), 1);
    let refusals = [
        Journal::open(&job, &bench.home, "Ada", Wait::No)
            .map(|_| ())
            .unwrap_err(),
        job.import_photo(b"x", "x.jpg").map(|_| ()).unwrap_err(),
        job.store_map(b"{}").map(|_| ()).unwrap_err(),
    ];
    for refusal in refusals {
        assert!(matches!(
            refusal,
            StoreError::NewerFormat {
                format: 2,
                ours: 1,
                ..
            }
        ));
    }
}

#[test]
fn originals_are_copied_once_and_never_rewritten() {
    let bench = Bench::new();
    let job = &bench.job;
    let first = job.import_photo(b"first", "../a/IMG 1.jpg").unwrap();
    assert_eq!(first.file, format!("{}-IMG 1.jpg", &first.photo[..8]));
    assert!(!first.known);
    // Another name for the same original is the same photo.
    let again = job.import_photo(b"first", "other.jpg").unwrap();
    assert_eq!((again.known, &again.file), (true, &first.file));
    let second = job.import_photo(b"second", "IMG 1.jpg").unwrap();
    assert_ne!(second.file, first.file);
    // A file that was altered keeps its contents; the import finds another name.
    let path = job.folder().join("photos").join(&first.file);
    fs::write(&path, "altered").unwrap();
    let beside = job.import_photo(b"first", "IMG 1.jpg").unwrap();
    assert!(!beside.known && beside.file != first.file);
    assert_eq!(fs::read(&path).unwrap(), b"altered");
    let stored = fs::read(job.folder().join("photos").join(&beside.file)).unwrap();
    assert_eq!(stored, b"first");
    let leftovers = fs::read_dir(job.folder().join("photos")).unwrap().count();
    assert_eq!(leftovers, 3);
}

#[test]
fn maps_are_kept_under_their_hash() {
    let bench = Bench::new();
    let sha256 = bench.job.store_map(b"{}").unwrap();
    assert_eq!(bench.job.store_map(b"{}").unwrap(), sha256);
    assert_eq!(bench.job.map_bytes(&sha256).unwrap(), b"{}");
    fs::write(bench.job.map_path(&sha256).unwrap(), "[]").unwrap();
    assert!(matches!(
        bench.job.map_bytes(&sha256),
        Err(StoreError::Altered { .. })
    ));
    assert!(matches!(
        bench.job.store_map(b"{}"),
        Err(StoreError::NotRewritten { .. })
    ));
    for hostile in ["../job", "", "AA"] {
        assert!(matches!(
            bench.job.map_path(hostile),
            Err(StoreError::BadName { .. })
        ));
    }
}

fn facts(photo: &str, file: &str) -> PhotoFacts {
    PhotoFacts {
        photo: photo.to_owned(),
        file: file.to_owned(),
        name: file.to_owned(),
        size: [1, 1],
        taken: None,
        taken_offset: None,
        camera: None,
        focal_mm: None,
        orientation: None,
        view: None,
    }
}

#[test]
fn verify_finds_what_was_changed() {
    let bench = Bench::new();
    let photo = bench.job.import_photo(b"photo", "a.jpg").unwrap();
    let map = bench.job.store_map(b"{}").unwrap();
    let opened = bench.open();
    let added = Event::PhotoAdded(facts(&photo.photo, &photo.file));
    opened.journal.append(added).unwrap();
    let adopted = |sha256: &str| Event::MapAdopted {
        board: "main".to_owned(),
        sha256: sha256.to_owned(),
        moved: false,
        replaces: Vec::new(),
    };
    opened.journal.append(adopted(&map)).unwrap();
    opened.journal.append(note("one")).unwrap();
    opened.journal.append(note("two")).unwrap();
    assert_eq!(verify(&bench.job).unwrap(), []);
    let kinds = || {
        let mut kinds: Vec<_> = verify(&bench.job).unwrap().iter().map(|p| p.kind).collect();
        kinds.sort_unstable();
        kinds
    };
    let photo_path = bench.job.folder().join("photos").join(&photo.file);
    fs::write(&photo_path, "other").unwrap();
    assert_eq!(kinds(), [ProblemKind::Altered]);
    fs::write(&photo_path, "photo").unwrap();
    fs::remove_file(bench.job.map_path(&map).unwrap()).unwrap();
    assert_eq!(kinds(), [ProblemKind::Missing]);
    bench.job.store_map(b"{}").unwrap();

    let path = opened.journal.path().to_owned();
    let whole = fs::read_to_string(&path).unwrap();
    fs::write(&path, whole.replace("\"one\"", "\"uno\"")).unwrap();
    let problems = verify(&bench.job).unwrap();
    assert_eq!(problems.len(), 1);
    assert_eq!(
        (problems[0].kind, problems[0].line),
        (ProblemKind::BrokenChain, Some(4))
    );
    assert_eq!(problems[0].path, path);
    let without_third: String = whole
        .split_inclusive('\n')
        .enumerate()
        .filter_map(|(index, line)| (index != 2).then_some(line))
        .collect();
    fs::write(&path, without_third).unwrap();
    assert_eq!(kinds(), [ProblemKind::BrokenChain]);
    // Another line end is no change of the record.
    fs::write(&path, whole.replace('\n', "\r\n")).unwrap();
    assert_eq!(kinds(), []);
    fs::write(&path, &whole).unwrap();

    // A record that points out of its folder is not followed.
    drop(opened);
    let opened = bench.open();
    opened
        .journal
        .append(Event::PhotoAdded(facts("00", "../../etc/passwd")))
        .unwrap();
    opened.journal.append(adopted("../job")).unwrap();
    assert_eq!(kinds(), [ProblemKind::BadName, ProblemKind::BadName]);
}

#[test]
fn a_file_is_replaced_whole() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("slip.html");
    replace_file(&path, b"old").unwrap();
    replace_file(&path, b"new").unwrap();
    assert_eq!(fs::read(&path).unwrap(), b"new");
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    let nowhere = folder.path().join("nowhere").join("slip.html");
    let error = replace_file(&nowhere, b"x").unwrap_err().to_string();
    assert!(
        error.contains("nowhere") && error.contains("Check the path"),
        "{error}"
    );
}
