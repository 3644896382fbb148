//! The scale of a photo from the pitch of its rows.

use super::{GRID_MM, Row};

/// Pitches this alike count as one, relative: rows of 2.77 mm must not join those of 2.54 mm, and
/// perspective spreads one pitch by a few percent.
const SAME: f64 = 0.045;
/// Fewest joints in rows of one pitch for a scale.
const LEAST_JOINTS: usize = 6;
/// Another pitch with more than this share of the first one's weight makes it a guess.
const RIVAL: f64 = 0.6;
/// Land radius in pitches of 2.54 mm that is credible: 0.74 mm to 1.2 mm (common practice, no source). Rows of
/// 5.08 mm have lands of 2.4 to 2.9 mm across as a rule, which would be 1.2 to 1.45 mm here; boards with smaller
/// lands get no scale. On the four photographs of `docs/find.md` it is 0.35 to 0.38 pitches.
const LAND: std::ops::Range<f64> = 0.29..0.48;
/// One row alone must have this many joints: terminal blocks of 5.08 mm have short rows.
const LONG_ROW: usize = 12;

/// Photo px per mm if the commonest pitch is 2.54 mm, and a sentence.
pub(super) fn scale_of_rows(
    rows: &[Row],
    joints: &[[f64; 3]],
    rank: &[usize],
) -> (Option<f64>, String) {
    // Long rows tell more than short ones, which chance also makes.
    let weight = |row: &Row| ((row.members.len() - 1) as f64).powf(1.5);
    let with = |pitch: f64| {
        rows.iter()
            .filter(move |r| (r.pitch_px / pitch - 1.0).abs() < SAME)
    };
    let total = |pitch: f64| with(pitch).map(weight).sum::<f64>();
    let mut pitches: Vec<f64> = rows.iter().map(|r| r.pitch_px).collect();
    pitches.sort_by(f64::total_cmp);
    let Some(&best) = pitches
        .iter()
        .max_by(|a, b| total(**a).total_cmp(&total(**b)))
    else {
        return (
            None,
            "No scale: no row of equally spaced joints was found.".to_owned(),
        );
    };
    let members: usize = with(best).map(|r| r.members.len()).sum();
    if members < LEAST_JOINTS || (with(best).count() < 2 && members < LONG_ROW) {
        return (
            None,
            format!(
                "No scale: only {members} joints stand in rows of one pitch, too few to know it."
            ),
        );
    }
    let sum: f64 = with(best).map(|r| weight(r) * r.pitch_px).sum();
    let pitch = sum / total(best);
    let rival = pitches
        .iter()
        .filter(|p| !related(**p / pitch))
        .max_by(|a, b| total(**a).total_cmp(&total(**b)));
    if let Some(&rival) = rival
        && total(rival) > RIVAL * total(best)
    {
        return (
            None,
            format!(
                "No scale: rows of {pitch:.1} px and of {rival:.1} px pitch are both common, and only one can be 2.54 mm."
            ),
        );
    }
    let mut radii: Vec<f64> = Vec::new();
    let mut in_rows = vec![false; joints.len()];
    for row in with(best) {
        for &m in &row.members {
            in_rows[m] = true;
        }
    }
    for (joint, &place) in joints.iter().zip(rank) {
        if in_rows[place] {
            radii.push(joint[2]);
        }
    }
    let land = crate::stats::median(&radii).unwrap_or(0.0) / pitch;
    if !LAND.contains(&land) {
        return (
            None,
            format!(
                "No scale: at a pitch of 2.54 mm the lands would be {:.1} mm across, which is unusual; the pitch may be another.",
                2.0 * land * GRID_MM
            ),
        );
    }
    let scale = (pitch / GRID_MM * 100.0).round() / 100.0;
    (
        Some(scale),
        format!(
            "{members} joints stand in rows of {pitch:.1} px pitch, taken as 2.54 mm. Check it against something of known size."
        ),
    )
}

/// The same pitch, or a whole multiple of it on the same grid.
fn related(ratio: f64) -> bool {
    let ratio = if ratio < 1.0 { 1.0 / ratio } else { ratio };
    [1.0, 2.0, 3.0]
        .iter()
        .any(|whole| (ratio / whole - 1.0).abs() < SAME)
}
