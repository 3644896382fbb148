//! A temporary bench: its own home, its own folder, a small board map and a drawn photo of it.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use image::{Rgb, RgbImage};
use serde_json::Value;

/// A folder for one test, gone with it.
pub(crate) struct Bench {
    folder: tempfile::TempDir,
}

impl Bench {
    pub(crate) fn new() -> Self {
        Self {
            folder: tempfile::tempdir().expect("a temporary folder"),
        }
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// The binary, ready to run in this folder.
    pub(crate) fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_benchglass"));
        command
            .args(arguments)
            .current_dir(self.folder.path())
            .env("BENCHGLASS_HOME", self.path("home"))
            .env("BENCHGLASS_BY", "tester");
        command
    }

    /// Runs to the end.
    pub(crate) fn run(&self, arguments: &[&str]) -> Ran {
        let output = self.command(arguments).output().expect("the binary runs");
        Ran { output }
    }

    /// Runs and expects exit code 0.
    pub(crate) fn done(&self, arguments: &[&str]) -> Ran {
        let ran = self.run(arguments);
        assert_eq!(ran.code(), 0, "{arguments:?}\n{ran:?}");
        ran
    }

    /// A job with the small board, one aligned photo of its solder side.
    pub(crate) fn job(&self) -> String {
        std::fs::write(self.path("map.json"), small_map().to_string()).expect("writable");
        self.draw_photo("board.png");
        let map = self.path("map.json").display().to_string();
        self.done(&[
            "start",
            "job",
            "--unit",
            "T-1",
            "--model",
            "Test tone box",
            "--map",
            &map,
        ]);
        self.done(&[
            "add",
            "job",
            "board.png",
            "--board",
            "main",
            "--side",
            "solder",
        ]);
        let mut arguments = vec!["align", "job", "--photo", "board.png"];
        let placed: Vec<String> = LANDMARKS
            .iter()
            .map(|(name, x, y)| {
                let [u, v] = photo_px(*x, *y);
                format!("{name}={u},{v}")
            })
            .collect();
        for place in &placed {
            arguments.extend(["--place", place]);
        }
        self.done(&arguments);
        "job".to_owned()
    }

    /// Draws the solder side: green, round joints with a shaded fillet, J1.2 with a dark ring.
    pub(crate) fn draw_photo(&self, name: &str) {
        drawn().save(self.path(name)).expect("writable");
    }
}

/// What a command did.
#[derive(Debug)]
pub(crate) struct Ran {
    output: Output,
}

impl Ran {
    pub(crate) fn code(&self) -> i32 {
        self.output.status.code().unwrap_or(-1)
    }

    pub(crate) fn out(&self) -> String {
        String::from_utf8_lossy(&self.output.stdout).into_owned()
    }

    pub(crate) fn err(&self) -> String {
        String::from_utf8_lossy(&self.output.stderr).into_owned()
    }

    pub(crate) fn json(&self) -> Value {
        serde_json::from_str(&self.out()).unwrap_or_else(|e| panic!("{e}\n{self:?}"))
    }
}

/// A crash is no answer.
pub(crate) fn no_panic(ran: &Ran) {
    assert!(!ran.err().contains("panicked"), "{ran:?}");
}

/// Every file under a folder with its content, for "nothing was changed".
pub(crate) fn contents(folder: &Path) -> Vec<(PathBuf, Vec<u8>)> {
    let mut all: Vec<_> = walkdir::WalkDir::new(folder)
        .into_iter()
        .filter_map(Result::ok)
        .filter(|entry| entry.file_type().is_file())
        .map(|entry| {
            let bytes = std::fs::read(entry.path()).expect("readable");
            (entry.into_path(), bytes)
        })
        .collect();
    all.sort();
    all
}

const PX_PER_MM: f64 = 24.0;
const MARGIN_PX: f64 = 40.0;
const HEIGHT_MM: f64 = 30.0;
const WIDTH_MM: f64 = 50.0;

const LANDMARKS: [(&str, f64, f64); 5] = [
    ("hole A", 3.0, 3.0),
    ("hole B", 47.0, 3.0),
    ("hole C", 47.0, 27.0),
    ("hole D", 3.0, 27.0),
    ("J1 pin 1", 10.0, 10.0),
];

