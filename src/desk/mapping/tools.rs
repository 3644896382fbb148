//! The tools as data: name, key and what to click next.

use eframe::egui::Key;

use super::scale::ScaleBy;
use crate::board::PartKind;

/// What a click on the photo is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Tool {
    /// The scale of the photo.
    Scale,
    /// Choosing parts and pins.
    Choose,
    /// Pins in a row.
    Row,
    /// More pins for the chosen part, numbered on.
    MorePins,
    /// Two rows numbered round: a package.
    Package,
    /// Two rows numbered across: a header.
    Header,
    /// Two leads.
    TwoLeads,
    /// One pin.
    OnePin,
    /// Columns and rows.
    Grid,
    /// Moving what is chosen.
    Move,
    /// The same again elsewhere.
    Duplicate,
    /// Mirroring what is chosen.
    Mirror,
    /// The edge of the board.
    Edge,
    /// A landmark.
    Landmark,
}

impl Tool {
    /// In the order of the panel.
    pub const ALL: [Self; 14] = [
        Self::Scale,
        Self::Row,
        Self::Package,
        Self::Header,
        Self::TwoLeads,
        Self::OnePin,
        Self::Grid,
        Self::MorePins,
        Self::Choose,
        Self::Move,
        Self::Duplicate,
        Self::Mirror,
        Self::Edge,
        Self::Landmark,
    ];

    /// Its name.
    #[must_use]
    pub fn label(self) -> &'static str {
        match self {
            Self::Scale => "scale",
            Self::Choose => "choose",
            Self::Row => "row",
            Self::MorePins => "more pins",
            Self::Package => "package",
            Self::Header => "two-row header",
            Self::TwoLeads => "two leads",
            Self::OnePin => "one pin",
            Self::Grid => "grid",
            Self::Move => "move",
            Self::Duplicate => "duplicate",
            Self::Mirror => "mirror",
            Self::Edge => "edge",
            Self::Landmark => "landmark",
        }
    }

    /// Its key.
    #[must_use]
    pub fn key(self) -> Key {
        match self {
            Self::Scale => Key::S,
            Self::Choose => Key::C,
            Self::Row => Key::R,
            Self::MorePins => Key::A,
            Self::Package => Key::P,
            Self::Header => Key::H,
            Self::TwoLeads => Key::T,
            Self::OnePin => Key::O,
            Self::Grid => Key::G,
            Self::Move => Key::M,
            Self::Duplicate => Key::D,
            Self::Mirror => Key::I,
            Self::Edge => Key::E,
            Self::Landmark => Key::L,
        }
    }

    /// One sentence for its tooltip.
    #[must_use]
    pub fn tooltip(self) -> &'static str {
        match self {
            Self::Scale => "Say how large the board is, from two pins, a length or four corners.",
            Self::Choose => "Click a part to change it. With Shift held, several.",
            Self::Row => "Pins in a line at equal distances: headers, connectors, relays' rows.",
            Self::MorePins => "Another row of pins for the chosen part, numbered on.",
            Self::Package => "Two rows numbered round, as packages are.",
            Self::Header => "Two rows numbered across, odd and even, as pin headers are.",
            Self::TwoLeads => "A part with two leads: resistors, capacitors, diodes.",
            Self::OnePin => "A single joint: a wire, a test pin.",
            Self::Grid => "Columns and rows of pins.",
            Self::Move => "Move what is chosen: click from where, then to where.",
            Self::Duplicate => "The chosen parts again elsewhere, with the next references.",
            Self::Mirror => {
                "The chosen parts again, mirrored beside or above: click a pin, then where it is there."
            }
            Self::Edge => "Click round the corners of the board.",
            Self::Landmark => "A place that is easy to find on the next photo.",
        }
    }

    /// Kind of part that it makes unless something else was said.
    #[must_use]
    pub fn kind(self) -> PartKind {
        match self {
            Self::Package => PartKind::Ic,
            Self::TwoLeads => PartKind::Resistor,
            Self::Row | Self::Header => PartKind::Header,
            Self::Grid => PartKind::Connector,
            _ => PartKind::Other,
        }
    }

    /// Whether it makes a part, so that kind, land and hole matter.
    #[must_use]
    pub fn makes(self) -> bool {
        matches!(
            self,
            Self::Row
                | Self::MorePins
                | Self::Package
                | Self::Header
                | Self::TwoLeads
                | Self::OnePin
                | Self::Grid
        )
    }

    /// Whether it works on what is chosen.
    #[must_use]
    pub fn wants_choice(self) -> bool {
        matches!(
            self,
            Self::Move | Self::Duplicate | Self::Mirror | Self::MorePins
        )
    }

    /// Whether it counts pins.
    #[must_use]
    pub fn counts(self) -> bool {
        matches!(
            self,
            Self::Row | Self::MorePins | Self::Package | Self::Header | Self::Grid
        )
    }

    /// How many clicks it takes; 0 where Enter ends it.
    #[must_use]
    pub fn clicks(self, by: ScaleBy) -> usize {
        match self {
            Self::Scale => match by {
                ScaleBy::Pins | ScaleBy::Length => 2,
                ScaleBy::Board | ScaleBy::Rectangle => 4,
            },
            Self::Choose | Self::Edge => 0,
            Self::OnePin | Self::Landmark => 1,
            Self::Row
            | Self::MorePins
            | Self::TwoLeads
            | Self::Move
            | Self::Duplicate
            | Self::Mirror => 2,
            Self::Package | Self::Header | Self::Grid => 3,
        }
    }

    /// What to click next, with `done` clicks made.
    #[must_use]
    pub fn next(self, by: ScaleBy, done: usize) -> &'static str {
        match (self, done) {
            (Self::Scale, 0) => match by {
                ScaleBy::Pins => {
                    "Click a pin at one end of a row with a known pitch; the longer the row, the better."
                }
                ScaleBy::Length => "Click one end of a length that you know.",
                ScaleBy::Board => "Click a corner of the board.",
                ScaleBy::Rectangle => {
                    "Click a corner of a rectangle that you know, such as pin 1 of a large package."
                }
            },
            (Self::Scale, 1) => match by {
                ScaleBy::Pins => "Click the pin at the other end of that row.",
                ScaleBy::Length => "Click its other end.",
                ScaleBy::Board | ScaleBy::Rectangle => "Click the next corner, going round.",
            },
            (Self::Scale, 2) if matches!(by, ScaleBy::Board | ScaleBy::Rectangle) => {
                "Click the third corner."
            }
            (Self::Scale, 3) => "Click the last corner.",
            (Self::Scale, _) => match by {
                ScaleBy::Pins => {
                    "Type how many pins that row has, both ends counted, and press Enter."
                }
                ScaleBy::Length => "Type the length in mm and press Enter.",
                ScaleBy::Board | ScaleBy::Rectangle => {
                    "Type the lengths from the first corner to the second and on to the third, in mm."
                }
            },
            (Self::Choose, _) => {
                "Click a part to choose it, or take a tool. Found joints and pins draw your clicks to their middle."
            }
            (Self::Row, 0) => "Click pin 1 of the row.",
            (Self::Row, _) => "Click the last pin of the row.",
            (Self::MorePins, 0) => "Click the first pin of the next row of this part.",
            (Self::MorePins, _) => "Click the last pin of that row.",
            (Self::Header, 0) => "Click pin 1 of the header.",
            (Self::Package, 0) => "Click pin 1 of the package.",
            (Self::Package | Self::Header, 1) => {
                "Click the last pin of the row that begins with pin 1."
            }
            (Self::Package | Self::Header, _) => "Click any pin of the other row.",
            (Self::TwoLeads, 0) => "Click lead 1: for a polarised part the one that is marked.",
            (Self::TwoLeads, _) => "Click lead 2.",
            (Self::OnePin, _) => "Click the joint.",
            (Self::Grid, 0) => "Click pin 1, in a corner of the grid.",
            (Self::Grid, 1) => "Click the last pin of the first row.",
            (Self::Grid, _) => "Click the first pin of the last row.",
            (Self::Move, 0) => "Click the place that is to be moved.",
            (Self::Move, _) => "Click where it belongs.",
            (Self::Duplicate | Self::Mirror, 0) => "Click a pin of what is chosen.",
            (Self::Duplicate, _) => "Click where that pin of the copy is.",
            (Self::Mirror, _) => {
                "Click where that pin of the mirrored copy is: beside it, or above or below."
            }
            (Self::Edge, 0..=2) => "Click round the corners of the board.",
            (Self::Edge, _) => "Click on round the corners, and press Enter after the last one.",
            (Self::Landmark, _) => {
                "Click a place that is easy to find: the middle of a screw hole."
            }
        }
    }
}

