//! An invented board of 36 by 26 mm with one header of four pins, and a drawn photo of its
//! solder side at 20 px/mm.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

use benchglass::board::Side;
use benchglass::desk::Desk;
use benchglass::desk::theme::Look;
use benchglass::geometry::PhotoPoint;
use benchglass::progress::Progress;
use benchglass::record::{Unit, View};
use benchglass::work::{Action, Session, add_photos};
use eframe::egui::{self, Event, Key, Modifiers, PointerButton};
use egui_kittest::Harness;
use image::{Rgb, RgbImage};
use serde_json::json;

pub(crate) const PX_PER_MM: f64 = 20.0;
pub(crate) const LANDMARKS: [(&str, [f64; 2]); 4] = [
    ("hole A", [2.0, 2.0]),
    ("hole B", [34.0, 2.0]),
    ("hole C", [34.0, 24.0]),
    ("hole D", [2.0, 24.0]),
];
pub(crate) const PINS: [[f64; 2]; 4] = [[8.0, 13.0], [13.0, 13.0], [18.0, 13.0], [23.0, 13.0]];

/// Runs a test in a process of its own, whose user data lie in a folder of its own: no test
/// touches those of the person who runs it.
pub(crate) fn at_home(name: &str, test: impl FnOnce(&Path)) {
    const HOME: &str = "BENCHGLASS_HOME";
    const INSIDE: &str = "BENCHGLASS_TEST_FOLDER";
    if let Some(folder) = std::env::var_os(INSIDE) {
        test(Path::new(&folder));
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let output = Command::new(std::env::current_exe().unwrap())
        .args([name, "--exact", "--nocapture", "--test-threads=1"])
        .env(HOME, folder.path().join("home"))
        .env(INSIDE, folder.path())
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&output.stdout).into_owned()
        + &String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{said}");
    assert!(
        said.contains("1 passed"),
        "no test is called {name}: {said}"
    );
}

/// Where a place of the board lies on the photo, seen from the solder side.
pub(crate) fn on_photo(mm: [f64; 2]) -> PhotoPoint {
    PhotoPoint::new((36.0 - mm[0]) * PX_PER_MM, (26.0 - mm[1]) * PX_PER_MM)
}

/// Draws the photo.
pub(crate) fn photo(path: &Path) -> PathBuf {
    let joints: Vec<PhotoPoint> = PINS.iter().map(|at| on_photo(*at)).collect();
    let holes: Vec<PhotoPoint> = LANDMARKS.iter().map(|(_, at)| on_photo(*at)).collect();
    let picture = RgbImage::from_fn(720, 520, |x, y| {
        let here = PhotoPoint::new(f64::from(x), f64::from(y));
        let grain = ((x.wrapping_mul(2_654_435_761) ^ y.wrapping_mul(2_246_822_519)) >> 28) as u8;
        if holes.iter().any(|hole| (here - *hole).length() < 22.0) {
            return Rgb([25, 25, 25]);
        }
        let near = joints
            .iter()
            .map(|at| (here - *at).length())
            .fold(f64::INFINITY, f64::min);
        let level = match near {
            d if d < 9.0 => 205,
            d if d < 20.0 => 150 + ((d - 9.0) * 4.0) as u8,
            _ => return Rgb([40 + grain, 85 + grain, 45 + grain]),
        };
        Rgb([level - grain, level - grain, level - 5])
    });
    picture.save(path).unwrap();
    path.to_path_buf()
}

/// Writes the map.
pub(crate) fn map(path: &Path) -> PathBuf {
    let pins: Vec<_> = PINS
        .iter()
        .enumerate()
        .map(|(i, at)| {
            json!({"uid": format!("j1-{}", i + 1), "no": format!("{}", i + 1), "at": at,
                   "land": {"shape": "round", "size": [2.0, 2.0]}, "drill": 1.0})
        })
        .collect();
    let landmarks: Vec<_> = LANDMARKS
        .iter()
        .map(|(name, at)| json!({"name": name, "at": at, "look_for": "middle of the screw hole"}))
        .collect();
    let map = json!({
        "schema": 1, "model": "Fernhollow FH-12", "board": "main", "title": "main board",
        "origin": "invented for tests",
        "outline": [[0.0, 0.0], [36.0, 0.0], [36.0, 26.0], [0.0, 26.0]],
        "parts": [{"uid": "j1", "ref": "J1", "kind": "header", "side": "component",
                   "outline": {"shape": "rect", "at": [15.5, 13.0], "size": [20.0, 5.0]}, "pins": pins}],
        "landmarks": landmarks,
        "rails": [{"name": "+5 V", "at": "J1.1", "return": "J1.2",
                   "unloaded": {"min": 4.8, "max": 5.2}, "loaded": {"min": 4.75, "max": 5.25},
                   "cold_min_ohm": 80.0}],
    });
    std::fs::write(path, map.to_string()).unwrap();
    path.to_path_buf()
}

