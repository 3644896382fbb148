//! Choosing files inside the window: works wherever the window does, with no system dialogue.

use std::path::{Path, PathBuf};

use eframe::egui::{self, ScrollArea, Ui};

use super::ask::{Ask, Choosing};
use super::parts;
use super::theme::Look;

/// Most entries of a folder that are listed; typing a path goes further.
const MOST: usize = 500;
/// Endings of files that may be photos; what a file is, is told when it is opened.
const PHOTOS: [&str; 8] = ["jpg", "jpeg", "png", "tif", "tiff", "webp", "bmp", "jfif"];

/// Where the person is among the folders.
#[derive(Debug, Clone, Default)]
pub struct Chooser {
    folder: PathBuf,
    typed: String,
    folders: Vec<PathBuf>,
    files: Vec<PathBuf>,
    chosen: Vec<PathBuf>,
    trouble: String,
}

impl Chooser {
    /// Starts in a folder.
    #[must_use]
    pub fn at(folder: &Path, what: Choosing) -> Self {
        let mut chooser = Self::default();
        chooser.go(folder, what);
        chooser
    }

    fn go(&mut self, folder: &Path, what: Choosing) {
        let entries = match std::fs::read_dir(folder) {
            Ok(entries) => entries,
            Err(error) => {
                self.trouble = format!("{}: {error}; choose another folder", folder.display());
                return;
            }
        };
        let mut paths: Vec<PathBuf> = entries
            .filter_map(Result::ok)
            .map(|entry| entry.path())
            .collect();
        paths.retain(|path| {
            path.file_name()
                .is_some_and(|name| !name.to_string_lossy().starts_with('.'))
        });
        paths.sort();
        let (folders, files): (Vec<_>, Vec<_>) = paths.into_iter().partition(|path| path.is_dir());
        self.folders = folders;
        self.files = files.into_iter().filter(|path| fits(path, what)).collect();
        self.folder = folder.to_path_buf();
        self.typed = folder.display().to_string();
        self.trouble.clear();
    }

    /// Draws the choice; answers once with what was chosen or put away.
    pub fn show(&mut self, ui: &mut Ui, look: &Look, what: Choosing) -> Option<Ask> {
        parts::title(ui, look, heading(what), "");
        ui.add_space(4.0);
        self.path_row(ui, what);
        if !self.trouble.is_empty() {
            let colour = look.palette.words(super::marker::State::Faulty);
            ui.colored_label(colour, &self.trouble);
        }
        ui.add_space(4.0);
        let room = (ui.available_height() - look.scaled(56.0)).max(80.0);
        ScrollArea::vertical()
            .max_height(room)
            .auto_shrink([false, false])
            .show(ui, |ui| self.list(ui, look, what));
        ui.add_space(6.0);
        let mut asked = None;
        ui.horizontal_wrapped(|ui| {
            if let Some(paths) = self.answer(ui, look, what) {
                asked = Some(Ask::Chosen(what, paths));
            }
            if parts::button(ui, look, "Put away", false).clicked() {
                asked = Some(Ask::PutAway);
            }
        });
        asked
    }

    fn path_row(&mut self, ui: &mut Ui, what: Choosing) {
        ui.horizontal(|ui| {
            let name = ui.label("Folder");
            let field = ui
                .add(
                    egui::TextEdit::singleline(&mut self.typed)
                        .desired_width(ui.available_width() - 8.0),
                )
                .labelled_by(name.id);
            if field.lost_focus() && ui.input(|i| i.key_pressed(egui::Key::Enter)) {
                let typed = PathBuf::from(self.typed.trim());
                if typed.is_file() {
                    self.chosen = vec![typed];
                } else {
                    self.go(&typed, what);
                }
            }
        });
    }

    fn list(&mut self, ui: &mut Ui, look: &Look, what: Choosing) {
        let mut to = None;
        if let Some(parent) = self.folder.parent()
            && ui.button("↑ the folder above").clicked()
        {
            to = Some(parent.to_path_buf());
        }
        for folder in self.folders.iter().take(MOST) {
            let job = if folder.join("job.json").is_file() {
                "  (a job)"
            } else {
                ""
            };
            if ui.button(format!("{}/{job}", name_of(folder))).clicked() {
                to = Some(folder.clone());
            }
        }
        for file in self.files.iter().take(MOST) {
            let mut on = self.chosen.contains(file);
            if ui.checkbox(&mut on, name_of(file)).changed() {
                if what != Choosing::Photos {
                    self.chosen.clear();
                }
                if on {
                    self.chosen.push(file.clone());
                } else {
                    self.chosen.retain(|chosen| chosen != file);
                }
            }
        }
        if self.folders.is_empty() && self.files.is_empty() {
            parts::caption(ui, look, "Nothing here that fits.");
        }
        if let Some(to) = to {
            self.go(&to, what);
        }
    }

    fn answer(&self, ui: &mut Ui, look: &Look, what: Choosing) -> Option<Vec<PathBuf>> {
        if what == Choosing::Job {
            let is_job = self.folder.join("job.json").is_file();
            let pressed = ui
                .add_enabled_ui(is_job, |ui| {
                    parts::button(ui, look, "Open this job", is_job)
                })
                .inner
                .clicked();
            return pressed.then(|| vec![self.folder.clone()]);
        }
        let n = self.chosen.len();
        if n > 0 {
            let label = if n == 1 {
                "Take this file".to_owned()
            } else {
                format!("Take these {n} files")
            };
            if parts::button(ui, look, &label, true).clicked() {
                return Some(self.chosen.clone());
            }
        } else if what == Choosing::Photos
            && !self.files.is_empty()
            && parts::button(ui, look, "Take all of this folder", true).clicked()
        {
            return Some(self.files.clone());
        }
        None
    }
}

fn heading(what: Choosing) -> &'static str {
    match what {
        Choosing::Photos => "Which photos?",
        Choosing::Job => "Which job?",
        Choosing::Map | Choosing::AdoptMap => "Which board map?",
    }
}

fn fits(path: &Path, what: Choosing) -> bool {
    let ending = path
        .extension()
        .map(|ending| ending.to_string_lossy().to_lowercase())
        .unwrap_or_default();
    match what {
        Choosing::Photos => PHOTOS.contains(&ending.as_str()),
        Choosing::Job => false,
        Choosing::Map | Choosing::AdoptMap => ending == "json",
    }
}

fn name_of(path: &Path) -> String {
    path.file_name()
        .map(|name| name.to_string_lossy().into_owned())
        .unwrap_or_default()
}
