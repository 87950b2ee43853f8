//! Home-mixed buffers: which share of acid and base gives a wanted pH, what to weigh, and how far the result can be trusted.

use super::buffer::BufferState;
use super::error::ChemistryError;
use super::powder::{self, Powder};
use super::solver::Solution;
use super::table::{number, rows};
use super::uncertainty::{Budget, Care};
use crate::quantity::{Celsius, IonicStrength, MassPercent, Millilitres, Ph};
use std::sync::OnceLock;

const TABLE: &str = include_str!("../../calibration/recipes.csv");

/// Temperature a mixture is meant for unless told.
pub const USUAL_TEMPERATURE: Celsius = Celsius::STANDARD;

/// One of the two solutions that a buffer is mixed from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stock {
    /// The substance in it.
    pub substance: &'static str,
    /// Moles of it per litre.
    pub strength: f64,
}

/// A pair of stocks that gives buffers over a range of pH.
#[derive(Debug, Clone, PartialEq)]
pub struct Recipe {
    /// Lower-case name with hyphens.
    pub name: &'static str,
    /// The acid stock.
    pub acid: Stock,
    /// The base stock.
    pub base: Stock,
    /// Lowest pH it is mixed for.
    pub low: f64,
    /// Highest pH it is mixed for.
    pub high: f64,
}

/// All recipes, the one to take when none is asked for first.
#[must_use]
pub fn all() -> &'static [Recipe] {
    static ALL: OnceLock<Vec<Recipe>> = OnceLock::new();
    ALL.get_or_init(|| {
        let parse = |row: Vec<&'static str>| Recipe {
            name: row[0],
            acid: Stock { substance: row[1], strength: number(row[2]) },
            base: Stock { substance: row[3], strength: number(row[4]) },
            low: number(row[5]),
            high: number(row[6]),
        };
        rows(TABLE).filter(|row| row.len() == 7).map(parse).collect()
    })
}

/// The recipe of that name.
///
/// # Errors
/// [`ChemistryError::Unknown`] with the names there are.
pub fn find(name: &str) -> Result<&'static Recipe, ChemistryError> {
    let wanted = name.trim().to_lowercase();
    all().iter().find(|recipe| recipe.name == wanted).ok_or_else(|| {
        let known = all().iter().map(|recipe| recipe.name).collect::<Vec<_>>().join(", ");
        ChemistryError::Unknown { kind: "recipe", name: name.trim().to_owned(), known }
    })
}

/// The first recipe whose range holds every pH of `wanted`.
///
/// # Errors
/// [`ChemistryError::NoRecipe`] when there is none.
pub fn reaching(wanted: &[Ph]) -> Result<&'static Recipe, ChemistryError> {
    let is_inside = |recipe: &&Recipe| wanted.iter().all(|ph| (recipe.low..=recipe.high).contains(&ph.value()));
    all().iter().find(is_inside).ok_or_else(|| {
        let low = all().iter().map(|r| r.low).fold(f64::INFINITY, f64::min);
        let high = all().iter().map(|r| r.high).fold(f64::NEG_INFINITY, f64::max);
        let outside = wanted.iter().find(|ph| !(low..=high).contains(&ph.value())).or(wanted.first());
        ChemistryError::NoRecipe { wanted: outside.copied().unwrap_or_else(neutral), low, high }
    })
}

fn neutral() -> Ph {
    Ph::new(7.0).unwrap_or_else(|_| unreachable!("7 is a pH"))
}

/// A buffer of one recipe, mixed for one pH.
#[derive(Debug, Clone, PartialEq)]
pub struct Mix {
    /// The recipe.
    pub recipe: &'static Recipe,
    /// The pH it was mixed for.
    pub wanted: Ph,
    /// The temperature at which it has that pH.
    pub temperature: Celsius,
    /// Volume share of the base stock, 0 to 1.
    pub base_share: f64,
}

/// A powder and how much of it to take.
#[derive(Debug, Clone, PartialEq)]
pub struct Portion {
    /// The powder.
    pub powder: &'static Powder,
    /// Mass, g.
    pub grams: f64,
    /// Volume, ml, of a liquid.
    pub millilitres: Option<f64>,
    /// Strength of a liquid.
    pub strength: Option<MassPercent>,
}

/// What one buffer is actually made from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Forms {
    /// Form of the acid.
    pub acid: &'static Powder,
    /// Form of the base.
    pub base: &'static Powder,
}

impl Recipe {
    /// Mixes for a pH at a temperature.
    ///
    /// # Errors
    /// [`ChemistryError::Unreachable`] when the pH is outside the recipe's range.
    pub fn mix(&'static self, wanted: Ph, temperature: Celsius) -> Result<Mix, ChemistryError> {
        let unreachable = || ChemistryError::Unreachable { recipe: self.name, wanted, low: self.low, high: self.high };
        if !(self.low..=self.high).contains(&wanted.value()) {
            return Err(unreachable());
        }
        let forms = self.usual_forms()?;
        let ph = |share: f64| self.solution(forms, share, temperature).solve().map(|e| e.ph);
        // More base, higher pH: halving finds the share. 40 halvings leave 1e-12 of the whole.
        let (mut low, mut high) = (0.0, 1.0);
        if ph(low)? > wanted || ph(high)? < wanted {
            return Err(unreachable());
        }
        for _ in 0..40 {
            let middle = 0.5 * (low + high);
            if ph(middle)? < wanted { low = middle } else { high = middle }
        }
        Ok(Mix { recipe: self, wanted, temperature, base_share: 0.5 * (low + high) })
    }

