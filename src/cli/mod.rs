//! Faces: the command line. Reads arguments, calls use cases, prints; decides nothing.

mod align;
mod args;
mod darkline;
mod evaluate;
mod exit;
mod find;
mod gate;
mod hint;
mod job;
mod library;
mod map;
mod map_make;
mod mark;
mod measure;
mod note;
mod out;
mod papers;
mod parse;
mod quality;
mod tour;
mod truth;
mod weak;

use std::path::Path;
use std::process::ExitCode;

use clap::Parser as _;

use crate::work::{Session, WorkError};
use args::{Cli, Command};
use exit::Ending;

/// What every command gets.
struct Context {
    json: bool,
    by: String,
}

impl Context {
    /// Opens a job to record in it; what is the matter with its files is said on stderr.
    fn open(&self, job: &Path) -> Result<Session, WorkError> {
        let session = Session::open(job, &self.by)?;
        for warning in session.warnings() {
            out::remark(&format!("Mind: {warning}"));
        }
        Ok(session)
    }
}

/// Runs the command line of this process.
#[must_use]
pub fn run() -> ExitCode {
    let cli = Cli::parse();
    let context = Context {
        json: cli.json,
        by: cli.by.unwrap_or_else(who),
    };
    let ended = match cli.command {
        None => open_window(None),
        Some(Command::Open(args)) => open_window(args.job),
        Some(command) => dispatch(&context, command),
    };
    match ended {
        Ok(ending) => ending.into(),
        Err(error) => exit::fail(&error, context.json).into(),
    }
}

fn dispatch(context: &Context, command: Command) -> Result<Ending, WorkError> {
    match command {
        Command::Tour(args) => tour::tour(context, &args),
        Command::Start(args) => job::start(context, args),
        Command::Add(args) => job::add(context, &args),
        Command::Align(args) => align::align(context, &args),
        Command::Find(args) => find::find(context, &args),
        Command::Darkline(args) => darkline::darkline(context, &args),
        Command::Hint(args) => hint::hint(context, &args),
        Command::Evaluate(args) => evaluate::evaluate(context, &args),
        Command::Truth(args) => truth::truth(context, &args),
        Command::Quality(args) => quality::quality(context, &args),
        Command::Mark(args) => mark::mark(context, args),
        Command::Measure(args) => measure::measure(context, args),
        Command::Gate(args) => gate::gate(context, &args),
        Command::Coverage(args) => gate::coverage(context, &args.job),
        Command::Slip(args) => papers::slip(context, &args),
        Command::Verify(args) => job::verify(context, &args.job),
        Command::Reopen(args) => job::reopen(context, args),
        Command::Close(args) => job::close(context, args),
        Command::Undo(args) => job::undo(context, &args),
        Command::Redo(args) => job::redo(context, &args),
        Command::History(args) => job::history(context, &args.job),
        Command::Note(args) => note::note(context, args),
        Command::Weak(args) => weak::weak(context, &args),
        Command::Map(command) => map::map(context, command),
        Command::Samples(args) => tour::samples(context, &args),
        Command::Open(args) => open_window(args.job),
    }
}

#[cfg(not(feature = "desk"))]
fn open_window(_job: Option<std::path::PathBuf>) -> Result<Ending, WorkError> {
    Err(WorkError::refused(
        "this build has no window",
        "build it with the feature `desk`, or use the commands: benchglass --help",
    ))
}

#[cfg(feature = "desk")]
fn open_window(job: Option<std::path::PathBuf>) -> Result<Ending, WorkError> {
    crate::desk::open(job)?;
    Ok(Ending::Done)
}

/// The name that goes with records where nobody gave one: the login name.
fn who() -> String {
    ["USER", "LOGNAME", "USERNAME"]
        .iter()
        .find_map(|name| std::env::var(name).ok().filter(|value| !value.is_empty()))
        .unwrap_or_else(|| "unnamed".to_owned())
}
