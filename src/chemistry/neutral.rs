//! Bringing a used bath to about pH 7 with soda: how much, how much gas, and where the pH stands while it still foams.

use super::acid;
use super::activity::{Model, ZERO};
use super::error::ChemistryError;
use super::liquid::Liquid;
use super::powder::{self, Powder};
use crate::quantity::{Celsius, MeqPerLitre, Millilitres, Ph};

/// The alkali to take; hydroxide is left out, for it burns and overshoots.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Soda {
    /// Sodium bicarbonate, baking soda: it cannot overshoot beyond pH 8.3.
    Bicarbonate,
    /// Sodium carbonate without water, washing soda.
    Carbonate,
    /// Sodium carbonate with one water.
    CarbonateMonohydrate,
}

impl Soda {
    /// Its name among the powders.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Soda::Bicarbonate => "sodium-bicarbonate",
            Soda::Carbonate => "sodium-carbonate-anhydrous",
            Soda::CarbonateMonohydrate => "sodium-carbonate-monohydrate",
        }
    }

    /// The row of its powder.
    ///
    /// # Errors
    /// [`ChemistryError::Unknown`] when the table lacks it.
    pub fn powder(self) -> Result<&'static Powder, ChemistryError> {
        powder::find(self.name())
    }
}

/// What a volume of bath needs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Treatment {
    /// Soda to pH 7 once all gas has gone, g.
    pub grams: f64,
    /// Carbon dioxide at most, litres at [`ROOM`].
    pub gas_litres: f64,
    /// pH right after the last portion, while the liquid is still full of its own gas.
    pub ph_foaming: Ph,
}

/// Litres of a gas in a mole at 20 C and 1013 hPa (ideal gas: 0.082 057 l atm/(mol K) times 293.15 K; carbon dioxide is 0.5 % below).
pub const MOLAR_VOLUME: f64 = 24.06;

/// Conditions of [`Treatment::gas_litres`], in words.
pub const ROOM: &str = "20 C and 1013 hPa";

/// Carbon dioxide in water under an atmosphere of it at 25 C, mol/l, and the temperature of its enthalpy of solution, K (Sander's compilation of Henry constants, from memory).
const SOLUBILITY: (f64, f64) = (0.034, 2400.0);

/// Carbon dioxide that water holds under an atmosphere of it, mol/l.
#[must_use]
pub fn carbon_dioxide_solubility(temperature: Celsius) -> f64 {
    let (at_standard, drop) = SOLUBILITY;
    at_standard * (drop * (1.0 / (temperature.value() + ZERO) - 1.0 / (Celsius::STANDARD.value() + ZERO))).exp()
}

/// Soda for a volume of a bath to pH 7.
///
/// # Errors
/// As [`super::solver::Solution::solve`].
pub fn treatment(liquid: &Liquid, volume: Millilitres, soda: Soda, temperature: Celsius) -> Result<Treatment, ChemistryError> {
    let powder = soda.powder()?;
    let bath = liquid.without_carbon_dioxide();
    let alkali = bath.solution(temperature).alkali_to(Ph::NEUTRAL)?.max(0.0);
    let moles = alkali / powder.sodium;
    // Bicarbonate has no acid in the table, since recipes boil its gas off; it brings one carbon dioxide all the same, as does carbonate.
    Ok(Treatment {
        grams: moles * powder.molar_mass * volume.litres(),
        gas_litres: moles * MOLAR_VOLUME * volume.litres(),
        ph_foaming: while_foaming(&bath, alkali, moles, temperature)?,
    })
}

