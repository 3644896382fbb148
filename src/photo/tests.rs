//! Whole files through the whole room: good ones of every format, bad ones of every kind.

use std::io::Cursor;
use std::path::{Path, PathBuf};

use ::exif::experimental::Writer;
use ::exif::{Field, In, Tag, Value};
use image::{DynamicImage, ImageBuffer, ImageFormat, Luma, Rgb, RgbImage, Rgba};
use proptest::prelude::*;

use super::*;

const FORMATS: [ImageFormat; 5] = [
    ImageFormat::Jpeg,
    ImageFormat::Png,
    ImageFormat::Tiff,
    ImageFormat::WebP,
    ImageFormat::Bmp,
];

/// A picture with detail everywhere, so that cut-off data are missed.
fn scene(width: u32, height: u32) -> RgbImage {
    RgbImage::from_fn(width, height, |x, y| {
        let v = (x * 7 + y * 13) ^ (x * y / 5);
        Rgb([v as u8, (v / 3) as u8, (x + y) as u8])
    })
}

fn encoded(image: impl Into<DynamicImage>, format: ImageFormat) -> Vec<u8> {
    let mut out = Cursor::new(Vec::new());
    image.into().write_to(&mut out, format).unwrap();
    out.into_inner()
}

/// A JPEG with an EXIF segment, with an embedded thumbnail where one is given.
fn with_exif(jpeg: &[u8], orientation: u16, thumb: Option<&[u8]>) -> Vec<u8> {
    let field = Field {
        tag: Tag::Orientation,
        ifd_num: In::PRIMARY,
        value: Value::Short(vec![orientation]),
    };
    let mut writer = Writer::new();
    writer.push_field(&field);
    if let Some(thumb) = thumb {
        writer.set_jpeg(thumb, In::THUMBNAIL);
    }
    let mut block = Cursor::new(Vec::new());
    writer.write(&mut block, false).unwrap();
    with_app1(jpeg, &[b"Exif\0\0", block.into_inner().as_slice()].concat())
}

fn with_app1(jpeg: &[u8], content: &[u8]) -> Vec<u8> {
    let length = u16::try_from(content.len() + 2).unwrap();
    [
        &jpeg[..2],
        &[0xFF, 0xE1],
        &length.to_be_bytes(),
        content,
        &jpeg[2..],
    ]
    .concat()
}

fn try_bytes(bytes: &[u8]) -> Result<Photo, PhotoError> {
    open_bytes(Path::new("board.jpg"), bytes, &Limits::default())
}

fn on_disk(dir: &tempfile::TempDir, name: &str, bytes: &[u8]) -> PathBuf {
    let path = dir.path().join(name);
    std::fs::write(&path, bytes).unwrap();
    path
}

/// The message names the file and tells to copy it again.
fn assert_damaged(result: Result<Photo, PhotoError>, what: &str) {
    match result {
        Err(error @ PhotoError::Damaged { .. }) => {
            let message = error.to_string();
            assert!(
                message.contains("board.jpg") && message.contains("copy it again"),
                "{message}"
            );
        }
        other => panic!("{what}: {:?}", other.map(|photo| photo.facts)),
    }
}

#[test]
fn every_format_opens_whatever_its_name() {
    let dir = tempfile::tempdir().unwrap();
    let image = scene(61, 47);
    for format in FORMATS {
        let bytes = encoded(image.clone(), format);
        let path = on_disk(&dir, "misnamed.txt", &bytes);
        let photo = open(&path).unwrap();
        assert_eq!(photo.facts.stored, [61, 47], "{format:?}");
        assert_eq!(photo.facts, inspect(&path).unwrap(), "{format:?}");
        assert!(
            photo.facts.warnings.is_empty(),
            "{:?}",
            photo.facts.warnings
        );
        if format != ImageFormat::Jpeg {
            assert_eq!(photo.image, image, "{format:?} is lossless");
        }
        assert_eq!(
            std::fs::read(&path).unwrap(),
            bytes,
            "the original is untouched"
        );
    }
}

