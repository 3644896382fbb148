//! The odd one out in a row of joints: missing, out of line, bridged to its neighbour, or unlike the rest.
//!
//! Members of a row are the same part made the same way, seen under the same light: what differs
//! from the row's own median is worth a look, whatever a joint should look like.

mod patch;

use image::RgbImage;
use rayon::prelude::*;
use serde::Serialize;

use crate::stats::{mad_sigma, median};

use super::find::FoundJoint;
use super::rows::Row;
use patch::{Patch, bridge_share, median_patch};

/// Fewest members for a comparison: with fewer, the median is no rule.
pub const LEAST_MEMBERS: usize = 5;
/// Robust sigmas from which a member is called odd. Lower names ordinary scatter, higher only wrecks.
const ODD_SIGMA: f64 = 5.0;
/// A member is out of line from this share of its land radius on, however tidy the row is: found
/// middles scatter by about a tenth.
const LEAST_OFFSET: f64 = 0.35;
/// Scatter of found middles that is taken for granted, land radii.
const PLACE_SCATTER: f64 = 0.06;
/// A difference from the median picture below this is never odd (picture units, see [`Patch`]).
const LEAST_DIFFERENCE: f64 = 0.5;
/// Scatter of the differences that is taken for granted.
const PICTURE_SCATTER: f64 = 0.08;
/// How far towards solder the whole way to a neighbour must be, 0..1, to be called bridged.
const BRIDGED: f64 = 0.45;
/// Scatter of that share that is taken for granted.
const BRIDGE_SCATTER: f64 = 0.08;

/// How a member differs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum OddKind {
    /// The spacing expects a joint here and none was found.
    Missing,
    /// Off the line or the spacing of its row: bent, or set askew.
    Offset,
    /// Something like solder runs to its neighbour.
    Bridged,
    /// Looks unlike the rest of its row.
    Different,
}

/// One member that differs from its row.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OddOne {
    /// Name of the joint; for a missing one the two names between which it is missing, `F3-F4`.
    pub id: String,
    /// How it differs.
    pub kind: OddKind,
    /// By how many robust standard deviations of its row; `null` for a missing one.
    pub sigma: Option<f64>,
    /// In words. It says what was seen, not what it is.
    pub reason: String,
    /// Where, upright photo px.
    pub at_px: [f64; 2],
}

/// Compares the members of each row with their row. Rows of fewer than five members are passed over.
///
/// `joints` are those that the rows' `members` point into.
#[must_use]
pub fn odd_ones(photo: &RgbImage, joints: &[FoundJoint], rows: &[Row]) -> Vec<OddOne> {
    rows.par_iter()
        .filter(|row| row.members.len() >= LEAST_MEMBERS)
        .map(|row| {
            let members: Vec<&FoundJoint> =
                row.members.iter().filter_map(|&i| joints.get(i)).collect();
            let mut found = missing(row, &members);
            found.extend(bridged(photo, row, &members));
            found.extend(offset(row, &members));
            let named: Vec<String> = found.iter().map(|o| o.id.clone()).collect();
            found.extend(
                different(photo, row, &members)
                    .into_iter()
                    .filter(|o| !named.contains(&o.id)),
            );
            found
        })
        .collect::<Vec<_>>()
        .concat()
}

fn missing(row: &Row, members: &[&FoundJoint]) -> Vec<OddOne> {
    row.gaps
        .iter()
        .filter_map(|gap| {
            let away = |j: &FoundJoint| (j.x_px - gap[0]).hypot(j.y_px - gap[1]);
            let pair = members.windows(2).min_by(|a, b| {
                (away(a[0]) + away(a[1])).total_cmp(&(away(b[0]) + away(b[1])))
            })?;
            Some(OddOne {
                id: format!("{}-{}", pair[0].id, pair[1].id),
                kind: OddKind::Missing,
                sigma: None,
                reason: format!(
                    "The row's spacing expects a joint between {} and {}, and none was found there.",
                    pair[0].id, pair[1].id
                ),
                at_px: *gap,
            })
        })
        .collect()
}

