//! Marks over a photo: every stroke double, the joint itself left free to be seen.

use eframe::egui::{Align2, Color32, FontId, Painter, Pos2, vec2};

use super::transform::ScreenFromPhoto;
use crate::desk::marker::{self, On, State};
use crate::desk::theme::Look;
use crate::geometry::PhotoPoint;

/// A joint on a photo.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark {
    /// Centre of the joint.
    pub at: PhotoPoint,
    /// Radius of its land, photo pixels.
    pub radius_px: f64,
    /// What is known of it.
    pub state: State,
}

/// The name of a part, drawn at a place of the photo.
#[derive(Debug, Clone, PartialEq)]
pub struct PartName {
    /// Where its lower left corner stands.
    pub at: PhotoPoint,
    /// The reference.
    pub name: String,
}

/// Markers are drawn between these radii, points, at 100 % text.
const MARKER: std::ops::RangeInclusive<f32> = 3.5..=8.0;
/// Below this radius on the screen, points, names of parts would cover what they name.
const NAMES_FROM: f64 = 2.0;

/// Draws joints and names; the current joint is ringed. Marks outside the viewport are skipped.
pub fn paint_marks(
    painter: &Painter,
    look: &Look,
    view: &ScreenFromPhoto,
    marks: &[Mark],
    here: Option<usize>,
    names: &[PartName],
) {
    let room = view.viewport.expand(40.0);
    let mut land = 0.0_f64;
    for (i, mark) in marks.iter().enumerate() {
        let at = view.point(mark.at);
        let radius = mark.radius_px * view.points_per_px;
        land = land.max(radius);
        if !room.contains(at) {
            continue;
        }
        let ring = (radius as f32 * 1.35).max(11.0);
        let clear_of = if here == Some(i) { ring } else { radius as f32 };
        let (marker_at, marker_radius) = beside(at, clear_of, look);
        painter.extend(marker::shapes(
            mark.state,
            marker_at,
            marker_radius,
            On::Photo,
            &look.palette,
        ));
        if here == Some(i) {
            painter.extend(marker::here_on_photo(at, ring));
        }
    }
    if land >= NAMES_FROM {
        for name in names {
            let at = view.point(name.at);
            if room.contains(at) {
                outlined_text(painter, at, &name.name, look.small_strong());
            }
        }
    }
}

/// Above the joint, clear of its land and of the ring, so that the joint itself stays free.
fn beside(at: Pos2, land: f32, look: &Look) -> (Pos2, f32) {
    let most = look.scaled(*MARKER.end());
    let radius = (land * 0.55).clamp(*MARKER.start(), most);
    (at - vec2(0.0, land * 1.15 + radius + 2.0), radius)
}

/// Light text with a dark rim: reads on green, white and black boards.
pub fn outlined_text(painter: &Painter, at: Pos2, text: &str, font: FontId) {
    let dark = painter.layout_no_wrap(text.to_owned(), font.clone(), Color32::BLACK);
    let light = painter.layout_no_wrap(text.to_owned(), font, Color32::WHITE);
    let place = Align2::LEFT_BOTTOM.anchor_size(at, light.size()).min;
    for [x, y] in [
        [-1.0, 0.0],
        [1.0, 0.0],
        [0.0, -1.0],
        [0.0, 1.0],
        [-0.8, -0.8],
        [0.8, 0.8],
        [0.8, -0.8],
        [-0.8, 0.8],
    ] {
        painter.galley(place + vec2(x, y) * 1.2, dark.clone(), Color32::BLACK);
    }
    painter.galley(place, light, Color32::WHITE);
}

/// The mark nearest to a place of the photo, if that is within its land (or a finger's width).
#[must_use]
pub fn mark_at(view: &ScreenFromPhoto, marks: &[Mark], at: PhotoPoint) -> Option<usize> {
    /// Reach of a pointer around a small land, points.
    const REACH: f64 = 12.0;
    let reach = REACH / view.points_per_px;
    marks
        .iter()
        .enumerate()
        .map(|(i, mark)| (i, (mark.at - at).length(), mark.radius_px.max(reach)))
        .filter(|(_, distance, radius)| distance <= radius)
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(i, _, _)| i)
}

#[cfg(test)]
mod tests {
    use super::*;
    use eframe::egui::{Rect, pos2};

    #[test]
    fn a_click_finds_the_nearest_joint_within_reach() {
        let viewport = Rect::from_min_size(pos2(0.0, 0.0), vec2(700.0, 600.0));
        let view = ScreenFromPhoto::fit([4000, 3000], 0, viewport);
        let marks = [1000.0, 1100.0, 2000.0].map(|x| Mark {
            at: PhotoPoint::new(x, 500.0),
            radius_px: 40.0,
            state: State::Unseen,
        });
        assert_eq!(
            mark_at(&view, &marks, PhotoPoint::new(1060.0, 500.0)),
            Some(1)
        );
        assert_eq!(
            mark_at(&view, &marks, PhotoPoint::new(1030.0, 510.0)),
            Some(0)
        );
        assert_eq!(mark_at(&view, &marks, PhotoPoint::new(1500.0, 500.0)), None);
        let close = ScreenFromPhoto {
            points_per_px: 2.0,
            ..view
        };
        assert_eq!(
            mark_at(&close, &marks, PhotoPoint::new(1045.0, 500.0)),
            None
        );
    }

    #[test]
    fn a_marker_leaves_its_joint_free() {
        let look = Look::default();
        for land in [1.0, 5.0, 12.0, 60.0] {
            let (at, radius) = beside(pos2(100.0, 100.0), land, &look);
            assert!(100.0 - at.y - radius * 1.05 >= land, "{land}");
        }
    }
}
