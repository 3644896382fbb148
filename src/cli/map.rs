//! `map`: check, import, export and adopt board maps.

use std::path::Path;

use serde::Serialize;

use crate::board::{BoardMap, CentroidOptions, Finding, FindingSeverity, lint};
use crate::work::{Action, Session, WorkError, export_map, import_map, write_text};

use super::args::MapCommand;
use super::exit::Ending;
use super::{Context, map_make, mark, out};

pub(super) fn map(context: &Context, command: MapCommand) -> Result<Ending, WorkError> {
    match command {
        MapCommand::Check { map } => check(context, &map),
        MapCommand::Import {
            file,
            out,
            answers,
            model,
            board,
        } => {
            let options = options(&answers, model, board)?;
            import(context, &file, &out, &options)
        }
        MapCommand::Make {
            edits,
            out,
            from,
            model,
            board,
        } => map_make::make(context, &edits, &out, from, (&model, &board)),
        MapCommand::Export { map, out } => export(context, &map, &out),
        MapCommand::Adopt { job, map } => {
            let mut session = Session::open(&job, &context.by)?;
            let applied = session.apply(Action::AdoptMap { path: map })?;
            mark::tell(
                context,
                &applied.event.to_string(),
                &applied.words,
                &applied.cautions,
            );
            Ok(Ending::Done)
        }
    }
}

#[derive(Serialize)]
struct Checked<'a> {
    schema: u32,
    map: String,
    parts: usize,
    pins: usize,
    errors: usize,
    warnings: usize,
    findings: &'a [Finding],
}

fn check(context: &Context, path: &Path) -> Result<Ending, WorkError> {
    let map = BoardMap::load(path)?;
    let findings = lint(&map);
    let errors = findings
        .iter()
        .filter(|f| f.severity == FindingSeverity::Error)
        .count();
    let pins = map.parts.iter().map(|part| part.pins.len()).sum();
    if context.json {
        out::json(&Checked {
            schema: 1,
            map: path.display().to_string(),
            parts: map.parts.len(),
            pins,
            errors,
            warnings: findings.len() - errors,
            findings: &findings,
        });
    } else {
        for finding in &findings {
            let word = match finding.severity {
                FindingSeverity::Error => "error",
                FindingSeverity::Warning => "warning",
            };
            out::line(&format!("{word}: {}: {}", finding.place, finding.reason));
            out::line(&format!("    {}", finding.remedy));
        }
        out::line(&format!(
            "{}: {} parts, {pins} pins; {errors} errors, {} warnings",
            path.display(),
            map.parts.len(),
            findings.len() - errors
        ));
    }
    Ok(if errors == 0 {
        Ending::Done
    } else {
        Ending::NotPassed
    })
}

#[derive(Serialize)]
struct Imported {
    schema: u32,
    map: String,
    parts: usize,
    notes: Vec<String>,
}

fn options(answers: &[String], model: String, board: String) -> Result<CentroidOptions, WorkError> {
    let mut options = CentroidOptions {
        model,
        board,
        ..CentroidOptions::default()
    };
    for answer in answers {
        let (key, value) = answer.split_once('=').unwrap_or((answer, ""));
        options
            .answer(key.trim(), value.trim())
            .map_err(|bad| WorkError::BadInput {
                reason: format!("--answer: {bad}"),
                remedy: "write it as the question offers it, for example units=mm".to_owned(),
            })?;
    }
    Ok(options)
}

fn import(
    context: &Context,
    file: &Path,
    target: &Path,
    options: &CentroidOptions,
) -> Result<Ending, WorkError> {
    let mut imported = import_map(file, options)?;
    let open = imported.questions.drain(..).map(|question| question.text);
    imported.notes.extend(open);
    write_text(target, &imported.map.to_json())?;
    if context.json {
        out::json(&Imported {
            schema: 1,
            map: target.display().to_string(),
            parts: imported.map.parts.len(),
            notes: imported.notes,
        });
        return Ok(Ending::Done);
    }
    out::line(&format!(
        "{}: {} parts",
        target.display(),
        imported.map.parts.len()
    ));
    for note in imported.notes {
        out::line(&format!("  Mind: {note}"));
    }
    Ok(Ending::Done)
}

#[derive(Serialize)]
struct Exported {
    schema: u32,
    table: String,
    parts: usize,
}

fn export(context: &Context, path: &Path, target: &Path) -> Result<Ending, WorkError> {
    let map = BoardMap::load(path)?;
    export_map(&map, target)?;
    if context.json {
        out::json(&Exported {
            schema: 1,
            table: target.display().to_string(),
            parts: map.parts.len(),
        });
    } else {
        out::line(&format!("{}: {} parts", target.display(), map.parts.len()));
    }
    Ok(Ending::Done)
}
