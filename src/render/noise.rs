//! Hashed randomness: the same place gets the same value whatever the thread count.

/// Mixes a 64-bit value (the finaliser of splitmix64, a published public-domain generator).
pub(super) const fn mix(mut z: u64) -> u64 {
    z = z.wrapping_add(0x9E37_79B9_7F4A_7C15);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

/// A value in 0..1 from a 64-bit hash.
#[allow(clippy::cast_precision_loss, reason = "53 bits fit an f64")]
pub(super) fn unit(hash: u64) -> f64 {
    (hash >> 11) as f64 / 9_007_199_254_740_992.0
}

/// A seed from a text, so that things keep their looks when others are added.
pub(super) fn seed_of(seed: u64, text: &str) -> u64 {
    text.bytes()
        .fold(mix(seed), |hash, byte| mix(hash ^ u64::from(byte)))
}

/// A small stream of numbers.
#[derive(Debug, Clone)]
pub(super) struct Stream(u64);

impl Stream {
    pub(super) fn new(seed: u64) -> Self {
        Self(mix(seed))
    }

    /// Uniform in 0..1.
    pub(super) fn next(&mut self) -> f64 {
        self.0 = mix(self.0);
        unit(self.0)
    }

    /// Uniform between two values.
    pub(super) fn range(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.next()
    }

    /// True with the given probability.
    pub(super) fn chance(&mut self, probability: f64) -> bool {
        self.next() < probability
    }

    /// About normal, mean 0 and deviation 1 (sum of four uniforms).
    pub(super) fn normal(&mut self) -> f64 {
        let sum = self.next() + self.next() + self.next() + self.next();
        (sum - 2.0) * 1.732_050_8
    }
}

fn lattice(x: i64, y: i64, seed: u32) -> f64 {
    // A cheap integer hash: speed matters more than quality here.
    let mut h = (x as u32).wrapping_mul(0x8DA6_B343)
        ^ (y as u32).wrapping_mul(0xD816_3841)
        ^ seed.wrapping_mul(0xCB1A_B31F);
    h ^= h >> 16;
    h = h.wrapping_mul(0x7FEB_352D);
    h ^= h >> 15;
    h = h.wrapping_mul(0x846C_A68B);
    h ^= h >> 16;
    f64::from(h) / 4_294_967_295.0
}

/// Smooth value noise in 0..1 with features about one unit wide.
pub(super) fn value(x: f64, y: f64, seed: u32) -> f64 {
    let (x0, y0) = (x.floor(), y.floor());
    let (fx, fy) = (x - x0, y - y0);
    let (ix, iy) = (x0 as i64, y0 as i64);
    let sx = fx * fx * (3.0 - 2.0 * fx);
    let sy = fy * fy * (3.0 - 2.0 * fy);
    let top = lattice(ix, iy, seed) * (1.0 - sx) + lattice(ix + 1, iy, seed) * sx;
    let low = lattice(ix, iy + 1, seed) * (1.0 - sx) + lattice(ix + 1, iy + 1, seed) * sx;
    top * (1.0 - sy) + low * sy
}

/// Several octaves of [`value`], about 0..1 with mean 0.5.
pub(super) fn fbm(x: f64, y: f64, octaves: u32, seed: u32) -> f64 {
    let (mut sum, mut weight, mut total, mut scale) = (0.0, 1.0, 0.0, 1.0);
    for octave in 0..octaves {
        sum += weight * value(x * scale, y * scale, seed.wrapping_add(octave * 101));
        total += weight;
        weight *= 0.5;
        scale *= 2.03;
    }
    sum / total
}

/// Smooth step from 0 at `low` to 1 at `high`.
pub(super) fn smoothstep(low: f64, high: f64, x: f64) -> f64 {
    let t = ((x - low) / (high - low)).clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

/// Between `a` (at 0) and `b` (at 1).
pub(super) fn lerp(a: f64, b: f64, t: f64) -> f64 {
    a + (b - a) * t
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn noise_stays_in_range_and_repeats() {
        for i in 0..500 {
            let (x, y) = (f64::from(i) * 0.37 - 80.0, f64::from(i) * 0.11);
            let v = fbm(x, y, 4, 9);
            assert!((0.0..=1.0).contains(&v));
            assert_eq!(v.to_bits(), fbm(x, y, 4, 9).to_bits());
        }
    }

    #[test]
    fn the_stream_is_about_normal() {
        let mut stream = Stream::new(3);
        let draws: Vec<f64> = (0..20_000).map(|_| stream.normal()).collect();
        let mean = draws.iter().sum::<f64>() / 20_000.0;
        let variance = draws.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / 20_000.0;
        assert!(
            mean.abs() < 0.03 && (variance - 1.0).abs() < 0.05,
            "{mean} {variance}"
        );
    }
}
