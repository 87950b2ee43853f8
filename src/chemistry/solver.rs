//! Which pH balances the charges of a solution of weak acids, their bases and strong ions.
//!
//! pH is -log10 of the activity of H(+), as a meter reads it. Concentrations are mol/l; below 0.5 mol/l of salt the difference between
//! mol/l and mol/kg is within the error of the salt model.

use super::acid::{self, Acid};
use super::activity::Model;
use super::error::ChemistryError;
use crate::quantity::{Celsius, IonicStrength, Ph};
use std::borrow::Cow;

/// A weak acid in all its forms together.
#[derive(Debug, Clone, PartialEq)]
pub struct Dissolved<'a> {
    /// The acid.
    pub acid: Cow<'a, Acid>,
    /// All its forms together, mol/l.
    pub amount: f64,
}

/// An ion that takes no part in any equilibrium, such as sodium or chloride.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StrongIon {
    /// Charge number.
    pub charge: i32,
    /// Concentration, mol/l.
    pub amount: f64,
}

/// What is dissolved, before its pH is known.
#[derive(Debug, Clone, PartialEq)]
pub struct Solution<'a> {
    /// Weak acids with their bases.
    pub weak: Vec<Dissolved<'a>>,
    /// Strong ions.
    pub ions: Vec<StrongIon>,
    /// Temperature.
    pub temperature: Celsius,
    /// How salt is allowed for.
    pub model: Model,
}

/// A solution with its charges in balance.
#[derive(Debug, Clone, PartialEq)]
pub struct Equilibrium {
    /// pH on the meter scale.
    pub ph: Ph,
    /// Ionic strength.
    pub ionic_strength: IonicStrength,
}

/// Ends of the pH that is looked for: beyond them no Davies equation holds.
const LOWEST: f64 = Ph::LOW;
const HIGHEST: f64 = Ph::HIGH;

/// Halvings of 16 pH units, which leave 1e-13.
const HALVINGS: usize = 47;

/// Rounds of pH and ionic strength in turn before the ionic strength is bracketed instead; each gains about a digit in dilute solutions.
const ROUNDS: usize = 40;

/// Change of the ionic strength that ends the rounds, mol/l: worth less than 1e-9 pH.
const SETTLED: f64 = 1e-12;

impl<'a> Solution<'a> {
    /// Pure water; ions by the Davies equation.
    #[must_use]
    pub fn water(temperature: Celsius) -> Self {
        Solution { weak: Vec::new(), ions: Vec::new(), temperature, model: Model::Davies }
    }

    /// Adds a weak acid, all forms together, mol/l; more of one that is there already joins it.
    #[must_use]
    pub fn with(mut self, acid: &'a Acid, amount: f64) -> Self {
        match self.weak.iter_mut().find(|dissolved| dissolved.acid.name == acid.name) {
            Some(dissolved) => dissolved.amount += amount,
            None => self.weak.push(Dissolved { acid: Cow::Borrowed(acid), amount }),
        }
        self
    }

    /// Adds a strong ion, mol/l.
    #[must_use]
    pub fn with_ion(mut self, charge: i32, amount: f64) -> Self {
        self.ions.push(StrongIon { charge, amount });
        self
    }

    /// The pH at which the charges balance, and the ionic strength there.
    ///
    /// # Errors
    /// [`ChemistryError::Concentration`] when an amount is negative or not finite; [`ChemistryError::Unbalanced`] when no pH from -1 to 15
    /// balances the charges; [`ChemistryError::TooSalty`] above 2 mol/l.
    pub fn solve(&self) -> Result<Equilibrium, ChemistryError> {
        self.check()?;
        let (ph, salt) = self.settle()?;
        let ionic_strength = IonicStrength::new(salt).map_err(|_| ChemistryError::TooSalty { limit: IonicStrength::HIGH })?;
        let ph = Ph::new(ph).map_err(|_| ChemistryError::Unbalanced { low: LOWEST, high: HIGHEST })?;
        Ok(Equilibrium { ph, ionic_strength })
    }

