//! A map from a file that was dropped: centroid CSV, IPC-D-356, Gerber. What the files leave open
//! is asked on a page, then the map is made, written down and adopted.

use std::path::{Path, PathBuf};

use eframe::egui::Context;

use super::app::Desk;
use super::jobs::folder_name;
use super::model::{Bench, Page};
use crate::board::draft::{Draft, Edit};
use crate::board::{
    BoardMap, FindingSeverity, ImportError, ImportOptions, MapFile, Question, lint,
};
use crate::work::{Action, WorkError, import_maps, map_format_of, write_text};

/// Endings of photographs: those are never looked into for a map.
const PICTURES: [&str; 7] = ["jpg", "jpeg", "png", "tif", "tiff", "webp", "bmp"];

/// Files that a map is made from, and what they leave open.
#[derive(Debug, Clone, PartialEq)]
pub struct Importing {
    /// The files of one board.
    pub files: Vec<PathBuf>,
    /// What was answered so far.
    pub options: ImportOptions,
    /// What is asked, with the answer that was chosen or typed.
    pub questions: Vec<(Question, String)>,
}

impl Desk {
    /// Takes out of dropped files those that a map can be made from, and begins with them.
    pub(super) fn take_board_files(&mut self, ctx: &Context, paths: Vec<PathBuf>) -> Vec<PathBuf> {
        let (boards, rest): (Vec<_>, Vec<_>) =
            paths.into_iter().partition(|path| is_board_file(path));
        if boards.is_empty() {
            return rest;
        }
        let Some(bench) = &self.model.bench else {
            self.model.tell(
                "A map is made from such a file within a job.",
                "Start or open the job, then drop the file again.",
                false,
            );
            return rest;
        };
        let unit = bench.session.state().unit.as_ref();
        let taken = |name: &str| bench.session.maps().iter().any(|map| map.board == name);
        let board = std::iter::once("main".to_owned())
            .chain((2..).map(|i| format!("board{i}")))
            .find(|name| !taken(name))
            .unwrap_or_default();
        self.model.importing = Some(Importing {
            files: boards,
            options: ImportOptions {
                model: unit.map_or_else(String::new, |unit| unit.model.clone()),
                board,
                ..ImportOptions::default()
            },
            questions: Vec::new(),
        });
        self.import(ctx);
        rest
    }

    /// Makes the map, or asks what is open.
    pub(super) fn import(&mut self, ctx: &Context) {
        let Some(importing) = &mut self.model.importing else {
            return;
        };
        for (question, answer) in &importing.questions {
            let (key, answer) = (question.key.to_string(), answer.trim());
            if let Err(bad) = importing.options.answer(&key, answer) {
                let text = format!("{}: {bad}.", question.text);
                self.model.tell(text, "Choose one of the answers.", true);
                return;
            }
        }
        match import_maps(&importing.files, &importing.options) {
            Ok(made) => {
                let map = with_landmarks(made.imported.map);
                let wrong = lint(&map)
                    .iter()
                    .filter(|f| f.severity == FindingSeverity::Error)
                    .count();
                let mut notes = made.imported.assumed;
                notes.extend(made.imported.left_out);
                notes.extend(made.imported.notes);
                let file = MapFile::of(map);
                self.imported(ctx, &file, wrong, &notes);
            }
            Err(WorkError::Import(ImportError::Asks { questions, .. })) => {
                importing.questions = questions
                    .into_iter()
                    .map(|question| (question, String::new()))
                    .collect();
                self.model.page = Page::Import;
            }
            Err(error) => {
                self.trouble(&error);
                self.end_import();
            }
        }
    }

    fn imported(&mut self, ctx: &Context, file: &MapFile, wrong: usize, notes: &[String]) {
        let Some(bench) = &self.model.bench else {
            return;
        };
        let folder = bench.session.dir().join("exports");
        let path = folder.join(format!("map-{}.json", folder_name(&file.map.board)));
        let written = std::fs::create_dir_all(&folder)
            .map_err(|source| WorkError::File {
                path: folder,
                source,
            })
            .and_then(|()| write_text(&path, &file.text));
        if let Err(error) = written {
            self.trouble(&error);
            return;
        }
        self.end_import();
        for note in notes.iter().take(2) {
            self.model.tell(note.clone(), "", false);
        }
        if wrong > 0 {
            self.model.tell(
                format!(
                    "The map made from the file has {wrong} error{} and is not adopted.",
                    if wrong == 1 { "" } else { "s" }
                ),
                format!(
                    "It is in {}: benchglass map check names them.",
                    path.display()
                ),
                true,
            );
            return;
        }
        if self.record(Action::AdoptMap { path }) {
            self.with_bench(Bench::settle);
            self.turn_to(ctx, Page::Table);
            self.model.page = Page::Table;
        }
    }

    /// Puts the questions away.
    pub(super) fn end_import(&mut self) {
        self.model.importing = None;
        if self.model.page == Page::Import {
            self.model.page = Page::Table;
        }
    }
}

/// Such files have no landmarks, and no photo lies on a map without: the outermost pins and the
/// corners will do.
fn with_landmarks(map: BoardMap) -> BoardMap {
    let mut draft = Draft::of(map);
    if draft.map().landmarks.is_empty() {
        // Where there is nothing to choose from, the linter says so.
        let _ = draft.apply(&Edit::SuggestLandmarks);
    }
    draft.map().clone()
}

fn is_board_file(path: &Path) -> bool {
    let ending = path
        .extension()
        .map(|ending| ending.to_string_lossy().to_lowercase())
        .unwrap_or_default();
    if PICTURES.contains(&ending.as_str()) || ending == "json" || !path.is_file() {
        return false;
    }
    matches!(
        map_format_of(path),
        Ok(_) | Err(WorkError::Import(ImportError::Asks { .. }))
    )
}
