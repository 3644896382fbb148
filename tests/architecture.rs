//! The rooms and the arrows between them: the table in DEVELOPERS.md, checked against the code.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// What each room may use, beside the ground floor, which is open to all.
const MAY_USE: &[(&str, &[&str])] = &[
    ("geometry", &[]),
    ("stats", &[]),
    ("progress", &[]),
    ("wide", &[]),
    ("board", &[]),
    ("photo", &[]),
    ("register", &[]),
    ("record", &["board"]),
    ("align", &["register", "board", "photo"]),
    ("joint", &["register", "photo"]),
    ("compare", &["register", "photo"]),
    ("store", &["record", "board"]),
    ("paper", &["record", "board", "photo"]),
    ("render", &["board", "photo"]),
    (
        "work",
        &[
            "store", "paper", "render", "record", "align", "joint", "compare", "board", "photo",
            "register",
        ],
    ),
    (
        "cli",
        &[
            "desk", "work", "store", "paper", "render", "record", "align", "joint", "compare",
            "board", "photo", "register",
        ],
    ),
    (
        "desk",
        &[
            "work", "store", "paper", "render", "record", "align", "joint", "compare", "board",
            "photo", "register",
        ],
    ),
];

const GROUND: &[&str] = &["geometry", "stats", "progress", "wide"];
const FACES: &[&str] = &["cli", "desk"];

fn src() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("src")
}

fn rust_files(dir: &Path) -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> = walkdir::WalkDir::new(dir)
        .into_iter()
        .map(|entry| entry.expect("src is readable").into_path())
        .filter(|path| path.extension().is_some_and(|e| e == "rs"))
        .collect();
    files.sort();
    files
}

/// The code of a file without comments and doc comments (strings may stay).
fn code(path: &Path) -> String {
    std::fs::read_to_string(path)
        .expect("a source file is UTF-8")
        .lines()
        .map(|line| line.split("//").next().unwrap_or(""))
        .collect::<Vec<_>>()
        .join("\n")
}

/// Every room named behind `crate::` in this code, grouped imports included.
fn rooms_used(code: &str) -> BTreeSet<String> {
    let rooms: BTreeSet<&str> = MAY_USE.iter().map(|(room, _)| *room).collect();
    let mut used = BTreeSet::new();
    for (at, _) in code.match_indices("crate::") {
        let rest = &code[at + "crate::".len()..];
        let names: Vec<String> = if let Some(group) = rest.strip_prefix('{') {
            let mut depth = 1;
            let mut top = String::new();
            for c in group.chars() {
                match c {
                    '{' => depth += 1,
                    '}' => depth -= 1,
                    _ => {}
                }
                if depth == 0 {
                    break;
                }
                if depth == 1 {
                    top.push(c);
                }
            }
            top.split(',').map(|s| s.trim().to_owned()).collect()
        } else {
            vec![rest.to_owned()]
        };
        for name in names {
            let first: String = name
                .chars()
                .take_while(|c| c.is_alphanumeric() || *c == '_')
                .collect();
            if rooms.contains(first.as_str()) {
                used.insert(first);
            }
        }
    }
    used
}

#[test]
fn arrows_only_point_where_the_table_says() {
    let table: BTreeMap<&str, &[&str]> = MAY_USE.iter().copied().collect();
    let mut wrong = Vec::new();
    for (room, allowed) in &table {
        let files = rust_files(&src().join(room));
        assert!(
            !files.is_empty(),
            "room {room} has no files: mend the table"
        );
        for file in files {
            for used in rooms_used(&code(&file)) {
                let fine = used == *room
                    || GROUND.contains(&used.as_str())
                    || allowed.contains(&used.as_str());
                if !fine {
                    wrong.push(format!("{} uses {used}", file.display()));
                }
            }
        }
    }
    assert!(
        wrong.is_empty(),
        "arrows that are not in the table:\n{}",
        wrong.join("\n")
    );
}

#[test]
fn every_folder_of_src_is_a_room_of_the_table() {
    let table: BTreeSet<&str> = MAY_USE.iter().map(|(room, _)| *room).collect();
    for entry in std::fs::read_dir(src()).expect("src is readable") {
        let entry = entry.expect("src is readable");
        if entry.path().is_dir() {
            let name = entry.file_name().into_string().expect("plain name");
            assert!(table.contains(name.as_str()), "{name} is not in the table");
        }
    }
}

#[test]
fn window_printing_and_untyped_errors_live_in_the_faces() {
    let mut wrong = Vec::new();
    for (room, _) in MAY_USE {
        for file in rust_files(&src().join(room)) {
            let code = code(&file);
            let mut forbid = |word: &str, only: &[&str]| {
                // `Reframe` is no `eframe`: the word has to begin there.
                let begins = |(at, _): (usize, &str)| {
                    !code[..at].ends_with(|before: char| before.is_alphanumeric())
                };
                let held = code.match_indices(word).any(begins);
                if held && !only.contains(room) {
                    wrong.push(format!("{} holds `{word}`", file.display()));
                }
            };
            forbid("egui", &["desk"]);
            forbid("eframe", &["desk"]);
            forbid("anyhow::", FACES);
            forbid("clap::", &["cli"]);
            forbid("println!", &["cli"]);
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn the_record_knows_no_files_and_no_clock() {
    for file in rust_files(&src().join("record")) {
        let code = code(&file);
        for word in [
            "std::fs",
            "std::io",
            "SystemTime",
            "Instant::now",
            "Zoned::now",
            "Timestamp::now",
        ] {
            assert!(!code.contains(word), "{} holds `{word}`", file.display());
        }
    }
}

#[test]
fn the_check_itself_sees_a_forbidden_arrow() {
    let used =
        rooms_used("use crate::{board::{Side, Pin}, store::Job};\nlet x = crate::joint::hint();");
    let expected: BTreeSet<String> = ["board", "store", "joint"].map(String::from).into();
    assert_eq!(used, expected);
}
