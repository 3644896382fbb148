//! `slip`: the rework slip as a page, a table and a data file.

use serde::Serialize;

use crate::work::{WorkError, write_slip};

use super::args::SlipArgs;
use super::exit::Ending;
use super::{Context, out};

#[derive(Serialize)]
struct Written {
    schema: u32,
    lines: usize,
    files: Vec<String>,
}

pub(super) fn slip(context: &Context, args: &SlipArgs) -> Result<Ending, WorkError> {
    let session = super::gate::read_aloud(&args.job)?;
    let written = out::with_progress("cutting pictures", |progress| {
        write_slip(&session, args.out.as_deref(), progress)
    })?;
    let files: Vec<String> = written
        .files
        .iter()
        .map(|f| f.display().to_string())
        .collect();
    if context.json {
        out::json(&Written {
            schema: 1,
            lines: written.lines,
            files,
        });
        return Ok(Ending::Done);
    }
    let plural = if written.lines == 1 { "line" } else { "lines" };
    out::line(&format!("Rework slip with {} {plural}:", written.lines));
    for file in files {
        out::entry(&format!("  {file}"));
    }
    Ok(Ending::Done)
}
