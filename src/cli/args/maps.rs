//! What can be typed about board maps.

use std::path::PathBuf;

use clap::{Args, Subcommand};

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
    /// Write the map with what was found as its weak-spot notes; it may be the one of --map.
    #[arg(long, value_name = "MAP.json")]
    pub write: Option<PathBuf>,
    /// Write over a file that says something else.
    #[arg(long, requires = "write")]
    pub replace: bool,
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
        /// An earlier map of the board: parts and pins of the same name keep their identity, so
        /// that jobs made with it find their joints again.
        #[arg(long, value_name = "OLD.json")]
        identities_of: Option<PathBuf>,
        /// Write over a file that says something else.
        #[arg(long)]
        replace: bool,
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
        /// Write over another map that stands there.
        #[arg(long)]
        replace: bool,
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
        /// Write over a file that says something else.
        #[arg(long)]
        replace: bool,
    },
    /// How two maps differ, in words: parts, pins, rails and limits.
    Diff {
        /// The earlier map.
        old: PathBuf,
        /// The later map.
        new: PathBuf,
    },
}
