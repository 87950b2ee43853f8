//! Powers of e for all wavelengths of the model at once.
//!
//! The standard library computes one at a time by a call: a tenth of the time of a fit. What is told to be inlined always has to be part of a
//! function that is compiled for several kinds of processor.

use super::{WAVES, Wave};
use std::f64::consts::{LN_2, LOG2_E};

/// Powers of e below this have no exponent of their own any more; and what is seen through the deepest liquid stays more than nothing, by which it can be divided.
const LEAST: f64 = -708.0;
/// Added to a number, it leaves the nearest whole number in the last bits.
const WHOLE: f64 = 1.5 * (1u64 << 52) as f64;
/// The natural logarithm of 2 without its last 21 bits, so that any whole number up to 2^21 times it is exact.
const LN_2_HIGH: f64 = f64::from_bits(LN_2.to_bits() & !0x1f_ffff);
/// What is left of it.
const LN_2_LOW: f64 = 1.908_214_929_270_587_7e-10;
/// Inverse factorials from 12 down to 2: by Taylor's series to less than 2e-16 within half of the logarithm of 2 about zero.
const INVERSE_FACTORIALS: [f64; 11] = [
    1.0 / 479_001_600.0,
    1.0 / 39_916_800.0,
    1.0 / 3_628_800.0,
    1.0 / 362_880.0,
    1.0 / 40_320.0,
    1.0 / 5_040.0,
    1.0 / 720.0,
    1.0 / 120.0,
    1.0 / 24.0,
    1.0 / 6.0,
    1.0 / 2.0,
];

/// e to the power of each item, which must be at most 709; those below -708 are taken as that. What is no number stays none.
#[inline(always)]
pub(super) fn exponentials(powers: &Wave) -> Wave {
    let mut out = [0.0; WAVES];
    for (out, &power) in out.iter_mut().zip(powers) {
        // Not `max`, which would make a number of what is none.
        let power = if power < LEAST { LEAST } else { power };
        // e^power = 2^n e^rest.
        let shifted = power * LOG2_E + WHOLE;
        let n = shifted - WHOLE;
        let rest = (power - n * LN_2_HIGH) - n * LN_2_LOW;
        let mut series = INVERSE_FACTORIALS[0];
        for factor in &INVERSE_FACTORIALS[1..] {
            series = series * rest + factor;
        }
        // The last bits of the shifted number are n, which behind the bias of 1023 is the exponent of 2^n.
        let two_to_n = f64::from_bits(shifted.to_bits().wrapping_add(1023) << 52);
        *out = (1.0 + (rest + rest * rest * series)) * two_to_n;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What we make of some powers.
    fn of(powers: &[f64]) -> Vec<f64> {
        let whole = powers.chunks(WAVES).map(|some| -> Wave { std::array::from_fn(|i| some.get(i).copied().unwrap_or(0.0)) });
        whole.flat_map(|powers| exponentials(&powers)).take(powers.len()).collect()
    }

    // Against the standard library, from the least up to the greatest number that there is.
    #[test]
    fn agrees_with_the_standard_library() {
        let powers: Vec<f64> =
            (-708_000..709_000).step_by(7).map(|k| f64::from(k) / 1000.0).chain([-0.3466, -1e-9, -0.0, 1e-9, 0.3466]).collect();
        for (power, ours) in powers.iter().zip(of(&powers)) {
            let theirs = power.exp();
            assert!((ours - theirs).abs() <= 4.0 * f64::EPSILON * theirs, "{power}: {ours} {theirs}");
        }
    }

    // A liquid may be so deep that nothing is seen through it, and what is no number may not pass for one.
    #[test]
    fn at_its_ends() {
        let made = of(&[0.0, -708.0, -1e9, f64::NEG_INFINITY, f64::NAN]);
        assert!((made[0] - 1.0).abs() < f64::EPSILON);
        assert!(made[1..4].iter().all(|least| *least > 0.0 && *least < 1e-300), "{made:?}");
        assert!(made[4].is_nan());
    }

    // By hand from the first 23 digits of the logarithm, which are from memory: 0.69314718055994530941723 less the first part.
    #[test]
    fn the_parts_of_the_logarithm_are_the_whole() {
        assert!((LN_2_HIGH - 0.693_147_180_369_123_8).abs() < f64::EPSILON);
        assert!((LN_2_LOW - 1.908_214_929_270_6e-10).abs() < 1e-22);
        assert!((LN_2_HIGH + LN_2_LOW - LN_2).abs() < f64::EPSILON);
    }
}
