//! How smoothly the table moves: frame times of panning a 12 MP photo through the real view code.
//!
//! ```text
//! cargo bench --bench desk                       # layout, drawing lists and tessellation
//! BENCH_WINDOW=1 xvfb-run -s "-screen 0 1280x800x24" cargo bench --bench desk
//! ```
//! The second opens a real window and measures from frame to frame, software rendering and
//! swapping included. The target of both is a 95th percentile of at most 16.7 ms at 1280 x 800.
//! `BENCH_MAP="P.jpg L.csv"` counts the clicks and keys of making a map instead (docs/map-making.md).
//! `BENCH_PHOTO=P.jpg` takes a photo of your own instead of the made one.
#![expect(clippy::print_stdout, reason = "a bench prints its figures")]

#[path = "map/count.rs"]
mod count;
#[path = "map/draw.rs"]
mod draw_map;

use std::path::PathBuf;
use std::time::{Duration, Instant};

use benchglass::desk::aids::Aids;
use benchglass::desk::marker::State;
use benchglass::desk::theme::Look;
use benchglass::desk::viewer::{Arrival, Loading, Mark, PhotoFile, Viewer, paint_marks};
use benchglass::geometry::PhotoPoint;
use eframe::egui::{self, Event, Modifiers, MouseWheelUnit, PointerButton, pos2, vec2};
use image::codecs::jpeg::JpegEncoder;
use image::{Rgb, RgbImage};

/// One display refresh at 60 Hz.
const TARGET_MS: f64 = 16.7;
/// First picture of a photo without an embedded thumbnail.
const FIRST_TARGET_MS: f64 = 300.0;
/// First picture of a photo with one.
const THUMBNAIL_TARGET_MS: f64 = 150.0;
/// Frames that are counted.
const FRAMES: usize = 600;
/// Joints with a marker over the photo.
const JOINTS: u32 = 400;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    if let Ok(files) = std::env::var("BENCH_MAP") {
        let (photo, list) = files
            .split_once(' ')
            .ok_or("BENCH_MAP is a photo, a space, a list")?;
        return count::board(photo.as_ref(), list.as_ref());
    }
    draw_map::overlay(report)?;
    let folder = tempfile::tempdir()?;
    let photo = match std::env::var_os("BENCH_PHOTO") {
        Some(path) => PathBuf::from(path),
        None => made_photo(&folder.path().join("made.jpg"))?,
    };
    first_picture(&photo, "no thumbnail in the file", FIRST_TARGET_MS)?;
    if std::env::var_os("BENCH_PHOTO").is_none() {
        let with = with_thumbnail(&photo, &folder.path().join("thumbnail.jpg"))?;
        first_picture(&with, "EXIF thumbnail in the file", THUMBNAIL_TARGET_MS)?;
    }
    if std::env::var_os("BENCH_WINDOW").is_some() {
        in_a_window(photo)?;
    } else {
        for (name, aids) in [("as photographed", false), ("local contrast", true)] {
            let mut times = without_a_window(&photo, aids)?;
            report(&format!("pan and zoom, no window, {name}"), &mut times);
        }
    }
    Ok(())
}

fn say(words: &str) {
    println!("{words}");
}

/// 4000 x 3000 pixels of green board with bright joints and grain; nothing real in it.
fn made_photo(path: &std::path::Path) -> Result<PathBuf, Box<dyn std::error::Error>> {
    let image = RgbImage::from_fn(4000, 3000, |x, y| {
        let grain = ((x.wrapping_mul(0x9E37_79B1) ^ y.wrapping_mul(0x85EB_CA6B)) >> 27) as u8;
        let (dx, dy) = ((x % 200) as f32 - 100.0, (y % 150) as f32 - 75.0);
        let bright = (1.0 - dx.hypot(dy) / 60.0).max(0.0) * 170.0;
        let lit = |base: u8| base.saturating_add(grain).saturating_add(bright as u8);
        Rgb([lit(55), lit(80), lit(45)])
    });
    let file = std::io::BufWriter::new(std::fs::File::create(path)?);
    JpegEncoder::new_with_quality(file, 90).encode_image(&image)?;
    Ok(path.to_path_buf())
}

