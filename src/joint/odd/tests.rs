use super::*;
use image::Rgb;

const R: f64 = 18.0;
const PITCH: f64 = 56.0;

fn at(k: usize) -> (f64, f64) {
    (40.0 + k as f64 * PITCH, 40.0)
}

/// A drawn row of nine joints on a green board; `touch` may change what lies where.
fn row_photo(touch: impl Fn(f64, f64) -> Option<[u8; 3]>) -> RgbImage {
    RgbImage::from_fn(540, 80, |x, y| {
        let (x, y) = (f64::from(x), f64::from(y));
        if let Some(c) = touch(x, y) {
            return Rgb(c);
        }
        for k in 0..9 {
            let (cx, cy) = at(k);
            let d = (x - cx).hypot(y - cy);
            if d < R {
                // A fillet: bright to the upper left, with a pin in the middle.
                let v = if d < 6.0 {
                    205.0
                } else {
                    150.0 - 2.0 * (x - cx) - 2.5 * (y - cy)
                };
                return Rgb([v as u8, v as u8, (v * 0.95) as u8]);
            }
        }
        Rgb([30, 80 + ((x * 7.0 + y * 13.0) as u32 % 5) as u8, 40])
    })
}

fn joints(move_one: Option<(usize, f64, f64)>) -> (Vec<FoundJoint>, Row) {
    let joints: Vec<FoundJoint> = (0..9)
        .map(|k| {
            let (mut x, mut y) = at(k);
            if let Some((one, dx, dy)) = move_one
                && one == k
            {
                (x, y) = (x + dx, y + dy);
            }
            FoundJoint {
                id: format!("F{}", k + 1),
                x_px: x,
                y_px: y,
                land_radius_px: R,
                score: 0.9,
                pin_radius_px: None,
            }
        })
        .collect();
    let row = Row {
        joints: joints.iter().map(|j| j.id.clone()).collect(),
        pitch_px: PITCH,
        turn_deg: 0.0,
        gaps: Vec::new(),
        members: (0..9).collect(),
    };
    (joints, row)
}

#[test]
fn an_even_row_has_no_odd_one() {
    let (joints, row) = joints(None);
    let odd = odd_ones(&row_photo(|_, _| None), &joints, &[row]);
    assert!(odd.is_empty(), "{odd:?}");
}

#[test]
fn a_bridge_a_burnt_joint_and_a_bent_one_are_named() {
    // Solder from the third to the fourth; the seventh is dark.
    let photo = row_photo(|x, y| {
        let ((x3, y3), (x4, _), (x7, y7)) = (at(2), at(3), at(6));
        if x > x3 && x < x4 && (y - y3).abs() < 7.0 {
            return Some([160, 160, 150]);
        }
        ((x - x7).hypot(y - y7) < R).then_some([25, 22, 20])
    });
    let (joints, row) = joints(Some((0, -2.0, 11.0)));
    let odd = odd_ones(&photo, &joints, &[row]);
    let kind = |id: &str| odd.iter().find(|o| o.id == id).map(|o| o.kind);
    assert_eq!(kind("F3"), Some(OddKind::Bridged), "{odd:?}");
    assert_eq!(kind("F7"), Some(OddKind::Different), "{odd:?}");
    assert_eq!(kind("F1"), Some(OddKind::Offset), "{odd:?}");
    assert!(odd.iter().all(|o| o.sigma.is_none_or(|s| s >= ODD_SIGMA)));
    for fine in ["F2", "F5", "F6", "F8", "F9"] {
        assert_eq!(kind(fine), None, "{odd:?}");
    }
}

#[test]
fn a_gap_in_the_spacing_is_a_missing_one() {
    let (mut joints, mut row) = joints(None);
    joints.remove(4);
    row.members = (0..8).collect();
    let (x, y) = at(4);
    row.gaps = vec![[x, y]];
    let odd = odd_ones(&row_photo(|_, _| None), &joints, &[row]);
    assert_eq!(odd.len(), 1, "{odd:?}");
    assert_eq!(
        (odd[0].id.as_str(), odd[0].kind),
        ("F4-F6", OddKind::Missing)
    );
    assert_eq!(odd[0].at_px, [x, y]);
}
