//! Twins: the same joint on other photos, in other light, before and after, of other units of
//! the model; cut out at one real scale and turned as the photo on the table shows it.

mod cut;
mod sources;

use std::path::PathBuf;
use std::sync::{Arc, Mutex, PoisonError};

use eframe::egui::Context;
use image::RgbImage;

use super::app::Desk;
use super::background::Done;
use super::glass_view::{Crop, POINTS_PER_MM};
use super::model::Bench;
use super::stops::Whereabouts;
use crate::progress::Progress;
use crate::record::{EventId, PhotoId, Target};
use crate::work::open_original;

use cut::Frame;
pub use sources::{OtherJob, Source, other_jobs};

/// What cutting them out is called; it is quiet.
const CUTTING: &str = "Cutting out twins";
/// What looking for other jobs is called; it is quiet.
const LOOKING: &str = "Looking up other jobs of this model";
/// Twins shown at once: as many as fit in one row of the glass with their captions.
pub(super) const MOST: usize = 3;
/// Half the side of what a twin shows, mm: as much as the glass shows.
const HALF_MM: f64 = 276.0 / POINTS_PER_MM / 2.0 * 1.02;
/// Side of a cut-out in pixels: one for each point of the glass.
const SIDE_PX: u32 = 282;
/// Decoded photos that are kept for the next joint, bytes: four of 12 MP. More walks faster
/// over more photos, less leaves memory for the photo on the table.
const DECODED_BYTES: usize = 160 << 20;

/// The same joint on another photo.
#[derive(Debug, Clone, PartialEq)]
pub struct Twin {
    /// Its surroundings, at the scale of the glass.
    pub crop: Crop,
    /// Serial number of the other unit; `None` for another photo of this one.
    pub unit: Option<String>,
    /// Day on which it was taken, where the camera wrote it.
    pub day: Option<String>,
    /// Name of the photo.
    pub photo: String,
    /// Scale of the photo there, px/mm.
    pub px_per_mm: f64,
}

impl Twin {
    /// Whose it is.
    #[must_use]
    pub fn whose(&self) -> &str {
        self.unit.as_deref().unwrap_or("this unit")
    }

    /// Unit, day, photo and scale in one line.
    #[must_use]
    pub fn words(&self) -> String {
        format!(
            "{}, {}, {}, {:.0} px/mm",
            self.whose(),
            self.day.as_deref().unwrap_or("no date"),
            self.photo,
            self.px_per_mm
        )
    }
}

/// What a set of twins belongs to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TwinKey {
    target: String,
    photo: PhotoId,
    alignments: Vec<EventId>,
    others: usize,
}

/// The twins of the current joint.
#[derive(Debug, Default)]
pub struct Twins {
    /// For which joint and photo.
    key: Option<TwinKey>,
    /// Being cut out just now.
    running: bool,
    /// How many there will be.
    pub expected: usize,
    /// Those that are cut out.
    pub shown: Vec<Twin>,
    /// The one that is on the glass in place of the joint.
    pub on_glass: Option<usize>,
}

impl Twins {
    /// The twin that is on the glass.
    #[must_use]
    pub fn current(&self) -> Option<&Twin> {
        self.shown.get(self.on_glass?)
    }

    /// The next twin to the glass; after the last one the joint itself again.
    pub(super) fn step(&mut self) {
        let next = self.on_glass.map_or(0, |at| at + 1);
        self.on_glass = (next < self.shown.len()).then_some(next);
    }

    /// This twin to the glass, or away again.
    pub(super) fn toggle(&mut self, index: usize) {
        let there = self.on_glass == Some(index);
        self.on_glass = (!there && index < self.shown.len()).then_some(index);
    }
}

/// Photos decoded for twins, the one used last at the end.
#[derive(Debug, Default)]
pub struct Decoded {
    kept: Vec<(PathBuf, Arc<RgbImage>)>,
}

impl Decoded {
    fn get(&mut self, path: &PathBuf) -> Option<Arc<RgbImage>> {
        let at = self.kept.iter().position(|(of, _)| of == path)?;
        let found = self.kept.remove(at);
        let image = Arc::clone(&found.1);
        self.kept.push(found);
        Some(image)
    }

    fn keep(&mut self, path: PathBuf, image: Arc<RgbImage>) {
        self.kept.push((path, image));
        let bytes = |kept: &[(PathBuf, Arc<RgbImage>)]| -> usize {
            kept.iter().map(|(_, image)| image.as_raw().len()).sum()
        };
        while bytes(&self.kept) > DECODED_BYTES {
            self.kept.remove(0);
        }
    }
}

impl Bench {
    fn twin_key(&self) -> Option<TwinKey> {
        let stop = self.stop()?;
        let Target::Joint(joint) = &stop.target else {
            return None;
        };
        self.stop_on_photo()?.px_per_mm?;
        let photos = &self.session.state().photos;
        Some(TwinKey {
            target: format!("{} {} {:?}", joint.board, joint.pin, joint.side),
            photo: self.photo.clone()?,
            alignments: photos
                .values()
                .filter_map(|photo| photo.alignments.last().map(|(id, _)| *id))
                .collect(),
            others: self.others.len(),
        })
    }

