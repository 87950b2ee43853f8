//! A liquid by what is dissolved in it, apart from its temperature: baths, developers, and what comes of mixing them.

use super::acid::{self, Acid};
use super::error::ChemistryError;
use super::powder::Powder;
use super::solver::{Equilibrium, Solution};
use crate::quantity::{Celsius, MeqPerLitre, Ph};
use std::collections::BTreeMap;

/// What is dissolved in a litre.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Liquid {
    /// Weak acids in all their forms together, mol/l, by name.
    weak: BTreeMap<&'static str, f64>,
    /// Sodium and potassium less chloride and the like, each at least 0, mol/l: (cations, anions).
    strong: (f64, f64),
}

impl Liquid {
    /// Nothing but water.
    #[must_use]
    pub fn water() -> Self {
        Liquid::default()
    }

    /// With `amount` mol/l more of a weak acid.
    #[must_use]
    pub fn with_acid(mut self, acid: &'static Acid, amount: f64) -> Self {
        *self.weak.entry(acid.name).or_default() += amount;
        self
    }

    /// With `grams` per litre more of a powder, taken as pure.
    #[must_use]
    pub fn with_powder(mut self, powder: &'static Powder, grams: f64) -> Self {
        let moles = grams / powder.molar_mass;
        self.strong.0 += powder.sodium * moles;
        match powder.acid {
            Some((acid, each)) => self.with_acid(acid, each * moles),
            None => self,
        }
    }

    /// With strong alkali, as sodium hydroxide; below 0 strong acid.
    #[must_use]
    pub fn with_alkali(mut self, alkali: MeqPerLitre) -> Self {
        let moles = alkali.value() / 1000.0;
        if moles >= 0.0 {
            self.strong.0 += moles
        } else {
            self.strong.1 -= moles
        }
        self
    }

    /// Each concentration times `factor`: 0.5 after diluting to twice the volume, 1.25 when a fifth of the water has gone.
    ///
    /// Acetic acid and sulfur dioxide also evaporate themselves; that is not counted.
    #[must_use]
    pub fn concentrated(&self, factor: f64) -> Self {
        Liquid {
            weak: self.weak.iter().map(|(name, amount)| (*name, factor * amount)).collect(),
            strong: (factor * self.strong.0, factor * self.strong.1),
        }
    }

    /// One volume of this and another of `other`; volumes in any one unit, taken to add up.
    #[must_use]
    pub fn mixed(&self, volume: f64, other: &Liquid, other_volume: f64) -> Self {
        let whole = volume + other_volume;
        let mut sum = self.concentrated(volume / whole);
        for (name, amount) in &other.weak {
            *sum.weak.entry(name).or_default() += amount * other_volume / whole;
        }
        sum.strong.0 += other.strong.0 * other_volume / whole;
        sum.strong.1 += other.strong.1 * other_volume / whole;
        sum
    }

    /// Without its carbon dioxide and carbonate, as when an acid bath has bubbled it all off.
    #[must_use]
    pub fn without_carbon_dioxide(&self) -> Self {
        let mut left = self.clone();
        left.weak.remove("carbonic");
        left
    }

    /// The liquid at a temperature, for the solver.
    #[must_use]
    pub fn solution(&self, temperature: Celsius) -> Solution<'static> {
        let ions = Solution::water(temperature).with_ion(1, self.strong.0).with_ion(-1, self.strong.1);
        self.weak
            .iter()
            .filter_map(|(name, amount)| Some((acid::find(name)?, *amount)))
            .fold(ions, |s, (acid, amount)| s.with(acid, amount))
    }

    /// pH and ionic strength.
    ///
    /// # Errors
    /// As [`Solution::solve`].
    pub fn equilibrium(&self, temperature: Celsius) -> Result<Equilibrium, ChemistryError> {
        self.solution(temperature).solve()
    }

    /// Alkali that the liquid takes up before it reaches a pH: its reserve; below 0 it is past that pH already, or a developer.
    ///
    /// # Errors
    /// As [`Solution::solve`].
    pub fn reserve(&self, to: Ph, temperature: Celsius) -> Result<MeqPerLitre, ChemistryError> {
        let meq = 1000.0 * self.solution(temperature).alkali_to(to)?;
        MeqPerLitre::new(meq).map_err(|_| ChemistryError::TooSalty { limit: crate::quantity::IonicStrength::HIGH })
    }

    /// pH at equal steps of alkali taken up, from none to `most`, both included.
    ///
    /// # Errors
    /// As [`Solution::solve`].
    pub fn titrated(&self, most: MeqPerLitre, steps: usize, temperature: Celsius) -> Result<Vec<(MeqPerLitre, Ph)>, ChemistryError> {
        (0..=steps)
            .map(|i| {
                let alkali = most.value() * i as f64 / steps.max(1) as f64;
                let alkali = MeqPerLitre::new(alkali).unwrap_or(most);
                Ok((alkali, self.clone().with_alkali(alkali).equilibrium(temperature)?.ph))
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    fn strong(meq: f64) -> Liquid {
        Liquid::water().with_alkali(MeqPerLitre::new(meq).unwrap())
    }

    fn ph(liquid: &Liquid) -> f64 {
        liquid.equilibrium(Celsius::STANDARD).unwrap().ph.value()
    }

    // Hydrochloric acid of 0.1, 0.01 and 0.001 mol/l has pH 1.10, 2.04 and 3.01 (from memory of handbook tables); the Davies equation is off by 0.01 in the first.
    #[test]
    fn strong_acid_is_below_no_alkali() {
        for (meq, wanted) in [(-100.0, 1.10), (-10.0, 2.04), (-1.0, 3.01)] {
            assert_abs_diff_eq!(ph(&strong(meq)), wanted, epsilon = 0.015);
        }
    }

    // Acid and alkali of equal strength leave salt water, which is neutral; half the water gone, there is twice of each.
    #[test]
    fn acid_and_alkali_undo_each_other() {
        let (acid, alkali) = (strong(-20.0), strong(20.0));
        let neutral = ph(&Liquid::water());
        assert_abs_diff_eq!(ph(&acid.mixed(250.0, &alkali, 250.0)), neutral, epsilon = 1e-6);
        assert_abs_diff_eq!(ph(&acid.mixed(100.0, &alkali.concentrated(0.5), 200.0)), neutral, epsilon = 1e-6);
        assert_abs_diff_eq!(ph(&alkali.mixed(100.0, &acid.concentrated(2.0), 50.0)), neutral, epsilon = 1e-6);
        assert_abs_diff_eq!(acid.reserve(Ph::NEUTRAL, Celsius::STANDARD).unwrap().value(), 20.0, epsilon = 1e-3);
    }
}
