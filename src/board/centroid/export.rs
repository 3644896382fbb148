//! Centroid CSV under our own column names.

use super::heading::OURS;
use crate::board::model::{BoardMap, Outline};

/// The parts as CSV with the columns `ref,x_mm,y_mm,side,turn_deg` (RFC 4180, CRLF).
///
/// The place is the body's middle; x is as seen from the component side for both sides. Text
/// that a spreadsheet would run as a formula is prefixed with `'` (OWASP's rule).
///
/// # Errors
/// None that this data can cause; the writer's own are passed on.
pub fn export_centroid(map: &BoardMap) -> Result<String, csv::Error> {
    let mut writer = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(Vec::new());
    writer.write_record(OURS)?;
    for part in &map.parts {
        let centre = part.outline.centre();
        let turn = match part.outline {
            Outline::Rect { turn_deg, .. } => turn_deg,
            _ => 0.0,
        };
        writer.write_record([
            formula_safe(&part.reference),
            fixed(centre.x),
            fixed(centre.y),
            part.side.to_string(),
            fixed(turn),
        ])?;
    }
    let bytes = writer.into_inner().map_err(|e| e.into_error())?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

/// Text that no spreadsheet takes for a formula.
fn formula_safe(text: &str) -> String {
    if text.starts_with(['=', '+', '-', '@', '\t', '\r', '\n']) {
        format!("'{text}")
    } else {
        text.to_owned()
    }
}

/// At most four decimals (0.1 micrometre), no trailing zeros, no negative zero.
fn fixed(value: f64) -> String {
    let text = format!("{value:.4}");
    match text.trim_end_matches('0').trim_end_matches('.') {
        "-0" => "0".to_owned(),
        trimmed => trimmed.to_owned(),
    }
}
