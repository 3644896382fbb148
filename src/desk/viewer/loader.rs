//! Decoding off the window's thread: first a small picture at once, then the photo itself.

use std::io;
use std::path::PathBuf;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::thread;

use eframe::egui::Context;
use image::RgbImage;

use super::Pyramid;
use crate::progress::Progress;
use crate::record::PhotoId;
use crate::work::open_original;

/// Where a photo comes from. Both are called on a worker thread, in this order.
pub trait PhotoSource: Send + 'static {
    /// For messages and the thread's name.
    fn name(&self) -> String;

    /// A small upright picture, as fast as can be.
    ///
    /// # Errors
    /// What went wrong and the remedy, in words.
    fn first(&self) -> Result<RgbImage, String>;

    /// The whole photo, upright.
    ///
    /// # Errors
    /// What went wrong and the remedy, in words.
    fn whole(&self) -> Result<RgbImage, String>;
}

/// The original of a photo of a job.
#[derive(Debug, Clone)]
pub struct PhotoFile {
    /// The file.
    pub path: PathBuf,
    /// The photo: the file is opened only while it is what came in.
    pub photo: PhotoId,
}

/// Longest side of the first picture: enough for the whole table at 100 %, and decoded in the
/// time there is (a larger one comes later and sharper anyway).
const FIRST_PX: u32 = 1024;

/// What the worker says.
#[derive(Debug)]
pub enum Arrival {
    /// Something to look at.
    First(RgbImage),
    /// The photo.
    Whole(Pyramid),
    /// It could not be opened; what was there before stays.
    Failed(String),
}

/// Steps that are counted: first picture, decoding, smaller levels.
const STEPS: u64 = 3;

/// A photo on its way. Dropping it cancels it.
#[derive(Debug)]
pub struct Loading {
    arrivals: Receiver<Arrival>,
    progress: Progress,
    name: String,
}

impl Loading {
    /// Starts a worker, which wakes the window at each step.
    ///
    /// # Errors
    /// Where the system has no thread to give.
    pub fn start(ctx: &Context, source: impl PhotoSource) -> io::Result<Self> {
        let progress = Progress::new();
        progress.expect(STEPS);
        // Room for everything that a worker ever sends: it never waits for the window.
        let (send, arrivals) = sync_channel(4);
        let (ctx, counter, name) = (ctx.clone(), progress.clone(), source.name());
        thread::Builder::new()
            .name(format!("open {name}"))
            .spawn(move || {
                work(&source, &send, &counter, &ctx);
                drop(send);
                ctx.request_repaint();
            })?;
        Ok(Self {
            arrivals,
            progress,
            name,
        })
    }

    /// What has arrived since last asked.
    pub fn poll(&self) -> Vec<Arrival> {
        self.arrivals.try_iter().collect()
    }

    /// Steps done and expected.
    #[must_use]
    pub fn counts(&self) -> (u64, u64) {
        self.progress.counts()
    }

    /// The photo's name.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Asks the worker to stop at its next step.
    pub fn cancel(&self) {
        self.progress.cancel();
    }
}

impl Drop for Loading {
    fn drop(&mut self) {
        self.cancel();
    }
}

/// Ends early, silently, once cancelled: nobody waits for it any more.
fn work(source: &impl PhotoSource, send: &SyncSender<Arrival>, progress: &Progress, ctx: &Context) {
    let say = |arrival: Arrival| {
        let heard = progress.check().is_ok() && send.try_send(arrival).is_ok();
        ctx.request_repaint();
        heard
    };
    // A first picture that fails is no loss: the photo itself says why.
    if let Ok(first) = source.first()
        && !say(Arrival::First(first))
    {
        return;
    }
    if progress.tick().is_err() {
        return;
    }
    let photo = match source.whole() {
        Ok(photo) => photo,
        Err(why) => {
            say(Arrival::Failed(why));
            return;
        }
    };
    if progress.tick().is_err() {
        return;
    }
    let pyramid = Pyramid::new(photo);
    if progress.tick().is_ok() {
        say(Arrival::Whole(pyramid));
    }
}

impl PhotoFile {
    /// The original of a photo of a job.
    #[must_use]
    pub fn new(path: impl Into<PathBuf>, photo: PhotoId) -> Self {
        Self {
            path: path.into(),
            photo,
        }
    }
}

impl PhotoSource for PhotoFile {
    fn name(&self) -> String {
        self.path
            .file_name()
            .map_or_else(String::new, |name| name.to_string_lossy().into_owned())
    }

    fn first(&self) -> Result<RgbImage, String> {
        crate::photo::first_picture(&self.path, FIRST_PX).map_err(|error| error.to_string())
    }

    fn whole(&self) -> Result<RgbImage, String> {
        open_original(&self.path, &self.photo)
            .map_err(|error| format!("{error}: {}", error.remedy()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::{Arc, Barrier};
    use std::time::{Duration, Instant};

    struct Slow {
        gate: Arc<Barrier>,
        fails: bool,
    }

    impl PhotoSource for Slow {
        fn name(&self) -> String {
            "slow.jpg".to_owned()
        }
        fn first(&self) -> Result<RgbImage, String> {
            Ok(RgbImage::new(16, 12))
        }
        fn whole(&self) -> Result<RgbImage, String> {
            self.gate.wait();
            if self.fails {
                return Err("slow.jpg is cut short: copy it again".to_owned());
            }
            Ok(RgbImage::new(1600, 1200))
        }
    }

    fn until(loading: &Loading, wanted: usize) -> Vec<Arrival> {
        let end = Instant::now() + Duration::from_secs(20);
        let mut all = Vec::new();
        while all.len() < wanted && Instant::now() < end {
            all.extend(loading.poll());
            thread::sleep(Duration::from_millis(2));
        }
        all
    }

    #[test]
    fn the_first_picture_comes_before_the_photo_is_decoded() {
        let gate = Arc::new(Barrier::new(2));
        let slow = Slow {
            gate: gate.clone(),
            fails: false,
        };
        let loading = Loading::start(&Context::default(), slow).unwrap();
        assert!(matches!(&until(&loading, 1)[..], [Arrival::First(_)]));
        assert!(loading.counts().0 <= 1);
        gate.wait();
        let rest = until(&loading, 1);
        assert!(matches!(&rest[..], [Arrival::Whole(p)] if p.image().width() == 1600));
        assert_eq!(loading.counts(), (3, 3));
    }

    #[test]
    fn a_cancelled_photo_never_arrives_and_a_broken_one_says_why() {
        let gate = Arc::new(Barrier::new(2));
        let slow = Slow {
            gate: gate.clone(),
            fails: false,
        };
        let loading = Loading::start(&Context::default(), slow).unwrap();
        until(&loading, 1);
        loading.cancel();
        gate.wait();
        thread::sleep(Duration::from_millis(60));
        assert!(loading.poll().is_empty());

        let slow = Slow {
            gate: gate.clone(),
            fails: true,
        };
        let loading = Loading::start(&Context::default(), slow).unwrap();
        until(&loading, 1);
        gate.wait();
        let rest = until(&loading, 1);
        assert!(matches!(&rest[..], [Arrival::Failed(why)] if why.contains("copy it again")));
    }
}
