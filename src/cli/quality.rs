//! `quality`: where a photo can be judged and where it cannot, cell by cell.

use serde::Serialize;

use crate::photo::RegionQuality;
use crate::work::{WorkError, quality_map};

use super::args::QualityArgs;
use super::exit::Ending;
use super::{Context, out};

/// What `--json` prints.
#[derive(Debug, Serialize)]
struct Answer {
    schema: u32,
    photo: String,
    size: [u32; 2],
    columns: u32,
    rows: u32,
    /// Row by row from the top left.
    cells: Vec<Cell>,
}

#[derive(Debug, Serialize)]
struct Cell {
    /// False where something stands in the way; true says nothing about what the photo shows.
    can_be_judged: bool,
    #[serde(flatten)]
    measured: RegionQuality,
}

/// Version of the layout.
const SCHEMA: u32 = 1;

pub(super) fn quality(context: &Context, args: &QualityArgs) -> Result<Ending, WorkError> {
    let map = quality_map(&args.photo, args.columns, args.px_per_mm)?;
    if context.json {
        out::json(&Answer {
            schema: SCHEMA,
            photo: args.photo.display().to_string(),
            size: map.size,
            columns: map.columns,
            rows: map.rows,
            cells: map
                .cells
                .into_iter()
                .map(|measured| Cell {
                    can_be_judged: measured.advice.is_none(),
                    measured,
                })
                .collect(),
        });
        return Ok(Ending::Done);
    }
    let can = map.cells.iter().filter(|c| c.advice.is_none()).count();
    out::line(&format!(
        "{can} of {} parts of the photo can be judged ('.'); the others ('x') cannot:",
        map.cells.len()
    ));
    for row in map.cells.chunks(map.columns.max(1) as usize) {
        let marks: String = row
            .iter()
            .map(|c| if c.advice.is_none() { " ." } else { " x" })
            .collect();
        out::line(&format!(" {marks}"));
    }
    let mut said: Vec<(&str, usize)> = Vec::new();
    for advice in map.cells.iter().filter_map(|c| c.advice.as_deref()) {
        let kind = advice.split(['(', ':']).next().unwrap_or(advice);
        match said.iter_mut().find(|(text, _)| text.starts_with(kind)) {
            Some((_, count)) => *count += 1,
            None => said.push((advice, 1)),
        }
    }
    said.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
    for (advice, count) in said.iter().take(5) {
        out::line(&format!("  {count} parts, for example: {advice}"));
    }
    Ok(Ending::Done)
}
