//! What becomes of a bath when water is added, water evaporates, some is lost, or fresh bath is filled in.

use super::error::ChemistryError;
use super::liquid::Liquid;
use super::uncertainty::salt_sd;
use crate::quantity::{Celsius, IonicStrength, MeqPerLitre, Millilitres, Ph};

/// What is in a tray or bottle.
#[derive(Debug, Clone, PartialEq)]
pub struct Bath {
    /// What is dissolved.
    pub liquid: Liquid,
    /// How much there is of it.
    pub volume: Millilitres,
}

/// What happened to a bath.
#[derive(Debug, Clone, PartialEq)]
pub enum Change {
    /// Water was added, ml: the same reserve in more liquid.
    Water(f64),
    /// Water has evaporated, ml: the same reserve in less liquid. The little acetic acid that goes with it is not counted.
    Evaporated(f64),
    /// Some of the bath is gone, ml: less of it, as strong as before.
    Lost(f64),
    /// Fresh bath was filled in, ml.
    ToppedUp(Liquid, f64),
    /// Alkali came in with developer, meq in all; what bubbles off is not counted.
    TakenUp(f64),
}

/// Figures of a bath.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Standing {
    /// pH on the meter scale.
    pub ph: Ph,
    /// Standard uncertainty of the pH: dose, constants and the model of salt.
    pub ph_sd: f64,
    /// Ionic strength.
    pub ionic_strength: IonicStrength,
    /// Alkali that a litre takes up before the limit.
    pub reserve: MeqPerLitre,
    /// Alkali that all of it takes up, meq.
    pub reserve_total: f64,
}

/// Relative standard uncertainty of a dose: graduates and kitchen balances are within 5 % (common practice).
pub const DOSE_SD: f64 = 0.05;

/// Standard uncertainty of pH from the constants of the acids (calibration/acids.csv: 0.005 to 0.05, the common acids 0.01).
const CONSTANTS_SD: f64 = 0.01;

impl Bath {
    /// pH and reserve to `limit`.
    ///
    /// # Errors
    /// As [`super::solver::Solution::solve`].
    pub fn standing(&self, limit: Ph, temperature: Celsius) -> Result<Standing, ChemistryError> {
        let balance = self.liquid.equilibrium(temperature)?;
        let reserve = self.liquid.reserve(limit, temperature)?;
        let stronger = self.liquid.concentrated(1.0 + DOSE_SD).equilibrium(temperature)?;
        let dose = stronger.ph.value() - balance.ph.value();
        Ok(Standing {
            ph: balance.ph,
            ph_sd: dose.hypot(CONSTANTS_SD).hypot(salt_sd(balance.ionic_strength.value())),
            ionic_strength: balance.ionic_strength,
            reserve,
            reserve_total: reserve.value() * self.volume.litres(),
        })
    }

