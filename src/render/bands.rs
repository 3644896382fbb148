//! Colour bands of resistors (IEC 60062, two digits, multiplier, tolerance).

use super::light::Rgb;

/// Linear colours of the digits black, brown, red, orange, yellow, green, blue, violet, grey,
/// white (the code's names are the standard's; the shades are ours).
const DIGITS: [[f64; 3]; 10] = [
    [0.012, 0.012, 0.012],
    [0.12, 0.045, 0.02],
    [0.45, 0.025, 0.02],
    [0.75, 0.18, 0.02],
    [0.8, 0.56, 0.03],
    [0.03, 0.22, 0.05],
    [0.03, 0.08, 0.4],
    [0.2, 0.06, 0.35],
    [0.22, 0.22, 0.22],
    [0.75, 0.75, 0.72],
];
const GOLD: [f64; 3] = [0.46, 0.3, 0.07];

/// Digit numbers of the first three bands for a value in ohm: two digits and a power of ten.
fn code(ohm: f64) -> [usize; 3] {
    let mut power = 0;
    let mut digits = ohm;
    while digits >= 99.5 {
        digits /= 10.0;
        power += 1;
    }
    let digits = digits.round() as usize;
    [digits / 10 % 10, digits % 10, power.min(9)]
}

/// Reads a value such as `4.7k 5%`, `470 5%`, `100k 5%`.
fn ohm(value: &str) -> Option<f64> {
    let first = value.split_whitespace().next()?;
    let (number, factor) = match first.strip_suffix(['k', 'K']) {
        Some(number) => (number, 1e3),
        None => first.strip_suffix('M').map_or((first, 1.0), |n| (n, 1e6)),
    };
    number.parse::<f64>().ok().map(|n| n * factor)
}

/// The four bands of a value; none where it cannot be read.
pub(super) fn bands(value: &str) -> Vec<Rgb> {
    let Some(ohm) = ohm(value) else {
        return Vec::new();
    };
    let mut out: Vec<Rgb> = code(ohm).iter().map(|d| Rgb::from(DIGITS[*d])).collect();
    out.push(Rgb::from(GOLD));
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_standards_example_and_others() {
        // IEC 60062 (from memory): yellow-violet-red-gold is 4.7 kilohm, 5 %.
        assert_eq!(code(ohm("4.7k 5%").unwrap()), [4, 7, 2]);
        assert_eq!(code(ohm("470 5%").unwrap()), [4, 7, 1]);
        assert_eq!(code(ohm("100k 5%").unwrap()), [1, 0, 4]);
        assert_eq!(code(ohm("2.2k 5%").unwrap()), [2, 2, 2]);
        assert!(bands("link").is_empty());
    }
}
