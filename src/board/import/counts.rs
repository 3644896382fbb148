//! What an import assumed, counted and then said.

use super::error::quoted;
use super::pads::Sources;

/// Land that stands for one whose size is not stated, mm across: fits between pins of the
/// trade's 2.54 mm pitch, and between most finer ones.
pub(super) const STAND_IN_LAND_MM: f64 = 1.0;

/// What was assumed how often.
#[derive(Debug, Default)]
pub(super) struct Counts {
    pub(super) lands: usize,
    pub(super) holes: usize,
    pub(super) standing: usize,
    pub(super) numbered: usize,
    pub(super) dropped: usize,
    pub(super) split: Vec<String>,
    pub(super) unknown: Vec<String>,
    pub(super) bodies: usize,
    pub(super) conflict: Option<String>,
}

impl Counts {
    pub(super) fn tell(self, sources: &mut Sources) {
        let mut assume = |count: usize, text: String| {
            if count > 0 {
                sources.assumed.push(text);
            }
        };
        assume(
            self.lands,
            format!(
                "The size of {} lands is not stated: drawn {STAND_IN_LAND_MM} mm round, \
                 smaller between near neighbours, or round their hole.",
                self.lands
            ),
        );
        assume(
            self.holes,
            format!(
                "The diameter of {} holes is not stated: drawn as half the land.",
                self.holes
            ),
        );
        assume(
            self.standing,
            format!(
                "{} parts with pins in holes: the file does not say on which side they stand. \
                 They were put on the component side, so their joints are on the solder side; \
                 --answer side=solder turns that round.",
                self.standing
            ),
        );
        assume(
            self.bodies,
            format!(
                "Bodies of {} parts are the boxes round their lands.",
                self.bodies
            ),
        );
        assume(
            self.numbered,
            format!(
                "{} further places of a pin number got `_2`, `_3` ... behind it, as answered.",
                self.numbered
            ),
        );
        if let Some(first) = self.split.first() {
            sources.assumed.push(format!(
                "{} parts have lands on both sides ({} the first). A part of the map stands on \
                 one side: the lands of the solder side are parts of their own, `-solder` behind \
                 the reference.",
                self.split.len(),
                quoted(first)
            ));
        }
        if let Some(first) = self.unknown.first() {
            sources.assumed.push(format!(
                "The class letters of {} parts ({} the first) do not say what they are: kind other.",
                self.unknown.len(),
                quoted(first)
            ));
        }
        if self.dropped > 0 {
            sources.left_out.push(format!(
                "{} further places of a pin number, as answered.",
                self.dropped
            ));
        }
    }
}
