//! The renderer with its maps and tracks at hand.

use crate::board::BoardMap;

use super::assemble::{Order, assemble};
use super::error::RenderError;
use super::picture::{shoot, truth};
use super::route::{Copper, route};
use super::scenario::{UnitSpec, maps, units};
use super::scene::Scene;
use super::spec::{PhotoSpec, PhotoTruth, Rendered};

/// Maps, tracks and units, made once and used for many photos.
#[derive(Debug)]
pub struct Workshop {
    boards: Vec<(BoardMap, Copper)>,
    units: Vec<UnitSpec>,
}

impl Default for Workshop {
    fn default() -> Self {
        Self::new()
    }
}

impl Workshop {
    /// Lays the tracks of both sample boards.
    #[must_use]
    pub fn new() -> Self {
        let boards = maps()
            .into_iter()
            .map(|map| {
                let copper = route(&map);
                (map, copper)
            })
            .collect();
        Self {
            boards,
            units: units(),
        }
    }

    pub(super) fn board(&self, name: &str) -> Result<&(BoardMap, Copper), RenderError> {
        self.boards
            .iter()
            .find(|(map, _)| map.board == name)
            .ok_or_else(|| RenderError::Unknown {
                what: "board",
                name: name.to_owned(),
                known: "main, front".to_owned(),
            })
    }

    pub(super) fn scene(&self, spec: &PhotoSpec) -> Result<Scene, RenderError> {
        let (map, copper) = self.board(&spec.board)?;
        let unit = self
            .units
            .iter()
            .find(|unit| unit.code == spec.unit)
            .ok_or_else(|| RenderError::Unknown {
                what: "unit",
                name: spec.unit.clone(),
                known: self
                    .units
                    .iter()
                    .map(|u| u.code)
                    .collect::<Vec<_>>()
                    .join(", "),
            })?;
        Ok(assemble(&Order {
            map,
            copper,
            unit,
            side: spec.side,
            seed: spec.seed,
            per_mm: (spec.camera.px_per_mm * 1.1).clamp(18.0, 56.0),
            plant: spec.plant,
        }))
    }

    /// Renders one photo.
    ///
    /// # Errors
    /// [`RenderError`] where the order names an unknown board or unit, the size is out of
    /// range or the camera does not look at the board.
    pub fn render_photo(&self, spec: &PhotoSpec) -> Result<Rendered, RenderError> {
        let scene = self.scene(spec)?;
        let (map, _) = self.board(&spec.board)?;
        shoot(map, &scene, spec)
    }

    /// The truth of a photo without its pixels: much quicker than rendering.
    ///
    /// # Errors
    /// As [`Workshop::render_photo`].
    pub fn truth(&self, spec: &PhotoSpec) -> Result<PhotoTruth, RenderError> {
        let scene = self.scene(spec)?;
        let (map, _) = self.board(&spec.board)?;
        truth(map, &scene, spec)
    }
}

/// Renders one photo; a [`Workshop`] is quicker for several.
///
/// # Errors
/// As [`Workshop::render_photo`].
pub fn render_photo(spec: &PhotoSpec) -> Result<Rendered, RenderError> {
    Workshop::new().render_photo(spec)
}
