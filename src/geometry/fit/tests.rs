use proptest::prelude::*;

use super::*;
use crate::geometry::{BoardMm, BoardPoint, PhotoPoint, PhotoPx};

fn plausible() -> impl Strategy<Value = Homography<BoardMm, PhotoPx>> {
    (
        5.0..40.0f64,
        0.0..std::f64::consts::TAU,
        any::<bool>(),
        -0.001..0.001f64,
        -0.001..0.001f64,
        (-500.0..3000.0f64, -500.0..3000.0f64),
    )
        .prop_map(|(s, turn, mirror, g, h, (tx, ty))| {
            let (sin, cos) = turn.sin_cos();
            let m = if mirror { -1.0 } else { 1.0 };
            Homography::from_rows([
                [s * cos, -s * sin * m, tx],
                [s * sin, s * cos * m, ty],
                [g, h, 1.0],
            ])
            .unwrap()
        })
}

fn board() -> Vec<BoardPoint> {
    [
        (3.0, 4.0),
        (97.0, 5.0),
        (95.0, 76.0),
        (4.0, 75.0),
        (50.0, 33.0),
        (20.0, 60.0),
        (71.0, 12.0),
    ]
    .map(BoardPoint::from)
    .to_vec()
}

fn images(h: &Homography<BoardMm, PhotoPx>, from: &[BoardPoint]) -> Vec<PhotoPoint> {
    from.iter().map(|p| h.apply(*p).unwrap()).collect()
}

fn worst(a: &Homography<BoardMm, PhotoPx>, b: &Homography<BoardMm, PhotoPx>) -> f64 {
    (board().iter())
        .map(|p| (a.apply(*p).unwrap() - b.apply(*p).unwrap()).length())
        .fold(0.0, f64::max)
}

proptest! {
    #[test]
    fn exact_points_give_the_transform_back(truth in plausible(), n in 4usize..8) {
        let from = &board()[..n];
        let fit = fit_homography(from, &images(&truth, from), None).unwrap();
        prop_assert!(worst(&fit, &truth) < 1e-6);
    }

    #[test]
    fn order_does_not_matter(truth in plausible(), seed in 0usize..7, jig in 0.0..3.0f64) {
        let from = board();
        let to: Vec<_> = images(&truth, &from).into_iter().enumerate()
            .map(|(i, p)| p + crate::geometry::PhotoVector::new(
                jig * (i as f64 * 1.7).sin(), jig * (i as f64 * 2.3).cos()))
            .collect();
        let one = fit_homography(&from, &to, None).unwrap();
        let turned = |i: usize| (i * 3 + seed) % 7;
        let from2: Vec<_> = (0..7).map(|i| from[turned(i)]).collect();
        let to2: Vec<_> = (0..7).map(|i| to[turned(i)]).collect();
        let two = fit_homography(&from2, &to2, None).unwrap();
        prop_assert!(worst(&one, &two) < 1e-6);
    }

    #[test]
    fn affine_and_similarity_give_theirs_back(
        a in 2.0..30.0f64, b in -3.0..3.0f64, c in -3.0..3.0f64, d in 2.0..30.0f64,
        tx in -500.0..500.0f64, ty in -500.0..500.0f64, mirror in any::<bool>(),
    ) {
        prop_assume!(a * d - b * c > 1.0);
        let from = board();
        let affine = Homography::from_rows([[a, b, tx], [c, d, ty], [0.0, 0.0, 1.0]]).unwrap();
        let fit = fit_affine(&from[..3], &images(&affine, &from[..3]), None).unwrap();
        prop_assert!(worst(&fit, &affine) < 1e-6);
        let m = if mirror { -1.0 } else { 1.0 };
        let alike = Homography::from_rows([[a, -b * m, tx], [b, a * m, ty], [0.0, 0.0, 1.0]]).unwrap();
        let handed = if mirror { Handed::Mirrored } else { Handed::Same };
        let fit = fit_similarity(&from[..2], &images(&alike, &from[..2]), None, handed).unwrap();
        prop_assert!(worst(&fit, &alike) < 1e-6);
    }

    #[test]
    fn composition_fits_what_its_parts_map(one in plausible(), two in plausible()) {
        // Board to photo, then on to a second "photo" plane of the same tag.
        let shrink = Homography::<PhotoPx, BoardMm>::from_rows(
            [[0.02, 0.0, 0.0], [0.0, 0.02, 0.0], [0.0, 0.0, 1.0]]).unwrap();
        let whole = one.then(&shrink).unwrap().then(&two).unwrap();
        let from = board();
        let to: Option<Vec<_>> = from.iter().map(|p| whole.apply(*p)).collect();
        if let Some(to) = to {
            prop_assume!(to.iter().all(|p| p.to_vector().length() < 1e5));
            let fit = fit_homography(&from, &to, None).unwrap();
            prop_assert!(worst(&fit, &whole) < 1e-4);
        }
    }
}

#[test]
fn a_weight_of_nothing_ignores_a_pair() {
    let truth =
        Homography::from_rows([[10.0, 1.0, 5.0], [1.0, -10.0, 900.0], [1e-4, 2e-4, 1.0]]).unwrap();
    let from = board();
    let mut to = images(&truth, &from);
    to[2].x += 40.0;
    let mut weights = vec![1.0; 7];
    weights[2] = 0.0;
    let fit = fit_homography(&from, &to, Some(&weights)).unwrap();
    assert!(worst(&fit, &truth) < 1e-6);
}

#[test]
fn nonsense_is_refused() {
    let line: Vec<_> = (0..5).map(|i| BoardPoint::new(f64::from(i), 2.0)).collect();
    let to: Vec<_> = (0..5)
        .map(|i| PhotoPoint::new(f64::from(i * i), 3.0 * f64::from(i)))
        .collect();
    assert_eq!(fit_homography(&line, &to, None), Err(FitError::Degenerate));
    assert_eq!(fit_affine(&line, &to, None), Err(FitError::Degenerate));
    assert_eq!(
        fit_homography(&line[..3], &to[..3], None),
        Err(FitError::TooFew {
            needed: 4,
            given: 3
        })
    );
    assert_eq!(
        fit_affine(&line[..3], &to[..4], None),
        Err(FitError::Unpaired { from: 3, to: 4 })
    );
    let bad = [BoardPoint::new(f64::NAN, 0.0), BoardPoint::new(1.0, 0.0)];
    assert_eq!(
        fit_similarity(&bad, &to[..2], None, Handed::Same),
        Err(FitError::NotFinite)
    );
    let same = [BoardPoint::new(1.0, 1.0); 2];
    assert_eq!(
        fit_similarity(&same, &to[..2], None, Handed::Same),
        Err(FitError::Degenerate)
    );
}
