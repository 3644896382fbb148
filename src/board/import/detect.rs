//! Which format a file has, by its contents alone: names and extensions lie.

use std::path::Path;

use super::error::ImportError;
use super::options::{MapFormat, Question, QuestionKey};

/// How much of a file is looked at, bytes: headers and the first records of every format lie
/// within the first few kilobytes.
const LOOKED_AT: usize = 64 * 1024;

/// Length of an IPC-D-356 record up to its y coordinate.
const SHORTEST_RECORD: usize = 57;

/// Files that are no source of a map, by their first bytes, with what to do.
const OTHERS: [(&[u8], &str, &str); 8] = [
    (
        b"\xff\xd8\xff",
        "a JPEG picture",
        "add photos to a job: benchglass add JOB PHOTO",
    ),
    (
        b"\x89PNG",
        "a PNG picture",
        "add photos to a job: benchglass add JOB PHOTO",
    ),
    (b"%PDF", "a PDF", "import the data that it was drawn from"),
    (
        b"PK\x03\x04",
        "a zip archive",
        "unpack it and import the files in it",
    ),
    (b"\x1f\x8b", "a compressed file", "unpack it first"),
    (
        b"M48",
        "a drill file without attributes",
        "import the copper files; drill files in Gerber form may be given with them",
    ),
    (
        b"{",
        "JSON, perhaps a board map already",
        "check it with benchglass map check",
    ),
    (
        b"<",
        "XML, which is not read",
        "export IPC-D-356, Gerber with X2 attributes, or centroid CSV",
    ),
];

pub(super) fn detect(bytes: &[u8], name: &Path) -> Result<MapFormat, ImportError> {
    let unfit = |what: &str, remedy: &str| ImportError::Unfit {
        path: name.to_path_buf(),
        reason: format!("this is {what}"),
        remedy: remedy.to_owned(),
    };
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let head = &bytes[..bytes.len().min(LOOKED_AT)];
    let head = head.trim_ascii_start();
    if head.is_empty() {
        return Err(unfit("an empty file", "is it the right file?"));
    }
    for (start, what, remedy) in OTHERS {
        if head.starts_with(start) {
            return Err(unfit(what, remedy));
        }
    }
    match (is_gerber(head), is_ipc356(head)) {
        (true, false) => Ok(MapFormat::Gerber),
        (false, true) => Ok(MapFormat::Ipc356),
        (false, false) => Ok(MapFormat::Centroid),
        (true, true) => Err(ImportError::Asks {
            path: name.to_path_buf(),
            questions: vec![Question::new(
                QuestionKey::Format,
                "The file has lines of two formats. Which is it?",
                &[
                    ("ipc-d-356", "a list of lands and nets"),
                    ("gerber", "a layer with X2 or X3 attributes"),
                ],
            )],
        }),
    }
}

/// Gerber says its format or its attributes in `%...*%` blocks, or opens with a `G04` comment.
fn is_gerber(head: &[u8]) -> bool {
    head.starts_with(b"G04")
        || lines(head).any(|line| {
            [&b"%FS"[..], b"%MO", b"%TF", b"%TO", b"%ADD", b"%AM"]
                .iter()
                .any(|start| line.starts_with(start))
        })
}

/// IPC-D-356 has `P` lines with known words and 80-column records.
fn is_ipc356(head: &[u8]) -> bool {
    lines(head).any(|line| {
        let parameter = line.strip_prefix(b"P ").map(<[u8]>::trim_ascii_start);
        let known = parameter.is_some_and(|rest| {
            [
                "JOB", "CODE", "UNITS", "TITLE", "NUM", "REV", "VER", "NNAME",
            ]
            .iter()
            .any(|word| rest.starts_with(word.as_bytes()))
        });
        known || is_record(line)
    })
}

fn is_record(line: &[u8]) -> bool {
    line.len() >= SHORTEST_RECORD
        && [b"317", b"327", b"367"]
            .iter()
            .any(|op| line.starts_with(*op))
        && line[26] == b'-'
        && line[41] == b'X'
        && line[49] == b'Y'
}

fn lines(head: &[u8]) -> impl Iterator<Item = &[u8]> {
    head.split(|b| matches!(b, b'\n' | b'\r'))
}
