//! Apertures: the shapes that are flashed.

use std::collections::BTreeMap;

use super::macros::Macros;
use crate::board::model::{Land, LandShape};

/// Most apertures of one file.
pub(super) const MAX_APERTURES: usize = 50_000;

/// An aperture in the file's unit.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Aperture {
    /// Shape and sizes; `None` where they cannot be told.
    pub(super) land: Option<Land>,
    /// Whether the land is the box round a macro's shapes.
    pub(super) boxed: bool,
    /// Diameter of the hole in it.
    pub(super) hole: Option<f64>,
    /// `.AperFunction`, first field and second, for example `ComponentPad`, `SMDPad`.
    pub(super) function: String,
    /// The second field of `.AperFunction`.
    pub(super) detail: String,
}

/// Apertures by their D code.
pub(super) type Apertures = BTreeMap<u32, Aperture>;

/// Reads what stands behind `AD`: `D10C,1.5X0.8`.
///
/// The error is what is wrong, in words.
pub(super) fn define(text: &str, macros: &mut Macros) -> Result<(u32, Aperture), String> {
    let rest = text
        .strip_prefix('D')
        .ok_or("an aperture is `D` and a number")?;
    let digits = rest.bytes().take_while(u8::is_ascii_digit).count();
    let code = rest[..digits]
        .parse::<u32>()
        .ok()
        .filter(|code| *code >= 10)
        .ok_or("an aperture number is 10 or more")?;
    let (template, sizes) = rest[digits..]
        .split_once(',')
        .unwrap_or((&rest[digits..], ""));
    let template = template.trim();
    if template.is_empty() {
        return Err("the aperture has no shape".to_owned());
    }
    let (land, hole) = match template {
        "C" | "R" | "O" | "P" => standard(template, &numbers(sizes)?)?,
        _ if sizes.is_empty() => (macros.land(template, &[]), None),
        _ => (macros.land(template, &numbers(sizes)?), None),
    };
    let boxed = land.is_some() && !matches!(template, "C" | "R" | "O" | "P");
    let aperture = Aperture {
        land,
        boxed,
        hole,
        function: String::new(),
        detail: String::new(),
    };
    Ok((code, aperture))
}

fn standard(template: &str, sizes: &[f64]) -> Result<(Option<Land>, Option<f64>), String> {
    let size = |i: usize| sizes.get(i).copied();
    let first = size(0).ok_or("the aperture has no size")?;
    let (shape, size, hole) = match template {
        "C" => (LandShape::Round, [first, first], size(1)),
        // A regular polygon is as good as its circle: the map has no polygons.
        "P" => (LandShape::Round, [first, first], size(3)),
        _ => {
            let second = size(1).ok_or("the aperture has no second size")?;
            let shape = if template == "R" {
                LandShape::Rect
            } else {
                LandShape::Oval
            };
            (shape, [first, second], size(2))
        }
    };
    if size.iter().chain(&hole).any(|v| !(0.0..=1e4).contains(v)) {
        return Err("the aperture has an impossible size".to_owned());
    }
    let round = shape == LandShape::Oval && size[0] == size[1];
    let shape = if round { LandShape::Round } else { shape };
    // A point is no land: component layers flash such.
    let land = (size[0] > 0.0 && size[1] > 0.0).then_some(Land { shape, size });
    Ok((land, hole.filter(|hole| *hole > 0.0)))
}

fn numbers(text: &str) -> Result<Vec<f64>, String> {
    text.split('X')
        .map(str::trim)
        .map(|word| {
            let plain = word
                .bytes()
                .all(|b| b.is_ascii_digit() || matches!(b, b'.' | b'+' | b'-'));
            word.parse::<f64>()
                .ok()
                .filter(|value| plain && value.is_finite())
                .ok_or_else(|| format!("`{}` is not a number", crate::board::import::quoted(word)))
        })
        .collect()
}
