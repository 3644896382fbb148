//! The states of a joint as shapes: told apart without colour, and on any board.

use eframe::egui::{Color32, Pos2, Shape, Stroke, pos2, vec2};

use super::theme::Palette;
use crate::record::Verdict;

/// What is known of a joint, as the window shows it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum State {
    /// Nobody has judged it yet.
    Unseen,
    /// Somebody looked and saw no fault.
    NoFaultSeen,
    /// Worth a second look.
    Suspect,
    /// A fault.
    Faulty,
    /// Reworked, not rechecked yet.
    Reworked,
    /// Rework rechecked and accepted.
    Accepted,
    /// Something is in the way.
    CannotBeJudged,
    /// Nothing was held against it, from too far away to count: as good as unseen.
    TooFar,
}

impl State {
    /// All of them, in the order of legends.
    pub const ALL: [Self; 8] = [
        Self::Unseen,
        Self::NoFaultSeen,
        Self::Suspect,
        Self::Faulty,
        Self::Reworked,
        Self::Accepted,
        Self::CannotBeJudged,
        Self::TooFar,
    ];

    /// Place in [`ALL`](Self::ALL).
    #[must_use]
    pub fn index(self) -> usize {
        self as usize
    }

    /// In words.
    #[must_use]
    pub fn label(self) -> &'static str {
        match self {
            Self::Unseen => "unseen",
            Self::NoFaultSeen => "no fault seen",
            Self::Suspect => "suspect",
            Self::Faulty => "faulty",
            Self::Reworked => "reworked",
            Self::Accepted => "accepted",
            Self::CannotBeJudged => "cannot be judged",
            Self::TooFar => "looked at from too far away",
        }
    }

    /// One letter, for lists and for printing on a bad copier. Unseen has none: a dash.
    #[must_use]
    pub fn letter(self) -> char {
        match self {
            Self::Unseen => '–',
            Self::NoFaultSeen => 'N',
            Self::Suspect => 'S',
            Self::Faulty => 'F',
            Self::Reworked => 'R',
            Self::Accepted => 'A',
            Self::CannotBeJudged => 'C',
            Self::TooFar => 'T',
        }
    }
}

impl From<Option<Verdict>> for State {
    fn from(verdict: Option<Verdict>) -> Self {
        match verdict {
            None => Self::Unseen,
            Some(Verdict::NoFaultSeen) => Self::NoFaultSeen,
            Some(Verdict::Suspect) => Self::Suspect,
            Some(Verdict::Faulty) => Self::Faulty,
            Some(Verdict::Reworked) => Self::Reworked,
            Some(Verdict::Accepted) => Self::Accepted,
            Some(Verdict::CannotBeJudged) => Self::CannotBeJudged,
        }
    }
}

/// What a marker stands on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum On {
    /// A pane of the window, whose colour is known.
    Pane,
    /// A photograph, which may have any colour: every stroke is double, dark under light.
    Photo,
}

/// The colours and widths of one marker.
#[derive(Debug, Clone, Copy)]
struct Pen {
    fill: Color32,
    under: Color32,
    /// How far the dark stroke shows on either side, points.
    rim: f32,
    /// A light line between the dark stroke and a fill that is not light itself. Dark beside
    /// light is seen on any ground: at least one of the two has 4.5:1 against it.
    light: Option<Color32>,
}

/// Fill of shapes that are nothing but strokes, on photographs.
const STROKE_ON_PHOTO: Color32 = Color32::from_rgb(0xE2, 0xDB, 0xCE);
/// Width of the light line, points.
const LIGHT: f32 = 0.9;

