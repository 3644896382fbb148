//! Lands as a map can hold them: turned by whole quarters.

use crate::board::model::{Land, LandShape};

impl Land {
    /// The land turned by so many degrees, and whether that is exact: by other than quarter
    /// turns it becomes round with the smaller size, which covers no neighbour.
    pub(in crate::board) fn turned(self, degrees: f64) -> (Self, bool) {
        /// Nearer to a quarter turn than this counts as one, degrees: a 2 mm land's corner then
        /// is 35 micrometres off.
        const QUARTER_DEG: f64 = 1.0;
        let [w, h] = self.size;
        if self.shape == LandShape::Round || w == h && self.shape == LandShape::Oval {
            return (self, true);
        }
        let off = degrees.rem_euclid(90.0);
        if off > QUARTER_DEG && off < 90.0 - QUARTER_DEG {
            let least = w.min(h);
            let round = Self {
                shape: LandShape::Round,
                size: [least, least],
            };
            return (round, false);
        }
        let quarters = (degrees / 90.0).round().rem_euclid(2.0);
        let size = if quarters == 1.0 { [h, w] } else { [w, h] };
        (Self { size, ..self }, true)
    }
}

/// What is said of lands that the map cannot hold as they are.
pub(in crate::board) fn turned_note(count: usize) -> String {
    format!(
        "{count} lands are turned by other than quarter turns. The map has no such lands: they \
         are drawn round, as wide as they are narrow."
    )
}
