//! The workmanship table: what each fault term means, what it looks like, what is usually done
//! about it and whether it blocks power. Terms are the trade's; every sentence is our own.
//! Which faults block by default is common practice, no source: a technician may override it.

use super::event::FaultKind;

/// Whether a fault blocks the next power stage unless a person decides otherwise.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Blocks {
    /// Rework before power.
    Yes,
    /// Blocks on supply, mains and safety nets, or where metal is loose or too close.
    Conditional,
    /// Record it; it does not hold the power back by itself.
    No,
}

impl Blocks {
    /// The rule in words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Yes => "Blocks power by default.",
            Self::Conditional => "Blocks power in supply, mains and safety areas.",
            Self::No => "Does not block power by itself.",
        }
    }
}

/// What the bench has to have at hand for a usual action.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Need {
    /// Solder.
    Solder,
    /// Flux.
    Flux,
    /// Desoldering wick or pump.
    Wick,
    /// Cleaning fluid and a brush.
    Cleaner,
    /// Insulated wire for a repair.
    Wire,
    /// Adhesive for lands or housings.
    Adhesive,
    /// A replacement of the part.
    Part,
    /// A replacement of the part, should the first action not hold.
    PartPerhaps,
    /// A replacement cord or lead.
    Cord,
}

/// One row of the table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Workmanship {
    /// The trade's term, as it stands within a sentence.
    pub term: &'static str,
    /// One sentence: what it is and what it looks like.
    pub meaning: &'static str,
    /// What is usually done, as an instruction.
    pub action: &'static str,
    /// Whether it blocks power by default.
    pub blocks: Blocks,
    /// What the action needs.
    pub needs: &'static [Need],
}

const fn row(
    term: &'static str,
    meaning: &'static str,
    action: &'static str,
    blocks: Blocks,
    needs: &'static [Need],
) -> Workmanship {
    Workmanship {
        term,
        meaning,
        action,
        blocks,
        needs,
    }
}

use Blocks::{Conditional, No, Yes};
use Need::{Adhesive, Cleaner, Cord, Flux, Part, PartPerhaps, Solder, Wick, Wire};

impl FaultKind {
    /// Every kind, in the order of the list that people choose from.
    pub const ALL: [Self; 37] = [
        Self::Fractured,
        Self::Disturbed,
        Self::Cold,
        Self::RosinConnection,
        Self::Nonwetting,
        Self::Dewetting,
        Self::Insufficient,
        Self::Excess,
        Self::Bridge,
        Self::SolderSplash,
        Self::Icicle,
        Self::Pinhole,
        Self::MissingSolder,
        Self::Overheated,
        Self::ExposedMetal,
        Self::LiftedLand,
        Self::LeadFault,
        Self::CutConductor,
        Self::DamagedLaminate,
        Self::Contamination,
        Self::Corroded,
        Self::DamagedPart,
        Self::Leaking,
        Self::Burnt,
        Self::ReversedPolarity,
        Self::WrongPart,
        Self::Missing,
        Self::Bent,
        Self::LooseSwitch,
        Self::CrackedHeader,
        Self::LoosePart,
        Self::PerishedRubber,
        Self::DirtyContact,
        Self::PriorRepair,
        Self::OwnersModification,
        Self::DamagedCord,
        Self::Other,
    ];

