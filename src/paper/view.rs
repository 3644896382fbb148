//! What a slip says, computed once. The writers (HTML, CSV, JSON) only format it.

use schemars::JsonSchema;
use serde::Serialize;

use super::cautions::Caution;
use super::picture::Picture;
use crate::board::Side;

/// Version of the slip's JSON.
pub const SLIP_SCHEMA: u32 = 1;

/// A rework slip. Texts are as people wrote them: a writer must escape them for its format.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SlipView {
    /// Version of this structure; 1.
    pub schema: u32,
    /// Serial number or shop code of the unit.
    pub unit: String,
    /// Its model.
    pub model: String,
    /// What the owner says is wrong.
    pub complaint: String,
    /// The boards of the unit in words, for example `main board`.
    pub boards: Vec<String>,
    /// `Invented sample`, where unit and photographs are the sample's.
    pub sample: Option<String>,
    /// The bench that writes this slip, where it has a name.
    pub bench: String,
    /// Who looked at the unit, each once, in order of first look.
    pub looked_by: Vec<String>,
    /// First and last day of looking, RFC 3339 as recorded; none where nobody looked yet.
    pub looked_on: Option<[String; 2]>,
    /// As of which entry of the record this was written, in words: two papers of one unit can be
    /// told apart by it.
    pub as_of: String,
    /// How many lines.
    pub line_count: usize,
    /// How often the board has to be turned over from the first line to the last.
    pub turns: usize,
    /// The cautions before work.
    pub cautions: Vec<Caution>,
    /// What is dangerous on this very unit: parts that hold charge, areas at mains.
    pub hazards: Vec<String>,
    /// The lines, in the order of walking.
    pub sections: Vec<Section>,
    /// What to have at hand.
    pub materials: Vec<String>,
    /// The fault terms on the slip with what they mean.
    pub terms: Vec<Term>,
    /// What share of the joints somebody has judged, in words, per board and side.
    pub coverage: Vec<String>,
    /// Places whose rework was rechecked and accepted, with who says so.
    pub accepted: Vec<String>,
    /// Places that cannot be judged as they are, with what is in the way.
    pub cannot_judge: Vec<Obstacle>,
    /// What the eye marked before it saw the hint, where both spoke of some joint.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub eye_and_hint: Option<BesideHint>,
    /// How the power stages stand.
    pub gate: Vec<GateLine>,
    /// What this paper does not say.
    pub silent: Vec<String>,
}

/// Lines that are done without turning the board.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Section {
    /// For example `Main board: solder side, as it lies`.
    pub heading: String,
    /// The board's name, where the lines are on a board.
    pub board: Option<String>,
    /// The side that is up.
    pub side: Option<Side>,
    /// Whether the board is turned over to begin this section.
    pub turn: bool,
    /// The lines.
    pub lines: Vec<Line>,
}

/// One line: one place, what is wrong there and what to do.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Line {
    /// Number on the slip, from 1.
    pub number: usize,
    /// The place as read aloud: `J4.3`, `U3.4 to U3.5`, `mains cord`.
    pub place: String,
    /// Full addresses, `main:J4.3/solder`; empty for places off the map.
    pub addresses: Vec<String>,
    /// What stands there: `terminal block, ZONE 2`.
    pub part: String,
    /// The nets of the joints, each once.
    pub nets: Vec<String>,
    /// Where to find it with a ruler: `42 mm from the left edge, 18 mm from the top, as it lies`.
    pub whereabouts: String,
    /// Centre of the place on the board in mm (x right, y up, seen from the component side).
    pub at_mm: Option<[f64; 2]>,
    /// The faults.
    pub faults: Vec<FaultLine>,
    /// The verdict in words, for example `faulty`.
    pub verdict: String,
    /// What speaks for it, sentence by sentence; only what was recorded.
    pub evidence: Vec<String>,
    /// The remark of whoever marked it.
    pub note: String,
    /// What to do, in order.
    pub actions: Vec<String>,
    /// Worst severity of the faults; absent where nobody has named a fault yet.
    pub severity: Option<SeverityWord>,
    /// Cautions of this place.
    pub cautions: Vec<String>,
    /// Where people disagree about it, what each says.
    pub disagreement: Option<String>,
    /// Who marked it.
    pub seen_by: String,
    /// When, RFC 3339.
    pub seen_at: String,
    /// Who did the rework and when, where it is recorded already.
    pub done: Option<Signed>,
    /// Who rechecked it and when, where it is recorded already.
    pub rechecked: Option<Signed>,
    /// The whole side of the board with the place ringed.
    pub overview: Option<Picture>,
    /// The place enlarged.
    pub close_up: Option<Picture>,
}

/// A fault as it stands on a line.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct FaultLine {
    /// Stable code, for example `fractured`.
    pub code: String,
    /// The trade's term.
    pub term: String,
    /// What the term means.
    pub meaning: String,
    /// Its severity.
    pub severity: SeverityWord,
}

/// How bad, in words.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, serde::Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum SeverityWord {
    /// Looks only.
    Cosmetic,
    /// Look again next time.
    Watch,
    /// Mend before the unit leaves.
    FixNow,
    /// Mend before the next power stage.
    BlocksPower,
}

/// What stands for a severity that nobody has given yet.
pub const NOT_DECIDED: &str = "Not decided";

impl SeverityWord {
    /// As it stands on the slip.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Cosmetic => "Cosmetic",
            Self::Watch => "Watch",
            Self::FixNow => "Fix now",
            Self::BlocksPower => "Blocks power",
        }
    }
}

/// A fault term with its meaning.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Term {
    /// The trade's term.
    pub term: String,
    /// What it means.
    pub meaning: String,
}

/// A signature: who and when.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Signed {
    /// Who.
    pub by: String,
    /// When, RFC 3339.
    pub at: String,
}

/// A place that cannot be judged as it is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Obstacle {
    /// The place.
    pub place: String,
    /// What is in the way.
    pub obstacle: String,
}

/// One joint in ten is judged before its hint is shown: what came of those on which the hint had
/// a reading. Counts, not a judgement of either; nothing here clears a joint.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct BesideHint {
    /// In sentences.
    pub words: String,
    /// The eye marked it, and the hint would have asked for it first.
    pub both: usize,
    /// The eye marked it; the hint passed it over.
    pub eye_alone: usize,
    /// The hint would have asked for it first; the eye saw no fault.
    pub hint_alone: usize,
    /// Neither spoke up: which says nothing of the joint.
    pub neither: usize,
    /// Judged, but the hint had no reading there, or none was kept.
    pub without_reading: usize,
    /// Share of what the eye marked that the hint would have asked for first, 95 % (Wilson): low
    /// and high, 0..=1; absent where the eye marked nothing.
    pub hint_of_eye: Option<[f64; 2]>,
}

/// How one power stage stands.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct GateLine {
    /// The stage, for example `Cold checks`.
    pub stage: String,
    /// Whether nothing forbids it.
    pub open: bool,
    /// What it permits, or would permit once nothing is held against it.
    pub permits: String,
    /// Everything that forbids it.
    pub reasons: Vec<String>,
}

impl SlipView {
    /// All lines in order.
    pub fn lines(&self) -> impl Iterator<Item = &Line> {
        self.sections.iter().flat_map(|section| &section.lines)
    }
}
