//! The workmanship table: what each fault term means, what it looks like, what is usually done
//! about it and whether it blocks power. Terms are the trade's; every sentence is our own.
//! Which faults block by default is common practice, no source: a technician may override it.

use crate::record::FaultKind;

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
    /// The trade's term, as it starts a sentence.
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

/// Every fault term, in the order of the table.
pub const ALL_FAULTS: [FaultKind; 37] = [
    FaultKind::Fractured,
    FaultKind::Disturbed,
    FaultKind::Cold,
    FaultKind::RosinConnection,
    FaultKind::Nonwetting,
    FaultKind::Dewetting,
    FaultKind::Insufficient,
    FaultKind::Excess,
    FaultKind::Bridge,
    FaultKind::SolderSplash,
    FaultKind::Icicle,
    FaultKind::Pinhole,
    FaultKind::MissingSolder,
    FaultKind::Overheated,
    FaultKind::ExposedMetal,
    FaultKind::LiftedLand,
    FaultKind::LeadFault,
    FaultKind::CutConductor,
    FaultKind::DamagedLaminate,
    FaultKind::Contamination,
    FaultKind::Corroded,
    FaultKind::DamagedPart,
    FaultKind::Leaking,
    FaultKind::Burnt,
    FaultKind::ReversedPolarity,
    FaultKind::WrongPart,
    FaultKind::Missing,
    FaultKind::Bent,
    FaultKind::LooseSwitch,
    FaultKind::CrackedHeader,
    FaultKind::LoosePart,
    FaultKind::PerishedRubber,
    FaultKind::DirtyContact,
    FaultKind::PriorRepair,
    FaultKind::OwnersModification,
    FaultKind::DamagedCord,
    FaultKind::Other,
];

