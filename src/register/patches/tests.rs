use super::*;
use crate::geometry::{PhotoA, PhotoB};
use proptest::prelude::*;

/// A picture without a pattern.
fn grain(width: usize, height: usize, seed: u32) -> Plane {
    let value = |k: usize| {
        let mut v = (k as u32 ^ seed).wrapping_mul(0x9e37_79b9);
        v = (v ^ (v >> 15)).wrapping_mul(0x85eb_ca6b);
        (v ^ (v >> 13)) as f32 / u32::MAX as f32
    };
    Plane::from_values(width, height, (0..width * height).map(value).collect()).unwrap()
}

/// Normalised correlation of the squares of `half` px about two places, by its definition.
fn alike(a: &Plane, from: [isize; 2], b: &Plane, to: [isize; 2], half: isize) -> f64 {
    let all = |plane: &Plane, at: [isize; 2]| -> Vec<f64> {
        let offsets = (-half..=half).flat_map(|v| (-half..=half).map(move |u| (u, v)));
        let values: Vec<f64> = offsets
            .map(|(u, v)| f64::from(plane.at(at[0] + u, at[1] + v)))
            .collect();
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        values.iter().map(|v| v - mean).collect()
    };
    let (p, q) = (all(a, from), all(b, to));
    let dot = |p: &[f64], q: &[f64]| p.iter().zip(q).map(|(x, y)| x * y).sum::<f64>();
    dot(&p, &q) / (dot(&p, &p) * dot(&q, &q)).sqrt()
}

#[test]
fn pieces_are_found_where_the_definition_of_correlation_has_them() {
    let a = grain(240, 200, 1);
    // Shifted by (3, -2), with other grain mixed in.
    let other = grain(240, 200, 7);
    let shifted = (0..240 * 200).map(|k| {
        let (x, y) = ((k % 240) as isize, (k / 240) as isize);
        0.7 * a.at(x - 3, y + 2) + 0.3 * other.values()[k]
    });
    let b = Plane::from_values(240, 200, shifted.collect()).unwrap();
    let same: Homography<PhotoA, PhotoB> =
        Homography::from_rows([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]).unwrap();
    // Searches narrower and wider than the vectors and than any that the program asks for.
    for (half, reach) in [(6, 5), (7, 7), (6, 8), (6, 11), (9, 13), (12, 30)] {
        let grid = PatchGrid {
            cells: 5,
            half,
            reach,
            least_contrast: 0.02,
        };
        let hits = patch_hits(&a, &b, &same, &grid);
        assert!(hits.len() >= 4, "{half} {reach}: {} hits", hits.len());
        for hit in hits {
            let from = [hit.from.x as isize, hit.from.y as isize];
            let place = |u: isize, v: isize| [from[0] + u, from[1] + v];
            let best = alike(&a, from, &b, place(3, -2), half as isize);
            assert!(
                (f64::from(hit.score) - best).abs() < 1e-4,
                "{hit:?}: {best}"
            );
            let moved = hit.to - euclid::point2(from[0] as f64, from[1] as f64);
            assert!((moved - euclid::vec2(3.0, -2.0)).length() < 0.3, "{hit:?}");
            let reach = reach as isize;
            let rival = (-reach..=reach)
                .flat_map(|v| (-reach..=reach).map(move |u| (u, v)))
                .filter(|(u, v)| (u - 3).abs() > 2 || (v + 2).abs() > 2)
                .map(|(u, v)| alike(&a, from, &b, place(u, v), half as isize))
                .fold(-1.0, f64::max);
            let margin = best - rival;
            assert!(
                (f64::from(hit.margin) - margin).abs() < 1e-4,
                "{hit:?}: {margin}"
            );
        }
    }
}

proptest! {
    #[test]
    fn a_view_has_what_the_picture_has_where_the_transform_puts_it(
        turn in -3.0..3.0_f64,
        scale in 0.4..2.0_f64,
        tilt in -1e-4..1e-4_f64,
    ) {
        let value = |x: usize, y: usize| {
            ((x as f32 * 0.31).sin() + (y as f32 * 0.17).cos()).mul_add(0.2, 0.5)
        };
        let values = (0..90 * 70).map(|k| value(k % 90, k / 90)).collect();
        let b = Plane::from_values(90, 70, values).unwrap();
        let a = Plane::from_values(61, 53, vec![0.0; 61 * 53]).unwrap();
        let (s, c) = (scale * turn.sin(), scale * turn.cos());
        let transform: Homography<PhotoA, PhotoB> = Homography::from_rows([
            [c, -s, 45.0 - 30.0 * c + 26.0 * s],
            [s, c, 35.0 - 30.0 * s - 26.0 * c],
            [tilt, -tilt, 1.0],
        ])
        .unwrap();
        let seen = Seen::of(&a, &b, &transform, 4);
        for y in -4..57_isize {
            for x in -4..65_isize {
                let at = transform.apply(Point2D::new(x as f64, y as f64)).unwrap();
                let well_inside = (1.0..88.0).contains(&at.x) && (1.0..68.0).contains(&at.y);
                if let Some(there) = b.sample(at.x, at.y).filter(|_| well_inside) {
                    let here = seen.from(x, y)[0];
                    prop_assert!((here - there).abs() < 0.01, "{x} {y}: {here} for {there}");
                }
            }
        }
    }
}