/// How far each member is from where its row expects it, land radii: (along, across).
fn offsets(row: &Row, members: &[&FoundJoint]) -> Vec<(f64, f64)> {
    let turn = row.turn_deg.to_radians();
    let (c, s) = (turn.cos(), turn.sin());
    let places: Vec<(f64, f64)> = members
        .iter()
        .map(|j| (c * j.x_px + s * j.y_px, c * j.y_px - s * j.x_px))
        .collect();
    // Steps since the first member, gaps counted.
    let steps: Vec<f64> = places
        .iter()
        .map(|p| ((p.0 - places[0].0) / row.pitch_px).round())
        .collect();
    let fit = |values: &[f64]| -> Vec<f64> {
        // Theil and Sen: the median slope, which one bent pin cannot move.
        let mut slopes = Vec::new();
        for a in 0..values.len() {
            for b in a + 1..values.len() {
                if steps[b] > steps[a] {
                    slopes.push((values[b] - values[a]) / (steps[b] - steps[a]));
                }
            }
        }
        let slope = median(&slopes).unwrap_or(0.0);
        let rest: Vec<f64> = values
            .iter()
            .zip(&steps)
            .map(|(v, k)| v - slope * k)
            .collect();
        let level = median(&rest).unwrap_or(0.0);
        rest.iter().map(|v| v - level).collect()
    };
    let along = fit(&places.iter().map(|p| p.0).collect::<Vec<_>>());
    let across = fit(&places.iter().map(|p| p.1).collect::<Vec<_>>());
    along
        .into_iter()
        .zip(across)
        .zip(members)
        .map(|((a, b), j)| (a / j.land_radius_px, b / j.land_radius_px))
        .collect()
}

fn offset(row: &Row, members: &[&FoundJoint]) -> Vec<OddOne> {
    let off = offsets(row, members);
    let away: Vec<f64> = off.iter().map(|(a, b)| a.hypot(*b)).collect();
    let scatter = mad_sigma(&away).unwrap_or(0.0).max(PLACE_SCATTER);
    let usual = median(&away).unwrap_or(0.0);
    let mut found = Vec::new();
    for ((joint, (along, across)), away) in members.iter().zip(&off).zip(&away) {
        let sigma = (away - usual) / scatter;
        if *away > LEAST_OFFSET && sigma > ODD_SIGMA {
            let way = if along.abs() > across.abs() {
                "along its row"
            } else {
                "out of its row"
            };
            found.push(odd(
                joint,
                OddKind::Offset,
                sigma,
                format!("Its middle is {away:.2} land radii {way} from where the others put it."),
            ));
        }
    }
    found
}

fn odd(joint: &FoundJoint, kind: OddKind, sigma: f64, reason: String) -> OddOne {
    OddOne {
        id: joint.id.clone(),
        kind,
        sigma: Some((sigma * 10.0).round() / 10.0),
        reason,
        at_px: [joint.x_px, joint.y_px],
    }
}

fn bridged(photo: &RgbImage, row: &Row, members: &[&FoundJoint]) -> Vec<OddOne> {
    let pairs: Vec<(&FoundJoint, &FoundJoint)> = members
        .windows(2)
        .map(|w| (w[0], w[1]))
        .filter(|(a, b)| {
            let apart = (a.x_px - b.x_px).hypot(a.y_px - b.y_px);
            apart < 1.5 * row.pitch_px
        })
        .collect();
    let shares = bridge_share(photo, &pairs);
    let usual = median(&shares).unwrap_or(0.0);
    let scatter = mad_sigma(&shares).unwrap_or(0.0).max(BRIDGE_SCATTER);
    pairs
        .iter()
        .zip(&shares)
        .filter_map(|((a, b), share)| {
            let sigma = (share - usual) / scatter;
            (*share > BRIDGED && sigma > ODD_SIGMA).then(|| {
                odd(
                    a,
                    OddKind::Bridged,
                    sigma,
                    format!(
                        "Between it and {} the photo looks like solder all the way, unlike between the others.",
                        b.id
                    ),
                )
            })
        })
        .collect()
}

fn different(photo: &RgbImage, row: &Row, members: &[&FoundJoint]) -> Vec<OddOne> {
    let radii: Vec<f64> = members.iter().map(|j| j.land_radius_px).collect();
    let Some(radius) = median(&radii) else {
        return Vec::new();
    };
    let patches: Vec<Patch> = members
        .iter()
        .map(|j| Patch::cut(photo, j.x_px, j.y_px, radius, row.turn_deg))
        .collect();
    let usual = median_patch(&patches);
    let differences: Vec<f64> = patches.iter().map(|p| p.difference(&usual)).collect();
    let middle = median(&differences).unwrap_or(0.0);
    let scatter = mad_sigma(&differences).unwrap_or(0.0).max(PICTURE_SCATTER);
    members
        .iter()
        .zip(&differences)
        .filter_map(|(joint, difference)| {
            let sigma = (difference - middle) / scatter;
            (*difference > LEAST_DIFFERENCE && sigma > ODD_SIGMA).then(|| {
                odd(
                    joint,
                    OddKind::Different,
                    sigma,
                    "It looks unlike the rest of its row.".to_owned(),
                )
            })
        })
        .collect()
}

#[cfg(test)]
mod tests;