/// The same photo as a camera writes it: with an EXIF block whose second directory holds a picture
/// of 160 by 120 pixels (Exif 2.32, 4.5.8, from memory).
fn with_thumbnail(
    photo: &std::path::Path,
    path: &std::path::Path,
) -> Result<PathBuf, Box<dyn std::error::Error>> {
    let bytes = std::fs::read(photo)?;
    let small = image::load_from_memory(&bytes)?.thumbnail_exact(160, 120);
    let mut thumb = Vec::new();
    JpegEncoder::new_with_quality(&mut thumb, 80).encode_image(&small.to_rgb8())?;
    let entry = |tag: u16, kind: u16, value: u32| {
        let mut entry = Vec::from(tag.to_le_bytes());
        entry.extend(kind.to_le_bytes());
        entry.extend(1_u32.to_le_bytes());
        entry.extend(value.to_le_bytes());
        entry
    };
    // Header 8 bytes, first directory 2 + 12 + 4, second 2 + 3 * 12 + 4, then the picture.
    let mut tiff = Vec::from(*b"II*\0\x08\0\0\0");
    tiff.extend(1_u16.to_le_bytes());
    tiff.extend(entry(0x0112, 3, 1));
    tiff.extend(26_u32.to_le_bytes());
    tiff.extend(3_u16.to_le_bytes());
    tiff.extend(entry(0x0103, 3, 6));
    tiff.extend(entry(0x0201, 4, 68));
    tiff.extend(entry(0x0202, 4, u32::try_from(thumb.len())?));
    tiff.extend(0_u32.to_le_bytes());
    tiff.extend(thumb);
    let length = u16::try_from(tiff.len() + 8)?;
    let mut whole = Vec::from(&bytes[..2]);
    whole.extend([0xFF, 0xE1]);
    whole.extend(length.to_be_bytes());
    whole.extend(*b"Exif\0\0");
    whole.extend(tiff);
    whole.extend(&bytes[2..]);
    std::fs::write(path, whole)?;
    Ok(path.to_path_buf())
}

/// The photo as one that came into a job as it is.
fn of_job(photo: &std::path::Path) -> Result<PhotoFile, Box<dyn std::error::Error>> {
    let facts = benchglass::photo::inspect(photo)?;
    Ok(PhotoFile::new(photo, facts.sha256))
}

fn first_picture(
    photo: &std::path::Path,
    what: &str,
    target_ms: f64,
) -> Result<(), Box<dyn std::error::Error>> {
    let (mut times, mut width) = (Vec::new(), 0);
    let photo = of_job(photo)?;
    for _ in 0..5 {
        let begun = Instant::now();
        let loading = Loading::start(&egui::Context::default(), photo.clone())?;
        let end = begun + Duration::from_secs(60);
        while Instant::now() < end {
            match loading.poll().into_iter().next() {
                Some(Arrival::First(first)) => {
                    width = first.width();
                    break;
                }
                Some(Arrival::Failed(why)) => return Err(why.into()),
                Some(Arrival::Whole(_)) | None => std::thread::sleep(Duration::from_micros(200)),
            }
        }
        times.push(begun.elapsed().as_secs_f64() * 1e3);
        // Dropped here, which cancels the rest; wait for the worker to be out of the way.
        drop(loading);
        std::thread::sleep(Duration::from_millis(600));
    }
    times.sort_by(f64::total_cmp);
    println!(
        "first picture ({width} px wide), {what}, 5 openings: median {:.0} ms, worst {:.0} ms (target {target_ms:.0}: {})",
        times[2],
        times[4],
        if times[4] <= target_ms {
            "met"
        } else {
            "missed"
        }
    );
    Ok(())
}

fn marks() -> Vec<Mark> {
    (0..JOINTS)
        .map(|i| Mark {
            at: PhotoPoint::new(
                f64::from(i % 20) * 200.0 + 100.0,
                f64::from(i / 20) * 150.0 + 75.0,
            ),
            radius_px: 40.0,
            state: State::ALL[i as usize % 7],
        })
        .collect()
}

fn draw(ui: &mut egui::Ui, viewer: &mut Viewer, look: &Look, marks: &[Mark]) {
    let rect = ui.available_rect_before_wrap();
    let shown = viewer.show(ui, look);
    if let Some(view) = shown.view {
        let painter = ui.painter_at(rect);
        paint_marks(&painter, look, &view, marks, Some(7), &[]);
    }
}

/// What a hand does: drags in a figure, and a turn of the wheel now and then.
fn hand(frame: usize) -> Vec<Event> {
    let angle = frame as f32 * 0.05;
    let at = pos2(
        640.0 + angle.sin() * 420.0,
        400.0 + (angle * 1.7).cos() * 260.0,
    );
    let mut events = vec![Event::PointerMoved(at)];
    if frame == 0 {
        events.push(Event::PointerButton {
            pos: at,
            button: PointerButton::Primary,
            pressed: true,
            modifiers: Modifiers::NONE,
        });
    }
    if frame % 60 < 6 {
        let up = if (frame / 60).is_multiple_of(2) {
            1.0
        } else {
            -1.0
        };
        events.push(Event::MouseWheel {
            unit: MouseWheelUnit::Point,
            delta: vec2(0.0, up * 60.0),
            phase: egui::TouchPhase::Move,
            source: egui::MouseWheelSource::Wheel,
            modifiers: Modifiers::NONE,
        });
    }
    events
}

