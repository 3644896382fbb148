//! Which landmarks to place next.

use serde::Serialize;

use super::checks::{self, Placed};
use super::landmarks::{LandmarkFit, mean_error, seen_grid, shows};
use super::suspect;
use crate::board::BoardMap;
use crate::geometry::{BoardPoint, FitSpread, PhotoPoint};

/// How many landmarks are suggested at once: enough to halve most errors, few enough to do.
const AT_ONCE: usize = 2;

/// A landmark that would help, and by how much.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Suggestion {
    /// The landmark's name in the map.
    pub name: String,
    /// Where to look for it, upright photo pixels.
    pub near_px: [f64; 2],
    /// Expected error over the board in px once this one and those before it are placed.
    pub expected_error_px: f64,
}

/// The landmarks of the map, visible in the photo and not placed yet, that would most reduce
/// the expected error over what the photo shows of the board; best first, at most two.
///
/// Predicted from the spread of the fit, so that a landmark far from the others wins.
#[must_use]
pub fn two_more_here(
    map: &BoardMap,
    fit: &LandmarkFit,
    placed: &[(String, PhotoPoint)],
    photo_size: (u32, u32),
) -> Vec<Suggestion> {
    let Ok(found) = checks::resolve(map, placed, photo_size) else {
        return Vec::new();
    };
    let transform = &fit.projection;
    let seen = seen_grid(map, transform, photo_size, &found);
    let squares = fit.rms_px.powi(2) * found.len() as f64;
    let sd = suspect::click_sd(squares, found.len());
    let mut from: Vec<BoardPoint> = found.iter().map(|p| p.board).collect();
    let mut open: Vec<Placed> = (map.landmarks.iter())
        .filter(|l| found.iter().all(|p| p.name != l.name))
        .filter_map(|l| {
            let board = BoardPoint::new(l.at[0], l.at[1]);
            let photo = transform.apply(board)?;
            let name = l.name.clone();
            shows(transform, board, photo_size).then_some(Placed { name, board, photo })
        })
        .collect();
    let mut chosen = Vec::new();
    while chosen.len() < AT_ONCE {
        let Some(before) = FitSpread::new(&transform.photo_from_board, &from, sd) else {
            break;
        };
        let gain = |p: &Placed| {
            let mut with = before.clone();
            with.add(p.board)?;
            Some(mean_error(&with, &seen))
        };
        let best = (open.iter().enumerate())
            .filter_map(|(i, p)| Some((gain(p)?, i)))
            .min_by(|a, b| a.0.total_cmp(&b.0));
        let Some((error, index)) = best else { break };
        let pick = open.remove(index);
        from.push(pick.board);
        chosen.push(Suggestion {
            name: pick.name,
            near_px: [pick.photo.x, pick.photo.y],
            expected_error_px: error,
        });
    }
    chosen
}
