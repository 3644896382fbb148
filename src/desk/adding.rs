//! Bringing photos in: the record is lent to a thread meanwhile, and what came of it is told.

use std::path::{Path, PathBuf};

use eframe::egui::Context;

use super::app::Desk;
use super::background::Done;
use super::model::Bench;
use crate::work::{AddReport, Session, WorkError, add_photos};

/// What bringing photos in is called while it runs.
pub const ADDING: &str = "Bringing photos in";

/// So many files that cannot be used are told of one by one.
const NAMED: usize = 5;

/// A file's name, fit to be shown.
fn name_of(path: &Path) -> String {
    crate::paper::shown(&path.file_name().unwrap_or_default().to_string_lossy())
}

impl Desk {
    pub(super) fn add(&mut self, ctx: &Context, paths: Vec<PathBuf>) {
        let Some(bench) = &mut self.model.bench else {
            return;
        };
        if bench.lent {
            self.model.tell(
                "Photos are being brought in already.",
                "Wait until they are in.",
                false,
            );
            return;
        }
        // The window shows a copy to read while the record is lent to the worker.
        let reading = match Session::read(bench.session.dir()) {
            Ok(reading) => reading,
            Err(error) => {
                self.trouble(&error);
                return;
            }
        };
        let mut session = std::mem::replace(&mut bench.session, reading);
        bench.lent = true;
        self.background.start(ctx, ADDING, false, move |progress| {
            let report = add_photos(&mut session, &paths, None, progress);
            Done::Added(Box::new(session), report)
        });
    }

    pub(super) fn added(&mut self, session: Session, report: Result<AddReport, WorkError>) {
        let here = self.model.bench.as_ref().map(|bench| bench.session.dir());
        if here != Some(session.dir()) {
            // Another job is open now, or none: its record is not to be mixed with this one.
            let n = report.as_ref().map_or(0, |report| report.added.len());
            let text = format!(
                "{n} photo{} went into the job in {}, which is not open any more.",
                if n == 1 { "" } else { "s" },
                session.dir().display()
            );
            self.model.tell(text, "", false);
            if let Err(error) = report {
                self.trouble(&error);
            }
            return;
        }
        self.with_bench(|bench| {
            bench.session = session;
            bench.lent = false;
        });
        self.keeping_words(|desk| desk.with_bench(Bench::settle));
        match report {
            Ok(report) => {
                self.with_bench(|bench| bench.let_match(report.added.iter().map(|p| &p.photo)));
                self.tell_added(&report);
            }
            Err(error) => self.trouble(&error),
        }
    }

    fn tell_added(&mut self, report: &AddReport) {
        let n = report.added.len();
        self.with_bench(|bench| {
            bench.said = format!("{n} photo{} added.", if n == 1 { "" } else { "s" });
        });
        for (path, reason, remedy) in report.refused.iter().take(NAMED) {
            self.model.tell(
                format!("{} was not added. {reason}", name_of(path)),
                remedy.clone(),
                true,
            );
        }
        let more = &report.refused[report.refused.len().min(NAMED)..];
        if !more.is_empty() {
            let names: Vec<String> = more.iter().map(|(path, ..)| name_of(path)).collect();
            self.model.tell(
                format!("Not added either, {}: {}.", more.len(), names.join(", ")),
                "Bring these in alone to be told what is wrong with each.",
                true,
            );
        }
        if let Some((_, _, remedy)) = report.passed_over.first() {
            let all = &report.passed_over;
            let mut names: Vec<String> = (all.iter().take(NAMED))
                .map(|(path, ..)| name_of(path))
                .collect();
            if all.len() > NAMED {
                names.push(format!("{} more", all.len() - NAMED));
            }
            self.model.tell(
                format!(
                    "Passed over, as they are no photos that can be read: {}.",
                    names.join(", ")
                ),
                remedy.clone(),
                false,
            );
        }
        if !report.duplicates.is_empty() {
            let n = report.duplicates.len();
            self.model.tell(
                format!("{n} of these photos were in the job already."),
                "",
                false,
            );
        }
    }
}
