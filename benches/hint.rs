//! Time of the hint per joint, one core, joints 48 px across.

use std::hint::black_box;

use benchglass::geometry::PhotoPoint;
use benchglass::joint::{JointSpot, hint_photo, look};
use benchglass::progress::Progress;
use criterion::{Criterion, criterion_group, criterion_main};
use image::{Rgb, RgbImage};

/// A patch with a dome, a ring and stripes of reflection; no random numbers.
fn patch(side: u32) -> RgbImage {
    RgbImage::from_fn(side, side, |x, y| {
        let (dx, dy) = (f64::from(x % 100) - 50.0, f64::from(y % 100) - 50.0);
        let r = dx.hypot(dy);
        let mut v = if r < 24.0 {
            150.0 + dy * 2.0 + 20.0 * (dx * 0.7).sin()
        } else {
            40.0
        };
        if (r - 13.0).abs() < 1.2 {
            v *= 0.6;
        }
        Rgb([(v + f64::from((x * 7 + y * 13) % 9)) as u8; 3])
    })
}

fn spot(x: f64, y: f64) -> JointSpot {
    JointSpot {
        id: format!("{x}/{y}"),
        centre: PhotoPoint::new(x, y),
        land_radius_px: 24.0,
        pin_radius_px: None,
        px_per_mm: None,
        tilt_deg: None,
    }
}

fn bench(criterion: &mut Criterion) {
    let image = patch(1000);
    let spots: Vec<JointSpot> = (0..100)
        .map(|k| {
            spot(
                50.0 + f64::from(k % 10) * 100.0,
                50.0 + f64::from(k / 10) * 100.0,
            )
        })
        .collect();
    criterion.bench_function("look at one joint, 48 px across", |b| {
        b.iter(|| look(black_box(&image), &spots[11]))
    });
    let Ok(pool) = rayon::ThreadPoolBuilder::new().num_threads(1).build() else {
        return;
    };
    criterion.bench_function("hint of 100 joints, one thread", |b| {
        b.iter(|| pool.install(|| hint_photo(black_box(&image), &spots, &Progress::new())));
    });
}

criterion_group!(benches, bench);
criterion_main!(benches);
