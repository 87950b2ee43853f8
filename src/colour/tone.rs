//! Transfer curves between encoded and linear values, and their exact inverses.

/// sRGB encoding (IEC 61966-2-1): linear 0 to 1 -> encoded 0 to 1. Odd-symmetric below zero.
#[must_use]
pub fn srgb_encode(linear: f64) -> f64 {
    if linear < 0.0 {
        -srgb_encode(-linear)
    } else if linear <= 0.003_130_8 {
        12.92 * linear
    } else {
        1.055 * linear.powf(1.0 / 2.4) - 0.055
    }
}

/// sRGB decoding (IEC 61966-2-1): encoded 0 to 1 -> linear 0 to 1. Odd-symmetric below zero.
#[must_use]
pub fn srgb_decode(encoded: f64) -> f64 {
    if encoded < 0.0 {
        -srgb_decode(-encoded)
    } else if encoded <= 0.040_45 {
        encoded / 12.92
    } else {
        ((encoded + 0.055) / 1.055).powf(2.4)
    }
}

/// The transfer curve a photo's profile declares.
#[derive(Debug, Clone, PartialEq)]
pub enum ToneCurve {
    /// IEC 61966-2-1.
    Srgb,
    /// Pure power: linear = encoded ^ exponent.
    Power(f64),
    /// A power with a straight foot, as profiles write it.
    Parametric(Parametric),
    /// Linear values at equally spaced encoded values from 0 to 1; at least two, rising.
    Table(Vec<f64>),
}

/// The general parametric curve of ICC.1:2022, table 68 (function type 4):
/// linear = (a x + b) ^ g + e from `d` upwards, c x + f below it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Parametric {
    /// Exponent.
    pub g: f64,
    /// Slope inside the power.
    pub a: f64,
    /// Shift inside the power.
    pub b: f64,
    /// Slope of the straight foot.
    pub c: f64,
    /// Encoded value where the foot ends.
    pub d: f64,
    /// Lift of the power.
    pub e: f64,
    /// Lift of the foot.
    pub f: f64,
}

impl Parametric {
    /// The shorter forms of the same table, told apart by how many numbers they have: 1, 3, 4, 5 or 7.
    /// `None` for any other count, for numbers that are not finite, and for a slope of zero inside the power.
    #[must_use]
    pub fn from_icc(numbers: &[f64]) -> Option<Self> {
        if numbers.iter().any(|n| !n.is_finite()) {
            return None;
        }
        let curve = match *numbers {
            [g] => Parametric { g, a: 1.0, b: 0.0, c: 0.0, d: 0.0, e: 0.0, f: 0.0 },
            [g, a, b] => Parametric { g, a, b, c: 0.0, d: -b / a, e: 0.0, f: 0.0 },
            [g, a, b, c] => Parametric { g, a, b, c: 0.0, d: -b / a, e: c, f: c },
            [g, a, b, c, d] => Parametric { g, a, b, c, d, e: 0.0, f: 0.0 },
            [g, a, b, c, d, e, f] => Parametric { g, a, b, c, d, e, f },
            _ => return None,
        };
        (curve.d.is_finite() && curve.a.abs() > 0.0).then_some(curve)
    }

    fn decode(&self, x: f64) -> f64 {
        if x >= self.d { (self.a * x + self.b).max(0.0).powf(self.g) + self.e } else { self.c * x + self.f }
    }
}

/// Encoded difference below which a curve counts as sRGB: an eighth of an 8-bit level. Profiles round their
/// numbers to 1/65536 or list sRGB as a table, and differ from the standard by less.
const SAME_CURVE: f64 = 0.125 / 255.0;

/// Points at which curves are compared and checked: the 8-bit levels.
const CHECK_POINTS: u32 = 255;

impl ToneCurve {
    /// Encoded 0 to 1 -> linear 0 to 1.
    #[must_use]
    pub fn decode(&self, encoded: f64) -> f64 {
        match self {
            ToneCurve::Srgb => srgb_decode(encoded),
            ToneCurve::Power(exponent) => encoded.max(0.0).powf(*exponent),
            ToneCurve::Parametric(curve) => curve.decode(encoded),
            ToneCurve::Table(table) => {
                let at = encoded.clamp(0.0, 1.0) * (table.len() - 1) as f64;
                let left = (at as usize).min(table.len() - 2);
                table[left] + (table[left + 1] - table[left]) * (at - left as f64)
            }
        }
    }