    /// Mol/l of strong base that lift the pH by one at this place: the buffer value of Van Slyke 1922, from a central difference.
    ///
    /// # Errors
    /// As [`Self::solve`].
    pub fn buffer_value(&self) -> Result<f64, ChemistryError> {
        // A thousandth of what is dissolved: far above rounding, far below the curvature.
        let step = 1e-3 * self.weak.iter().map(|d| d.amount).sum::<f64>().max(1e-6);
        let at = |charge: i32| self.clone().with_ion(charge, step).solve().map(|e| e.ph.value());
        Ok(2.0 * step / (at(1)? - at(-1)?))
    }

    /// Strong alkali that brings the solution to a pH, mol/l; below 0 it is strong acid.
    ///
    /// The alkali is taken as pure, in no volume of its own.
    ///
    /// # Errors
    /// As [`Self::solve`].
    pub fn alkali_to(&self, ph: Ph) -> Result<f64, ChemistryError> {
        self.check()?;
        // The added ion counts as salt too, so that ionic strength and amount are found together; the salt implied is bounded, hence halving.
        let state = |salt: f64| {
            let state = self.state(ph.value(), salt);
            (-state.charge, state.ionic_strength + 0.5 * state.charge.abs())
        };
        let (mut low, mut high) = (0.0, 2.0 * self.most_salt());
        for _ in 0..HALVINGS {
            let middle = 0.5 * (low + high);
            if state(middle).1 > middle { low = middle } else { high = middle }
        }
        let (alkali, salt) = state(high);
        if salt > IonicStrength::HIGH { Err(ChemistryError::TooSalty { limit: IonicStrength::HIGH }) } else { Ok(alkali) }
    }

    fn check(&self) -> Result<(), ChemistryError> {
        let weak = self.weak.iter().map(|d| (d.acid.name, d.amount));
        match weak
            .chain(self.ions.iter().map(|ion| ("a strong ion", ion.amount)))
            .find(|(_, amount)| !(amount.is_finite() && *amount >= 0.0))
        {
            Some((substance, value)) => Err(ChemistryError::Concentration { substance, value }),
            None => Ok(()),
        }
    }

    /// pH and ionic strength that agree with each other.
    fn settle(&self) -> Result<(f64, f64), ChemistryError> {
        let mut salt = 0.0;
        for _ in 0..ROUNDS {
            let ph = self.balance(salt)?;
            let next = self.state(ph, salt).ionic_strength;
            if (next - salt).abs() < SETTLED {
                return Ok((ph, next));
            }
            salt = next;
        }
        // The salt that a pH implies is bounded by what is dissolved, so the two curves cross between none and all of it.
        let (mut low, mut high) = (0.0, self.most_salt());
        for _ in 0..HALVINGS {
            let middle = 0.5 * (low + high);
            if self.state(self.balance(middle)?, middle).ionic_strength > middle { low = middle } else { high = middle }
        }
        Ok((self.balance(high)?, high))
    }

    /// More ionic strength than the solution can have, mol/l.
    fn most_salt(&self) -> f64 {
        let weak = self.weak.iter().map(|d| {
            let most = d.acid.charge.abs().max((d.acid.charge - d.acid.steps.len() as i32).abs());
            d.amount * f64::from(most * most)
        });
        // 20 mol/l stands for H(+) and OH(-) at the ends of the pH range.
        20.0 + weak.sum::<f64>() + self.ions.iter().map(|ion| ion.amount * f64::from(ion.charge * ion.charge)).sum::<f64>()
    }

