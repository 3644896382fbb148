//! Tests of the job folder on real files in temporary folders.

mod durability;
mod folder;
mod golden;
mod journals;
mod watch;

use std::path::PathBuf;

use crate::record::Event;

use super::{Home, Job, Journal, Opened, Wait};

/// A job and the user data of one bench in a temporary folder.
struct Bench {
    _folder: tempfile::TempDir,
    home: Home,
    job: Job,
}

impl Bench {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let job = Job::create(&folder.path().join("job")).unwrap();
        let home = Home::at(folder.path().join("home"));
        Self {
            _folder: folder,
            home,
            job,
        }
    }

    fn open(&self) -> Opened {
        Journal::open(&self.job, &self.home, "Ada", Wait::No).unwrap()
    }

    /// User data of another machine.
    fn other_home(&self) -> Home {
        Home::at(self.home.folder().with_file_name("other home"))
    }

    /// Writes notes under these texts and closes the journal; returns its file.
    fn write(&self, texts: &[&str]) -> PathBuf {
        write(&self.job, &self.home, texts)
    }

    /// Texts of the notes in the merged record.
    fn notes(&self) -> Vec<String> {
        let state = self.job.read().unwrap().fold(None);
        state.notes.into_iter().map(|note| note.text).collect()
    }
}

fn write(job: &Job, home: &Home, texts: &[&str]) -> PathBuf {
    let opened = Journal::open(job, home, "Ada", Wait::No).unwrap();
    for text in texts {
        opened.journal.append(note(text)).unwrap();
    }
    opened.journal.path().to_owned()
}

fn note(text: &str) -> Event {
    Event::Noted {
        text: text.to_owned(),
        photo: None,
    }
}
