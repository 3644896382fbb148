//! Sub-pixel shifts against scikit-image 0.26's phase_cross_correlation
//! (fixture `tests/fixtures/align/skimage_shifts.json`).

use base64::Engine as _;
use benchglass::register::{Plane, shift_between};
use image::GrayImage;
use serde::Deserialize;

/// Both answers are to hundredths of a pixel, the other's on a grid of 0.01 and over the whole
/// wrapped picture: they may differ by this, px. The other is off by up to 0.15 px itself.
const APART_PX: f64 = 0.2;

/// Our distance from the true shift, px, without noise and with 1 or 3 grey levels.
const TRUE_PX: [(u32, f64); 3] = [(0, 0.03), (1, 0.04), (3, 0.08)];

#[derive(Deserialize)]
struct Fixture {
    made_with: String,
    size: u32,
    cases: Vec<Case>,
}

#[derive(Deserialize)]
struct Case {
    noise: u32,
    true_shift_xy: [f64; 2],
    found_shift_xy: [f64; 2],
    a: String,
    b: String,
}

fn plane(text: &str, size: u32) -> Plane {
    let bytes = base64::engine::general_purpose::STANDARD
        .decode(text)
        .unwrap();
    Plane::from_gray(&GrayImage::from_raw(size, size, bytes).unwrap())
}

#[test]
fn shifts_agree_with_phase_cross_correlation_and_the_truth() {
    let text = include_str!("../fixtures/align/skimage_shifts.json");
    let fixture: Fixture = serde_json::from_str(text).unwrap();
    assert!(fixture.made_with.contains("scikit-image 0.26"));
    assert_eq!(fixture.cases.len(), 12);
    let (mut ours, mut theirs) = (0.0, 0.0);
    for case in &fixture.cases {
        let (a, b) = (plane(&case.a, fixture.size), plane(&case.b, fixture.size));
        let shift = shift_between(&a, &b, 5).unwrap();
        let off = |[x, y]: [f64; 2]| (shift.dx - x).hypot(shift.dy - y);
        let (_, bound) = TRUE_PX.iter().find(|(n, _)| *n == case.noise).unwrap();
        let miss = off(case.true_shift_xy);
        assert!(miss < *bound, "{miss} px off at noise {}", case.noise);
        assert!(off(case.found_shift_xy) < APART_PX, "{shift:?}");
        assert!(shift.score > 0.8);
        let [tx, ty] = case.true_shift_xy;
        ours += miss * miss;
        theirs += (case.found_shift_xy[0] - tx).powi(2) + (case.found_shift_xy[1] - ty).powi(2);
    }
    assert!(ours < theirs, "squares {ours} against {theirs}");
}
