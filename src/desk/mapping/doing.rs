//! Carrying out what was asked of the map being made: the one place that changes it.

use std::path::PathBuf;
use std::sync::Arc;

use eframe::egui::Context;

use super::MapAsk;
use super::making::{FoundOnPhoto, Making, Spot};
use super::tools::Tool;
use crate::board::draft::{DraftError, Edit, Sketch, straighten};
use crate::board::{FindingSeverity, MapFile};
use crate::desk::app::Desk;
use crate::desk::background::Done;
use crate::desk::model::{Bench, Page, Show};
use crate::geometry::PhotoPoint;
use crate::joint::find_joints;
use crate::record::{PhotoId, View};
use crate::store::Library;
use crate::work::{Action, WorkError, keep_map, write_text};

/// What looking for joints is called while it runs.
const FINDING: &str = "Looking for joints on this photo";
/// Reach of a pointer round a small land, points.
const REACH_PT: f64 = 10.0;

impl Desk {
    /// Begins a map on the photo on the table, or goes on with the one that was begun there.
    pub(in crate::desk) fn begin_map(&mut self, ctx: &Context) {
        let Some(bench) = &mut self.model.bench else {
            return;
        };
        let Some(facts) = bench.photo_state().map(|photo| photo.facts.clone()) else {
            self.model.page = Page::Table;
            self.model.tell(
                "A map is made from a photo, and there is none on the table.",
                "Drop a photo of the board on the window first.",
                false,
            );
            return;
        };
        if bench
            .making
            .as_ref()
            .is_some_and(|making| making.photo == facts.photo)
        {
            return;
        }
        let unit = bench.session.state().unit.as_ref();
        let model = unit.map_or_else(String::new, |unit| unit.model.clone());
        let board = free_board(bench);
        let left = left_off(bench, &facts.photo);
        let making = match left {
            Some(sketch) => {
                let mut making = Making::resumed(facts.photo, facts.size, sketch);
                making.said = "You go on where you left off.".to_owned();
                making
            }
            None => Making::new(facts.photo, facts.size, &model, &board),
        };
        bench.making = Some(Box::new(making));
        self.find_for_map(ctx);
    }

    /// A click on the photo, for the map.
    pub(in crate::desk) fn map_clicked(&mut self, at: PhotoPoint, shift: bool) {
        let reach = self
            .viewer
            .view()
            .map_or(REACH_PT, |view| REACH_PT / view.points_per_px);
        self.making(|making, image| {
            let meant = making.meant(at, reach, image);
            making.click(meant, shift, reach)
        });
    }

    /// Carries out one wish.
    pub(in crate::desk) fn map(&mut self, ctx: &Context, ask: MapAsk) {
        match ask {
            MapAsk::Find => {
                self.making(|making, _| {
                    making.looked = false;
                    Ok(())
                });
                self.find_for_map(ctx);
            }
            MapAsk::Keep => self.keep_map(),
            MapAsk::Jump(index) => self.jump(index),
            ask => self.making(|making, _| quick(making, ask)),
        }
    }

    /// Changes the map being made; an error is told, and what stands now is written down.
    fn making(
        &mut self,
        change: impl FnOnce(&mut Making, Option<&image::RgbImage>) -> Result<(), DraftError>,
    ) {
        let Some(bench) = &mut self.model.bench else {
            return;
        };
        let image = bench.image.as_ref().map(|(_, image)| Arc::clone(image));
        let Some(making) = &mut bench.making else {
            return;
        };
        let before = (making.said.clone(), making.draft.changes());
        match change(making, image.as_deref()) {
            Ok(()) => {
                if (&making.said, making.draft.changes()) != (&before.0, before.1) {
                    self.write_unfinished();
                }
            }
            Err(error) => self.draft_trouble(&error),
        }
    }

    fn draft_trouble(&mut self, error: &DraftError) {
        let said = error.to_string();
        let (text, remedy) = said.rsplit_once("; ").unwrap_or((&said, ""));
        self.model
            .tell(format!("{}.", sentence(text)), sentence(remedy), true);
    }

    /// Writes the unfinished map beside the job's papers, so that a closed window loses nothing.
    fn write_unfinished(&mut self) {
        let Some(bench) = &self.model.bench else {
            return;
        };
        let Some(making) = &bench.making else { return };
        let path = unfinished(bench, &making.photo);
        let written = serde_json::to_string(making.draft.now())
            .map_err(|error| error.to_string())
            .and_then(|text| put(&path, &text).map_err(|error| error.to_string()));
        if let Err(why) = written {
            self.model.tell(
                format!("The unfinished map could not be written down: {why}."),
                "Keep the map before you close the window.",
                true,
            );
        }
    }

    fn jump(&mut self, index: usize) {
        self.making(|making, _| {
            let place = making.findings.get(index).map(|f| f.place.clone());
            if let Some((part, at)) = place.and_then(|place| making.place_of(&place)) {
                making.take(Tool::Choose);
                if let Some(part) = part {
                    making.choose(part, false);
                }
                making.go_to = Some(at);
            }
            Ok(())
        });
    }

