//! `darkline`: where a photo shows dark lines.

use serde::Serialize;

use crate::joint::{DarkLine, FULL_SCALE};
use crate::work::{WorkError, write_dark_lines};

use super::args::DarklineArgs;
use super::exit::Ending;
use super::{Context, out};

/// What `--json` prints.
#[derive(Debug, Serialize)]
struct Answer<'a> {
    schema: u32,
    photo: String,
    picture: String,
    size: [u32; 2],
    /// Response that the greatest grey value stands for.
    full_scale: f32,
    /// Photo px averaged into one working px.
    averaged: usize,
    lines: &'a [DarkLine],
}

/// Version of the layout.
const SCHEMA: u32 = 1;

pub(super) fn darkline(context: &Context, args: &DarklineArgs) -> Result<Ending, WorkError> {
    let found = out::with_progress("looking for dark lines", |progress| {
        write_dark_lines(&args.photo, &args.out, progress)
    })?;
    if context.json {
        out::json(&Answer {
            schema: SCHEMA,
            photo: args.photo.display().to_string(),
            picture: args.out.display().to_string(),
            size: [found.width, found.height],
            full_scale: FULL_SCALE,
            averaged: found.averaged,
            lines: &found.lines,
        });
        return Ok(Ending::Done);
    }
    out::entry(&format!(
        "{}: {} by {} px, bright where the photo shows dark lines. Scratches, shadows and print show too.",
        args.out.display(),
        found.width,
        found.height
    ));
    for line in found.lines.iter().take(8) {
        let [left, top, right, bottom] = line.box_px;
        out::line(&format!(
            "  {:.0} px long, strength {:.2}, from {left:.0},{top:.0} to {right:.0},{bottom:.0}",
            line.length_px, line.strength
        ));
    }
    Ok(Ending::Done)
}
