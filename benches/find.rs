//! Time to find the joints of a 12 MP photo, and of its dark-line response.

use std::hint::black_box;

use benchglass::joint::{dark_lines, find_joints};
use benchglass::progress::Progress;
use criterion::{Criterion, criterion_group, criterion_main};
use image::{Rgb, RgbImage};

/// A green board with rows of lively round joints, 12 MP; no random numbers.
fn board() -> RgbImage {
    RgbImage::from_fn(4032, 3024, |x, y| {
        let (u, v) = (f64::from(x % 64) - 32.0, f64::from(y % 192) - 32.0);
        let grain =
            ((f64::from(x) * 12.989 + f64::from(y) * 78.233).sin() * 43_758.545).fract() * 8.0;
        let r = u.hypot(v);
        if r < 22.0 {
            let lively = 60.0 * (u * 0.5).sin() * (v * 0.4).cos();
            let grey = (140.0 - 2.0 * v + lively + grain).clamp(0.0, 255.0) as u8;
            return Rgb([grey; 3]);
        }
        Rgb([
            (30.0 + grain) as u8,
            (85.0 + grain) as u8,
            (40.0 + grain) as u8,
        ])
    })
}

fn bench(criterion: &mut Criterion) {
    let photo = board();
    let mut group = criterion.benchmark_group("whole 12 MP photo, all cores");
    group.sample_size(10);
    group.bench_function("find joints", |b| {
        b.iter(|| find_joints(black_box(&photo), &Progress::new()));
    });
    group.bench_function("dark lines", |b| {
        b.iter(|| dark_lines(black_box(&photo), &Progress::new()));
    });
    group.finish();
}

criterion_group!(benches, bench);
criterion_main!(benches);
