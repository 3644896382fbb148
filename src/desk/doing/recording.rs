//! The one door to the record, taking back, and what is told when it refuses.

use crate::desk::app::Desk;
use crate::desk::model::Page;
use crate::record::{Event, Spot, Target};
use crate::work::{Action, WorkError};

impl Desk {
    /// The one door to the record. Whether it was recorded.
    pub(in crate::desk) fn record(&mut self, action: Action) -> bool {
        let Some(cautions) = self.write_down(action) else {
            return false;
        };
        for caution in cautions {
            self.model.tell(caution, "", false);
        }
        true
    }

    /// Records and gives what is to be minded, for those who say it in words of their own.
    pub(in crate::desk) fn write_down(&mut self, action: Action) -> Option<Vec<String>> {
        let bench = self.model.bench.as_mut()?;
        if bench.lent {
            self.model.tell(
                "Photos are being brought in; nothing else is recorded meanwhile.",
                "Wait until they are in, or stop it.",
                false,
            );
            return None;
        }
        match bench.session.apply(action) {
            Ok(applied) => {
                bench.said = applied.words;
                bench.refresh();
                Some(applied.cautions)
            }
            Err(error) => {
                self.trouble(&error);
                None
            }
        }
    }

    /// Tells of an error and its remedy, in the window's own words for what to do.
    pub(in crate::desk) fn trouble(&mut self, error: &WorkError) {
        let (text, remedy) = told(error);
        self.model.tell(text, remedy, true);
    }

    pub(super) fn take_back(&mut self) {
        self.withdraw(Action::UndoHere, "Undone");
    }

    pub(super) fn say_again(&mut self) {
        self.withdraw(Action::RedoHere, "Redone");
    }

    pub(super) fn withdraw(&mut self, action: Action, lead: &str) {
        let words = self.model.bench.as_ref().and_then(|bench| {
            let session = &bench.session;
            let id = match action {
                Action::UndoHere => session.undoable_here()?,
                _ => session.returning_here()?,
            };
            let event = session.event(id)?;
            let words = crate::record::describe(event, session.maps(), session.state());
            let targets = match event {
                Event::Judged(judgement) => judgement.targets.clone(),
                _ => Vec::new(),
            };
            Some((words, targets))
        });
        let (words, about) = words.unzip();
        // Places that were clicked or found are in the record only once they are judged.
        let spots: Vec<Spot> = (about.iter())
            .flat_map(|targets| targets.iter())
            .filter_map(|target| match target {
                Target::Photo(spot) => Some(spot.clone()),
                _ => None,
            })
            .collect();
        if self.record(action) {
            let said = format!("{lead}: {}", words.unwrap_or_default());
            self.with_bench(|bench| {
                for spot in spots {
                    let target = Target::Photo(spot.clone());
                    let is_there = bench.session.state().place(&target).is_some();
                    if !is_there && !bench.clicked.contains(&spot) {
                        bench.clicked.push(spot);
                    } else if is_there {
                        bench.clicked.retain(|other| *other != spot);
                    }
                }
                bench.refresh();
                bench.said.clone_from(&said);
            });
            if self.model.page != Page::Table {
                // The glass, which says it, is not in sight.
                self.model.tell(said, "", false);
            }
        }
    }
}

/// What is wrong and what to do, in the window's own words.
pub(in crate::desk) fn told(error: &WorkError) -> (String, String) {
    let mut text = error.to_string();
    if let Some(short) = text.trim_end_matches('.').strip_suffix(&error.remedy()) {
        text = short.trim_end_matches([' ', ';', '.']).to_owned() + ".";
    }
    (text, in_the_window(error.remedy()))
}

/// The remedies that speak of the command line, said for the window.
fn in_the_window(remedy: String) -> String {
    for (sign, said) in [
        (
            "name that fault too",
            "Where the earlier one does not stand, say no fault seen (N) with a word why, and name this one anew.",
        ),
        ("benchglass align", "Place landmarks on it (K)."),
        (
            "map adopt",
            "Adopt a board map: it is in the list of boards at the top.",
        ),
        (
            "benchglass map check",
            "Mend the map; its errors are listed by: benchglass map check.",
        ),
        ("benchglass add", "Drop photos on the window."),
        ("--fault", "Name the fault (F)."),
        ("--note", "Write why in a note."),
        ("--obstacle", "Say what is in the way."),
        (
            "--unit",
            "Give the unit's serial number or your shop's code.",
        ),
        ("--model", "Give make and type, as on the plate."),
        ("--volts", "Type the figure on the meter."),
        ("--function", "Say what you tried."),
    ] {
        if remedy.contains(sign) {
            return said.to_owned();
        }
    }
    remedy
}
