//! pH to base fraction and back; how salt and warmth move pKa'.

use super::Indicator;
use crate::quantity::{BaseFraction, Celsius, IonicStrength, Ph};

/// Factor A of the Davies equation at 25 C; Yao and Byrne 2001 give 0.5092 + 8.5e-4 (t - 25) for 10 to 30 C.
fn debye_hueckel(temperature: Celsius) -> f64 {
    0.5092 + 8.5e-4 * (temperature.value() - 25.0)
}

/// The Davies function sqrt(I)/(1 + sqrt(I)) - 0.3 I (Davies 1962), usual limit I <= 0.5.
fn davies(ionic_strength: f64) -> f64 {
    let root = ionic_strength.sqrt();
    root / (1.0 + root) - 0.3 * ionic_strength
}

/// Apparent pKa' on the meter scale at this ionic strength and temperature.
///
/// The table's value holds at 25 C and 0.1 mol/l; the shift is -k A (f(I) - f(0.1)). Above 0.5 mol/l the Davies
/// function is held at its value there, since its linear term has no meaning beyond.
#[must_use]
pub fn pka_at(indicator: &Indicator, ionic_strength: IonicStrength, temperature: Celsius) -> f64 {
    let f = davies(ionic_strength.value().min(0.5));
    indicator.pka.value() + indicator.slope * (temperature.value() - 25.0) - indicator.step * debye_hueckel(temperature) * (f - davies(0.1))
}

/// Share of the dye in its base form at `ph`: 1 / (1 + 10^(pKa' - pH)).
#[must_use]
pub fn base_fraction(ph: Ph, pka: f64) -> BaseFraction {
    let fraction = 1.0 / (1.0 + 10f64.powf(pka - ph.value()));
    BaseFraction::new(fraction.clamp(0.0, 1.0)).unwrap_or_else(|_| unreachable!("a clamped finite number"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::indicator::catalogue;
    use approx::assert_abs_diff_eq;

    #[test]
    fn half_is_at_pka() {
        assert_abs_diff_eq!(base_fraction(Ph::new(6.1).unwrap(), 6.1).value(), 0.5, epsilon = 1e-12);
    }

    // Davies shifts on the activity scale between I = 0.1 and 0.3: -0.403 + 0.321 (3 A f, A = 0.509).
    #[test]
    fn salt_lowers_pka() {
        let dye = catalogue::find("bromocresol-purple").unwrap();
        let t = Celsius::new(25.0).unwrap();
        let at = |i: f64| pka_at(dye, IonicStrength::new(i).unwrap(), t);
        assert_abs_diff_eq!(at(0.1), dye.pka.value(), epsilon = 1e-9);
        assert_abs_diff_eq!(at(0.3) - at(0.1), -0.082, epsilon = 0.001);
    }
}
