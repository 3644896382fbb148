//! The sample map of docs/board-map.md, shared by the tests of this room.

use std::path::Path;

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
