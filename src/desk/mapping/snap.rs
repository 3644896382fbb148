//! Where a click was meant: the middle of a found joint, or of the solder that it fell on.

use image::RgbImage;

use super::making::Spot;
use crate::geometry::{PhotoPoint, PhotoVector};

/// Smallest window, px: below it the grain of the photo decides.
const LEAST_PX: f64 = 4.0;
/// Largest window, px: lands are smaller, and the window's thread must not wait.
const MOST_PX: f64 = 80.0;
/// A middle further from the click than this share of the land's radius is not the one that was
/// meant.
const FURTHEST: f64 = 0.6;
/// Contrast that counts as solder, as a share of that between the brightest tenth within the
/// land and the board round it.
const HALF: f64 = 0.5;
/// Least contrast, levels of 255: below it there is nothing to be drawn to.
const LEAST_CONTRAST: f64 = 18.0;

/// The found joint that a click falls on: the nearest within its land or `reach_px`.
#[must_use]
pub fn nearest_spot(spots: &[Spot], at: PhotoPoint, reach_px: f64) -> Option<Spot> {
    spots
        .iter()
        .map(|spot| (spot, (spot.at - at).length()))
        .filter(|(spot, distance)| *distance <= spot.radius_px.max(reach_px))
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(spot, _)| *spot)
}

/// The middle of what stands out from the board within a land's radius of a click; `None` where
/// nothing does, or where it is too far off. One step of a centre of mass over a window of 1.2
/// radii, repeated twice: a joint's shine lies off its middle, its outline does not.
#[must_use]
pub fn centroid(image: &RgbImage, click: PhotoPoint, radius_px: f64) -> Option<PhotoPoint> {
    if !(click.x.is_finite() && click.y.is_finite() && radius_px.is_finite()) {
        return None;
    }
    let radius = radius_px.clamp(LEAST_PX, MOST_PX);
    let mut at = click;
    for _ in 0..3 {
        at = mass(image, at, radius)?;
        if (at - click).length() > FURTHEST * radius {
            return None;
        }
    }
    Some(at)
}

/// As [`centroid`] where nobody knows how large a land is: the size round which board and
/// solder differ most decides.
#[must_use]
pub(super) fn middle_of_any_size(
    image: &RgbImage,
    click: PhotoPoint,
    radius_px: f64,
) -> Option<PhotoPoint> {
    /// From half to four times the size that is thought of.
    const SIZES: [f64; 7] = [0.5, 0.7, 1.0, 1.4, 2.0, 2.8, 4.0];
    SIZES
        .iter()
        .filter_map(|share| {
            let radius = radius_px * share;
            let at = centroid(image, click, radius)?;
            Some((at, contrast(image, at, radius)?))
        })
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(at, _)| at)
}

/// Difference between the mean level within a radius and that of the board round it.
fn contrast(image: &RgbImage, at: PhotoPoint, radius: f64) -> Option<f64> {
    let (mut inside, mut round) = ((0.0, 0.0), (0.0, 0.0));
    let reach = (radius * 1.7).min(MOST_PX * 1.7);
    let least = |v: f64| (v - reach).floor().max(0.0) as u32;
    let most = |v: f64, side: u32| (v + reach).max(0.0).min(f64::from(side) - 1.0) as u32;
    for y in least(at.y)..=most(at.y, image.height()) {
        for x in least(at.x)..=most(at.x, image.width()) {
            let distance = (f64::from(x) - at.x).hypot(f64::from(y) - at.y) / radius;
            let [r, g, b] = image.get_pixel(x, y).0.map(f64::from);
            let level = 0.299 * r + 0.587 * g + 0.114 * b;
            let sum = if distance <= 0.9 {
                &mut inside
            } else if (1.2..=1.7).contains(&distance) {
                &mut round
            } else {
                continue;
            };
            sum.0 += level;
            sum.1 += 1.0;
        }
    }
    (inside.1 > 0.0 && round.1 > 0.0).then(|| (inside.0 / inside.1 - round.0 / round.1).abs())
}

