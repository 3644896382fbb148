//! What can be typed to record: marks, readings, stages of the gate, remarks.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

#[derive(Debug, Args)]
pub(crate) struct MarkArgs {
    /// The job folder.
    pub job: PathBuf,
    /// Joints or a part: `J4.3`, `main:J4.3/solder`, `J4.1-16`, `SW2`; several allowed.
    pub places: Vec<String>,
    /// What you say of them.
    #[arg(long, value_enum)]
    pub verdict: VerdictArg,
    /// Fault in the trade's term, for example fractured, bridge, loose-switch; repeat for several.
    #[arg(long)]
    pub fault: Vec<String>,
    /// How bad; where absent, what the fault usually is.
    #[arg(long, value_enum)]
    pub severity: Option<SeverityArg>,
    /// What to do; where absent, the usual action of the fault.
    #[arg(long, default_value = "")]
    pub action: String,
    /// Remark.
    #[arg(long, default_value = "")]
    pub note: String,
    /// What is in the way, for cannot-be-judged.
    #[arg(long, default_value = "")]
    pub obstacle: String,
    /// The photo you looked at: name or first letters of its hash.
    #[arg(long)]
    pub photo: Option<String>,
    /// A place on that photo that no map covers: `X,Y` or `X,Y,RADIUS` in upright pixels.
    #[arg(long, requires = "photo")]
    pub at_px: Option<String>,
    /// A rectangle of a board in mm: `BOARD/SIDE:X1,Y1,X2,Y2`.
    #[arg(long)]
    pub area: Option<String>,
    /// Something of the unit that is on no board, for example "mains cord".
    #[arg(long)]
    pub unit_part: Option<String>,
    /// How you found out whether the joint is cracked, beyond looking.
    #[arg(long, value_enum)]
    pub confirmed_by: Option<ConfirmedArg>,
}

/// How it was found out whether a joint is cracked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum ConfirmedArg {
    /// It moved under a probe (or, with no-fault-seen, did not).
    Probe,
    /// It was reflowed, and that cured the fault.
    Reflow,
    /// It was cut and looked at in section.
    Section,
}

#[derive(Debug, Args)]
pub(crate) struct TruthArgs {
    /// The job folder.
    pub job: PathBuf,
    /// Folder to make; it must not exist yet. Nothing is sent anywhere.
    #[arg(long)]
    pub out: PathBuf,
    /// How joints were confirmed where the job does not say so: `PLACE=probe`, `=reflow` or
    /// `=section`, for example `J4.3=probe`; repeat.
    #[arg(long = "confirmed-by", value_name = "PLACE=HOW")]
    pub confirmed_by: Vec<String>,
}

/// A verdict.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum VerdictArg {
    /// You looked and saw no fault.
    NoFaultSeen,
    /// Worth a second look.
    Suspect,
    /// A fault.
    Faulty,
    /// Rework was done.
    Reworked,
    /// The rework was rechecked and accepted.
    Accepted,
    /// Something is in the way.
    CannotBeJudged,
}

/// A severity.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub(crate) enum SeverityArg {
    /// Mend before the next power stage.
    BlocksPower,
    /// Mend before the unit leaves.
    FixNow,
    /// Look again next time.
    Watch,
    /// Looks only.
    Cosmetic,
}

