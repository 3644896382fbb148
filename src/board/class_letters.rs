//! Class letters of reference designators by IEEE 315 (from memory), with the few that are
//! common practice beside it.

use super::model::PartKind;

/// Class letters that the trade uses for a kind; the first are the standard's own.
/// Empty where the kind says nothing of the letters.
pub(super) fn letters_of(kind: PartKind) -> &'static [&'static str] {
    use PartKind as K;
    match kind {
        K::Resistor => &["R", "RN", "RT", "RV"],
        K::Capacitor => &["C"],
        K::Electrolytic => &["C"],
        K::Ic => &["U", "AR"],
        K::Diode => &["D", "CR", "DS", "VR", "BR"],
        K::Transistor => &["Q", "U", "VR"],
        K::Header | K::Connector => &["J", "P", "X"],
        K::Terminal => &["TB", "J", "E"],
        K::Switch => &["S", "SW"],
        K::Relay => &["K"],
        K::Transformer => &["T"],
        K::Fuse => &["F", "XF"],
        K::Crystal => &["Y", "G"],
        K::Link => &["W", "JP"],
        K::Potentiometer => &["R"],
        K::Display => &["DS"],
        K::Hardware => &["H", "MP", "E"],
        K::Other => &[],
    }
}

/// The class letters at the start of a reference: `SW` of `SW3`. Empty where it has none.
pub(super) fn class_of(reference: &str) -> &str {
    let end = reference
        .find(|c: char| !c.is_ascii_alphabetic())
        .unwrap_or(reference.len());
    &reference[..end]
}

/// The kind that class letters stand for, where they leave only one reading.
pub(super) fn kind_of(reference: &str) -> Option<PartKind> {
    use PartKind as K;
    Some(match class_of(reference).to_ascii_uppercase().as_str() {
        "R" | "RN" => K::Resistor,
        "C" => K::Capacitor,
        "U" => K::Ic,
        "D" | "CR" => K::Diode,
        "Q" => K::Transistor,
        "J" | "P" => K::Connector,
        "TB" => K::Terminal,
        "S" | "SW" => K::Switch,
        "K" => K::Relay,
        "T" => K::Transformer,
        "F" => K::Fuse,
        "Y" => K::Crystal,
        "W" | "JP" => K::Link,
        "DS" => K::Display,
        "H" | "MP" => K::Hardware,
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::{class_of, kind_of, letters_of};

    #[test]
    fn letters_and_kinds_agree() {
        for reference in [
            "R1", "RN2", "C3", "U4", "D5", "CR6", "Q7", "J8", "P9", "TB1", "S2", "SW3", "K4", "T5",
            "F6", "Y7", "W8", "JP9", "DS1", "H2", "MP3", "sw3",
        ] {
            let kind = kind_of(reference).unwrap();
            let class = class_of(reference).to_ascii_uppercase();
            assert!(letters_of(kind).contains(&class.as_str()), "{reference}");
        }
        assert_eq!(kind_of("ZZ1"), None);
        assert_eq!(class_of("12"), "");
    }
}
