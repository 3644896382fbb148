//! Where things are: the board's outline, what lies off it, and landmarks that carry no fit.

use super::{Finding, Kind, part_place, pin_place};
use crate::board::model::BoardMap;
use crate::board::polygon;
use crate::geometry::{BoardBox, BoardPoint};

/// How far past the edge still counts as on the board, mm: rounding of a drawn edge.
const EDGE_MM: f64 = 0.05;

/// Largest board that is believed, mm along one side.
const MAX_BOARD_MM: f64 = 1_500.0;

/// Smallest board that is believed, mm along one side; smaller means inches were written.
const MIN_BOARD_MM: f64 = 8.0;

/// Landmarks for a full fit, and the fewest that give one at all: four points fix a homography,
/// three an affine transform, two a similarity.
const ENOUGH_LANDMARKS: usize = 4;
const LEAST_LANDMARKS: usize = 2;

/// Landmarks whose spread across their line is below this share of the spread along it are in
/// one line: a photo's perspective then cannot be told. 5 % is 10 mm on a 200 mm board, some
/// hundred pixels in an overview.
const IN_LINE: f64 = 0.05;

/// Landmarks should span at least this share of the board's width and height: a fit is trusted
/// between its points, and errors grow as fast outside.
const LEAST_SPAN: f64 = 0.5;

/// Most landmarks for which every one is left out in turn; beyond it a board has no such worry.
const MAX_LEFT_OUT: usize = 50;

/// Points per side of the grid by which a body is judged to be wholly off the board.
const BODY_GRID: u32 = 8;

pub(super) fn check(map: &BoardMap, findings: &mut Vec<Finding>) {
    outline(map, findings);
    off_board(map, findings);
    landmark_count(map, findings);
    landmark_spread(map, findings);
}

fn outline(map: &BoardMap, findings: &mut Vec<Finding>) {
    let place = || "board outline".to_owned();
    let mut kind = Kind::error(findings, "board outline");
    let corners = map.outline.len();
    if corners < 3 {
        kind.add(
            place(),
            format!("{corners} corners enclose nothing"),
            "give the corners of the board's edge in mm, at least three",
        );
        return;
    }
    if let Some((a, b)) = polygon::crossing(&map.outline) {
        kind.add(
            place(),
            format!("edge {a} crosses or touches edge {b}"),
            "list the corners once round the board, without repeating the first",
        );
    } else if polygon::area(&map.outline) <= 0.0 {
        kind.add(
            place(),
            "it has no area",
            "give corners that are not all in one line",
        );
    }
    drop(kind);
    let mut kind = Kind::warning(findings, "board size");
    let bounds = board_bounds(map);
    let (w, h) = (bounds.width(), bounds.height());
    if w.max(h) > MAX_BOARD_MM || w.min(h) < MIN_BOARD_MM {
        kind.add(
            place(),
            format!("a board of {w} x {h} mm is unusual"),
            "write coordinates in mm: 1 in = 1000 mil = 25.4 mm",
        );
    }
}

fn board_bounds(map: &BoardMap) -> BoardBox {
    BoardBox::from_points(map.outline.iter().map(|p| BoardPoint::new(p[0], p[1])))
}

fn off_board(map: &BoardMap, findings: &mut Vec<Finding>) {
    if map.outline.len() < 3 {
        return;
    }
    let on_board = |point| polygon::contains(&map.outline, point, EDGE_MM);
    let mut kind = Kind::error(findings, "parts and pins off the board");
    for part in &map.parts {
        if kind.is_full() {
            return;
        }
        for pin in part.pins.iter().filter(|pin| !on_board(pin.centre())) {
            kind.add(
                pin_place(part, pin),
                format!("({}, {}) is off the board outline", pin.at[0], pin.at[1]),
                "mend the position or the outline",
            );
        }
        if wholly_off(part.outline.bounds(), &map.outline, on_board) {
            kind.add(
                part_place(part),
                "its body is wholly off the board outline",
                "mend the position; a part that hangs on wires belongs to the board it sits on",
            );
        }
    }
    drop(kind);
    let mut kind = Kind::warning(findings, "landmarks off the board");
    for landmark in &map.landmarks {
        let [x, y] = landmark.at;
        if !on_board(BoardPoint::new(x, y)) {
            kind.add(
                format!("landmark {}", landmark.name),
                format!("({x}, {y}) is off the board outline"),
                "mend the position or the outline",
            );
        }
    }
}

