//! What is refused before and after a fit.

use std::collections::BTreeSet;

use super::refusal::{Refusal, RefusalKind as Kind};
use crate::board::{BoardMap, Side};
use crate::geometry::{BoardMm, BoardPoint, Homography, PhotoPoint, PhotoPx};

/// A click may lie outside the photo by this share of its longer edge: a hole just cut off can
/// be guessed, more is a slip of the hand. Common practice, no source.
const OUTSIDE_SHARE: f64 = 0.1;

/// Two clicks nearer than this are one spot: less than a person can place apart on purpose.
const COINCIDENT_PX: f64 = 2.0;

/// Two landmarks of the map nearer than this are one place.
const COINCIDENT_MM: f64 = 0.05;

/// Landmarks count as on one line when none is farther from it than this share of their extent:
/// below it, a click error of 2 px turns a 200 px wide fit by more than a degree.
const COLLINEAR_SHARE: f64 = 0.02;

/// Smallest believable scale in px/mm: a 350 mm board would be 175 px wide.
const MIN_PX_PER_MM: f64 = 0.5;

/// Greatest believable scale in px/mm: the photo would show some 3 mm.
const MAX_PX_PER_MM: f64 = 2000.0;

/// Greatest ratio of the scales along and across: that of a view tilted by 75 degrees.
const MAX_ASPECT: f64 = 4.0;

/// A landmark with its place on the board and where it was put on the photo.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Placed {
    pub(super) name: String,
    pub(super) board: BoardPoint,
    pub(super) photo: PhotoPoint,
}

/// Looks the names up in the map and refuses what no fit can use.
pub(super) fn resolve(
    map: &BoardMap,
    placed: &[(String, PhotoPoint)],
    photo_size: (u32, u32),
) -> Result<Vec<Placed>, Refusal> {
    let mut seen = BTreeSet::new();
    let mut found = Vec::with_capacity(placed.len());
    for (name, photo) in placed {
        let landmark = lookup(map, name)?;
        if !seen.insert(landmark.name.as_str()) {
            return Err(Refusal::new(
                Kind::Duplicate,
                format!("landmark \"{}\" was placed more than once", landmark.name),
                "keep one of the clicks and take the other away",
            ));
        }
        check_click(&landmark.name, *photo, photo_size)?;
        let board = BoardPoint::new(landmark.at[0], landmark.at[1]);
        if !(board.x.is_finite() && board.y.is_finite()) {
            return Err(Refusal::new(
                Kind::BadMap,
                format!(
                    "landmark \"{}\" has no finite position in the board map",
                    landmark.name
                ),
                "correct the map (benchglass map check names every fault)",
            ));
        }
        found.push(Placed {
            name: landmark.name.clone(),
            board,
            photo: *photo,
        });
    }
    if found.len() < 2 {
        return Err(Refusal::new(
            Kind::TooFew,
            format!(
                "{} landmark(s) placed; a fit needs at least two",
                found.len()
            ),
            "place four or more, far apart, best near the corners; five or more let a bad click be found",
        ));
    }
    check_apart(&found)?;
    check_line(&found)?;
    // The answer must not depend on the order of the clicks.
    found.sort_by(|a, b| a.name.cmp(&b.name));
    Ok(found)
}

fn lookup<'m>(map: &'m BoardMap, name: &str) -> Result<&'m crate::board::Landmark, Refusal> {
    let wanted = name.trim();
    let exact = map.landmarks.iter().find(|l| l.name == wanted);
    if let Some(landmark) = exact {
        return Ok(landmark);
    }
    let folded = wanted.to_lowercase();
    let mut alike = (map.landmarks.iter()).filter(|l| l.name.to_lowercase() == folded);
    if let (Some(landmark), None) = (alike.next(), alike.next()) {
        return Ok(landmark);
    }
    let nearest = (map.landmarks.iter()).max_by(|a, b| {
        let alike =
            |l: &crate::board::Landmark| strsim::jaro_winkler(&l.name.to_lowercase(), &folded);
        alike(a).total_cmp(&alike(b))
    });
    let remedy = nearest.map_or_else(
        || "this map has no landmarks: add some to it first".to_owned(),
        |l| format!("did you mean \"{}\"?", l.name),
    );
    Err(Refusal::new(
        Kind::UnknownLandmark,
        format!(
            "the map of board \"{}\" has no landmark \"{wanted}\"",
            map.board
        ),
        remedy,
    ))
}

fn check_click(name: &str, at: PhotoPoint, (width, height): (u32, u32)) -> Result<(), Refusal> {
    if !(at.x.is_finite() && at.y.is_finite()) {
        return Err(Refusal::new(
            Kind::NotFinite,
            format!("the click on \"{name}\" is not a finite number"),
            "place it again",
        ));
    }
    let (width, height) = (f64::from(width), f64::from(height));
    let margin = width.max(height) * OUTSIDE_SHARE;
    let inside = |v: f64, size: f64| v >= -0.5 - margin && v <= size - 0.5 + margin;
    if inside(at.x, width) && inside(at.y, height) {
        return Ok(());
    }
    Err(Refusal::new(
        Kind::OutsidePhoto,
        format!(
            "\"{name}\" at ({:.0}, {:.0}) lies far outside the {width:.0} x {height:.0} px photo",
            at.x, at.y
        ),
        "coordinates are pixels of the upright photo at full size; place it again or leave it out",
    ))
}

