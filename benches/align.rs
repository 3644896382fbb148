//! Automatic alignment on pairs of photographs with known corresponding points: error and time.
//!
//! Takes a folder with `pairs.json` (`pairs[] {name, a, b, points_a, points_b}`, upright pixels)
//! and prints, for each pair, what was answered, the errors at the points and the time.
//!
//! ```text
//! cargo bench --no-default-features --bench align -- FOLDER
//! ```
//! How often it is right, refused, or wrong with trust, over N made cases (200: two to four minutes on two cores):
//!
//! ```text
//! cargo bench --no-default-features --bench align -- --trust N sample-boards [FOLDER] [--only KIND]
//! ```
//!
//! With no folder it prints nothing and succeeds: no photographs are part of the
//! project.
#![expect(clippy::print_stdout, reason = "the figures are what it is for")]

#[path = "align/cases.rs"]
mod cases;
#[path = "align/shots.rs"]
mod shots;
#[path = "align/trust.rs"]
mod trust;

use std::path::Path;
use std::time::Instant;

use benchglass::align::automatic;
use benchglass::progress::Progress;
use euclid::Point2D;

#[derive(serde::Deserialize)]
struct Pairs {
    pairs: Vec<Pair>,
}

#[derive(serde::Deserialize)]
struct Pair {
    name: String,
    a: String,
    b: String,
    points_a: Vec<[f64; 2]>,
    points_b: Vec<[f64; 2]>,
}

const RUNS: usize = 3;

fn main() {
    let words: Vec<String> = (std::env::args().skip(1))
        .filter(|word| word != "--bench")
        .collect();
    if let Some(at) = words.iter().position(|word| word == "--trust") {
        let count = words.get(at + 1).and_then(|n| n.parse().ok());
        let (Some(count), Some(folder)) = (count, words.get(at + 2)) else {
            println!("--trust needs a number of cases and the folder of sample boards");
            return;
        };
        let only = (words.iter().position(|word| word == "--only"))
            .and_then(|at| words.get(at + 1))
            .map(String::as_str);
        let pairs = (words.get(at + 3)).filter(|word| !word.starts_with("--"));
        trust::rates(count, Path::new(folder), pairs.map(Path::new), only);
        return;
    }
    let Some(folder) = words.iter().find(|a| !a.starts_with("--")) else {
        println!("no folder given: nothing measured");
        return;
    };
    let folder = Path::new(folder);
    let text = std::fs::read_to_string(folder.join("pairs.json")).expect("pairs.json");
    let pairs: Pairs = serde_json::from_str(&text).expect("pairs.json");
    let open = |name: &str| image::open(folder.join(name)).expect("photo").to_luma8();
    let photos: Vec<_> = pairs
        .pairs
        .iter()
        .map(|p| (open(&p.a), open(&p.b)))
        .collect();
    for (pair, (a, b)) in pairs.pairs.iter().zip(&photos) {
        let mut times: Vec<f64> = Vec::new();
        let mut answer = automatic(a, b, &Progress::new());
        for _ in 0..RUNS {
            let start = Instant::now();
            answer = automatic(a, b, &Progress::new());
            times.push(start.elapsed().as_secs_f64() * 1e3);
        }
        times.sort_by(f64::total_cmp);
        print!("{:18} {:6.0} ms  ", pair.name, times[RUNS / 2]);
        match &answer {
            Err(refusal) => println!("refused: {refusal}"),
            Ok(fit) => {
                let mut errors: Vec<f64> = (pair.points_a.iter().zip(&pair.points_b))
                    .map(|(p, q)| {
                        let at = match &fit.bent {
                            Some(bent) => bent.apply(None, (*p).into()),
                            None => fit.homography.apply((*p).into()),
                        };
                        at.map_or(f64::INFINITY, |at| (at - Point2D::from(*q)).length())
                    })
                    .collect();
                errors.sort_by(f64::total_cmp);
                let n = errors.len();
                println!(
                    "error px median {:.1} p90 {:.1} max {:.1}; expected {:.1}, inliers {}, {:?}",
                    errors[n / 2],
                    errors[(n * 9).div_ceil(10) - 1],
                    errors[n - 1],
                    fit.expected_error_px,
                    fit.inliers,
                    fit.trust
                );
            }
        }
    }
    crossed(&pairs, &photos);
}

/// Every photo against every photo of another pair, and against its mirror image: all of these
/// must be refused.
fn crossed(pairs: &Pairs, photos: &[(image::GrayImage, image::GrayImage)]) {
    for (i, (a, b)) in photos.iter().enumerate() {
        for (j, (_, other)) in photos.iter().enumerate() {
            let (what, photo) = if i == j {
                (
                    "its mirror image".to_owned(),
                    image::imageops::flip_horizontal(b),
                )
            } else {
                (pairs.pairs[j].name.clone(), other.clone())
            };
            let answer = match automatic(a, &photo, &Progress::new()) {
                Ok(fit) => format!("WRONG: {:?}", fit.trust),
                Err(refusal) => format!("refused: {}", refusal.reason),
            };
            println!("{} against {what}: {answer}", pairs.pairs[i].name);
        }
    }
}
