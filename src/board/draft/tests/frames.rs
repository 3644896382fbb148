//! The photo under the map: scale, side, perspective, and the grid that puts them right.

use super::super::*;
use super::draft;
use crate::board::model::Side;
use crate::geometry::{BoardPoint, PhotoPoint};

#[test]
fn two_pins_and_their_pitches_give_scale_and_side() {
    let by = FrameBy::Pitch {
        from: [100.0, 300.0],
        to: [608.0, 310.0],
        pitches: 10,
        pitch_mm: 2.54,
    };
    for (side, sign) in [(Side::Component, -1.0), (Side::Solder, 1.0)] {
        let mut draft = draft();
        draft
            .apply(&Edit::Frame {
                side,
                photo_size: [1000, 800],
                by: by.clone(),
            })
            .unwrap();
        let frame = draft.frame().unwrap();
        let a = frame.board(PhotoPoint::new(100.0, 300.0)).unwrap();
        let b = frame.board(PhotoPoint::new(608.0, 310.0)).unwrap();
        assert!(((b - a).length() - 25.4).abs() < 1e-6);
        assert!((b.y - a.y).abs() < 1e-6, "the row lies along an axis");
        // Left on the photo is left on the board from the component side, right from the other.
        assert_eq!((b.x - a.x).signum(), -sign);
        let up = frame.board(PhotoPoint::new(100.0, 100.0)).unwrap();
        assert!(up.y > a.y, "up is up");
        assert_eq!(
            frame.photo_from_board.determinant_at(a).unwrap().signum(),
            sign
        );
        let all = draft.map().bounds();
        assert!(all.min.x.abs() < 0.01 && all.min.y.abs() < 0.01);
    }
}

#[test]
fn four_corners_take_the_perspective_out() {
    let truth = crate::geometry::Homography::<crate::geometry::BoardMm, crate::geometry::PhotoPx>::from_rows([
        [10.0, 0.4, 100.0],
        [0.3, -9.0, 900.0],
        [0.0004, 0.0007, 1.0],
    ])
    .unwrap();
    let photo = |x: f64, y: f64| truth.apply(BoardPoint::new(x, y)).unwrap().to_array();
    // Begun at any corner, going round either way.
    let corners = [
        photo(80.0, 50.0),
        photo(80.0, 0.0),
        photo(0.0, 0.0),
        photo(0.0, 50.0),
    ];
    let mut draft = draft();
    draft
        .apply(&Edit::Frame {
            side: Side::Component,
            photo_size: [1400, 1000],
            by: FrameBy::Rectangle {
                corners,
                size_mm: [50.0, 80.0],
                board_edge: true,
            },
        })
        .unwrap();
    assert_eq!(
        draft.map().outline,
        [[0.0, 0.0], [80.0, 0.0], [80.0, 50.0], [0.0, 50.0]]
    );
    for (x, y) in [(10.0, 10.0), (70.0, 45.0), (33.0, 12.0)] {
        let [u, v] = photo(x, y);
        let back = draft.frame().unwrap().board(PhotoPoint::new(u, v)).unwrap();
        assert!((back - BoardPoint::new(x, y)).length() < 1e-6, "{back:?}");
    }
    let crossed = FrameBy::Rectangle {
        corners: [corners[0], corners[2], corners[1], corners[3]],
        size_mm: [50.0, 80.0],
        board_edge: true,
    };
    let edit = Edit::Frame {
        side: Side::Component,
        photo_size: [1400, 1000],
        by: crossed,
    };
    assert!(matches!(draft.apply(&edit), Err(DraftError::Corners)));
}

/// A photo with perspective, its scale taken from one row and two per cent wrong: the grid puts
/// it right, and each pin is still where the photo shows it.
#[test]
fn the_grid_takes_a_wrong_scale_and_the_perspective_out() {
    let truth = crate::geometry::Homography::<crate::geometry::BoardMm, crate::geometry::PhotoPx>::from_rows([
        [-27.0, 0.6, 2100.0],
        [-0.5, -26.0, 1500.0],
        [-0.0004, 0.0006, 1.0],
    ])
    .unwrap();
    let places: Vec<BoardPoint> = (0..12)
        .flat_map(|i| [(i, 0), (i, 1), (i, 14)])
        .chain([(20, 5), (21, 5), (24, 9), (25, 9), (26, 9), (24, 10)])
        .map(|(x, y)| BoardPoint::new(f64::from(x) * 2.54 + 3.0, f64::from(y) * 2.54 + 4.0))
        .collect();
    let px: Vec<PhotoPoint> = places.iter().map(|p| truth.apply(*p).unwrap()).collect();
    let mut draft = draft();
    draft
        .apply(&Edit::Frame {
            side: Side::Solder,
            photo_size: [2300, 1700],
            by: FrameBy::Pitch {
                from: px[0].to_array(),
                to: px[33].to_array(),
                pitches: 11,
                pitch_mm: 2.59,
            },
        })
        .unwrap();
    let joints = px
        .iter()
        .map(|p| FoundJoint {
            at: draft.frame().unwrap().board(*p).unwrap().to_array(),
            land_mm: 1.7,
        })
        .collect();
    draft
        .apply(&Edit::Accept {
            joints,
            rows: Vec::new(),
            packages: Vec::new(),
        })
        .unwrap();
    let edit = straighten(draft.now(), 2.54).expect("the pins stand on a grid");
    draft.apply(&edit).unwrap();
    for (pin, p) in draft.map().parts.iter().map(|part| &part.pins[0]).zip(&px) {
        let [x, y] = pin.at.map(|v| (v / 2.54 - (v / 2.54).round()).abs());
        assert!(x < 1e-3 && y < 1e-3, "{:?}", pin.at);
        let shown = draft.frame().unwrap().photo(pin.centre()).unwrap();
        assert!((shown - *p).length() < 0.5, "{shown:?} {p:?}");
    }
    let step = |i: usize, j: usize| {
        (draft.map().parts[i].pins[0].centre() - draft.map().parts[j].pins[0].centre()).length()
    };
    assert!((step(0, 33) - 11.0 * 2.54).abs() < 1e-6);
    assert!((step(0, 2) - 14.0 * 2.54).abs() < 1e-6);
}

#[test]
fn random_places_stand_on_no_grid() {
    // A low-discrepancy set: no two at one pitch.
    let points: Vec<BoardPoint> = (0..40)
        .map(|i| {
            BoardPoint::new(
                (f64::from(i) * 0.618_034).fract() * 80.0,
                (f64::from(i) * 0.754_878).fract() * 60.0,
            )
        })
        .collect();
    assert_eq!(fit_grid(&points, 2.54), None);
}
