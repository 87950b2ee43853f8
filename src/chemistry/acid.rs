//! Weak acids and their constants, from `calibration/acids.csv`, and the ion product of water.

use super::activity::ZERO;
use super::table::{number, rows};
use crate::quantity::Celsius;
use std::sync::OnceLock;

const TABLE: &str = include_str!("../../calibration/acids.csv");

/// Gas constant, J/(mol K) (CODATA 2018, exact since).
const GAS: f64 = 8.314_462_618;
/// Temperature of the table, K.
const STANDARD: f64 = 25.0 + ZERO;

/// One dissociation step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// pK at 25 C and no salt.
    pub pk: f64,
    /// Standard uncertainty of `pk`.
    pub pk_sd: f64,
    /// Enthalpy of dissociation, kJ/mol.
    pub enthalpy: f64,
    /// Change of heat capacity on dissociation, J/(mol K).
    pub heat_capacity: f64,
}

impl Step {
    /// pK at a temperature from 0 to 60 C, the heat capacity taken as constant (as in Goldberg, Kishore and Lennen 2002).
    #[must_use]
    pub fn pk_at(&self, temperature: Celsius) -> f64 {
        let t = temperature.value() + ZERO;
        let by_enthalpy = 1000.0 * self.enthalpy / GAS * (1.0 / t - 1.0 / STANDARD);
        let by_heat_capacity = self.heat_capacity / GAS * (STANDARD / t - 1.0 + (t / STANDARD).ln());
        self.pk + (by_enthalpy - by_heat_capacity) / std::f64::consts::LN_10
    }
}

/// A weak acid, or a weak base named by its acid form.
#[derive(Debug, Clone, PartialEq)]
pub struct Acid {
    /// Lower-case name.
    pub name: &'static str,
    /// Charge of the form with all its protons: 0 of an acid, 1 of ammonium.
    pub charge: i32,
    /// Dissociation steps, strongest first.
    pub steps: Vec<Step>,
}

/// All acids of the table.
#[must_use]
pub fn all() -> &'static [Acid] {
    static ALL: OnceLock<Vec<Acid>> = OnceLock::new();
    ALL.get_or_init(|| {
        let mut acids: Vec<Acid> = Vec::new();
        for row in rows(TABLE) {
            let field = |i: usize| row.get(i).map_or(f64::NAN, |f| number(f));
            let step = Step { pk: field(2), pk_sd: field(3), enthalpy: field(4), heat_capacity: field(5) };
            match acids.last_mut() {
                Some(acid) if acid.name == row[0] => acid.steps.push(step),
                _ => acids.push(Acid { name: row[0], charge: field(1) as i32, steps: vec![step] }),
            }
        }
        acids
    })
}

/// The acid of that name.
#[must_use]
pub fn find(name: &str) -> Option<&'static Acid> {
    all().iter().find(|acid| acid.name == name)
}

/// pK of water without salt, 0 to 60 C (analytic form of the PHREEQC databases, US Geological Survey).
#[must_use]
pub fn water_pk(temperature: Celsius) -> f64 {
    let t = temperature.value() + ZERO;
    -(293.292_27 + 0.136_083_3 * t - 10_576.913 / t - 123.731_58 * t.log10() - 6.996_455e-5 * t * t)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn every_row_is_whole() {
        let count: usize = all().iter().map(|acid| acid.steps.len()).sum();
        assert_eq!(count, rows(TABLE).count());
        for acid in all() {
            assert!((-1..=1).contains(&acid.charge), "{}", acid.name);
            assert!(acid.steps.is_sorted_by(|a, b| a.pk < b.pk), "{}", acid.name);
            for s in &acid.steps {
                assert!([s.pk, s.pk_sd, s.enthalpy, s.heat_capacity].iter().all(|v| v.is_finite()) && s.pk_sd > 0.0, "{}", acid.name);
            }
        }
    }

    // CRC Handbook, from the IAPWS formulation, 0.1 MPa: 14.946 at 0 C, 13.995 at 25 C, 13.264 at 50 C; the two formulations differ by 0.007 at 0 C.
    #[test]
    fn water_dissociates_as_published() {
        for (t, wanted) in [(0.0, 14.946), (25.0, 13.995), (50.0, 13.264)] {
            assert_abs_diff_eq!(water_pk(Celsius::new(t).unwrap()), wanted, epsilon = 0.008);
        }
    }

    // A step that takes up heat gets stronger when warmed.
    #[test]
    fn sign_of_the_enthalpy() {
        let at = |t: f64| find("ammonium").unwrap().steps[0].pk_at(Celsius::new(t).unwrap());
        assert_abs_diff_eq!(at(25.0), 9.244, epsilon = 1e-9);
        assert!(at(35.0) < at(25.0) - 0.2);
    }

    // Harned and Ehlers (in Robinson and Stokes, from memory): pK of acetic acid 4.781 at 0 C, 4.756 at 25 C, 4.812 at 60 C.
    #[test]
    fn acetic_acid_has_its_shallow_minimum() {
        let at = |t: f64| find("acetic").unwrap().steps[0].pk_at(Celsius::new(t).unwrap());
        for (t, wanted) in [(0.0, 4.781), (25.0, 4.756), (60.0, 4.812)] {
            assert_abs_diff_eq!(at(t), wanted, epsilon = 0.005);
        }
    }
}
