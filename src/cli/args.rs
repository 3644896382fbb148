//! What can be typed. Only names and types here; meaning is in the command modules.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};

/// Look over old electronics before power goes on: know where you are on the board, what you
/// have not looked at, what forbids the next power stage, and hand over a rework list.
#[derive(Debug, Parser)]
#[command(name = "benchglass", version, about, arg_required_else_help = false)]
pub(crate) struct Cli {
    /// Print one JSON document on stdout instead of text.
    #[arg(long, global = true)]
    pub json: bool,
    /// Your name or initials, kept with everything you record.
    #[arg(long, global = true, env = "BENCHGLASS_BY")]
    pub by: Option<String>,
    #[command(subcommand)]
    pub command: Option<Command>,
}

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Run the whole job once on the invented sample boards, without a window.
    Tour(TourArgs),
    /// Begin a job for one unit: makes the job folder.
    Start(StartArgs),
    /// Bring photos into a job; originals are copied and never altered.
    Add(AddArgs),
    /// Tell where a photo looks: by landmarks in a job, or one photo against another.
    Align(AlignArgs),
    /// Find the solder joints of a photo with no map: places, rows, scale, the odd one out.
    Find(FindArgs),
    /// Rank the joints of a photo by how much they look cracked. A hint, never a verdict.
    Hint(HintArgs),
    /// Compare the hint with known truth: a folder of photos with lists of joints and of truth.
    Evaluate(EvaluateArgs),
    /// Write the judged joints of a job, with their photos and how they were confirmed, as a set
    /// that `evaluate` reads.
    Truth(TruthArgs),
    /// Show where a photo has dark lines: hairlines in joints, tracks, boards, housings.
    Darkline(DarklineArgs),
    /// Show where a photo can be judged and where it cannot, with the advice that mends it.
    Quality(QualityArgs),
    /// Say what you saw: no fault seen, suspect, faulty, reworked, accepted, cannot be judged.
    Mark(MarkArgs),
    /// Write down a reading, a check before power, or a function test.
    Measure(MeasureArgs),
    /// Ask whether the next power stage may begin, and every reason why not.
    Gate(GateArgs),
    /// What has been looked at, and what has not.
    Coverage(JobArgs),
    /// Write the rework slip: a page to print, a table and a data file.
    Slip(SlipArgs),
    /// Prove that a job is whole: journal chain, originals, maps.
    Verify(JobArgs),
    /// Note that the unit was opened or touched: earlier readings and checks become stale.
    Reopen(ReopenArgs),
    /// Note that the unit was closed up.
    Close(CloseArgs),
    /// Take back the last thing this bench recorded.
    Undo(JobArgs),
    /// Bring back what undo took away.
    Redo(JobArgs),
    /// Everything that was recorded, in words.
    History(JobArgs),
    /// Keep a remark.
    Note(NoteArgs),
    /// What was found on earlier units of a model: how often, of how many looked at.
    Weak(WeakArgs),
    /// Check, import, keep, compare or adopt a board map.
    #[command(subcommand)]
    Map(MapCommand),
    /// Render the invented sample boards with their known truth.
    Samples(SamplesArgs),
    /// Open the window.
    Open(OpenArgs),
}

