//! An invented board of 36 by 26 mm with one header of four pins, and a drawn photo of its
//! solder side at 20 px/mm.

use std::path::{Path, PathBuf};

use benchglass::board::Side;
use benchglass::geometry::PhotoPoint;
use benchglass::progress::Progress;
use benchglass::record::{Unit, View};
use benchglass::work::{Action, Session, add_photos};
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
    picture.save(path).expect("a temporary folder takes it");
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
    std::fs::write(path, map.to_string()).expect("a temporary folder takes it");
    path.to_path_buf()
}

/// A job with the map and the photo, aligned or not.
pub(crate) fn job(folder: &Path, aligned: bool) -> PathBuf {
    job_of(folder, "FH12-0900", aligned)
}

/// The same for another unit of the model.
pub(crate) fn job_of(folder: &Path, code: &str, aligned: bool) -> PathBuf {
    std::fs::create_dir_all(folder).expect("a temporary folder takes it");
    let shot = photo(&folder.join("solder.png"));
    job_with(folder, code, &shot, aligned)
}

/// The same with this photo of the solder side.
pub(crate) fn job_with(folder: &Path, code: &str, shot: &Path, aligned: bool) -> PathBuf {
    let dir = folder.join(code);
    let unit = Unit {
        code: code.to_owned(),
        model: "Fernhollow FH-12".to_owned(),
        complaint: "blank display".to_owned(),
    };
    let mut session = Session::begin(&dir, unit, &[map(&folder.join("main.json"))], "tester")
        .expect("a temporary folder takes it");
    let view = View {
        board: "main".to_owned(),
        side: Side::Solder,
    };
    let report = add_photos(
        &mut session,
        &[shot.to_path_buf()],
        Some(&view),
        &Progress::new(),
    )
    .expect("a temporary folder takes it");
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
            .expect("a temporary folder takes it");
    }
    dir
}
