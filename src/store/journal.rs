//! The journal of one bench, open for writing: a named thread writes each event whole and
//! flushes it before it is acknowledged.

use std::fmt;
use std::fs::{File, OpenOptions};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, Sender, SyncSender, TryRecvError, channel, sync_channel};
use std::thread::JoinHandle;

use uuid::Uuid;

use crate::record::{BenchId, Clock, Envelope, Event};

use super::error::{StoreError, io_error};
use super::files::{create_folder, sha256_hex, sync_folder};
use super::home::{Home, Lock, Wait, Written};
use super::job::Job;
use super::read::{Lines, Readout};
use super::writer::{Sink, Writer, move_tail_aside};

/// Most events that wait to be written; a caller that is faster than the disk waits then.
const QUEUE: usize = 1024;
/// Most events that one flush carries: many waiting events cost one flush, and none waits long.
const BATCH: usize = 256;

/// The journal of this bench in one job. Dropping it writes what still waits.
#[derive(Debug)]
pub struct Journal {
    bench: BenchId,
    path: PathBuf,
    queue: Option<SyncSender<Command>>,
    waiting: Arc<AtomicUsize>,
    thread: Option<JoinHandle<()>>,
    _lock: Lock,
}

/// A journal that was opened, with what was read and what a person should be told.
#[derive(Debug)]
pub struct Opened {
    /// The journal.
    pub journal: Journal,
    /// Everything read from the job at this moment.
    pub readout: Readout,
    /// What happened while opening.
    pub notices: Vec<Notice>,
}

/// What a person should be told about opening a journal.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Notice {
    /// The last line of this bench's own file was not whole; it was never acknowledged.
    TornLineMovedAside {
        /// Where it is now.
        path: PathBuf,
    },
    /// This bench's file is not what it last wrote, so a new file was started.
    NewFile {
        /// The file that is left as it is.
        old: PathBuf,
        /// The new one.
        new: PathBuf,
    },
}

impl fmt::Display for Notice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TornLineMovedAside { path } => write!(
                f,
                "The last entry was cut off while it was written. It was never confirmed; what is \
                 left of it is in {}. Look whether the last thing you did is recorded.",
                path.display()
            ),
            Self::NewFile { old, new } => write!(
                f,
                "{} is not what this bench last wrote (a restored copy, or another machine with \
                 the same user data). It is left as it is and counts; new entries go to {}.",
                old.display(),
                new.display()
            ),
        }
    }
}

/// An event on its way to the disk.
#[derive(Debug)]
pub struct Pending {
    reply: Receiver<Result<Envelope, StoreError>>,
    path: PathBuf,
}

impl Pending {
    /// Waits until the event is on the disk.
    ///
    /// # Errors
    /// Why it is not.
    pub fn wait(self) -> Result<Envelope, StoreError> {
        self.reply
            .recv()
            .unwrap_or(Err(StoreError::Stopped { path: self.path }))
    }

    /// The outcome where there is one yet; comes once.
    pub fn poll(&mut self) -> Option<Result<Envelope, StoreError>> {
        match self.reply.try_recv() {
            Ok(result) => Some(result),
            Err(TryRecvError::Empty) => None,
            Err(TryRecvError::Disconnected) => Some(Err(StoreError::Stopped {
                path: self.path.clone(),
            })),
        }
    }
}

enum Command {
    Write(Box<Event>, Sender<Result<Envelope, StoreError>>),
    Read(Clock),
}

impl Journal {
    /// Opens the journal of this bench for writing. `by` is the person's name.
    ///
    /// # Errors
    /// [`StoreError::Busy`] where another window or command writes to the job,
    /// [`StoreError::NewerFormat`], or [`StoreError::Io`].
    pub fn open(job: &Job, home: &Home, by: &str, wait: Wait) -> Result<Opened, StoreError> {
        job.check_writable()?;
        let lock = home.lock(job.id(), job.folder(), wait)?;
        let folder = job.journal_folder();
        create_folder(&folder)?;
        let mut notices = Vec::new();
        let file = own_file(job, home, &folder, &mut notices)?;
        let readout = job.read()?;
        let sink = open_file(&file.path)?;
        let writer = Writer {
            sink,
            path: file.path.clone(),
            home: home.clone(),
            job: job.id(),
            bench: file.bench,
            by: by.to_owned(),
            seq: file.lines,
            clock: readout.greatest,
            prev: file.end,
            len: file.len,
            stopped: false,
        };
        let (bench, path) = (file.bench, file.path);
        let journal = Self::run(writer, bench, path, lock)?;
        Ok(Opened {
            journal,
            readout,
            notices,
        })
    }