/// The row of one fault term.
#[must_use]
pub fn workmanship(fault: FaultKind) -> Workmanship {
    match fault {
        FaultKind::Fractured
        | FaultKind::Disturbed
        | FaultKind::Cold
        | FaultKind::RosinConnection
        | FaultKind::Nonwetting
        | FaultKind::Dewetting
        | FaultKind::Overheated => bond(fault),
        FaultKind::Insufficient
        | FaultKind::Excess
        | FaultKind::Bridge
        | FaultKind::SolderSplash
        | FaultKind::Icicle
        | FaultKind::Pinhole
        | FaultKind::MissingSolder => amount(fault),
        FaultKind::ExposedMetal
        | FaultKind::LiftedLand
        | FaultKind::LeadFault
        | FaultKind::CutConductor
        | FaultKind::DamagedLaminate
        | FaultKind::Contamination
        | FaultKind::Corroded => board(fault),
        FaultKind::DamagedPart
        | FaultKind::Leaking
        | FaultKind::Burnt
        | FaultKind::ReversedPolarity
        | FaultKind::WrongPart
        | FaultKind::Missing => part(fault),
        _ => mechanical(fault),
    }
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

/// Faults of the bond between solder and metal.
fn bond(fault: FaultKind) -> Workmanship {
    match fault {
        FaultKind::Fractured => row(
            "Fractured",
            "The solder has parted: a thin dark line, often a ring or part of one round the pin.",
            "Remove the old solder and resolder; find what moves the part.",
            Yes,
            &[Solder, Flux, Wick],
        ),
        FaultKind::Disturbed => row(
            "Disturbed",
            "The joint moved while the solder froze: a frosty, wrinkled skin.",
            "Reflow with flux and hold everything still until it has frozen.",
            Conditional,
            &[Solder, Flux],
        ),
        FaultKind::RosinConnection => row(
            "Rosin connection",
            "A film of flux keeps lead and solder apart: an amber layer between them.",
            "Clean the lead and the land, then solder anew.",
            Yes,
            &[Solder, Flux, Wick, Cleaner],
        ),
        FaultKind::Nonwetting => row(
            "Nonwetting",
            "The solder never took: bare metal shows and the edge of the solder stands up steeply.",
            "Clean and tin the metal, then resolder.",
            Conditional,
            &[Solder, Flux, Cleaner],
        ),
        FaultKind::Dewetting => row(
            "Dewetting",
            "The solder took and drew back again: mounds with a thin film between them.",
            "Clean the metal, then resolder.",
            Conditional,
            &[Solder, Flux, Cleaner],
        ),
        FaultKind::Overheated => row(
            "Overheated",
            "The joint was cooked: chalky, dull solder, often with brown laminate beside it.",
            "Replace the solder; look at the land and the track beside it.",
            Conditional,
            &[Solder, Flux, Wick],
        ),
        _ => row(
            "Cold",
            "Too little heat reached the joint: grey, lumpy solder with pores.",
            "Reflow with flux and enough heat for land and lead alike.",
            Conditional,
            &[Solder, Flux],
        ),
    }
}

/// Too much, too little, or solder where none belongs.
fn amount(fault: FaultKind) -> Workmanship {
    match fault {
        FaultKind::Insufficient => row(
            "Insufficient solder",
            "Too little solder: a hollow fillet, or the wall of the hole shows.",
            "Add solder with flux.",
            Conditional,
            &[Solder, Flux],
        ),
        FaultKind::Excess => row(
            "Excess solder",
            "So much solder that the lead's shape is hidden: a ball, perhaps against the body.",
            "Take the surplus off with wick.",
            No,
            &[Flux, Wick],
        ),
        FaultKind::Bridge => row(
            "Bridge",
            "Solder joins two conductors that may be different nets: a bright span between lands.",
            "Wick off and clean; prove the separation with a meter. Look up the nets: \
             some bridges were meant.",
            Yes,
            &[Flux, Wick, Cleaner],
        ),
        FaultKind::SolderSplash => row(
            "Stray solder",
            "Solder where none belongs: a fine web, a splash or a loose ball.",
            "Remove it and clean; count what you take off.",
            Conditional,
            &[Wick, Cleaner],
        ),
        FaultKind::Icicle => row(
            "Icicle",
            "The solder ends in a sharp point that reaches towards its neighbours.",
            "Reflow with flux until the point is gone.",
            Conditional,
            &[Flux],
        ),
        FaultKind::Pinhole => row(
            "Pinhole or blowhole",
            "Gas left a small dark hole or crater in the solder.",
            "Reflow; refill where the bottom of the hole is bare.",
            No,
            &[Solder, Flux],
        ),
        _ => row(
            "No solder",
            "A pin stands in its hole with no solder at all.",
            "Clean and solder.",
            Yes,
            &[Solder, Flux],
        ),
    }
}

/// Faults of lands, leads, tracks, laminate and its surface.
fn board(fault: FaultKind) -> Workmanship {
    match fault {
        FaultKind::ExposedMetal => row(
            "Exposed base metal",
            "Copper or the lead's own metal shows through.",
            "Tin or cover it where the place asks for that.",
            No,
            &[Solder, Flux],
        ),
        FaultKind::LiftedLand => row(
            "Lifted land",
            "The land has come off the laminate: it tilts, or a shadow lies under its edge.",
            "Repair the land: bond it down or bridge it with wire to the next joint of its net.",
            Yes,
            &[Solder, Flux, Wire, Adhesive],
        ),
        FaultKind::LeadFault => row(
            "Lead fault",
            "The lead is too short, badly formed or off its land: no tip shows in the solder.",
            "Re-form the lead or replace the part, then resolder.",
            Conditional,
            &[Solder, Flux, Wick, PartPerhaps],
        ),
        FaultKind::CutConductor => row(
            "Cut conductor",
            "A track is broken, scored or burnt through.",
            "Repair with wire from joint to joint; prove it with a meter.",
            Yes,
            &[Solder, Flux, Wire],
        ),
        FaultKind::DamagedLaminate => row(
            "Damaged laminate",
            "The board itself is charred, parted in layers or spotted white.",
            "Cut out what is charred, prove the insulation, replace burnt tracks with wire.",
            Yes,
            &[Wire, Adhesive, Cleaner],
        ),
        FaultKind::Contamination => row(
            "Contamination",
            "Dirt, debris or old flux lies on the board.",
            "Clean, dry and look again.",
            Conditional,
            &[Cleaner],
        ),
        _ => row(
            "Corroded",
            "Green or white crust, black copper, or fine whiskers of metal.",
            "Clean to bright metal, find where it came from, re-tin; replace what is eaten away.",
            Conditional,
            &[Solder, Flux, Cleaner, PartPerhaps],
        ),
    }
}

/// Faults of a part.
fn part(fault: FaultKind) -> Workmanship {
    match fault {
        FaultKind::DamagedPart => row(
            "Damaged part",
            "The body is cracked, chipped or bulged.",
            "Replace the part.",
            Yes,
            &[Solder, Wick, Part],
        ),
        FaultKind::Leaking => row(
            "Leaking",
            "Fluid has come out of the part: a stain, a crust or a domed top.",
            "Replace the part; clean the board under and round it. Wear gloves.",
            Yes,
            &[Solder, Wick, Cleaner, Part],
        ),
        FaultKind::Burnt => row(
            "Burnt",
            "The part is scorched: brown or black body, illegible marking.",
            "Find out what burnt it, then replace the part.",
            Yes,
            &[Solder, Wick, Part],
        ),
        FaultKind::ReversedPolarity => row(
            "Reversed polarity",
            "The part stands the wrong way round: its mark is opposite to the board's.",
            "Replace it the right way round; a part that ran reversed is not used again.",
            Yes,
            &[Solder, Wick, Part],
        ),
        FaultKind::WrongPart => row(
            "Wrong part",
            "This is not the part that belongs here.",
            "Replace it with the part that the documents ask for.",
            Yes,
            &[Solder, Wick, Part],
        ),
        _ => row(
            "Missing",
            "A part, link or member of a row is not there.",
            "Fit what is missing after looking up what it was.",
            Yes,
            &[Solder, Flux, Part],
        ),
    }
}

/// Mechanical faults of old equipment, and what others did to it.
fn mechanical(fault: FaultKind) -> Workmanship {
    match fault {
        FaultKind::Bent => row(
            "Bent or uneven",
            "A member of a row is bent, tilted or stands higher than its neighbours.",
            "Straighten it once and gently; replace it if it cracks.",
            Conditional,
            &[PartPerhaps],
        ),
        FaultKind::LooseSwitch => row(
            "Loose switch",
            "The body rocks or tilts in its seat.",
            "Re-seat it, reflow both lugs and all pins; replace it if it still rocks.",
            Conditional,
            &[Solder, Flux, PartPerhaps],
        ),
        FaultKind::CrackedHeader => row(
            "Cracked housing",
            "A line runs through the plastic of a header or connector.",
            "Replace the housing; until then nothing may hang on its cable.",
            Conditional,
            &[Solder, Wick, Part],
        ),
        FaultKind::LoosePart => row(
            "Loose part or fastener",
            "Something moves that should be held.",
            "Fasten it; resolder the joints that it has been working on.",
            Conditional,
            &[Solder, Flux],
        ),
        FaultKind::PerishedRubber => row(
            "Perished rubber",
            "Rubber has gone hard, sticky or cracked.",
            "Replace it.",
            No,
            &[Part],
        ),
        FaultKind::DirtyContact => row(
            "Dirty contact",
            "A contact is dull, dark or furred.",
            "Clean it with a fluid that suits it, then work it a few times.",
            No,
            &[Cleaner],
        ),
        FaultKind::PriorRepair => row(
            "Earlier repair",
            "Somebody has worked here before: different solder, wire or part.",
            "Compare it with the documents; redo it where it does not hold up.",
            Conditional,
            &[Solder, Flux],
        ),
        FaultKind::OwnersModification => row(
            "Owner's modification",
            "Something was changed on purpose.",
            "Ask the owner before you change it; write down what it does.",
            Conditional,
            &[],
        ),
        FaultKind::DamagedCord => row(
            "Damaged cord or wiring",
            "Insulation is cut, hard, crushed or pulled out of its relief.",
            "Replace the cord or wire; no tape. Test earth and insulation afterwards.",
            Yes,
            &[Cord],
        ),
        _ => row(
            "Other fault",
            "See the note.",
            "Do as the note says; ask if it does not say.",
            Conditional,
            &[],
        ),
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    #[test]
    fn every_term_has_its_own_row() {
        let kinds: BTreeSet<_> = ALL_FAULTS.into_iter().collect();
        assert_eq!(kinds.len(), ALL_FAULTS.len());
        let terms: BTreeSet<_> = ALL_FAULTS.iter().map(|&k| workmanship(k).term).collect();
        assert_eq!(
            terms.len(),
            ALL_FAULTS.len(),
            "two faults share a term: {terms:?}"
        );
        for kind in ALL_FAULTS {
            let row = workmanship(kind);
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
            assert_eq!(workmanship(kind).blocks, Blocks::Yes, "{kind:?}");
        }
        for kind in [
            FaultKind::Pinhole,
            FaultKind::Excess,
            FaultKind::ExposedMetal,
        ] {
            assert_eq!(workmanship(kind).blocks, Blocks::No, "{kind:?}");
        }
    }

    #[test]
    fn nothing_vouches_for_a_joint() {
        for kind in ALL_FAULTS {
            let row = workmanship(kind);
            let text = format!("{} {} {}", row.term, row.meaning, row.action).to_lowercase();
            for word in ["safe", "sound", " ok", "good", "passes"] {
                assert!(!text.contains(word), "{kind:?} says {word}");
            }
        }
    }
}
