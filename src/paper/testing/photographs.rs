//! Its photographs, drawn.

use super::board::main_board;
use super::journal::{PANEL, PhotoFromBoard, photo_id, photographs};
use std::collections::BTreeMap;
use std::sync::{Arc, LazyLock};

use image::{Rgb, RgbImage};

use crate::board::{BoardMap, PartKind, Side};
use crate::geometry::{BoardPoint, PhotoPoint};
use crate::record::*;

/// The placeholder photographs, drawn once.
pub(crate) static PHOTOGRAPHS: LazyLock<BTreeMap<PhotoId, Arc<RgbImage>>> =
    LazyLock::new(drawn_photographs);

fn drawn_photographs() -> BTreeMap<PhotoId, Arc<RgbImage>> {
    let map = main_board();
    let mut drawn: BTreeMap<PhotoId, Arc<RgbImage>> = photographs()
        .into_iter()
        .map(|(name, side, size, transform)| {
            (photo_id(name), Arc::new(draw(&map, side, size, &transform)))
        })
        .collect();
    let panel = RgbImage::from_fn(600, 400, |x, y| {
        let near = (f64::from(x) - 420.0).hypot(f64::from(y) - 150.0) < 30.0;
        if near {
            Rgb([150, 140, 90])
        } else {
            Rgb([70, 74, 82])
        }
    });
    drawn.insert(photo_id(PANEL), Arc::new(panel));
    drawn
}

fn draw(map: &BoardMap, side: Side, size: [u32; 2], transform: &PhotoFromBoard) -> RgbImage {
    let back = transform.inverse().unwrap();
    let lands: Vec<(BoardPoint, f64, &str)> = map
        .parts
        .iter()
        .flat_map(|part| &part.pins)
        .map(|pin| (pin.centre(), pin.land_radius_mm(), pin.uid.as_str()))
        .collect();
    RgbImage::from_fn(size[0], size[1], |x, y| {
        let grain = f64::from((x.wrapping_mul(7919) ^ y.wrapping_mul(104_729)) % 17) - 8.0;
        let colour = back
            .apply(PhotoPoint::new(f64::from(x), f64::from(y)))
            .map_or([30.0; 3], |at| colour(map, side, &lands, at));
        Rgb(colour.map(|value| (value + grain).clamp(0.0, 255.0) as u8))
    })
}

fn colour(
    map: &BoardMap,
    side: Side,
    lands: &[(BoardPoint, f64, &str)],
    at: BoardPoint,
) -> [f64; 3] {
    let on_board = (0.0..=160.0).contains(&at.x) && (0.0..=100.0).contains(&at.y);
    if !on_board {
        return [176.0, 168.0, 156.0];
    }
    if side == Side::Component
        && let Some(part) = map.parts.iter().find(|part| {
            super::super::site::box_of(&super::super::site::outline_points(&part.outline))
                .is_some_and(|body| body.contains(at))
        })
    {
        return match part.kind {
            PartKind::Terminal => [60.0, 120.0, 66.0],
            PartKind::Relay => [225.0, 222.0, 214.0],
            PartKind::Electrolytic => [40.0, 60.0, 110.0],
            PartKind::Transformer => [150.0, 120.0, 60.0],
            _ => [44.0, 43.0, 42.0],
        };
    }
    let bridge = (at.y - 52.19).abs() < 0.5 && (110.7..113.3).contains(&at.x);
    if side == Side::Solder && bridge {
        return [214.0, 214.0, 210.0];
    }
    for &(centre, radius, uid) in lands {
        let r = (at - centre).length();
        if r > radius {
            continue;
        }
        let turn = (at.y - centre.y)
            .atan2(at.x - centre.x)
            .to_degrees()
            .rem_euclid(360.0);
        if uid == "J4-3" && (0.64..0.8).contains(&r) && (20.0..273.0).contains(&turn) {
            return [38.0, 34.0, 30.0];
        }
        let shine = 1.0 - ((at - centre).length() / radius - 0.45).abs();
        return [130.0, 130.0, 128.0].map(|base| base + 100.0 * shine * shine);
    }
    let track = (at.x * 0.35).sin() * (at.y * 0.5).cos() > 0.55;
    if track {
        [104.0, 128.0, 76.0]
    } else {
        [72.0, 97.0, 58.0]
    }
}
