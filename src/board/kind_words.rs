//! What parts are called in sentences.

use super::model::{Part, PartKind};

impl PartKind {
    /// What it is called, in lower case.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Resistor => "resistor",
            Self::Capacitor => "capacitor",
            Self::Electrolytic => "electrolytic",
            Self::Ic => "integrated circuit",
            Self::Diode => "diode",
            Self::Transistor => "transistor",
            Self::Header => "pin header",
            Self::Terminal => "terminal block",
            Self::Connector => "connector",
            Self::Switch => "switch",
            Self::Relay => "relay",
            Self::Transformer => "transformer",
            Self::Fuse => "fuse",
            Self::Crystal => "crystal",
            Self::Link => "jumper link",
            Self::Potentiometer => "potentiometer",
            Self::Display => "display",
            Self::Hardware => "hardware",
            Self::Other => "part",
        }
    }
}

impl Part {
    /// `terminal block, ZONE 2`: the kind, and the value where it says more.
    #[must_use]
    pub fn described(&self) -> String {
        let kind = self.kind.words();
        let value = self.value.trim();
        if value.is_empty() {
            kind.to_owned()
        } else if self.kind == PartKind::Other || value.to_lowercase().contains(kind) {
            value.to_owned()
        } else {
            format!("{kind}, {value}")
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::board::testing::sample;

    #[test]
    fn the_kind_is_said_once() {
        let described = |kind, value: &str| {
            let mut part = sample().parts[0].clone();
            part.kind = kind;
            part.value = value.to_owned();
            part.described()
        };
        assert_eq!(
            described(PartKind::Terminal, "ZONE 2"),
            "terminal block, ZONE 2"
        );
        assert_eq!(described(PartKind::Relay, "Relay 24 V"), "Relay 24 V");
        assert_eq!(described(PartKind::Switch, "slide switch"), "slide switch");
        assert_eq!(described(PartKind::Relay, " "), "relay");
        assert_eq!(described(PartKind::Other, "heat sink"), "heat sink");
    }
}