/// Whether no point of a grid over `body` is on the board, nor a corner of the board in `body`.
fn wholly_off(body: BoardBox, outline: &[[f64; 2]], on_board: impl Fn(BoardPoint) -> bool) -> bool {
    let step = |from: f64, size: f64, i: u32| from + size * f64::from(i) / f64::from(BODY_GRID);
    let grid = |i, j| {
        BoardPoint::new(
            step(body.min.x, body.width(), i),
            step(body.min.y, body.height(), j),
        )
    };
    !on_board(body.center())
        && !(0..=BODY_GRID).any(|i| (0..=BODY_GRID).any(|j| on_board(grid(i, j))))
        && !outline
            .iter()
            .any(|p| body.contains(BoardPoint::new(p[0], p[1])))
}

fn landmark_count(map: &BoardMap, findings: &mut Vec<Finding>) {
    let count = map.landmarks.len();
    let mut kind = match count {
        ENOUGH_LANDMARKS.. => return,
        LEAST_LANDMARKS.. => Kind::warning(findings, "landmarks"),
        _ => Kind::error(findings, "landmarks"),
    };
    let gives = match count {
        0 | 1 => "no photo can be aligned by them",
        2 => "they give a similarity only, blind to the camera's tilt",
        _ => "they give an affine fit only, blind to perspective",
    };
    kind.add(
        "landmarks".to_owned(),
        format!("there are {count}; {gives}"),
        "name at least four places that are easy to find in a photo, near the corners",
    );
}

fn landmark_spread(map: &BoardMap, findings: &mut Vec<Finding>) {
    let points: Vec<[f64; 2]> = map.landmarks.iter().map(|l| l.at).collect();
    if points.len() < 3 {
        if matches!(points.as_slice(), [a, b] if a == b) {
            Kind::error(findings, "landmarks").add(
                "landmarks".to_owned(),
                "both are at the same place",
                "name places far apart",
            );
        }
        return;
    }
    let one_left_out = |i: usize| {
        let mut rest = points.clone();
        rest.remove(i);
        rest
    };
    let nearly = points.len() >= ENOUGH_LANDMARKS && points.len() <= MAX_LEFT_OUT;
    let reason = if in_line(&points) {
        "they lie in one line: no photo can be aligned by them"
    } else if nearly && (0..points.len()).any(|i| in_line(&one_left_out(i))) {
        "all but one lie in one line: perspective cannot be told from them"
    } else {
        return narrow_spread(map, findings);
    };
    Kind::error(findings, "landmarks").add(
        "landmarks".to_owned(),
        reason,
        "add places on both sides of that line, near the corners",
    );
}

fn narrow_spread(map: &BoardMap, findings: &mut Vec<Finding>) {
    if map.outline.len() < 3 {
        return;
    }
    let board = board_bounds(map);
    let span = BoardBox::from_points(
        map.landmarks
            .iter()
            .map(|l| BoardPoint::new(l.at[0], l.at[1])),
    );
    let share = |landmarks: f64, board: f64| {
        if board > 0.0 { landmarks / board } else { 1.0 }
    };
    let least = share(span.width(), board.width()).min(share(span.height(), board.height()));
    if least < LEAST_SPAN {
        Kind::warning(findings, "landmarks").add(
            "landmarks".to_owned(),
            format!(
                "they span {:.0} % of the board's width or height; a fit is poor outside of them",
                100.0 * least
            ),
            "add places near the corners of the board",
        );
    }
}

/// Whether the points' spread across their main line is below [`IN_LINE`] of that along it.
fn in_line(points: &[[f64; 2]]) -> bool {
    let n = points.len() as f64;
    let mean = |i: usize| points.iter().map(|p| p[i]).sum::<f64>() / n;
    let (mx, my) = (mean(0), mean(1));
    let sum = |f: &dyn Fn(f64, f64) -> f64| -> f64 {
        points.iter().map(|p| f(p[0] - mx, p[1] - my)).sum()
    };
    let (xx, yy, xy) = (sum(&|x, _| x * x), sum(&|_, y| y * y), sum(&|x, y| x * y));
    // Eigenvalues of the 2 x 2 scatter matrix: squared spreads along and across.
    let middle = (xx + yy) / 2.0;
    let half = ((xx - yy) / 2.0).hypot(xy);
    let (along, across) = (middle + half, (middle - half).max(0.0));
    across <= IN_LINE * IN_LINE * along
}