/// Kinds of part with the key that says them, Shift held: their class letter where it is free.
pub const KINDS: [(PartKind, Key); 18] = [
    (PartKind::Resistor, Key::R),
    (PartKind::Capacitor, Key::C),
    (PartKind::Electrolytic, Key::E),
    (PartKind::Diode, Key::D),
    (PartKind::Transistor, Key::Q),
    (PartKind::Ic, Key::U),
    (PartKind::Header, Key::J),
    (PartKind::Connector, Key::N),
    (PartKind::Terminal, Key::B),
    (PartKind::Switch, Key::S),
    (PartKind::Relay, Key::K),
    (PartKind::Transformer, Key::T),
    (PartKind::Fuse, Key::F),
    (PartKind::Crystal, Key::Y),
    (PartKind::Link, Key::W),
    (PartKind::Potentiometer, Key::P),
    (PartKind::Display, Key::L),
    (PartKind::Other, Key::X),
];

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn every_tool_has_a_key_of_its_own_and_says_what_to_click() {
        let keys: BTreeSet<&str> = Tool::ALL.iter().map(|tool| tool.key().name()).collect();
        assert_eq!(keys.len(), Tool::ALL.len());
        let kinds: BTreeSet<&str> = KINDS.iter().map(|(_, key)| key.name()).collect();
        assert_eq!(kinds.len(), KINDS.len());
        for tool in Tool::ALL {
            for by in ScaleBy::ALL {
                for done in 0..=tool.clicks(by) {
                    let words = tool.next(by, done);
                    assert!(words.ends_with('.'), "{words}");
                }
            }
            assert!(tool.tooltip().ends_with('.'));
        }
    }
}