    /// What happens without being asked: joints are looked for once the photo is open, and a
    /// photo that leaves the table takes its map along.
    pub(in crate::desk) fn step_map(&mut self, ctx: &Context) {
        if self.model.page != Page::Map {
            return;
        }
        let Some(bench) = &self.model.bench else {
            return;
        };
        let same = bench
            .making
            .as_ref()
            .is_some_and(|making| bench.photo.as_ref() == Some(&making.photo));
        if same {
            self.find_for_map(ctx);
        } else {
            self.model.page = Page::Table;
        }
    }

    /// Looks for joints on the photo, off the window's thread.
    fn find_for_map(&mut self, ctx: &Context) {
        let Some(bench) = &mut self.model.bench else {
            return;
        };
        let (Some(making), Some((photo, image))) = (&mut bench.making, &bench.image) else {
            return;
        };
        if making.photo != *photo || making.looked {
            return;
        }
        making.looked = true;
        let (photo, image) = (photo.clone(), Arc::clone(image));
        self.background.start(ctx, FINDING, false, move |progress| {
            let found = find_joints(&image, progress)
                .map(|found| {
                    let spots = found.joints.iter().map(|joint| Spot {
                        at: PhotoPoint::new(joint.x_px, joint.y_px),
                        radius_px: joint.land_radius_px,
                    });
                    FoundOnPhoto {
                        spots: spots.collect(),
                        rows: found.rows.iter().map(|row| row.members.clone()).collect(),
                        packages: found.packages.iter().map(|two| two.rows).collect(),
                    }
                })
                .map_err(WorkError::from);
            Done::Found(photo, found)
        });
    }

    /// Joints were found.
    pub(in crate::desk) fn found_for_map(
        &mut self,
        photo: PhotoId,
        found: Result<FoundOnPhoto, WorkError>,
    ) {
        let Some(making) = self
            .model
            .bench
            .as_mut()
            .and_then(|bench| bench.making.as_mut())
        else {
            return;
        };
        if making.photo != photo {
            return;
        }
        match found {
            Ok(found) => {
                making.said = format!(
                    "{} {} joints found, {} rows. Your clicks are drawn to them.",
                    making.said,
                    found.spots.len(),
                    found.rows.len()
                );
                making.take_found(found);
            }
            // Asked for: not begun again by itself.
            Err(
                WorkError::Cancelled(_) | WorkError::Joint(crate::joint::JointError::Cancelled),
            ) => {}
            Err(error) => self.trouble(&error),
        }
    }

    /// Writes the map, adopts it, lays the photo on it and begins the round.
    fn keep_map(&mut self) {
        let Some(bench) = &mut self.model.bench else {
            return;
        };
        let name = bench
            .photo_state()
            .map_or_else(String::new, |photo| photo.facts.name.clone());
        let Some(making) = &mut bench.making else {
            return;
        };
        if let Some(edit) = making.finish(&name)
            && let Err(error) = making.apply(&edit)
        {
            self.draft_trouble(&error);
            return;
        }
        let wrong = making
            .findings
            .iter()
            .filter(|finding| finding.severity == FindingSeverity::Error)
            .count();
        if wrong > 0 {
            self.model.tell(
                format!(
                    "The map has {wrong} error{}.",
                    if wrong == 1 { "" } else { "s" }
                ),
                "Click one in the list to go to it.",
                true,
            );
            return;
        }
        let file = MapFile::of(making.map().clone());
        let (photo, frame) = (making.photo.clone(), making.draft.frame().cloned());
        let Some(frame) = frame else { return };
        let path = bench.session.dir().join("exports").join(format!(
            "map-{}.json",
            crate::desk::jobs::folder_name(&file.map.board)
        ));
        if let Err(error) = put(&path, &file.text) {
            self.trouble(&error);
            return;
        }
        let view = View {
            board: file.map.board.clone(),
            side: frame.side,
        };
        if !self.record(Action::AdoptMap { path: path.clone() }) {
            return;
        }
        let laid = self.record(Action::LayUnder {
            photo: photo.clone(),
            view: view.clone(),
            photo_from_board: frame.photo_from_board,
        });
        if !laid {
            return;
        }
        // Made once, it serves every later unit of the model.
        let by = self.model.by.clone();
        let kept = Library::find()
            .map_err(WorkError::from)
            .and_then(|library| keep_map(&library, &path, &by, "made in the window"));
        if let Err(error) = kept {
            self.trouble(&error);
        }
        self.with_bench(|bench| {
            let unfinished = unfinished(bench, &photo);
            // It is a copy of what is kept now; one that stays behind does no harm.
            let _ = std::fs::remove_file(unfinished);
            bench.making = None;
            bench.show = Show::Side(view);
            bench.photo = Some(photo);
            bench.here = None;
            bench.refresh();
            bench.here = bench.first_unseen().or(bench.here);
            bench.follow();
            bench.redraw();
        });
        self.model.page = Page::Table;
        self.model.tell(
            format!(
                "The map of the {} board is kept, and this photo lies on it.",
                file.map.board
            ),
            format!(
                "The next job of this model begins with it. It is in {} as well.",
                path.display()
            ),
            false,
        );
    }
}