    /// The pH that balances the charges at a given ionic strength; the net charge falls as the pH rises, so halving finds it.
    fn balance(&self, salt: f64) -> Result<f64, ChemistryError> {
        let (mut low, mut high) = (LOWEST, HIGHEST);
        if !(self.state(low, salt).charge >= 0.0 && self.state(high, salt).charge <= 0.0) {
            return Err(ChemistryError::Unbalanced { low, high });
        }
        for _ in 0..HALVINGS {
            let middle = 0.5 * (low + high);
            if self.state(middle, salt).charge > 0.0 { low = middle } else { high = middle }
        }
        Ok(0.5 * (low + high))
    }

    /// Net charge and ionic strength at a given pH and ionic strength.
    fn state(&self, ph: f64, salt: f64) -> State {
        let gamma = |charge: i32| self.model.log_coefficient(charge, salt, self.temperature);
        let mut state = State::default();
        state.add(1, 10f64.powf(-ph - gamma(1)));
        state.add(-1, 10f64.powf(ph - acid::water_pk(self.temperature) - gamma(1)));
        for ion in &self.ions {
            state.add(ion.charge, ion.amount);
        }
        for dissolved in &self.weak {
            let shares = shares(&dissolved.acid, ph, self.temperature, gamma);
            for (charge, share) in (0..).map(|step| dissolved.acid.charge - step).zip(shares) {
                state.add(charge, dissolved.amount * share);
            }
        }
        state
    }
}

/// Share of each form of an acid, from the one with all protons on; `gamma` gives log10 of the activity coefficient of a charge.
fn shares(acid: &Acid, ph: f64, temperature: Celsius, gamma: impl Fn(i32) -> f64) -> Vec<f64> {
    let mut log = 0.0;
    let mut logs = vec![log];
    let mut charge = acid.charge;
    for step in &acid.steps {
        log += ph - step.pk_at(temperature) + gamma(charge) - gamma(charge - 1);
        charge -= 1;
        logs.push(log);
    }
    // Relative to the largest, so that no power overflows.
    let largest = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let parts: Vec<f64> = logs.iter().map(|log| 10f64.powf(log - largest)).collect();
    let whole: f64 = parts.iter().sum();
    parts.iter().map(|part| part / whole).collect()
}

#[derive(Default)]
struct State {
    /// Net charge, mol/l.
    charge: f64,
    /// Half the sum of concentration times charge squared, mol/l.
    ionic_strength: f64,
}

