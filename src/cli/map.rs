//! `map`: check, import, export and adopt board maps.

use std::path::Path;

use serde::Serialize;

use crate::board::{BoardMap, Finding, FindingSeverity, ImportOptions, MapFormat, lint};
use crate::work::{
    ImportedMap, WorkError, check_output, export_map, import_maps, keep_identities, write_map,
};

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
            identities_of,
            replace,
        } => {
            let options = options(&answers, model, board)?;
            let mut made = import_maps(&files, &options)?;
            let kept = identities_of
                .map(|earlier| keep_identities(&mut made, &earlier))
                .transpose()?;
            import(context, made, (&out, replace), kept)
        }
        MapCommand::Make {
            edits,
            out,
            from,
            model,
            board,
            replace,
        } => map_make::make(context, &edits, &out, from, (&model, &board), replace),
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
            replace,
        } => library::take(
            context,
            &model,
            board.as_deref(),
            revision.as_deref(),
            (&out, replace),
        ),
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
            out::entry(&format!("{word}: {}: {}", finding.place, finding.reason));
            out::entry(&format!("    {}", finding.remedy));
        }
        out::entry(&format!(
            "{}: {}, {}; {}, {}",
            path.display(),
            out::many(map.parts.len(), "part"),
            out::many(pins, "pin"),
            out::many(errors, "error"),
            out::many(findings.len() - errors, "warning")
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
    made: ImportedMap,
    (target, replace): (&Path, bool),
    kept: Option<usize>,
) -> Result<Ending, WorkError> {
    let ImportedMap {
        mut imported,
        findings,
    } = made;
    if let Some(kept) = kept {
        imported.read.push(format!(
            "{} by the identity of the earlier map.",
            out::many(kept, "pin")
        ));
    }
    let open = imported.questions.drain(..).map(|question| question.text);
    imported.notes.extend(open);
    write_map(target, &imported.map.to_json(), replace)?;
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
    out::entry(&format!(
        "{}: {}, {} from {}",
        target.display(),
        out::many(map.parts.len(), "part"),
        out::many(pins, "pin"),
        imported.format
    ));
    for (word, lines) in [
        ("Read", &imported.read),
        ("Left out", &imported.left_out),
        ("Assumed", &imported.assumed),
        ("Mind", &imported.notes),
    ] {
        for line in lines {
            out::entry(&format!("  {word}: {line}"));
        }
    }
    for finding in &findings {
        out::entry(&format!("  Check: {finding}"));
    }
    let name = target.display();
    out::entry(&if errors > 0 {
        format!(
            "Next: a job cannot use it yet. Mend what is an error above in {name}, or add to it: benchglass map make EDITS.json --from {name} -o NEXT.json (docs/map-making.md)"
        )
    } else {
        format!(
            "Next: hold it against the board, then keep it for every later unit: benchglass map keep {name}"
        )
    });
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
    check_output(target, &[path], &["csv"])?;
    export_map(&map, target)?;
    if context.json {
        out::json(&Exported {
            schema: 1,
            table: target.display().to_string(),
            parts: map.parts.len(),
        });
    } else {
        let parts = out::many(map.parts.len(), "part");
        out::entry(&format!("{}: {parts}", target.display()));
    }
    Ok(Ending::Done)
}