/// pH of a bath with `alkali` mol/l of sodium and `carbon` mol/l of carbon dioxide put in, of which as much is left as stays under an atmosphere of it: where the pH
/// stands while the liquid still foams.
///
/// # Errors
/// As [`super::solver::Solution::solve`].
pub fn while_foaming(bath: &Liquid, alkali: f64, carbon: f64, temperature: Celsius) -> Result<Ph, ChemistryError> {
    let Some(carbonic) = acid::find("carbonic") else { return Ok(Ph::NEUTRAL) };
    let meq = MeqPerLitre::new(1000.0 * alkali).map_err(|_| ChemistryError::TooSalty { limit: crate::quantity::IonicStrength::HIGH })?;
    let closed = bath.clone().with_alkali(meq).with_acid(carbonic, carbon).equilibrium(temperature)?;
    let dissolved = carbon_dioxide_solubility(temperature);
    let shift = Model::Davies.log_coefficient(-1, closed.ionic_strength.value(), temperature);
    let pk = carbonic.steps.first().map_or(f64::NAN, |step| step.pk_at(temperature)) + shift;
    // Alkali that a pH needs with the liquid full of gas: the bath's own, and what bicarbonate stays; it rises with pH, hence halving.
    let needed = |ph: f64| -> Result<f64, ChemistryError> {
        let ph = Ph::new(ph).map_err(|_| ChemistryError::Unbalanced { low: Ph::LOW, high: Ph::HIGH })?;
        Ok(bath.solution(temperature).alkali_to(ph)? + dissolved * 10f64.powf(ph.value() - pk))
    };
    let (mut low, mut high) = (0.0, 10.0);
    // 40 halvings of 10 pH units leave 1e-11.
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if needed(middle)? < alkali { low = middle } else { high = middle }
    }
    // With less carbon than would saturate it, all of it stays dissolved.
    Ph::new(high.max(closed.ph.value())).map_err(|_| ChemistryError::Unbalanced { low: Ph::LOW, high: Ph::HIGH })
}

/// The bath after developer has brought it to a pH, its carbonate bubbled off: volumes in and out are equal, so that only the share counts.
///
/// A bath that is fresh at this pH, or above it, is handed back as it is.
///
/// # Errors
/// [`ChemistryError::Carried`] when even nine parts of developer to one of bath do not reach the pH; else as [`super::solver::Solution::solve`].
pub fn used(fresh: &Liquid, developer: &Liquid, ph: Ph, temperature: Celsius) -> Result<Liquid, ChemistryError> {
    let at = |share: f64| fresh.mixed(1.0 - share, developer, share).without_carbon_dioxide();
    let (mut low, mut high) = (0.0, 0.9);
    if at(low).equilibrium(temperature)?.ph >= ph {
        return Ok(fresh.clone());
    }
    if at(high).equilibrium(temperature)?.ph < ph {
        return Err(ChemistryError::Carried { wanted: ph });
    }
    // 40 halvings leave 1e-12 of the bath.
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if at(middle).equilibrium(temperature)?.ph < ph { low = middle } else { high = middle }
    }
    Ok(at(high))
}

