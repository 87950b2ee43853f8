//! How far the pH of a home-mixed buffer can be trusted, and why.
//!
//! Each cause is a standard uncertainty of the pH; they are independent and add as squares.

use super::acid;
use super::error::ChemistryError;
use super::powder;
use super::recipe::{Forms, Mix, Recipe, dissolved};
use super::solver::Solution;
use crate::quantity::{BalanceStep, Celsius, Millilitres};

/// What makes the pH uncertain.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cause {
    /// Weighing and filling up.
    Weighing,
    /// Content of the powders.
    Purity,
    /// Constants of the acids.
    Constants,
    /// The model of salt.
    Salt,
    /// The thermometer.
    Temperature,
    /// Carbon dioxide left of bicarbonate.
    CarbonDioxide,
}

/// How a buffer was mixed: relative standard uncertainties.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Care {
    /// Mass of the acid.
    pub acid_weight: f64,
    /// Mass of the base.
    pub base_weight: f64,
    /// Content of the acid.
    pub acid_purity: f64,
    /// Content of the base.
    pub base_purity: f64,
}

/// Relative uncertainty of a portion beside the balance's step: what sticks to paper and funnel, and the mark of the flask (common practice).
const HANDLING: f64 = 0.01;

/// Uncertainty of the thermometer and of how evenly warm the buffer is, C (common practice).
const THERMOMETER: f64 = 1.0;

/// Carbon dioxide that may be left after boiling, mol/l: about a hundred times what air leaves in water, a few per cent of saturation (estimate).
const LEFT_CARBON_DIOXIDE: f64 = 1e-3;

/// Standard uncertainty of pH from the salt model at low ionic strength. The standard buffers alone would allow 0.01 (all within 0.012 up to 0.1 mol/l), but the
/// published citrate mixtures below pH 3.5 need 0.02.
const SALT_FLOOR: f64 = 0.02;
/// Its rise per mol/l above [`SALT_FREE`]: twice the sum covers 57 of 58 rows of published citrate-phosphate, citrate and acetate tables (tests/published/equilibria.rs).
const SALT_RISE: f64 = 0.25;
/// Ionic strength up to which the floor holds, mol/l.
const SALT_FREE: f64 = 0.05;

/// Standard uncertainty of pH from the constants 35 degrees away from 25 C, growing with the square of the distance: a constant heat capacity leaves up to 0.027
/// against the standard buffers there (tests/published/equilibria.rs), of which a part belongs to the salt model.
const DRIFT: f64 = 0.01;

/// Standard uncertainty of a computed pH that the Davies equation leaves at this ionic strength, mol/l.
#[must_use]
pub fn salt_sd(ionic_strength: f64) -> f64 {
    SALT_FLOOR + SALT_RISE * (ionic_strength - SALT_FREE).max(0.0)
}

impl Care {
    /// Weighed with a balance of this step for this volume, from these forms.
    ///
    /// # Errors
    /// As [`Mix::portion`].
    pub fn weighed(mix: &Mix, forms: Forms, volume: Millilitres, balance: BalanceStep) -> Self {
        let (acid, base) = mix.amounts();
        let weight = |moles: f64, molar_mass: f64| relative_weight(moles * volume.litres() * molar_mass, balance);
        Care {
            acid_weight: weight(acid, forms.acid.molar_mass),
            base_weight: weight(base, forms.base.molar_mass),
            acid_purity: forms.acid.purity_sd,
            base_purity: forms.base.purity_sd,
        }
    }

    /// Nothing known: 1 % by handling and the least stable form of each powder.
    #[must_use]
    pub fn unknown(recipe: &Recipe) -> Self {
        let worst = |substance: &str| powder::forms(substance).map(|p| p.purity_sd).fold(0.0, f64::max);
        Care {
            acid_weight: HANDLING,
            base_weight: HANDLING,
            acid_purity: worst(recipe.acid.substance),
            base_purity: worst(recipe.base.substance),
        }
    }
}

/// Relative standard uncertainty of a mass in grams: handling, and the rounding of the display at zero and at the mass, each step / sqrt(12).
#[must_use]
pub fn relative_weight(grams: f64, balance: BalanceStep) -> f64 {
    HANDLING.hypot(balance.value() / 6f64.sqrt() / grams)
}

/// The causes and their parts.
#[derive(Debug, Clone, PartialEq)]
pub struct Budget {
    /// Standard uncertainty of pH by cause; causes that do not apply are left out.
    pub parts: Vec<(Cause, f64)>,
}

