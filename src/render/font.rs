//! A small vector stroke font of our own for silkscreen, part tops and stamps.
//!
//! Each glyph is a list of polylines on a grid 4 wide and 6 high, y up.

/// One stroke: its two ends in mm.
pub(super) type Stroke = [[f64; 2]; 2];

/// Advance of a character in cap heights.
const ADVANCE: f64 = 5.6 / 6.0;

/// Digits are pairs `xy`; a space lifts the pen.
fn glyph(character: char) -> &'static str {
    match character {
        'A' => "0004264440 0242",
        'B' => "00063645443303 33424130 3000",
        'C' => "4536160501103041",
        'D' => "00062644422000",
        'E' => "46060040 0333",
        'F' => "000646 0333",
        'G' => "45361605011030414323",
        'H' => "0006 4046 0343",
        'I' => "1030 2026 1636",
        'J' => "4641301001",
        'K' => "0006 4603 1440",
        'L' => "060040",
        'M' => "0006234640",
        'N' => "00064046",
        'O' => "10010516364541301000",
        'P' => "000636454433 3303",
        'Q' => "1001051636454130 1021 2240",
        'R' => "0006364544330313 2340",
        'S' => "0110304142330304051636 3645",
        'T' => "0646 2620",
        'U' => "060110304146",
        'V' => "062046",
        'W' => "0610233046",
        'X' => "0046 0640",
        'Y' => "062346 2320",
        'Z' => "06460040",
        '0' => "1001051636454130 3010",
        '1' => "052620 1030",
        '2' => "05163645440040",
        '3' => "0516364544332333424130100 1",
        '4' => "3036022242",
        '5' => "460603334241301001",
        '6' => "45361605011030414233 3303",
        '7' => "06462320",
        '8' => "1304051636454433134241301001 0213",
        '9' => "0110304145361605041343",
        '-' => "1333",
        '+' => "1333 2224",
        '.' => "2021",
        '/' => "0046",
        ':' => "2122 2425",
        '~' => "0213243342",
        '>' => "013341 ",
        '#' => "1115 3135 0242 0444",
        _ => "",
    }
}

/// The strokes of a text, height in mm, its middle at `centre`, turned counter-clockwise.
pub(super) fn text(words: &str, centre: [f64; 2], height: f64, turn_deg: f64) -> Vec<Stroke> {
    let unit = height / 6.0;
    let count = words.chars().count();
    #[allow(clippy::cast_precision_loss, reason = "short texts")]
    let width = (count as f64) * ADVANCE * height - unit * 1.6;
    let (sin, cos) = turn_deg.to_radians().sin_cos();
    let mut strokes = Vec::new();
    for (index, character) in words.chars().enumerate() {
        #[allow(clippy::cast_precision_loss, reason = "short texts")]
        let left = index as f64 * ADVANCE * height - width / 2.0;
        for line in glyph(character.to_ascii_uppercase()).split_whitespace() {
            let digits: Vec<f64> = line
                .bytes()
                .map(|byte| f64::from(byte.saturating_sub(b'0')))
                .collect();
            let points: Vec<[f64; 2]> = digits
                .chunks_exact(2)
                .map(|xy| {
                    let (x, y) = (left + xy[0] * unit, (xy[1] - 3.0) * unit);
                    [centre[0] + x * cos - y * sin, centre[1] + x * sin + y * cos]
                })
                .collect();
            strokes.extend(points.windows(2).map(|pair| [pair[0], pair[1]]));
        }
    }
    strokes
}

/// Distance in mm from a point to a stroke.
pub(super) fn distance([x, y]: [f64; 2], stroke: &Stroke) -> f64 {
    let [[ax, ay], [bx, by]] = *stroke;
    let (dx, dy) = (bx - ax, by - ay);
    let length = dx * dx + dy * dy;
    let t = if length > 0.0 {
        (((x - ax) * dx + (y - ay) * dy) / length).clamp(0.0, 1.0)
    } else {
        0.0
    };
    let (px, py) = (x - ax - t * dx, y - ay - t * dy);
    (px * px + py * py).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_letter_and_digit_has_strokes_inside_its_cell() {
        for character in ('A'..='Z').chain('0'..='9') {
            let strokes = text(&character.to_string(), [0.0, 0.0], 6.0, 0.0);
            assert!(!strokes.is_empty(), "{character}");
            for end in strokes.iter().flatten() {
                assert!(
                    end[0].abs() < 3.3 && end[1].abs() <= 3.0,
                    "{character} {end:?}"
                );
            }
        }
    }

    #[test]
    fn distance_to_a_stroke() {
        assert!((distance([3.0, 4.0], &[[0.0, 0.0], [0.0, 1.0]]) - 18.0f64.sqrt()).abs() < 1e-12);
    }
}