/// The bath after nothing but strong alkali has brought it to a pH.
///
/// # Errors
/// As [`super::solver::Solution::solve`].
pub fn used_with_alkali(fresh: &Liquid, ph: Ph, temperature: Celsius) -> Result<Liquid, ChemistryError> {
    let alkali = MeqPerLitre::new(1000.0 * fresh.solution(temperature).alkali_to(ph)?.max(0.0))
        .map_err(|_| ChemistryError::TooSalty { limit: crate::quantity::IonicStrength::HIGH })?;
    Ok(fresh.clone().with_alkali(alkali))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chemistry::{bath, developer};
    use approx::assert_abs_diff_eq;

    fn citric(grams: f64) -> Liquid {
        bath::powdered(powder::find("citric-anhydrous").unwrap(), grams)
    }

    fn litre() -> Millilitres {
        Millilitres::new(1000.0).unwrap()
    }

    fn treated(liquid: &Liquid, soda: Soda) -> Treatment {
        treatment(liquid, litre(), soda, Celsius::STANDARD).unwrap()
    }

    // By hand: 15 g/l of citric acid are 0.0781 mol/l and 0.234 mol of protons, 19.7 g of bicarbonate and 5.6 l of gas; at pH 7 the third proton is bound to about nine
    // tenths (its pK at this salt is near 5.8), hence 0.230: 19.3 g and 5.5 l. Acetic acid, 17 g/l: 0.283 mol, 23.8 g, at pH 7 all but 0.5 % of it.
    #[test]
    fn soda_and_gas_are_the_hand_calculation() {
        let citric = treated(&citric(15.0), Soda::Bicarbonate);
        assert_abs_diff_eq!(citric.grams, 19.3, epsilon = 0.2);
        assert_abs_diff_eq!(citric.gas_litres, 5.53, epsilon = 0.06);
        let acetic = treated(&bath::powdered(powder::find(powder::ACETIC_ACID).unwrap(), 17.0), Soda::Bicarbonate);
        assert_abs_diff_eq!(acetic.grams, 23.7, epsilon = 0.1);
    }

    // One mole of carbonate binds two of acid: 53.0 g against 84.0 g of bicarbonate, and half of the gas.
    #[test]
    fn carbonate_needs_less_and_foams_less() {
        let (bicarbonate, carbonate) = (treated(&citric(15.0), Soda::Bicarbonate), treated(&citric(15.0), Soda::Carbonate));
        assert_abs_diff_eq!(carbonate.grams / bicarbonate.grams, 52.994 / 84.007, epsilon = 1e-6);
        assert_abs_diff_eq!(carbonate.gas_litres / bicarbonate.gas_litres, 0.5, epsilon = 1e-9);
        let wet = treated(&citric(15.0), Soda::CarbonateMonohydrate);
        assert_abs_diff_eq!(wet.grams / carbonate.grams, 124.004 / 105.988, epsilon = 1e-6);
    }

    // log K of Plummer and Busenberg 1982, Geochim. Cosmochim. Acta 46:1011 (from memory), over the temperatures of a darkroom; one enthalpy for all leaves 4 %.
    #[test]
    fn cold_water_holds_more_gas() {
        for t in [10.0, 15.0, 20.0, 25.0, 30.0, 40.0] {
            let k = t + ZERO;
            let log = 108.3865 + 0.019_850_76 * k - 6919.53 / k - 40.451_54 * k.log10() + 669_365.0 / (k * k);
            let ratio = carbon_dioxide_solubility(Celsius::new(t).unwrap()) / 10f64.powf(log);
            assert_abs_diff_eq!(ratio, 1.0, epsilon = 0.04);
        }
    }

    // While the gas is still in it, the pH lags behind; soda that is added because of that is too much.
    #[test]
    fn foam_holds_the_ph_down() {
        let fresh = treated(&citric(15.0), Soda::Bicarbonate);
        assert!((5.7..6.6).contains(&fresh.ph_foaming.value()), "{}", fresh.ph_foaming);
    }

    #[test]
    fn a_used_bath_needs_less_but_sulfite_asks_for_more() {
        let (fresh, ph) = (citric(15.0), Ph::new(5.2).unwrap());
        let grams = |liquid: &Liquid| treated(liquid, Soda::Bicarbonate).grams;
        let plain = used_with_alkali(&fresh, ph, Celsius::STANDARD).unwrap();
        let sulfite = used(&fresh, &developer::find("borax-sulfite-1+1").unwrap().liquid(), ph, Celsius::STANDARD).unwrap();
        for liquid in [&plain, &sulfite] {
            assert_abs_diff_eq!(liquid.equilibrium(Celsius::STANDARD).unwrap().ph.value(), 5.2, epsilon = 1e-6);
        }
        assert!(grams(&plain) < grams(&sulfite) && grams(&sulfite) < grams(&fresh), "{} {}", grams(&plain), grams(&sulfite));
    }

    #[test]
    fn an_alkaline_bath_needs_nothing() {
        let developer = developer::find("carbonate-1+2").unwrap().liquid();
        let none = treated(&developer, Soda::Bicarbonate);
        assert!(none.grams.abs() < 1e-12 && none.gas_litres.abs() < 1e-12);
    }

    #[test]
    fn a_ph_out_of_reach_is_refused() {
        let developer = developer::find("borax-sulfite-1+1").unwrap().liquid();
        let wanted = Ph::new(11.0).unwrap();
        assert!(matches!(used(&citric(15.0), &developer, wanted, Celsius::STANDARD), Err(ChemistryError::Carried { .. })));
        // Nine parts of developer to one of bath are the most that is looked at, and are looked at.
        let most = citric(15.0).mixed(1.0, &developer, 9.0).without_carbon_dioxide().equilibrium(Celsius::STANDARD).unwrap().ph.value();
        let at = |ph: f64| used(&citric(15.0), &developer, Ph::new(ph).unwrap(), Celsius::STANDARD);
        assert!(at(most - 0.01).is_ok() && at(most + 0.01).is_err(), "{most}");
        // Below the fresh pH nothing was used.
        assert_eq!(used(&citric(15.0), &developer, Ph::new(1.5).unwrap(), Celsius::STANDARD).unwrap(), citric(15.0));
    }
}
