//! Spectra of lights: CIE standard illuminants, black bodies, daylight of any colour temperature.

use super::spectrum::Spectrum;
use super::table;
use std::sync::OnceLock;

/// Heads of the files name source and licence.
const ILLUMINANTS: &str = include_str!("../../calibration/lights.csv");
const DAYLIGHT_BASIS: &str = include_str!("../../calibration/daylight.csv");

/// Second radiation constant, nm K (CODATA 2018: 1.438 776 877e-2 m K).
const SECOND_RADIATION: f64 = 1.438_776_877e7;

/// The D series is defined from 4000 to 25 000 K (CIE 15:2004 section 3.1).
const DAYLIGHT_RANGE: (f64, f64) = (4000.0, 25_000.0);

/// The embedded CIE illuminants with their names, in the order of the table.
#[must_use]
pub fn all() -> &'static [(&'static str, Spectrum)] {
    static ALL: OnceLock<Vec<(&'static str, Spectrum)>> = OnceLock::new();
    ALL.get_or_init(|| table::columns(ILLUMINANTS))
}

/// Relative power of the CIE illuminant of that name, such as `D65`, `A`, `FL11` or `LED-B3`; `None` for a name that is not embedded.
#[must_use]
pub fn named(name: &str) -> Option<&'static Spectrum> {
    all().iter().find(|(known, _)| *known == name).map(|(_, spectrum)| spectrum)
}

/// Planck's law at a temperature in kelvin above 0, relative power, 1 at 560 nm.
#[must_use]
pub fn black_body(kelvin: f64) -> Spectrum {
    let power = |nm: f64| nm.powi(-5) / ((SECOND_RADIATION / (nm * kelvin)).exp() - 1.0);
    let unit = power(560.0);
    Spectrum::from_fn(|nm| power(nm) / unit)
}

/// CIE daylight of a correlated colour temperature in kelvin, relative power, 100 at 560 nm.
///
/// Defined from 4000 to 25 000 K; outside, the nearer limit is taken. D65 is `daylight(6504.0)`, since the temperature scale
/// was revised after the illuminant was named.
#[must_use]
pub fn daylight(kelvin: f64) -> Spectrum {
    static BASIS: OnceLock<[Spectrum; 3]> = OnceLock::new();
    let basis = BASIS.get_or_init(|| {
        let columns = table::columns(DAYLIGHT_BASIS);
        std::array::from_fn(|i| columns[i].1.clone())
    });
    let (x, y) = daylight_locus(kelvin.clamp(DAYLIGHT_RANGE.0, DAYLIGHT_RANGE.1));
    // Weights of the basis functions, CIE 15:2004 equation 3.4.
    let scale = 0.0241 + 0.2562 * x - 0.7341 * y;
    let first = (-1.3515 - 1.7703 * x + 5.9114 * y) / scale;
    let second = (0.0300 - 31.4424 * x + 30.0717 * y) / scale;
    Spectrum(std::array::from_fn(|i| basis[0].0[i] + first * basis[1].0[i] + second * basis[2].0[i]))
}

/// Chromaticity of daylight, CIE 15:2004 equations 3.2 and 3.3.
fn daylight_locus(kelvin: f64) -> (f64, f64) {
    let (t, t2, t3) = (1e3 / kelvin, 1e6 / kelvin.powi(2), 1e9 / kelvin.powi(3));
    let x = if kelvin <= 7000.0 {
        -4.6070 * t3 + 2.9678 * t2 + 0.09911 * t + 0.244063
    } else {
        -2.0064 * t3 + 1.9018 * t2 + 0.24748 * t + 0.237040
    };
    (x, -3.000 * x * x + 2.870 * x - 0.275)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn every_value_is_there() {
        assert_eq!(all().len(), 16);
        assert!(all().iter().all(|(_, s)| s.0.iter().all(|v| v.is_finite() && *v >= 0.0)));
        assert!(named("no such light").is_none());
    }

    // CIE 15:2004: D55, D65 and D75 follow from the D series at these temperatures. The published tables are rounded and their weights have three
    // decimals, which leaves up to 0.3 %.
    #[test]
    fn daylight_formula_gives_the_illuminants() {
        for (kelvin, name) in [(5503.0, "D55"), (6504.0, "D65"), (7504.0, "D75")] {
            let (formula, table) = (daylight(kelvin), named(name).unwrap());
            for i in 0..formula.0.len() {
                assert_relative_eq!(formula.0[i], table.0[i], max_relative = 0.003);
            }
        }
    }

    // ISO/CIE 11664-2: illuminant A is Planck's law at 2848 K with the constant 1.435e-2 m K, which is 2855.5 K with today's constant.
    #[test]
    fn planck_gives_illuminant_a() {
        let (formula, table) = (black_body(2848.0 * 1.438_776_877 / 1.435), named("A").unwrap());
        for i in 0..formula.0.len() {
            assert_relative_eq!(100.0 * formula.0[i], table.0[i], max_relative = 1e-4);
        }
    }
}
