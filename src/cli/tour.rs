//! `tour` and `samples`: the main job on the invented sample boards.

use serde::Serialize;

use crate::work::{TourReport, WorkError, render_samples, run_tour};

use super::args::{SamplesArgs, TourArgs};
use super::exit::Ending;
use super::{Context, gate, out};

pub(super) fn tour(context: &Context, args: &TourArgs) -> Result<Ending, WorkError> {
    let report = out::with_progress("the tour", |progress| {
        run_tour(&args.out, args.samples.as_deref(), progress)
    })?;
    if context.json {
        out::json(&report);
    } else {
        print(&report);
    }
    Ok(Ending::Done)
}

fn print(report: &TourReport) {
    out::line("Benchglass tour: one unit from photographs to a rework slip.");
    out::line(&report.note);
    out::entry(&format!("From {}.", report.samples));
    weak_spots(report);
    photos(report);
    suspects(report);
    out::line("\nLooked at, after the round:");
    gate::print_coverage(&report.coverage);
    stages(report);
    out::line("\nPapers:");
    for file in &report.papers {
        out::entry(&format!("  {}", file.display()));
    }
    out::line("");
    out::entry(&format!("The job is in {}.", report.job.display()));
    out::line(
        "Its slip has open lines and its gate is shut: a joint opened again at the last test, and an earlier repair waits for the owner's word. That is the sample's story, invented like the rest.",
    );
    out::line("Next: open the slip in a browser; `benchglass --help` for your own unit.");
}

/// Most weak spots that the text shows; all are in `--json`.
const SHOWN_SPOTS: usize = 12;

fn weak_spots(report: &TourReport) {
    let units: Vec<String> = report
        .earlier
        .iter()
        .map(|unit| format!("{} ({})", unit.unit, unit.complaint))
        .collect();
    out::line("");
    out::entry(&format!(
        "What {} of the model said, written into the map's weak spots: {}.",
        out::many(units.len(), "earlier unit"),
        units.join(", ")
    ));
    let mut rows = vec![
        ["place", "in the round", "earlier units"]
            .map(String::from)
            .to_vec(),
    ];
    // As a person meets them: by their place in the round.
    let mut spots: Vec<_> = report.weak.iter().collect();
    spots.sort_by_key(|spot| (spot.round.is_none(), spot.round));
    for spot in spots.iter().take(SHOWN_SPOTS) {
        rows.push(vec![
            spot.place.clone(),
            spot.round
                .map_or_else(|| "the part".to_owned(), |at| format!("number {at}")),
            spot.words.clone(),
        ]);
    }
    out::line(out::table(&rows).trim_end());
    if spots.len() > SHOWN_SPOTS {
        let more = spots.len() - SHOWN_SPOTS;
        out::line(&format!("  and {more} more (--json)"));
    }
}

fn photos(report: &TourReport) {
    out::line("\nPhotos, aligned by landmarks:");
    let mut rows = vec![
        [
            "photo",
            "shows",
            "landmarks",
            "residual",
            "scale",
            "joints read",
        ]
        .map(String::from)
        .to_vec(),
    ];
    for photo in &report.photos {
        rows.push(vec![
            photo.name.clone(),
            photo.shows.clone(),
            photo.landmarks.to_string(),
            format!("{:.1} px", photo.rms_px),
            format!("{:.0} px/mm", photo.px_per_mm),
            match photo.read + photo.no_reading {
                0 => "-".to_owned(),
                all => format!("{} of {all}", photo.read),
            },
        ]);
    }
    out::line(out::table(&rows).trim_end());
}

fn suspects(report: &TourReport) {
    out::line("\nMost suspect joints, each on the photo that shows it closest:");
    let mut rows = vec![
        ["joint", "rank", "scale", "crack planted", "why"]
            .map(String::from)
            .to_vec(),
    ];
    for suspect in &report.suspects {
        rows.push(vec![
            suspect.joint.clone(),
            format!("{} of {}", suspect.rank, suspect.of),
            format!("{:.0} px/mm", suspect.px_per_mm),
            if suspect.planted { "yes" } else { "no" }.to_owned(),
            suspect.reason.clone(),
        ]);
    }
    out::line(out::table(&rows).trim_end());
    let found = &report.found;
    out::line(&format!(
        "  In the band \"look here first\": {} of {} planted cracks that could be read{}, and {} of {} joints without one{}.",
        found.look_first,
        found.shown,
        interval_words(found.among_planted_95),
        found.look_first_without,
        found.without,
        interval_words(found.among_others_95),
    ));
    out::line("  A hint, on rendered pictures: it never clears or rejects a joint.");
}

fn interval_words(interval: Option<[f64; 2]>) -> String {
    interval
        .map(|[low, high]| {
            format!(
                " (95 % interval {:.0} to {:.0} %)",
                low * 100.0,
                high * 100.0
            )
        })
        .unwrap_or_default()
}

/// Reasons of one stage that the text shows before it only counts.
const SHOWN_REASONS: usize = 6;

fn stages(report: &TourReport) {
    out::line("\nThe gate, asked as the work goes on:");
    for asked in &report.gate {
        let verdict = &asked.verdict;
        let words = verdict.stage.words();
        if verdict.permitted {
            out::line(&format!(
                "  after {}: {words}: nothing forbids it.",
                asked.after
            ));
            out::line(&format!("      {}", verdict.permits));
            continue;
        }
        let count = verdict.reasons.len();
        let plural = if count == 1 { "reason" } else { "reasons" };
        out::entry(&format!(
            "  after {}: {words}: not yet, {count} {plural}",
            asked.after
        ));
        for reason in verdict.reasons.iter().take(SHOWN_REASONS) {
            out::entry(&format!("    - {reason}"));
        }
        if count > SHOWN_REASONS {
            out::line(&format!(
                "    - and {} more (benchglass gate)",
                count - SHOWN_REASONS
            ));
        }
    }
}

#[derive(Serialize)]
struct Rendered {
    schema: u32,
    files: Vec<RenderedFile>,
}

#[derive(Serialize)]
struct RenderedFile {
    file: String,
    width: u32,
    height: u32,
    bytes: u64,
}

pub(super) fn samples(context: &Context, args: &SamplesArgs) -> Result<Ending, WorkError> {
    let made = out::with_progress("rendering", |progress| {
        render_samples(&args.out, args.seed, progress)
    })?;
    if context.json {
        out::json(&Rendered {
            schema: 1,
            files: made
                .into_iter()
                .map(|file| RenderedFile {
                    file: file.path.display().to_string(),
                    width: file.width,
                    height: file.height,
                    bytes: file.bytes,
                })
                .collect(),
        });
        return Ok(Ending::Done);
    }
    for file in &made {
        out::entry(&format!(
            "{}  {} x {} px, {} kB",
            file.path.display(),
            file.width,
            file.height,
            file.bytes / 1000
        ));
    }
    Ok(Ending::Done)
}
