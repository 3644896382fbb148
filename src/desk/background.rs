//! Long work off the window's thread: named threads, plain counters, a stop button.

use std::path::PathBuf;
use std::sync::mpsc::{Receiver, TryRecvError, sync_channel};
use std::thread;

use eframe::egui::Context;

use super::darkline::DarkPicture;
use super::mapping::FoundOnPhoto;
use super::start::RecentJob;
use super::twins::{OtherJob, Twin, TwinKey};
use crate::joint::HintReport;
use crate::paper::SlipView;
use crate::progress::Progress;
use crate::record::PhotoId;
use crate::work::{
    AddReport, FoundAlignment, RankedJoints, Session, TourReport, WorkError, Written,
};

/// What came of a piece of work.
pub enum Done {
    /// The tour's job is made.
    Tour(Result<Box<TourReport>, WorkError>),
    /// Photos are in; the session comes back.
    Added(Box<Session>, Result<AddReport, WorkError>),
    /// The hint of one photo.
    Hint(HintKey, Result<HintReport, WorkError>),
    /// Joints of a photo on which a map is made.
    Found(PhotoId, Result<FoundOnPhoto, WorkError>),
    /// Joints of a photo that no map covers, the most suspect first.
    Joints(PhotoId, Result<RankedJoints, WorkError>),
    /// The dark lines of a photo as a picture over it.
    DarkLines(PhotoId, Result<Box<DarkPicture>, WorkError>),
    /// The slip of the job in this folder, as of so many events.
    Slip(PathBuf, Result<(usize, Box<SlipView>), WorkError>),
    /// Papers were written.
    Written(Result<Written, WorkError>),
    /// Jobs of before, with where they stand.
    Recent(Vec<(PathBuf, RecentJob)>),
    /// Other jobs of the model of the job in this folder.
    Others(PathBuf, Vec<OtherJob>),
    /// The twins of a joint.
    Twins(TwinKey, Vec<Twin>),
    /// Where a photo of the job in this folder lies on its map.
    Matched(PathBuf, PhotoId, Result<Box<FoundAlignment>, WorkError>),
    /// It ended without a word.
    Lost(String),
}

/// What a hint belongs to: the photo and where its joints were thought to be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HintKey {
    /// The photo.
    pub photo: PhotoId,
    /// Changes with every alignment, every map and every clicked place.
    pub places: String,
}

/// One piece of work.
struct Task {
    label: String,
    progress: Progress,
    done: Receiver<Done>,
    quiet: bool,
}

/// All that is under way.
#[derive(Default)]
pub struct Background {
    tasks: Vec<Task>,
}

/// Work that is shown: what, steps done and expected.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnderWay {
    /// In words.
    pub label: String,
    /// Steps done.
    pub done: u64,
    /// Steps expected; 0 where nobody knows.
    pub total: u64,
}

impl Background {
    /// Starts work on a thread of its own, which wakes the window when it is done. Quiet work is
    /// not shown.
    pub fn start(
        &mut self,
        ctx: &Context,
        label: &str,
        quiet: bool,
        work: impl FnOnce(&Progress) -> Done + Send + 'static,
    ) {
        let progress = Progress::new();
        let (send, done) = sync_channel(1);
        let (ctx, counter) = (ctx.clone(), progress.clone());
        let started = thread::Builder::new()
            .name(label.to_owned())
            .spawn(move || {
                // Nobody listens any more where the window was closed.
                let _ = send.send(work(&counter));
                ctx.request_repaint();
            });
        if let Err(error) = started {
            let (send, done) = sync_channel(1);
            let _ = send.send(Done::Lost(format!("{label} could not be started: {error}")));
            self.tasks.push(Task {
                label: label.to_owned(),
                progress,
                done,
                quiet,
            });
            return;
        }
        self.tasks.push(Task {
            label: label.to_owned(),
            progress,
            done,
            quiet,
        });
    }

    /// What has ended since last asked.
    pub fn poll(&mut self) -> Vec<Done> {
        let mut ended = Vec::new();
        self.tasks.retain(|task| match task.done.try_recv() {
            Ok(done) => {
                ended.push(done);
                false
            }
            Err(TryRecvError::Empty) => true,
            Err(TryRecvError::Disconnected) => {
                ended.push(Done::Lost(format!("{} ended without a result", task.label)));
                false
            }
        });
        ended
    }

    /// What is shown.
    #[must_use]
    pub fn under_way(&self) -> Vec<UnderWay> {
        self.tasks
            .iter()
            .filter(|task| !task.quiet)
            .map(|task| {
                let (done, total) = task.progress.counts();
                UnderWay {
                    label: task.label.clone(),
                    done,
                    total,
                }
            })
            .collect()
    }

    /// Whether anything is under way, shown or not.
    #[must_use]
    pub fn is_busy(&self) -> bool {
        !self.tasks.is_empty()
    }

    /// Asks all shown work with this label to stop.
    pub fn stop(&self, label: &str) {
        for task in self.tasks.iter().filter(|task| task.label == label) {
            task.progress.cancel();
        }
    }
}

impl Drop for Background {
    fn drop(&mut self) {
        for task in &self.tasks {
            task.progress.cancel();
        }
    }
}