    fn run<S: Sink + 'static>(
        writer: Writer<S>,
        bench: BenchId,
        path: PathBuf,
        lock: Lock,
    ) -> Result<Self, StoreError> {
        let (queue, commands) = sync_channel(QUEUE);
        let waiting = Arc::new(AtomicUsize::new(0));
        let counter = Arc::clone(&waiting);
        let thread = std::thread::Builder::new()
            .name("journal writer".to_owned())
            .spawn(move || serve(writer, &commands, &counter))
            .map_err(io_error(&path, "start the thread that writes the journal"))?;
        Ok(Self {
            bench,
            path,
            queue: Some(queue),
            waiting,
            thread: Some(thread),
            _lock: lock,
        })
    }

    /// The bench under which events are written.
    #[must_use]
    pub fn bench(&self) -> BenchId {
        self.bench
    }

    /// The file.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Writes one event and waits until it is on the disk.
    ///
    /// # Errors
    /// Why it is not; the journal is as it was then.
    pub fn append(&self, what: Event) -> Result<Envelope, StoreError> {
        self.append_async(what).wait()
    }

    /// Hands one event to the writer. Events are written in the order in which they are handed
    /// over.
    #[must_use]
    pub fn append_async(&self, what: Event) -> Pending {
        let (reply, outcome) = channel();
        self.waiting.fetch_add(1, Ordering::SeqCst);
        let command = Command::Write(Box::new(what), reply);
        let sent = self
            .queue
            .as_ref()
            .is_some_and(|queue| queue.send(command).is_ok());
        if !sent {
            self.waiting.fetch_sub(1, Ordering::SeqCst);
        }
        Pending {
            reply: outcome,
            path: self.path.clone(),
        }
    }

    /// How many events are still being written.
    #[must_use]
    pub fn pending_count(&self) -> usize {
        self.waiting.load(Ordering::SeqCst)
    }

    /// Says that events up to this clock were read meanwhile (from files of other benches), so
    /// that what is written next sorts after them.
    pub fn observe(&self, clock: Clock) {
        if let Some(queue) = &self.queue {
            // A writer that is gone answers the next event with an error.
            let _ = queue.send(Command::Read(clock));
        }
    }
}

impl Drop for Journal {
    fn drop(&mut self) {
        self.queue = None;
        if let Some(thread) = self.thread.take() {
            // The thread ends when the queue is empty; a panic there has nothing to add here.
            let _ = thread.join();
        }
    }
}

/// The life of the writer thread: takes what waits, writes it with one flush, answers.
fn serve<S: Sink>(mut writer: Writer<S>, commands: &Receiver<Command>, waiting: &AtomicUsize) {
    while let Ok(first) = commands.recv() {
        let mut events = Vec::new();
        let mut replies = Vec::new();
        let mut next = Some(first);
        while let Some(command) = next {
            match command {
                Command::Write(what, reply) => {
                    events.push(*what);
                    replies.push(reply);
                }
                Command::Read(clock) => writer.clock = writer.clock.max(clock),
            }
            next = if events.len() < BATCH {
                commands.try_recv().ok()
            } else {
                None
            };
        }
        for (result, reply) in writer.write(events).into_iter().zip(replies) {
            waiting.fetch_sub(1, Ordering::SeqCst);
            // Whoever no longer waits for the answer does not need it.
            let _ = reply.send(result);
        }
    }
}

struct OwnFile {
    bench: BenchId,
    path: PathBuf,
    lines: u64,
    len: u64,
    end: String,
}

impl OwnFile {
    fn new(bench: BenchId, path: PathBuf) -> Self {
        Self {
            bench,
            path,
            lines: 0,
            len: 0,
            end: String::new(),
        }
    }
}

/// This bench's file in the job: the one that it wrote last, with a torn line moved aside; a new
/// one where there is none yet or where the file is not what it last wrote.
fn own_file(
    job: &Job,
    home: &Home,
    folder: &Path,
    notices: &mut Vec<Notice>,
) -> Result<OwnFile, StoreError> {
    let path_of = |bench: BenchId| folder.join(format!("{bench}.jsonl"));
    let written = home.written(job.id())?;
    let bench = match &written {
        Some(written) => written.bench,
        None => home.bench()?,
    };
    let path = path_of(bench);
    let known = written.map(|written| written.ends);
    let file = if path.exists() {
        continued(bench, path.clone(), known.as_deref(), notices)?
    } else {
        // Nothing was written yet, or the file that was written is gone.
        let nothing = known.is_none_or(|ends| ends.contains(&String::new()));
        nothing.then(|| OwnFile::new(bench, path.clone()))
    };
    let file = file.unwrap_or_else(|| {
        let bench = Uuid::now_v7();
        let new = path_of(bench);
        notices.push(Notice::NewFile {
            old: path,
            new: new.clone(),
        });
        OwnFile::new(bench, new)
    });
    let written = Written::new(file.bench, vec![file.end.clone()], &file.path);
    home.remember(job.id(), &written)?;
    Ok(file)
}

/// The file goes on where its last whole line is one that this bench may have written last.
fn continued(
    bench: BenchId,
    path: PathBuf,
    known: Option<&[String]>,
    notices: &mut Vec<Notice>,
) -> Result<Option<OwnFile>, StoreError> {
    let lines = Lines::read(&path)?;
    let end = lines.whole().last().map(sha256_hex).unwrap_or_default();
    if !known.is_some_and(|ends| ends.contains(&end)) {
        return Ok(None);
    }
    let len = lines.whole_len() as u64;
    if !lines.tail().is_empty() {
        let aside = move_tail_aside(&path, lines.tail(), len)?;
        notices.push(Notice::TornLineMovedAside { path: aside });
    }
    let lines = lines.whole().count() as u64;
    Ok(Some(OwnFile {
        bench,
        path,
        lines,
        len,
        end,
    }))
}

fn open_file(path: &Path) -> Result<File, StoreError> {
    let is_new = !path.exists();
    let file = OpenOptions::new()
        .create(true)
        .append(true)
        .open(path)
        .map_err(io_error(path, "open the journal"))?;
    if is_new {
        file.sync_all()
            .map_err(io_error(path, "write the journal"))?;
        sync_folder(path.parent().unwrap_or(Path::new(".")))?;
    }
    Ok(file)
}