    fn frame(&self) -> Option<Frame> {
        let Whereabouts::Board(at, _) = self.stop()?.place else {
            return None;
        };
        Frame::new(&self.photo_state()?.alignment()?.projection, at)
    }
}

impl Desk {
    /// Looks for other jobs of the open one's model, among those that were open before.
    pub(super) fn look_for_other_jobs(&mut self, ctx: &Context) {
        let (Some(bench), Some(home)) = (&self.model.bench, self.model.home.clone()) else {
            return;
        };
        let dir = bench.session.dir().to_path_buf();
        self.background.start(ctx, LOOKING, true, move |progress| {
            let jobs = other_jobs(&super::jobs::recent_paths(&home), &dir, progress);
            Done::Others(dir, jobs)
        });
    }

    /// Starts cutting out the twins of the current joint where they are not known yet.
    pub(super) fn twins_when_ready(&mut self, ctx: &Context) {
        let Some(bench) = &mut self.model.bench else {
            return;
        };
        let key = bench.twin_key();
        if bench.twins.key == key {
            return;
        }
        bench.twins.shown.clear();
        bench.twins.on_glass = None;
        if bench.twins.running {
            return;
        }
        bench.twins.key.clone_from(&key);
        bench.twins.expected = 0;
        let (Some(key), Some(frame)) = (key, bench.frame()) else {
            return;
        };
        let wanted = sources::of(bench);
        bench.twins.expected = wanted.len();
        if wanted.is_empty() {
            return;
        }
        bench.twins.running = true;
        let decoded = Arc::clone(&self.decoded);
        self.background.start(ctx, CUTTING, true, move |progress| {
            Done::Twins(key, cut_all(&wanted, &frame, &decoded, progress))
        });
    }

    /// Takes the twins in, unless the person is somewhere else by now.
    pub(super) fn twins_came(&mut self, key: &TwinKey, twins: Vec<Twin>) {
        let Some(bench) = &mut self.model.bench else {
            return;
        };
        bench.twins.running = false;
        if bench.twins.key.as_ref() == Some(key) && bench.twin_key().as_ref() == Some(key) {
            bench.twins.expected = twins.len();
            bench.twins.shown = twins;
        }
    }
}

/// One photo after the other. A photo that cannot be opened is left out: a twin is an aid, and
/// adding or verifying the job names what is wrong with its photos.
fn cut_all(
    wanted: &[Source],
    frame: &Frame,
    decoded: &Mutex<Decoded>,
    progress: &Progress,
) -> Vec<Twin> {
    let mut twins = Vec::new();
    for source in wanted {
        if progress.check().is_err() {
            break;
        }
        let Some(image) = open(source, decoded) else {
            continue;
        };
        let pixels = cut::cut(&image, source, frame, HALF_MM, SIDE_PX);
        let middle = (f64::from(SIDE_PX) - 1.0) / 2.0;
        twins.push(Twin {
            crop: Crop {
                key: source.number(frame),
                pixels: Arc::new(pixels),
                centre: [middle, middle],
                px_per_mm: Some(f64::from(SIDE_PX) / (2.0 * HALF_MM)),
                arc: Vec::new(),
            },
            unit: source.unit.clone(),
            day: source.day(),
            photo: source.name.clone(),
            px_per_mm: source.px_per_mm,
        });
    }
    twins
}

fn open(source: &Source, decoded: &Mutex<Decoded>) -> Option<Arc<RgbImage>> {
    let lock = || decoded.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some(image) = lock().get(&source.path) {
        return Some(image);
    }
    let image = Arc::new(open_original(&source.path, &source.photo).ok()?);
    lock().keep(source.path.clone(), Arc::clone(&image));
    Some(image)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decoded_photos_stay_within_their_bytes() {
        let mut decoded = Decoded::default();
        for n in 0..9 {
            // 6000 x 4000: 72 MB each.
            let image = Arc::new(RgbImage::new(6000, 4000));
            decoded.keep(PathBuf::from(format!("{n}")), image);
        }
        let names: Vec<_> = decoded.kept.iter().map(|(path, _)| path.clone()).collect();
        assert_eq!(names, [PathBuf::from("7"), PathBuf::from("8")]);
        assert!(decoded.get(&PathBuf::from("7")).is_some());
        decoded.keep(PathBuf::from("9"), Arc::new(RgbImage::new(6000, 4000)));
        assert!(decoded.get(&PathBuf::from("7")).is_some(), "used last");
        // One that is too large alone is not kept at all.
        decoded.keep(PathBuf::from("vast"), Arc::new(RgbImage::new(10_000, 6000)));
        assert!(decoded.kept.is_empty());
    }
}
