//! What salt does to an ion: the Davies equation, and the slope of the limiting law.

use crate::quantity::Celsius;

/// Zero of the Celsius scale, K.
pub(super) const ZERO: f64 = 273.15;

/// How activity coefficients follow from the ionic strength.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Model {
    /// Davies 1962: good to about 0.02 in log10 up to 0.1 mol/l, usable to 0.5 mol/l and held there.
    Davies,
    /// Every coefficient is 1; wrong by up to 0.7 pH in citrate, and here to show just that.
    Ideal,
}

/// Highest ionic strength at which the Davies function is still followed, mol/l (Davies 1962, Ion Association, p. 41: usual limit).
pub const DAVIES_LIMIT: f64 = 0.5;

impl Model {
    /// log10 of the activity coefficient of an ion of this charge number; `ionic_strength` in mol/l.
    ///
    /// An uncharged form has coefficient 1.
    #[must_use]
    pub fn log_coefficient(self, charge: i32, ionic_strength: f64, temperature: Celsius) -> f64 {
        match self {
            Model::Ideal => 0.0,
            Model::Davies => -limiting_slope(temperature) * f64::from(charge * charge) * davies(ionic_strength),
        }
    }
}

/// The Davies function sqrt(I)/(1 + sqrt(I)) - 0.3 I, held at its value at [`DAVIES_LIMIT`] beyond, where its linear term means nothing.
fn davies(ionic_strength: f64) -> f64 {
    let salt = ionic_strength.clamp(0.0, DAVIES_LIMIT);
    let root = salt.sqrt();
    root / (1.0 + root) - 0.3 * salt
}

/// Factor A of the limiting law in (l/mol)^1/2 for water, 0 to 60 C: 1.82483e6 sqrt(density) / (permittivity T)^1.5.
#[must_use]
pub fn limiting_slope(temperature: Celsius) -> f64 {
    let t = temperature.value();
    // Malmberg and Maryott 1956, J. Res. NBS 56:1 (from memory), 0 to 100 C.
    let permittivity = 87.740 - 0.400_08 * t + 9.398e-4 * t * t - 1.410e-6 * t * t * t;
    1.824_83e6 * water_density(temperature).sqrt() / (permittivity * (t + ZERO)).powf(1.5)
}

/// Density of air-free water in g/ml, 0 to 60 C, good to 1e-4 (formula of hydrology handbooks: McCutcheon et al. 1993, from memory).
#[must_use]
pub fn water_density(temperature: Celsius) -> f64 {
    let t = temperature.value();
    1.0 - (t + 288.9414) * (t - 3.9863).powi(2) / (508_929.2 * (t + 68.129_63))
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    // Densities of the CRC Handbook: 0.99984 (0 C), 0.99705 (25 C), 0.98320 (60 C), from memory.
    #[test]
    fn water_has_its_density() {
        for (t, wanted) in [(0.0, 0.999_84), (25.0, 0.997_05), (60.0, 0.983_20)] {
            assert_abs_diff_eq!(water_density(Celsius::new(t).unwrap()), wanted, epsilon = 1e-4);
        }
    }

    // Yao and Byrne 2001 use 0.5092 + 8.5e-4 (t - 25) for 10 to 30 C; other choices of the permittivity give 0.509 to 0.511 at 25 C.
    #[test]
    fn slope_agrees_with_the_linear_one() {
        for t in [10.0, 20.0, 25.0, 30.0] {
            let linear = 0.5092 + 8.5e-4 * (t - 25.0);
            assert_abs_diff_eq!(limiting_slope(Celsius::new(t).unwrap()), linear, epsilon = 0.003);
        }
    }

    // Manov, Bates, Hamer and Acree 1943, J. Am. Chem. Soc. 65:1765 (from memory): 0.4883, 0.5085, 0.5221 and 0.5425 at 0, 25, 40 and 60 C. Their permittivity is another, which
    // cancels in the ratio.
    #[test]
    fn slope_rises_with_warmth_as_published() {
        let slope = |t: f64| limiting_slope(Celsius::new(t).unwrap());
        for (t, wanted) in [(0.0, 0.4883), (40.0, 0.5221), (60.0, 0.5425)] {
            assert_abs_diff_eq!(slope(t) / slope(25.0), wanted / 0.5085, epsilon = 0.003);
        }
    }

    #[test]
    fn salt_lowers_activity_and_charge_counts_squared() {
        let t = Celsius::new(25.0).unwrap();
        let one = Model::Davies.log_coefficient(1, 0.1, t);
        assert!(one < 0.0);
        assert_abs_diff_eq!(Model::Davies.log_coefficient(-3, 0.1, t), 9.0 * one, epsilon = 1e-12);
        assert_abs_diff_eq!(Model::Davies.log_coefficient(0, 0.1, t), 0.0);
        assert_abs_diff_eq!(Model::Davies.log_coefficient(1, 1.5, t), Model::Davies.log_coefficient(1, 0.5, t));
        assert_abs_diff_eq!(Model::Ideal.log_coefficient(2, 0.3, t), 0.0);
    }
}
