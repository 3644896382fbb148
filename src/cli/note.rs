//! `note`: remarks, one by one or line by line from standard input.

use std::io::BufRead as _;
use std::path::Path;

use serde::Serialize;

use crate::work::{Action, WorkError};

use super::args::NoteArgs;
use super::exit::Ending;
use super::{Context, mark, out};

#[derive(Serialize)]
struct Kept {
    schema: u32,
    event: String,
}

pub(super) fn note(context: &Context, args: NoteArgs) -> Result<Ending, WorkError> {
    let mut session = context.open(&args.job)?;
    let photo = args
        .photo
        .as_deref()
        .map(|name| session.find_photo(name))
        .transpose()?;
    if !args.lines {
        return mark::record(
            context,
            &mut session,
            Action::Note {
                text: args.text,
                photo,
            },
        );
    }
    for line in std::io::stdin().lock().lines() {
        let text = line.map_err(|source| WorkError::File {
            path: Path::new("standard input").to_path_buf(),
            source,
        })?;
        if text.trim().is_empty() {
            continue;
        }
        let applied = session.apply(Action::Note {
            text,
            photo: photo.clone(),
        })?;
        if context.json {
            out::json_line(&Kept {
                schema: 1,
                event: applied.event.to_string(),
            });
        } else {
            out::entry(&format!("Recorded: {}", applied.words));
        }
    }
    Ok(Ending::Done)
}