    /// The same curve, named [`ToneCurve::Srgb`] when it is that one up to rounding; `None` when it is no
    /// transfer curve: not finite, falling, or without any range.
    #[must_use]
    pub fn recognised(self) -> Option<Self> {
        if matches!(&self, ToneCurve::Table(table) if table.len() < 2) {
            return None;
        }
        let grid = || (0..=CHECK_POINTS).map(|i| f64::from(i) / f64::from(CHECK_POINTS));
        let values: Vec<f64> = grid().map(|x| self.decode(x)).collect();
        let rises = values.windows(2).all(|pair| pair[1] >= pair[0]);
        let range = values[values.len() - 1] - values[0];
        // Half of full scale: a curve that keeps less of the light than this describes no camera picture.
        if values.iter().any(|v| !v.is_finite()) || !rises || range < 0.5 {
            return None;
        }
        let is_srgb = grid().zip(&values).all(|(x, &v)| (srgb_encode(v) - x).abs() < SAME_CURVE);
        Some(if is_srgb { ToneCurve::Srgb } else { self })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    // IEC 61966-2-1 worked values, as listed in colour handbooks: 0.18 -> 0.46135613, 0.5 -> 0.73535698.
    #[test]
    fn encodes_published_values() {
        assert_abs_diff_eq!(srgb_encode(0.18), 0.461_356_13, epsilon = 1e-8);
        assert_abs_diff_eq!(srgb_encode(0.5), 0.735_356_98, epsilon = 1e-8);
    }

    #[test]
    fn there_and_back() {
        for i in 0..=1000 {
            let x = f64::from(i) / 1000.0;
            assert_abs_diff_eq!(srgb_decode(srgb_encode(x)), x, epsilon = 1e-7);
            // IEC 61966-2-1, amendment 1, mirrors the curve below 0: light beyond the gamut.
            assert_abs_diff_eq!(srgb_encode(-x), -srgb_encode(x));
            assert_abs_diff_eq!(srgb_decode(-x), -srgb_decode(x));
        }
    }

    // The numbers of IEC 61966-2-1 put into the form of ICC.1:2022 table 68, function type 3.
    #[test]
    fn recognises_srgb_written_as_parameters_and_as_table() {
        let numbers = [2.4, 1.0 / 1.055, 0.055 / 1.055, 1.0 / 12.92, 0.04045];
        let curve = ToneCurve::Parametric(Parametric::from_icc(&numbers).unwrap());
        assert_abs_diff_eq!(curve.decode(0.461_356_13), 0.18, epsilon = 1e-7);
        assert_eq!(curve.recognised(), Some(ToneCurve::Srgb));
        let table = (0..1024).map(|i| srgb_decode(f64::from(i) / 1023.0)).collect();
        assert_eq!(ToneCurve::Table(table).recognised(), Some(ToneCurve::Srgb));
    }

    // ICC.1:2022 table 68, function types 0 to 4, worked by hand on either side of where the power begins.
    #[test]
    fn parametric_curves_are_those_of_the_table() {
        let check = |numbers: &[f64], points: &[(f64, f64)]| {
            let curve = ToneCurve::Parametric(Parametric::from_icc(numbers).unwrap());
            for (x, wanted) in points {
                assert_abs_diff_eq!(curve.decode(*x), *wanted, epsilon = 1e-12);
            }
        };
        check(&[2.0], &[(0.5, 0.25), (1.0, 1.0)]);
        check(&[2.0, 2.0, -0.5], &[(0.2, 0.0), (0.4, 0.09), (0.5, 0.25)]);
        check(&[2.0, 2.0, -0.5, 0.1], &[(0.2, 0.1), (0.4, 0.19), (0.5, 0.35)]);
        check(&[2.0, 1.0, 0.0, 0.5, 0.3], &[(0.2, 0.1), (0.5, 0.25)]);
        check(&[2.0, 1.0, 0.1, 0.5, 0.3, 0.05, 0.02], &[(0.2, 0.12), (0.5, 0.41)]);
    }

    #[test]
    fn keeps_other_curves_apart_from_srgb() {
        // Power 2.2 is the usual stand-in for sRGB and yet differs by more than two 8-bit levels in the dark.
        assert_eq!(ToneCurve::Power(2.2).recognised(), Some(ToneCurve::Power(2.2)));
        // ITU-R BT.709 has the same shape with other numbers.
        let numbers = [1.0 / 0.45, 1.0 / 1.099, 0.099 / 1.099, 1.0 / 4.5, 0.081];
        let curve = ToneCurve::Parametric(Parametric::from_icc(&numbers).unwrap());
        assert_eq!(curve.clone().recognised(), Some(curve));
    }

    #[test]
    fn refuses_what_is_no_transfer_curve() {
        assert_eq!(ToneCurve::Table(vec![0.0, 0.8, 0.3, 1.0]).recognised(), None);
        assert_eq!(ToneCurve::Table(vec![0.5]).recognised(), None);
        // Keeps less than half of full scale, however high.
        assert_eq!(ToneCurve::Table(vec![0.6, 0.8, 1.0]).recognised(), None);
        assert_eq!(ToneCurve::Power(f64::NAN).recognised(), None);
        assert_eq!(ToneCurve::Power(-1.0).recognised(), None);
        assert_eq!(Parametric::from_icc(&[2.4, 0.0, 0.1]), None);
        assert_eq!(Parametric::from_icc(&[1.0, 2.0]), None);
    }
}
