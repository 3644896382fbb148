//! The tour from the window: made once, opened again after that.

use std::path::{Path, PathBuf};

use eframe::egui::Context;

use super::app::Desk;
use super::background::Done;
use super::model::Page;
use crate::work::{recorded_tour, run_tour};

/// What the tour is called while it is made.
pub const TOUR: &str = "Making the tour's job";
/// The tour that was made to its end is named in this file beside it.
const TOUR_MADE: &str = "made.txt";

impl Desk {
    pub(super) fn tour(&mut self, ctx: &Context) {
        let making = self.background.under_way();
        if making.iter().any(|task| task.label == TOUR) {
            return;
        }
        let out = match &self.model.home {
            Some(home) => home.join("tour"),
            None => PathBuf::from("benchglass-tour"),
        };
        // What somebody tried in an earlier tour is theirs.
        if let Some(job) = finished_tour(&out).or_else(|| recorded_tour(&out)) {
            self.open_job(ctx, &job);
            return;
        }
        self.background.start(ctx, TOUR, false, move |progress| {
            Done::Tour(run_tour(&out, None, progress).map(Box::new))
        });
    }

    /// The tour's job is made: it goes on the table where that is free.
    pub(super) fn tour_made(&mut self, ctx: &Context, job: &Path) {
        // Only a tour that is finished is opened again instead of being made anew.
        let made = job.parent().map(|out| out.join(TOUR_MADE));
        if let Some(made) = made {
            let _ = crate::work::write_text(&made, &job.display().to_string());
        }
        if self.model.bench.is_some() || self.model.page == Page::NewJob {
            self.remember(job);
            self.model.tell(
                "The tour's job is made.",
                format!("Open it when you like: it is in {}.", job.display()),
                false,
            );
            return;
        }
        self.open_job(ctx, job);
    }
}

/// The job of a tour that was made to its end, where it is still there.
fn finished_tour(out: &Path) -> Option<PathBuf> {
    let job = PathBuf::from(std::fs::read_to_string(out.join(TOUR_MADE)).ok()?.trim());
    let is_its = job.parent() == Some(out) && job.join("job.json").is_file();
    is_its.then_some(job)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_tour_that_was_made_to_its_end_is_opened_again() {
        let folder = tempfile::tempdir().unwrap();
        let out = folder.path();
        let job = out.join("FH12-0242");
        std::fs::create_dir(&job).unwrap();
        std::fs::write(job.join("job.json"), "{}").unwrap();
        assert_eq!(finished_tour(out), None, "nothing says that it is finished");
        std::fs::write(out.join(TOUR_MADE), job.display().to_string()).unwrap();
        assert_eq!(finished_tour(out), Some(job.clone()));
        // Another folder, or one that is gone.
        std::fs::write(out.join(TOUR_MADE), "/somewhere/else").unwrap();
        assert_eq!(finished_tour(out), None);
        std::fs::write(out.join(TOUR_MADE), job.display().to_string()).unwrap();
        std::fs::remove_dir_all(&job).unwrap();
        assert_eq!(finished_tour(out), None);
    }
}