impl Budget {
    /// What makes the pH of `mix` uncertain at a temperature.
    ///
    /// # Errors
    /// As [`Solution::solve`].
    pub fn of(mix: &Mix, care: &Care, temperature: Celsius) -> Result<Self, ChemistryError> {
        let solution = mix.solution(temperature)?;
        let balance = solution.solve()?;
        let ph = balance.ph.value();
        let moved = |solution: Solution<'_>| solution.solve().map(|e| e.ph.value() - ph);
        // Slopes over 1 % are as good as linear here.
        let slope = |acid: f64, base: f64| moved(scaled(mix, acid, base, temperature)?).map(|shift| shift / 0.01);
        let (by_acid, by_base) = (slope(1.01, 1.0)?, slope(1.0, 1.01)?);
        let mut parts = vec![
            (Cause::Weighing, (by_acid * care.acid_weight).hypot(by_base * care.base_weight)),
            (Cause::Purity, (by_acid * care.acid_purity).hypot(by_base * care.base_purity)),
            (Cause::Constants, by_constants(&solution, ph)?),
            (Cause::Salt, salt_sd(balance.ionic_strength.value())),
            (Cause::Temperature, THERMOMETER * by_temperature(mix, temperature)?.abs()),
        ];
        if mix.recipe.base.substance == "sodium bicarbonate"
            && let Some(carbonic) = acid::find("carbonic")
        {
            parts.push((Cause::CarbonDioxide, moved(solution.with(carbonic, LEFT_CARBON_DIOXIDE))?.abs()));
        }
        Ok(Budget { parts })
    }

    /// Standard uncertainty of the pH.
    #[must_use]
    pub fn sd(&self) -> f64 {
        self.parts.iter().map(|(_, part)| part * part).sum::<f64>().sqrt()
    }
}

/// The mixture with more or less of its acid and base.
fn scaled(mix: &Mix, acid: f64, base: f64, temperature: Celsius) -> Result<Solution<'static>, ChemistryError> {
    let forms = mix.recipe.usual_forms()?;
    let (acid_amount, base_amount) = mix.amounts();
    Ok(dissolved(&[(forms.acid, acid * acid_amount), (forms.base, base * base_amount)], temperature))
}

/// Each pK is moved by its uncertainty, one at a time.
fn by_constants(solution: &Solution<'_>, ph: f64) -> Result<f64, ChemistryError> {
    let mut sum = 0.0;
    for i in 0..solution.weak.len() {
        for j in 0..solution.weak[i].acid.steps.len() {
            let mut other = solution.clone();
            let step = &mut other.weak[i].acid.to_mut().steps[j];
            step.pk += step.pk_sd;
            let shift = other.solve()?.ph.value() - ph;
            sum += shift * shift;
        }
    }
    let drift = DRIFT * ((solution.temperature.value() - 25.0) / 35.0).powi(2);
    Ok(sum.sqrt().hypot(drift))
}

/// Change of pH per degree, towards the middle of the range of temperatures so that both ends are inside.
fn by_temperature(mix: &Mix, temperature: Celsius) -> Result<f64, ChemistryError> {
    let t = temperature.value();
    let step = if t < 30.0 { 1.0 } else { -1.0 };
    let Ok(other) = Celsius::new(t + step) else { return Ok(0.0) };
    let at = |temperature| mix.solution(temperature)?.solve().map(|e| e.ph.value());
    Ok((at(other)? - at(temperature)?) / step)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chemistry::recipe;
    use crate::quantity::Ph;
    use approx::assert_abs_diff_eq;

    // Henderson and Hasselbalch: the pH of an acid with its salt follows the constant one to one, 0.005 for acetic acid; 35 degrees away the heat capacity leaves 0.01
    // beside it.
    #[test]
    fn a_constant_counts_in_full_and_more_away_from_25_degrees() {
        let recipe = recipe::find("acetate").unwrap();
        let mix = recipe.mix(Ph::new(4.6).unwrap(), Celsius::STANDARD).unwrap();
        for (t, wanted) in [(25.0, 0.005), (60.0, 0.0112)] {
            let budget = Budget::of(&mix, &Care::unknown(recipe), Celsius::new(t).unwrap()).unwrap();
            let (_, part) = budget.parts.iter().find(|(cause, _)| *cause == Cause::Constants).unwrap();
            assert_abs_diff_eq!(*part, wanted, epsilon = 3e-4);
        }
    }
}