impl State {
    fn add(&mut self, charge: i32, amount: f64) {
        self.charge += f64::from(charge) * amount;
        self.ionic_strength += 0.5 * f64::from(charge * charge) * amount;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    fn warm() -> Celsius {
        Celsius::new(25.0).unwrap()
    }

    #[test]
    fn pure_water_is_neutral() {
        let water = Solution::water(warm()).solve().unwrap();
        assert_abs_diff_eq!(water.ph.value(), 0.5 * acid::water_pk(warm()), epsilon = 1e-3);
        assert!(water.ionic_strength.value() < 2e-7);
    }

    // Henderson and Hasselbalch: equal parts of acid and salt, far from water's own ions, without salt effect.
    #[test]
    fn equal_parts_without_salt_effect_stand_at_pk() {
        let acetic = acid::find("acetic").unwrap();
        let mut solution = Solution::water(warm()).with(acetic, 0.2).with_ion(1, 0.1);
        solution.model = Model::Ideal;
        assert_abs_diff_eq!(solution.solve().unwrap().ph.value(), 4.757, epsilon = 3e-4);
        // ln 10 C / 4 is the buffer value there (Van Slyke 1922).
        assert_abs_diff_eq!(solution.buffer_value().unwrap(), std::f64::consts::LN_10 * 0.05, epsilon = 1e-4);
    }

    // What the solver says must satisfy its own equations, also where salt and pH push each other about.
    #[test]
    fn the_answer_balances() {
        let find = |name| acid::find(name).unwrap();
        for (citrate, phosphate, sodium) in
            [(1e-9, 0.0, 0.0), (0.1, 0.0, 0.0), (0.05, 0.1, 0.2), (0.1, 0.2, 0.69), (0.3, 0.3, 0.1), (0.0, 0.4, 1.2)]
        {
            let solution = Solution::water(warm()).with(find("citric"), citrate).with(find("phosphoric"), phosphate).with_ion(1, sodium);
            let (ph, salt) = solution.settle().unwrap();
            let state = solution.state(ph, salt);
            assert_abs_diff_eq!(state.ionic_strength, salt, epsilon = 1e-9);
            assert_abs_diff_eq!(state.charge, 0.0, epsilon = 1e-9);
        }
    }

    #[test]
    fn alkali_lifts_ph_all_the_way() {
        let citric = acid::find("citric").unwrap();
        let all: Vec<f64> = (0..40)
            .map(|i| Solution::water(warm()).with(citric, 0.08).with_ion(1, 0.007 * f64::from(i)).solve().unwrap().ph.value())
            .collect();
        assert!(all.is_sorted_by(|a, b| a < b), "{all:?}");
    }

    // Adding what is said to be needed must lead to the pH asked for, upwards with alkali and downwards with acid.
    #[test]
    fn needed_alkali_leads_to_the_ph() {
        let find = |name| acid::find(name).unwrap();
        let bath = Solution::water(warm()).with(find("citric"), 0.08);
        let developer = Solution::water(warm()).with(find("carbonic"), 0.2).with(find("sulfurous"), 0.1).with_ion(1, 0.6);
        for (solution, ph, sign) in [(&bath, 5.2, 1), (&bath, 6.5, 1), (&developer, 5.2, -1), (&developer, 7.0, -1)] {
            let alkali = solution.alkali_to(Ph::new(ph).unwrap()).unwrap();
            assert!(alkali * f64::from(sign) > 0.0, "{alkali}");
            let reached = solution.clone().with_ion(sign, alkali.abs()).solve().unwrap().ph.value();
            assert_abs_diff_eq!(reached, ph, epsilon = 1e-6);
        }
    }

    // A solution at its own pH needs no alkali to get there, whatever is in it. Fixed seed; the generator is Knuth's MMIX congruence.
    #[test]
    fn at_its_own_ph_nothing_is_needed() {
        let mut seed: u64 = 11;
        let mut random = || {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (seed >> 11) as f64 / (1u64 << 53) as f64
        };
        for _ in 0..300 {
            let acids = acid::all();
            let t = Celsius::new(60.0 * random()).unwrap();
            let mut solution = Solution::water(t).with_ion(1, 0.5 * random()).with_ion(-1, 0.5 * random());
            for _ in 0..3 {
                let acid = &acids[(random() * acids.len() as f64) as usize];
                solution = solution.with(acid, 0.2 * random().powi(3));
            }
            let balance = solution.solve().unwrap();
            assert_abs_diff_eq!(solution.alkali_to(balance.ph).unwrap(), 0.0, epsilon = 1e-9);
        }
    }

    #[test]
    fn what_cannot_be_is_refused() {
        let citric = acid::find("citric").unwrap();
        let at = |amount| Solution::water(warm()).with(citric, amount).solve();
        assert!(matches!(at(f64::NAN), Err(ChemistryError::Concentration { substance: "citric", .. })));
        assert!(matches!(at(-1.0), Err(ChemistryError::Concentration { .. })));
        assert!(matches!(Solution::water(warm()).with_ion(-1, 30.0).solve(), Err(ChemistryError::Unbalanced { .. })));
        assert!(matches!(Solution::water(warm()).with_ion(1, 3.0).with_ion(-1, 3.0).solve(), Err(ChemistryError::TooSalty { .. })));
        // Alkali for 3 mol/l of acid would make as much salt.
        let acetic = acid::find("acetic").unwrap();
        let needed = |amount| Solution::water(warm()).with(acetic, amount).alkali_to(Ph::NEUTRAL);
        assert!(needed(1.5).is_ok() && matches!(needed(3.0), Err(ChemistryError::TooSalty { .. })));
    }
}
