//! A small seeded generator, so that a scene is the same on every machine and in every year.

/// xoshiro256++ (Blackman and Vigna 2019), its state filled by splitmix64 (Steele, Lea and Flood 2014).
#[derive(Debug, Clone)]
pub struct Random([u64; 4]);

impl Random {
    /// The generator of this seed.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        let mut state = seed;
        Random(std::array::from_fn(|_| {
            state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
            let mut z = state;
            z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
            z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
            z ^ (z >> 31)
        }))
    }

    /// The next 64 random bits.
    pub fn bits(&mut self) -> u64 {
        let s = &mut self.0;
        let result = s[0].wrapping_add(s[3]).rotate_left(23).wrapping_add(s[0]);
        let kept = s[1] << 17;
        s[2] ^= s[0];
        s[3] ^= s[1];
        s[1] ^= s[2];
        s[0] ^= s[3];
        s[2] ^= kept;
        s[3] = s[3].rotate_left(45);
        result
    }

    /// Evenly from `low` to below `high`.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        // The upper 53 bits fill the mantissa of an f64.
        let unit = (self.bits() >> 11) as f64 / (1u64 << 53) as f64;
        low + unit * (high - low)
    }

    /// Evenly in the logarithm from `low` to below `high`, both positive.
    pub fn between_log(&mut self, low: f64, high: f64) -> f64 {
        self.between(low.ln(), high.ln()).exp()
    }

    /// Normal with mean 0 and this standard deviation: the sum of twelve even numbers, so never beyond six deviations.
    pub fn normal(&mut self, deviation: f64) -> f64 {
        let sum: f64 = (0..12).map(|_| self.between(0.0, 1.0)).sum();
        deviation * (sum - 6.0)
    }

    /// Nearly normal with mean 0 and deviation 1, from one draw: the sum of four 16-bit numbers. For pixel noise, where speed matters.
    pub(super) fn grain(&mut self) -> f32 {
        let bits = self.bits();
        let sum: u32 = (0..4).map(|i| (bits >> (16 * i)) as u32 & 0xffff).sum();
        // Four even numbers of width 1 have a variance of 4/12, hence the square root of 3.
        (sum as f32 / 65536.0 - 2.0) * 1.732_050_8
    }

    /// True with this probability.
    pub fn chance(&mut self, probability: f64) -> bool {
        self.between(0.0, 1.0) < probability
    }

    /// One of `0..count`; 0 when `count` is 0.
    pub fn below(&mut self, count: usize) -> usize {
        (self.between(0.0, count as f64) as usize).min(count.saturating_sub(1))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    // Vigna's public-domain splitmix64.c: the first output of seed 1234567 is 6457827717110365317.
    #[test]
    fn state_is_filled_as_published() {
        assert_eq!(Random::new(1_234_567).0[0], 6_457_827_717_110_365_317);
    }

    #[test]
    fn moments_are_right() {
        let mut random = Random::new(5);
        let n = 40_000;
        for draw in [(|r: &mut Random| r.normal(1.0)) as fn(&mut Random) -> f64, |r| f64::from(r.grain())] {
            let all: Vec<f64> = (0..n).map(|_| draw(&mut random)).collect();
            let mean = all.iter().sum::<f64>() / f64::from(n);
            let variance = all.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / f64::from(n);
            // Five standard errors of the mean (1/200) and of the variance (1.4/200).
            assert_abs_diff_eq!(mean, 0.0, epsilon = 0.025);
            assert_abs_diff_eq!(variance, 1.0, epsilon = 0.035);
        }
    }
}