/// What is done at once.
fn quick(making: &mut Making, ask: MapAsk) -> Result<(), DraftError> {
    match ask {
        MapAsk::Tool(tool) => making.take(tool),
        MapAsk::Edit(edit) => {
            making.apply(&edit)?;
        }
        MapAsk::Digit(digit) => {
            if std::mem::take(&mut making.counted) {
                making.lengths[0].clear();
            }
            let field = if making.tool == Tool::Scale {
                &mut making.lengths[0]
            } else {
                &mut making.count
            };
            if field.len() < 6 {
                field.push(char::from(b'0' + digit.min(9)));
            }
        }
        MapAsk::Rub => {
            if making.tool == Tool::Scale {
                making.lengths[0].pop();
            } else {
                making.count.pop();
            }
        }
        MapAsk::Count(text) => making.count = text,
        MapAsk::Enter => making.enter()?,
        MapAsk::Undo => making.step(true),
        MapAsk::Redo => making.step(false),
        MapAsk::Scale(by) => {
            making.by = by;
            making.tool = Tool::Scale;
            making.clicks.clear();
        }
        MapAsk::Side(side) => side_of(making, side)?,
        MapAsk::Kind(kind) => {
            if making.clicks.is_empty() && !making.chosen.is_empty() {
                making.apply(&Edit::Kind {
                    parts: making.chosen.clone(),
                    kind,
                })?;
            } else {
                making.kind = Some(kind);
            }
        }
        MapAsk::Choose(uid, add) => making.choose(uid, add),
        MapAsk::Delete => {
            let (parts, pins) = match (&making.pin, making.chosen.as_slice()) {
                (Some(pin), [_]) if making.tool == Tool::Choose => (Vec::new(), vec![pin.clone()]),
                (_, chosen) => (chosen.to_vec(), Vec::new()),
            };
            making.apply(&Edit::Delete { parts, pins })?;
        }
        MapAsk::Renumber => {
            let (Some(pin_1), [part]) = (making.pin.clone(), making.chosen.as_slice()) else {
                return Err(DraftError::Nothing);
            };
            let part = part.clone();
            making.apply(&Edit::Renumber {
                part,
                pin_1,
                backwards: false,
            })?;
        }
        MapAsk::Grid(pitch_mm) => match straighten(making.draft.now(), pitch_mm) {
            Some(edit) => {
                making.apply(&edit)?;
            }
            None => {
                return Err(DraftError::NoGrid { pitch_mm });
            }
        },
        MapAsk::FoundScale => making.found_scale()?,
        MapAsk::Accept => making.accept()?,
        MapAsk::Find | MapAsk::Keep | MapAsk::Jump(_) => {}
    }
    Ok(())
}

/// The other side: what is placed stays on the photo, mirrored on the board.
fn side_of(making: &mut Making, side: crate::board::Side) -> Result<(), DraftError> {
    if making.side == side {
        return Ok(());
    }
    if making.draft.frame().is_some() {
        making.apply(&Edit::OtherSide { side })?;
    }
    making.side = side;
    Ok(())
}

fn sentence(text: &str) -> String {
    let mut letters = text.trim().chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

fn put(path: &std::path::Path, text: &str) -> Result<(), WorkError> {
    if let Some(folder) = path.parent() {
        std::fs::create_dir_all(folder).map_err(|source| WorkError::File {
            path: folder.to_path_buf(),
            source,
        })?;
    }
    write_text(path, text)
}

fn unfinished(bench: &Bench, photo: &PhotoId) -> PathBuf {
    let short = &photo[..photo.len().min(8)];
    bench
        .session
        .dir()
        .join("exports")
        .join(format!("unfinished-map-{short}.json"))
}

/// What was left unfinished on this photo.
fn left_off(bench: &Bench, photo: &PhotoId) -> Option<Sketch> {
    let bytes = std::fs::read(unfinished(bench, photo)).ok()?;
    let sketch: Sketch = serde_json::from_slice(&bytes).ok()?;
    // A file that somebody has changed is held to the same limits as any map.
    let text = sketch.map.to_json();
    MapFile::from_bytes(text.into_bytes(), &unfinished(bench, photo)).ok()?;
    Some(sketch)
}

/// A name for the board that no map of the job has.
fn free_board(bench: &Bench) -> String {
    let taken = |name: &str| {
        bench
            .session
            .maps()
            .iter()
            .any(|map| map.board.eq_ignore_ascii_case(name))
    };
    std::iter::once("main".to_owned())
        .chain((2..).map(|i| format!("board{i}")))
        .find(|name| !taken(name))
        .unwrap_or_default()
}
