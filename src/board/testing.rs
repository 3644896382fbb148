//! The sample map of docs/board-map.md, shared by the tests of this room.

use std::path::Path;

use proptest::prelude::*;

use super::import::{ImportError, ImportOptions, Imported, QuestionKey};
use super::model::BoardMap;

/// The JSON block of docs/board-map.md.
pub(super) fn sample_json() -> &'static str {
    let page = include_str!("../../docs/board-map.md");
    let (_, rest) = page.split_once("```json\n").unwrap();
    rest.split_once("```").unwrap().0
}

/// That block, parsed.
pub(super) fn sample() -> BoardMap {
    BoardMap::parse(sample_json(), Path::new("docs/board-map.md")).unwrap()
}

/// Text that is nearly a map: the sample with a few bytes changed, cut or doubled.
pub(super) fn mutated(text: &'static str) -> impl Strategy<Value = Vec<u8>> {
    let len = text.len();
    let edit = (0..len, 0..3u8, prop::collection::vec(any::<u8>(), 0..4));
    prop::collection::vec(edit, 1..6).prop_map(move |edits| {
        let mut bytes = text.as_bytes().to_vec();
        for (at, how, new) in edits {
            let at = at.min(bytes.len());
            let end = match how {
                0 => at,
                1 => (at + new.len()).min(bytes.len()),
                _ => (at + 40).min(bytes.len()),
            };
            bytes.splice(at..end, new);
        }
        bytes
    })
}

/// What the tests of the importers are told beside the file: names, and nothing else.
pub(super) fn import_options() -> ImportOptions {
    ImportOptions {
        model: "Fernhollow FH-12".into(),
        board: "main".into(),
        ..ImportOptions::default()
    }
}

/// What an import that cannot go on asks about.
pub(super) fn keys_asked(done: Result<Imported, ImportError>) -> Vec<QuestionKey> {
    match done {
        Err(ImportError::Asks { questions, .. }) => questions.iter().map(|q| q.key).collect(),
        other => panic!("{other:?}"),
    }
}
