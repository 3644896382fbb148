//! Looking things up in an opened job: photos by name, places by address, boards.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use image::RgbImage;

use super::super::error::WorkError;
use super::super::original::open_original;
use super::super::plan::map_of;
use super::Session;
use crate::board::{BoardMap, Place, resolve_many};
use crate::record::{JointKey, PhotoId, Spot, Target, View};

impl Session {
    /// Where the original of a photo is.
    ///
    /// # Errors
    /// Where the job has no such photo.
    pub fn photo_path(&self, photo: &PhotoId) -> Result<PathBuf, WorkError> {
        let state = self.state.photos.get(photo).ok_or_else(|| {
            WorkError::bad(format!("no photo {photo} in this job"), "add it first")
        })?;
        Ok(self.job.photo_path(&state.facts)?)
    }

    /// Opens a photo of the job, upright.
    ///
    /// # Errors
    /// Where the job has no such photo, its file cannot be opened, or was altered.
    pub fn open_photo(&self, photo: &PhotoId) -> Result<Arc<RgbImage>, WorkError> {
        Ok(Arc::new(open_original(&self.photo_path(photo)?, photo)?))
    }

    /// The photo that a name, a file in the job, a path or the first letters of a hash mean.
    ///
    /// # Errors
    /// Where none or several answer to it.
    pub fn find_photo(&self, name: &str) -> Result<PhotoId, WorkError> {
        let wanted = Path::new(name)
            .file_name()
            .map_or_else(|| name.to_owned(), |n| n.to_string_lossy().into_owned());
        let found: Vec<_> = self
            .state
            .photos
            .iter()
            .filter(|(id, photo)| {
                photo.facts.name == wanted
                    || photo.facts.file == wanted
                    || (name.len() >= 6 && id.starts_with(&name.to_lowercase()))
            })
            .collect();
        match found.as_slice() {
            [(id, _)] => Ok((*id).clone()),
            [] => {
                let mut known: Vec<&str> = self
                    .state
                    .photos
                    .values()
                    .map(|p| p.facts.name.as_str())
                    .collect();
                known.sort_unstable();
                known.truncate(5);
                Err(WorkError::bad(
                    format!("no photo `{name}` in this job"),
                    if known.is_empty() {
                        "add photos first: benchglass add JOB PHOTOS".to_owned()
                    } else {
                        format!("there is, for example: {}", known.join(", "))
                    },
                ))
            }
            several => Err(WorkError::bad(
                format!("{} photos are called `{name}`", several.len()),
                format!(
                    "name one by the first letters of its hash: {}",
                    several
                        .iter()
                        // An identity that somebody wrote by hand may hold any letters.
                        .map(|(id, _)| id.get(..8).unwrap_or(id))
                        .collect::<Vec<_>>()
                        .join(", ")
                ),
            )),
        }
    }

    /// The joints or the part that an address means.
    ///
    /// # Errors
    /// Where the maps have no such place.
    pub fn targets(&self, address: &str) -> Result<Vec<Target>, WorkError> {
        if self.maps.is_empty() {
            return Err(WorkError::bad(
                format!("`{address}` is a place on a map, and this job has no map"),
                "adopt one (benchglass map adopt JOB MAP.json), or mark a place on a photo with --photo and --at-px",
            ));
        }
        Ok(resolve_many(&self.maps, address)?
            .into_iter()
            .map(target_of)
            .collect())
    }

    /// Checks that a place lies on its photo.
    ///
    /// # Errors
    /// Where it does not.
    pub fn check_spot(&self, spot: &Spot) -> Result<(), WorkError> {
        let Some(photo) = self.state.photos.get(&spot.photo) else {
            return Err(WorkError::bad("no such photo in this job", "add it first"));
        };
        let [width, height] = photo.facts.size.map(f64::from);
        let [x, y] = spot.at_px;
        if x < -0.5 || y < -0.5 || x > width - 0.5 || y > height - 0.5 {
            return Err(WorkError::bad(
                format!(
                    "{x}, {y} lies outside {} ({width} x {height} px)",
                    photo.facts.name
                ),
                "give the place in pixels of the upright photo, 0,0 at the top left",
            ));
        }
        Ok(())
    }

    /// Whether an area (corners in board mm) can lie on its board.
    ///
    /// # Errors
    /// Where no map has the board, the area has no size, or none of it lies on the board.
    pub fn check_area(&self, view: &View, from: [f64; 2], to: [f64; 2]) -> Result<(), WorkError> {
        let map = map_of(&self.maps, &view.board)?;
        let spans = [0, 1].map(|axis| {
            let (low, high) = (from[axis].min(to[axis]), from[axis].max(to[axis]));
            let of_board = || map.outline.iter().map(|corner| corner[axis]);
            let edge = (
                of_board().fold(f64::INFINITY, f64::min),
                of_board().fold(f64::NEG_INFINITY, f64::max),
            );
            (high - low, high >= edge.0 && low <= edge.1)
        });
        if spans
            .iter()
            .all(|(size, on_board)| *size > 0.0 && *on_board)
        {
            return Ok(());
        }
        Err(WorkError::bad(
            format!(
                "the area from {from:?} to {to:?} mm is no part of {}",
                view.board
            ),
            "give two opposite corners on the board, in mm of its map: BOARD/SIDE:X1,Y1,X2,Y2",
        ))
    }

    /// A board name as the maps write it.
    ///
    /// # Errors
    /// Where no map has that board.
    pub fn known_board(&self, board: &str) -> Result<String, WorkError> {
        if let Some(map) = self
            .maps
            .iter()
            .find(|map| map.board.eq_ignore_ascii_case(board))
        {
            return Ok(map.board.clone());
        }
        map_of(&self.maps, board).map(|map| map.board.clone())
    }

    /// The board that is meant: the one named, or the only one for which `fits` holds.
    ///
    /// # Errors
    /// Where none or several fit.
    pub fn board_with(
        &self,
        named: Option<&str>,
        fits: impl Fn(&BoardMap) -> bool,
    ) -> Result<String, WorkError> {
        if let Some(board) = named {
            return self.known_board(board);
        }
        let fitting: Vec<&BoardMap> = self.maps.iter().filter(|map| fits(map)).collect();
        match fitting.as_slice() {
            [one] => Ok(one.board.clone()),
            [] => match self.maps.as_slice() {
                [only] => Ok(only.board.clone()),
                _ => Err(WorkError::bad(
                    "no board of this job has that",
                    "look at the names in the map, or say the board with --board",
                )),
            },
            several => Err(WorkError::bad(
                format!("{} boards could be meant", several.len()),
                format!(
                    "say which with --board: {}",
                    several
                        .iter()
                        .map(|m| m.board.as_str())
                        .collect::<Vec<_>>()
                        .join(", ")
                ),
            )),
        }
    }

    /// The photos of one side, aligned ones first, then by name.
    #[must_use]
    pub fn photos_of(&self, view: &View) -> Vec<PhotoId> {
        let mut photos: Vec<_> = self.state.photos_of(&view.board, view.side).collect();
        photos.sort_by_key(|p| (p.alignment().is_none(), p.facts.name.clone()));
        photos.into_iter().map(|p| p.facts.photo.clone()).collect()
    }
}

fn target_of(place: Place) -> Target {
    match place {
        Place::Joint {
            board, pin, side, ..
        } => Target::Joint(JointKey { board, pin, side }),
        Place::Part { board, part } => Target::Part { board, part },
    }
}
