//! The letters that name faults, and finding a fault by typing.

use eframe::egui::Key;

use crate::record::FaultKind;

/// A letter for each fault that is common at a joint; the others are found by typing. Letters
/// follow the words where they can (the rest are the next best sound).
pub const LETTERS: [(FaultKind, Key); 26] = [
    (FaultKind::Fractured, Key::F),
    (FaultKind::Bridge, Key::B),
    (FaultKind::Cold, Key::C),
    (FaultKind::Disturbed, Key::D),
    (FaultKind::Insufficient, Key::I),
    (FaultKind::Excess, Key::E),
    (FaultKind::Nonwetting, Key::N),
    (FaultKind::Dewetting, Key::W),
    (FaultKind::RosinConnection, Key::R),
    (FaultKind::MissingSolder, Key::M),
    (FaultKind::Pinhole, Key::P),
    (FaultKind::SolderSplash, Key::S),
    (FaultKind::Icicle, Key::K),
    (FaultKind::Overheated, Key::O),
    (FaultKind::ExposedMetal, Key::X),
    (FaultKind::LiftedLand, Key::L),
    (FaultKind::LeadFault, Key::J),
    (FaultKind::CutConductor, Key::T),
    (FaultKind::DamagedLaminate, Key::A),
    (FaultKind::Contamination, Key::G),
    (FaultKind::Corroded, Key::V),
    (FaultKind::Burnt, Key::U),
    (FaultKind::DamagedPart, Key::Q),
    (FaultKind::Leaking, Key::Y),
    (FaultKind::CrackedHeader, Key::H),
    (FaultKind::LooseSwitch, Key::Z),
];

/// The letter of a fault.
#[must_use]
pub fn letter_of(fault: FaultKind) -> Option<Key> {
    LETTERS
        .iter()
        .find(|(kind, _)| *kind == fault)
        .map(|(_, key)| *key)
}

/// The faults whose words hold what was typed: lettered ones first, in the order of [`LETTERS`].
#[must_use]
pub fn found(filter: &str) -> Vec<FaultKind> {
    let wanted = filter.trim().to_lowercase();
    let lettered = LETTERS.iter().map(|(kind, _)| *kind);
    let rest = FaultKind::ALL
        .into_iter()
        .filter(|kind| letter_of(*kind).is_none());
    lettered
        .chain(rest)
        .filter(|kind| kind.words().contains(&wanted))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_fault_is_found_once_and_no_letter_twice() {
        let all = found("");
        assert_eq!(all.len(), FaultKind::ALL.len());
        for (i, (fault, key)) in LETTERS.iter().enumerate() {
            assert!(LETTERS[i + 1..].iter().all(|(f, k)| f != fault && k != key));
        }
        assert_eq!(found("perished"), [FaultKind::PerishedRubber]);
    }
}
