//! `map make`: a board map by a file of edits.

use std::path::{Path, PathBuf};

use serde::Serialize;

use crate::board::{Finding, has_errors};
use crate::work::{WorkError, check_map_names, check_output, make_map, same_file, write_map};

use super::exit::Ending;
use super::{Context, out};

#[derive(Serialize)]
struct Made<'a> {
    schema: u32,
    map: String,
    parts: usize,
    pins: usize,
    steps: &'a [String],
    findings: &'a [Finding],
}

pub(super) fn make(
    context: &Context,
    edits: &Path,
    target: &Path,
    from: Option<PathBuf>,
    names: (&str, &str),
    replace: bool,
) -> Result<Ending, WorkError> {
    check_map_names(names.0, names.1)?;
    check_output(target, &[edits], &["json"])?;
    let made = make_map(edits, from.as_deref(), names.0, names.1)?;
    // What `--from` names is changed on purpose; any other map stays.
    let own = from.as_deref().is_some_and(|from| same_file(from, target));
    write_map(target, &made.file.text, replace || own)?;
    let map = &made.file.map;
    let pins = map.parts.iter().map(|part| part.pins.len()).sum();
    if context.json {
        out::json(&Made {
            schema: 1,
            map: target.display().to_string(),
            parts: map.parts.len(),
            pins,
            steps: &made.steps,
            findings: &made.findings,
        });
    } else {
        for step in &made.steps {
            out::entry(step);
        }
        for finding in &made.findings {
            out::entry(&format!("  Mind: {finding}"));
        }
        let (parts, pins) = (out::many(map.parts.len(), "part"), out::many(pins, "pin"));
        out::entry(&format!("{}: {parts}, {pins}", target.display()));
    }
    Ok(if has_errors(&made.findings) {
        Ending::NotPassed
    } else {
        Ending::Done
    })
}