fn mass(image: &RgbImage, at: PhotoPoint, radius: f64) -> Option<PhotoPoint> {
    let reach = (radius * 1.7).ceil();
    let mut inside = Vec::new();
    let mut round = Vec::new();
    let (x0, y0) = (
        (at.x - reach).floor().max(0.0),
        (at.y - reach).floor().max(0.0),
    );
    let (x1, y1) = (
        (at.x + reach).min(f64::from(image.width()) - 1.0),
        (at.y + reach).min(f64::from(image.height()) - 1.0),
    );
    if x1 < x0 || y1 < y0 {
        return None;
    }
    for y in y0 as u32..=y1 as u32 {
        for x in x0 as u32..=x1 as u32 {
            let offset = PhotoVector::new(f64::from(x) - at.x, f64::from(y) - at.y);
            let distance = offset.length() / radius;
            let [r, g, b] = image.get_pixel(x, y).0.map(f64::from);
            let level = 0.299 * r + 0.587 * g + 0.114 * b;
            if distance <= 1.2 {
                inside.push((offset, level));
            } else if (1.35..=1.7).contains(&distance) {
                round.push(level);
            }
        }
    }
    let board = share_of(&mut round, 0.5)?;
    let mut levels: Vec<f64> = inside.iter().map(|(_, level)| *level).collect();
    let bright = share_of(&mut levels, 0.9)? - board;
    let dark = board - share_of(&mut levels, 0.1)?;
    let (sign, contrast) = if bright >= dark {
        (1.0, bright)
    } else {
        (-1.0, dark)
    };
    if contrast < LEAST_CONTRAST {
        return None;
    }
    let mut sum = PhotoVector::zero();
    let mut total = 0.0;
    for (offset, level) in inside {
        // Each pixel counts for at most one: shine weighs no more than dull solder.
        let weight = ((level - board) * sign / contrast / HALF).clamp(0.0, 1.0);
        sum += offset * weight;
        total += weight;
    }
    (total > 0.0).then(|| at + sum / total)
}

fn share_of(values: &mut [f64], share: f64) -> Option<f64> {
    if values.is_empty() {
        return None;
    }
    let at = ((values.len() - 1) as f64 * share).round() as usize;
    let (_, value, _) = values.select_nth_unstable_by(at, f64::total_cmp);
    Some(*value)
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;

    fn board(lit: impl Fn(f64, f64) -> Option<u8>) -> RgbImage {
        RgbImage::from_fn(120, 100, |x, y| {
            let grain =
                ((x.wrapping_mul(2_654_435_761) ^ y.wrapping_mul(2_246_822_519)) >> 28) as u8;
            match lit(f64::from(x), f64::from(y)) {
                Some(level) => Rgb([level.saturating_add(grain); 3]),
                None => Rgb([30 + grain, 70 + grain, 35 + grain]),
            }
        })
    }

    #[test]
    fn a_click_beside_the_middle_is_drawn_to_it() {
        // A land of radius 15 with a shine off its middle.
        let photo = board(|x, y| {
            let d = (x - 60.3_f64).hypot(y - 48.6);
            let shine = (x - 55.0_f64).hypot(y - 44.0) < 4.0;
            (d < 15.0).then_some(if shine { 240 } else { 140 })
        });
        for (dx, dy) in [(6.0, 0.0), (-4.0, 5.0), (0.0, -7.0)] {
            let found = centroid(&photo, PhotoPoint::new(60.3 + dx, 48.6 + dy), 15.0).unwrap();
            assert!(
                (found - PhotoPoint::new(60.3, 48.6)).length() < 1.5,
                "{found:?}"
            );
        }
    }

    #[test]
    fn bare_board_draws_no_click() {
        let photo = board(|_, _| None);
        assert_eq!(centroid(&photo, PhotoPoint::new(60.0, 50.0), 15.0), None);
        assert_eq!(centroid(&photo, PhotoPoint::new(-500.0, 50.0), 15.0), None);
        assert_eq!(
            centroid(&photo, PhotoPoint::new(f64::NAN, 50.0), 15.0),
            None
        );
    }

    #[test]
    fn the_nearest_found_joint_takes_the_click() {
        let spot = |x: f64| Spot {
            at: PhotoPoint::new(x, 10.0),
            radius_px: 8.0,
        };
        let spots = [spot(10.0), spot(22.0)];
        let hit = |x: f64| nearest_spot(&spots, PhotoPoint::new(x, 10.0), 3.0).map(|s| s.at.x);
        assert_eq!(hit(15.0), Some(10.0));
        assert_eq!(hit(17.0), Some(22.0));
        assert_eq!(hit(40.0), None);
    }
}
