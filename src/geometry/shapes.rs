//! Circles and polygons.

use euclid::{Box2D, Point2D};

/// A circle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Circle<U> {
    /// Its centre.
    pub centre: Point2D<f64, U>,
    /// Its radius, in the unit of the plane.
    pub radius: f64,
}

/// The circle through three points, or `None` where they are on one line, in one place or not
/// finite.
#[must_use]
pub fn circle_through<U>(points: [Point2D<f64, U>; 3]) -> Option<Circle<U>> {
    let [a, b, c] = points;
    let (p, q) = (b - a, c - a);
    let twice_area = p.x * q.y - p.y * q.x;
    let reach = p.square_length().max(q.square_length());
    // The triangle is flatter than 1e-9 of its length: the centre is noise.
    if twice_area.is_nan() || twice_area.abs() <= 1e-9 * reach {
        return None;
    }
    let (pp, qq) = (p.square_length(), q.square_length());
    let offset = euclid::Vector2D::new(
        (q.y * pp - p.y * qq) / (2.0 * twice_area),
        (p.x * qq - q.x * pp) / (2.0 * twice_area),
    );
    let radius = offset.length();
    radius.is_finite().then(|| Circle {
        centre: a + offset,
        radius,
    })
}

/// A closed polygon; the last corner joins the first.
#[derive(Debug, Clone, PartialEq)]
pub struct Polygon<U> {
    corners: Vec<Point2D<f64, U>>,
}

impl<U> Polygon<U> {
    /// From its corners in order, or `None` for fewer than three or one that is not finite.
    #[must_use]
    pub fn new(corners: Vec<Point2D<f64, U>>) -> Option<Self> {
        let sane = corners.len() >= 3 && corners.iter().all(|p| p.x.is_finite() && p.y.is_finite());
        sane.then_some(Self { corners })
    }

    /// From coordinate pairs as a board map keeps them; see [`Self::new`].
    #[must_use]
    pub fn from_pairs(pairs: &[[f64; 2]]) -> Option<Self> {
        Self::new(pairs.iter().map(|[x, y]| Point2D::new(*x, *y)).collect())
    }

    /// Its corners in order.
    #[must_use]
    pub fn corners(&self) -> &[Point2D<f64, U>] {
        &self.corners
    }

    /// Its edges as (start, end).
    pub fn edges(&self) -> impl Iterator<Item = (Point2D<f64, U>, Point2D<f64, U>)> + '_ {
        let next = self.corners.iter().cycle().skip(1);
        self.corners.iter().zip(next).map(|(a, b)| (*a, *b))
    }

    /// Area by the shoelace formula: positive where the corners run from x towards y.
    #[must_use]
    pub fn signed_area(&self) -> f64 {
        let origin = self.corners[0];
        self.edges()
            .map(|(a, b)| (a - origin).cross(b - origin))
            .sum::<f64>()
            / 2.0
    }

    /// Area, whatever the sense of rotation.
    #[must_use]
    pub fn area(&self) -> f64 {
        self.signed_area().abs()
    }

    /// Whether `point` is inside (even-odd rule; on the edge either way).
    #[must_use]
    pub fn contains(&self, point: Point2D<f64, U>) -> bool {
        self.edges().fold(false, |inside, (a, b)| {
            let crosses = (a.y > point.y) != (b.y > point.y)
                && point.x < a.x + (point.y - a.y) / (b.y - a.y) * (b.x - a.x);
            inside != crosses
        })
    }

    /// The box around it.
    #[must_use]
    pub fn bounds(&self) -> Box2D<f64, U> {
        Box2D::from_points(&self.corners)
    }
}

/// The convex hull, counter-clockwise in a y-up plane (Andrew's monotone chain).
///
/// Points on an edge are left out; fewer than three distinct points come back as they are.
#[must_use]
pub fn convex_hull<U>(points: &[Point2D<f64, U>]) -> Vec<Point2D<f64, U>> {
    let mut sorted = points.to_vec();
    sorted.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
    sorted.dedup();
    if sorted.len() < 3 {
        return sorted;
    }
    let mut hull: Vec<Point2D<f64, U>> = Vec::new();
    let mut chain = |run: &mut dyn Iterator<Item = Point2D<f64, U>>| {
        let floor = hull.len() + 1;
        for point in run {
            while hull.len() > floor {
                let (a, b) = (hull[hull.len() - 2], hull[hull.len() - 1]);
                if (b - a).cross(point - a) > 0.0 {
                    break;
                }
                hull.pop();
            }
            hull.push(point);
        }
        hull.pop();
    };
    chain(&mut sorted.iter().copied());
    chain(&mut sorted.iter().rev().copied());
    hull
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::geometry::{BoardMm, BoardPoint};

    #[test]
    fn circle_worked_value() {
        // Right triangle 3-4-5: the hypotenuse is the diameter; see docs/checks.md, "Homography".
        let circle = circle_through([(0.0, 0.0), (4.0, 0.0), (0.0, 3.0)].map(BoardPoint::from));
        let circle = circle.unwrap();
        assert!((circle.centre - BoardPoint::new(2.0, 1.5)).length() < 1e-12);
        assert!((circle.radius - 2.5).abs() < 1e-12);
        let line = [(0.0, 0.0), (4.0, 4.0), (9.0, 9.0)].map(BoardPoint::from);
        assert_eq!(circle_through(line), None);
        assert_eq!(circle_through([BoardPoint::new(f64::NAN, 0.0); 3]), None);
    }

    #[test]
    fn a_notched_board() {
        let board = Polygon::<BoardMm>::from_pairs(&[
            [0.0, 0.0],
            [10.0, 0.0],
            [10.0, 8.0],
            [6.0, 8.0],
            [6.0, 4.0],
            [0.0, 4.0],
        ])
        .unwrap();
        assert!((board.signed_area() - 56.0).abs() < 1e-12);
        assert!(board.contains(BoardPoint::new(8.0, 6.0)));
        assert!(!board.contains(BoardPoint::new(3.0, 6.0)), "the notch");
        assert!(!board.contains(BoardPoint::new(-1.0, 2.0)));
        assert_eq!(board.bounds().max, BoardPoint::new(10.0, 8.0));
        assert_eq!(
            Polygon::<BoardMm>::from_pairs(&[[0.0, 0.0], [1.0, 1.0]]),
            None
        );
    }

    proptest! {
        #[test]
        fn the_circle_passes_through_its_points(
            cx in -100.0..100.0f64, cy in -100.0..100.0f64, r in 0.1..50.0f64,
            turn in 0.0..6.0f64,
        ) {
            let centre = BoardPoint::new(cx, cy);
            let points = [0.0, 1.3, 3.9].map(|a: f64| {
                let (s, c) = (turn + a).sin_cos();
                BoardPoint::new(cx + r * c, cy + r * s)
            });
            let found = circle_through(points).unwrap();
            prop_assert!((found.centre - centre).length() < 1e-6);
            prop_assert!((found.radius - r).abs() < 1e-6);
        }

        #[test]
        fn the_hull_holds_every_point(
            raw in prop::collection::vec((0.0..100.0f64, 0.0..100.0f64), 3..40),
        ) {
            let points: Vec<BoardPoint> = raw.into_iter().map(BoardPoint::from).collect();
            let hull = convex_hull(&points);
            let area = Polygon::new(hull.clone()).unwrap();
            prop_assert!(area.signed_area() >= 0.0);
            for p in &points {
                for (a, b) in area.edges() {
                    prop_assert!((b - a).cross(*p - a) >= -1e-9);
                }
            }
        }
    }
}