#[test]
fn deep_grey_and_transparent_pictures_become_rgb() {
    let deep: ImageBuffer<Rgb<u16>, _> = ImageBuffer::from_pixel(3, 2, Rgb([0, 32_896, 65_535]));
    let grey: ImageBuffer<Luma<u16>, _> = ImageBuffer::from_pixel(3, 2, Luma([32_896]));
    let clear = ImageBuffer::from_pixel(3, 2, Rgba([255_u8, 0, 0, 0]));
    for format in [ImageFormat::Png, ImageFormat::Tiff] {
        let photo = try_bytes(&encoded(deep.clone(), format)).unwrap();
        assert_eq!(photo.image.get_pixel(1, 1).0, [0, 128, 255]);
        let photo = try_bytes(&encoded(grey.clone(), format)).unwrap();
        assert_eq!(photo.image.get_pixel(1, 1).0, [128; 3]);
        let photo = try_bytes(&encoded(clear.clone(), format)).unwrap();
        assert_eq!(photo.image.get_pixel(1, 1).0, [128; 3]);
        assert!(photo.facts.warnings[0].contains("transparent"));
    }
}

#[test]
fn a_jpeg_that_is_cut_short_is_refused() {
    let jpeg = encoded(scene(400, 300), ImageFormat::Jpeg);
    let progressive = include_bytes!("../../tests/fixtures/exif/progressive1.jpg");
    let thumb = encoded(scene(160, 120), ImageFormat::Jpeg);
    let with_thumb = with_exif(&jpeg, 1, Some(&thumb));
    for whole in [jpeg.as_slice(), progressive, &with_thumb] {
        assert!(try_bytes(whole).is_ok());
        for per_mille in [100, 500, 900, 990, 999] {
            let cut = &whole[..whole.len() * per_mille / 1000];
            assert_damaged(try_bytes(cut), &format!("cut at {per_mille} per mille"));
        }
        assert_damaged(
            try_bytes(&whole[..whole.len() - 2]),
            "without its end marker",
        );
        let mut zeros = whole.to_vec();
        zeros[whole.len() * 9 / 10..].fill(0);
        assert_damaged(try_bytes(&zeros), "with zeros for its end");
    }
}

#[test]
fn every_other_format_cut_short_is_refused() {
    for format in FORMATS {
        let whole = encoded(scene(200, 150), format);
        for percent in [2, 50, 90] {
            let cut = &whole[..whole.len() * percent / 100];
            assert_damaged(try_bytes(cut), &format!("{format:?} cut at {percent} %"));
        }
    }
}

#[test]
fn bytes_after_the_end_of_a_jpeg_are_no_fault() {
    let jpeg = encoded(scene(200, 150), ImageFormat::Jpeg);
    let plain = try_bytes(&jpeg).unwrap().image;
    let clip = b"....ftypmp42 an appended clip \xFF\xDA\xFF\xD8".repeat(50);
    let half = &jpeg[..jpeg.len() / 2];
    for tail in [clip.as_slice(), &jpeg, half, &[0; 4096]] {
        let photo = try_bytes(&[&jpeg, tail].concat()).unwrap();
        assert!(photo.image == plain, "the tail changed the picture");
    }
}

#[test]
fn sizes_beyond_the_limits_are_refused_by_their_header() {
    let mut png = encoded(scene(8, 8), ImageFormat::Png);
    png[16..20].copy_from_slice(&60_000_u32.to_be_bytes());
    png[20..24].copy_from_slice(&60_000_u32.to_be_bytes());
    let check = crc32(&png[12..29]).to_be_bytes();
    png[29..33].copy_from_slice(&check);
    let mut bmp = encoded(scene(8, 8), ImageFormat::Bmp);
    bmp[18..22].copy_from_slice(&60_000_i32.to_le_bytes());
    bmp[22..26].copy_from_slice(&60_000_i32.to_le_bytes());
    let mut jpeg = encoded(scene(8, 8), ImageFormat::Jpeg);
    let frame = jpeg.windows(2).position(|w| w == [0xFF, 0xC0]).unwrap();
    jpeg[frame + 5..frame + 9].copy_from_slice(&[0xEA, 0x60, 0xEA, 0x60]);
    for bytes in [png, bmp, jpeg] {
        let error = try_bytes(&bytes).unwrap_err();
        let PhotoError::TooManyPixels { width, height, .. } = error else {
            panic!("{error}");
        };
        assert_eq!((width, height), (60_000, 60_000));
    }
}

/// CRC-32 as PNG wants it (ISO 3309), bit by bit.
fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(u32::MAX, |crc, &byte| {
        (0..8).fold(crc ^ u32::from(byte), |c, _| {
            (c >> 1) ^ (0xEDB8_8320 * (c & 1))
        })
    })
}

