//! The unrolled ring and the noise estimate against scikit-image's `warp_polar` and Immerkaer's formula
//! in numpy/scipy: versions and the picture's formula stand in `tests/fixtures/joint/warp_polar.json`.

use benchglass::geometry::PhotoPoint;
use benchglass::joint::{JointSpot, look};
use image::{Rgb, RgbImage};

#[test]
fn ring_and_noise_agree_with_the_reference() {
    let fixture: serde_json::Value =
        serde_json::from_str(include_str!("../fixtures/joint/warp_polar.json")).expect("fixture");
    let picture = RgbImage::from_fn(73, 73, |x, y| {
        let v = 60 + (3 * x * x + 5 * y * y + 2 * x * y) / 400 + (31 * x + 17 * y) % 5;
        Rgb([v as u8; 3])
    });
    let spot = JointSpot {
        id: "J1".into(),
        centre: PhotoPoint::new(36.0, 36.0),
        land_radius_px: 25.0,
        pin_radius_px: None,
        px_per_mm: None,
        tilt_deg: None,
    };
    let look = look(&picture, &spot).expect("a reading");
    let noise = fixture["noise"].as_f64().expect("number");
    // The logarithm comes from a table with 8192 steps of luminance.
    assert!(
        (look.noise - noise).abs() < 0.005 * noise,
        "{} against {noise}",
        look.noise
    );
    let every = fixture["every_angle"].as_u64().expect("number") as u32;
    let mut compared = 0;
    for (k, row) in fixture["rows"].as_array().expect("rows").iter().enumerate() {
        for (r, expected) in row.as_array().expect("row").iter().enumerate() {
            let ours = f64::from(look.ring.get_pixel(k as u32 * every, r as u32).0[0]);
            let expected = expected.as_f64().expect("number");
            assert!(
                (ours - expected).abs() <= 1.5,
                "angle {k}, radius {r}: {ours} against {expected}"
            );
            compared += 1;
        }
    }
    assert_eq!(compared, 12 * 54);
}
