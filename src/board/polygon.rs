//! What the linter asks of closed polygons in board millimetres.

use crate::geometry::BoardPoint;

/// Whether `point` lies in the polygon or within `edge_mm` of its edge (even-odd rule).
pub(super) fn contains(polygon: &[[f64; 2]], point: BoardPoint, edge_mm: f64) -> bool {
    let crossed = edges(polygon)
        .filter(|(a, b)| (a[1] > point.y) != (b[1] > point.y))
        .filter(|(a, b)| point.x < a[0] + (point.y - a[1]) / (b[1] - a[1]) * (b[0] - a[0]))
        .count();
    crossed % 2 == 1 || edges(polygon).any(|(a, b)| distance_to_segment(a, b, point) <= edge_mm)
}

/// Whether `point` lies on a board with this outline ([`BoardMap::outline`](super::BoardMap), a
/// closed polygon in mm; even-odd rule).
#[must_use]
pub fn inside_outline(outline: &[[f64; 2]], point: BoardPoint) -> bool {
    contains(outline, point, 0.0)
}

/// Area by the shoelace formula, mm2; positive whatever the sense of rotation.
pub(super) fn area(polygon: &[[f64; 2]]) -> f64 {
    edges(polygon)
        .map(|(a, b)| a[0] * b[1] - b[0] * a[1])
        .sum::<f64>()
        .abs()
        / 2.0
}

/// The first two edges, counted from 1, that cross each other.
#[must_use]
pub fn crossing(polygon: &[[f64; 2]]) -> Option<(usize, usize)> {
    let edges: Vec<_> = edges(polygon).collect();
    (0..edges.len())
        .flat_map(|i| (i + 1..edges.len()).map(move |j| (i, j)))
        .find(|&(i, j)| {
            let neighbours = j == i + 1 || (i == 0 && j + 1 == edges.len());
            !neighbours && cross(edges[i], edges[j])
        })
        .map(|(i, j)| (i + 1, j + 1))
}

/// Each edge, the closing one included.
fn edges(polygon: &[[f64; 2]]) -> impl Iterator<Item = ([f64; 2], [f64; 2])> {
    let next = polygon.iter().cycle().skip(1);
    polygon.iter().zip(next).map(|(a, b)| (*a, *b))
}

fn distance_to_segment(a: [f64; 2], b: [f64; 2], p: BoardPoint) -> f64 {
    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
    let square = dx * dx + dy * dy;
    let t = if square > 0.0 {
        (((p.x - a[0]) * dx + (p.y - a[1]) * dy) / square).clamp(0.0, 1.0)
    } else {
        0.0
    };
    (p.x - a[0] - t * dx).hypot(p.y - a[1] - t * dy)
}

/// Whether two segments share a point.
fn cross(one: ([f64; 2], [f64; 2]), other: ([f64; 2], [f64; 2])) -> bool {
    let turn = |a: [f64; 2], b: [f64; 2], c: [f64; 2]| {
        let cross = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
        cross.partial_cmp(&0.0)
    };
    let ((a, b), (c, d)) = (one, other);
    let beside = turn(a, b, c) != turn(a, b, d) && turn(c, d, a) != turn(c, d, b);
    // In line with each other: they meet where their extents do.
    let in_line = [turn(a, b, c), turn(a, b, d)] == [Some(std::cmp::Ordering::Equal); 2];
    let meets = |i: usize| a[i].min(b[i]) <= c[i].max(d[i]) && c[i].min(d[i]) <= a[i].max(b[i]);
    if in_line {
        meets(0) && meets(1)
    } else {
        beside
    }
}

#[cfg(test)]
mod tests {
    use super::{area, contains, crossing};
    use crate::geometry::BoardPoint;

    const SQUARE: [[f64; 2]; 4] = [[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]];

    #[test]
    fn inside_outside_and_edge() {
        assert!(contains(&SQUARE, BoardPoint::new(5.0, 5.0), 0.0));
        assert!(!contains(&SQUARE, BoardPoint::new(10.1, 5.0), 0.05));
        assert!(contains(&SQUARE, BoardPoint::new(10.04, 5.0), 0.05));
        assert!(contains(&SQUARE, BoardPoint::new(10.0, 10.0), 1e-9));
        assert!((area(&SQUARE) - 100.0).abs() < 1e-12);
    }

    #[test]
    fn crossings() {
        assert_eq!(crossing(&SQUARE), None);
        let bow = [[0.0, 0.0], [10.0, 10.0], [10.0, 0.0], [0.0, 10.0]];
        assert_eq!(crossing(&bow), Some((1, 3)));
        let notch = [
            [0.0, 0.0],
            [10.0, 0.0],
            [10.0, 10.0],
            [5.0, 4.0],
            [0.0, 10.0],
        ];
        assert_eq!(crossing(&notch), None);
        let touching = [
            [0.0, 0.0],
            [10.0, 0.0],
            [10.0, 10.0],
            [5.0, 0.0],
            [0.0, 10.0],
        ];
        assert!(crossing(&touching).is_some(), "a corner on another edge");
    }
}
