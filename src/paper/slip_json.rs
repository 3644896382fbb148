//! The slip as JSON: the view itself, without the pictures' bytes. `schema` is 1; fields are only
//! ever added within one version.

use super::error::PaperError;
use super::view::SlipView;

/// Writes the slip as JSON, indented, with a line break at the end.
///
/// # Errors
/// [`PaperError::Json`] where the writer fails.
pub fn slip_json(view: &SlipView) -> Result<String, PaperError> {
    let mut text =
        serde_json::to_string_pretty(view).map_err(|cause| PaperError::Json { cause })?;
    text.push('\n');
    Ok(text)
}

/// JSON Schema (2020-12) of the slip's JSON.
#[must_use]
pub fn slip_json_schema() -> serde_json::Value {
    schemars::generate::SchemaSettings::draft2020_12()
        .for_serialize()
        .into_generator()
        .into_root_schema_for::<SlipView>()
        .to_value()
}
