//! Homographies against OpenCV 5.0 (fixture `tests/fixtures/align/opencv_homography.json`).

use benchglass::geometry::{BoardMm, BoardPoint, Homography, PhotoPoint, PhotoPx, fit_homography};
use serde::Deserialize;

/// Four points have one answer, worked out in the fixture with exact fractions.
const EXACT_PX: f64 = 1e-6;

/// The other library's own distance from that answer: up to 5e-4 px on these points.
const OTHERS_PX: f64 = 6e-4;

/// Least squares: ours may not miss by more than this factor of what the other misses.
const RMS_FACTOR: f64 = 1.000_001;

/// Both minimise the same sum, but stop at different steps: at the points themselves the two
/// answers differ by less than this.
const NOISY_PX: f64 = 0.01;

#[derive(Deserialize)]
struct Fixture {
    made_with: String,
    probe: Vec<[f64; 2]>,
    exact: Vec<Case>,
    noisy: Vec<Case>,
}

#[derive(Deserialize)]
struct Case {
    board: Vec<[f64; 2]>,
    photo: Vec<[f64; 2]>,
    mapped: Vec<[f64; 2]>,
    #[serde(default)]
    fractions: Vec<[f64; 2]>,
    #[serde(default)]
    rms_px: f64,
}

fn fixture() -> Fixture {
    let text = include_str!("../fixtures/align/opencv_homography.json");
    let fixture: Fixture = serde_json::from_str(text).unwrap();
    assert!(fixture.made_with.contains("OpenCV 5.0"));
    fixture
}

fn fit(case: &Case) -> Homography<BoardMm, PhotoPx> {
    let board: Vec<BoardPoint> = case.board.iter().map(|p| (*p).into()).collect();
    let photo: Vec<PhotoPoint> = case.photo.iter().map(|p| (*p).into()).collect();
    fit_homography(&board, &photo, None).unwrap()
}

/// Distances between the images of `from` and `to`, px.
fn misses(fit: &Homography<BoardMm, PhotoPx>, from: &[[f64; 2]], to: &[[f64; 2]]) -> Vec<f64> {
    let miss = |(f, t): (&[f64; 2], &[f64; 2])| {
        (fit.apply((*f).into()).unwrap() - PhotoPoint::from(*t)).length()
    };
    from.iter().zip(to).map(miss).collect()
}

fn worst(fit: &Homography<BoardMm, PhotoPx>, from: &[[f64; 2]], to: &[[f64; 2]]) -> f64 {
    misses(fit, from, to).into_iter().fold(0.0, f64::max)
}

#[test]
fn four_points_agree_with_get_perspective_transform() {
    let fixture = fixture();
    assert_eq!(fixture.exact.len(), 20);
    for case in &fixture.exact {
        let fit = fit(case);
        let off = worst(&fit, &fixture.probe, &case.fractions);
        assert!(off < EXACT_PX, "{off} px: {:?}", case.board);
        let apart = worst(&fit, &fixture.probe, &case.mapped);
        assert!(apart < OTHERS_PX, "{apart} px: {:?}", case.board);
    }
}

#[test]
fn noisy_points_are_met_as_well_as_by_find_homography() {
    let fixture = fixture();
    assert_eq!(fixture.noisy.len(), 45);
    for case in &fixture.noisy {
        let fit = fit(case);
        let squares: f64 = (misses(&fit, &case.board, &case.photo).iter())
            .map(|miss| miss * miss)
            .sum();
        let rms = (squares / case.board.len() as f64).sqrt();
        assert!(rms <= case.rms_px * RMS_FACTOR, "{rms} > {}", case.rms_px);
        let off = worst(&fit, &case.board, &case.mapped);
        assert!(off < NOISY_PX, "{off} px with {} points", case.board.len());
    }
}