#[derive(Debug, Args)]
pub(crate) struct MeasureArgs {
    /// The job folder.
    pub job: PathBuf,
    /// The board, where the job has several.
    #[arg(long)]
    pub board: Option<String>,
    /// Rail by its name in the map, for example "+12 V".
    #[arg(long, group = "subject", allow_hyphen_values = true)]
    pub rail: Option<String>,
    /// Test point by its name in the map.
    #[arg(long, group = "subject")]
    pub test_point: Option<String>,
    /// A check before power.
    #[arg(long, value_enum, group = "subject")]
    pub check: Option<CheckArg>,
    /// A function test, in words.
    #[arg(long, group = "subject")]
    pub function: Option<String>,
    /// State of the supply for a rail reading.
    #[arg(long, value_enum)]
    pub mode: Option<ModeArg>,
    /// Volts, direct; with `--check stored-charge`, what the meter showed.
    #[arg(long, allow_hyphen_values = true, conflicts_with = "function")]
    pub volts: Option<String>,
    /// Millivolts peak-to-peak.
    #[arg(long, allow_hyphen_values = true, conflicts_with_all = ["check", "function"])]
    pub mv_pp: Option<String>,
    /// Direct offset under an alternating level, volts.
    #[arg(long, allow_hyphen_values = true, conflicts_with_all = ["check", "function"])]
    pub offset_volts: Option<String>,
    /// Ohm.
    #[arg(long, allow_hyphen_values = true, conflicts_with_all = ["check", "function"])]
    pub ohm: Option<String>,
    /// Hertz.
    #[arg(long, allow_hyphen_values = true, conflicts_with_all = ["check", "function"])]
    pub hertz: Option<String>,
    /// Amperes, direct.
    #[arg(long, allow_hyphen_values = true, conflicts_with_all = ["check", "function"])]
    pub amperes: Option<String>,
    /// How a control stood: `NAME=POSITION`; repeat.
    #[arg(long = "set", value_name = "NAME=POSITION", conflicts_with_all = ["check", "function"])]
    pub settings: Vec<String>,
    /// How a check or function test came out.
    #[arg(long, value_enum)]
    pub outcome: Option<OutcomeArg>,
    /// Remark.
    #[arg(long, default_value = "")]
    pub note: String,
}

/// A check before power.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub(crate) enum CheckArg {
    /// Mains cord and strain relief.
    Cord,
    /// Plug and its fuse.
    Plug,
    /// Earth continuity, plug to metalwork.
    EarthContinuity,
    /// Fuse type and rating.
    FuseRating,
    /// Voltage selector.
    VoltageSelector,
    /// Stored charge, measured.
    StoredCharge,
}

/// State of the supply.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub(crate) enum ModeArg {
    /// Power off: resistance rail to return.
    Cold,
    /// Supply alone, load unplugged.
    Unloaded,
    /// Load connected.
    Loaded,
}

/// How a check came out.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub(crate) enum OutcomeArg {
    /// In order.
    Passed,
    /// Not in order.
    Failed,
    /// This equipment has no such thing (say why with --note).
    NotFitted,
}

#[derive(Debug, Args)]
pub(crate) struct GateArgs {
    /// The job folder.
    pub job: PathBuf,
    /// The stage whose checks are asked; all five where absent.
    #[arg(long, value_enum)]
    pub stage: Option<StageArg>,
    /// Change what share of safety and supply joints the shop demands before power, 0 to 1.
    #[arg(long)]
    pub demand_before_power: Option<f64>,
    /// Change what share of all joints the shop demands before closing up, 0 to 1.
    #[arg(long)]
    pub demand_before_closing: Option<f64>,
    /// Change the least scale of a look at a photo that counts, px/mm.
    #[arg(long)]
    pub demand_px_per_mm: Option<f64>,
}

/// A stage of the gate.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub(crate) enum StageArg {
    /// Cold checks.
    Cold,
    /// Supply alone.
    Supply,
    /// Load connected.
    Load,
    /// Function.
    Function,
    /// Closed up.
    Closed,
}

#[derive(Debug, Args)]
pub(crate) struct ReopenArgs {
    /// The job folder.
    pub job: PathBuf,
    /// The board that was touched; all where absent.
    #[arg(long)]
    pub board: Option<String>,
    /// A part that was unplugged and plugged again, or reseated.
    #[arg(long, requires = "board")]
    pub part: Option<String>,
    /// Why.
    #[arg(long)]
    pub reason: String,
}

#[derive(Debug, Args)]
pub(crate) struct NoteArgs {
    /// The job folder.
    pub job: PathBuf,
    /// The remark.
    #[arg(
        required_unless_present = "lines",
        conflicts_with = "lines",
        default_value = ""
    )]
    pub text: String,
    /// The photo that it belongs to.
    #[arg(long)]
    pub photo: Option<String>,
    /// Take remarks from standard input, one a line, and confirm each once it is on the disk.
    #[arg(long)]
    pub lines: bool,
}

#[derive(Debug, Args)]
pub(crate) struct CloseArgs {
    /// The job folder.
    pub job: PathBuf,
    /// Remark.
    #[arg(long, default_value = "")]
    pub note: String,
}
