//! Drill hits by place.

use std::collections::BTreeMap;

use super::layer::{Function, Layer};

/// A drill hit nearer than this to the middle of a pad is its hole, mm: files are written to a
/// micrometre, and no two pads are that near.
const HIT_MM: f64 = 0.05;

/// Drill hits by place.
pub(super) struct Hits {
    cells: BTreeMap<[i64; 2], Vec<([f64; 2], f64)>>,
    /// Whether hits of plated holes are among them.
    pub(super) plated: bool,
}

impl Hits {
    /// The hits of all drill files; `None` where none was given.
    pub(super) fn of(layers: &[Layer]) -> Option<Self> {
        let drills = || {
            layers
                .iter()
                .filter(|layer| matches!(layer.function, Function::Drill { .. }))
        };
        drills().next()?;
        let plated = drills().any(|layer| layer.function == Function::Drill { plated: true });
        let points = drills().flat_map(|layer| layer.hits.iter().copied());
        Some(Self::from_points(points, plated))
    }

    pub(super) fn from_points(points: impl Iterator<Item = ([f64; 2], f64)>, plated: bool) -> Self {
        let mut cells: BTreeMap<[i64; 2], Vec<([f64; 2], f64)>> = BTreeMap::new();
        for (at, diameter) in points {
            let cell = cells.entry(cell(at)).or_default();
            if cell.len() < MOST_IN_A_CELL {
                cell.push((at, diameter));
            }
        }
        Self { cells, plated }
    }

    /// Diameter of the hole at a place.
    pub(super) fn at(&self, at: [f64; 2]) -> Option<f64> {
        let [x, y] = cell(at);
        (-1..=1)
            .flat_map(|i| (-1..=1).map(move |j| [x.saturating_add(i), y.saturating_add(j)]))
            .filter_map(|cell| self.cells.get(&cell))
            .flatten()
            .find(|(hit, diameter)| {
                (hit[0] - at[0]).hypot(hit[1] - at[1]) <= HIT_MM && *diameter > 0.0
            })
            .map(|(_, diameter)| *diameter)
    }
}

/// Hits in one cell that are kept: thousands on one spot are one hole, and would only cost time.
const MOST_IN_A_CELL: usize = 16;

fn cell(at: [f64; 2]) -> [i64; 2] {
    at.map(|v| (v / HIT_MM).floor() as i64)
}
