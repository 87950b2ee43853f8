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

/// Shift of a pK from infinite dilution to this ionic strength: -k A f(I).
///
/// `factor` k belongs to the pH scale. For HIn(-) = In(2-) + H(+) it is 4 when pH counts free hydrogen ions and 3 on the meter scale,
/// whose pH already contains the ion's activity coefficient. Above 0.5 mol/l the Davies function is held at its value there, since its
/// linear term has no meaning beyond.
#[must_use]
pub fn salt_shift(factor: f64, ionic_strength: IonicStrength, temperature: Celsius) -> f64 {
    -factor * debye_hueckel(temperature) * davies(ionic_strength.value().min(0.5))
}

/// Ionic strength at which the table's pKa' hold, mol/l.
const TABLE_IONIC_STRENGTH: f64 = 0.1;

/// Apparent pKa' on the meter scale at this ionic strength and temperature; the table's value holds at 25 C and 0.1 mol/l.
#[must_use]
pub fn pka_at(indicator: &Indicator, ionic_strength: IonicStrength, temperature: Celsius) -> f64 {
    let to_table = indicator.step * debye_hueckel(temperature) * davies(TABLE_IONIC_STRENGTH);
    indicator.pka.value()
        + indicator.slope * (temperature.value() - 25.0)
        + salt_shift(indicator.step, ionic_strength, temperature)
        + to_table
}

/// Absorptivity ratios of a dye at two wavelengths, 1 near the acid form's peak and 2 near the base form's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BandRatios {
    /// Acid form at 2 over acid form at 1.
    pub e1: f64,
    /// Base form at 2 over acid form at 1.
    pub e2: f64,
    /// Base form at 1 over acid form at 1.
    pub e3: f64,
}

impl BandRatios {
    /// pH from the ratio R = A2 / A1 of the absorbances: pK + log10((R - e1) / (e2 - R e3)) (Clayton and Byrne 1993).
    ///
    /// `None` when no mixture of the two forms has this ratio. The pH is on the scale of `pk`.
    #[must_use]
    pub fn ph(&self, pk: f64, ratio: f64) -> Option<f64> {
        let (base, acid) = (ratio - self.e1, self.e2 - ratio * self.e3);
        (base > 0.0 && acid > 0.0).then(|| pk + (base / acid).log10())
    }

    /// The ratio R that a mixture with this base fraction has.
    #[must_use]
    pub fn ratio(&self, fraction: BaseFraction) -> f64 {
        let a = fraction.value();
        ((1.0 - a) * self.e1 + a * self.e2) / ((1.0 - a) + a * self.e3)
    }
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

    // Pure acid form has the ratio e1, pure base form e2 / e3: both lie beyond any pH, and so does all outside.
    #[test]
    fn pure_forms_and_impossible_ratios_have_no_ph() {
        let ratios = BandRatios { e1: 0.1, e2: 2.0, e3: 0.5 };
        for ratio in [-1.0, 0.0, 0.1, 4.0, 5.0] {
            assert_eq!(ratios.ph(6.1, ratio), None, "{ratio}");
        }
        let half = ratios.ratio(BaseFraction::new(0.5).unwrap());
        assert_abs_diff_eq!(ratios.ph(6.1, half).unwrap(), 6.1, epsilon = 1e-12);
    }
}