/// Fills for photographs: light enough for the dark stroke under them, whatever the theme.
fn pen(state: State, on: On, palette: &Palette) -> Pen {
    match on {
        On::Pane => Pen {
            fill: palette.fill(state),
            under: palette.marker_edge,
            rim: 0.75,
            light: None,
        },
        On::Photo => {
            let stroke_only = matches!(
                state,
                State::Unseen | State::NoFaultSeen | State::CannotBeJudged | State::TooFar
            );
            Pen {
                fill: if stroke_only {
                    STROKE_ON_PHOTO
                } else {
                    super::theme::DARK.fill(state)
                },
                under: Color32::BLACK,
                rim: if stroke_only { 1.4 } else { 2.2 },
                light: (!stroke_only).then_some(Color32::WHITE),
            }
        }
    }
}

/// The marker of a state, `radius` points from centre to tip, around `centre` (screen points).
#[must_use]
pub fn shapes(state: State, centre: Pos2, radius: f32, on: On, palette: &Palette) -> Vec<Shape> {
    let pen = pen(state, on, palette);
    let r = radius;
    match state {
        State::Unseen => ring(centre, r * 0.72, (r * 0.22).max(1.2), pen, on),
        State::NoFaultSeen => vec![
            Shape::circle_filled(centre, r * 0.42 + pen.rim, pen.under),
            Shape::circle_filled(centre, r * 0.42, pen.fill),
        ],
        State::Suspect => polygon(
            vec![
                centre + vec2(0.0, -r),
                centre + vec2(r * 0.98, r * 0.74),
                centre + vec2(-r * 0.98, r * 0.74),
            ],
            pen,
        ),
        State::Faulty => polygon(
            vec![
                centre + vec2(0.0, -r * 1.05),
                centre + vec2(r * 1.05, 0.0),
                centre + vec2(0.0, r * 1.05),
                centre + vec2(-r * 1.05, 0.0),
            ],
            pen,
        ),
        State::Reworked => notched_square(centre, r * 0.8, pen),
        State::Accepted => ring(centre, r * 0.68, r * 0.42, pen, On::Photo),
        State::CannotBeJudged => cross(centre, r * 0.72, pen, on),
        State::TooFar => {
            // The ring of what is unseen, with a speck in it: somebody glanced at it.
            let mut shapes = ring(centre, r * 0.72, (r * 0.22).max(1.2), pen, on);
            if on == On::Photo {
                shapes.push(Shape::circle_filled(centre, r * 0.2 + pen.rim, pen.under));
            }
            shapes.push(Shape::circle_filled(centre, r * 0.2, pen.fill));
            shapes
        }
    }
}

fn ring(centre: Pos2, radius: f32, width: f32, pen: Pen, on: On) -> Vec<Shape> {
    let mut shapes = Vec::with_capacity(2);
    if on == On::Photo {
        let under = Stroke::new(width + 2.0 * pen.rim, pen.under);
        shapes.push(Shape::circle_stroke(centre, radius, under));
    }
    if let Some(light) = pen.light {
        let line = Stroke::new(width + 2.0 * LIGHT, light);
        shapes.push(Shape::circle_stroke(centre, radius, line));
    }
    shapes.push(Shape::circle_stroke(
        centre,
        radius,
        Stroke::new(width, pen.fill),
    ));
    shapes
}

fn polygon(points: Vec<Pos2>, pen: Pen) -> Vec<Shape> {
    let mut shapes = outlines(&points, pen);
    shapes.push(Shape::convex_polygon(points, pen.fill, Stroke::NONE));
    shapes
}

fn outlines(points: &[Pos2], pen: Pen) -> Vec<Shape> {
    let line = |width: f32, colour| Shape::closed_line(points.to_vec(), Stroke::new(width, colour));
    let mut shapes = vec![line(2.0 * pen.rim, pen.under)];
    shapes.extend(pen.light.map(|light| line(2.0 * LIGHT, light)));
    shapes
}

