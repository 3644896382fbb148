//! `find`: solder joints of a photo, with no map.

use std::path::{Path, PathBuf};

use serde::Serialize;

use crate::joint::{Found, read_joints_csv};
use crate::work::{
    FindScore, WorkError, check_output, find_loose, find_loose_like, found_csv, read_joint_list,
    score_finding, write_text,
};

use super::args::FindArgs;
use super::exit::Ending;
use super::{Context, out};

/// What `--json` prints.
#[derive(Debug, Serialize)]
struct Answer<'a> {
    #[serde(flatten)]
    found: &'a Found,
    /// Only with `--truth`.
    #[serde(skip_serializing_if = "Option::is_none")]
    against_list: Option<FindScore>,
}

pub(super) fn find(context: &Context, args: &FindArgs) -> Result<Ending, WorkError> {
    let listed = match &args.truth {
        Some(list) => Some(read_joints_csv(
            &read_joint_list(list)?,
            &list.display().to_string(),
        )?),
        None => None,
    };
    if let Some(csv) = &args.csv {
        let lists = [&args.like, &args.unlike, &args.truth];
        let mut reads = vec![Path::new(&args.photo)];
        reads.extend(lists.into_iter().flatten().map(PathBuf::as_path));
        check_output(csv, &reads, &["csv"])?;
    }
    let found = out::with_progress("finding joints", |progress| {
        let photo = Path::new(&args.photo);
        match &args.like {
            Some(like) => find_loose_like(photo, like, args.unlike.as_deref(), progress),
            None => find_loose(photo, progress),
        }
    })?;
    if let Some(path) = &args.csv {
        write_text(path, &found_csv(&found))?;
    }
    let against_list = listed.map(|listed| score_finding(&found, &listed));
    if context.json {
        out::json(&Answer {
            found: &found,
            against_list,
        });
    } else {
        print(&found, against_list.as_ref());
        if args.like.is_none() {
            out::line(
                "  Joints missing, or many that are none? List about eight joints of this photo (id,x_px,y_px,land_radius_px) and ask again with --like LIST.csv.",
            );
        }
    }
    Ok(Ending::Done)
}

fn print(found: &Found, score: Option<&FindScore>) {
    out::line(&summary(found));
    out::line(&format!("  {}", found.scale_reason));
    let mut rows = vec![
        ["row", "joints", "pitch px", "members"]
            .map(String::from)
            .to_vec(),
    ];
    for (k, row) in found.rows.iter().enumerate() {
        rows.push(vec![
            (k + 1).to_string(),
            row.joints.len().to_string(),
            format!("{:.1}", row.pitch_px),
            span(&row.joints),
        ]);
    }
    if rows.len() > 1 {
        out::line(out::table(&rows).trim_end());
    }
    for package in &found.packages {
        let [a, b] = package.rows;
        out::line(&format!(
            "  rows {} and {} may be one package, {:.2} mm wide",
            a + 1,
            b + 1,
            package.rows_apart_mm
        ));
    }
    for odd in &found.odd {
        out::entry(&format!("  odd one out: {}: {}", odd.id, odd.reason));
    }
    if let Some(score) = score {
        let part = |share: Option<f64>, range: Option<[f64; 2]>| match (share, range) {
            (Some(s), Some([low, high])) => format!("{s:.3} [{low:.3}, {high:.3}]"),
            _ => "no data".to_owned(),
        };
        out::line(&format!(
            "  of {} listed joints {} were found: {}",
            score.listed,
            score.listed_found,
            part(score.recall, score.recall_95)
        ));
        out::line(&format!(
            "  of {} found joints {} are on the list: {} (a list is rarely complete: look at the others)",
            score.found,
            score.found_listed,
            part(score.on_list, score.on_list_95)
        ));
    }
}

/// The top of a text answer.
pub(super) fn summary(found: &Found) -> String {
    let counts = format!(
        "{} joints found, {} rows, {}.",
        found.joints.len(),
        found.rows.len(),
        found
            .px_per_mm
            .map_or_else(|| "scale not known".to_owned(), |s| format!("{s:.1} px/mm"))
    );
    match &found.caution {
        Some(caution) => format!("{counts}\n  {caution}"),
        None => counts,
    }
}

fn span(ids: &[String]) -> String {
    match (ids.first(), ids.last()) {
        (Some(first), Some(last)) => format!("{first} to {last}"),
        _ => String::new(),
    }
}