#[derive(Debug, Args)]
pub(crate) struct TourArgs {
    /// Folder to make; must not exist yet, or hold an earlier tour.
    #[arg(long, default_value = "benchglass-tour")]
    pub out: PathBuf,
    /// Folder of sample boards; where absent, `sample-boards` here or beside the program, or rendered anew.
    #[arg(long)]
    pub samples: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub(crate) struct JobArgs {
    /// The job folder.
    pub job: PathBuf,
}

#[derive(Debug, Args)]
pub(crate) struct StartArgs {
    /// The job folder to make.
    pub job: PathBuf,
    /// Serial number or shop code of the unit.
    #[arg(long)]
    pub unit: String,
    /// The equipment model.
    #[arg(long)]
    pub model: String,
    /// What the owner says is wrong.
    #[arg(long, default_value = "")]
    pub complaint: String,
    /// Board map to adopt; repeat for each board. Where left out, the newest maps that the
    /// library has of the model.
    #[arg(long = "map")]
    pub maps: Vec<PathBuf>,
    /// Begin without a map, whatever the library has.
    #[arg(long, conflicts_with = "maps")]
    pub without_map: bool,
}

#[derive(Debug, Args)]
pub(crate) struct WeakArgs {
    /// Job folders of earlier units; the jobs that this bench knows where left out.
    pub jobs: Vec<PathBuf>,
    /// The equipment model; that of the map where left out.
    #[arg(long)]
    pub model: Option<String>,
    /// The map to name places by; where left out, the maps of the jobs.
    #[arg(long)]
    pub map: Option<PathBuf>,
    /// Only this board.
    #[arg(long)]
    pub board: Option<String>,
    /// Write the map with what was found as its weak-spot notes.
    #[arg(long, value_name = "MAP.json")]
    pub write: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub(crate) struct AddArgs {
    /// The job folder.
    pub job: PathBuf,
    /// Photos and folders of photos.
    #[arg(required = true)]
    pub paths: Vec<PathBuf>,
    /// The board that all of them show.
    #[arg(long)]
    pub board: Option<String>,
    /// The side that all of them show.
    #[arg(long, value_enum, requires = "board")]
    pub side: Option<SideArg>,
}

/// A side of a board.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub(crate) enum SideArg {
    /// Where the parts stand.
    Component,
    /// Where they are soldered.
    Solder,
}

#[derive(Debug, Args)]
pub(crate) struct AlignArgs {
    /// The job folder (for alignment by landmarks).
    pub job: Option<PathBuf>,
    /// The photo: a file, or in a job a name or the first letters of its hash.
    #[arg(long)]
    pub photo: String,
    /// Another photo of the same face: find the transform without landmarks.
    #[arg(long, conflicts_with_all = ["job", "place", "landmarks"])]
    pub reference: Option<PathBuf>,
    /// In a job: match the photo with this aligned photo of the same side, without landmarks.
    /// With neither this nor landmarks, the aligned photos of the job are tried.
    #[arg(long, conflicts_with_all = ["reference", "place", "landmarks"])]
    pub against: Option<String>,
    /// The board that the photo shows.
    #[arg(long)]
    pub board: Option<String>,
    /// The side that the photo shows.
    #[arg(long, value_enum)]
    pub side: Option<SideArg>,
    /// A landmark and where it is in the upright photo: `NAME=X,Y` in pixels; repeat.
    #[arg(long = "place", value_name = "NAME=X,Y")]
    pub place: Vec<String>,
    /// Landmarks from a CSV file with the columns name,x_px,y_px.
    #[arg(long)]
    pub landmarks: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub(crate) struct FindArgs {
    /// The photo: a file.
    #[arg(long)]
    pub photo: String,
    /// Where to write the joints as CSV with id,x_px,y_px,land_radius_px, as `hint --joints` reads it.
    #[arg(long)]
    pub csv: Option<PathBuf>,
    /// A list of joints made by hand to compare with, same columns.
    #[arg(long)]
    pub truth: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub(crate) struct DarklineArgs {
    /// The photo: a file.
    pub photo: PathBuf,
    /// The picture to write: 16-bit grey PNG, the size of the upright photo.
    #[arg(short, long)]
    pub out: PathBuf,
}

#[derive(Debug, Args)]
pub(crate) struct QualityArgs {
    /// The photo: a file.
    pub photo: PathBuf,
    /// Cells across the photo, 1 to 64; as many rows as keep the cells square.
    #[arg(long, default_value_t = 12)]
    pub columns: u32,
    /// Scale of the photo, where it is known.
    #[arg(long)]
    pub px_per_mm: Option<f64>,
}

#[derive(Debug, Args)]
pub(crate) struct HintArgs {
    /// The job folder, for an aligned photo of a job.
    pub job: Option<PathBuf>,
    /// The photo: a file, or in a job a name or the first letters of its hash.
    #[arg(long)]
    pub photo: String,
    /// Joints of a loose photo: CSV with id,x_px,y_px,land_radius_px[,pin_radius_px]; where absent, they
    /// are found by themselves.
    #[arg(long)]
    pub joints: Option<PathBuf>,
    /// How many of the most suspect joints to print (text only).
    #[arg(long, default_value_t = 12)]
    pub top: usize,
}

#[derive(Debug, Args)]
pub(crate) struct EvaluateArgs {
    /// Folder with NAME.jpg, NAME_joints.csv and NAME_truth.csv, or photo.jpg, joints.csv and truth.csv.
    pub folder: PathBuf,
    /// Redraw whole folders instead of photos for the intervals: for several photos of one board.
    #[arg(long)]
    pub by_folder: bool,
    /// Seed of the redraws.
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    /// Write the reliability plot here (SVG).
    #[arg(long)]
    pub plot: Option<PathBuf>,
}

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
    #[arg(long, group = "subject")]
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
    /// Volts, direct.
    #[arg(long, allow_hyphen_values = true)]
    pub volts: Option<String>,
    /// Millivolts peak-to-peak.
    #[arg(long, allow_hyphen_values = true)]
    pub mv_pp: Option<String>,
    /// Direct offset under an alternating level, volts.
    #[arg(long, allow_hyphen_values = true)]
    pub offset_volts: Option<String>,
    /// Ohm.
    #[arg(long, allow_hyphen_values = true)]
    pub ohm: Option<String>,
    /// Hertz.
    #[arg(long, allow_hyphen_values = true)]
    pub hertz: Option<String>,
    /// Amperes, direct.
    #[arg(long, allow_hyphen_values = true)]
    pub amperes: Option<String>,
    /// How a control stood: `NAME=POSITION`; repeat.
    #[arg(long = "set", value_name = "NAME=POSITION")]
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
pub(crate) struct SlipArgs {
    /// The job folder.
    pub job: PathBuf,
    /// Where to write; `exports/` in the job where absent.
    #[arg(long)]
    pub out: Option<PathBuf>,
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
    #[arg(required_unless_present = "lines", default_value = "")]
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

#[derive(Debug, Subcommand)]
pub(crate) enum MapCommand {
    /// Check a map and name every fault with its place and remedy.
    Check {
        /// The map.
        map: PathBuf,
    },
    /// Make a map from a published format; asks where the file leaves something open.
    Import {
        /// What to import, told by its contents: centroid CSV, IPC-D-356, or the Gerber files
        /// (X2 or X3 attributes) of one board.
        #[arg(required = true)]
        files: Vec<PathBuf>,
        /// Where to write the map.
        #[arg(short, long)]
        out: PathBuf,
        /// What the file leaves open, as the question offers it: `units=mm`; repeat.
        #[arg(long = "answer", value_name = "KEY=VALUE")]
        answers: Vec<String>,
        /// Model name for the map.
        #[arg(long)]
        model: String,
        /// Board name for the map.
        #[arg(long)]
        board: String,
    },
    /// Make a map by a file of edits, the steps of the window's page (docs/map-making.md).
    Make {
        /// The edits: a JSON list.
        edits: PathBuf,
        /// Where to write the map.
        #[arg(short, long)]
        out: PathBuf,
        /// A map to go on with.
        #[arg(long)]
        from: Option<PathBuf>,
        /// Model name for a new map.
        #[arg(long, default_value = "unnamed model")]
        model: String,
        /// Board name for a new map.
        #[arg(long, default_value = "main")]
        board: String,
    },
    /// Write a map's parts as centroid CSV.
    Export {
        /// The map.
        map: PathBuf,
        /// Where to write the table.
        #[arg(short, long)]
        out: PathBuf,
    },
    /// Adopt a map into a job; without a map, say what the library has that is newer, and how
    /// it differs.
    Adopt {
        /// The job folder.
        job: PathBuf,
        /// The map.
        map: Option<PathBuf>,
        /// Adopt the newest maps of the library.
        #[arg(long, conflicts_with = "map")]
        newest: bool,
    },
    /// Keep a map in the library as the newest revision of its model and board.
    Keep {
        /// The map.
        map: PathBuf,
        /// What changed, or where it comes from.
        #[arg(long, default_value = "")]
        note: String,
    },
    /// What the library has: the newest map of every board, or every revision for one model.
    List {
        /// The equipment model.
        model: Option<String>,
    },
    /// Copy a map out of the library, to look at or to change.
    Take {
        /// The equipment model.
        model: String,
        /// The board, where the model has several.
        #[arg(long)]
        board: Option<String>,
        /// First digits of a revision's hash; the newest where left out.
        #[arg(long)]
        revision: Option<String>,
        /// Where to write it.
        #[arg(short, long)]
        out: PathBuf,
    },
    /// How two maps differ, in words: parts, pins, rails and limits.
    Diff {
        /// The earlier map.
        old: PathBuf,
        /// The later map.
        new: PathBuf,
    },
}

#[derive(Debug, Args)]
pub(crate) struct SamplesArgs {
    /// Folder to write.
    #[arg(long)]
    pub out: PathBuf,
    /// Seed; the same seed gives the same pictures.
    #[arg(long, default_value_t = 12)]
    pub seed: u64,
}

#[derive(Debug, Args)]
pub(crate) struct OpenArgs {
    /// The job folder.
    pub job: Option<PathBuf>,
}