/// A job with the map and the photo, aligned or not.
pub(crate) fn job(folder: &Path, aligned: bool) -> PathBuf {
    job_of(folder, "FH12-0900", aligned)
}

/// The same for another unit of the model.
pub(crate) fn job_of(folder: &Path, code: &str, aligned: bool) -> PathBuf {
    std::fs::create_dir_all(folder).unwrap();
    let dir = folder.join(code);
    let unit = Unit {
        code: code.to_owned(),
        model: "Fernhollow FH-12".to_owned(),
        complaint: "blank display".to_owned(),
    };
    let mut session =
        Session::begin(&dir, unit, &[map(&folder.join("main.json"))], "tester").unwrap();
    let view = View {
        board: "main".to_owned(),
        side: Side::Solder,
    };
    let shot = photo(&folder.join("solder.png"));
    let report = add_photos(&mut session, &[shot], Some(&view), &Progress::new()).unwrap();
    if aligned {
        let placed = LANDMARKS
            .iter()
            .map(|(name, at)| ((*name).to_owned(), on_photo(*at)))
            .collect();
        let photo = report.added[0].photo.clone();
        session
            .apply(Action::Align {
                photo,
                view,
                placed,
            })
            .unwrap();
    }
    dir
}

/// The window's insides in a window that is not there.
pub(crate) fn window(size: [f32; 2]) -> Harness<'static, Desk> {
    let desk = Desk::new(&egui::Context::default(), "tester");
    Harness::builder()
        .with_size(egui::vec2(size[0], size[1]))
        .with_context_setup(|ctx| Look::default().apply(ctx))
        .build_ui_state(
            |ui, desk: &mut Desk| {
                let ctx = ui.ctx().clone();
                desk.step(&ctx);
                desk.draw(ui);
            },
            desk,
        )
}

/// A few frames, and on until nothing is under way any more.
pub(crate) fn settle(window: &mut Harness<'static, Desk>) {
    let end = Instant::now() + Duration::from_secs(120);
    window.run_steps(4);
    while window.state().is_busy() {
        assert!(Instant::now() < end, "the window never came to rest");
        std::thread::sleep(Duration::from_millis(5));
        window.step();
    }
    window.run_steps(3);
}

/// Presses a key as a keyboard does.
pub(crate) fn press(window: &mut Harness<'static, Desk>, key: Key) {
    window.key_press(key);
    settle(window);
}

/// Presses a key with others held.
pub(crate) fn press_with(window: &mut Harness<'static, Desk>, modifiers: Modifiers, key: Key) {
    window.key_press_modifiers(modifiers, key);
    settle(window);
}

/// Types into the field that has the focus.
pub(crate) fn write(window: &mut Harness<'static, Desk>, text: &str) {
    window.event(Event::Text(text.to_owned()));
    window.run_steps(2);
}

/// Drags from one place of the photo to another with Shift held.
pub(crate) fn draw(window: &mut Harness<'static, Desk>, from: PhotoPoint, to: PhotoPoint) {
    let view = window
        .state()
        .photo_view()
        .expect("a photo is on the table");
    let (from, to) = (view.point(from), view.point(to));
    let button = |pos, pressed| Event::PointerButton {
        pos,
        button: PointerButton::Primary,
        pressed,
        modifiers: Modifiers::SHIFT,
    };
    window.event(Event::ModifiersChanged(Modifiers::SHIFT));
    window.event(Event::PointerMoved(from));
    window.step();
    window.event(button(from, true));
    window.step();
    for share in [0.5, 1.0] {
        window.event(Event::PointerMoved(from + (to - from) * share));
        window.step();
    }
    window.event(button(to, false));
    window.step();
    window.event(Event::ModifiersChanged(Modifiers::NONE));
    settle(window);
}

/// Clicks a place of the photo on the table.
pub(crate) fn click_photo(window: &mut Harness<'static, Desk>, at: PhotoPoint) {
    let at = window
        .state()
        .photo_view()
        .expect("a photo is on the table")
        .point(at);
    window.hover_at(at);
    window.run_steps(2);
    for pressed in [true, false] {
        window.event(Event::PointerButton {
            pos: at,
            button: PointerButton::Primary,
            pressed,
            modifiers: Modifiers::NONE,
        });
        window.step();
    }
    settle(window);
}