    /// The bath after one change.
    ///
    /// # Errors
    /// [`ChemistryError::Volume`] when less than 1 ml or more than 100 l would be left; [`ChemistryError::Change`] when the change is not a
    /// number from 0 up.
    pub fn after(&self, change: &Change) -> Result<Bath, ChemistryError> {
        let (Change::Water(amount)
        | Change::Evaporated(amount)
        | Change::Lost(amount)
        | Change::ToppedUp(_, amount)
        | Change::TakenUp(amount)) = change;
        if !(amount.is_finite() && *amount >= 0.0) {
            return Err(ChemistryError::Change { amount: *amount });
        }
        let now = self.volume.value();
        let volume = |value: f64| Millilitres::new(value).map_err(ChemistryError::Volume);
        Ok(match change {
            Change::Water(added) => Bath { liquid: self.liquid.concentrated(now / (now + added)), volume: volume(now + added)? },
            Change::Evaporated(gone) => {
                let left = volume(now - gone)?;
                Bath { liquid: self.liquid.concentrated(now / left.value()), volume: left }
            }
            Change::Lost(gone) => Bath { liquid: self.liquid.clone(), volume: volume(now - gone)? },
            Change::ToppedUp(fresh, added) => Bath { liquid: self.liquid.mixed(now, fresh, *added), volume: volume(now + added)? },
            Change::TakenUp(meq) => {
                let per_litre =
                    MeqPerLitre::new(meq / self.volume.litres()).map_err(|_| ChemistryError::TooSalty { limit: IonicStrength::HIGH })?;
                Bath { liquid: self.liquid.clone().with_alkali(per_litre), volume: self.volume }
            }
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chemistry::{bath, powder};
    use approx::assert_abs_diff_eq;

    fn fresh(grams: f64) -> Liquid {
        bath::powdered(powder::find(powder::ACETIC_ACID).unwrap(), grams)
    }

    fn litre(grams: f64) -> Bath {
        Bath { liquid: fresh(grams), volume: Millilitres::new(1000.0).unwrap() }
    }

    fn standing(bath: &Bath) -> Standing {
        bath.standing(Ph::new(5.2).unwrap(), Celsius::STANDARD).unwrap()
    }

    // Weak-acid formula by hand, pH = (pKa - log c) / 2: twice the water lifts the pH by 0.15, and the reserve per litre halves.
    #[test]
    fn water_halves_the_reserve_and_hardly_moves_the_ph() {
        let whole = litre(17.0);
        let thin = whole.after(&Change::Water(1000.0)).unwrap();
        let (before, after) = (standing(&whole), standing(&thin));
        assert_abs_diff_eq!(after.ph.value() - before.ph.value(), 0.15, epsilon = 0.01);
        assert_abs_diff_eq!(after.reserve.value() / before.reserve.value(), 0.5, epsilon = 0.01);
        // All of it still takes up what it took before, but for the salt effect.
        assert_abs_diff_eq!(after.reserve_total / before.reserve_total, 1.0, epsilon = 0.02);
    }

    #[test]
    fn what_evaporates_comes_back_with_water() {
        let used = litre(17.0).after(&Change::TakenUp(80.0)).unwrap();
        let dry = used.after(&Change::Evaporated(200.0)).unwrap();
        assert!(standing(&dry).reserve.value() > 1.2 * standing(&used).reserve.value());
        let back = standing(&dry.after(&Change::Water(200.0)).unwrap());
        assert_abs_diff_eq!(back.ph.value(), standing(&used).ph.value(), epsilon = 1e-9);
        assert_abs_diff_eq!(back.reserve_total, standing(&used).reserve_total, epsilon = 1e-6);
    }

    // A fifth lost and replaced: four fifths of the old reserve and one of the fresh.
    #[test]
    fn topping_up_adds_reserve_not_youth() {
        let used = litre(17.0).after(&Change::TakenUp(100.0)).unwrap();
        let less = used.after(&Change::Lost(200.0)).unwrap();
        assert_abs_diff_eq!(standing(&less).reserve.value(), standing(&used).reserve.value(), epsilon = 1e-9);
        let topped = less.after(&Change::ToppedUp(fresh(17.0), 200.0)).unwrap();
        let wanted = 0.8 * standing(&used).reserve.value() + 0.2 * standing(&litre(17.0)).reserve.value();
        assert_abs_diff_eq!(standing(&topped).reserve.value(), wanted, epsilon = 1.5);
        // With water instead, the loss stays.
        let watered = less.after(&Change::Water(200.0)).unwrap();
        assert_abs_diff_eq!(standing(&watered).reserve.value(), 0.8 * standing(&used).reserve.value(), epsilon = 1.5);
    }

    // Twice the bath takes twice the developer to stand where one litre stands.
    #[test]
    fn a_larger_bath_takes_more() {
        let used = |litres: f64| {
            let whole = Bath { volume: Millilitres::new(1000.0 * litres).unwrap(), ..litre(17.0) };
            standing(&whole.after(&Change::TakenUp(80.0 * litres)).unwrap())
        };
        let (one, two) = (used(1.0), used(2.0));
        assert_abs_diff_eq!(two.ph.value(), one.ph.value(), epsilon = 1e-9);
        assert_abs_diff_eq!(two.reserve_total, 2.0 * one.reserve_total, epsilon = 1e-6);
        assert_abs_diff_eq!(one.reserve.value(), standing(&litre(17.0)).reserve.value() - 80.0, epsilon = 2.0);
    }

    // By the same formula 5 % of dose are 0.5 log10(1.05) = 0.0106 of pH; with 0.01 for constants and 0.02 for salt, as squares, 0.0247.
    #[test]
    fn the_doubt_of_a_fresh_bath_is_dose_constants_and_salt() {
        assert_abs_diff_eq!(standing(&litre(17.0)).ph_sd, 0.0247, epsilon = 5e-4);
    }

    #[test]
    fn more_than_there_is_cannot_go() {
        for change in [Change::Lost(1000.0), Change::Evaporated(2000.0), Change::Water(1e6), Change::Water(-1.0), Change::Lost(f64::NAN)] {
            assert!(litre(17.0).after(&change).is_err(), "{change:?}");
        }
    }
}