fn without_a_window(
    photo: &std::path::Path,
    local_contrast: bool,
) -> Result<Vec<f64>, Box<dyn std::error::Error>> {
    let ctx = egui::Context::default();
    let look = Look::default();
    look.apply(&ctx);
    let marks = marks();
    let mut viewer = Viewer::default();
    viewer.open(&ctx, of_job(photo)?)?;
    viewer.set_aids(Aids {
        local_contrast,
        ..Aids::default()
    });
    let mut clock = 0.0;
    let mut one = |viewer: &mut Viewer, events: Vec<Event>| {
        clock += 1.0 / 60.0;
        let begun = Instant::now();
        let input = egui::RawInput {
            screen_rect: Some(egui::Rect::from_min_size(
                pos2(0.0, 0.0),
                vec2(1280.0, 800.0),
            )),
            time: Some(clock),
            events,
            ..egui::RawInput::default()
        };
        let mut output = ctx.run_ui(input, |ui| draw(ui, viewer, &look, &marks));
        let drawn = ctx.tessellate(output.shapes, output.pixels_per_point);
        assert!(!drawn.is_empty());
        let elapsed = begun.elapsed().as_secs_f64() * 1e3;
        output.textures_delta.clear();
        elapsed
    };
    let end = Instant::now() + Duration::from_secs(60);
    while viewer.pyramid().is_none() {
        one(&mut viewer, Vec::new());
        if let Some(why) = viewer.trouble() {
            return Err(why.to_owned().into());
        }
        if Instant::now() > end {
            return Err("the photo was not decoded within a minute".into());
        }
        std::thread::sleep(Duration::from_millis(2));
    }
    viewer.zoom(4.0);
    Ok((0..FRAMES).map(|i| one(&mut viewer, hand(i))).collect())
}

fn report(what: &str, times: &mut [f64]) {
    times.sort_by(f64::total_cmp);
    let at = |share: f64| times[((times.len() - 1) as f64 * share).round() as usize];
    let p95 = at(0.95);
    let verdict = if p95 <= TARGET_MS { "met" } else { "missed" };
    println!(
        "{what}: {} frames, median {:.2} ms, p95 {p95:.2} ms, worst {:.2} ms (target p95 {TARGET_MS}: {verdict})",
        times.len(),
        at(0.5),
        at(1.0),
    );
}

struct Window {
    look: Look,
    viewer: Viewer,
    marks: Vec<Mark>,
    photo: Option<PhotoFile>,
    last: Instant,
    warm_up: usize,
    times: Vec<f64>,
    spent: Option<f64>,
}

/// Processor time of this process so far, s: on a busy machine it says more than the clock does.
/// `None` where the system does not tell (`/proc/self/stat`, in hundredths: from memory).
fn processor_s() -> Option<f64> {
    let stat = std::fs::read_to_string("/proc/self/stat").ok()?;
    let fields: Vec<&str> = stat.rsplit_once(')')?.1.split_whitespace().collect();
    let ticks = |i: usize| fields.get(i)?.parse::<f64>().ok();
    Some((ticks(11)? + ticks(12)?) / 100.0)
}

impl eframe::App for Window {
    fn raw_input_hook(&mut self, _ctx: &egui::Context, input: &mut egui::RawInput) {
        if self.warm_up == 0 {
            input.events.extend(hand(self.times.len()));
        }
    }

    fn ui(&mut self, ui: &mut egui::Ui, _frame: &mut eframe::Frame) {
        if let Some(photo) = self.photo.take() {
            self.look.apply(ui.ctx());
            if let Err(error) = self.viewer.open(ui.ctx(), photo) {
                println!("the photo could not be opened: {error}");
                ui.ctx().send_viewport_cmd(egui::ViewportCommand::Close);
            }
        }
        let elapsed = self.last.elapsed().as_secs_f64() * 1e3;
        self.last = Instant::now();
        if self.viewer.pyramid().is_some() && self.warm_up > 0 {
            self.warm_up -= 1;
            if self.warm_up == 0 {
                self.viewer.zoom(4.0);
                self.spent = processor_s();
            }
        } else if self.warm_up == 0 {
            self.times.push(elapsed);
        }
        draw(ui, &mut self.viewer, &self.look, &self.marks);
        if self.times.len() == FRAMES {
            // The first interval still holds the change of zoom.
            report("pan and zoom, real window", &mut self.times[1..]);
            if let (Some(before), Some(now)) = (self.spent, processor_s()) {
                let each = (now - before) * 1e3 / FRAMES as f64;
                println!("processor time of all threads: {each:.1} ms for each frame");
            }
            ui.ctx().send_viewport_cmd(egui::ViewportCommand::Close);
        }
        ui.ctx().request_repaint();
    }
}

fn in_a_window(photo: PathBuf) -> Result<(), Box<dyn std::error::Error>> {
    let mut options = benchglass::desk::native_options();
    options.viewport = egui::ViewportBuilder::default()
        .with_inner_size([1280.0, 800.0])
        .with_position([0.0, 0.0])
        .with_decorations(false);
    // What dithering alone costs.
    options.dithering = std::env::var_os("BENCH_DITHERING").is_some();
    // From frame to frame without waiting for a display that is not there.
    options.glow_options.vsync = false;
    let window = Window {
        look: Look::default(),
        viewer: Viewer::default(),
        marks: marks(),
        photo: Some(of_job(&photo)?),
        last: Instant::now(),
        warm_up: 30,
        times: Vec::with_capacity(FRAMES),
        spent: None,
    };
    eframe::run_native("desk bench", options, Box::new(|_| Ok(Box::new(window))))?;
    Ok(())
}