/// A square with a notch in its top edge: drawn as three rectangles, since it is not convex.
fn notched_square(centre: Pos2, half: f32, pen: Pen) -> Vec<Shape> {
    let (left, right) = (centre.x - half, centre.x + half);
    let (top, bottom) = (centre.y - half, centre.y + half);
    let (notch, floor) = (half * 0.42, centre.y - half * 0.05);
    let outline = vec![
        pos2(left, top),
        pos2(centre.x - notch, top),
        pos2(centre.x - notch, floor),
        pos2(centre.x + notch, floor),
        pos2(centre.x + notch, top),
        pos2(right, top),
        pos2(right, bottom),
        pos2(left, bottom),
    ];
    let block = |x0: f32, y0: f32, x1: f32, y1: f32| {
        let rect = eframe::egui::Rect::from_min_max(pos2(x0, y0), pos2(x1, y1));
        Shape::rect_filled(rect, 0.0, pen.fill)
    };
    let mut shapes = outlines(&outline, pen);
    shapes.extend([
        block(left, floor, right, bottom),
        block(left, top, centre.x - notch, floor),
        block(centre.x + notch, top, right, floor),
    ]);
    shapes
}

fn cross(centre: Pos2, half: f32, pen: Pen, on: On) -> Vec<Shape> {
    let width = (half * 0.34).max(1.6);
    let arms = [
        [centre + vec2(-half, -half), centre + vec2(half, half)],
        [centre + vec2(half, -half), centre + vec2(-half, half)],
    ];
    let mut shapes = Vec::with_capacity(4);
    if on == On::Photo {
        let under = Stroke::new(width + 2.0 * pen.rim, pen.under);
        shapes.extend(arms.map(|arm| Shape::line_segment(arm, under)));
    }
    shapes.extend(arms.map(|arm| Shape::line_segment(arm, Stroke::new(width, pen.fill))));
    shapes
}

/// A circle of two strokes, dark under light: "here" on a photograph.
pub fn here_on_photo(centre: Pos2, radius: f32) -> [Shape; 2] {
    [
        Shape::circle_stroke(centre, radius, Stroke::new(4.5, Color32::BLACK)),
        Shape::circle_stroke(centre, radius, Stroke::new(2.0, Color32::WHITE)),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::desk::theme::{self, DARK, contrast};

    #[test]
    fn states_have_their_own_letter_and_words() {
        for (i, a) in State::ALL.into_iter().enumerate() {
            assert_eq!(a.index(), i);
            for b in &State::ALL[i + 1..] {
                assert_ne!(a.letter(), b.letter());
                assert_ne!(a.label(), b.label());
            }
        }
    }

    /// WCAG 2.1 success criterion 1.4.11: 3:1 against whatever the photo has there.
    #[test]
    fn on_photos_every_marker_has_a_dark_stroke_under_a_light_one() {
        for state in State::ALL {
            let pen = pen(state, On::Photo, &theme::LIGHT);
            let light = pen.light.unwrap_or(pen.fill);
            for level in 0..=255 {
                let ground = Color32::from_gray(level);
                let best = contrast(light, ground).max(contrast(pen.under, ground));
                assert!(best >= 3.0, "{state:?} on {level}: {best:.2}");
            }
        }
    }

    #[test]
    fn shapes_differ_and_stay_within_their_box() {
        let centre = pos2(50.0, 50.0);
        let mut seen: Vec<String> = Vec::new();
        for state in State::ALL {
            // Without colour: the same pen for all.
            let mut palette = DARK;
            palette.state_fill = [Color32::WHITE; State::ALL.len()];
            let drawn = shapes(state, centre, 8.0, On::Pane, &palette);
            for shape in &drawn {
                let r = shape.visual_bounding_rect();
                assert!(r.min.x >= 39.0 && r.max.x <= 61.0, "{state:?} {r:?}");
                assert!(r.min.y >= 39.0 && r.max.y <= 61.0, "{state:?} {r:?}");
            }
            let picture = format!("{drawn:?}");
            assert!(
                !seen.contains(&picture),
                "{state:?} looks like another state"
            );
            seen.push(picture);
        }
    }
}
