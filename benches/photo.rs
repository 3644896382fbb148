//! Times for a 12 MP photo (rendered here): opening, the first picture with and without an
//! embedded thumbnail, the pyramid, the quality grid.
//!
//! `cargo bench --no-default-features --bench photo`

#![allow(
    clippy::unwrap_used,
    reason = "a bench that cannot be set up has nothing to measure"
)]

use std::hint::black_box;
use std::io::Cursor;
use std::path::Path;

use benchglass::photo::{
    Limits, Pyramid, first_picture, inspect, open_bytes, quality_grid, thumbnail, to_jpeg,
};
use criterion::{Criterion, criterion_group, criterion_main};
use exif::experimental::Writer;
use exif::{Field, In, Tag, Value};
use image::{Rgb, RgbImage};

const SIZE: (u32, u32) = (4032, 3024);

/// Rows of discs with a bright spot each on a speckled ground: about as much detail as a board.
fn scene() -> RgbImage {
    RgbImage::from_fn(SIZE.0, SIZE.1, |x, y| {
        let (dx, dy) = (x as i32 % 96 - 48, y as i32 % 96 - 48);
        let speck = (x.wrapping_mul(73_856_093) ^ y.wrapping_mul(19_349_663)) >> 7 & 15;
        let v = match dx * dx + dy * dy {
            0..=90 => 235,
            91..=900 => 150 + (dx / 2) as u8 as u32 % 40,
            _ => 60 + (x / 200 + y / 150) % 20,
        } + speck;
        Rgb([(v / 2) as u8, v.min(255) as u8, (v * 2 / 3) as u8])
    })
}

fn with_thumbnail(jpeg: &[u8], thumb: &[u8]) -> Vec<u8> {
    let field = Field {
        tag: Tag::Orientation,
        ifd_num: In::PRIMARY,
        value: Value::Short(vec![6]),
    };
    let mut writer = Writer::new();
    writer.push_field(&field);
    writer.set_jpeg(thumb, In::THUMBNAIL);
    let mut tiff = Cursor::new(Vec::new());
    writer.write(&mut tiff, false).unwrap();
    let content = [b"Exif\0\0", tiff.into_inner().as_slice()].concat();
    let length = u16::try_from(content.len() + 2).unwrap().to_be_bytes();
    [&jpeg[..2], &[0xFF, 0xE1], &length, &content, &jpeg[2..]].concat()
}

fn photo(c: &mut Criterion) {
    let image = scene();
    let jpeg = to_jpeg(&image, 90).unwrap();
    let thumb = to_jpeg(&thumbnail(&image, 160), 80).unwrap();
    let dir = tempfile::tempdir().unwrap();
    let (plain, with) = (dir.path().join("plain.jpg"), dir.path().join("with.jpg"));
    std::fs::write(&plain, &jpeg).unwrap();
    std::fs::write(&with, with_thumbnail(&jpeg, &thumb)).unwrap();

    let mut group = c.benchmark_group("12 MP");
    group.sample_size(10);
    group.bench_function("inspect", |b| {
        b.iter(|| inspect(black_box(&plain)).unwrap())
    });
    group.bench_function("first picture, thumbnail", |b| {
        b.iter(|| first_picture(black_box(&with), 1024).unwrap());
    });
    group.bench_function("first picture, scaled decode", |b| {
        b.iter(|| first_picture(black_box(&plain), 1024).unwrap());
    });
    group.bench_function("open", |b| {
        b.iter(|| open_bytes(Path::new("p.jpg"), black_box(&jpeg), &Limits::default()).unwrap());
    });
    let shared = std::sync::Arc::new(image.clone());
    group.bench_function("pyramid", |b| b.iter(|| Pyramid::new(shared.clone())));
    group.bench_function("quality grid 8 x 6", |b| {
        b.iter(|| quality_grid(black_box(&image), 8, 6));
    });
    group.finish();
}

criterion_group!(benches, photo);
criterion_main!(benches);
