//! What a litre of bath is made of, as people write it down.

use crate::chemistry::error::ChemistryError;
use crate::chemistry::liquid::Liquid;
use crate::chemistry::{bath, powder};
use crate::quantity::MassPercent;
use serde::{Deserialize, Serialize};

/// The acid of a bath.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Acid {
    /// Acetic acid or vinegar.
    Acetic,
    /// Citric acid powder without water.
    CitricAnhydrous,
    /// Citric acid powder with its crystal water.
    CitricMonohydrate,
    /// A citric concentrate.
    CitricConcentrate,
    /// Sodium metabisulfite powder.
    SodiumMetabisulfite,
    /// Potassium metabisulfite powder.
    PotassiumMetabisulfite,
}

impl Acid {
    /// All of them.
    pub const ALL: [Acid; 6] = [
        Acid::Acetic,
        Acid::CitricAnhydrous,
        Acid::CitricMonohydrate,
        Acid::CitricConcentrate,
        Acid::SodiumMetabisulfite,
        Acid::PotassiumMetabisulfite,
    ];

    /// Lower-case name with hyphens.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Acid::Acetic => "acetic",
            Acid::CitricAnhydrous => "citric-anhydrous",
            Acid::CitricMonohydrate => "citric-monohydrate",
            Acid::CitricConcentrate => "citric-concentrate",
            Acid::SodiumMetabisulfite => "sodium-metabisulfite",
            Acid::PotassiumMetabisulfite => "potassium-metabisulfite",
        }
    }

    /// True for what is poured, false for what is weighed.
    #[must_use]
    pub fn is_liquid(self) -> bool {
        matches!(self, Acid::Acetic | Acid::CitricConcentrate)
    }
}

/// What a litre of bath is made of.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Recipe {
    /// The acid.
    pub acid: Acid,
    /// Strength of a liquid acid, per cent by mass.
    pub percent: Option<f64>,
    /// Millilitres (of a liquid) or grams (of a powder) in a litre of bath.
    pub per_litre: f64,
}

/// A recipe that cannot be.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum RecipeError {
    /// A liquid acid without its strength.
    #[error("the strength of the acid is missing")]
    NoStrength,
    /// Too much, too little or no number.
    #[error("{value} {unit} in a litre of bath is outside 0.1 to 1000")]
    Amount {
        /// The refused value.
        value: f64,
        /// `ml` or `g`.
        unit: &'static str,
    },
    /// What the chemistry refuses.
    #[error(transparent)]
    Chemistry(#[from] ChemistryError),
    /// A strength that cannot be.
    #[error(transparent)]
    Strength(#[from] crate::quantity::RangeError),
}

impl RecipeError {
    /// The next action.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            RecipeError::NoStrength => "give --strength with the per cent on the label of the acid: 5 for vinegar, 28, 60, 80 or 99.8",
            RecipeError::Strength(_) => "give the per cent by mass on the label of the acid, from 1 to 100",
            RecipeError::Amount { .. } => "give --dilution such as 1+19, or --grams-per-litre such as 15",
            RecipeError::Chemistry(error) => error.hint(),
        }
    }
}

impl Recipe {
    /// What is dissolved in a litre.
    ///
    /// # Errors
    /// [`RecipeError`] when a figure is missing or cannot be.
    pub fn liquid(&self) -> Result<Liquid, RecipeError> {
        let unit = if self.acid.is_liquid() { "ml" } else { "g" };
        if !(0.1..=1000.0).contains(&self.per_litre) {
            return Err(RecipeError::Amount { value: self.per_litre, unit });
        }
        if !self.acid.is_liquid() {
            return Ok(bath::powdered(powder::find(self.acid.name())?, self.per_litre));
        }
        let strength = MassPercent::new(self.percent.ok_or(RecipeError::NoStrength)?)?;
        Ok(match self.acid {
            Acid::CitricConcentrate => bath::citric_concentrate(strength, self.per_litre),
            _ => bath::acetic(strength, self.per_litre),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Celsius;

    // Fresh acetic baths have pH 2.6 to 2.8, citric ones 2 to 2.5, metabisulfite 4 to 4.6 (common practice).
    #[test]
    fn every_acid_makes_a_bath_of_its_kind() {
        for acid in Acid::ALL {
            let percent = acid.is_liquid().then_some(if acid == Acid::Acetic { 28.0 } else { 50.0 });
            let per_litre = if acid.is_liquid() { 50.0 } else { 20.0 };
            let ph = Recipe { acid, percent, per_litre }.liquid().unwrap().equilibrium(Celsius::STANDARD).unwrap().ph.value();
            let is_sulfite = acid.name().ends_with("metabisulfite");
            assert!(if is_sulfite { (4.0..4.7).contains(&ph) } else { (1.9..2.8).contains(&ph) }, "{}: {ph}", acid.name());
        }
    }

    #[test]
    fn missing_and_impossible_figures_are_refused() {
        let acetic = Recipe { acid: Acid::Acetic, percent: None, per_litre: 16.0 };
        assert_eq!(acetic.liquid(), Err(RecipeError::NoStrength));
        assert!(Recipe { percent: Some(120.0), ..acetic }.liquid().is_err());
        assert!(Recipe { percent: Some(28.0), per_litre: f64::NAN, ..acetic }.liquid().is_err());
    }
}