    /// The trade's term in words.
    #[must_use]
    pub fn words(self) -> &'static str {
        self.workmanship().term
    }

    /// Its row of the table.
    #[must_use]
    pub const fn workmanship(self) -> Workmanship {
        match self {
            Self::Fractured => row(
                "fractured joint",
                "The solder has parted: a thin dark line, often a ring or part of one round the pin.",
                "Remove the old solder and resolder; find what moves the part.",
                Yes,
                &[Solder, Flux, Wick],
            ),
            Self::Disturbed => row(
                "disturbed joint",
                "The joint moved while the solder froze: a frosty, wrinkled skin.",
                "Reflow with flux and hold everything still until it has frozen.",
                Conditional,
                &[Solder, Flux],
            ),
            Self::Cold => row(
                "cold joint",
                "Too little heat reached the joint: grey, lumpy solder with pores.",
                "Reflow with flux and enough heat for land and lead alike.",
                Conditional,
                &[Solder, Flux],
            ),
            Self::RosinConnection => row(
                "rosin connection",
                "A film of flux keeps lead and solder apart: an amber layer between them.",
                "Clean the lead and the land, then solder anew.",
                Yes,
                &[Solder, Flux, Wick, Cleaner],
            ),
            Self::Nonwetting => row(
                "non-wetting",
                "The solder never took: bare metal shows and the edge of the solder stands up steeply.",
                "Clean and tin the metal, then resolder.",
                Conditional,
                &[Solder, Flux, Cleaner],
            ),
            Self::Dewetting => row(
                "dewetting",
                "The solder took and drew back again: mounds with a thin film between them.",
                "Clean the metal, then resolder.",
                Conditional,
                &[Solder, Flux, Cleaner],
            ),
            Self::Insufficient => row(
                "insufficient solder",
                "Too little solder: a hollow fillet, or the wall of the hole shows.",
                "Add solder with flux.",
                Conditional,
                &[Solder, Flux],
            ),
            Self::Excess => row(
                "excess solder",
                "So much solder that the lead's shape is hidden: a ball, perhaps against the body.",
                "Take the surplus off with wick.",
                No,
                &[Flux, Wick],
            ),
            Self::Bridge => row(
                "solder bridge",
                "Solder joins two conductors that may be different nets: a bright span between lands.",
                "Wick off and clean; prove the separation with a meter. Look up the nets: \
             some bridges were meant.",
                Yes,
                &[Flux, Wick, Cleaner],
            ),
            Self::SolderSplash => row(
                "solder splash",
                "Solder where none belongs: a fine web, a splash or a loose ball.",
                "Remove it and clean; count what you take off.",
                Conditional,
                &[Wick, Cleaner],
            ),
            Self::Icicle => row(
                "icicle",
                "The solder ends in a sharp point that reaches towards its neighbours.",
                "Reflow with flux until the point is gone.",
                Conditional,
                &[Flux],
            ),
            Self::Pinhole => row(
                "pinhole or blowhole",
                "Gas left a small dark hole or crater in the solder.",
                "Reflow; refill where the bottom of the hole is bare.",
                No,
                &[Solder, Flux],
            ),
            Self::MissingSolder => row(
                "missing solder",
                "A pin stands in its hole with no solder at all.",
                "Clean and solder.",
                Yes,
                &[Solder, Flux],
            ),
            Self::Overheated => row(
                "overheated joint",
                "The joint was cooked: chalky, dull solder, often with brown laminate beside it.",
                "Replace the solder; look at the land and the track beside it.",
                Conditional,
                &[Solder, Flux, Wick],
            ),
            Self::ExposedMetal => row(
                "exposed metal",
                "Copper or the lead's own metal shows through.",
                "Tin or cover it where the place asks for that.",
                No,
                &[Solder, Flux],
            ),
            Self::LiftedLand => row(
                "lifted land",
                "The land has come off the laminate: it tilts, or a shadow lies under its edge.",
                "Repair the land: bond it down or bridge it with wire to the next joint of its net.",
                Yes,
                &[Solder, Flux, Wire, Adhesive],
            ),
            Self::LeadFault => row(
                "lead fault",
                "The lead is too short, badly formed or off its land: no tip shows in the solder.",
                "Re-form the lead or replace the part, then resolder.",
                Conditional,
                &[Solder, Flux, Wick, PartPerhaps],
            ),
            Self::CutConductor => row(
                "cut or damaged track",
                "A track is broken, scored or burnt through.",
                "Repair with wire from joint to joint; prove it with a meter.",
                Yes,
                &[Solder, Flux, Wire],
            ),
            Self::DamagedLaminate => row(
                "damaged laminate",
                "The board itself is charred, parted in layers or spotted white.",
                "Cut out what is charred, prove the insulation, replace burnt tracks with wire.",
                Yes,
                &[Wire, Adhesive, Cleaner],
            ),
            Self::Contamination => row(
                "contamination",
                "Dirt, debris or old flux lies on the board.",
                "Clean, dry and look again.",
                Conditional,
                &[Cleaner],
            ),
            Self::Corroded => row(
                "corrosion",
                "Green or white crust, black copper, or fine whiskers of metal.",
                "Clean to bright metal, find where it came from, re-tin; replace what is eaten away.",
                Conditional,
                &[Solder, Flux, Cleaner, PartPerhaps],
            ),
            Self::DamagedPart => row(
                "damaged part",
                "The body is cracked, chipped or bulged.",
                "Replace the part.",
                Yes,
                &[Solder, Wick, Part],
            ),
            Self::Leaking => row(
                "leaking part",
                "Fluid has come out of the part: a stain, a crust or a domed top.",
                "Replace the part; clean the board under and round it. Wear gloves.",
                Yes,
                &[Solder, Wick, Cleaner, Part],
            ),
            Self::Burnt => row(
                "burnt part",
                "The part is scorched: brown or black body, illegible marking.",
                "Find out what burnt it, then replace the part.",
                Yes,
                &[Solder, Wick, Part],
            ),
            Self::ReversedPolarity => row(
                "reversed polarity",
                "The part stands the wrong way round: its mark is opposite to the board's.",
                "Replace it the right way round; a part that ran reversed is not used again.",
                Yes,
                &[Solder, Wick, Part],
            ),
            Self::WrongPart => row(
                "wrong part",
                "This is not the part that belongs here.",
                "Replace it with the part that the documents ask for.",
                Yes,
                &[Solder, Wick, Part],
            ),
            Self::Missing => row(
                "missing part",
                "A part, link or member of a row is not there.",
                "Fit what is missing after looking up what it was.",
                Yes,
                &[Solder, Flux, Part],
            ),
            Self::Bent => row(
                "bent or uneven member of a row",
                "A member of a row is bent, tilted or stands higher than its neighbours.",
                "Straighten it once and gently; replace it if it cracks.",
                Conditional,
                &[PartPerhaps],
            ),
            Self::LooseSwitch => row(
                "loose switch",
                "The body rocks or tilts in its seat.",
                "Re-seat it, reflow both lugs and all pins; replace it if it still rocks.",
                Conditional,
                &[Solder, Flux, PartPerhaps],
            ),
            Self::CrackedHeader => row(
                "cracked header",
                "A line runs through the plastic of a header or connector.",
                "Replace the housing; until then nothing may hang on its cable.",
                Conditional,
                &[Solder, Wick, Part],
            ),
            Self::LoosePart => row(
                "loose part",
                "Something moves that should be held.",
                "Fasten it; resolder the joints that it has been working on.",
                Conditional,
                &[Solder, Flux],
            ),
            Self::PerishedRubber => row(
                "perished rubber",
                "Rubber has gone hard, sticky or cracked.",
                "Replace it.",
                No,
                &[Part],
            ),
            Self::DirtyContact => row(
                "dirty contact",
                "A contact is dull, dark or furred.",
                "Clean it with a fluid that suits it, then work it a few times.",
                No,
                &[Cleaner],
            ),
            Self::PriorRepair => row(
                "prior repair",
                "Somebody has worked here before: different solder, wire or part.",
                "Compare it with the documents; redo it where it does not hold up.",
                Conditional,
                &[Solder, Flux],
            ),
            Self::OwnersModification => row(
                "owner's modification",
                "Something was changed on purpose.",
                "Ask the owner before you change it; write down what it does.",
                Conditional,
                &[],
            ),
            Self::DamagedCord => row(
                "damaged cord or wiring",
                "Insulation is cut, hard, crushed or pulled out of its relief.",
                "Replace the cord or wire; no tape. Test earth and insulation afterwards.",
                Yes,
                &[Cord],
            ),
            Self::Other => row(
                "other fault",
                "See the note.",
                "Do as the note says; ask if it does not say.",
                Conditional,
                &[],
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    #[test]
    fn every_term_has_its_own_row() {
        let kinds: BTreeSet<_> = FaultKind::ALL.into_iter().collect();
        assert_eq!(kinds.len(), FaultKind::ALL.len());
        let terms: BTreeSet<_> = FaultKind::ALL
            .iter()
            .map(|&k| k.workmanship().term)
            .collect();
        assert_eq!(
            terms.len(),
            FaultKind::ALL.len(),
            "two faults share a term: {terms:?}"
        );
        for kind in FaultKind::ALL {
            let row = kind.workmanship();
            assert!(
                row.meaning.ends_with('.') && row.action.ends_with('.'),
                "{row:?}"
            );
            assert!(!row.action.contains("  "), "{row:?}");
        }
    }

    #[test]
    fn what_blocks_agrees_with_the_published_terms() {
        // Common practice, no source: separated metal, joined nets and wrong or broken parts
        // are mended before power; looks alone never hold it back.
        for kind in [
            FaultKind::Fractured,
            FaultKind::RosinConnection,
            FaultKind::Bridge,
            FaultKind::MissingSolder,
            FaultKind::LiftedLand,
            FaultKind::CutConductor,
            FaultKind::DamagedPart,
            FaultKind::Leaking,
            FaultKind::ReversedPolarity,
            FaultKind::DamagedCord,
        ] {
            assert_eq!(kind.workmanship().blocks, Blocks::Yes, "{kind:?}");
        }
        for kind in [
            FaultKind::Pinhole,
            FaultKind::Excess,
            FaultKind::ExposedMetal,
        ] {
            assert_eq!(kind.workmanship().blocks, Blocks::No, "{kind:?}");
        }
    }

    #[test]
    fn nothing_vouches_for_a_joint() {
        for kind in FaultKind::ALL {
            let row = kind.workmanship();
            let text = format!("{} {} {}", row.term, row.meaning, row.action).to_lowercase();
            for word in ["safe", "sound", " ok", "good", "passes"] {
                assert!(!text.contains(word), "{kind:?} says {word}");
            }
        }
    }
}
