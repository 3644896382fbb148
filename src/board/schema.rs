//! The JSON Schema of the board map, made from the model and published in docs/.

use super::model::BoardMap;

/// The JSON Schema (2020-12) of a board map, as docs/board-map.schema.json has it.
#[must_use]
pub fn map_schema() -> String {
    let schema = schemars::schema_for!(BoardMap);
    let mut text = serde_json::to_string_pretty(&schema).unwrap_or_default();
    text.push('\n');
    text
}
