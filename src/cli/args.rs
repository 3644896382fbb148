//! What can be typed. Only names and types here; meaning is in the command modules.

mod maps;
mod record;

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};

pub(crate) use maps::{MapCommand, WeakArgs};
pub(crate) use record::{
    CheckArg, CloseArgs, ConfirmedArg, GateArgs, MarkArgs, MeasureArgs, ModeArg, NoteArgs,
    OutcomeArg, ReopenArgs, SeverityArg, StageArg, TruthArgs, VerdictArg,
};

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
    Undo(UndoArgs),
    /// Bring back what undo took away.
    Redo(UndoArgs),
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
pub(crate) struct UndoArgs {
    /// The job folder.
    pub job: PathBuf,
    /// Also where somebody else recorded it at this bench.
    #[arg(long)]
    pub yes: bool,
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
    /// With --reference: a corner of the board on the reference, in upright px; repeat in order round
    /// the board. What lies beside it is then left out: two photos taken on one table fit there,
    /// whatever lies on it.
    #[arg(
        long = "edge",
        value_name = "X,Y",
        requires = "reference",
        allow_hyphen_values = true
    )]
    pub edge: Vec<String>,
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
    /// Move each landmark to the middle of the hole or land there, where there is one.
    #[arg(long, conflicts_with_all = ["reference", "against"])]
    pub snap: bool,
}

#[derive(Debug, Args)]
pub(crate) struct FindArgs {
    /// The photo: a file.
    #[arg(long)]
    pub photo: String,
    /// Where to write the joints as CSV with id,x_px,y_px,land_radius_px, as `hint --joints` reads it.
    #[arg(long)]
    pub csv: Option<PathBuf>,
    /// Joints of this photo, five or more and about eight, same columns: looks for others like them,
    /// for boards on which it finds little by itself.
    #[arg(long)]
    pub like: Option<PathBuf>,
    /// Places of this photo that are no joints, same columns.
    #[arg(long, requires = "like")]
    pub unlike: Option<PathBuf>,
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
pub(crate) struct SlipArgs {
    /// The job folder.
    pub job: PathBuf,
    /// Where to write; `exports/` in the job where absent.
    #[arg(long)]
    pub out: Option<PathBuf>,
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
