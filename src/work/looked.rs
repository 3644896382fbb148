//! Coverage as rows that a table or a strip can show.

use serde::Serialize;

use crate::board::{Side, Zone};
use crate::record::{Covered, coverage};

use super::plan::side_word;
use super::session::Session;

/// One row of the coverage table.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CoverageRow {
    /// For example `main, solder side` or `main, supply area`.
    pub place: String,
    /// Board name.
    pub board: String,
    /// Side, where the row is one.
    pub side: Option<Side>,
    /// Zone, where the row is one.
    pub zone: Option<Zone>,
    /// All joints.
    pub total: usize,
    /// Judged at a scale that counts.
    pub judged: usize,
    /// Not looked at, or from too far away.
    pub unseen: usize,
    /// Somebody said that something is in the way.
    pub cannot_be_judged: usize,
    /// Share judged, 0..=1; `null` where there are no joints.
    pub share: Option<f64>,
    /// Median scale of the looks at photos.
    pub median_px_per_mm: Option<f64>,
}

impl Session {
    /// Coverage per board: all, by side where joints are, and the areas that the gate asks for first.
    #[must_use]
    pub fn coverage_rows(&self) -> Vec<CoverageRow> {
        let mut rows = Vec::new();
        for board in coverage(self.state(), self.maps()) {
            let row = |place: String, covered: &Covered| CoverageRow {
                place,
                board: board.board.clone(),
                side: None,
                zone: None,
                total: covered.total,
                judged: covered.judged,
                unseen: covered.unseen,
                cannot_be_judged: covered.cannot_be_judged,
                share: covered.share(),
                median_px_per_mm: covered.px_per_mm,
            };
            for (side, covered) in board.sides.iter().filter(|(_, c)| c.total > 0) {
                rows.push(CoverageRow {
                    side: Some(*side),
                    ..row(
                        format!("{}, {} side", board.board, side_word(*side)),
                        covered,
                    )
                });
            }
            for (zone, covered) in &board.zones {
                let word = match zone {
                    Zone::Safety => "safety area",
                    Zone::Supply => "supply area",
                    Zone::Load => continue,
                };
                rows.push(CoverageRow {
                    zone: Some(*zone),
                    ..row(format!("{}, {word}", board.board), covered)
                });
            }
        }
        rows
    }
}