/// Board mm to the drawn solder-side photo: mirrored left to right, y down.
pub(crate) fn photo_px(x: f64, y: f64) -> [f64; 2] {
    [
        MARGIN_PX + (WIDTH_MM - x) * PX_PER_MM,
        MARGIN_PX + (HEIGHT_MM - y) * PX_PER_MM,
    ]
}

fn pins() -> Vec<(String, f64, f64)> {
    (0..8)
        .map(|i| (format!("{}", i + 1), 10.0 + 3.81 * f64::from(i), 10.0))
        .collect()
}

/// A board of our own: an 8-way header, a rail, a test point.
pub(crate) fn small_map() -> Value {
    let pins: Vec<Value> = pins()
        .into_iter()
        .map(|(no, x, y)| {
            serde_json::json!({
                "uid": format!("j1-{no}"), "no": no, "at": [x, y],
                "land": {"shape": "round", "size": [2.4, 2.4]}, "drill": 1.0, "net": format!("N{no}")
            })
        })
        .collect();
    serde_json::json!({
        "schema": 1, "model": "Test tone box", "board": "main", "title": "main board",
        "origin": "drawn by the test",
        "outline": [[0.0, 0.0], [WIDTH_MM, 0.0], [WIDTH_MM, HEIGHT_MM], [0.0, HEIGHT_MM]],
        "parts": [{
            "uid": "j1", "ref": "J1", "kind": "header", "side": "component",
            "outline": {"shape": "rect", "at": [23.3, 10.0], "size": [31.0, 3.0]},
            "pins": pins, "zone": "supply"
        }],
        "landmarks": LANDMARKS.iter().map(|(name, x, y)| serde_json::json!({"name": name, "at": [x, y]})).collect::<Vec<_>>(),
        "rails": [{
            "name": "+5 V", "at": "J1.1", "return": "J1.2",
            "unloaded": {"min": 4.75, "max": 5.25}, "loaded": {"min": 4.75, "max": 5.25}, "cold_min_ohm": 100.0
        }],
        "test_points": []
    })
}

fn drawn() -> RgbImage {
    let width = (2.0 * MARGIN_PX + WIDTH_MM * PX_PER_MM) as u32;
    let height = (2.0 * MARGIN_PX + HEIGHT_MM * PX_PER_MM) as u32;
    let joints: Vec<(String, [f64; 2])> = pins()
        .into_iter()
        .map(|(no, x, y)| (no, photo_px(x, y)))
        .collect();
    RgbImage::from_fn(width, height, |u, v| {
        let (u, v) = (f64::from(u), f64::from(v));
        // A little fixed grain, so that there is noise to measure against.
        let grain = ((u * 12.989 + v * 78.233).sin() * 43_758.545).fract() * 6.0;
        for (no, [x, y]) in &joints {
            let r = (u - x).hypot(v - y) / PX_PER_MM;
            if r < 1.2 {
                return joint_pixel(no, r, (v - y).atan2(u - x), grain);
            }
        }
        let inside = u > MARGIN_PX
            && v > MARGIN_PX
            && u < f64::from(width) - MARGIN_PX
            && v < f64::from(height) - MARGIN_PX;
        let base = if inside {
            [58.0, 92.0, 50.0]
        } else {
            [150.0, 120.0, 90.0]
        };
        Rgb(base.map(|c| (c + grain) as u8))
    })
}

fn joint_pixel(no: &str, r: f64, angle: f64, grain: f64) -> Rgb<u8> {
    let shade = 150.0 - 45.0 * r + 30.0 * (angle - 0.7).cos() * (1.0 - r / 1.2);
    let cracked = no == "2" && (r - 0.62).abs() < 0.06;
    let grey = if cracked {
        shade * 0.2
    } else if r < 0.4 {
        175.0
    } else {
        shade
    };
    Rgb([
        (grey + grain) as u8,
        (grey + grain) as u8,
        (grey * 0.97 + grain) as u8,
    ])
}
