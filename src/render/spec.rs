//! What a rendered photo shows, and what is true of it.

use serde::{Deserialize, Serialize};

use crate::board::Side;
use crate::geometry::{BoardMm, Homography, PhotoPx};

use super::camera::Camera;
use super::light::Light;
use super::scenario::PlantedFault;

/// The order for one rendered photo.
#[derive(Debug, Clone, PartialEq)]
pub struct PhotoSpec {
    /// Unit code, for example `FH12-0242`.
    pub unit: String,
    /// Board name: `main` or `front`.
    pub board: String,
    /// Side that is photographed.
    pub side: Side,
    /// What it shows, for the file name: `overview`, `relays`, ...
    pub what: String,
    /// Width and height of the upright picture in px.
    pub size: [u32; 2],
    /// The camera.
    pub camera: Camera,
    /// The light.
    pub light: Light,
    /// Seed of the set; the unit's own looks follow from it.
    pub seed: u64,
    /// False leaves out the unit's planted faults (the same picture without them).
    pub plant: bool,
    /// JPEG quality, 82..=92 in the samples.
    pub quality: u8,
    /// EXIF orientation 1..=8 under which the pixels are stored.
    pub orientation: u16,
    /// Date and time for the EXIF tag `DateTimeOriginal`, `YYYY:MM:DD HH:MM:SS`.
    pub taken: String,
}

/// A rendered photo: upright pixels and the truth about them.
#[derive(Debug, Clone)]
pub struct Rendered {
    /// Upright picture.
    pub image: image::RgbImage,
    /// What is where.
    pub truth: PhotoTruth,
}

/// The truth about one rendered photo. All pixels are upright, (0,0) the middle of the first.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PhotoTruth {
    /// File, relative to the sample folder; empty for a picture that is in memory only.
    pub file: String,
    /// Board name.
    pub board: String,
    /// Side.
    pub side: Side,
    /// Upright width and height.
    pub size: [u32; 2],
    /// Board mm to pixels before distortion, row-major, h33 = 1.
    pub photo_from_board: Homography<BoardMm, PhotoPx>,
    /// Radial distortion after the homography.
    pub distortion: Distortion,
    /// Scale in the middle of the picture in px/mm.
    pub px_per_mm: f64,
    /// Joints whose land is wholly in the picture.
    pub joints: Vec<JointTruth>,
}

/// `r' = r (1 + k1 r^2 + k2 r^4)` about `centre`, r in units of `unit_px`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Distortion {
    /// Middle of the picture in px.
    pub centre: [f64; 2],
    /// Half the diagonal in px.
    pub unit_px: f64,
    /// First coefficient.
    pub k1: f64,
    /// Second coefficient.
    pub k2: f64,
}

/// The truth about one joint in one photo.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct JointTruth {
    /// Reference and pin, for example `J4.3`.
    pub joint: String,
    /// Uid of the pin.
    pub uid: String,
    /// Middle of the land in px.
    pub at_px: [f64; 2],
    /// Mean radius of the land in px.
    pub land_radius_px: f64,
    /// Mean radius of the pin in px.
    pub pin_radius_px: f64,
    /// The body of a part on this side lies over the land, so that the joint may be hidden.
    pub covered: bool,
    /// The trade's term of the planted fault, where there is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fault: Option<String>,
    /// The drawn crack, where there is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub crack: Option<CrackTruth>,
}

/// The truth about one drawn crack.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CrackTruth {
    /// Length of the arc in degrees.
    pub arc_deg: f64,
    /// Mean width in mm and px.
    pub width_mm: f64,
    /// See `width_mm`.
    pub width_px: f64,
    /// Share of the light it takes away.
    pub darkening: f64,
    /// Its middle line as seen, px; gaps are left out, so steps may jump.
    pub path_px: Vec<[f64; 2]>,
}

/// Everything true of one unit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct UnitTruth {
    /// Says that all of this is rendered and invented.
    pub note: String,
    /// Unit code.
    pub unit: String,
    /// Model.
    pub model: String,
    /// Owner's complaint.
    pub complaint: String,
    /// What was planted.
    pub planted: Vec<PlantedFault>,
    /// The photos.
    pub photos: Vec<PhotoTruth>,
}