fn check_apart(found: &[Placed]) -> Result<(), Refusal> {
    for (i, a) in found.iter().enumerate() {
        for b in &found[i + 1..] {
            if (a.photo - b.photo).length() < COINCIDENT_PX {
                return Err(Refusal::new(
                    Kind::Coincident,
                    format!(
                        "\"{}\" and \"{}\" were placed on the same spot",
                        a.name, b.name
                    ),
                    "place one of them again",
                ));
            }
            if (a.board - b.board).length() < COINCIDENT_MM {
                return Err(Refusal::new(
                    Kind::Coincident,
                    format!(
                        "the map has \"{}\" and \"{}\" in the same place",
                        a.name, b.name
                    ),
                    "use only one of them, or correct the map",
                ));
            }
        }
    }
    Ok(())
}

fn check_line(found: &[Placed]) -> Result<(), Refusal> {
    let on_board: Vec<[f64; 2]> = found.iter().map(|p| [p.board.x, p.board.y]).collect();
    let on_photo: Vec<[f64; 2]> = found.iter().map(|p| [p.photo.x, p.photo.y]).collect();
    for points in [on_board, on_photo] {
        let narrow = match points.len() {
            0..=2 => false,
            3 => is_line(&points, None),
            n => is_line(&points, None) || (0..n).any(|i| is_line(&points, Some(i))),
        };
        if narrow {
            let which = if found.len() == 3 {
                "the three landmarks lie on one line".to_owned()
            } else {
                format!("of {} landmarks all but one lie on one line", found.len())
            };
            return Err(Refusal::new(
                Kind::Collinear,
                which,
                "place one more well off that line, best near an opposite corner of the board",
            ));
        }
    }
    Ok(())
}

/// Whether the points, but for `without`, lie on one line: the farthest pair spans it.
fn is_line(points: &[[f64; 2]], without: Option<usize>) -> bool {
    let kept: Vec<[f64; 2]> = (points.iter().enumerate())
        .filter(|(i, _)| Some(*i) != without)
        .map(|(_, p)| *p)
        .collect();
    let mut extent = 0.0;
    let mut ends = ([0.0; 2], [0.0; 2]);
    for (i, a) in kept.iter().enumerate() {
        for b in &kept[i + 1..] {
            let length = (a[0] - b[0]).hypot(a[1] - b[1]);
            if length > extent {
                (extent, ends) = (length, (*a, *b));
            }
        }
    }
    let (a, b) = ends;
    kept.iter().all(|p| {
        let off = ((b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])).abs();
        off <= COLLINEAR_SHARE * extent * extent
    })
}

/// Refuses a fitted transform that cannot be a photograph of this side of the board.
pub(super) fn check_plausible(
    map: &BoardMap,
    side: Side,
    found: &[Placed],
    fit: &Homography<BoardMm, PhotoPx>,
    side_is_evident: bool,
) -> Result<(), Refusal> {
    let outline = map.outline.iter().map(|[x, y]| BoardPoint::new(*x, *y));
    let mut must_show = outline.chain(found.iter().map(|p| p.board));
    let centre = centre_of(map);
    let shape = (must_show.all(|p| fit.apply(p).is_some()))
        .then(|| fit.jacobian(centre))
        .flatten();
    let Some([x, y]) = shape else {
        return Err(horizon());
    };
    let determinant = x.x * y.y - x.y * y.x;
    if side_is_evident && (determinant < 0.0) != (side == Side::Component) {
        return Err(wrong_side(side));
    }
    let scale = determinant.abs().sqrt();
    if !(MIN_PX_PER_MM..=MAX_PX_PER_MM).contains(&scale) {
        return Err(Refusal::new(
            Kind::AbsurdScale,
            format!(
                "the fit has {scale:.3} px/mm in the middle of the board; {MIN_PX_PER_MM} to {MAX_PX_PER_MM} are believable"
            ),
            "check that the map is in millimetres and that the clicks are pixels of the full-size photo",
        ));
    }
    // Singular values s1, s2 of the Jacobian: s1 s2 = |det|, s1^2 + s2^2 = its squared norm.
    let half = (x.square_length() + y.square_length()) / (2.0 * determinant.abs());
    let aspect = half + (half * half - 1.0).max(0.0).sqrt();
    if aspect > MAX_ASPECT {
        return Err(Refusal::new(
            Kind::AbsurdAspect,
            format!("the fit squeezes the board {aspect:.1} times more one way than the other"),
            "check the names of the landmarks; a photo tilted that much cannot be judged, take one from above",
        ));
    }
    Ok(())
}

pub(super) fn horizon() -> Refusal {
    Refusal::new(
        Kind::Horizon,
        "the fit puts part of the board behind the horizon",
        "two landmarks may be swapped: check their names; if they are right, spread them farther apart and place one more",
    )
}

fn wrong_side(side: Side) -> Refusal {
    let (asked, other) = match side {
        Side::Component => ("component", "solder"),
        Side::Solder => ("solder", "component"),
    };
    Refusal::new(
        Kind::WrongSide,
        format!("this fits the {asked} side mirrored: the landmarks run the other way round"),
        format!(
            "did you mean --side {other}? If it is the {asked} side, the photo is mirrored or two landmarks are swapped"
        ),
    )
}

/// The middle of the board's outline, or of its landmarks where there is no outline.
#[must_use]
pub fn centre_of(map: &BoardMap) -> BoardPoint {
    bounds_of(map).center()
}

/// The box around the board's outline, or around its landmarks where there is no outline.
pub(super) fn bounds_of(map: &BoardMap) -> crate::geometry::BoardBox {
    let outline: Vec<BoardPoint> = (map.outline.iter())
        .map(|[x, y]| BoardPoint::new(*x, *y))
        .collect();
    if outline.len() >= 3 {
        return crate::geometry::BoardBox::from_points(&outline);
    }
    let marks = (map.landmarks.iter()).map(|l| BoardPoint::new(l.at[0], l.at[1]));
    crate::geometry::BoardBox::from_points(marks)
}