#[test]
fn what_is_no_photo_is_told_apart() {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path().join("photo.jpg");
    std::fs::create_dir(&folder).unwrap();
    assert!(matches!(open(&folder), Err(PhotoError::Folder { .. })));
    let empty = on_disk(&dir, "empty.jpg", b"");
    assert!(matches!(inspect(&empty), Err(PhotoError::Empty { .. })));
    assert!(matches!(
        first_picture(&empty, 100),
        Err(PhotoError::Empty { .. })
    ));
    let text = on_disk(&dir, "text.jpg", b"bring milk");
    assert!(matches!(open(&text), Err(PhotoError::NotAPhoto { .. })));
    let gone = dir.path().join("gone.jpg");
    assert!(matches!(open(&gone), Err(PhotoError::Missing { .. })));
    let heic = on_disk(&dir, "phone.jpg", b"\0\0\0\x18ftypheic\0\0\0\0mif1heic");
    assert!(
        open(&heic)
            .unwrap_err()
            .to_string()
            .contains("export it as JPEG")
    );
}

#[cfg(unix)]
#[test]
fn a_pipe_or_device_is_refused_without_waiting() {
    let error = open(Path::new("/dev/null")).unwrap_err();
    assert!(matches!(error, PhotoError::NotAFile { .. }), "{error}");
}

#[test]
fn one_pixel_opens() {
    let photo = try_bytes(&encoded(scene(1, 1), ImageFormat::Jpeg)).unwrap();
    assert_eq!(photo.image.dimensions(), (1, 1));
    assert_eq!(quality_grid(&photo.image, 3, 3).len(), 9);
    assert_eq!(Pyramid::new(photo.image).levels(), 1);
}

#[test]
fn broken_exif_is_a_warning() {
    let jpeg = encoded(scene(20, 10), ImageFormat::Jpeg);
    for block in [
        b"Exif\0\0II*\0\xFF\xFF\xFF\x7F".as_slice(),
        b"Exif\0\0nonsense",
        b"Exif\0\0II*\0\x08\0\0\0\xFF\xFF",
    ] {
        let photo = try_bytes(&with_app1(&jpeg, block)).unwrap();
        assert_eq!(photo.facts.orientation, 1);
        assert!(
            photo.facts.warnings[0].contains("EXIF"),
            "{:?}",
            photo.facts.warnings
        );
    }
}

#[test]
fn the_first_picture_is_the_embedded_thumbnail_where_it_fits() {
    let dir = tempfile::tempdir().unwrap();
    let jpeg = encoded(scene(800, 600), ImageFormat::Jpeg);
    let blue = RgbImage::from_pixel(160, 120, Rgb([20, 30, 200]));
    let thumb = encoded(blue, ImageFormat::Jpeg);
    let path = on_disk(&dir, "t.jpg", &with_exif(&jpeg, 6, Some(&thumb)));
    let first = first_picture(&path, 1000).unwrap();
    assert_eq!(first.dimensions(), (120, 160), "upright");
    assert!(
        first.pixels().all(|p| p[2] > 180 && p[0] < 40),
        "the thumbnail's colour"
    );
    assert_eq!(first_picture(&path, 80).unwrap().dimensions(), (60, 80));

    // Of another shape: made before somebody turned or cropped the photo.
    let stale = encoded(
        RgbImage::from_pixel(120, 160, Rgb([20, 30, 200])),
        ImageFormat::Jpeg,
    );
    let path = on_disk(&dir, "s.jpg", &with_exif(&jpeg, 1, Some(&stale)));
    let first = first_picture(&path, 200).unwrap();
    assert_eq!(first.dimensions(), (200, 150));
    assert!(!first.pixels().all(|p| p[2] > 180 && p[0] < 40));
}

#[test]
fn black_bars_of_a_thumbnail_are_cut_off() {
    let dir = tempfile::tempdir().unwrap();
    let jpeg = encoded(scene(900, 600), ImageFormat::Jpeg);
    let barred = RgbImage::from_fn(160, 120, |_, y| {
        if (7..113).contains(&y) {
            Rgb([200, 200, 60])
        } else {
            Rgb([0; 3])
        }
    });
    let thumb = encoded(barred, ImageFormat::Jpeg);
    let path = on_disk(&dir, "b.jpg", &with_exif(&jpeg, 1, Some(&thumb)));
    let first = first_picture(&path, 1000).unwrap();
    assert_eq!(first.dimensions(), (160, 107));
    let middle = first.pixels().skip(3 * 160).take(100 * 160);
    assert!(middle.clone().all(|p| p[0] > 150), "no bar is left inside");
}

