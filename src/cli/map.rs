//! `map`: check, import, export and adopt board maps.

use std::path::{Path, PathBuf};

use serde::Serialize;

use crate::board::{BoardMap, Finding, FindingSeverity, ImportOptions, MapFormat, lint};
use crate::work::{ImportedMap, WorkError, export_map, import_maps, write_text};

use super::args::MapCommand;
use super::exit::Ending;
use super::{Context, library, map_make, out};

pub(super) fn map(context: &Context, command: MapCommand) -> Result<Ending, WorkError> {
    match command {
        MapCommand::Check { map } => check(context, &map),
        MapCommand::Import {
            files,
            out,
            answers,
            model,
            board,
        } => {
            let options = options(&answers, model, board)?;
            import(context, &files, &out, &options)
        }
        MapCommand::Make {
            edits,
            out,
            from,
            model,
            board,
        } => map_make::make(context, &edits, &out, from, (&model, &board)),
        MapCommand::Export { map, out } => export(context, &map, &out),
        MapCommand::Adopt { job, map, newest } => {
            library::adopt(context, &job, map.as_deref(), newest)
        }
        MapCommand::Keep { map, note } => library::keep(context, &map, &note),
        MapCommand::List { model } => library::list(context, model.as_deref()),
        MapCommand::Take {
            model,
            board,
            revision,
            out,
        } => library::take(context, &model, board.as_deref(), revision.as_deref(), &out),
        MapCommand::Diff { old, new } => library::diff(context, &old, &new),
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
    let errors = errors_in(&findings);
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
struct Imported<'a> {
    schema: u32,
    map: String,
    format: MapFormat,
    parts: usize,
    pins: usize,
    read: &'a [String],
    left_out: &'a [String],
    assumed: &'a [String],
    notes: &'a [String],
    errors: usize,
    findings: &'a [Finding],
}

fn options(answers: &[String], model: String, board: String) -> Result<ImportOptions, WorkError> {
    let mut options = ImportOptions {
        model,
        board,
        ..ImportOptions::default()
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
    files: &[PathBuf],
    target: &Path,
    options: &ImportOptions,
) -> Result<Ending, WorkError> {
    let ImportedMap {
        mut imported,
        findings,
    } = import_maps(files, options)?;
    let open = imported.questions.drain(..).map(|question| question.text);
    imported.notes.extend(open);
    write_text(target, &imported.map.to_json())?;
    let map = &imported.map;
    let pins = map.parts.iter().map(|part| part.pins.len()).sum();
    let errors = errors_in(&findings);
    if context.json {
        out::json(&Imported {
            schema: 1,
            map: target.display().to_string(),
            format: imported.format,
            parts: map.parts.len(),
            pins,
            read: &imported.read,
            left_out: &imported.left_out,
            assumed: &imported.assumed,
            notes: &imported.notes,
            errors,
            findings: &findings,
        });
        return Ok(Ending::Done);
    }
    out::line(&format!(
        "{}: {} parts, {pins} pins from {}",
        target.display(),
        map.parts.len(),
        imported.format
    ));
    for (word, lines) in [
        ("Read", &imported.read),
        ("Left out", &imported.left_out),
        ("Assumed", &imported.assumed),
        ("Mind", &imported.notes),
    ] {
        for line in lines {
            out::line(&format!("  {word}: {line}"));
        }
    }
    for finding in &findings {
        out::line(&format!("  Check: {finding}"));
    }
    Ok(Ending::Done)
}

fn errors_in(findings: &[Finding]) -> usize {
    findings
        .iter()
        .filter(|f| f.severity == FindingSeverity::Error)
        .count()
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
