use super::*;

/// A grid point of a board at 20 px/mm, turned by 3 degrees.
fn at(column: f64, row: f64) -> [f64; 3] {
    let (x, y) = (column * 50.8, row * 50.8);
    let (s, c) = 3.0_f64.to_radians().sin_cos();
    [300.0 + c * x - s * y, 200.0 + s * x + c * y, 16.0]
}

#[test]
fn a_package_of_two_rows_gives_the_scale() {
    let mut joints: Vec<[f64; 3]> = (0..8).map(|k| at(f64::from(k), 0.0)).collect();
    joints.extend((0..8).map(|k| at(f64::from(k), 3.0)));
    joints.push([900.0, 700.0, 16.0]);
    let grid = rows_of(&joints);
    assert_eq!(grid.rows.len(), 2);
    assert!(
        grid.rows
            .iter()
            .all(|r| r.joints.len() == 8 && r.gaps.is_empty())
    );
    assert!((grid.rows[0].pitch_px - 50.8).abs() < 0.01);
    assert!((grid.rows[0].turn_deg - 3.0).abs() < 0.05);
    assert_eq!(grid.packages.len(), 1);
    assert!((grid.packages[0].rows_apart_mm - 7.62).abs() < 1e-9);
    assert_eq!(grid.px_per_mm, Some(20.0));
    assert_eq!(grid.rows[0].joints[0], "F1");
    assert_eq!(grid.order.len(), 17);
}

#[test]
fn a_missing_member_leaves_a_gap() {
    let joints: Vec<[f64; 3]> = [0.0, 1.0, 2.0, 4.0, 5.0, 6.0, 7.0]
        .map(|k| at(k, 0.0))
        .to_vec();
    let grid = rows_of(&joints);
    assert_eq!(grid.rows.len(), 1);
    assert_eq!(grid.rows[0].joints.len(), 7);
    let [x, y, _] = at(3.0, 0.0);
    assert_eq!(grid.rows[0].gaps.len(), 1);
    let [gx, gy] = grid.rows[0].gaps[0];
    assert!((gx - x).hypot(gy - y) < 1.0);
}

/// Two rows of 5.08 mm with lands of 2.6 mm: at 2.54 mm they would be small ones.
#[test]
fn wide_pitch_with_wide_lands_is_not_taken_for_the_common_one() {
    let row = |y: f64| (0..8).map(move |k| [300.0 + 50.8 * f64::from(k), y, 13.0]);
    let grid = rows_of(&row(200.0).chain(row(352.4)).collect::<Vec<_>>());
    assert_eq!(grid.rows.len(), 2);
    assert_eq!(grid.px_per_mm, None);
    assert!(grid.reason.contains("unusual"), "{}", grid.reason);
}

#[test]
fn two_pitches_give_no_scale() {
    let mut joints: Vec<[f64; 3]> = (0..12).map(|k| at(f64::from(k), 0.0)).collect();
    joints.extend((0..12).map(|k| at(f64::from(k) * 1.3, 5.0)));
    let grid = rows_of(&joints);
    assert_eq!(grid.px_per_mm, None);
    assert!(grid.reason.contains("both common"), "{}", grid.reason);
    assert_eq!(rows_of(&[]).px_per_mm, None);
}

proptest::proptest! {
    #[test]
    fn each_joint_is_named_once_and_is_in_one_row_at_most(
        places in proptest::collection::vec((0.0..900.0_f64, 0.0..900.0_f64, 11.0..40.0_f64), 0..60),
    ) {
        let joints: Vec<[f64; 3]> = places.iter().map(|(x, y, r)| [*x, *y, *r]).collect();
        let grid = rows_of(&joints);
        let mut order = grid.order.clone();
        order.sort_unstable();
        proptest::prop_assert_eq!(order, (0..joints.len()).collect::<Vec<_>>());
        let mut members: Vec<usize> = grid.rows.iter().flat_map(|r| r.members.clone()).collect();
        let all = members.len();
        members.sort_unstable();
        members.dedup();
        proptest::prop_assert_eq!(members.len(), all);
    }
}
