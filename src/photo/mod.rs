//! Sources: opening photographs.
//!
//! A photo that left this room is *upright*: its EXIF orientation has been applied, once, here
//! and nowhere else. Everywhere in Benchglass (0, 0) is the **centre** of the top-left pixel of
//! the upright photo, so that a photo of `w` by `h` pixels covers `-0.5 .. w - 0.5` across and
//! `-0.5 .. h - 0.5` down.
//!
//! Originals are only ever read. A file is read once, so that its SHA-256 and its pixels come
//! from the same bytes. What a file is, is told from its first bytes and not from its name.
//!
//! Not supported: camera raw files and HEIC (the error says how to export them), pages of a TIFF
//! and pictures of an animation after the first, colour profiles (pixels are taken as sRGB).

mod crop;
mod error;

mod facts;
mod find;
mod first;
mod jpeg;
mod kind;
mod limits;
mod notes;
mod open;
mod outgoing;
mod pyramid;
mod quality;
mod sharpness;
#[cfg(test)]
mod tests;
mod tone;

pub use crop::{OUTSIDE, crop};
pub use error::PhotoError;
pub use facts::Facts;
pub use find::{Found, find_photos};
pub use first::first_picture;
pub use kind::Format;
pub use limits::Limits;
pub use open::{Photo, inspect, open, open_bytes, read_bytes};
pub use outgoing::{thumbnail, to_jpeg};
pub use pyramid::{Pyramid, TILE};
pub use quality::{RegionQuality, quality, quality_grid};
pub use tone::{LinearImage, grey, linear_luminance, linear_of_srgb};