#[test]
fn without_a_thumbnail_the_first_picture_is_a_small_decode() {
    let dir = tempfile::tempdir().unwrap();
    let smooth = RgbImage::from_fn(1600, 1200, |x, y| Rgb([(x / 7) as u8, (y / 5) as u8, 90]));
    for format in FORMATS {
        let path = on_disk(&dir, "p", &encoded(smooth.clone(), format));
        let first = first_picture(&path, 400).unwrap();
        assert_eq!(first.dimensions(), (400, 300), "{format:?}");
        let whole = thumbnail(&open(&path).unwrap().image, 400);
        let off = first
            .iter()
            .zip(whole.iter())
            .map(|(a, b)| a.abs_diff(*b))
            .max();
        assert!(off.unwrap() <= 6, "{format:?}: {off:?}");
    }
    let whole = encoded(smooth, ImageFormat::Jpeg);
    let path = on_disk(&dir, "cut.jpg", &whole[..whole.len() / 2]);
    assert!(matches!(
        first_picture(&path, 400),
        Err(PhotoError::Damaged { .. })
    ));
}

#[test]
fn a_progressive_first_picture_leaves_out_only_refinement() {
    // Six flat blocks of 8 x 8: one eighth of the size holds each block's colour.
    let bytes = include_bytes!("../../tests/fixtures/exif/progressive1.jpg");
    let outline = jpeg::outline(bytes).unwrap();
    assert!(outline.refinement.is_some_and(|at| at < bytes.len()));
    let dir = tempfile::tempdir().unwrap();
    let path = on_disk(&dir, "p.jpg", bytes);
    let first = first_picture(&path, 3).unwrap();
    assert_eq!(first.dimensions(), (2, 3));
    let whole = open(&path).unwrap().image;
    for (x, y, pixel) in first.enumerate_pixels() {
        let truth = whole.get_pixel(x * 8 + 4, y * 8 + 4).0;
        let off = pixel.0.iter().zip(truth).map(|(a, b)| a.abs_diff(b)).max();
        assert!(off.unwrap() <= 4, "{x} {y}: {pixel:?} for {truth:?}");
    }
}

fn sample(index: usize) -> Vec<u8> {
    match FORMATS.get(index) {
        Some(format) => encoded(scene(40, 30), *format),
        None => include_bytes!("../../tests/fixtures/exif/progressive6.jpg").to_vec(),
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn mutated_files_give_a_picture_or_a_named_error(
        index in 0..6_usize,
        changes in proptest::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 0..12),
        cut in proptest::option::of(any::<prop::sample::Index>()),
    ) {
        let mut bytes = sample(index);
        for (at, value) in changes {
            let at = at.index(bytes.len());
            bytes[at] = value;
        }
        if let Some(cut) = cut {
            bytes.truncate(cut.index(bytes.len()));
        }
        let limits = Limits { max_pixels: 1 << 20, ..Limits::default() };
        let name = Path::new("mutated.bin");
        match open_bytes(name, &bytes, &limits) {
            Ok(photo) => {
                let size = [photo.image.width(), photo.image.height()];
                prop_assert_eq!(size, photo.facts.upright);
            }
            Err(error) => prop_assert_eq!(error.path(), Some(name)),
        }
        let dir = tempfile::tempdir().unwrap();
        let path = on_disk(&dir, "m", &bytes);
        if bytes.len() < 4000
            && let Err(error) = first_picture(&path, 16)
        {
            prop_assert_eq!(error.path(), Some(path.as_path()));
        }
    }

    #[test]
    fn turning_upright_moves_every_pixel_once(orientation in 0..12_u16, w in 1..20_u32, h in 1..20_u32) {
        let image = scene(w, h);
        let jpeg = with_exif(&encoded(image, ImageFormat::Jpeg), orientation, None);
        let photo = try_bytes(&jpeg).unwrap();
        let size = [photo.image.width(), photo.image.height()];
        prop_assert_eq!(size, photo.facts.upright);
        let sideways = (5..=8).contains(&orientation);
        prop_assert_eq!(size, if sideways { [h, w] } else { [w, h] });
        let stored = try_bytes(&with_exif(&jpeg_of(w, h), 1, None)).unwrap().image;
        let sorted = |image: &RgbImage| {
            let mut pixels: Vec<_> = image.pixels().map(|p| p.0).collect();
            pixels.sort_unstable();
            pixels
        };
        prop_assert_eq!(sorted(&photo.image), sorted(&stored));
    }
}

fn jpeg_of(width: u32, height: u32) -> Vec<u8> {
    encoded(scene(width, height), ImageFormat::Jpeg)
}