    /// The commonest form of either substance.
    ///
    /// # Errors
    /// [`ChemistryError::Unknown`] when the tables do not fit each other.
    pub fn usual_forms(&self) -> Result<Forms, ChemistryError> {
        let first = |stock: Stock| powder::forms(stock.substance).next().map_or_else(|| powder::find(stock.substance), Ok);
        Ok(Forms { acid: first(self.acid)?, base: first(self.base)? })
    }

    /// The forms with those of `chosen` in place of the commonest.
    ///
    /// # Errors
    /// [`ChemistryError::WrongPowder`] when one is neither the acid nor the base of this recipe.
    pub fn forms(&self, chosen: &[&'static Powder]) -> Result<Forms, ChemistryError> {
        let mut forms = self.usual_forms()?;
        for powder in chosen {
            if powder.substance == self.acid.substance {
                forms.acid = powder;
            } else if powder.substance == self.base.substance {
                forms.base = powder;
            } else {
                return Err(ChemistryError::WrongPowder { recipe: self.name, powder: powder.name });
            }
        }
        Ok(forms)
    }

    /// The mixture with this volume share of the base stock.
    fn solution(&self, forms: Forms, base_share: f64, temperature: Celsius) -> Solution<'static> {
        let parts = [(forms.acid, self.acid.strength * (1.0 - base_share)), (forms.base, self.base.strength * base_share)];
        dissolved(&parts, temperature)
    }

    /// What makes a volume of one of the two stocks; `strength` is that of acetic acid.
    #[must_use]
    pub fn stock(&self, powder: &'static Powder, volume: Millilitres, strength: MassPercent) -> Portion {
        let stock = if powder.substance == self.acid.substance { self.acid } else { self.base };
        portion(powder, stock.strength * volume.litres(), strength)
    }
}

/// The solution of powders, mol/l each.
pub(super) fn dissolved(parts: &[(&'static Powder, f64)], temperature: Celsius) -> Solution<'static> {
    let mut solution = Solution::water(temperature);
    for (powder, amount) in parts {
        if let Some((acid, moles)) = powder.acid {
            solution = solution.with(acid, moles * amount);
        }
        solution = solution.with_ion(1, powder.sodium * amount);
    }
    solution
}

fn portion(powder: &'static Powder, moles: f64, strength: MassPercent) -> Portion {
    let pure = moles * powder.molar_mass;
    if !powder.is_liquid() {
        return Portion { powder, grams: pure, millilitres: None, strength: None };
    }
    let grams = 100.0 * pure / strength.value();
    Portion { powder, grams, millilitres: Some(grams / powder::acetic_density(strength)), strength: Some(strength) }
}

impl Mix {
    /// The name that [`super::buffer::find`] takes: recipe, pH and, when not 25 C, the temperature.
    #[must_use]
    pub fn name(&self) -> String {
        let t = self.temperature.value();
        let suffix = if (t - USUAL_TEMPERATURE.value()).abs() < 1e-9 { String::new() } else { format!(":{t}") };
        format!("{}:{}{suffix}", self.recipe.name, self.wanted)
    }

    /// Moles per litre of acid and base substance in the mixture.
    #[must_use]
    pub fn amounts(&self) -> (f64, f64) {
        (self.recipe.acid.strength * (1.0 - self.base_share), self.recipe.base.strength * self.base_share)
    }

    /// What is dissolved in it.
    ///
    /// # Errors
    /// As [`Recipe::usual_forms`].
    pub fn solution(&self, temperature: Celsius) -> Result<Solution<'static>, ChemistryError> {
        Ok(self.recipe.solution(self.recipe.usual_forms()?, self.base_share, temperature))
    }

    /// How much of a powder makes `volume` of the buffer; of acetic acid, one of this strength.
    #[must_use]
    pub fn portion(&self, powder: &'static Powder, volume: Millilitres, strength: MassPercent) -> Portion {
        let (acid, base) = self.amounts();
        let amount = if powder.substance == self.recipe.acid.substance { acid } else { base };
        portion(powder, amount * volume.litres(), strength)
    }

    /// Ionic strength at a temperature.
    ///
    /// # Errors
    /// As [`Solution::solve`].
    pub fn ionic_strength(&self, temperature: Celsius) -> Result<IonicStrength, ChemistryError> {
        Ok(self.solution(temperature)?.solve()?.ionic_strength)
    }

    /// pH, uncertainty and ionic strength at a temperature, when nothing is known of the powders and the weighing: the least stable form, 1 %.
    ///
    /// # Errors
    /// As [`Solution::solve`].
    pub fn at(&self, temperature: Celsius) -> Result<BufferState, ChemistryError> {
        let balance = self.solution(temperature)?.solve()?;
        let sd = Budget::of(self, &Care::unknown(self.recipe), temperature)?.sd();
        Ok(BufferState { ph: balance.ph, sd, ionic_strength: balance.ionic_strength })
    }
}

/// Buffers at equal steps of pH from `from` to `to`, both included; from two stocks.
///
/// # Errors
/// As [`Recipe::mix`].
pub fn ladder(recipe: &'static Recipe, count: usize, from: Ph, to: Ph, temperature: Celsius) -> Result<Vec<Mix>, ChemistryError> {
    let step = (to.value() - from.value()) / count.saturating_sub(1).max(1) as f64;
    (0..count)
        .map(|i| {
            // Steps such as 0.1 must not leave the range by a rounding error, nor print as 5.600000000000001.
            let value = ((from.value() + step * i as f64) * 1000.0).round() / 1000.0;
            let ph = Ph::new(value).map_err(|_| ChemistryError::Unreachable {
                recipe: recipe.name,
                wanted: from,
                low: recipe.low,
                high: recipe.high,
            })?;
            recipe.mix(ph, temperature)
        })
        .collect()
}
